"""Clearing of a board type from drives made by hand: pressures, place that counts, kinds that need longest."""

from __future__ import annotations

from dataclasses import asdict, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from catalog_schema.boards import BoardType
from catalog_schema.case import Library
from catalog_schema.library import load_library
from model.clearing import ResidueFigures, ResidueState, front_speed_m_s, needed_time_s, soak_coefficient_m_s05
from model.fluid_state import FluidState, fluid_state, residue_state
from model.gap import GapFigures, GapState, entry_pressure_Pa
from model.immersion import make_drive
from model.spray_field import DutyMap, ExposureTrace, duty_maps, worst_cells
from model.uncertainty import InputBook, part_of
from model.wash import (
    BathDrive,
    KindClearing,
    RunOutDuty,
    SprayDrive,
    SprayField,
    _peak_ratio,
    node_weights,
    reach_ratios,
    run_out_nodes_m,
    spray_field,
)
from model.wash_course import SoiledBoards, _near_the_slowest, _together, wash_outcome, wash_outcomes
from tests.conftest import changed_record

GAP = GapState(gap_m=np.array([50e-6, 80e-6]), flow_length_m=np.array([5e-3, 7e-3]), viscosity_Pa_s=np.full(2, 4.7e-4),
               density_kg_m3=np.full(2, 985.0), diffusivity_m2_s=np.full(2, 5e-10), entry_pressure_Pa=np.zeros(2),
               end_loss_coefficient=np.full(2, 1.5))  # fmt: skip
RESIDUE = ResidueState(capacity_kg_m3=80.0, residue_density_kg_m3=1090.0, residue_thickness_m=18e-6)
ALL = slice(None)
HEAD_PA = 985.0 * np.array([5e-3, 7e-3]) * 9.80665
OPEN = np.array([0.5, 0.4])


SINGLE = 3e-7
"""Duties and what is averaged by them are kept in single precision: 2⁻²⁴ a number."""


def field(**changes: Any) -> SprayField:
    """Two cells, of which the worse counts; two classes, the second after one bounce; two film run-outs."""
    made = SprayField(
        run_out_nodes_m=np.array([0.0, 4e-3]),
        duty_share=(np.array([[0.1, 0.02], [0.3, 0.2]]), np.array([[0.2, 0.05], [0.4, 0.3]])),
        pressure_ratio=np.array([0.5, 0.1]), bounce_order=np.array([0.0, 1.0]), peak_ratio=0.5, order_index=0,
        restitution=0.3,
    )  # fmt: skip
    return replace(made, **changes)


def drive(stand: bool = True, run_out: float = 1e-3, **changes: Any) -> SprayDrive:
    return SprayDrive(field=field(**changes), nozzle_pressure_Pa=np.array([2e5, 3e5]), conversion=np.array([0.5, 0.4]),
                      restitution=np.array([0.3, 0.6]), run_out_m=np.full(2, run_out), boards_stand=stand)  # fmt: skip


PRESSURES = np.array([[0.5 * 0.25 * 2e5, 0.5 * 0.16 * 3e5], [0.1 * 0.25 * 2e5, 0.1 * 0.16 * 3e5 * 4.0]])
"""Share of the nozzle pressure times κ²; a bounce that keeps twice the speed keeps four times the pressure."""


def test_a_stream_presses_with_its_share_of_the_nozzle_pressure_times_conversion_and_bounce_squared() -> None:
    np.testing.assert_allclose(drive().pressures_Pa(ALL), PRESSURES, rtol=1e-12)
    np.testing.assert_allclose(drive().pressures_Pa(slice(1, 2)), PRESSURES[:, 1:], rtol=1e-12)


def test_only_boards_that_stand_feel_the_head_of_the_fluid_in_the_gap() -> None:
    np.testing.assert_allclose(drive().gravity_head_Pa(GAP), HEAD_PA, rtol=1e-12)
    np.testing.assert_array_equal(drive(stand=False).gravity_head_Pa(GAP), [0.0, 0.0])


def test_the_peak_is_the_strongest_stream_and_the_head_where_any_stream_arrives() -> None:
    np.testing.assert_allclose(drive().peak_pressure_Pa(GAP, ALL), PRESSURES[0] + HEAD_PA, rtol=1e-12)
    np.testing.assert_array_equal(drive(peak_ratio=0.0).peak_pressure_Pa(GAP, ALL), [0.0, 0.0])


@pytest.mark.parametrize(("place", "duty"), [(0, (0.1125, 0.02375)), (1, (0.3125, 0.2125))])
def test_the_mean_pressure_is_that_of_the_place_that_counts(place: int, duty: tuple[float, float]) -> None:
    # The middle draw's film runs out 1 mm: (1/4)^1.5 = 1/8 of the way from the duties at 0 to those at 4 mm.
    expected = duty[0] * (PRESSURES[0] + HEAD_PA) + duty[1] * (PRESSURES[1] + HEAD_PA)
    np.testing.assert_allclose(drive(order_index=place).mean_pressure_Pa(GAP, ALL), expected, rtol=SINGLE)
    nobody = drive(duty_share=(np.zeros((2, 0)),) * 2, pressure_ratio=np.zeros(0), bounce_order=np.zeros(0))
    for nothing in (nobody.mean_pressure_Pa(GAP, ALL), nobody.speed_m_s(GAP, RESIDUE, OPEN, ALL)):
        assert nothing.shape == (2,)
        np.testing.assert_array_equal(nothing, [0.0, 0.0])
    # In rows, one for each kind, and for one draw alone.
    rows = GapFigures(**{name: np.stack([value] * 3) for name, value in asdict(GAP).items()})
    assert nobody.mean_pressure_Pa(rows, ALL).shape == (3, 2)
    three = drive(order_index=place).mean_pressure_Pa(rows, ALL)
    np.testing.assert_allclose(three, np.stack([expected] * 3), rtol=SINGLE)


@pytest.mark.parametrize(("run_out", "weight"), [(0.0, 0.0), (1e-3, 0.125), (4e-3, 1.0), (9e-3, 1.0)])
@pytest.mark.parametrize("stand", [True, False])
def test_the_front_moves_by_the_duty_of_each_stream_between_the_film_run_outs(
    run_out: float, weight: float, stand: bool
) -> None:
    pressed = (PRESSURES + HEAD_PA * stand) * OPEN
    each = np.asarray(front_speed_m_s(pressed, GAP, RESIDUE))
    near, far = 0.1 * each[0] + 0.02 * each[1], 0.2 * each[0] + 0.05 * each[1]
    found = drive(stand, run_out).speed_m_s(GAP, RESIDUE, OPEN, ALL)
    np.testing.assert_allclose(found, (1.0 - weight) * near + weight * far, rtol=SINGLE)
    # In rows, one for each kind, every row gives what it gives alone.
    rows = GapFigures(**{name: np.stack([value, value]) for name, value in asdict(GAP).items()})
    residue = ResidueFigures(**{name: np.full((2, 2), value) for name, value in asdict(RESIDUE).items()})
    both = drive(stand, run_out).speed_m_s(rows, residue, np.stack([OPEN, OPEN]), ALL)
    np.testing.assert_array_equal(both, np.stack([found, found]))


def test_the_place_that_counts_is_that_of_the_duties_at_a_draws_own_film_run_out() -> None:
    # Which of the three cells is worst changes from node to node: the worst of a mean is not the mean of the worst.
    nodes_m = np.array([1e-3, 2e-3, 4e-3])
    duties = np.array([[[0.1, 0.0], [0.4, 0.1], [0.3, 0.3]], [[0.5, 0.2], [0.1, 0.1], [0.2, 0.2]],
                       [[0.2, 0.6], [0.6, 0.1], [0.05, 0.0]]])  # fmt: skip
    run_outs_m = np.array([3e-3, 0.5e-3, 1.4e-3, 2e-3, 5e-3, 1.0e-3, 1.7e-3, 4e-3])
    gap = GapFigures(**{name: np.resize(value, (2, 8)) * [[1.0], [1.2]] for name, value in asdict(GAP).items()})
    residue = ResidueFigures(**{name: np.full((2, 8), value) for name, value in asdict(RESIDUE).items()})
    share = np.linspace(0.3, 0.9, 16).reshape(2, 8)
    for place in (0, 1, 2):
        sprayed = SprayDrive(
            field=field(run_out_nodes_m=nodes_m, duty_share=tuple(duties), order_index=place),
            nozzle_pressure_Pa=np.linspace(1e5, 4e5, 8), conversion=np.linspace(0.6, 0.3, 8),
            restitution=np.linspace(0.2, 0.6, 8), run_out_m=run_outs_m, boards_stand=True,
        )  # fmt: skip
        across = sprayed.pressures_Pa(ALL)[:, None, :] + sprayed.gravity_head_Pa(gap)
        each = np.asarray(front_speed_m_s(across * share, gap, residue))
        found = sprayed.speed_m_s(gap, residue, share, ALL)
        for row in range(2):
            for draw, run_out_m in enumerate(run_outs_m):
                duty = np.array([[np.interp(run_out_m**1.5, nodes_m**1.5, duties[:, cell, kind]) for kind in range(2)]
                                 for cell in range(3)])  # fmt: skip
                expected = np.sort(duty @ each[:, row, draw])[place]
                assert found[row, draw] == pytest.approx(expected, rel=5 * SINGLE)
        # Of the first draws alone each has what it has among all.
        few = slice(3)
        part = sprayed.speed_m_s(
            part_of(GapFigures, gap, (ALL, few)), part_of(ResidueFigures, residue, (ALL, few)), share[:, few], few
        )
        np.testing.assert_allclose(part, found[:, few], rtol=5 * SINGLE)


@pytest.mark.parametrize("run_outs_mm", [(4.5, 3.0), (6.0, 2.5), (5.0, 5.0), (0.5, 4.0)])
def test_fewer_draws_than_film_run_outs_have_the_duty_at_their_own(run_outs_mm: tuple[float, float]) -> None:
    # One cell and one class, so that the front moves by the interpolated duty alone (a straight line in run-out^1.5).
    nodes_m, duties = np.array([1e-3, 2e-3, 3e-3, 4e-3, 5e-3]), np.array([0.1, 0.3, 0.2, 0.6, 0.5])
    run_outs_m = np.array(run_outs_mm) * 1e-3
    one_class = field(run_out_nodes_m=nodes_m, duty_share=tuple(duties[:, None, None]), pressure_ratio=np.array([0.5]),
                      bounce_order=np.zeros(1))  # fmt: skip
    sprayed = replace(drive(), field=one_class, run_out_m=run_outs_m)
    each = np.asarray(front_speed_m_s((PRESSURES[0] + HEAD_PA) * OPEN, GAP, RESIDUE))
    expected = np.interp(run_outs_m**1.5, nodes_m**1.5, duties) * each
    np.testing.assert_allclose(sprayed.speed_m_s(GAP, RESIDUE, OPEN, ALL), expected, rtol=5 * SINGLE)


def test_with_the_middle_film_every_draw_has_that_of_the_middle_one() -> None:
    # Of two draws the middle is their mean, 2 mm: (1/2)^1.5 of the way from the duties at 0 to those at 4 mm.
    spread = replace(drive(), run_out_m=np.array([1e-3, 3e-3]))
    middle = spread.with_middle_film()
    np.testing.assert_array_equal(middle.field.run_out_nodes_m, [2e-3])
    (duty,) = middle.field.duty_share
    share = 0.5**1.5
    near, far = (np.asarray(one) for one in spread.field.duty_share)
    np.testing.assert_allclose(duty, (1.0 - share) * near + share * far, rtol=SINGLE)
    alike = replace(spread, run_out_m=np.full(2, 2e-3))
    np.testing.assert_allclose(middle.speed_m_s(GAP, RESIDUE, OPEN, ALL), alike.speed_m_s(GAP, RESIDUE, OPEN, ALL),
                               rtol=2 * SINGLE)  # fmt: skip
    np.testing.assert_array_equal(middle.peak_pressure_Pa(GAP, ALL), spread.peak_pressure_Pa(GAP, ALL))


def test_a_bath_presses_evenly_for_its_share_of_the_time() -> None:
    bath = BathDrive(drive=make_drive(np.array([300.0, 500.0]), 0.4, np.array([1.0, 0.97])), excluded_share=0.02)
    np.testing.assert_allclose(bath.peak_pressure_Pa(GAP, ALL), [300.0, 500.0])
    np.testing.assert_allclose(bath.mean_pressure_Pa(GAP, ALL), [120.0, 200.0])
    expected = 0.4 * np.asarray(front_speed_m_s(np.array([300.0, 500.0]) * OPEN, GAP, RESIDUE))
    assert bath.with_middle_film() is bath
    # In the second draw it does not reach the place that counts.
    np.testing.assert_allclose(bath.speed_m_s(GAP, RESIDUE, OPEN, ALL), expected * [1.0, 0.0], rtol=1e-12)


def test_weights_between_nodes_add_up_to_one_and_give_any_straight_line_back() -> None:
    nodes = np.array([0.0, 1.0, 4.0, 5.0])
    at = np.array([0.0, 0.3, 1.0, 2.5, 4.0, 4.9, 5.0])
    weights = node_weights(at, nodes)
    np.testing.assert_allclose(weights.sum(axis=0), 1.0)
    np.testing.assert_allclose((3.0 - 0.5 * nodes) @ weights, 3.0 - 0.5 * at, rtol=1e-12)
    assert np.all(np.count_nonzero(weights, axis=0) <= 2)
    np.testing.assert_array_equal(node_weights(np.array([-1.0, 9.0]), nodes), [[1, 0], [0, 0], [0, 0], [0, 1]])
    np.testing.assert_array_equal(node_weights(np.array([-1.0, 9.0]), np.array([2.0])), [[1.0, 1.0]])


# ---- From a trace to the few cells that can be the worst -------------------------------------------------------------

NODES_M = np.array([0.0, 4e-3, 25e-3])
DROPPED = 0.05


@pytest.fixture(scope="module")
def trace() -> ExposureTrace:
    """Streams that fall at random: every class reaches some of the cells, the stronger ones fewer."""
    rng = np.random.default_rng(7)
    shape, reached = (1, 160, 4), np.array([0.03, 0.15, 0.8, 0.95])
    there = rng.random(shape) < reached
    return ExposureTrace(
        cell_shape=(1, 2, 8, 10), cell_size_m=(0.01, 0.01),
        zone_area=(there * rng.uniform(0.0, 0.2, shape)).astype(np.float32),
        zone_radius_per_m=(there * rng.uniform(0.0, 20.0, shape)).astype(np.float32),
        zones_per_m2=(there * rng.uniform(0.0, 2e3, shape)).astype(np.float32),
        class_ratio=np.array([0.3, 0.02, 0.04, 5e-4]), class_order=np.array([0, 0, 1, 0]),
        force_ratio=np.zeros((1, 160, 2), dtype=np.float32), stream_count=np.full(160, 3.0), ray_count=1000,
    )  # fmt: skip


@pytest.mark.parametrize("sides", [1, 2])
def test_the_field_keeps_the_cells_that_are_worst_at_any_run_out_and_their_duties(
    trace: ExposureTrace, sides: int
) -> None:
    made = spray_field(trace, board(populated_sides=sides), NODES_M, 0.3, DROPPED)
    maps = duty_maps(trace, NODES_M.tolist(), 0.3, sides)
    kept = [worst_cells(one, DROPPED, entry_ratios=(0.0, 1e-3), margin=1.5).cell_index for one in maps]
    union = sorted({int(cell) for cells in kept for cell in cells})
    cells = maps[0].duty_share.shape[0]
    assert max(len(each) for each in kept) < len(union) < cells
    np.testing.assert_array_equal(made.run_out_nodes_m, NODES_M)
    assert len(made.duty_share) == 3
    for duty, full in zip(made.duty_share, maps, strict=True):
        assert duty.dtype == np.float32
        np.testing.assert_array_equal(duty, full.duty_share[union].astype(np.float32))
    np.testing.assert_array_equal(made.pressure_ratio, maps[0].pressure_ratio)
    np.testing.assert_array_equal(made.bounce_order, maps[0].bounce_order)
    assert made.bounce_order.dtype == np.float64
    assert made.bounce_order.max() > 0
    assert made.restitution == 0.3
    assert made.order_index == int(DROPPED * cells) > 1
    # The greatest pressure at the widest run-out, by hand: sorted, with the dropped ones passed over.
    peaks = [max([r for r, d in zip(maps[0].pressure_ratio, row, strict=True) if d > 1e-5], default=0.0)
             for row in maps[-1].duty_share]  # fmt: skip
    assert made.peak_ratio == sorted(peaks)[made.order_index]
    assert 0.0 < made.peak_ratio < max(peaks)
    # What is known already is not computed again, and the rest is added to it.
    known: dict[float, RunOutDuty] = {}
    spray_field(trace, board(populated_sides=sides), NODES_M[1:2], 0.3, DROPPED, known)
    assert list(known) == [NODES_M[1]]
    before = known[NODES_M[1]]
    again = spray_field(trace, board(populated_sides=sides), NODES_M, 0.3, DROPPED, known)
    assert sorted(known) == NODES_M.tolist()
    assert known[NODES_M[1]] is before
    for first, second in zip(again.duty_share, made.duty_share, strict=True):
        np.testing.assert_array_equal(first, second)
    # One run-out alone is kept like the same one among others.
    alone = spray_field(trace, board(populated_sides=sides), NODES_M[:1], 0.3, DROPPED)
    np.testing.assert_array_equal(alone.duty_share[0], maps[0].duty_share[np.sort(kept[0])].astype(np.float32))
    assert (len(alone.duty_share), alone.order_index) == (1, made.order_index)
    np.testing.assert_array_equal(alone.pressure_ratio, made.pressure_ratio)
    # What counts later is the same as with all cells, whatever entry pressure between those looked at bars the gap.
    for entry in (0.0, 5e-4, 1e-3):
        drive_of = np.cbrt(np.maximum(maps[0].pressure_ratio - entry, 0.0))
        for duty, full in zip(made.duty_share, maps, strict=True):
            place = made.order_index
            expected = np.sort(full.duty_share @ drive_of)[place]
            assert np.sort(duty @ drive_of)[place] == pytest.approx(expected, rel=1e-6)


def test_the_peak_is_the_strongest_stream_present_for_more_than_a_hundred_thousandth_of_the_time() -> None:
    def peak(duty: list[list[float]], place: int, ratios: tuple[float, ...] = (0.8, 0.5, 0.2)) -> float:
        return _peak_ratio(DutyMap(duty_share=np.array(duty), pressure_ratio=np.array(ratios), cell_shape=(1, 1, 1, 4),
                                   bounce_order=np.zeros(len(ratios), dtype=np.intp)), place)  # fmt: skip

    cells = [[1e-5, 0.3, 0.1], [0.4, 0.2, 0.0], [0.0, 0.0, 2e-5], [1e-6, 0.0, 0.0]]
    assert [peak(cells, place) for place in range(4)] == [0.0, 0.2, 0.5, 0.8]
    assert peak([[0.5], [0.7]], 0, (0.8,)) == 0.8
    assert peak([[], []], 0, ()) == 0.0


def test_reach_is_the_least_share_of_its_depth_that_any_kind_clears_in_time() -> None:
    def kind(speed_m_s: float, soak_m_s05: float, depth_m: tuple[float, float]) -> KindClearing:
        made: Any = {"speed_m_s": np.full(2, speed_m_s), "soak_m_s05": np.full(2, soak_m_s05)}
        rest: Any = dict.fromkeys(("kind", "gap", "gap_m", "entry_pressure_Pa", "peak_pressure_Pa", "needed_time_s"))
        return KindClearing(depth_needed_m=np.array(depth_m), **made, **rest)

    time_s = np.array([100.0, 400.0])
    # x = v t + a √t: 1 + 1 mm and 4 + 2 mm; 2 + 0 and 8 + 0 mm.
    first, second = kind(1e-5, 1e-4, (1e-3, 3e-3)), kind(2e-5, 0.0, (4e-3, 2e-3))
    nothing = kind(0.0, 0.0, (0.0, 0.0))
    loads = ([first], [first, second], [nothing], [nothing, second])
    expected = ([2.0, 2.0], [0.5, 2.0], [np.inf, np.inf], [0.5, 4.0])
    for found, least in zip(reach_ratios(loads, time_s), expected, strict=True):
        np.testing.assert_allclose(found, least, rtol=1e-12)


@pytest.mark.parametrize(
    ("low_m", "high_m", "expected_mm"),
    # Five steps a decade: series R5 of ISO 3 (values from memory), which rounds 0.631 to 0.63.
    [(1.7e-3, 3.9e-3, (1.58, 2.51, 3.98)), (2.6e-3, 2.7e-3, (2.51, 3.98)), (5e-5, 1.2e-4, (0.0, 0.1, 0.158)),
     (1e-4, 1.2e-4, (0.1, 0.158)), (0.0, 0.0, (0.0, 0.1)), (9e-3, 12e-3, (6.31, 10.0, 15.8))],
)  # fmt: skip
def test_preferred_run_outs_enclose_all_draws(low_m: float, high_m: float, expected_mm: tuple[float, ...]) -> None:
    nodes_m = run_out_nodes_m(np.array([high_m, low_m, 0.5 * (low_m + high_m)]))
    np.testing.assert_allclose(nodes_m * 1e3, expected_mm, rtol=4e-3)


# ---- A whole board type ----------------------------------------------------------------------------------------------

DRAWS = 40
KINDS = ("chip-0402", "qfn-5x5", "qfn-7x7", "dip", "bga-10", "soic-8", "tssop-20")


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library()


def board(kinds: tuple[str, ...] = KINDS, **changes: Any) -> BoardType:
    return BoardType.model_validate({
        "id": "b", "name": "B", "length": "160 mm", "width": "100 mm", "thickness": "1.6 mm",
        "volume": "1000 boards/year", "lot_size": 10, "alloy": "lead-free", "flux": "ROL0",
        "peak_reflow_temperature": "245 degC", "wait_before_wash": "8 h", "cleared_share_needed": "80 %",
        "components": [{"kind": kind, "count": 1} for kind in kinds], "clear_distance": "2 mm",
        "max_temperature": "100 degC", **changes,
    })  # fmt: skip


def state(library: Library, book: InputBook, fluid: str = "saponified-water") -> FluidState:
    return fluid_state(next(one for one in library.fluids if one.id == fluid), np.full(DRAWS, 333.15), book)


def bath(pressure_Pa: float = 400.0) -> BathDrive:
    return BathDrive(drive=make_drive(np.full(DRAWS, pressure_Pa), 0.5), excluded_share=0.02)


def by_hand(library: Library, kind_id: str, fluid: FluidState, book: InputBook) -> dict[str, Any]:
    """Clear under one kind with all draws, from the functions for a single gap."""
    kind = next(one for one in library.component_kinds if one.id == kind_id)

    def take(name: str) -> np.ndarray[Any, Any]:
        return book.take(getattr(kind, name), f"component_kinds[{kind_id}].{name}", "engineering estimate")

    flux = next(one for one in library.flux_kinds if one.id == "ROL0")
    scale = book.take(library.constants.hardening_time_scale, "constants.hardening_time_scale", "")
    residue = residue_state(fluid, flux, board(), scale, book)
    entry = entry_pressure_Pa(fluid.surface_tension_N_m, fluid.contact_angle_component_rad,
                              fluid.contact_angle_board_rad, take("gap"))  # fmt: skip
    gap = GapState(
        gap_m=take("gap"), flow_length_m=take("body_length"), viscosity_Pa_s=fluid.viscosity_Pa_s,
        density_kg_m3=fluid.density_kg_m3, diffusivity_m2_s=fluid.diffusivity_m2_s, entry_pressure_Pa=entry,
        end_loss_coefficient=book.take(library.constants.gap_end_loss, "constants.gap_end_loss", ""),
    )  # fmt: skip
    speed = 0.5 * np.asarray(front_speed_m_s(400.0 * take("open_edge_share"), gap, residue))
    soak = np.asarray(soak_coefficient_m_s05(gap, residue, np.full(DRAWS, 400.0)))
    depth = 0.8 * take("flux_path")
    return {"state": gap, "entry": np.asarray(entry), "speed": speed, "soak": soak, "depth": depth, "gap": take("gap"),
            "needed": needed_time_s(depth, speed, soak)}  # fmt: skip


def test_the_kinds_that_need_longest_are_followed_in_every_draw_and_the_slowest_counts(library: Library) -> None:
    book = InputBook(DRAWS, 1)
    fluid = state(library, book)
    flux = next(one for one in library.flux_kinds if one.id == "ROL0")
    outcome = wash_outcome(board(), flux, bath(), fluid, library, book)
    alone = {kind: by_hand(library, kind, fluid, InputBook(DRAWS, 1)) for kind in KINDS}
    medians = [float(np.median(kind.needed_time_s)) for kind in outcome.kinds]
    assert medians == sorted(medians, reverse=True)
    assert 1 < len(outcome.kinds) <= 4
    for kind in outcome.kinds:
        hand = alone[kind.kind.id]
        for found, expected in (
            (kind.needed_time_s, hand["needed"]), (kind.speed_m_s, hand["speed"]), (kind.soak_m_s05, hand["soak"]),
            (kind.depth_needed_m, hand["depth"]), (kind.gap_m, hand["gap"]), (kind.entry_pressure_Pa, hand["entry"]),
            (kind.peak_pressure_Pa, np.full(DRAWS, 400.0)), (kind.gap.gap_m, hand["gap"]),
        ):  # fmt: skip
            np.testing.assert_allclose(found, expected, rtol=1e-12)
        for name, value in asdict(hand["state"]).items():
            np.testing.assert_allclose(getattr(kind.gap, name), value, rtol=1e-12)
    # No kind left out is the slowest in any draw.
    np.testing.assert_allclose(outcome.needed_time_s, np.max([one["needed"] for one in alone.values()], axis=0))
    screened = {kind: float(np.median(one["needed"][:24])) / 60.0 for kind, one in alone.items()}
    assert [name for name, _ in outcome.screening_minutes] == sorted(KINDS, key=screened.__getitem__, reverse=True)
    for name, minutes in outcome.screening_minutes:
        assert minutes == pytest.approx(screened[name], rel=1e-9)


def test_where_nothing_is_ever_cleared_the_longest_path_is_named(library: Library) -> None:
    book = InputBook(DRAWS, 1)
    flux = next(one for one in library.flux_kinds if one.id == "ROL0")
    outcome = wash_outcome(board(), flux, bath(), state(library, book, "di-water"), library, book)
    assert np.all(np.isinf(outcome.needed_time_s))
    paths = {kind.id: kind.flux_path.si()[1] for kind in library.component_kinds if kind.id in KINDS}
    assert outcome.screening_minutes[0][0] == max(paths, key=paths.__getitem__)
    assert outcome.kinds[0].kind.id in paths


def test_a_kind_is_followed_when_it_comes_near_the_slowest_in_any_draw() -> None:
    times = np.array([[9.0, 9.0, np.inf], [1.0, 6.1, 1.0], [5.9, 5.9, 1e9], [1.0, 1.0, np.inf]])
    np.testing.assert_array_equal(_near_the_slowest(times), [True, True, False, True])
    np.testing.assert_array_equal(_near_the_slowest(np.zeros((2, 3))), [True, True])


def test_the_order_of_the_components_does_not_matter(library: Library) -> None:
    flux = next(one for one in library.flux_kinds if one.id == "ROL0")
    outcomes = []
    for kinds in (KINDS, KINDS[::-1]):
        book = InputBook(DRAWS, 1)
        outcomes.append(wash_outcome(board(kinds), flux, bath(), state(library, book), library, book))
    np.testing.assert_array_equal(outcomes[0].needed_time_s, outcomes[1].needed_time_s)
    assert [kind.kind.id for kind in outcomes[0].kinds] == [kind.kind.id for kind in outcomes[1].kinds]


def test_several_loads_are_each_washed_as_if_alone(library: Library) -> None:
    """One kind on the first board, other kinds, fluids, drives and fluxes on the next ones."""
    fluxes = {flux.id: flux for flux in library.flux_kinds}
    books = [InputBook(DRAWS, 1) for _ in range(5)]
    fluid, other = state(library, books[0]), state(library, books[0], "neutral-water")
    one_kind = board(("qfn-7x7",), id="single")
    few = board(("chip-0402", "dip", "qfn-5x5"), id="few", cleared_share_needed="50 %", wait_before_wash="1 h")
    loads = [
        SoiledBoards(board=one_kind, flux=fluxes["ROL0"], drive=bath(), state=fluid),
        SoiledBoards(board=board(), flux=fluxes["ROL0"], drive=bath(900.0), state=fluid),
        SoiledBoards(board=few, flux=fluxes["REL0"], drive=bath(300.0), state=other),
        SoiledBoards(board=board(), flux=fluxes["ROL0"], drive=bath(900.0), state=other),
    ]
    together = wash_outcomes(loads, library, books[0])
    assert len(together) == 4
    assert wash_outcomes([], library, books[0]) == []
    for load, found, book in zip(loads, together, books[1:], strict=True):
        alone = wash_outcome(load.board, load.flux, load.drive, load.state, library, book)
        assert found.screening_minutes == alone.screening_minutes
        assert len(found.screening_minutes) == len(load.board.components)
        np.testing.assert_array_equal(found.needed_time_s, alone.needed_time_s)
        assert [kind.kind.id for kind in found.kinds] == [kind.kind.id for kind in alone.kinds]
        for ours, theirs in zip(found.kinds, alone.kinds, strict=True):
            for name in ("depth_needed_m", "entry_pressure_Pa", "peak_pressure_Pa", "speed_m_s", "soak_m_s05"):
                np.testing.assert_array_equal(getattr(ours, name), getattr(theirs, name))
                assert getattr(ours, name).shape == (DRAWS,)
            for name, value in asdict(theirs.gap).items():
                np.testing.assert_array_equal(getattr(ours.gap, name), value)


def test_kinds_under_spray_are_screened_with_the_film_of_the_middle_draw_and_followed_with_their_own(
    library: Library,
) -> None:
    each = np.ones(DRAWS)
    spray = SprayDrive(field=field(), nozzle_pressure_Pa=2e5 * each, conversion=0.5 * each, restitution=0.3 * each,
                       run_out_m=np.linspace(0.0, 4e-3, DRAWS), boards_stand=True)  # fmt: skip
    flux = next(one for one in library.flux_kinds if one.id == "ROL0")
    book = InputBook(DRAWS, 1)
    fluid = state(library, book)
    found, middle = (wash_outcome(board(), flux, pressing, fluid, library, book)
                     for pressing in (spray, spray.with_middle_film()))  # fmt: skip
    assert found.screening_minutes == middle.screening_minutes
    first, same = found.kinds[0], middle.kinds[0]
    assert first.kind is same.kind
    # Film that runs out farther than in the middle draw clears faster.
    assert np.all((first.speed_m_s > same.speed_m_s)[DRAWS // 2 :])
    assert np.all((first.speed_m_s < same.speed_m_s)[: DRAWS // 2])


def test_loads_are_computed_at_once_until_their_values_would_leave_the_processors_own_memory() -> None:
    def parts(sizes: list[int], draws: int) -> list[tuple[int, int]]:
        rows: Any = [SimpleNamespace(load=place) for place, size in enumerate(sizes) for _ in range(size)]
        return list(_together(rows, draws))

    # 65 536 values: four rows of 16 384 draws are just enough; a load is never cut.
    assert parts([2, 2, 1, 2], 16_384) == [(0, 4), (4, 7)]
    assert parts([3, 2, 5, 1, 1], 16_384) == [(0, 5), (5, 10), (10, 12)]
    assert parts([2, 2, 1], 100) == [(0, 5)]
    assert parts([7], 65_536) == [(0, 7)]


def test_depths_follow_from_the_board_alone_and_are_shared_and_noted(library: Library) -> None:
    plain = changed_record(next(one for one in library.component_kinds if one.id == "dip"),
                           {"gap": "500 µm", "body_length": "9 mm", "flux_path": "3 mm",
                            "open_edge_share": "40 %"})  # fmt: skip
    own = library.model_copy(update={"component_kinds": (plain,)})
    flux = next(one for one in library.flux_kinds if one.id == "ROL0")
    book, known = InputBook(DRAWS, 1), {"depth b dip": np.full(DRAWS, 1e-3)}
    load = SoiledBoards(board=board(("dip",)), flux=flux, drive=bath(), state=state(library, book))
    np.testing.assert_array_equal(wash_outcomes([load], own, book, known)[0].kinds[0].depth_needed_m, 1e-3)
    fresh: dict[str, Any] = {}
    found = wash_outcomes([load], own, book, fresh)[0].kinds[0]
    np.testing.assert_allclose(found.depth_needed_m, 0.8 * 3e-3, rtol=1e-12)
    assert list(fresh) == ["depth b dip"]
    assert fresh["depth b dip"] is found.depth_needed_m
    noted = {one.path: one.basis for one in book.inputs()}
    assert noted["board_types[b].cleared_share_needed"] == "measured"
    for name in ("gap", "body_length", "flux_path", "open_edge_share"):
        assert noted[f"component_kinds[dip].{name}"] == "engineering estimate"


def test_the_reach_of_a_load_is_the_least_of_its_kinds_depths_over_those_needed(library: Library) -> None:
    book = InputBook(DRAWS, 1)
    flux = next(one for one in library.flux_kinds if one.id == "ROL0")
    fluid = state(library, book)
    loads = [wash_outcome(board(kinds), flux, bath(), fluid, library, book).kinds for kinds in (KINDS, ("dip",))]
    time_s = np.linspace(10.0, 3000.0, DRAWS)
    found = reach_ratios(loads, time_s)
    for kinds, least in zip(loads, found, strict=True):
        each = [(kind.speed_m_s * time_s + kind.soak_m_s05 * np.sqrt(time_s)) / kind.depth_needed_m for kind in kinds]
        np.testing.assert_allclose(least, np.min(each, axis=0), rtol=1e-12)
        assert least.base is None
    assert len(loads[0]) > 1
    assert reach_ratios([], time_s) == []
