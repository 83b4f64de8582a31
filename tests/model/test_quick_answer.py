"""The quick answer from four choices."""

from __future__ import annotations

import pytest

from catalog_schema import CaseError, case_text, parse_case
from model.quick_answer import quick_answer, quick_case


def test_a_dishwasher_on_a_dense_lead_free_board_is_ruled_out_with_the_deciding_numbers() -> None:
    answer = quick_answer("household-dishwasher", "qfn-7x7", "ROL0", "lead-free")
    assert answer.outcome.result == "falls short"
    assert "cannot do it" in answer.headline
    assert answer.deciding[0].requirement.result == "falls short"
    keys = {one.requirement.key for one in answer.outcome.all_judged() if one.requirement.result == "falls short"}
    assert "clear" in keys


def test_diffused_batch_spray_on_a_through_hole_board_is_not_ruled_out_by_the_wash() -> None:
    answer = quick_answer("batch-diffused-spray", "dip", "ORH1", "tin-lead")
    clear = [one.requirement for one in answer.outcome.all_judged() if one.requirement.key == "clear"]
    assert [must.result for must in clear] == ["meets"]


def test_the_case_behind_the_answer_can_be_saved_and_opened() -> None:
    case = quick_case("inline-spray", "bga-27", "REL0", "lead-free")
    again = parse_case(case_text(case), "saved")
    assert again.board_types[0].flux == "REL0"
    assert again.compare_classes == ("inline-spray",)


def test_unknown_choices_are_refused() -> None:
    with pytest.raises(CaseError, match="is not a known component kind"):
        quick_case("inline-spray", "qfn-99", "ROL0", "lead-free")
