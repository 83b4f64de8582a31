"""Knobs turned by hand: what each machine costs at another volume, mix or horizon, and where the lead changes."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import numpy_financial
import pytest

from model.criteria import COST, FOR_HARDEST_BOARD
from model.drift import NOBODY, Drift
from model.drift_knobs import (
    _mix_cost,
    _mix_scores,
    _scores,
    _turned,
    _volume_costs,
    drift_knobs,
    horizon_drift,
    mix_drift,
    volume_drift,
)
from model.value import ValueFunction
from tests.model.cost_by_hand import DRAWS, case_by_hand, each, stage_by_hand

WORTH_OF_COST = ValueFunction(points=((0.0, 1.0), (10_000.0, 0.0)))
WORTH_OF_DRYING = ValueFunction(points=((0.0, 0.0), (2.0, 1.0)))


def outcome(name: str, cost: Any, *, count: int | None = None, machines: int = 2, utilisation: Any = None) -> Any:
    capacity = None
    if utilisation is not None:
        capacity = SimpleNamespace(machines=machines, utilisation=np.array(utilisation))
    return SimpleNamespace(machine=SimpleNamespace(id=name, name=name.capitalize(), count=count), cost=cost,
                           capacity=capacity)  # fmt: skip


def evaluation(*outcomes: Any, **requirements: Any) -> Any:
    limits = {"max_utilisation": "80 %", "probability": "50 %", "rule_out_below": "10 %"} | requirements
    named = {one.machine.id: one for one in outcomes}
    return SimpleNamespace(case=case_by_hand(requirements=limits), machine=named.__getitem__)


def decision(*outcomes: Any, drying: Any = None, weights: tuple[float, float] = (0.0, 1.0), share: Any = (0.25, 0.75),
             by_board: Any = None, open_columns: Any = None) -> Any:  # fmt: skip
    """Give what the knobs read of a decision: drying and cost of some machines."""
    count = len(outcomes)
    values = np.zeros((count, 2))
    values[:, 0] = 0.0 if drying is None else drying
    values[:, 1] = [float(np.median(WORTH_OF_COST.value(one.cost.equivalent_annual_cost))) for one in outcomes]
    raw = SimpleNamespace(board_share=np.array(share), board_ids=("control", "power"),
                          by_board=np.zeros((DRAWS, count, 2, 2)) if by_board is None else by_board)  # fmt: skip
    table = SimpleNamespace(
        machine_ids=tuple(one.machine.id for one in outcomes),
        machine_names=tuple(one.machine.name for one in outcomes), criteria=("drying", COST),
        value_functions=(WORTH_OF_DRYING, WORTH_OF_COST), raw=raw, open_columns=open_columns or ({},) * count,
    )  # fmt: skip
    return SimpleNamespace(table=table, weights=weights, middle_values=values)


PARTS = {"tests": 100.0, "service": 2000.0, "rinse-water": 500.0}


@pytest.mark.parametrize(
    ("factor", "machines"),
    # Two machines busy 0.6 of the time in the middle draw, at most 0.8: 1.5 machines at today's volume.
    [(1.0, 2), (0.1, 1), (0.66, 1), (0.67, 2), (1.33, 2), (1.34, 3), (4.0, 6)],
)
def test_machines_are_bought_as_the_volume_needs_them(factor: float, machines: int) -> None:
    one = outcome("washer", stage_by_hand(PARTS, machines=2.0), utilisation=(0.5, 0.6, 0.7))
    costs = _volume_costs(evaluation(one), (one,), factor)
    assert costs[0] == pytest.approx(each(100.0 + 1000.0 * machines + 500.0 * factor))


def test_the_machines_needed_hold_with_the_plants_probability() -> None:
    one = outcome("washer", stage_by_hand(PARTS, machines=2.0), utilisation=(0.5, 0.6, 0.7))
    # 0.7 · 2 ÷ 0.8 = 1.75 at today's volume.
    for factor, machines in ((1.14, 2), (1.15, 3)):
        costs = _volume_costs(evaluation(one, probability="90 %"), (one,), factor)
        assert costs[0] == pytest.approx(each(100.0 + 1000.0 * machines + 500.0 * factor))
        ranged = _volume_costs(evaluation(one, probability="10..90..99 %"), (one,), factor)
        assert ranged[0] == pytest.approx(costs[0])
    # Middle draw 0.6 · 2 ÷ 0.8 = 1.5.
    assert _volume_costs(evaluation(one, probability="10..50..99 %"), (one,), 1.33)[0] == pytest.approx(each(2765.0))


def test_what_needs_no_machine_grows_with_the_boards_alone() -> None:
    service = outcome("service", stage_by_hand(PARTS, machines=0.0))
    assert _volume_costs(evaluation(service), (service,), 3.0)[0] == pytest.approx(each(100.0 + 2000.0 + 1500.0))


def test_machines_offered_stay_as_many_and_are_out_when_too_few_draws_keep_the_limit() -> None:
    one = outcome("washer", stage_by_hand(PARTS, machines=2.0), count=2, utilisation=(0.5, 0.6, 0.7))
    # At 1.6 times the volume 0.8, 0.96 and 1.12: one draw of three keeps to 0.8, just.
    for limit, out in (("10 %", False), ("33 %", False), ("34 %", True)):
        costs = _volume_costs(evaluation(one, rule_out_below=limit), (one,), 1.6)
        assert (costs[0] is None) == out, limit
    assert _volume_costs(evaluation(one), (one,), 1.6)[0] == pytest.approx(each(100.0 + 2000.0 + 800.0))
    assert _volume_costs(evaluation(one), (one,), 1.601)[0] is None
    # At three times the volume no draw keeps the limit: out even where the plant rules nothing out.
    assert _volume_costs(evaluation(one, rule_out_below="0 %"), (one,), 3.0)[0] is None
    assert _volume_costs(evaluation(one, max_utilisation="60..80..99 %"), (one,), 1.601)[0] is None
    # Of shares given as a range the likely one counts.
    assert _volume_costs(evaluation(one, rule_out_below="1..10..60 %"), (one,), 1.6)[0] is not None


def test_one_machine_out_leaves_the_others_in() -> None:
    one = outcome("washer", stage_by_hand(PARTS, machines=2.0), count=2, utilisation=(0.5, 0.6, 0.7))
    service = outcome("service", stage_by_hand(PARTS, machines=0.0))
    costs = _volume_costs(evaluation(one, service), (one, service), 3.0)
    assert costs[0] is None
    assert costs[1] is not None


def test_scores_at_other_costs_change_the_part_of_cost_alone() -> None:
    one, other = outcome("a", stage_by_hand({"service": 1000.0})), outcome("b", stage_by_hand({"service": 2000.0}))
    found = _scores(decision(one, other, drying=[0.5, 0.9], weights=(0.25, 0.75)), [each(4000.0), None])
    assert found[0] == pytest.approx(0.25 * 0.5 + 0.75 * 0.6)
    assert np.isnan(found[1])


def test_the_lead_changes_where_the_cost_over_the_volume_crosses() -> None:
    # 3000 fixed against 1 a board: 4000 boards are planned, so they meet at 3000 boards.
    own, bought = outcome("own", stage_by_hand({"tests": 3000.0})), outcome("bought", stage_by_hand({"drain": 4000.0}))
    knob = volume_drift(evaluation(own, bought), decision(own, bought))
    assert (knob.knob, knob.low, knob.high) == ("Boards per year", pytest.approx(1000.0), pytest.approx(16_000.0))
    assert knob.present == pytest.approx(4000.0)
    assert knob.drift is not None
    assert knob.drift.crossings == pytest.approx((3000.0,))
    assert knob.headline == "Boards per year, now 4 000 per year: Own leads; below 3 000 per year Bought leads."


def test_without_boards_or_costs_the_volume_cannot_be_turned() -> None:
    own, silent = outcome("own", stage_by_hand({"tests": 3000.0})), outcome("silent", None)
    told = SimpleNamespace(table=SimpleNamespace(
        machine_ids=("own", "silent"), raw=SimpleNamespace(board_share=np.array([0.25, 0.75])),
    ))  # fmt: skip
    whole = evaluation(own, silent)
    whole.library = SimpleNamespace(component_kinds=(SimpleNamespace(id="chip", gap=SimpleNamespace(
        si=lambda: (50e-6,) * 3)),))  # fmt: skip
    knobs = drift_knobs(whole, told)
    # All 4000 boards are of low standoff; no horizon is known.
    assert [(one.knob, pytest.approx(one.present)) for one in knobs] == [
        ("Boards per year", 4000.0), ("Share of low-standoff boards", 1.0), ("Horizon in years", 0.0),
    ]  # fmt: skip
    for knob in knobs:
        assert knob.drift is None
        assert knob.low == knob.present == knob.high
        assert knob.headline == "The cost of Silent is not known, so this cannot be turned."
    empty = evaluation(own, own)
    empty.case = empty.case.model_copy(update={"board_types": ()})
    knob = volume_drift(empty, SimpleNamespace(table=SimpleNamespace(machine_ids=("own", "own"))))
    assert knob.drift is None
    assert knob.headline == "No board is built, so there is no volume to turn."
    assert (knob.knob, knob.low, knob.present, knob.high) == ("Boards per year", 0.0, 0.0, 0.0)
    told.table.raw.board_share = np.zeros(0)
    whole.case = empty.case
    assert mix_drift(whole, told, 100e-6).present == 0.0


def test_cost_of_another_mix_follows_the_board_types_that_cause_it() -> None:
    stage = stage_by_hand({"service": 1000.0, "handling|control": 80.0, "handling|power": 20.0, "drain|control": 7.0})
    assert _mix_cost(stage, {"control": 2.0, "power": 0.5}) == pytest.approx(each(1000.0 + 2 * 87.0 + 10.0))
    assert _mix_cost(stage, {"control": 1.0, "power": 1.0}) == pytest.approx(stage.equivalent_annual_cost)
    # What no board type causes alone, and what does not grow with boards, stays.
    shared = stage_by_hand({"drain": 9.0, "service|control": 5.0})
    assert _mix_cost(shared, {"control": 2.0, "power": 2.0}) == pytest.approx(each(14.0))


def test_the_lead_changes_where_the_cost_over_the_mix_crosses() -> None:
    # The control board is a quarter of the boards: 600 for it now, 2400 if all were; 1500 whatever the mix.
    mixed = outcome("mixed", stage_by_hand({"handling|control": 600.0}))
    flat = outcome("flat", stage_by_hand({"service": 1500.0}))
    kinds = (SimpleNamespace(id="chip", gap=SimpleNamespace(si=lambda: (40e-6, 50e-6, 200e-6))),
             SimpleNamespace(id="tall", gap=SimpleNamespace(si=lambda: (500e-6,) * 3)))  # fmt: skip
    boards = tuple(SimpleNamespace(id=name, components=tuple(SimpleNamespace(kind=kind) for kind in held))
                   for name, held in (("control", ("tall", "chip")), ("power", ("tall",))))  # fmt: skip
    whole = SimpleNamespace(case=SimpleNamespace(board_types=boards), library=SimpleNamespace(component_kinds=kinds),
                            machine={"mixed": mixed, "flat": flat}.__getitem__)  # fmt: skip
    knob = mix_drift(whole, decision(mixed, flat), 100e-6)
    assert (knob.knob, knob.low, knob.present, knob.high) == ("Share of low-standoff boards", 0.0, 0.25, 1.0)
    assert knob.drift is not None
    assert knob.drift.crossings == pytest.approx((0.625,))
    assert knob.headline == (
        "Share of low-standoff boards, now 25 % of the boards: Mixed leads; above 62 % of the boards Flat leads."
    )
    # The limit itself is no longer low.
    none = mix_drift(whole, decision(mixed, flat), 50e-6)
    assert none.drift is None
    assert none.headline == "No boards have a gap below 50 µm, so there is no share to turn."
    assert (none.knob, none.low, none.present, none.high) == ("Share of low-standoff boards", 0.0, 0.0, 0.0)


def test_measures_of_board_types_are_weighed_anew_over_the_mix() -> None:
    # Drying is worth 0.9 on the control board and 0.1 on the power board for one, 0.5 on both for the other; the same
    # cost. At equal shares both are worth a half.
    first, second = (outcome(name, stage_by_hand({"service": 1500.0})) for name in ("first", "second"))
    by_board = np.zeros((DRAWS, 2, 2, 2))
    by_board[:, 0, 0, :], by_board[:, 1, 0, :] = (1.8, 0.2), (1.0, 1.0)
    kinds = (SimpleNamespace(id="chip", gap=SimpleNamespace(si=lambda: (50e-6,) * 3)),
             SimpleNamespace(id="tall", gap=SimpleNamespace(si=lambda: (500e-6,) * 3)))  # fmt: skip
    boards = tuple(SimpleNamespace(id=name, components=(SimpleNamespace(kind=kind),))
                   for name, kind in (("control", "chip"), ("power", "tall")))  # fmt: skip
    whole = SimpleNamespace(case=SimpleNamespace(board_types=boards), library=SimpleNamespace(component_kinds=kinds),
                            machine={"first": first, "second": second}.__getitem__)  # fmt: skip
    told = decision(first, second, drying=[0.3, 0.5], weights=(0.5, 0.5), by_board=by_board)
    knob = mix_drift(whole, told, 100e-6)
    assert knob.drift is not None
    assert knob.drift.crossings == pytest.approx((0.5,))
    # What nobody knows stands where its value is the draw's own: 0.2 for all draws, so the crossing is at 0.125.
    by_board[:, 1, 0, :] = np.nan
    held = ({}, {"criteria[second].drying": each(0.2)})
    found = mix_drift(whole, decision(first, second, drying=[0.3, 0.2], weights=(0.5, 0.5), by_board=by_board,
                                      open_columns=held), 100e-6)  # fmt: skip
    assert found.drift is not None
    assert found.drift.crossings == pytest.approx((0.125,))
    alone = decision(first, second, drying=[0.3, 0.5], weights=(0.5, 0.5), by_board=by_board)
    without = mix_drift(whole, alone, 100e-6)
    assert without.drift is not None
    assert without.drift.crossings == pytest.approx((0.5,))


def test_the_lead_changes_where_the_cost_over_the_horizon_crosses() -> None:
    # 1000 once against 300 a year: 1000 × capital recovery at 10 % is 315.47 over four years and 263.80 over five.
    once = outcome("once", stage_by_hand({"training": 1000.0}))
    yearly = outcome("yearly", stage_by_hand({"tests": 300.0}))
    four, five = (-float(numpy_financial.pmt(0.1, years, 1000.0)) for years in (4, 5))
    knob = horizon_drift(evaluation(once, yearly), decision(once, yearly))
    assert (knob.knob, knob.low, knob.present, knob.high) == ("Horizon in years", 1.0, 4.0, 25.0)
    assert knob.drift is not None
    assert knob.drift.crossings == pytest.approx((4.0 + (four - 300.0) / (four - five),))
    assert knob.headline == "Horizon in years, now 4.0 years: Yearly leads; above 4.3 years Once leads."


@pytest.mark.parametrize(("years", "rate", "side"), [(1, 800.0, "below"), (24, 110.7, "above")])
def test_the_lead_may_change_in_the_first_or_the_last_year_looked_at(years: int, rate: float, side: str) -> None:
    once = outcome("once", stage_by_hand({"training": 1000.0}))
    yearly = outcome("yearly", stage_by_hand({"tests": rate}))
    before, after = (-float(numpy_financial.pmt(0.1, one, 1000.0)) for one in (years, years + 1))
    knob = horizon_drift(evaluation(once, yearly), decision(once, yearly))
    assert knob.drift is not None
    assert knob.drift.crossings == pytest.approx((years + (before - rate) / (before - after),))
    assert f" {side} " in knob.headline


def test_a_horizon_beyond_25_years_is_looked_at_up_to_itself() -> None:
    lives = {"horizon_years": 30, "life_years": np.full(DRAWS, 30)}
    once = outcome("once", stage_by_hand({"training": 1000.0}, **lives))
    yearly = outcome("yearly", stage_by_hand({"tests": 300.0}, **lives))
    knob = horizon_drift(evaluation(once, yearly), decision(once, yearly))
    assert (knob.present, knob.high) == (30.0, 30.0)


def test_nobody_and_both_ends_are_said() -> None:
    drift = Drift(intervals=(), crossings=(), leader_now=0, drift_down=2.0, drift_up=30.0, takes_over_below=1,
                  takes_over_above=NOBODY)  # fmt: skip
    told = SimpleNamespace(table=SimpleNamespace(machine_names=("A", "B")))
    knob = _turned("Knob", 1.0, 10.0, 100.0, drift, told, lambda x: f"{x:g} units")
    assert knob.headline == "Knob, now 10 units: A leads; below 8 units B leads and above 40 units nobody leads."
    still = Drift(intervals=(), crossings=(), leader_now=1, drift_down=np.inf, drift_up=np.inf,
                  takes_over_below=NOBODY, takes_over_above=NOBODY)  # fmt: skip
    knob = _turned("Knob", 1.0, 10.0, 100.0, still, told, lambda x: f"{x:g} units")
    assert knob.headline == "Knob: B leads from 1 units to 100 units."


def test_each_criterion_is_brought_together_for_three_board_types_as_well() -> None:
    one = outcome("one", stage_by_hand({"service": 1500.0}))
    by_board = np.zeros((DRAWS, 1, 2, 3))
    by_board[:, 0, 0, :] = (0.5, 1.0, 1.6)
    told = decision(one, drying=[0.0], weights=(0.5, 0.5), by_board=by_board)
    told.table.raw.board_ids = ("control", "power", "sensor")
    # Drying 0.2·0.5 + 0.3·1 + 0.5·1.6 = 1.2 of 2 is worth 0.6, and a cost of 1500 of 10 000 is worth 0.85.
    found = _mix_scores(told, (one,), np.array([0.2, 0.3, 0.5]), np.ones(3))
    assert found == pytest.approx([0.5 * 0.6 + 0.5 * 0.85])


def test_a_criterion_that_asks_for_the_hardest_board_takes_the_least_of_them() -> None:
    hardest = sorted(FOR_HARDEST_BOARD)[0]
    one = outcome("one", stage_by_hand({"service": 1500.0}))
    by_board = np.zeros((DRAWS, 1, 2, 2))
    by_board[:, 0, 0, :] = (1.6, 0.4)
    told = decision(one, drying=[0.0], weights=(1.0, 0.0), by_board=by_board)
    half, both = np.full(2, 0.5), np.ones(2)
    assert _mix_scores(told, (one,), half, both) == pytest.approx([0.5])
    told.table.criteria = (hardest, COST)
    assert _mix_scores(told, (one,), half, both) == pytest.approx([0.2])


def test_one_machine_alone_has_nobody_to_hand_the_lead_to() -> None:
    own = outcome("own", stage_by_hand({"tests": 3000.0}))
    for knob in (volume_drift(evaluation(own), decision(own)), horizon_drift(evaluation(own), decision(own))):
        assert knob.drift is None
        assert knob.headline == "There are no two machines between which the lead could change."
