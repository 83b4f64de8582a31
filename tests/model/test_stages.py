"""The wash of one machine judged: limits of time and temperature, and what is said on each way a wash can go."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from catalog_schema.case import Case
from catalog_schema.library import load_library
from catalog_schema.machine import machine_from_class
from catalog_schema.units import show
from model.bath_drive import bath_drive
from model.evaluate import evaluate
from model.machine_inputs import MachineInputs
from model.outcomes import FluidOutcome
from model.requirements import Requirement, Subject, Thresholds
from model.stages import _enter, longest_wash_s
from model.uncertainty import InputBook
from model.wash import BathDrive, SprayDrive
from tests.model.records import fluid as record_of_fluid
from tests.model.records import machine as record_of

SPRAY, BELT, BATH, DENSE = "offer-a-batch-spray", "offer-b-inline", "offer-c-ultrasonic", "dense-controller"
SAPONIFIED = "Alkaline saponified water (organic amine)"


def washed(case: Case, small_case: Any, machine: str, stated: Any = None, board: Any = None,
           fluids: Any = ()) -> FluidOutcome:  # fmt: skip
    stated = {"wash.fluids": ["saponified-water"]} | (stated or {})
    narrowed = small_case(case, (machine,), (DENSE,), stated, board).model_copy(update={"fluids": tuple(fluids)})
    return evaluate(narrowed, draws=9, rays=2048).machine(machine).board(DENSE).chosen


def must(outcome: FluidOutcome, key: str) -> Requirement:
    return next(one.requirement for one in outcome.judged if one.requirement.key == key)


def repelled(change: Any, **changes: object) -> Any:
    own = next(one for one in load_library().fluids if one.id == "saponified-water")
    exact = {"surface_tension": "60 mN/m", "contact_angle_component": "110 deg", "contact_angle_board": "100 deg"}
    return change(own, exact | changes)


# ---- Limits ----------------------------------------------------------------------------------------------------------


def test_a_belt_washes_as_long_as_its_zone_takes_at_its_lowest_speed(demo_case: Case, small_case: Any) -> None:
    stated = {"chamber.wash_zone_length": "1.5 m", "chamber.belt_min_speed": "0.25 m/min"}
    wash = washed(demo_case, small_case, BELT, stated).wash
    assert wash is not None
    assert wash.max_time_s is not None
    np.testing.assert_allclose(wash.max_time_s, 360.0)


@pytest.mark.parametrize(
    ("moving", "chamber", "expected"),
    [("inline", {"wash_zone_length": "1.5 m", "belt_min_speed": "0.25 m/min"}, 360.0),
     ("batch", {"wash_zone_length": "1.5 m", "belt_min_speed": "0.25 m/min"}, 420.0),
     ("inline", {"wash_zone_length": "1.5 m", "belt_min_speed": "0.25 m/min", "belt_max_speed": "0.25 m/min"}, 360.0),
     ("inline", {"wash_zone_length": "1.5 m"}, 420.0), ("inline", {"belt_min_speed": "0.25 m/min"}, 420.0)],
)  # fmt: skip
def test_what_is_no_belt_or_lacks_its_zone_or_speed_washes_as_long_as_stated(
    moving: Any, chamber: dict[str, str], expected: float
) -> None:
    own = replace(record_of(wash={"max_time": "7 min"}, chamber=chamber), moving=moving)
    np.testing.assert_allclose(longest_wash_s(MachineInputs(own, InputBook(4, 1))), expected)


@pytest.mark.parametrize(
    ("speeds", "said"),
    [
        (("0 m/min", "1 m/min"), "the belt's lowest speed is 0. Give a speed above 0."),
        (("2 m/min", "1 m/min"), "the belt's highest speed is below its lowest. Give the lower one as lowest."),
    ],
)
def test_a_belt_that_cannot_run_is_refused(
    demo_case: Case, small_case: Any, speeds: tuple[str, str], said: str
) -> None:
    stated = {"chamber.belt_min_speed": speeds[0], "chamber.belt_max_speed": speeds[1]}
    found = must(washed(demo_case, small_case, BELT, stated), "inputs")
    assert found.sentence.text() == f"Offer B: inline spray washer: {said}"
    assert (found.title, found.stage, found.result) == ("Inputs suffice", "fit", "unknown")
    assert (found.machine_id, found.board_id, found.fluid_id) == (BELT, DENSE, "saponified-water")


@pytest.mark.parametrize(
    ("machine", "fluid", "board", "kelvin"),
    [("65 degC", "70 degC", "100 degC", 338.15), ("80 degC", "62 degC", "100 degC", 335.15),
     ("80 degC", "75 degC", "58 degC", 331.15)],
)  # fmt: skip
def test_the_wash_is_as_warm_as_machine_fluid_and_board_all_allow(
    demo_case: Case, small_case: Any, change: Any, machine: str, fluid: str, board: str, kelvin: float
) -> None:
    own = repelled(change, max_temperature=fluid)
    found = washed(demo_case, small_case, SPRAY, {"wash.temperature": machine}, {"max_temperature": board}, [own])
    assert found.wash is not None
    np.testing.assert_allclose(found.wash.state.temperature_K, kelvin)
    assert must(found, "temperature").measure == pytest.approx((kelvin,) * 3)


# ---- What is said ----------------------------------------------------------------------------------------------------


def test_every_must_of_a_wash_is_said_whole(demo_case: Case, small_case: Any) -> None:
    wash = washed(demo_case, small_case, SPRAY, {"wash.temperature": "62 degC", "wash.max_time": "25 min"}).wash
    assert wash is not None
    assert wash.outcome is not None
    assert wash.max_time_s is not None
    said = [one.requirement for one in wash.judged]
    assert [(one.key, one.title, one.direction, one.dimension) for one in said] == [
        ("temperature", "Works at the wash temperature", "at least", "temperature"),
        ("dissolve", "Dissolves the residue", "must hold", ""),
        ("enter", "Gets in under the tightest component", "at least", "low pressure"),
        ("clear", "Clears under the tightest component in time", "at most", "time"),
    ]  # fmt: skip
    assert {(one.machine_id, one.board_id, one.fluid_id, one.stage) for one in said} == {
        (SPRAY, DENSE, "saponified-water", "wash")
    }
    warm, dissolves, enters, clears = (one.sentence.text() for one in said)
    assert warm == f"{SAPONIFIED} washes at 62 °C here; it needs at least 45 °C."
    assert dissolves == f"{SAPONIFIED} dissolves resin residue (Resin, low activity, no halide (REL0))."
    assert said[1].result == "meets"
    # At 9 draws the 5 % and 95 % points are the least and the greatest.
    times = np.sort(wash.outcome.needed_time_s)
    low, middle, high = (show(float(times[place]), "time") for place in (0, 4, 8))
    hardest = wash.outcome.kinds[0]
    assert clears == (
        f"Needs {middle} ({low} to {high}) of wash to clear {show(float(np.median(hardest.depth_needed_m)), 'length')} "
        f"under {hardest.kind.name} at the worst place; Offer A: batch spray washer allows 25 min."
    )
    lacking = max(wash.outcome.kinds, key=lambda kind: np.median(kind.entry_pressure_Pa - kind.peak_pressure_Pa))
    gap = show(float(np.median(lacking.gap_m)), "gap")
    assert enters == f"{SAPONIFIED} is drawn into the {gap} gap under {lacking.kind.name} by itself."
    # Driven depth grows with the time, soaked depth with its root; of the kinds the one that gets least far counts.
    time = wash.max_time_s
    reached = [(kind.speed_m_s * time + kind.soak_m_s05 * np.sqrt(time)) / kind.depth_needed_m
               for kind in wash.outcome.kinds]  # fmt: skip
    assert wash.reach_ratio is not None
    np.testing.assert_allclose(wash.reach_ratio, np.min(reached, axis=0), rtol=1e-9)


def test_each_board_type_is_told_its_own_temperature_and_residue(demo_case: Case, small_case: Any, change: Any) -> None:
    stated = {"wash.fluids": ["saponified-water"], "wash.temperature": "70 degC"}
    case = small_case(demo_case, (SPRAY,), (DENSE, "power-supply"), stated)
    cooler = change(case.board_types[0], {"max_temperature": "52 degC"})
    case = case.model_copy(update={"board_types": (cooler, *case.board_types[1:])})
    found = evaluate(case, draws=9, rays=2048)
    fluxes = {flux.id: flux for flux in found.library.flux_kinds}
    assert len({board.flux for board in case.board_types}) == 2
    for board, warm in zip(case.board_types, ("52 °C", "70 °C"), strict=True):
        outcome, flux = found.machine(SPRAY).board(board.id).chosen, fluxes[board.flux]
        assert must(outcome, "temperature").sentence.text().startswith(f"{SAPONIFIED} washes at {warm} here;")
        assert must(outcome, "dissolve").sentence.text() == (
            f"{SAPONIFIED} dissolves {flux.family} residue ({flux.name})."
        )
        assert {one.requirement.board_id for one in outcome.judged} <= {board.id, ""}


def test_a_fluid_that_does_not_dissolve_is_washed_with_no_further(demo_case: Case, small_case: Any) -> None:
    found = washed(demo_case, small_case, SPRAY, {"wash.fluids": ["di-water"]})
    keys = [one.requirement.key for one in found.judged if one.requirement.stage == "wash"]
    assert keys == ["temperature", "dissolve"]
    never = must(found, "dissolve")
    assert (never.result, never.title, never.stage) == ("falls short", "Dissolves the residue", "wash")
    assert (never.machine_id, never.board_id, never.fluid_id) == (SPRAY, DENSE, "di-water")
    assert must(found, "dissolve").sentence.text() == (
        "Deionised water, nothing added does not dissolve resin residue (Resin, low activity, no halide (REL0)), so no "
        "wash is long enough."
    )
    assert found.wash is not None
    assert (found.wash.outcome, found.wash.drive, found.wash.pump, found.rinse, found.dry) == (None,) * 5
    assert found.wash.max_time_s is not None


def test_a_fluid_that_the_gap_repels_needs_more_than_its_entry_pressure(
    demo_case: Case, small_case: Any, change: Any
) -> None:
    found = washed(demo_case, small_case, SPRAY, fluids=[repelled(change)])
    assert found.wash is not None
    assert found.wash.outcome is not None
    enter = must(found, "enter")
    lacking = {kind.kind.id: float(np.median(kind.entry_pressure_Pa - kind.peak_pressure_Pa))
               for kind in found.wash.outcome.kinds}  # fmt: skip
    hardest = next(one for one in found.wash.outcome.kinds if lacking[one.kind.id] == max(lacking.values()))
    entry, peak = float(np.median(hardest.entry_pressure_Pa)), float(np.median(hardest.peak_pressure_Pa))
    # −σ(cos 110° + cos 100°)/h
    np.testing.assert_allclose(hardest.entry_pressure_Pa * hardest.gap_m, 0.060 * (0.3420201 + 0.1736482), rtol=1e-6)
    assert enter.sentence.text() == (
        f"{SAPONIFIED} needs {show(entry, 'low pressure')} to enter the "
        f"{show(float(np.median(hardest.gap_m)), 'gap')} gap under {hardest.kind.name}; "
        f"the worst place gets {show(peak, 'low pressure')}."
    )
    assert enter.limit == pytest.approx(entry)
    assert enter.measure is not None
    assert enter.measure[1] == pytest.approx(peak)
    expected = float(np.mean(hardest.peak_pressure_Pa >= hardest.entry_pressure_Pa))
    assert enter.probability == pytest.approx(expected)


def test_a_fluid_that_is_drawn_in_enters_without_any_pressure(demo_case: Case, small_case: Any) -> None:
    found = washed(demo_case, small_case, BATH, {"immersion.drive_pressure": "0 Pa"})
    enter = must(found, "enter")
    assert (enter.limit, enter.probability, enter.result) == (0.0, 1.0, "meets")
    # A pressure of nothing is judged as one pascal, so that it counts as more than the nothing it needs.
    assert enter.measure == (1.0, 1.0, 1.0)


def test_the_kind_that_lacks_most_pressure_decides_and_half_a_pascal_is_a_pressure() -> None:
    def kind(name: str, entry: float, peak: float) -> Any:
        return SimpleNamespace(kind=SimpleNamespace(name=name), gap_m=np.full(3, 5e-5),
                               entry_pressure_Pa=np.full(3, entry), peak_pressure_Pa=np.full(3, peak))  # fmt: skip

    def said(*kinds: Any) -> Requirement:
        return _enter(Subject(machine_id="m"), SimpleNamespace(kinds=kinds), record_of_fluid(),
                      Thresholds(meets_from=0.9, misses_to=0.1)).requirement  # fmt: skip

    hardest = said(kind("high", 100.0, 90.0), kind("low", 80.0, 20.0), kind("open", 0.0, 5.0))
    assert hardest.sentence.text() == (
        "Cleaner needs 80 Pa to enter the 50 µm gap under low; the worst place gets 20 Pa."
    )
    assert (hardest.limit, hardest.measure, hardest.result) == (80.0, (20.0,) * 3, "falls short")
    barely = said(kind("narrow", 0.5, 0.25))
    assert barely.sentence.text().startswith("Cleaner needs 0.5 Pa to enter")
    assert (barely.limit, barely.measure, barely.result) == (0.5, (0.25,) * 3, "falls short")


def test_residue_that_is_never_cleared_is_said_so(demo_case: Case, small_case: Any, change: Any) -> None:
    own = repelled(change, contact_angle_component="170 deg", contact_angle_board="170 deg")
    found = washed(demo_case, small_case, BATH, {"immersion.drive_pressure": "1 Pa"}, fluids=[own])
    clear = must(found, "clear")
    assert found.wash is not None
    assert found.wash.outcome is not None
    assert np.all(np.isinf(found.wash.outcome.needed_time_s))
    assert clear.result == "falls short"
    assert clear.sentence.text() == (
        f"The residue under {found.wash.outcome.kinds[0].kind.name} is never cleared at the worst place of the board; "
        "Offer C: ultrasonic immersion line allows 45 min."
    )


def test_a_longest_wash_that_nobody_knows_is_asked_for(demo_case: Case, small_case: Any, change: Any) -> None:
    own = next(one for one in load_library().machine_classes if one.id == "ultrasonic-immersion")
    bare = change(own, {"wash.max_time": None, "dry.max_time": None, "wash.fluids": ["saponified-water"]})
    case = small_case(demo_case, ("ultrasonic-immersion",), (DENSE,)).model_copy(update={"machine_classes": (bare,)})
    found = evaluate(case, draws=9, rays=2048).machine("ultrasonic-immersion").board(DENSE).chosen
    for key, title, sentence in (
        ("clear", "Clears under the tightest component in time",
         "The longest wash this machine allows is not known. Ask the supplier."),
        ("dry", "Dry in time, gaps included", "The longest drying this machine allows is not known. Ask the supplier."),
    ):  # fmt: skip
        assert must(found, key).sentence.text() == sentence
        assert (must(found, key).title, must(found, key).result) == (title, "unknown")
        assert must(found, key).stage == ("wash" if key == "clear" else "dry")
    assert found.cycle is not None
    assert found.wash is not None
    assert found.wash.outcome is not None
    assert found.wash.reach_ratio is None
    # Where no limit is known, what is needed is run.
    needed = found.wash.outcome.needed_time_s
    np.testing.assert_allclose(found.cycle.wash_s, np.where(np.isinf(needed), 0.0, needed))


def test_boards_stand_unless_they_lie_flat_or_ride_on_a_belt(demo_case: Case, small_case: Any) -> None:
    flat, upright = ({"chamber.boards_lie_flat": lie} for lie in (True, False))
    for machine, stated, stand in ((SPRAY, {}, True), (SPRAY, flat, False), (BELT, {}, False), (BELT, upright, False)):
        wash = washed(demo_case, small_case, machine, stated).wash
        assert wash is not None
        assert isinstance(wash.drive, SprayDrive)
        assert wash.drive.boards_stand is stand
        assert wash.pump is not None
        np.testing.assert_array_equal(wash.drive.nozzle_pressure_Pa, wash.pump.loaded.nozzle_pressure_Pa)
        nodes = wash.drive.field.run_out_nodes_m
        assert np.all(np.diff(nodes) > 0.0)
        # Every draw lies between two nodes, and no node is needless.
        lowest, highest = float(wash.drive.run_out_m.min()), float(wash.drive.run_out_m.max())
        assert nodes[0] <= lowest < nodes[1]
        assert nodes[-2] < highest <= nodes[-1]
    bath = washed(demo_case, small_case, BATH).wash
    assert bath is not None
    assert isinstance(bath.drive, BathDrive)
    assert bath.drive.excluded_share == pytest.approx(0.02)
    assert bath.pump is None


def test_jets_under_the_bath_are_driven_by_the_board_and_fluid_before_them(demo_case: Case, small_case: Any) -> None:
    name = "spray-under-immersion"
    found = evaluate(small_case(demo_case, (name,), (DENSE,)), draws=9, rays=2048)
    wash = found.machine(name).board(DENSE).chosen.wash
    assert wash is not None
    assert isinstance(wash.drive, BathDrive)
    own = next(one for one in found.library.machine_classes if one.id == name)
    inputs = MachineInputs(machine_from_class(own), InputBook(9, found.seed))
    board = found.case.board_types[0]
    expected = bath_drive(inputs, board, wash.state, found.library)
    np.testing.assert_array_equal(wash.drive.drive.pressure_Pa, expected.pressure_Pa)
    np.testing.assert_array_equal(wash.drive.drive.covered_share, expected.covered_share)


def test_a_board_type_meets_the_sprays_of_its_own_place_whatever_else_is_washed(
    demo_case: Case, small_case: Any
) -> None:
    ids = (DENSE, "power-supply", "radio-module")
    together = evaluate(small_case(demo_case, (SPRAY,), ids), draws=4, rays=2048).machine(SPRAY)
    for board_id in ids[1:]:
        alone = evaluate(small_case(demo_case, (SPRAY,), (board_id,)), draws=4, rays=2048).machine(SPRAY)
        mine, its = together.board(board_id).chosen.wash, alone.board(board_id).chosen.wash
        assert mine is not None
        assert its is not None
        assert mine.outcome is not None
        assert its.outcome is not None
        np.testing.assert_array_equal(mine.outcome.needed_time_s, its.outcome.needed_time_s)
        assert isinstance(mine.drive, SprayDrive)
        assert isinstance(its.drive, SprayDrive)
        np.testing.assert_array_equal(mine.drive.field.run_out_nodes_m, its.drive.field.run_out_nodes_m)
        np.testing.assert_array_equal(mine.drive.field.pressure_ratio, its.drive.field.pressure_ratio)


@pytest.mark.parametrize(("side", "other"), [("length", "width"), ("width", "length")])
def test_boards_are_traced_at_their_likely_size(
    demo_case: Case, small_case: Any, change: Any, side: str, other: str
) -> None:
    case = small_case(demo_case, (SPRAY,), (DENSE, "power-supply"), {"wash.fluids": ["saponified-water"]})
    one, two = case.board_types
    # As different as they are likely, as alike as they are at most.
    types = (change(one, {side: "60..70..220 mm", other: "100 mm", "populated_sides": 1}),
             change(two, {side: "200..210..220 mm", other: "100 mm", "populated_sides": 1}))  # fmt: skip
    together = evaluate(case.model_copy(update={"board_types": types}), draws=4, rays=2048).machine(SPRAY)
    alone = evaluate(case.model_copy(update={"board_types": types[1:]}), draws=4, rays=2048).machine(SPRAY)
    fields = []
    for found in (together, alone):
        wash = found.board(two.id).chosen.wash
        assert wash is not None
        assert isinstance(wash.drive, SprayDrive)
        fields.append(wash.drive.field.pressure_ratio)
    np.testing.assert_array_equal(*fields)


def test_a_board_that_does_not_fit_says_so(demo_case: Case, small_case: Any) -> None:
    found = evaluate(small_case(demo_case, (SPRAY,), (DENSE,), None, {"length": "900 mm"}), draws=4, rays=2048)
    fit = next(one.requirement for one in found.machine(SPRAY).all_judged() if one.requirement.key == "fit")
    assert (fit.title, fit.stage, fit.result) == ("Board fits", "fit", "falls short")
    assert (fit.machine_id, fit.board_id, fit.fluid_id) == (SPRAY, DENSE, "")
    assert fit.sentence.text().endswith("too small for the board of 900 × 100 mm.")


def test_a_chamber_for_one_board_fits_it(demo_case: Case, small_case: Any) -> None:
    stated = {"chamber.rack_length": "165 mm", "chamber.rack_width": "105 mm", "chamber.boards_lie_flat": True,
              "chamber.levels": 1}  # fmt: skip
    found = evaluate(small_case(demo_case, (SPRAY,), (DENSE,), stated), draws=4, rays=2048).machine(SPRAY).board(DENSE)
    assert found.fit is not None
    assert found.fit.boards_per_load == 1
    fits = must(found.chosen, "fit")
    assert (fits.result, fits.sentence.text()) == ("meets", found.fit.sentence)
    assert found.chosen.wash is not None
