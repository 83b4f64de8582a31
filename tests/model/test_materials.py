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
    for wrong in (np.nan, np.inf, 0.0, -5.0):
        with pytest.raises(ValueError, match="one finite temperature above 0 K"):
            assess_material(material(), fluid(), np.full(DRAWS, wrong), InputBook(DRAWS, 1))


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


def test_what_was_read_for_a_material_is_noted_under_its_own_path_and_basis() -> None:
    near = {**NEAR, "interaction_radius": "8 MPa^0.5"}
    judged = material(
        {"fluid": "other", "result": "not resistant"},
        {"ph_above": 12, "ph_below": 13, "above_temperature": "90 degC", "result": "limited",
         "basis": "common practice"},
        {"result": "resistant", "life": "3000 h", "basis": "published", "source": "Handbook"},
        hansen=near,
    )  # fmt: skip
    book = InputBook(DRAWS, 1)
    found = assess_material(judged, fluid(hansen=NEAR), celsius(60), book, claimed="limited")
    rules, hansen = "wetted_materials[XYZ].rules", ("dispersion", "polar", "hydrogen_bonding")
    assert {one.path: one.basis for one in book.inputs()} == {
        "fluids[cleaner].ph": "engineering estimate",
        f"{rules}[2].ph_above": "common practice",
        f"{rules}[2].ph_below": "common practice",
        f"{rules}[2].above_temperature": "common practice",
        f"{rules}[3].life": "published",
        "wetted_materials[XYZ].max_temperature": "from memory",
        **{f"fluids[cleaner].hansen.{one}": "from memory" for one in hansen},
        **{f"wetted_materials[XYZ].hansen.{one}": "from memory" for one in (*hansen, "interaction_radius")},
    }
    assert (found.basis, found.source, found.part, found.claimed) == ("published", "Handbook", "", "limited")


@pytest.mark.parametrize(
    ("rule", "ph", "temperature", "applies"),
    [
        ({"ph_above": 6, "ph_below": 8}, 7, 60.0, True), ({"ph_above": 6, "ph_below": 8}, 9, 60.0, False),
        ({"ph_above": 6, "ph_below": 8}, 5, 60.0, False), ({"ph_above": 6}, 6, 60.0, False),
        ({"ph_below": 8}, 8, 60.0, False), ({"ph_above": 6, "above_temperature": "50 degC"}, 5, 60.0, False),
        ({"ph_above": 6, "above_temperature": "50 degC"}, 7, 60.0, True),
        ({"above_temperature": "60 degC"}, 7, 60.0, False),
    ],
)  # fmt: skip
def test_a_rule_applies_where_all_its_conditions_hold_and_not_on_their_limits(
    rule: dict[str, Any], ph: float, temperature: float, applies: bool
) -> None:
    judged = material({"result": "resistant"}, {**rule, "result": "limited"})
    found = assess_material(judged, fluid(ph=ph), celsius(temperature), InputBook(DRAWS, 1))
    assert (found.result == "limited") is applies


def test_a_material_stands_its_own_limit() -> None:
    judged = material({"result": "resistant"})
    assert assess_material(judged, fluid(), celsius(100.0), InputBook(DRAWS, 1)).result == "resistant"


@pytest.mark.parametrize(("result", "judged"), [("resistant", "resistant"), ("limited", "unknown")])
def test_a_rule_on_a_ph_that_is_not_given_helps_only_when_it_says_resistant(result: str, judged: str) -> None:
    found = assess_material(material({"ph_above": 10, "result": result}), fluid(ph=None), celsius(60),
                            InputBook(DRAWS, 1))  # fmt: skip
    assert found.result == judged


def test_the_middle_draw_decides_and_the_rule_that_decides_most_draws_gives_the_reason() -> None:
    # 40 draws from 50 to 70 °C: 22 lie above 59 °C, 6 above 67 °C.
    temperature = np.linspace(50.0, 70.0, DRAWS) + 273.15
    judged = material({"result": "resistant"}, {"above_temperature": "67 degC", "result": "not resistant"},
                      {"above_temperature": "59 degC", "result": "not resistant"})  # fmt: skip
    found = assess_material(judged, fluid(), temperature, InputBook(DRAWS, 1))
    assert found.result == "not resistant"
    assert found.reason.text() == "Rule 3."
    cooler = assess_material(judged, fluid(), temperature - 3.0, InputBook(DRAWS, 1))
    assert cooler.result == "resistant"


def test_even_one_draw_that_is_attacked_has_its_reason_and_none_has_none() -> None:
    judged = material({"result": "resistant"}, {"above_temperature": "60 degC", "result": "not resistant"})
    temperature = celsius(55.0)
    temperature[7] = 334.0
    found = assess_material(judged, fluid(), temperature, InputBook(DRAWS, 1))
    assert found.result == "resistant"
    assert found.failure_reason is not None
    assert found.failure_reason.text() == "Rule 2."
    assert assess_material(judged, fluid(), celsius(55.0), InputBook(DRAWS, 1)).failure_reason is None


def test_a_rule_that_applies_in_no_draw_gives_no_reason() -> None:
    judged = material({"above_temperature": "90 degC", "ph_above": 10, "result": "limited"})
    found = assess_material(judged, fluid(ph=None), celsius(60), InputBook(DRAWS, 1))
    assert found.result == "unknown"
    assert (found.reason.text(), found.basis, found.source) == ("No rule for alkaline fluids is known.", "", "")


def test_a_rule_without_a_life_does_not_hide_the_life_of_the_next() -> None:
    found = assess_material(material({"result": "limited"}, {"result": "limited", "life": "500 h"}), fluid(),
                            celsius(60), InputBook(DRAWS, 1))  # fmt: skip
    assert found.life_s is not None
    np.testing.assert_allclose(found.life_s, 500 * 3600.0)


@pytest.mark.parametrize(("polar", "warns"), [(13.9, True), (14.0, False), (18.0, False)])
def test_only_parameters_nearer_than_the_radius_warn(polar: float, warns: bool) -> None:
    # The fluid has a polar part of 6, the radius is 8: RED is 1 at 14.
    far = {**NEAR, "polar": f"{polar} MPa^0.5", "interaction_radius": "8 MPa^0.5"}
    found = assess_material(material({"result": "resistant"}, hansen=far), fluid(hansen=NEAR), celsius(60),
                            InputBook(DRAWS, 1))  # fmt: skip
    assert (found.warning is not None) is warns
