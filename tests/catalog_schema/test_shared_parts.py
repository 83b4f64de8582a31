"""Versions of a case share what is alike, and nothing else changes."""

from __future__ import annotations

import pytest

from catalog_schema import case_text
from catalog_schema.case import Case
from catalog_schema.case_edits import remove_record, set_value
from catalog_schema.shared_parts import with_parts_of


def test_an_edit_shares_all_records_but_the_edited_one(demo_case: Case) -> None:
    edited = set_value(demo_case, "candidates[offer-a-batch-spray].name", "Another name")
    shared = with_parts_of(edited, demo_case)
    assert shared == edited
    assert case_text(shared) == case_text(edited)
    assert shared.plant is demo_case.plant
    alike = [one is was for one, was in zip(shared.candidates, demo_case.candidates, strict=True)]
    assert alike == [one.id != "offer-a-batch-spray" for one in demo_case.candidates]


def test_a_removed_record_stays_away_and_the_rest_is_shared(demo_case: Case) -> None:
    gone = demo_case.candidates[0].id
    shared = with_parts_of(remove_record(demo_case, "candidates", gone), demo_case)
    assert [one.id for one in shared.candidates] == [one.id for one in demo_case.candidates[1:]]
    assert all(one is was for one, was in zip(shared.candidates, demo_case.candidates[1:], strict=True))


@pytest.mark.parametrize("value", ["", "A note"])
def test_a_default_that_was_written_down_stays_written(demo_case: Case, value: str) -> None:
    first = demo_case.candidates[0]
    bare = first.model_copy(update={"note": value})
    edited = demo_case.model_copy(update={"candidates": (bare, *demo_case.candidates[1:])})
    shared = with_parts_of(edited, demo_case)
    assert case_text(shared) == case_text(edited)
    assert shared.candidates[0].model_fields_set == bare.model_fields_set


def test_cases_that_have_nothing_in_common_are_left_as_they_are(demo_case: Case, through_hole_case: Case) -> None:
    shared = with_parts_of(through_hole_case, demo_case)
    assert shared == through_hole_case
    assert case_text(shared) == case_text(through_hole_case)
