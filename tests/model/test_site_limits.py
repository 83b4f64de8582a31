"""Needs of all machines against the building: each limit, what is not known, no end of machines, flammables."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog_schema.fluids import Fluid
from catalog_schema.machines import Principle
from catalog_schema.plant import SiteLimits
from model.machine_inputs import MachineInputs
from model.requirements import Judged, Thresholds
from model.site_limits import FLAMMABLE_CAUTION, free_floor_m2, site_requirements, total_need
from model.uncertainty import InputBook
from tests.model.records import fluid, machine

DRAWS = 60
THRESHOLDS = Thresholds(meets_from=0.9, misses_to=0.1)
NEEDS: dict[str, Any] = {
    "connected_power": "20 kW", "water_flow": "10 L/min", "compressed_air": "30 m^3/h", "exhaust_flow": "500 m^3/h",
    "floor_area": "4 m^2", "drain_needed": True, "flammable_volume": "50 L",
}  # fmt: skip
LIMITS: dict[str, Any] = {
    "power": "50 kW", "water_flow": "25 L/min", "compressed_air": "75 m^3/h", "exhaust_flow": "1250 m^3/h",
    "floor_area": "10 m^2", "flammable_volume": "120 L",
}  # fmt: skip
KEYS = ["site power", "site water", "site compressed air", "site exhaust", "site floor", "site flammables"]


def judge(
    needs: dict[str, Any], limits: dict[str, Any], machines: float = 1.0, *, principle: Principle = "spray in air",
    cleaner: Fluid | None = None, free_room_m: float | None = None, **equipment: Any,
) -> dict[str, Judged]:  # fmt: skip
    found = site_requirements(
        MachineInputs(machine(principle, site=needs, **equipment), InputBook(DRAWS, 1)), np.full(DRAWS, machines),
        SiteLimits.model_validate(limits), fluid(hazards=["flammable"]) if cleaner is None else cleaner, THRESHOLDS,
        free_room_m=None if free_room_m is None else np.full(DRAWS, free_room_m),
    )  # fmt: skip
    return {one.requirement.key: one for one in found}


@pytest.mark.parametrize("key", KEYS)
def test_two_machines_fit_and_three_do_not(key: str) -> None:
    assert judge(NEEDS, LIMITS, 2)[key].requirement.result == "meets"
    assert judge(NEEDS, LIMITS, 3)[key].requirement.result == "falls short"


def test_no_limit_makes_no_requirement() -> None:
    assert judge(NEEDS, {}) == {}


def test_a_need_that_is_not_known_is_unknown() -> None:
    found = judge({}, {"power": "50 kW"})
    assert found["site power"].requirement.result == "unknown"
    assert found["site power"].requirement.sentence.text() == (
        "Electrical supply: what Washer needs is not known; the site has 50 kW. Ask the supplier."
    )


def test_the_sentence_gives_machines_need_and_limit() -> None:
    assert judge(NEEDS, {"water_flow": "25 L/min"}, 3)["site water"].requirement.sentence.text() == (
        "Water supply: 3 × Washer need 30 L/min; the site has 25 L/min."
    )


def test_when_no_number_of_machines_is_enough_it_falls_short_in_words() -> None:
    found = judge(NEEDS, LIMITS, np.inf)["site power"]
    assert found.requirement.result == "falls short"
    assert "no number of Washer is enough" in found.requirement.sentence.text()
    assert judge({"connected_power": "0 kW"}, LIMITS, np.inf)["site power"].requirement.result == "meets"


@pytest.mark.parametrize(("needed", "result"), [(True, "falls short"), (False, "meets"), (None, "unknown")])
def test_a_site_without_drain(needed: bool | None, result: str) -> None:
    found = judge({"drain_needed": needed}, {"drain_allowed": False})["site drain"]
    assert found.requirement.result == result
    assert "local authority" in found.requirement.sentence.text()


def test_flammables_concern_only_fluids_that_burn_and_defer_to_the_code() -> None:
    assert FLAMMABLE_CAUTION in judge(NEEDS, LIMITS)["site flammables"].requirement.sentence.text()
    assert "local code" in FLAMMABLE_CAUTION
    assert "licensed professional" in FLAMMABLE_CAUTION
    assert "site flammables" not in judge(NEEDS, LIMITS, cleaner=fluid(hazards=["alkaline"]))
    assert "site flammables" in judge(NEEDS, LIMITS, cleaner=fluid(hazards=["combustible"]))


def test_the_tank_stands_in_for_an_unknown_flammable_volume() -> None:
    limits = {"flammable_volume": "120 L"}
    assert judge({}, limits, wash={"tank_volume": "100 L"})["site flammables"].requirement.result == "meets"
    assert judge({}, limits, 2, wash={"tank_volume": "100 L"})["site flammables"].requirement.result == "falls short"
    assert judge({}, limits)["site flammables"].requirement.result == "unknown"


def test_free_room_around_the_machine_takes_floor() -> None:
    assert judge(NEEDS, {"floor_area": "8 m^2"}, free_room_m=0.0)["site floor"].requirement.result == "meets"
    assert judge(NEEDS, {"floor_area": "8 m^2"}, free_room_m=0.5)["site floor"].requirement.result == "falls short"
    assert free_floor_m2(np.zeros(1), np.ones(1)).tolist() == [0.0]


@pytest.mark.parametrize("principle", ["service", "none"])
def test_a_service_and_doing_nothing_ask_nothing_of_the_building(principle: Principle) -> None:
    assert judge(NEEDS, LIMITS, 5, principle=principle) == {}


@settings(deadline=None, max_examples=50)
@given(need=st.floats(0, 1e6), machines=st.floats(0, 50), more=st.floats(0, 50))
def test_more_machines_never_need_less(need: float, machines: float, more: float) -> None:
    needs = np.array([need])
    assert total_need(needs, np.array([machines + more]))[0] >= total_need(needs, np.array([machines]))[0]


def test_senseless_numbers_are_refused() -> None:
    with pytest.raises(ValueError, match="number of machines is negative or not a number"):
        total_need(np.ones(1), np.array([np.nan]))
    with pytest.raises(ValueError, match="need per machine: -1"):
        total_need(np.array([-1.0]), np.ones(1))
    with pytest.raises(ValueError, match="free room: -1 m is not allowed"):
        free_floor_m2(np.ones(1), np.array([-1.0]))


def test_every_need_is_said_whole() -> None:
    solvent = fluid(hazards=["flammable"])
    said = {key: one.requirement.sentence.text() for key, one in judge(NEEDS, LIMITS, 2.0, cleaner=solvent).items()}
    assert said["site power"] == (
        "Electrical supply: 2 × Washer need 40 kW; the site has 50 kW. A licensed electrician must confirm it."
    )
    assert said["site water"] == "Water supply: 2 × Washer need 20 L/min; the site has 25 L/min."
    assert said["site compressed air"] == "Compressed air: 2 × Washer need 60 m³/h; the site has 75 m³/h."
    assert said["site exhaust"] == "Exhaust: 2 × Washer need 1 000 m³/h; the site has 1 250 m³/h."
    assert said["site floor"] == "Floor: 2 × Washer need 8 m²; the site has 10 m²."
    assert said["site flammables"] == (
        f"Flammable or combustible fluid (Cleaner): 2 × Washer need 100 L; the site has 120 L. {FLAMMABLE_CAUTION}"
    )
    endless = judge(NEEDS, LIMITS, np.inf)["site power"].requirement
    assert endless.sentence.text() == (
        "Electrical supply: no number of Washer is enough, so the need has no end; the site has 50 kW. "
        "A licensed electrician must confirm it."
    )
    unknown = judge({}, LIMITS)["site water"].requirement
    assert unknown.sentence.text() == (
        "Water supply: what Washer needs is not known; the site has 25 L/min. Ask the supplier."
    )
    assert (unknown.title, unknown.stage, unknown.result) == ("Water supply", "site", "unknown")


@pytest.mark.parametrize(
    ("needed", "result", "sentence"),
    [
        (True, "falls short", "Washer needs a drain and the site allows no discharge."),
        (False, "meets", "Washer works without a drain."),
        (None, "unknown",
         "Whether Washer needs a drain is not known and the site allows no discharge. Ask the supplier."),
    ],
)  # fmt: skip
def test_a_drain_that_the_site_refuses_is_said_whole(needed: bool | None, result: str, sentence: str) -> None:
    needs = {} if needed is None else {"drain_needed": needed}
    found = judge(needs, {"drain_allowed": False})["site drain"].requirement
    assert found.sentence.text() == f"{sentence} What may be discharged is for the local authority to say."
    assert (found.key, found.title, found.stage, found.result) == ("site drain", "Drain", "site", result)
    assert (found.machine_id, found.fluid_id) == ("washer", "cleaner")


def test_floor_and_needs_without_meaning_are_refused_by_name() -> None:
    with pytest.raises(ValueError, match=r"^floor area: -1 m² is not allowed\. Give a finite value, 0 or above\.$"):
        free_floor_m2(np.array([-1.0]), np.array([0.5]))
    with pytest.raises(ValueError, match=r"^free room: -1 m is not allowed\. Give a finite value, 0 or above\.$"):
        free_floor_m2(np.array([1.0]), np.array([-1.0]))
    with pytest.raises(ValueError, match=r"^need per machine: -1 is not allowed\. Give a finite value, 0 or above\.$"):
        total_need(np.array([-1.0]), np.array([1.0]))
    told = r"^The number of machines is negative or not a number\. Give 0 or above\.$"
    for machines in (-1.0, np.nan):
        with pytest.raises(ValueError, match=told):
            total_need(np.array([1.0]), np.array([machines]))
    # One need serves several numbers of machines, and the other way round.
    np.testing.assert_array_equal(total_need(np.array([2.0]), np.array([1.0, 3.0])), [2.0, 6.0])
    np.testing.assert_array_equal(total_need(np.array([2.0, 5.0]), np.array([3.0])), [6.0, 15.0])
    np.testing.assert_array_equal(free_floor_m2(np.array([0.0, 9.0]), np.array([1.0, 1.0])), [0.0, 25.0])


def test_a_requirement_of_the_site_names_key_title_stage_dimension_and_fluid() -> None:
    found = judge(NEEDS, LIMITS)
    told = {
        "site power": ("Electrical supply", "power"), "site water": ("Water supply", "flow"),
        "site compressed air": ("Compressed air", "air flow"), "site exhaust": ("Exhaust", "air flow"),
        "site floor": ("Floor", "area"), "site flammables": ("Flammable or combustible fluid (Cleaner)", "volume"),
    }  # fmt: skip
    assert set(found) == set(told) | set(found.keys() & {"site drain"})
    for key, (title, dimension) in told.items():
        one = found[key].requirement
        assert (one.title, one.stage, one.dimension, one.fluid_id) == (title, "site", dimension, "cleaner")


def test_without_a_fluid_the_site_is_judged_for_the_machine_alone_and_its_limits_are_stated() -> None:
    book = InputBook(DRAWS, 1)
    limits = SiteLimits.model_validate(LIMITS)
    found = site_requirements(MachineInputs(machine(site=NEEDS), book), np.ones(DRAWS), limits, None, THRESHOLDS)
    assert {one.requirement.fluid_id for one in found} == {""}
    bases = {one.path: one.basis for one in book.inputs() if one.path.startswith("plant.site.")}
    assert bases == {f"plant.site.{name}": "stated" for name in LIMITS}


def test_a_machine_smaller_than_a_square_metre_takes_room_too() -> None:
    np.testing.assert_allclose(free_floor_m2(np.array([0.25, 0.0]), np.array([0.5, 0.5])), [2.25, 0.0])
