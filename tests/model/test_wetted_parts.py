"""Wetted parts of a machine: one failing part rules it out, a replacement brings it back at a price, the want."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from catalog_schema.machines import Principle
from catalog_schema.materials import WettedMaterial
from model.machine_inputs import MachineInputs
from model.requirements import Thresholds
from model.uncertainty import InputBook
from model.wetted_parts import MaterialOutcome, material_requirement, wetted_compatibility
from tests.model.records import fluid, machine

DRAWS = 200
THRESHOLDS = Thresholds(meets_from=0.9, misses_to=0.1)
HOT_K = 333.15


def material(name: str, *rules: dict[str, Any], **changes: Any) -> WettedMaterial:
    filled = [{"basis": "from memory", "why": f"{name} by rule {n}.", **rule} for n, rule in enumerate(rules, start=1)]
    base = {"id": name, "name": name, "group": "elastomer", "max_temperature": "150 degC", "rules": filled}
    return WettedMaterial.model_validate({**base, **changes})


MATERIALS = {
    record.id: record
    for record in (
        material("FKM", {"family": "alkaline", "result": "not resistant", "life": "400 h"}),
        material("EPDM", {"family": "alkaline", "result": "resistant", "life": "8000 h"}),
        material("NBR", {"family": "alkaline", "result": "limited", "life": "2000 h"}),
        material("PTFE", {"family": "solvent", "result": "resistant"}),
        material("PVC", {"family": "alkaline", "result": "resistant"}, max_temperature="50..70 degC"),
    )
}


def judge(*parts: dict[str, Any], **machine_changes: Any) -> MaterialOutcome:
    inputs = MachineInputs(machine(wetted_parts=list(parts), **machine_changes), InputBook(DRAWS, 1, {"EUR": 1.0}))
    return material_requirement(inputs, fluid(), np.full(DRAWS, HOT_K), MATERIALS, THRESHOLDS)


def test_one_part_that_is_not_resistant_rules_the_machine_out_and_the_sentence_says_why() -> None:
    outcome = judge({"part": "tank", "material": "EPDM"}, {"part": "pump seal", "material": "FKM"})
    assert outcome.judged.requirement.result == "falls short"
    assert outcome.judged.met is not None
    assert not outcome.judged.met.any()
    text = outcome.judged.requirement.sentence.text()
    assert text == "pump seal of FKM does not stand Cleaner at 60 °C. FKM by rule 1."
    assert outcome.upgrade is None


def test_a_replacement_seal_brings_it_back_at_its_price() -> None:
    outcome = judge(
        {"part": "tank", "material": "EPDM"},
        {"part": "pump seal", "material": "FKM", "replacement_material": "EPDM", "replacement_price": "300..500 EUR"},
        {"part": "hose", "material": "FKM", "replacement_material": "EPDM", "replacement_price": "100 EUR"},
    )
    assert outcome.judged.requirement.result == "falls short"
    assert "Also: hose (FKM)." in outcome.judged.requirement.sentence.text()
    assert outcome.upgrade is not None
    assert outcome.upgrade.parts == (("pump seal", "FKM", "EPDM"), ("hose", "FKM", "EPDM"))
    assert outcome.upgrade.price is not None
    assert outcome.upgrade.price.mean() == pytest.approx(500.0)
    assert outcome.upgrade.price.min() >= 400.0
    assert "for 500 EUR" in outcome.upgrade.sentence.text(currency="EUR")
    assert outcome.judged_with_upgrade is not None
    assert outcome.judged_with_upgrade.requirement.result == "meets"
    assert outcome.measure is not None
    assert outcome.measure_with_upgrade is not None
    assert outcome.measure.share[0] == pytest.approx(1 / 3)
    assert outcome.measure_with_upgrade.share[0] == 1.0


def test_no_upgrade_when_one_offending_part_cannot_be_replaced_or_its_replacement_fails() -> None:
    seal = {"part": "seal", "material": "FKM", "replacement_material": "EPDM", "replacement_price": "9 EUR"}
    assert judge(seal, {"part": "hose", "material": "FKM"}).upgrade is None
    assert judge({**seal, "replacement_material": "FKM"}).upgrade is None
    assert judge({**seal, "replacement_material": "NBR"}).upgrade is None


def test_a_replacement_without_a_price_is_named_and_not_taken_as_free() -> None:
    outcome = judge({"part": "seal", "material": "FKM", "replacement_material": "EPDM"})
    assert outcome.upgrade is not None
    assert outcome.upgrade.price is None
    assert "ask for the price of: seal" in outcome.upgrade.sentence.text()


def test_an_unknown_part_makes_the_must_unknown_and_the_want_uncertain() -> None:
    outcome = judge({"part": "tank", "material": "EPDM"}, {"part": "seal", "material": "PTFE"})
    requirement = outcome.judged.requirement
    assert (requirement.result, requirement.probability, outcome.judged.met) == ("unknown", None, None)
    assert "seal (PTFE)" in requirement.sentence.text()
    assert outcome.measure is not None
    assert outcome.measure.share.min() == pytest.approx(0.5, abs=0.01)
    assert outcome.measure.share.max() == pytest.approx(1.0, abs=0.01)
    low, likely, high = outcome.measure.share_low_likely_high
    assert low < likely < high


def test_asking_about_an_unknown_part_is_an_input_of_its_own() -> None:
    inputs = MachineInputs(machine(wetted_parts=[{"part": "seal", "material": "PTFE"}]), InputBook(DRAWS, 1))
    material_requirement(inputs, fluid(), np.full(DRAWS, HOT_K), MATERIALS, THRESHOLDS)
    noted = {record.path: record for record in inputs.book.inputs()}
    question = noted["candidates[washer].wetted_parts[1].resistance[PTFE, cleaner]"]
    assert not question.stated
    assert (question.low, question.high) == (0.0, 1.0)


def test_a_failing_part_outweighs_an_unknown_one() -> None:
    outcome = judge({"part": "tank", "material": "PTFE"}, {"part": "seal", "material": "FKM"})
    assert outcome.judged.requirement.result == "falls short"


def test_a_failure_in_some_draws_keeps_its_probability() -> None:
    outcome = judge({"part": "hose", "material": "PVC"})
    requirement = outcome.judged.requirement
    assert requirement.result == "unknown"
    assert requirement.probability == pytest.approx(0.5)
    assert "hose of PVC may not stand Cleaner at 60 °C (50 % likely)" in requirement.sentence.text()


def test_the_want_counts_limited_half_and_the_first_replacement_is_the_shortest_life() -> None:
    outcome = judge({"part": "tank", "material": "EPDM"}, {"part": "seal", "material": "NBR"})
    assert outcome.judged.requirement.result == "meets"
    assert "seal (NBR)" in outcome.judged.requirement.sentence.text()
    assert outcome.measure is not None
    assert outcome.measure.share[0] == pytest.approx(0.75)
    assert outcome.measure.first_replacement_s is not None
    assert outcome.measure.first_replacement_s[0] == pytest.approx(2000 * 3600.0)


def test_a_claim_that_our_rules_contradict_is_shown_and_does_not_decide() -> None:
    outcome = judge({"part": "seal", "material": "FKM", "resistance_stated": "resistant"})
    assert outcome.judged.requirement.result == "falls short"
    assert "The offer claims that it is resistant" in outcome.judged.requirement.sentence.text()


@pytest.mark.parametrize(
    ("principle", "result"), [("spray in air", "unknown"), ("service", "meets"), ("none", "meets")]
)
def test_parts_nobody_names_are_unknown_except_where_there_is_no_machine(principle: Principle, result: str) -> None:
    inputs = MachineInputs(machine(principle), InputBook(DRAWS, 1))
    outcome = material_requirement(inputs, fluid(), np.full(DRAWS, HOT_K), MATERIALS, THRESHOLDS)
    assert outcome.judged.requirement.result == result
    assert outcome.measure is None


def test_measuring_no_parts_is_refused() -> None:
    with pytest.raises(ValueError, match="Washer has no wetted part to measure"):
        wetted_compatibility((), fluid(), MachineInputs(machine(), InputBook(DRAWS, 1)))
