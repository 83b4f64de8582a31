"""Edits give a new, checked case and leave the old one alone."""

from __future__ import annotations

import pytest

from catalog_schema import Case, CaseError
from catalog_schema.case_edits import (
    add_record,
    copy_from_library,
    duplicate_record,
    free_id,
    record_content,
    remove_record,
    replace_record,
    set_value,
)
from catalog_schema.files import case_fingerprint, case_text, load_case, starter_case
from catalog_schema.library import load_library


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
    with pytest.raises(CaseError, match=r"is still used by trial t1\. Change that first\."):
        remove_record(with_trial, "board_types", "power-supply")


def test_a_shipped_record_is_copied_in_place_or_under_a_name_of_its_own(case: Case) -> None:
    own, copied = copy_from_library(case, "flux_kinds", "ROL0")
    assert copied == "ROL0"
    assert own.flux_kinds == tuple(one for one in load_library().flux_kinds if one.id == "ROL0")
    with pytest.raises(CaseError, match="own already"):
        copy_from_library(own, "flux_kinds", "ROL0")
    renamed, copied = copy_from_library(case, "component_kinds", "qfn-7x7", "Our sensor")
    assert copied == "our-sensor"
    assert renamed.component_kinds[0].name == "Our sensor"
    assert load_case(case_text(renamed)) == renamed
    assert case_fingerprint(renamed) != case_fingerprint(case)


def test_a_copy_never_takes_an_id_of_the_library_or_of_an_offer(case: Case) -> None:
    _, copied = copy_from_library(case, "component_kinds", "qfn-7x7", "QFN 5x5")
    assert copied == "qfn-5x5-2"
    _, copied = copy_from_library(case, "machine_classes", "inline-spray", "Offer A: batch spray")
    assert copied == "offer-a-batch-spray-2"


def test_an_own_record_in_place_of_a_shipped_one_can_go_but_a_used_new_one_cannot(case: Case) -> None:
    own, _ = copy_from_library(case, "component_kinds", "qfn-7x7")
    assert remove_record(own, "component_kinds", "qfn-7x7").component_kinds == ()
    new, kind = copy_from_library(case, "component_kinds", "qfn-7x7", "Our sensor")
    components = [{"kind": kind, "count": 2}]
    used = set_value(new, "board_types[power-supply].components", components)
    with pytest.raises(CaseError, match="'Our sensor' is still used by board type"):
        remove_record(used, "component_kinds", kind)


def test_a_rule_without_id_is_changed_by_its_place(case: Case) -> None:
    own, _ = copy_from_library(case, "wetted_materials", "FKM")
    changed = set_value(own, "wetted_materials[FKM].rules[2].why", "Our own test says so.")
    assert changed.wetted_materials[0].rules[1].why == "Our own test says so."
    assert changed.wetted_materials[0].rules[0] == own.wetted_materials[0].rules[0]
    with pytest.raises(CaseError, match="'99' is not there"):
        set_value(own, "wetted_materials[FKM].rules[99].why", "x")


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


def test_a_key_that_is_no_plain_word_is_set_in_brackets_and_taken_out_again(case: Case) -> None:
    criterion = {"id": "service-nearby", "name": "Service", "ratings": {}}
    own = set_value(case, "priorities.own_criteria", [criterion])
    path = "priorities.own_criteria[service-nearby].ratings[offer-a-batch-spray]"
    rated = set_value(own, path, "80 %")
    assert rated.priorities.own_criteria[0].ratings["offer-a-batch-spray"].si()[1] == pytest.approx(0.8)
    assert set_value(rated, path, None) == own
    assert set_value(rated, "priorities.own_criteria[service-nearby]", None).priorities.own_criteria == ()
