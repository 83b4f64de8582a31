"""Clearing of a board type from drives made by hand: pressures, place that counts, kinds that need longest."""

from __future__ import annotations

from dataclasses import asdict, replace
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
from model.uncertainty import InputBook
from model.wash import BathDrive, SprayDrive, SprayField, node_weights, reach_ratios, run_out_nodes_m
from model.wash_course import _near_the_slowest, wash_outcome

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
    np.testing.assert_array_equal(nobody.mean_pressure_Pa(GAP, ALL), [0.0, 0.0])
    np.testing.assert_array_equal(nobody.speed_m_s(GAP, RESIDUE, OPEN, ALL), [0.0, 0.0])


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


def test_a_bath_presses_evenly_for_its_share_of_the_time() -> None:
    bath = BathDrive(drive=make_drive(np.array([300.0, 500.0]), 0.4, np.array([1.0, 0.97])), excluded_share=0.02)
    np.testing.assert_allclose(bath.peak_pressure_Pa(GAP, ALL), [300.0, 500.0])
    np.testing.assert_allclose(bath.mean_pressure_Pa(GAP, ALL), [120.0, 200.0])
    expected = 0.4 * np.asarray(front_speed_m_s(np.array([300.0, 500.0]) * OPEN, GAP, RESIDUE))
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
    # Two nodes in one place: nothing lies between them, and nothing is divided by their distance.
    assert np.all(np.isfinite(node_weights(np.array([0.0, 1.0, 2.0]), np.array([1.0, 1.0]))))


@pytest.mark.parametrize(
    ("low_m", "high_m", "expected_mm"),
    # Five steps a decade: series R5 of ISO 3 (values from memory), which rounds 0.631 to 0.63.
    [(1.7e-3, 3.9e-3, (1.58, 2.51, 3.98)), (2.6e-3, 2.7e-3, (2.51, 3.98)), (5e-5, 1.2e-4, (0.0, 0.1, 0.158)),
     (0.0, 0.0, (0.0, 0.1)), (9e-3, 12e-3, (6.31, 10.0, 15.8))],
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


def board(kinds: tuple[str, ...] = KINDS) -> BoardType:
    return BoardType.model_validate({
        "id": "b", "name": "B", "length": "160 mm", "width": "100 mm", "thickness": "1.6 mm",
        "volume": "1000 boards/year", "lot_size": 10, "alloy": "lead-free", "flux": "ROL0",
        "peak_reflow_temperature": "245 degC", "wait_before_wash": "8 h", "cleared_share_needed": "80 %",
        "components": [{"kind": kind, "count": 1} for kind in kinds], "clear_distance": "2 mm",
        "max_temperature": "100 degC",
    })  # fmt: skip


def state(library: Library, book: InputBook, fluid: str = "saponified-water") -> FluidState:
    return fluid_state(next(one for one in library.fluids if one.id == fluid), np.full(DRAWS, 333.15), book)


def bath(pressure_Pa: float = 400.0) -> BathDrive:
    return BathDrive(drive=make_drive(np.full(DRAWS, pressure_Pa), 0.5), excluded_share=0.02)


def by_hand(library: Library, kind_id: str, fluid: FluidState, book: InputBook) -> dict[str, np.ndarray[Any, Any]]:
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
    return {"entry": np.asarray(entry), "speed": speed, "soak": soak, "depth": depth, "gap": take("gap"),
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
