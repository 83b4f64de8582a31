"""Drift: knobs at their present setting change nothing, and leaders along them follow the costs."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from model.criteria import COST, boards_per_year
from model.decision import decide_table
from model.drift import NOBODY
from model.drift_knobs import (
    _mix_cost,
    _scores,
    _volume_costs,
    drift_knobs,
    horizon_drift,
    mix_drift,
    tightest_gap_m,
    volume_drift,
)


@pytest.fixture(scope="module")
def outcomes(decision, decision_evaluation):
    return tuple(decision_evaluation.machine(one) for one in decision.table.machine_ids)


def test_knobs_at_their_present_setting_give_the_present_leader(decision, decision_evaluation):
    for knob in drift_knobs(decision_evaluation, decision):
        assert knob.drift is not None, knob.headline
        assert knob.drift.leader_now == decision.leader
        assert knob.low <= knob.present <= knob.high
        assert decision.table.machine_names[decision.leader] in knob.headline


def test_todays_volume_gives_todays_cost_where_the_machines_are_those_evaluated(decision_evaluation, outcomes):
    costs = _volume_costs(decision_evaluation, outcomes, 1.0)
    for outcome, cost in zip(outcomes, costs, strict=True):
        assert cost is not None
        assert np.median(cost) == pytest.approx(np.median(outcome.cost.equivalent_annual_cost), rel=1e-9)


def test_scores_at_the_present_cost_are_the_ranking_s(decision, outcomes):
    scores = _scores(decision, [outcome.cost.equivalent_annual_cost for outcome in outcomes])
    for row, score in zip(decision.ranking.order, decision.ranking.scores, strict=True):
        assert scores[row] == pytest.approx(score)


def test_cost_grows_with_volume_and_a_service_in_full_proportion(decision_evaluation, outcomes):
    once, twice = (_volume_costs(decision_evaluation, outcomes, factor) for factor in (1.0, 2.0))
    for outcome, before, after in zip(outcomes, once, twice, strict=True):
        assert after is None or np.median(after) > np.median(before)
        if outcome.machine.id == "contract-service":
            assert np.median(after) > 1.8 * np.median(before)


def test_a_fixed_number_of_machines_is_out_when_the_volume_passes_them(decision_evaluation, outcomes):
    fixed = [outcome for outcome in outcomes if outcome.machine.count is not None and outcome.capacity is not None]
    assert fixed
    busy = float(np.quantile(fixed[0].capacity.utilisation, 0.01))
    assert _volume_costs(decision_evaluation, (fixed[0],), 2.0 / busy)[0] is None


def test_moving_volume_between_board_types_at_equal_factors_changes_no_cost(outcomes):
    stage = outcomes[0].cost
    assert _mix_cost(stage, {"power-supply": 1.0, "control-board": 1.0}) == pytest.approx(stage.equivalent_annual_cost)
    assert np.median(_mix_cost(stage, {"control-board": 2.0})) > np.median(stage.equivalent_annual_cost)


def test_the_mix_knob_counts_board_types_with_a_gap_below_the_limit(decision, decision_evaluation):
    gaps = {board.id: tightest_gap_m(decision_evaluation, board) for board in decision_evaluation.case.board_types}
    between = float(np.mean(list(gaps.values())))
    knob = mix_drift(decision_evaluation, decision, between)
    volumes = {board.id: board.volume.si()[1] for board in decision_evaluation.case.board_types}
    tight = sum(volume for name, volume in volumes.items() if gaps[name] < between)
    assert knob.present == pytest.approx(tight / sum(volumes.values()))
    nothing = mix_drift(decision_evaluation, decision, 1e-9)
    assert nothing.drift is None
    assert nothing.headline.startswith("No boards have a gap below")


def test_a_leader_ahead_by_cost_alone_loses_it_along_the_volume(decision, decision_evaluation):
    place = decision.table.criteria.index(COST)
    table = decision.table
    level = table.values.copy()
    others = [k for k in range(len(table.criteria)) if k != place]
    level[:, :, others] = 0.5
    # Two offers alike but for cost: the one cheaper today leads today.
    flat = decide_table(replace(table, values=level), decision.priorities)
    knob = volume_drift(decision_evaluation, flat)
    machines = [decision_evaluation.machine(one) for one in table.machine_ids]
    costs = [float(np.median(machine.cost.equivalent_annual_cost)) for machine in machines]
    assert knob.drift.leader_now == int(np.argmin(costs))
    assert knob.present == pytest.approx(boards_per_year(decision_evaluation.case.board_types))
    for interval in knob.drift.intervals:
        assert interval.leader != NOBODY


def test_the_horizon_knob_stands_at_the_plant_s_horizon(decision, decision_evaluation):
    knob = horizon_drift(decision_evaluation, decision)
    assert knob.present == 10.0
    assert knob.drift.intervals[0].low == 1.0


def test_a_single_machine_leaves_nothing_to_turn(decision, decision_evaluation):
    table = decision.table
    only = replace(
        table, machine_ids=table.machine_ids[:1], machine_names=table.machine_names[:1], values=table.values[:, :1],
        measures=table.measures[:, :1], results=table.results[:1], probabilities=table.probabilities[:1],
    )  # fmt: skip
    for knob in drift_knobs(decision_evaluation, decide_table(only, decision.priorities)):
        assert knob.drift is None
        assert "no two machines" in knob.headline


@pytest.mark.parametrize(
    ("volumes", "tight", "which"),
    [((100, 100, 500), 3, "All"), ((100, 100, 500), 0, "No"), ((0, 0, 0), 3, "All"),
     ((100, 100, 500, 0), 3, "All"), ((0, 0, 7), 2, "No")],
)  # fmt: skip
def test_boards_all_or_none_of_low_standoff_are_said_so_whatever_rounding_makes_of_their_shares(volumes, tight, which):
    # 1/7 + 1/7 + 5/7 of these volumes per second is 0.9999999999999999 in doubles.
    boards = tuple(SimpleNamespace(components=(SimpleNamespace(kind="low" if row < tight else "high"),))
                   for row in range(len(volumes)))  # fmt: skip
    kinds = tuple(SimpleNamespace(id=name, gap=SimpleNamespace(si=lambda gap=gap: (gap, gap, gap)))
                  for name, gap in (("low", 50e-6), ("high", 500e-6)))  # fmt: skip
    per_second = np.array(volumes) / 31_557_600.0
    share = per_second / max(per_second.sum(), 1e-12)
    assert sum(volumes) != 700 or share[:3].sum() < 1.0
    priced = SimpleNamespace(cost=object(), machine=SimpleNamespace(name="A"))
    evaluation = SimpleNamespace(case=SimpleNamespace(board_types=boards), machine=lambda name: priced,
                                 library=SimpleNamespace(component_kinds=kinds))  # fmt: skip
    table = SimpleNamespace(machine_ids=("a", "b"), raw=SimpleNamespace(board_share=share))
    knob = mix_drift(evaluation, SimpleNamespace(table=table), 100e-6)
    assert knob.drift is None
    assert knob.headline == f"{which} boards have a gap below 100 µm, so there is no share to turn."
