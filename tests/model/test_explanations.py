"""Help cannot drift: every term that can be shown is explained, every explanation leads to living code."""

from __future__ import annotations

import re

import pytest
from pydantic import BaseModel

from catalog_schema.case import Case
from catalog_schema.glossary import load_glossary
from catalog_schema.machines import Candidate, Immersion, MachineClass, Spray
from catalog_schema.priorities import CRITERIA
from model.evaluate import Evaluation
from model.explanations import (
    derivation,
    derivations_of,
    entered_records,
    explain_input,
    load_explanations,
    load_input_explanations,
    record_key,
)

EVERY = [explanation for group in load_explanations().values() for explanation in group.values()]


def test_every_requirement_of_the_demo_is_explained(demo_evaluation: Evaluation) -> None:
    shown = set(demo_evaluation.requirements["requirement"])
    assert shown <= set(load_explanations()["requirements"])


def test_exactly_the_seven_criteria_are_explained() -> None:
    assert set(load_explanations()["criteria"]) == set(CRITERIA)


@pytest.mark.parametrize("explanation", EVERY, ids=lambda explanation: explanation.key)
def test_each_explanation_has_two_sentences_and_leads_to_functions_with_docstrings(explanation: object) -> None:
    found = next(one for one in EVERY if one is explanation)
    assert found.sentences.count(".") >= 2
    for derived in derivations_of(found):
        assert derived.claim


def test_equation_and_source_come_from_the_docstring() -> None:
    film = derivation("model.nozzles:film_run_out_radius_m")
    assert "U_s(r)" in film.notes
    capillary = derivation("model.gap:entry_pressure_Pa")
    assert capillary.claim
    with pytest.raises(ValueError, match="no docstring"):
        derivation("model.gap:no_such_function")


def test_the_glossary_defines_each_word_once() -> None:
    words = [word for word, _ in load_glossary()]
    assert len(words) == len(set(words)) >= 20


ENTRIES = [(record, field) for record in entered_records() for field in record.model_fields
           if (record, field) != (Case, "washcase_case")]  # fmt: skip
UNCOMPUTED = {
    "Immersion.pump_flow", "Immersion.ultrasonic_frequency", "Rinse.resin_volume", "Rinse.resistivity_end_point",
    "Prices.turnaround", "Fluid.boiling_temperature", "BoardType.coated", "BoardType.alloy", "WettedMaterial.group",
    "Case.invented", "Case.plant", "Case.priorities", "Case.constants", "Quantity.basis",
}  # fmt: skip
"""Entries that are no plain text and from which nothing is computed by itself; their sentences say so."""


def test_all_records_of_a_case_are_walked() -> None:
    named = {record.__name__ for record in entered_records()}
    assert {"Case", "Plant", "Tariffs", "Spray", "WettedPart", "BoardType", "Fluid", "HansenParameters", "MaterialRule",
            "PartRule", "Trial", "Constants", "Stakeholder", "Quantity"} <= named  # fmt: skip


@pytest.mark.parametrize(("record", "field"), ENTRIES, ids=lambda one: getattr(one, "__name__", one))
def test_every_entry_is_explained_in_two_sentences_that_lead_to_functions(record: type, field: str) -> None:
    found = explain_input(record, field)
    assert found is not None, f"{record.__name__}.{field} is not explained in input_explanations.yaml"
    sentences = re.split(r"(?<=[.!?])\s+", found.sentences)
    assert len(sentences) == 2
    assert all(len(sentence) > 12 and sentence[0] == sentence[0].upper() for sentence in sentences)
    derived = derivations_of(found)
    assert all(one.claim for one in derived)
    if derived:
        words = " ".join(f"{one.claim} {one.notes} {one.reference}" for one in derived)
        assert any(one.notes or one.reference for one in derived) or re.search("[=÷·]|proportional", words)
    plain_text = "str" in str(record.model_fields[field].annotation)
    assert found.functions or plain_text or f"{record.__name__}.{field}" in UNCOMPUTED


def test_the_explanation_stands_in_one_place_only() -> None:
    assert [(record, field) for record, field in ENTRIES if record.model_fields[field].description] == []


def test_no_explanation_is_of_an_entry_that_does_not_exist() -> None:
    owners = {record_key(owner): owner for record in entered_records() for owner in record.__mro__
              if issubclass(owner, BaseModel)}  # fmt: skip
    shared = {"record": {"id", "name", "note"}}
    for group, entries in load_input_explanations().items():
        assert set(entries) <= shared.get(group, set(owners[group].model_fields)), group


def test_what_holds_for_an_offer_and_its_class_is_said_once() -> None:
    assert explain_input(Candidate, "wetted_parts") is explain_input(MachineClass, "wetted_parts")
    assert explain_input(Spray, "rotation_speed") is not explain_input(Immersion, "rotation_speed")
