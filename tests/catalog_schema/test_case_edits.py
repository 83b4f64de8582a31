"""Edits give a new, checked case and leave the old one alone."""

from __future__ import annotations

import pytest

from catalog_schema import Case, CaseError
from catalog_schema.case_edits import (
    add_record,
    duplicate_record,
    free_id,
    record_content,
    remove_record,
    replace_record,
    set_value,
)
from catalog_schema.files import load_case, starter_case


@pytest.fixture(scope="module")
def case() -> Case:
    return load_case("demo_catalog/mixed_plant.yaml")


def test_setting_a_value_changes_only_that_field(case: Case) -> None:
    changed = set_value(case, "candidates[offer-a-batch-spray].spray.nozzle_pressure", "40 psi")
    assert changed.candidates[0].spray.nozzle_pressure is not None
    assert changed.candidates[0].spray.nozzle_pressure.si()[1] == pytest.approx(275790.29)
    assert changed.candidates[1:] == case.candidates[1:]
    assert changed.plant == case.plant


def test_none_means_not_stated(case: Case) -> None:
    changed = set_value(case, "candidates[offer-a-batch-spray].spray.nozzle_pressure", None)
    assert changed.candidates[0].spray.nozzle_pressure is None
    assert case.candidates[0].spray.nozzle_pressure is not None


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("plant.tarifs.labour", "5 EUR/h", 'Did you mean "tariffs"?'),
        ("plant.tariffs.labour", "5 bar", "does not measure money per hour"),
        ("candidates[offer-x].count", 2, "'offer-x' is not there"),
        ("board_types[power-supply].flux", "ROL9", "is not a known flux kind"),
        ("", 1, "is not a path"),
    ],
)
def test_a_wrong_edit_is_refused_with_the_reason(case: Case, path: str, value: object, said: str) -> None:
    with pytest.raises(CaseError) as refused:
        set_value(case, path, value)
    assert said in str(refused.value)


def test_a_copy_gets_an_id_and_name_of_its_own(case: Case) -> None:
    changed, new_id = duplicate_record(case, "board_types", "power-supply")
    assert new_id == "power-supply-2"
    assert changed.board_types[1].name.endswith("(copy)")
    assert changed.board_types[1].length == case.board_types[0].length


def test_adding_to_a_starter_case_works_and_removing_undoes_it(case: Case) -> None:
    start = starter_case()
    board = record_content(case.board_types[0])
    grown = add_record(start, "board_types", board)
    assert [record.id for record in grown.board_types] == ["power-supply"]
    assert remove_record(grown, "board_types", "power-supply").board_types == ()


def test_a_record_that_others_name_cannot_be_removed(case: Case) -> None:
    trial = {"id": "t1", "board_type": "power-supply", "component": "dip", "machine": "offer-a-batch-spray",
             "fluid": "di-water", "wash_time": "5 min", "residue_left": "10 %"}  # fmt: skip
    with_trial = add_record(case, "trials", trial)
    with pytest.raises(CaseError, match="'power-supply' is not a known board type"):
        remove_record(with_trial, "board_types", "power-supply")


def test_replacing_takes_all_fields_from_the_new_data(case: Case) -> None:
    content = record_content(case.board_types[0]) | {"lot_size": 3}
    assert replace_record(case, "board_types", "power-supply", content).board_types[0].lot_size.si()[1] == 3


def test_unknown_lists_are_refused(case: Case) -> None:
    with pytest.raises(CaseError, match="is not a list of records"):
        add_record(case, "plant", {"id": "x"})


@pytest.mark.parametrize(
    ("wanted", "expected"), [("=1+1", "1-1"), ("", "new"), ("../../etc", "etc"), ("a" * 99, "a" * 56)]
)
def test_free_ids_are_always_valid(wanted: str, expected: str) -> None:
    assert free_id(wanted, []) == expected
