"""Comparing versions of a case."""

from __future__ import annotations

from catalog_schema.case_compare import compare_cases
from catalog_schema.case_edits import duplicate_record, remove_record, set_value
from catalog_schema.files import load_case, parse_case

CASE = load_case("demo_catalog/mixed_plant.yaml")


def test_a_case_does_not_differ_from_itself_or_its_saved_form() -> None:
    from catalog_schema import case_text

    assert compare_cases(CASE, CASE) == ()
    assert compare_cases(CASE, parse_case(case_text(CASE), "saved")) == ()


def test_changes_name_path_before_and_after() -> None:
    later = set_value(CASE, "candidates[offer-a-batch-spray].wash.max_time", "20 min")
    (change,) = compare_cases(CASE, later)
    assert change.path == "candidates[offer-a-batch-spray].wash.max_time"
    assert (change.kind, change.before, change.after) == ("changed", "60 min", "20 min")


def test_added_and_removed_records_are_said_once_each() -> None:
    later, _ = duplicate_record(CASE, "board_types", "power-supply")
    later = remove_record(later, "candidates", "offer-e-labware")
    kinds = {(change.path, change.kind) for change in compare_cases(CASE, later)}
    assert kinds == {("board_types[power-supply-2]", "added"), ("candidates[offer-e-labware]", "removed")}


def test_order_of_records_is_no_change() -> None:
    later = CASE.model_copy(update={"candidates": CASE.candidates[::-1]})
    assert compare_cases(CASE, later) == ()
