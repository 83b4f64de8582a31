"""A machine's spray from exact inputs: loads, nozzles, pump and film by hand; what is asked for when it is missing."""

from __future__ import annotations

from dataclasses import replace
from math import pi, radians
from typing import Any

import numpy as np
import pytest

from catalog_schema.boards import BoardType
from catalog_schema.case import Case
from catalog_schema.library import load_library
from catalog_schema.machine import Machine, machine_from_candidate
from model.fluid_state import FluidState, fluid_state
from model.input_errors import UnphysicalInputError
from model.machine_inputs import MachineInputs, MissingInputError
from model.nozzles import film_run_out_radius_m
from model.spray_drive import (
    LoadFit,
    SprayGeometry,
    load_fit,
    nozzle_count,
    run_out_m,
    spray_geometry,
    spray_pump,
    traced_size_m,
    usable_room_m,
)
from model.spray_field import trace_exposure
from model.spray_geometry import BeltManifolds, FixedManifolds, Nozzle, Rack, RotatingArms
from model.uncertainty import InputBook
from tests.model import records

DRAWS = 4
SPRAY, BELT = "offer-a-batch-spray", "offer-b-inline"
NOZZLES = {
    "spray.nozzle_shape": "full cone", "spray.nozzle_half_angle": "30 deg", "spray.drop_diameter": "0.6 mm",
    "spray.nozzle_diameter": "2 mm", "spray.discharge_coefficient": 0.7, "spray.velocity_coefficient": 0.95,
    "spray.pump_efficiency": "50 %", "spray.clearance": "80 mm", "spray.arrangement": "fixed manifolds",
    "spray.levels_below": 1, "spray.levels_above": 2, "spray.manifold_rows": 3, "spray.nozzles_per_level": 5,
    "spray.nozzle_pressure": "3 bar", "spray.loaded_filter_loss": "0.3 bar",
}  # fmt: skip
RACK = {"chamber.rack_length": "560 mm", "chamber.rack_width": "540 mm", "chamber.rack_height": "280 mm",
        "chamber.levels": 2, "chamber.board_pitch": "25 mm"}  # fmt: skip


def reader(case: Case, change: Any, name: str = SPRAY, **changes: object) -> MachineInputs:
    offer = next(one for one in case.candidates if one.id == name)
    machine: Machine = machine_from_candidate(change(offer, NOZZLES | RACK | changes if name == SPRAY else changes),
                                              load_library())  # fmt: skip
    return MachineInputs(machine, InputBook(DRAWS, 1))


def without(inputs: MachineInputs, change: Any, *paths: str) -> MachineInputs:
    """Take values away from offer and class alike."""
    equipment = change(inputs.machine.equipment, dict.fromkeys(paths))
    return MachineInputs(replace(inputs.machine, equipment=equipment), InputBook(DRAWS, 1))


@pytest.fixture(scope="module")
def board(demo_case: Case) -> BoardType:
    return next(one for one in demo_case.board_types if one.id == "dense-controller")


@pytest.fixture(scope="module")
def state(change: Any) -> FluidState:
    fluid = next(one for one in load_library().fluids if one.id == "saponified-water")
    exact = change(fluid, {"density": "988 kg/m^3", "viscosity": "0.5 mPa*s", "reference_temperature": "60 degC"})
    return fluid_state(exact, np.full(DRAWS, 333.15), InputBook(DRAWS, 1))


# ---- How many boards -------------------------------------------------------------------------------------------------


def test_standing_boards_fill_slots_rows_and_levels(demo_case: Case, change: Any, board: BoardType) -> None:
    # 560/25 = 22 slots; 540 mm hold five boards of 100 mm behind one another; two levels.
    fit = load_fit(reader(demo_case, change), board)
    assert fit.boards_per_load == 22 * 5 * 2
    assert fit.sentence == "220 boards of 160 × 100 mm fit into 560 × 540 × 280 mm on 2 levels."


def test_flat_boards_cover_each_level_the_better_way_round(demo_case: Case, change: Any, board: BoardType) -> None:
    # Lengthwise 3 × 5 boards on 560 × 540 mm, crosswise 5 × 3.
    fit = load_fit(reader(demo_case, change, **{"chamber.boards_lie_flat": True}), board)
    assert fit.boards_per_load == 15 * 2
    narrow = {"chamber.boards_lie_flat": True, "chamber.rack_length": "340 mm", "chamber.rack_width": "220 mm"}
    # 2 × 2 lengthwise, 3 × 1 crosswise.
    assert load_fit(reader(demo_case, change, **narrow), board).boards_per_load == 4 * 2


def test_a_stated_largest_load_limits_the_count(demo_case: Case, change: Any, board: BoardType) -> None:
    assert load_fit(reader(demo_case, change, **{"chamber.max_load": 48}), board).boards_per_load == 48
    assert load_fit(reader(demo_case, change, **{"chamber.max_load": 480}), board).boards_per_load == 220


def test_a_pitch_that_nobody_states_is_taken_as_thirty_millimetres(
    demo_case: Case, change: Any, board: BoardType
) -> None:
    fit = load_fit(without(reader(demo_case, change), change, "chamber.board_pitch"), board)
    assert fit.boards_per_load == 18 * 5 * 2


def test_boards_lie_abreast_on_a_belt_by_their_shorter_edge(demo_case: Case, change: Any, board: BoardType) -> None:
    for belt, count in (("500 mm", 5), ("499 mm", 4), ("100 mm", 1)):
        fit = load_fit(reader(demo_case, change, BELT, **{"chamber.belt_width": belt}), board)
        assert fit.boards_per_load == count
    assert fit.sentence == "1 boards of 160 × 100 mm lie abreast on the belt."


def test_the_room_is_the_rack_or_else_the_chamber_shared_by_its_levels(demo_case: Case, change: Any) -> None:
    whole = reader(demo_case, change, **{"chamber.length": "600 mm", "chamber.width": "580 mm",
                                         "chamber.height": "640 mm"})  # fmt: skip
    assert usable_room_m(whole, 2) == pytest.approx((0.56, 0.54, 0.28))
    bare = without(whole, change, "chamber.rack_length", "chamber.rack_width", "chamber.rack_height")
    assert usable_room_m(bare, 2) == pytest.approx((0.6, 0.58, 0.32))
    with pytest.raises(MissingInputError, match=r"^Offer A: batch spray washer: chamber: height is not known\."):
        usable_room_m(without(bare, change, "chamber.height"), 2)


# ---- Nozzles, pump and film ------------------------------------------------------------------------------------------


def test_manifolds_count_their_rows_and_arms_do_not(demo_case: Case, change: Any) -> None:
    assert nozzle_count(reader(demo_case, change)) == 5 * (1 + 2) * 3
    assert nozzle_count(reader(demo_case, change, **{"spray.arrangement": "rotating arms"})) == 5 * (1 + 2)
    assert nozzle_count(reader(demo_case, change, **{"spray.levels_below": 0, "spray.levels_above": 0})) == 1


def test_a_stated_pressure_is_that_with_a_clean_filter_and_the_loaded_one_takes_its_loss_off(
    demo_case: Case, change: Any, state: FluidState
) -> None:
    pump = spray_pump(reader(demo_case, change), state)
    area = 45 * pi * 1e-6
    for point, nozzle, added in ((pump.clean, 3.0e5, 0.0), (pump.loaded, 2.7e5, 0.3e5)):
        flow = 0.7 * area * (2.0 * nozzle / 988.0) ** 0.5
        np.testing.assert_allclose(point.nozzle_pressure_Pa, nozzle)
        np.testing.assert_allclose(point.flow_m3_s, flow, rtol=1e-12)
        np.testing.assert_allclose(point.pump_pressure_Pa, nozzle + added)
        np.testing.assert_allclose(point.shaft_power_W, flow * (nozzle + added) / 0.5, rtol=1e-12)
        np.testing.assert_array_equal(point.beyond_curve, np.zeros(DRAWS, dtype=np.bool_))
        assert point.beyond_curve.dtype == np.bool_  # type: ignore[union-attr]
    assert (pump.nozzles, pump.source) == (45, "nozzle pressure stated in the offer")
    none = spray_pump(without(reader(demo_case, change), change, "spray.loaded_filter_loss"), state)
    np.testing.assert_array_equal(none.loaded.nozzle_pressure_Pa, none.clean.nozzle_pressure_Pa)
    # A filter cannot take more than nine tenths.
    choked = spray_pump(reader(demo_case, change, **{"spray.loaded_filter_loss": "5 bar"}), state)
    np.testing.assert_allclose(choked.loaded.nozzle_pressure_Pa, 0.3e5)


def test_a_pump_curve_meets_nozzles_piping_and_filter(demo_case: Case, change: Any, state: FluidState) -> None:
    curve = {"spray.nozzle_pressure": None, "spray.shutoff_pressure": "4 bar", "spray.max_flow": "600 L/min",
             "spray.piping_loss_share": "20 %"}  # fmt: skip
    pump = spray_pump(reader(demo_case, change, **curve), state)
    nozzle = 988.0 / (2.0 * (0.7 * 45 * pi * 1e-6) ** 2)
    for point, filter_loss in ((pump.clean, 0.0), (pump.loaded, 0.3e5 / 0.01**2)):
        # Piping takes a fifth of what nozzles and piping take together.
        total = nozzle / 0.8 + filter_loss
        squared = 4e5 / (total + 4e5 / 0.01**2)
        np.testing.assert_allclose(np.square(point.flow_m3_s), squared, rtol=1e-12)
        np.testing.assert_allclose(point.nozzle_pressure_Pa, nozzle * squared, rtol=1e-12)
        np.testing.assert_allclose(point.shaft_power_W, squared**0.5 * total * squared / 0.5, rtol=1e-12)
    assert (pump.nozzles, pump.source) == (45, "pump curve")
    plain = spray_pump(without(reader(demo_case, change, **curve), change, "spray.nozzle_pressure",
                               "spray.piping_loss_share", "spray.loaded_filter_loss"), state)  # fmt: skip
    np.testing.assert_allclose(np.square(plain.loaded.flow_m3_s), 4e5 / (nozzle + 4e5 / 0.01**2), rtol=1e-12)
    np.testing.assert_array_equal(plain.loaded.flow_m3_s, plain.clean.flow_m3_s)


def test_piping_that_would_take_all_is_held_at_nineteen_twentieths(
    demo_case: Case, change: Any, state: FluidState
) -> None:
    curve = {"spray.nozzle_pressure": None, "spray.shutoff_pressure": "4 bar", "spray.max_flow": "600 L/min"}
    points = [
        spray_pump(reader(demo_case, change, **curve, **{"spray.piping_loss_share": share}), state).clean.flow_m3_s
        for share in ("95 %", "100 %")
    ]
    np.testing.assert_array_equal(*points)


def test_the_film_runs_out_as_the_jet_of_one_nozzle_says_or_at_the_next_component(
    demo_case: Case, change: Any, state: FluidState
) -> None:
    inputs = reader(demo_case, change)
    pump = spray_pump(inputs, state)
    flow = 0.7 * pi * 1e-6 * (2.0 * 2.7e5 / 988.0) ** 0.5
    speed = 0.95 * (2.0 * 2.7e5 / 988.0) ** 0.5
    free = film_run_out_radius_m(flow, speed, 0.5e-3 / 988.0, 0.25)
    useful, far, near = np.full(DRAWS, 0.25), np.full(DRAWS, 1.0), np.full(DRAWS, 2e-3)
    np.testing.assert_allclose(run_out_m(inputs, pump, state, useful, far), free, rtol=1e-9)
    np.testing.assert_allclose(run_out_m(inputs, pump, state, useful, near), 2e-3)


# ---- What is traced --------------------------------------------------------------------------------------------------


def test_sizes_are_traced_at_the_nearest_of_the_preferred_ones() -> None:
    # Series R10: 100, 126, 158, 200 mm … (rounded to 0.1 mm: 100.0, 125.9, 158.5, 199.5).
    assert [traced_size_m(size) for size in (0.1, 0.112, 0.113, 0.17, 0.01, 0.001, 5.0)] == [
        0.1, 0.1, 0.1259, 0.1585, 0.01, 0.01, 1.9953,
    ]  # fmt: skip


def geometry(inputs: MachineInputs, board: BoardType, boards: int = 220) -> SprayGeometry:
    return spray_geometry(inputs, board, LoadFit(boards_per_load=boards, sentence=""), 0.44)


def test_manifolds_stand_at_their_clearance_over_a_rack_of_at_most_twelve_boards(
    demo_case: Case, change: Any, board: BoardType
) -> None:
    inputs = reader(demo_case, change, **{"spray.oscillation_half_angle": "20 deg"})
    found = geometry(inputs, board)
    assert isinstance(found.arrangement, FixedManifolds)
    assert (found.arrangement.rows, found.arrangement.columns) == (3, 5)
    assert found.arrangement.faces == ("below", "above")
    assert found.arrangement.clearance_m == pytest.approx(0.08)
    assert found.arrangement.overhang_m == pytest.approx(0.04)
    assert found.arrangement.oscillation_half_angle_rad == pytest.approx(radians(20))
    assert found.rack.orientation == "standing"
    assert (found.rack.board_length_m, found.rack.board_width_m) == (0.1585, 0.1)
    assert found.rack.pitch_m == pytest.approx(0.025)
    assert found.rack.board_count == 12
    assert geometry(inputs, board, 3).rack.board_count == 3
    assert geometry(inputs, board, 0).rack.board_count == 1
    # λ = 4/3 · 0.6 mm · 1000/(0.44 · 1.2)
    assert found.nozzle.decay_length_m == pytest.approx(4.0 / 3.0 * 0.6e-3 * 1000.0 / (0.44 * 1.2))
    assert found.nozzle.shape == "full cone"
    assert found.nozzle.half_angle_rad == pytest.approx(radians(30))
    assert found.nozzle.thin_half_angle_rad == 0.0
    assert found.nozzle.orifice_diameter_m == pytest.approx(2e-3)
    assert (found.nozzle.discharge_coefficient, found.nozzle.velocity_coefficient) == (0.7, 0.95)
    flat = geometry(reader(demo_case, change, **{"chamber.boards_lie_flat": True}), board)
    assert (flat.rack.orientation, flat.rack.board_count) == ("flat", 4)
    assert flat.rack.pitch_m == pytest.approx(0.105)
    only = reader(demo_case, change, **{"spray.levels_below": 0})
    one_sided = geometry(only, board).arrangement
    assert isinstance(one_sided, FixedManifolds)
    assert one_sided.faces == ("above",)


def test_arms_turn_below_and_above_with_their_tilt(demo_case: Case, change: Any, board: BoardType) -> None:
    arms = {"spray.arrangement": "rotating arms", "spray.arm_radius": "250 mm", "spray.arm_tilt": "15 deg"}
    found = geometry(reader(demo_case, change, **arms), board).arrangement
    assert isinstance(found, RotatingArms)
    assert (found.arms_below, found.arms_above, found.nozzles_per_arm) == (1, 2, 5)
    assert found.arm_radius_m == pytest.approx(0.25)
    assert (found.clearance_below_m, found.clearance_above_m) == pytest.approx((0.08, 0.08))
    assert found.tilt_rad == pytest.approx(radians(15))
    upright = geometry(without(reader(demo_case, change, **arms), change, "spray.arm_tilt"), board).arrangement
    assert isinstance(upright, RotatingArms)
    assert upright.tilt_rad == 0.0


def test_a_belt_carries_boards_across_its_width_under_rows_of_nozzles(
    demo_case: Case, change: Any, board: BoardType
) -> None:
    stated = NOZZLES | {"spray.arrangement": "belt manifolds", "chamber.belt_width": "500 mm",
                        "chamber.wash_zone_length": "1.2 m", "spray.levels_above": 1}  # fmt: skip
    found = geometry(reader(demo_case, change, BELT, **stated), board, 5)
    assert isinstance(found.arrangement, BeltManifolds)
    assert (found.arrangement.rows_above, found.arrangement.rows_below, found.arrangement.nozzles_per_row) == (3, 3, 5)
    assert (found.arrangement.distance_above_m, found.arrangement.distance_below_m) == pytest.approx((0.08, 0.08))
    assert (found.arrangement.zone_length_m, found.arrangement.belt_width_m) == pytest.approx((1.2, 0.5))
    assert (found.rack.board_length_m, found.rack.board_width_m, found.rack.board_count) == (0.1585, 0.1, 3)
    assert found.rack.pitch_m == pytest.approx(0.105)
    assert found.nozzle.shape == "full cone"
    narrow = geometry(reader(demo_case, change, BELT, **(stated | {"chamber.belt_width": "110 mm"})), board, 1)
    assert (narrow.rack.board_length_m, narrow.rack.board_width_m, narrow.rack.board_count) == (0.1, 0.1585, 1)
    above = geometry(reader(demo_case, change, BELT, **(stated | {"spray.levels_below": 0})), board, 1).arrangement
    assert isinstance(above, BeltManifolds)
    assert (above.rows_above, above.rows_below) == (3, 0)
    below = geometry(reader(demo_case, change, BELT, **(stated | {"spray.levels_above": 0})), board, 1).arrangement
    assert isinstance(below, BeltManifolds)
    assert (below.rows_above, below.rows_below) == (0, 3)
    # As wide as a board is long, and as two boards are: they just fit across.
    for belt, abreast in (("0.1585 m", 1), ("0.317 m", 2)):
        just = geometry(reader(demo_case, change, BELT, **(stated | {"chamber.belt_width": belt})), board, 5).rack
        assert (just.board_length_m, just.board_width_m, just.board_count) == (0.1585, 0.1, abreast)


def test_what_only_some_arrangements_have_counts_once_or_not_at_all_where_nobody_states_it(
    demo_case: Case, change: Any, board: BoardType
) -> None:
    inputs = without(reader(demo_case, change), change, "spray.manifold_rows", "spray.oscillation_half_angle",
                     "chamber.board_pitch")  # fmt: skip
    found = geometry(inputs, board)
    assert isinstance(found.arrangement, FixedManifolds)
    assert found.arrangement.rows == 1
    assert found.arrangement.oscillation_half_angle_rad == 0.0
    assert found.rack.pitch_m == pytest.approx(0.03)
    assert nozzle_count(inputs) == 5 * (1 + 2)
    assert nozzle_count(without(inputs, change, "spray.nozzles_per_level")) == 1 + 2
    stated = NOZZLES | {"spray.arrangement": "belt manifolds", "chamber.wash_zone_length": "1.2 m"}
    belt = without(reader(demo_case, change, BELT, **stated), change, "spray.manifold_rows")
    one_row = geometry(belt, board, 1).arrangement
    assert isinstance(one_row, BeltManifolds)
    assert (one_row.rows_above, one_row.rows_below) == (1, 1)


@pytest.mark.parametrize("shape", ["coherent jet", "flat fan", "full cone"])
def test_each_shape_of_stream_is_traced_as_what_it_is(
    demo_case: Case, change: Any, board: BoardType, shape: str
) -> None:
    assert geometry(reader(demo_case, change, **{"spray.nozzle_shape": shape}), board).nozzle.shape == shape


def test_of_a_board_whose_size_is_a_range_the_likely_one_is_traced_and_loaded(demo_case: Case, change: Any) -> None:
    vague = records.board(length="120..160..320 mm", width="80..100..260 mm")
    rack = geometry(reader(demo_case, change), vague).rack
    assert (rack.board_length_m, rack.board_width_m) == (0.1585, 0.1)
    fit = load_fit(reader(demo_case, change), vague)
    assert fit.sentence == "220 boards of 160 × 100 mm fit into 560 × 540 × 280 mm on 2 levels."


def test_a_fan_is_as_thin_as_stated_or_four_degrees(demo_case: Case, change: Any, board: BoardType) -> None:
    fan = {"spray.nozzle_shape": "flat fan", "spray.nozzle_thin_half_angle": "6 deg"}
    inputs = reader(demo_case, change, **fan)
    assert geometry(inputs, board).nozzle.thin_half_angle_rad == pytest.approx(radians(6))
    bare = without(inputs, change, "spray.nozzle_thin_half_angle")
    assert geometry(bare, board).nozzle.thin_half_angle_rad == pytest.approx(0.07)


@pytest.mark.parametrize("path", ["nozzle_shape", "nozzle_half_angle", "drop_diameter", "nozzle_diameter",
                                  "discharge_coefficient", "velocity_coefficient", "clearance", "nozzles_per_level",
                                  "arrangement"])  # fmt: skip
def test_what_the_geometry_lacks_is_asked_for(demo_case: Case, change: Any, board: BoardType, path: str) -> None:
    inputs = without(reader(demo_case, change), change, f"spray.{path}")
    with pytest.raises(MissingInputError) as told:
        geometry(inputs, board)
    assert told.value.path == f"spray.{path}"
    said = f"Offer A: batch spray washer: spray: {path.replace('_', ' ')} is not known. Ask the supplier."
    assert str(told.value) == said


@pytest.mark.parametrize("path", ["chamber.belt_width", "chamber.wash_zone_length"])
def test_what_the_belt_lacks_is_asked_for(demo_case: Case, change: Any, board: BoardType, path: str) -> None:
    stated = NOZZLES | {"spray.arrangement": "belt manifolds"}
    inputs = without(reader(demo_case, change, BELT, **stated), change, path)
    with pytest.raises(MissingInputError) as told:
        geometry(inputs, board, 1)
    assert told.value.path == path
    assert str(told.value).startswith("Offer B")
    if path == "chamber.belt_width":
        with pytest.raises(MissingInputError, match="belt width is not known"):
            load_fit(inputs, board)


@pytest.mark.parametrize("path", ["nozzle_diameter", "discharge_coefficient", "pump_efficiency"])
def test_what_the_pump_lacks_is_asked_for(demo_case: Case, change: Any, state: FluidState, path: str) -> None:
    with pytest.raises(MissingInputError) as told:
        spray_pump(without(reader(demo_case, change), change, f"spray.{path}"), state)
    assert told.value.path == f"spray.{path}"


@pytest.mark.parametrize("path", ["shutoff_pressure", "max_flow"])
def test_without_a_pressure_half_a_pump_curve_is_asked_for(
    demo_case: Case, change: Any, state: FluidState, path: str
) -> None:
    curve = {"spray.nozzle_pressure": None, "spray.shutoff_pressure": "4 bar", "spray.max_flow": "600 L/min"}
    inputs = without(reader(demo_case, change, **curve), change, "spray.nozzle_pressure", f"spray.{path}")
    with pytest.raises(MissingInputError) as told:
        spray_pump(inputs, state)
    assert told.value.path == f"spray.{path}"


@pytest.mark.parametrize(
    ("path", "nothing", "little", "sentence"),
    [("nozzle_pressure", "0 bar", "0.5 Pa", "spray: the nozzle pressure is 0, so nothing comes out of the nozzles. "
      "Give for example 3 bar, or leave it out."),
     ("max_flow", "0 L/min", "0..0..1 L/min", "spray: the greatest flow of the pump is 0, so nothing comes out of the "
      "nozzles. Give for example 300 L/min, or leave it out.")],
)  # fmt: skip
def test_a_stated_pressure_or_flow_of_nothing_is_refused_and_a_little_is_not(
    demo_case: Case, change: Any, state: FluidState, path: str, nothing: str, little: str, sentence: str
) -> None:
    still = reader(demo_case, change, **{f"spray.{path}": nothing})
    with pytest.raises(UnphysicalInputError) as told:
        spray_pump(still, state)
    assert str(told.value) == f"{still.machine.name}: {sentence}"
    assert np.all(spray_pump(reader(demo_case, change, **{f"spray.{path}": little}), state).clean.flow_m3_s > 0.0)


def test_beside_a_stated_pressure_nobody_needs_to_know_the_pumps_flow(
    demo_case: Case, change: Any, state: FluidState
) -> None:
    known = reader(demo_case, change)
    plain = spray_pump(without(known, change, "spray.max_flow"), state)
    np.testing.assert_array_equal(plain.clean.flow_m3_s, spray_pump(known, state).clean.flow_m3_s)


# ---- A load by itself ------------------------------------------------------------------------------------------------


def holding(moving: str = "batch", **chamber: Any) -> MachineInputs:
    return MachineInputs(replace(records.machine(chamber=chamber), moving=moving), InputBook(3, 1))  # type: ignore[arg-type]


def test_room_for_one_board_is_room_and_less_is_said_with_the_sizes() -> None:
    flat = {"boards_lie_flat": True, "height": "0.3 m"}
    assert load_fit(holding(length="160 mm", width="100 mm", **flat), records.board()).boards_per_load == 1
    none = load_fit(holding(length="159 mm", width="100 mm", **flat), records.board())
    assert none.boards_per_load == 0
    assert none.sentence == (
        "The room for boards is 159 × 100 × 300 mm on 1 level, too small for the board of 160 × 100 mm."
    )
    two = load_fit(holding(length="159 mm", width="100 mm", levels=2, **flat), records.board())
    assert two.boards_per_load == 0
    assert two.sentence == (
        "The room for boards is 159 × 100 × 150 mm on each of 2 levels, too small for the board of 160 × 100 mm."
    )


def test_a_belt_narrower_than_the_shorter_edge_or_of_unknown_width_holds_nothing() -> None:
    narrow = load_fit(holding("inline", belt_width="99 mm"), records.board())
    assert narrow.boards_per_load == 0
    assert narrow.sentence == "The belt is 99 mm wide, narrower than the board of 160 × 100 mm."
    assert load_fit(holding("inline", belt_width="100 mm"), records.board()).boards_per_load == 1
    large = load_fit(holding("inline", belt_width="510 mm"), records.board(length="620 mm", width="520 mm"))
    assert large.sentence == "The belt is 510 mm wide, narrower than the board of 620 × 520 mm."
    with pytest.raises(MissingInputError, match=r"^Washer: chamber: belt width is not known\. Ask the supplier\.$"):
        load_fit(holding("inline"), records.board())


def test_a_geometry_traces_its_own_nozzles_boards_rays_and_seed() -> None:
    nozzle = Nozzle(shape="full cone", half_angle_rad=0.5, decay_length_m=2.0, orifice_diameter_m=2e-3,
                    discharge_coefficient=0.8, velocity_coefficient=0.95)  # fmt: skip
    above = FixedManifolds(rows=2, columns=2, faces=("above",), clearance_m=0.15)
    rack = Rack(orientation="flat", board_length_m=0.2, board_width_m=0.1, pitch_m=0.2, board_count=1)
    ours = SprayGeometry(above, nozzle, rack).trace(500, 3)
    theirs = trace_exposure(above, nozzle, rack, 500, 3)
    np.testing.assert_array_equal(ours.zone_area, theirs.zone_area)
    assert ours.ray_count == theirs.ray_count
