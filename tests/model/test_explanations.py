"""Help cannot drift: every term that can be shown is explained, every explanation leads to living code."""

from __future__ import annotations

import pytest

from catalog_schema.glossary import load_glossary
from catalog_schema.priorities import CRITERIA
from model.evaluate import Evaluation
from model.explanations import derivation, derivations_of, load_explanations

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
