"""Wetted parts of a machine: one failing part rules it out, a replacement brings it back at a price, the want."""

from __future__ import annotations

from dataclasses import replace
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


# ---- Whole sentences -------------------------------------------------------------------------------------------------

EPDM, FKM = {"part": "tank", "material": "EPDM"}, {"part": "seal", "material": "FKM"}
NEWER = {"part": "seal", "material": "FKM", "replacement_material": "EPDM"}


@pytest.mark.parametrize(
    ("parts", "sentence"),
    [
        ((EPDM, {"part": "lid", "material": "EPDM"}), "Every wetted part (2) stands Cleaner at 60 °C."),
        ((EPDM, {"part": "hose", "material": "NBR"}),
         "No wetted part fails in Cleaner at 60 °C; these wear and need replacing: hose (NBR)."),
        ((EPDM, {"part": "hose", "material": "PTFE"}),
         "How these stand Cleaner at 60 °C is not known: hose (PTFE). Ask the supplier or soak a sample."),
        ((FKM, {"part": "hose", "material": "FKM"}, EPDM),
         "seal of FKM does not stand Cleaner at 60 °C. FKM by rule 1. Also: hose (FKM)."),
        ((FKM, {"part": "hose", "material": "FKM"}, {"part": "lid", "material": "FKM"}),
         "seal of FKM does not stand Cleaner at 60 °C. FKM by rule 1. Also: hose (FKM), lid (FKM)."),
        (({"part": "hose", "material": "PVC"},),
         "hose of PVC may not stand Cleaner at 60 °C (50 % likely). It must not get hotter than 60 °C."),
        (({**FKM, "resistance_stated": "resistant"},),
         "seal of FKM does not stand Cleaner at 60 °C. FKM by rule 1. The offer claims that it is resistant: ask what "
         "that rests on."),
        (({**FKM, "resistance_stated": "limited"},), "seal of FKM does not stand Cleaner at 60 °C. FKM by rule 1."),
    ],
)  # fmt: skip
def test_the_sentence_is_whole(parts: tuple[dict[str, Any], ...], sentence: str) -> None:
    requirement = judge(*parts).judged.requirement
    assert requirement.sentence.text() == sentence
    assert (requirement.key, requirement.title, requirement.stage) == (
        "wetted materials", "Wetted materials", "materials",
    )  # fmt: skip
    assert (requirement.machine_id, requirement.fluid_id) == ("washer", "cleaner")


@pytest.mark.parametrize(
    ("principle", "sentence"),
    [("spray in air", "The wetted materials of Washer are not known. Ask the supplier."),
     ("service", "Washer has no wetted part that the plant would have to look after."),
     ("none", "Washer has no wetted part that the plant would have to look after.")],
)  # fmt: skip
def test_where_no_part_is_named_the_sentence_says_whose_concern_it_is(principle: Principle, sentence: str) -> None:
    inputs = MachineInputs(machine(principle), InputBook(DRAWS, 1))
    outcome = material_requirement(inputs, fluid(), np.full(DRAWS, HOT_K), MATERIALS, THRESHOLDS)
    assert outcome.judged.requirement.sentence.text() == sentence
    assert outcome.judged.requirement.title == "Wetted materials"
    assert (outcome.findings, outcome.upgrade, outcome.measure_with_upgrade) == ((), None, None)
    # An empty list is a statement: nothing is wetted.
    stated = MachineInputs(machine("spray in air", wetted_parts=[]), InputBook(DRAWS, 1))
    found = material_requirement(stated, fluid(), np.full(DRAWS, HOT_K), MATERIALS, THRESHOLDS)
    assert found.judged.requirement.result == "meets"


def test_upgrades_say_parts_and_price_and_leave_sound_parts_alone() -> None:
    priced = judge(EPDM, {**NEWER, "replacement_price": "120 EUR"})
    assert priced.upgrade is not None
    assert priced.upgrade.sentence.text(currency="EUR") == (
        "With seal of EPDM instead of FKM it stands Cleaner, for 120 EUR."
    )
    assert [finding.part for finding in priced.findings_with_upgrade] == ["tank", "seal"]
    assert [finding.material_id for finding in priced.findings_with_upgrade] == ["EPDM", "EPDM"]
    several = judge(NEWER, {**NEWER, "part": "hose"}, EPDM)
    assert several.upgrade is not None
    assert several.upgrade.sentence.text() == (
        "With seal of EPDM instead of FKM, hose of EPDM instead of FKM it stands Cleaner; "
        "ask for the price of: seal, hose."
    )


@pytest.mark.parametrize(
    ("stated", "candidate", "basis", "counts"),
    [(True, True, "stated", True), (False, True, "engineering estimate", False),
     (False, False, "engineering estimate", True)],
)  # fmt: skip
def test_a_price_counts_as_stated_where_the_offer_lists_the_parts_and_where_a_class_does(
    stated: bool, candidate: bool, basis: str, counts: bool
) -> None:
    made = machine(wetted_parts=[{**NEWER, "replacement_price": "120 EUR"}])
    made = replace(made, is_candidate=candidate, stated=frozenset({"wetted_parts"} if stated else ()))
    inputs = MachineInputs(made, InputBook(DRAWS, 1, {"EUR": 1.0}))
    material_requirement(inputs, fluid(), np.full(DRAWS, HOT_K), MATERIALS, THRESHOLDS)
    record = next(one for one in inputs.book.inputs() if one.path.endswith("wetted_parts[1].replacement_price"))
    assert (record.basis, record.stated) == (basis, counts)


def test_an_open_question_says_what_is_open() -> None:
    inputs = MachineInputs(machine(wetted_parts=[EPDM, {"part": "seal", "material": "PTFE"}]), InputBook(DRAWS, 1))
    material_requirement(inputs, fluid(), np.full(DRAWS, HOT_K), MATERIALS, THRESHOLDS)
    asked = next(one for one in inputs.book.inputs() if "resistance[" in one.path)
    assert asked.path == "candidates[washer].wetted_parts[2].resistance[PTFE, cleaner]"
    assert (asked.basis, asked.note) == ("engineering estimate", "No rule says how PTFE stands Cleaner.")


# ---- Draws in part ---------------------------------------------------------------------------------------------------

PARTLY = MATERIALS | {
    record.id: record
    for record in (
        # At 60 °C a limit from 59 to 79 °C is passed in one draw of twenty, one from 50 to 90 °C in a quarter.
        material("PE", {"family": "alkaline", "result": "resistant"}, max_temperature="59..79 degC"),
        material("PP", {"family": "alkaline", "result": "resistant"}, max_temperature="50..90 degC"),
        material("PA", {"above_temperature": "50..70 degC", "family": "alkaline", "result": "resistant"}),
    )
}


def judge_partly(*parts: dict[str, Any]) -> MaterialOutcome:
    inputs = MachineInputs(machine(wetted_parts=list(parts)), InputBook(DRAWS, 1, {"EUR": 1.0}))
    return material_requirement(inputs, fluid(), np.full(DRAWS, HOT_K), PARTLY, THRESHOLDS)


def test_a_known_failure_in_few_draws_stays_beside_a_part_that_nobody_knows() -> None:
    judged = judge_partly({"part": "tank", "material": "PE"}, {"part": "seal", "material": "PTFE"}).judged
    assert (judged.requirement.result, judged.requirement.probability) == ("unknown", None)
    assert judged.met is not None
    assert float(np.mean(judged.met)) == pytest.approx(0.95, abs=0.02)
    nothing_fails = judge({"part": "seal", "material": "PTFE"}).judged
    assert (nothing_fails.requirement.result, nothing_fails.met) == ("unknown", None)


def test_the_part_that_fails_most_is_named_first_with_the_reason_it_fails_for() -> None:
    text = judge({"part": "hose", "material": "PVC"}, FKM).judged.requirement.sentence.text()
    assert text == "seal of FKM does not stand Cleaner at 60 °C. FKM by rule 1. Also: hose (PVC)."
    text = judge_partly({"part": "hose", "material": "PP"}).judged.requirement.sentence.text()
    assert text.startswith("hose of PP may not stand Cleaner at 60 °C (25 % likely). It must not get hotter than 70 °C")


def test_draws_that_just_reach_a_threshold_are_enough() -> None:
    def at(name: str, meets_from: float, misses_to: float) -> tuple[str, str]:
        inputs = MachineInputs(machine(wetted_parts=[{"part": "hose", "material": name}]), InputBook(DRAWS, 1))
        thresholds = Thresholds(meets_from=meets_from, misses_to=misses_to)
        found = material_requirement(inputs, fluid(), np.full(DRAWS, HOT_K), PARTLY, thresholds).judged.requirement
        return found.result, found.sentence.text()

    stands = "Every wetted part (1) stands Cleaner at 60 °C."
    # PVC fails in half of the draws; half is enough here, either for standing it or for not standing it.
    assert at("PVC", 0.5, 0.1) == ("meets", stands)
    result, sentence = at("PVC", 0.9, 0.5)
    assert result == "falls short"
    assert sentence.startswith("hose of PVC does not stand Cleaner at 60 °C. ")
    # How PA stands it is not known in half of the draws, which is as many as are forgiven here.
    assert at("PA", 0.5, 0.1) == ("meets", stands)
    assert at("PA", 0.6, 0.1)[0] == "unknown"


def test_a_part_unknown_in_some_draws_is_drawn_in_those_alone() -> None:
    measure = judge_partly({"part": "hose", "material": "PA"}).measure
    assert measure is not None
    share = np.asarray(measure.share, dtype=np.float64)
    assert float(np.mean(share == 1.0)) == pytest.approx(0.5, abs=0.02)
    assert 0.0 <= share.min() < 0.1


def test_an_upgrade_beside_an_unknown_part_is_measured_with_the_same_open_question() -> None:
    outcome = judge(
        {"part": "seal", "material": "FKM", "replacement_material": "EPDM", "replacement_price": "9 EUR"},
        {"part": "tank", "material": "PTFE"},
    )
    assert outcome.measure is not None
    assert outcome.measure_with_upgrade is not None
    np.testing.assert_allclose(outcome.measure_with_upgrade.share - outcome.measure.share, 0.5)


def test_what_is_found_is_kept_part_by_part_and_named_as_its_requirement() -> None:
    none = judge().judged.requirement
    some = judge(EPDM).judged.requirement
    for one in (none, some):
        assert (one.key, one.title, one.stage) == ("wetted materials", "Wetted materials", "materials")
    assert (judge().findings, judge().findings_with_upgrade) == ((), ())
    plain = judge(EPDM, FKM)
    assert [one.part for one in plain.findings] == ["tank", "seal"]
    assert plain.findings_with_upgrade == ()
    better = judge(EPDM, {**NEWER, "replacement_price": "9 EUR"})
    assert [one.material_id for one in better.findings] == ["EPDM", "FKM"]
    assert [one.material_id for one in better.findings_with_upgrade] == ["EPDM", "EPDM"]
