"""One wetted material: worst rule, temperature limit, pH, unknown, RED as evidence, life."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog_schema.materials import WettedMaterial
from model.materials import NOT_RESISTANT, assess_material
from model.uncertainty import FloatArray, InputBook
from tests.model.records import fluid

DRAWS = 40


def material(*rules: dict[str, Any], **changes: Any) -> WettedMaterial:
    base = {"id": "XYZ", "name": "XYZ rubber", "group": "elastomer", "max_temperature": "100 degC"}
    filled = [{"basis": "from memory", "why": f"Rule {number}.", **rule} for number, rule in enumerate(rules, start=1)]
    return WettedMaterial.model_validate({**base, "rules": filled, **changes})


def celsius(value: float) -> FloatArray:
    return np.full(DRAWS, value + 273.15)


def test_the_worst_rule_that_applies_decides_and_gives_its_reason() -> None:
    found = assess_material(
        material({"family": "alkaline", "result": "resistant"}, {"family": "alkaline", "result": "limited"},
                 {"family": "solvent", "result": "not resistant"}),
        fluid(), celsius(60), InputBook(DRAWS, 1),
    )  # fmt: skip
    assert found.result == "limited"
    assert (found.reason.text(), found.basis) == ("Rule 2.", "from memory")
    assert found.shares == {"resistant": 0.0, "limited": 1.0, "unknown": 0.0, "not resistant": 0.0}


def test_a_rule_for_another_fluid_does_not_apply_and_one_for_this_fluid_does() -> None:
    rules = ({"fluid": "other", "result": "not resistant"}, {"fluid": "cleaner", "result": "resistant"})
    assert assess_material(material(*rules), fluid(), celsius(60), InputBook(DRAWS, 1)).result == "resistant"


def test_without_a_rule_it_is_unknown_and_not_counted_as_failing() -> None:
    found = assess_material(material({"family": "solvent", "result": "resistant"}), fluid(), celsius(60),
                            InputBook(DRAWS, 1))  # fmt: skip
    assert found.result == "unknown"
    assert found.not_resistant_met.all()
    assert found.reason.text() == "No rule for alkaline fluids is known."
    assert found.life_s is None


def test_hotter_than_the_material_stands_is_not_resistant() -> None:
    found = assess_material(material({"result": "resistant"}), fluid(), celsius(101), InputBook(DRAWS, 1))
    assert found.result == "not resistant"
    assert found.reason.text() == "It must not get hotter than 100 °C."
    assert not found.not_resistant_met.any()
    assert found.life_s is not None
    assert found.life_s.max() == 0.0


def test_a_drawn_temperature_splits_the_draws() -> None:
    temperature = np.linspace(50.0, 70.0, DRAWS) + 273.15
    found = assess_material(
        material({"result": "limited"}, {"above_temperature": "60 degC", "result": "not resistant"}),
        fluid(), temperature, InputBook(DRAWS, 1),
    )  # fmt: skip
    assert found.shares["not resistant"] == pytest.approx(0.5)
    np.testing.assert_array_equal(found.not_resistant_met, temperature <= 333.15)


def test_ph_rules_compare_with_the_fluids_ph() -> None:
    attacked = material({"result": "resistant"}, {"ph_above": 10, "result": "not resistant"},
                        {"ph_below": 4, "result": "limited"})  # fmt: skip
    results = [assess_material(attacked, fluid(ph=ph), celsius(60), InputBook(DRAWS, 1)).result for ph in (11, 7, 3)]
    assert results == ["not resistant", "resistant", "limited"]


def test_a_missing_ph_is_unknown_in_water_and_no_matter_in_a_solvent() -> None:
    attacked = material({"result": "resistant"}, {"ph_above": 10, "result": "not resistant"})
    wet = assess_material(attacked, fluid(ph=None), celsius(60), InputBook(DRAWS, 1))
    assert wet.result == "unknown"
    assert "depends on the pH of Cleaner, which is not given" in wet.reason.text()
    dry = assess_material(attacked, fluid(ph=None, water_based=False, family="solvent"), celsius(60),
                          InputBook(DRAWS, 1))  # fmt: skip
    assert dry.result == "resistant"


NEAR = {"dispersion": "16 MPa^0.5", "polar": "6 MPa^0.5", "hydrogen_bonding": "10 MPa^0.5"}


def test_red_below_one_warns_and_never_decides() -> None:
    near = {**NEAR, "interaction_radius": "8 MPa^0.5"}
    found = assess_material(material({"result": "resistant"}, hansen=near), fluid(hansen=NEAR), celsius(60),
                            InputBook(DRAWS, 1))  # fmt: skip
    assert found.result == "resistant"
    assert found.warning is not None
    assert "RED 0" in found.warning.text()
    far = {**near, "polar": "30 MPa^0.5"}
    calm = assess_material(material({"result": "resistant"}, hansen=far), fluid(hansen=NEAR), celsius(60),
                           InputBook(DRAWS, 1))  # fmt: skip
    assert calm.warning is None
    assert calm.red is not None
    assert calm.red[0] == pytest.approx(3.0)
    unknown = assess_material(material(hansen=near), fluid(hansen=NEAR), celsius(60), InputBook(DRAWS, 1))
    assert unknown.result == "unknown"


def test_life_is_the_shortest_of_the_deciding_rules() -> None:
    found = assess_material(
        material({"result": "limited", "life": "3000 h"}, {"result": "limited", "life": "1000 h"},
                 {"result": "resistant", "life": "10 h"}),
        fluid(), celsius(60), InputBook(DRAWS, 1),
    )  # fmt: skip
    assert found.life_s is not None
    np.testing.assert_allclose(found.life_s, 1000 * 3600.0)


@settings(deadline=None, max_examples=50)
@given(lower=st.floats(20, 120), rise=st.floats(0, 60))
def test_more_heat_never_makes_a_material_stand_more(lower: float, rise: float) -> None:
    judged = material({"result": "limited"}, {"above_temperature": "50..60..80 degC", "result": "not resistant"},
                      max_temperature="80..90..110 degC")  # fmt: skip
    cool = assess_material(judged, fluid(), celsius(lower), InputBook(DRAWS, 1))
    hot = assess_material(judged, fluid(), celsius(lower + rise), InputBook(DRAWS, 1))
    assert np.all(hot.severity >= cool.severity)
    assert hot.severity.max() <= NOT_RESISTANT


def test_wrong_temperatures_are_refused() -> None:
    with pytest.raises(ValueError, match="one finite temperature above 0 K for each of the 40 draws"):
        assess_material(material(), fluid(), np.full(3, 300.0), InputBook(DRAWS, 1))
    with pytest.raises(ValueError, match="one finite temperature above 0 K"):
        assess_material(material(), fluid(), np.full(DRAWS, np.nan), InputBook(DRAWS, 1))


def test_the_words_of_a_material_are_whole() -> None:
    near = {**NEAR, "interaction_radius": "8 MPa^0.5"}
    book = InputBook(DRAWS, 1)
    warned = assess_material(material({"result": "resistant"}, hansen=near), fluid(hansen=NEAR), celsius(60), book)
    assert warned.warning is not None
    assert warned.warning.text() == (
        "The rules call XYZ rubber resistant to Cleaner, but their Hansen parameters are close (RED 0): it may swell. "
        "Soak a sample before you rely on it."
    )
    attacked = material({"result": "resistant"}, {"ph_above": 10, "result": "not resistant"})
    wet = assess_material(attacked, fluid(ph=None), celsius(60), InputBook(DRAWS, 1))
    assert wet.reason.text() == "It depends on the pH of Cleaner, which is not given: Rule 2."
    # The material's own limit names no basis here: it is from memory.
    assert {one.path: one.basis for one in book.inputs()}["wetted_materials[XYZ].max_temperature"] == "from memory"
    hot = assess_material(material({"result": "resistant"}), fluid(), celsius(120), InputBook(DRAWS, 1))
    assert (hot.reason.text(), hot.basis) == ("It must not get hotter than 100 °C.", "from memory")


@pytest.mark.parametrize(("ph", "share"), [("9..13", 0.5), ("9..10", 0.0), ("12..13", 1.0)])
def test_an_uncertain_ph_is_compared_with_its_bound_draw_by_draw(ph: str, share: float) -> None:
    attacked = material({"result": "resistant"}, {"ph_above": 11, "result": "not resistant"})
    above = assess_material(attacked, fluid(ph=ph), celsius(60), InputBook(DRAWS, 1))
    attacked = material({"result": "resistant"}, {"ph_below": 11, "result": "not resistant"})
    below = assess_material(attacked, fluid(ph=ph), celsius(60), InputBook(DRAWS, 1))
    assert above.shares["not resistant"] == pytest.approx(share, abs=0.03)
    assert below.shares["not resistant"] == pytest.approx(1.0 - share, abs=0.03)
