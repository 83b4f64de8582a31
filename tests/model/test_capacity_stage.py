"""Volume against machines over the whole board mix, on the road."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from catalog_schema.case import Case
from model.capacity_stage import CapacityStage
from model.evaluate import Evaluation, evaluate

SPRAY_OFFER, INLINE_OFFER = "offer-a-batch-spray", "offer-b-inline"
BOARDS = ("power-supply", "control-board")


def capacity(case: Case, machine: str = SPRAY_OFFER) -> CapacityStage:
    stage = evaluate(case, draws=64, rays=8192).machine(machine).capacity
    assert stage is not None
    return stage


def test_loads_per_year_carry_the_volume_at_the_lot_size(demo_case: Case, small_case: Any) -> None:
    """A lot of 40 in a rack that holds more: each lot is a load of its own when loads are not mixed."""
    case = small_case(
        demo_case, (SPRAY_OFFER,), ("power-supply",), {}, {"volume": "12000 boards/year", "lot_size": "40"}
    )
    evaluation = evaluate(case, draws=16, rays=4096)
    board = evaluation.machine(SPRAY_OFFER).boards[0]
    assert board.fit is not None
    per_lot = np.ceil(40 / board.fit.boards_per_load)
    stage = evaluation.machine(SPRAY_OFFER).capacity
    assert stage is not None
    np.testing.assert_allclose(stage.loads_per_year["power-supply"], 12000 / 40 * per_lot, rtol=1e-9)


def test_a_belt_carries_rows_of_boards_abreast(demo_case: Case, small_case: Any) -> None:
    case = small_case(demo_case, (INLINE_OFFER,), ("control-board",), {}, {"volume": "30000 boards/year"})
    evaluation = evaluate(case, draws=16, rays=4096)
    board = evaluation.machine(INLINE_OFFER).boards[0]
    assert board.fit is not None
    stage = evaluation.machine(INLINE_OFFER).capacity
    assert stage is not None
    assert board.fit.boards_per_load == 3  # 20 in belt, 140 mm board
    np.testing.assert_allclose(stage.loads_per_year["control-board"], 10000, rtol=1e-9)


def test_twice_the_volume_keeps_the_machine_busy_twice_as_long(demo_case: Case, small_case: Any) -> None:
    one, two = (
        capacity(small_case(demo_case, (SPRAY_OFFER,), ("power-supply",), {"running.changeover_time": "0 min"},
                            {"volume": f"{volume} boards/year"}))
        for volume in (5000, 10000)
    )  # fmt: skip
    np.testing.assert_allclose(two.run_hours_per_year, 2 * one.run_hours_per_year, rtol=1e-9)
    assert np.all(two.waiting_s >= one.waiting_s)


def test_utilisation_is_busy_time_over_fit_time(demo_case: Case, small_case: Any) -> None:
    case = small_case(demo_case, (SPRAY_OFFER,), BOARDS, {"count": 2})
    stage = capacity(case)
    assert stage.machines == 2
    open_hours = 225 * 16
    np.testing.assert_allclose(
        stage.utilisation, stage.run_hours_per_year / (2 * open_hours * stage.availability), rtol=1e-9
    )


def test_availability_follows_failures_and_repairs(demo_case: Case, small_case: Any) -> None:
    """500 h between failures and 10 h of repair: 0.980392 (definition)."""
    values = {"running.time_between_failures": "500 h", "running.repair_time": "10 h"}
    stage = capacity(small_case(demo_case, (SPRAY_OFFER,), ("power-supply",), values))
    np.testing.assert_allclose(stage.availability, 0.980392, rtol=1e-6)


def test_as_many_machines_are_taken_as_keep_the_limit_with_the_plants_probability(
    demo_case: Case, small_case: Any
) -> None:
    many = {"volume": "400000 boards/year"}
    stage = capacity(small_case(demo_case, (SPRAY_OFFER,), ("power-supply",), {}, many))
    assert stage.machines > 1
    most = float(demo_case.plant.requirements.max_utilisation.si()[1])
    assert float(np.mean(stage.utilisation <= most)) >= 0.9
    judged = next(one.requirement for one in stage.judged if one.requirement.key == "capacity")
    assert judged.result == "meets"
    one_fewer = capacity(
        small_case(demo_case, (SPRAY_OFFER,), ("power-supply",), {"count": stage.machines - 1}, many)
    )
    assert float(np.mean(one_fewer.utilisation <= most)) < 0.9


def test_an_offer_of_too_few_machines_falls_short_and_says_how_busy_they_are(demo_case: Case, small_case: Any) -> None:
    case = small_case(demo_case, (SPRAY_OFFER,), ("power-supply",), {"count": 1}, {"volume": "3000000 boards/year"})
    stage = capacity(case)
    busy, waiting = (
        next(one.requirement for one in stage.judged if one.requirement.key == key) for key in ("capacity", "waiting")
    )
    assert (busy.result, waiting.result) == ("falls short", "falls short")
    assert "1 machine offered is busy" in busy.sentence.text()
    assert np.all(np.isinf(stage.waiting_s))
    assert waiting.sentence.text() == "The queue grows without end: 1 machine cannot keep up."


def test_changing_over_between_board_types_takes_machine_time(demo_case: Case, small_case: Any) -> None:
    quick, slow = (
        capacity(small_case(demo_case, (SPRAY_OFFER,), BOARDS, {"running.changeover_time": f"{minutes} min"}))
        for minutes in (0, 15)
    )
    lots = sum(
        board.volume.si()[1] * 365.25 * 86400 / board.lot_size.si()[1]
        for board in demo_case.board_types
        if board.id in BOARDS
    )
    extra = float(np.median(slow.run_hours_per_year - quick.run_hours_per_year))
    assert extra == pytest.approx(lots * 0.25, rel=0.05)


def test_machines_without_a_cycle_have_no_capacity(demo_evaluation: Evaluation) -> None:
    for machine in ("contract-service", "uncleaned"):
        assert demo_evaluation.machine(machine).capacity is None


@pytest.mark.parametrize(
    ("plant", "said"),
    [({"working_days": "0"}, "plant.working_days is 0 days, so no board can be washed. Give a number above 0"),
     ({"hours_per_day": "0"}, "plant.hours_per_day is 0 hours, so no board can be washed. Give a number above 0")],
)  # fmt: skip
def test_a_plant_that_never_works_is_told_so(demo_case: Case, small_case: Any, plant: Any, said: str) -> None:
    outcome = evaluate(small_case(demo_case, (SPRAY_OFFER,), BOARDS, {}, {}, plant), draws=16, rays=4096).machines[0]
    assert outcome.capacity is None
    assert any(said in one.requirement.sentence.text() for one in outcome.judged)
