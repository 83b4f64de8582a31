"""The cycle of one load: stages one after the other in a batch machine, one belt speed for all zones on a belt."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from catalog_schema.case import Case
from model.cycle import FREE_SHARE_ON_BELT, BoardCycle
from model.evaluate import Evaluation, evaluate
from model.outcomes import FluidOutcome

SPRAY_OFFER, INLINE_OFFER = "offer-a-batch-spray", "offer-b-inline"


def batch_cycles(evaluation: Evaluation) -> list[tuple[FluidOutcome, BoardCycle]]:
    return [
        (board.chosen, board.chosen.cycle)
        for machine in evaluation.machines
        if machine.machine.moving == "batch"
        for board in machine.boards
        if board.chosen.cycle is not None
    ]


def test_a_batch_cycle_is_the_sum_of_its_parts_and_keeps_the_machine_busy_all_that_time(
    demo_evaluation: Evaluation,
) -> None:
    found = batch_cycles(demo_evaluation)
    assert len(found) > 20
    for _, cycle in found:
        parts = cycle.fill_s + cycle.wash_s + cycle.rinse_s + cycle.dry_s + cycle.handling_s
        np.testing.assert_allclose(cycle.total_s, parts, rtol=1e-12)
        np.testing.assert_allclose(cycle.occupied_s, np.maximum(parts, 1.0), rtol=1e-12)
        assert cycle.belt_speed_m_s is None


def test_no_stage_runs_longer_than_it_needs_or_than_the_machine_allows(demo_evaluation: Evaluation) -> None:
    for outcome, cycle in batch_cycles(demo_evaluation):
        assert outcome.wash is not None
        assert outcome.wash.outcome is not None
        assert outcome.dry is not None
        limits = ((cycle.wash_s, outcome.wash.outcome.needed_time_s, outcome.wash.max_time_s),
                  (cycle.dry_s, outcome.dry.needed_time_s, outcome.dry.max_time_s))  # fmt: skip
        for run, needed, limit in limits:
            assert limit is not None
            np.testing.assert_allclose(run, np.minimum(needed, limit), rtol=1e-12)


def test_a_cycle_exists_exactly_where_every_stage_fits(demo_evaluation: Evaluation) -> None:
    for outcome, cycle in batch_cycles(demo_evaluation):
        assert outcome.wash is not None
        assert outcome.wash.outcome is not None
        assert outcome.wash.max_time_s is not None
        assert outcome.dry is not None
        assert outcome.dry.max_time_s is not None
        assert outcome.rinse is not None
        fits = (outcome.wash.outcome.needed_time_s <= outcome.wash.max_time_s) & np.isfinite(outcome.rinse.rinses)
        fits &= outcome.dry.needed_time_s <= outcome.dry.max_time_s
        np.testing.assert_array_equal(cycle.exists, fits)


def test_the_stage_that_does_not_fit_is_named_as_limiting(demo_evaluation: Evaluation) -> None:
    cycle = demo_evaluation.machine("household-dishwasher").board("dense-controller").chosen.cycle
    assert cycle is not None
    assert not cycle.exists.any()
    assert cycle.limiting in ("wash", "dry")


@pytest.fixture(scope="module")
def on_the_belt(demo_case: Case, small_case: Any) -> BoardCycle:
    evaluation = evaluate(small_case(demo_case, (INLINE_OFFER,), ("control-board",)), draws=64, rays=16_384)
    cycle = evaluation.machine(INLINE_OFFER).boards[0].chosen.cycle
    assert cycle is not None
    return cycle


def test_one_belt_speed_serves_all_zones(on_the_belt: BoardCycle) -> None:
    speed = on_the_belt.belt_speed_m_s
    assert speed is not None
    inch = 0.0254
    zones = ((on_the_belt.wash_s, 60 * inch), (on_the_belt.rinse_s, 48 * inch), (on_the_belt.dry_s, 72 * inch))
    for time, zone_m in zones:
        np.testing.assert_allclose(time * speed, zone_m, rtol=1e-12)
    slowest, fastest = 0.5 * 0.3048 / 60.0, 6 * 0.3048 / 60.0
    assert np.all((speed >= slowest * (1 - 1e-12)) & (speed <= fastest * (1 + 1e-12)))


def test_a_belt_is_busy_for_one_pitch_per_row(on_the_belt: BoardCycle) -> None:
    """The pitch is the longer edge of the 180 × 140 mm board and the free space between rows."""
    assert on_the_belt.belt_speed_m_s is not None
    np.testing.assert_allclose(
        on_the_belt.occupied_s * on_the_belt.belt_speed_m_s, FREE_SHARE_ON_BELT * 0.18, rtol=1e-12
    )


def test_a_belt_that_may_run_slower_washes_longer(demo_case: Case, small_case: Any) -> None:
    times = []
    for speed in ("2 ft/min", "1 ft/min", "0.25 ft/min"):
        case = small_case(demo_case, (INLINE_OFFER,), ("dense-controller",), {"chamber.belt_min_speed": speed})
        cycle = evaluate(case, draws=32, rays=8192).machine(INLINE_OFFER).boards[0].chosen.cycle
        assert cycle is not None
        times.append(float(np.median(cycle.wash_s)))
    assert times == sorted(times)
    assert times[-1] == pytest.approx(8 * times[0])


def test_a_slower_filling_or_handling_lengthens_the_cycle_by_just_that(demo_case: Case, small_case: Any) -> None:
    totals = []
    for minutes in (0, 10):
        values = {"wash.fill_and_heat_time": f"{minutes} min", "running.load_unload_time": f"{2 * minutes} min"}
        case = small_case(demo_case, (SPRAY_OFFER,), ("power-supply",), values)
        cycle = evaluate(case, draws=32, rays=8192).machine(SPRAY_OFFER).boards[0].chosen.cycle
        assert cycle is not None
        totals.append(cycle.total_s)
    np.testing.assert_allclose(totals[1] - totals[0], 30 * 60.0, rtol=1e-9)


def test_a_load_holds_no_more_boards_than_the_lot_or_the_rack(demo_case: Case, small_case: Any) -> None:
    for lot in (2, 5000):
        case = small_case(demo_case, (SPRAY_OFFER,), ("radio-module",), {}, {"lot_size": str(lot)})
        board = evaluate(case, draws=16, rays=4096).machine(SPRAY_OFFER).boards[0]
        assert board.chosen.cycle is not None
        assert board.fit is not None
        np.testing.assert_allclose(board.chosen.cycle.boards_per_load, min(lot, board.fit.boards_per_load))
