"""The drive of each bath machine from exact inputs, by hand; and what is asked for when something is missing."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import pytest

from catalog_schema.boards import BoardType
from catalog_schema.case import Case
from catalog_schema.library import Library, load_library
from catalog_schema.machine import Machine
from catalog_schema.quantity import Number, StreamSpeed
from model.bath_drive import bath_drive
from model.evaluate import evaluate
from model.fluid_state import fluid_state
from model.immersion import Drive
from model.machine_inputs import MachineInputs
from model.outcomes import BoardOutcome
from model.uncertainty import InputBook
from model.wash import BathDrive
from tests.model.records import board, fluid, machine

BATH, DENSE = "offer-c-ultrasonic", "dense-controller"
DENSITY = 988.0


def outcome(case: Case, small_case: Any, change: Any, machine_class: str, values: dict[str, object],
            constants: dict[str, object] | None = None) -> BoardOutcome:  # fmt: skip
    fluids = tuple(
        change(one, {"density": f"{DENSITY} kg/m^3"}) for one in load_library().fluids if one.id == "saponified-water"
    )
    narrowed = small_case(case, (BATH,), (DENSE,), {"machine_class": machine_class, "wash.fluids": ["saponified-water"]}
                          | {"rinse.kind": "fill and drain"} | values)  # fmt: skip
    changed = change(narrowed.model_copy(update={"fluids": fluids}),
                     {f"constants.{name}": value for name, value in (constants or {}).items()})  # fmt: skip
    return evaluate(changed, draws=4, rays=2048).machine(BATH).board(DENSE)


def drive(found: BoardOutcome) -> Drive:
    wash = found.chosen.wash
    assert wash is not None
    assert isinstance(wash.drive, BathDrive)
    return wash.drive.drive


def asked_for(found: BoardOutcome) -> str:
    return next(one.requirement.sentence.text() for one in found.chosen.judged if one.requirement.key == "inputs")


def test_sound_presses_with_its_intensity_over_its_speed_times_the_enhancement(
    demo_case: Case, small_case: Any, change: Any
) -> None:
    values = {"immersion.ultrasonic_power": "10 W/L", "immersion.duty_share": "40 %", "chamber.height": "0.3 m"}
    found = drive(outcome(demo_case, small_case, change, "ultrasonic-immersion", values,
                          {"ultrasonic_enhancement": 50, "sound_speed": "1500 m/s"}))  # fmt: skip
    # I = 10 kW/m³ · 0.3 m = 3 kW/m²; I/c = 2 Pa.
    np.testing.assert_allclose(found.pressure_Pa, 50 * 2.0)
    np.testing.assert_allclose(found.duty_share, 0.4)
    np.testing.assert_allclose(found.covered_share, 1.0)


def test_spinning_presses_with_the_unbalanced_share_of_the_head_over_the_longest_body(
    demo_case: Case, small_case: Any, change: Any
) -> None:
    values = {"immersion.rotation_speed": "300 rpm", "immersion.rotation_radius": "200 mm",
              "immersion.duty_share": "60 %", "immersion.ultrasonic_power": None}  # fmt: skip
    found = drive(outcome(demo_case, small_case, change, "centrifugal-immersion", values,
                          {"centrifugal_unbalanced_share": "5 %"}))  # fmt: skip
    # The longest body of the board is the QFN of 7 mm.
    omega = 300 * 2 * pi / 60
    np.testing.assert_allclose(found.pressure_Pa, 0.05 * DENSITY * omega**2 * 0.2 * 7e-3, rtol=1e-9)
    np.testing.assert_allclose(found.duty_share, 0.6)


def test_jets_under_the_liquid_share_the_tank_and_decay_with_distance(
    demo_case: Case, small_case: Any, change: Any
) -> None:
    values = {"immersion.jet_pressure": "1.5 bar", "immersion.jet_count": 50, "immersion.jet_diameter": "4 mm",
              "immersion.jet_distance": "120 mm", "chamber.length": "500 mm", "chamber.width": "400 mm",
              "immersion.ultrasonic_power": None}  # fmt: skip
    constants = {"jet_decay_coefficient": 6, "jet_half_width_growth": 0.1, "stream_pressure_conversion": "50 %"}
    found = drive(outcome(demo_case, small_case, change, "spray-under-immersion", values, constants))
    exit_speed = (2 * 1.5e5 / DENSITY) ** 0.5
    arriving = exit_speed * 6 * 4e-3 / 0.120
    np.testing.assert_allclose(found.pressure_Pa, 0.5 * DENSITY * (0.5 * arriving) ** 2, rtol=1e-9)
    # 50 jets over 0.2 m², so 4 on the board's 0.016 m² and one each 63 mm; a disc of 14 mm radius, moved one pitch.
    radius, pitch = 2e-3 + 0.1 * 0.120, (0.2 / 50) ** 0.5
    mean_duty = 4 * pi * radius**2 / 0.016
    covered = min(1.0, (2 * radius + pitch) / pitch)
    np.testing.assert_allclose(found.covered_share, covered)
    np.testing.assert_allclose(found.duty_share, mean_duty / covered, rtol=1e-9)


def test_a_stated_pressure_across_the_gap_is_taken_as_it_is(demo_case: Case, small_case: Any, change: Any) -> None:
    values = {"immersion.drive_pressure": "250 Pa", "immersion.duty_share": "30 %"}
    for machine_class in ("ultrasonic-immersion", "centrifugal-immersion"):
        found = drive(outcome(demo_case, small_case, change, machine_class, values))
        np.testing.assert_allclose(found.pressure_Pa, 250.0)
        np.testing.assert_allclose(found.duty_share, 0.3)
        np.testing.assert_allclose(found.covered_share, 1.0)


@pytest.mark.parametrize(
    ("principle", "lacking", "name"),
    [
        ("ultrasonic", "chamber.height", "chamber: height"),
        ("ultrasonic", "immersion.ultrasonic_power", "immersion: ultrasonic power"),
        ("centrifugal", "immersion.rotation_speed", "immersion: rotation speed"),
        ("centrifugal", "immersion.rotation_radius", "immersion: rotation radius"),
        ("spray under immersion", "immersion.jet_pressure", "immersion: jet pressure"),
        ("spray under immersion", "immersion.jet_count", "immersion: jet count"),
        ("spray under immersion", "immersion.jet_diameter", "immersion: jet diameter"),
        ("spray under immersion", "immersion.jet_distance", "immersion: jet distance"),
        ("brush", "immersion.drive_pressure", "immersion: drive pressure"),
        ("vapour", "immersion.drive_pressure", "immersion: drive pressure"),
    ],
)
def test_what_the_drive_lacks_is_asked_for(
    demo_case: Case, small_case: Any, change: Any, principle: str, lacking: str, name: str
) -> None:
    own = next(one for one in load_library().machine_classes if one.principle == principle)
    bare = change(own, {lacking: None, "wash.fluids": ["saponified-water"]}).model_copy(update={"id": "bare"})
    case = small_case(demo_case, ("bare",), (DENSE,)).model_copy(update={"machine_classes": (bare,)})
    found = evaluate(case, draws=4, rays=2048).machine("bare").board(DENSE)
    assert asked_for(found) == f"{own.name}: {name} is not known. Ask the supplier."


def of_class(case: Case, small_case: Any, change: Any, class_id: str, values: dict[str, object]) -> Drive:
    """Give the drive of a library class with some values changed or taken away."""
    own = next(one for one in load_library().machine_classes if one.id == class_id)
    bare = change(own, {"wash.fluids": ["saponified-water"]} | values).model_copy(update={"id": "bare"})
    narrowed = small_case(case, ("bare",), (DENSE,)).model_copy(update={"machine_classes": (bare,)})
    return drive(evaluate(narrowed, draws=4, rays=2048).machine("bare").board(DENSE))


@pytest.mark.parametrize(
    ("class_id", "values"),
    [("ultrasonic-immersion", {"immersion.drive_pressure": "250 Pa"}), ("ultrasonic-immersion", {}),
     ("centrifugal-immersion", {})],
)  # fmt: skip
def test_a_drive_that_nobody_says_pauses_acts_all_the_time(
    demo_case: Case, small_case: Any, change: Any, class_id: str, values: dict[str, object]
) -> None:
    found = of_class(demo_case, small_case, change, class_id, values | {"immersion.duty_share": None})
    np.testing.assert_array_equal(found.duty_share, 1.0)


def test_a_tank_of_unknown_size_is_taken_as_half_a_metre_square(
    demo_case: Case, small_case: Any, change: Any
) -> None:
    jets = {"immersion.jet_diameter": "4 mm", "immersion.jet_distance": "120 mm", "immersion.jet_count": 50}
    unknown = of_class(demo_case, small_case, change, "spray-under-immersion",
                       jets | {"chamber.length": None, "chamber.width": None})  # fmt: skip
    known = of_class(demo_case, small_case, change, "spray-under-immersion",
                     jets | {"chamber.length": "500 mm", "chamber.width": "500 mm"})  # fmt: skip
    np.testing.assert_allclose(unknown.duty_share * unknown.covered_share, known.duty_share * known.covered_share)
    np.testing.assert_allclose(unknown.covered_share, known.covered_share)


# ---- One machine by itself -------------------------------------------------------------------------------------------

LIBRARY = load_library()


def of_machine(equipment: Machine, kind: BoardType, library: Library = LIBRARY) -> tuple[Drive, InputBook]:
    book = InputBook(4, 1)
    state = fluid_state(fluid(), np.full(4, 333.15), book)
    return bath_drive(MachineInputs(equipment, book), kind, state, library), book


JETS = {"jet_pressure": "1.5 bar", "jet_count": 50, "jet_diameter": "4 mm", "jet_distance": "120 mm"}


def test_a_board_has_no_more_jets_on_it_than_the_tank_holds() -> None:
    # The board's side of 160 × 100 mm is larger than the cross-section of 100 × 100 mm: all 5 jets, not 8.
    few = machine("spray under immersion", immersion=JETS | {"jet_count": 5},
                  chamber={"length": "100 mm", "width": "100 mm"})  # fmt: skip
    growth = LIBRARY.constants.model_copy(update={"jet_half_width_growth": Number.model_validate(0.1)})
    # Of a board whose size is a range the likely one counts.
    for sized in (board(), board(length="140..160..200 mm", width="90..100..130 mm")):
        found, _ = of_machine(few, sized, LIBRARY.model_copy(update={"constants": growth}))
        np.testing.assert_array_equal(found.covered_share, 1.0)
        np.testing.assert_allclose(found.duty_share, 5 * pi * (2e-3 + 0.1 * 0.120) ** 2 / 0.016, rtol=1e-9)


def test_weak_enhancement_of_sound_is_taken_as_it_is_and_never_below_one() -> None:
    tank = machine("ultrasonic", immersion={"ultrasonic_power": "10 W/L"}, chamber={"height": "0.3 m"})
    for value, counts in ((1.5, 1.5), (1.0, 1.0), (0.5, 1.0)):
        exact = {"ultrasonic_enhancement": Number.model_validate(value),
                 "sound_speed": StreamSpeed.model_validate("1500 m/s")}  # fmt: skip
        weak = LIBRARY.constants.model_copy(update=exact)
        found, _ = of_machine(tank, board(), LIBRARY.model_copy(update={"constants": weak}))
        np.testing.assert_allclose(found.pressure_Pa, 2.0 * counts)


def test_the_longest_body_is_noted_under_its_own_kind_as_an_estimate() -> None:
    spun = machine("centrifugal", immersion={"rotation_speed": "300 rpm", "rotation_radius": "200 mm"})
    kinds = sorted(LIBRARY.component_kinds, key=lambda kind: kind.body_length.si()[1])
    both = board(components=[{"kind": kinds[0].id, "count": 1}, {"kind": kinds[-1].id, "count": 1}])
    _, book = of_machine(spun, both)
    noted = {one.path: one.basis for one in book.inputs() if one.path.startswith("component_kinds")}
    longest = kinds[-1]
    assert noted == {f"component_kinds[{longest.id}].body_length": longest.body_length.basis or "engineering estimate"}
    silent = longest.model_copy(update={"body_length": longest.body_length.model_copy(update={"basis": None})})
    _, book = of_machine(spun, both, LIBRARY.model_copy(update={"component_kinds": (*kinds[:-1], silent)}))
    assert {one.basis for one in book.inputs() if one.path.startswith("component_kinds")} == {"engineering estimate"}
