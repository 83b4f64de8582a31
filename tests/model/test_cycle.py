"""The cycle of one load: stages one after the other in a batch machine, one belt speed for all zones on a belt."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from catalog_schema.case import Case
from catalog_schema.library import load_library
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


# ---- By hand ---------------------------------------------------------------------------------------------------------


def chosen(case: Case, small_case: Any, machine: str, stated: Any = None, board: Any = None,
           kind: str = "dense-controller") -> Any:  # fmt: skip
    found = evaluate(small_case(case, (machine,), (kind,), stated, board), draws=9, rays=2048)
    return found.machine(machine).boards[0].chosen


@pytest.mark.parametrize(
    ("stated", "limiting"),
    [({}, "wash"), ({"wash.max_time": "40 h", "dry.max_time": "1 min"}, "dry"),
     ({"wash.max_time": "40 h", "rinse.max_rinses": 1, "rinse.volume_per_rinse": "0.1 L"}, "rinse")],
)  # fmt: skip
def test_a_batch_runs_its_stages_one_after_the_other_and_each_no_longer_than_its_limit(
    demo_case: Case, small_case: Any, stated: Any, limiting: str
) -> None:
    exact = {"wash.fluids": ["saponified-water"], "wash.fill_and_heat_time": "4 min",
             "running.load_unload_time": "3 min"}  # fmt: skip
    found = chosen(demo_case, small_case, SPRAY_OFFER, exact | stated, {"lot_size": "24"})
    cycle = found.cycle
    wash = np.minimum(found.wash.outcome.needed_time_s, found.wash.max_time_s)
    dry = np.minimum(found.dry.needed_time_s, found.dry.max_time_s)
    np.testing.assert_allclose(cycle.wash_s, wash)
    np.testing.assert_allclose(cycle.dry_s, dry)
    np.testing.assert_allclose(cycle.rinse_s, found.rinse.time_s)
    np.testing.assert_allclose(cycle.fill_s, 240.0)
    np.testing.assert_allclose(cycle.handling_s, 180.0)
    np.testing.assert_allclose(cycle.total_s, 420.0 + wash + found.rinse.time_s + dry, rtol=1e-12)
    np.testing.assert_array_equal(cycle.occupied_s, cycle.total_s)
    np.testing.assert_array_equal(cycle.boards_per_load, 24.0)
    assert (cycle.boards_that_fit, cycle.belt_speed_m_s) == (220, None)
    assert cycle.limiting == limiting


def test_where_all_stages_fit_the_longest_one_is_named(demo_case: Case, small_case: Any) -> None:
    stated = {"wash.fluids": ["saponified-water"], "wash.max_time": "90 h"}
    for rinse, limiting in (("1 min", "wash"), ("600 h", "rinse")):
        found = chosen(demo_case, small_case, SPRAY_OFFER, stated | {"rinse.time_per_rinse": rinse})
        assert np.all(found.cycle.exists)
        assert found.cycle.limiting == limiting


BELT = {"wash.fluids": ["saponified-water"], "chamber.wash_zone_length": "2 m", "chamber.rinse_zone_length": "1.5 m",
        "chamber.dry_zone_length": "1.68 m", "chamber.belt_min_speed": "0.01 m/min",
        "chamber.belt_max_speed": "2 m/min", "rinse.time_per_rinse": "30 s",
        "running.load_unload_time": "1 min"}  # fmt: skip


@pytest.mark.parametrize(("fastest", "slowest"), [("2 m/min", "0.001 m/min"), ("0.05 m/min", "0.001 m/min"),
                                                  ("2 m/min", "0.3 m/min")])  # fmt: skip
def test_a_belt_runs_as_fast_as_its_slowest_stage_between_its_own_limits(
    demo_case: Case, small_case: Any, fastest: str, slowest: str
) -> None:
    stated = BELT | {"chamber.belt_max_speed": fastest, "chamber.belt_min_speed": slowest}
    found = chosen(demo_case, small_case, INLINE_OFFER, stated)
    cycle = found.cycle
    wash = np.minimum(found.wash.outcome.needed_time_s, found.wash.max_time_s)
    dry = np.minimum(found.dry.needed_time_s, found.dry.max_time_s)
    speed = np.minimum(np.minimum(2.0 / wash, 1.5 / found.rinse.time_s), 1.68 / dry)
    speed = np.minimum(speed, float(fastest.split()[0]) / 60.0)
    speed = np.maximum(speed, float(slowest.split()[0]) / 60.0)
    np.testing.assert_allclose(cycle.belt_speed_m_s, speed, rtol=1e-12)
    for time, zone in ((cycle.wash_s, 2.0), (cycle.rinse_s, 1.5), (cycle.dry_s, 1.68)):
        np.testing.assert_allclose(time, zone / speed, rtol=1e-12)
    np.testing.assert_allclose(cycle.total_s, 5.18 / speed + 60.0, rtol=1e-12)
    np.testing.assert_allclose(cycle.occupied_s, 1.05 * 0.160 / speed, rtol=1e-12)
    np.testing.assert_array_equal(cycle.fill_s, 0.0)
    np.testing.assert_array_equal(cycle.boards_per_load, float(cycle.boards_that_fit))


def test_a_zone_holds_its_rows_of_boards_and_never_less_than_one_board(demo_case: Case, small_case: Any) -> None:
    # Carried by one board: the water of a zone is shared by the boards in it; one row of five per 168 mm.
    for zone, boards in (("1.68 m", 50.0), ("16.8 mm", 1.0)):
        stated = BELT | {"chamber.rinse_zone_length": zone, "rinse.kind": "counterflow", "rinse.flow": "6 L/min",
                         "rinse.max_rinses": 2}  # fmt: skip
        found = chosen(demo_case, small_case, INLINE_OFFER, stated)
        np.testing.assert_allclose(found.rinse.water_m3, 6e-3 / 60.0 * 60.0 / boards, rtol=1e-9)


def test_a_machine_without_stated_handling_or_filling_takes_none(demo_case: Case, small_case: Any, change: Any) -> None:
    own = next(one for one in load_library().machine_classes if one.id == "ultrasonic-immersion")
    bare = change(own, {"wash.fill_and_heat_time": None, "running.load_unload_time": None,
                        "wash.fluids": ["saponified-water"]})  # fmt: skip
    case = small_case(demo_case, (own.id,), ("dense-controller",)).model_copy(update={"machine_classes": (bare,)})
    cycle = evaluate(case, draws=9, rays=2048).machine(own.id).boards[0].chosen.cycle
    assert cycle is not None
    np.testing.assert_array_equal(cycle.fill_s, 0.0)
    np.testing.assert_array_equal(cycle.handling_s, 0.0)
    np.testing.assert_allclose(cycle.total_s, cycle.wash_s + cycle.rinse_s + cycle.dry_s, rtol=1e-12)
