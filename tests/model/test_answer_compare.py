"""Comparing the answers of two evaluations."""

from __future__ import annotations

from catalog_schema import load_case
from catalog_schema.case_edits import remove_record, set_value
from model.answer_compare import compare_answers
from model.evaluate import evaluate

BASE = load_case("demo_catalog/through_hole_plant.yaml").model_copy(update={"compare_classes": ()})
BEFORE = evaluate(BASE, draws=64, rays=4096)


def test_the_same_case_gives_no_change() -> None:
    assert compare_answers(BEFORE, evaluate(BASE, draws=64, rays=4096)) == ()


def test_a_machine_that_can_no_longer_wash_long_enough_is_named() -> None:
    after = evaluate(set_value(BASE, "candidates[batch-spray].wash.max_time", "1 s"), draws=64, rays=4096)
    (change,) = compare_answers(BEFORE, after)
    assert change.machine_id == "batch-spray"
    assert change.after == "falls short"
    assert change.before != change.after
    assert "became falls short" in change.sentence


def test_added_and_removed_machines_are_named() -> None:
    after = evaluate(remove_record(BASE, "candidates", "kitchen-machine"), draws=64, rays=4096)
    (change,) = compare_answers(BEFORE, after)
    assert "no longer looked at" in change.sentence
    (back,) = compare_answers(after, BEFORE)
    assert "is new" in back.sentence
