"""Reading case files: hostile or mistaken documents are refused with place, value and what to do, all at once."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
import yaml

from catalog_schema import CaseError, Problem, load_case, parse_case
from catalog_schema.errors import nearest_name_hint
from catalog_schema.parsing import MAX_BYTES, MAX_DEPTH, MAX_PROBLEMS, read_yaml

DEMO = Path(__file__).parents[2] / "demo_catalog" / "mixed_plant.yaml"
PLAIN: dict[str, Any] = yaml.safe_load(DEMO.read_text(encoding="utf-8"))


@pytest.fixture
def plain() -> dict[str, Any]:
    """Give the demo case as plain data that a test may spoil."""
    return copy.deepcopy(PLAIN)


def problems_of(plain: object) -> tuple[Problem, ...]:
    with pytest.raises(CaseError) as caught:
        parse_case(yaml.safe_dump(plain, allow_unicode=True, sort_keys=False), "plant.yaml")
    return caught.value.problems


def only_problem(plain: object) -> Problem:
    problems = problems_of(plain)
    assert len(problems) == 1, "\n".join(map(str, problems))
    return problems[0]


def unreadable(content: bytes | str) -> str:
    with pytest.raises(CaseError) as caught:
        read_yaml(content, "plant.yaml")
    (problem,) = caught.value.problems
    assert problem.file == "plant.yaml"
    return problem.message


# ---- documents that are not one plain, small document ----


def test_duplicate_key_is_refused_with_its_line() -> None:
    assert unreadable("a: 1\nb: 2\na: 3\n") == "line 3: the key 'a' stands twice. Keep one."
    assert unreadable("a:\n  b: 1\n  b: 2\n") == "line 3: the key 'b' stands twice. Keep one."


def test_anchors_and_aliases_are_refused_with_their_line() -> None:
    expected = "anchors and aliases (& and *) are not used here. Write the value out."
    assert unreadable("a: &x [1]\nb: *x\n") == f"line 1: {expected}"
    bomb = "a: &a [x, x]\n" + "".join(f"{n}: &{n} [*{p}, *{p}]\n" for p, n in zip("abcdefgh", "bcdefghi", strict=True))
    assert expected in unreadable(bomb)


def test_merge_key_cannot_pull_in_other_keys() -> None:
    assert read_yaml("<<: {a: 1}\n", "plant.yaml") == {"<<": {"a": 1}}


@pytest.mark.parametrize("depth", [MAX_DEPTH + 1, 3_000, 100_000])
def test_deep_nesting_is_refused(depth: int) -> None:
    message = unreadable("[" * depth + "]" * depth)
    # Far beyond our limit the YAML library's own limit may speak first.
    assert message.endswith((f"nested deeper than {MAX_DEPTH} levels.", "exceeded maximum nesting depth."))


def test_nesting_up_to_the_limit_is_read() -> None:
    assert read_yaml("[" * MAX_DEPTH + "]" * MAX_DEPTH, "plant.yaml") is not None


def test_too_large_document_is_refused_with_the_limit(tmp_path: Path) -> None:
    assert unreadable(b"#" * (MAX_BYTES + 1)) == f"{MAX_BYTES + 1} bytes is over {MAX_BYTES}. Split it."
    large = tmp_path / "large.yaml"
    large.write_bytes(b"#" * (3 * MAX_BYTES))
    with pytest.raises(CaseError, match=f"large.yaml: .*over {MAX_BYTES}"):
        load_case(large)


def test_too_many_entries_are_refused() -> None:
    row = "[" + "1," * 1_999 + "1],"
    assert "more than 100000 entries. Split the case." in unreadable("[" + row * 120 + "1]")


def test_too_many_entries_in_one_list_are_refused_with_path_and_line() -> None:
    text = "plant:\n  boards:\n  - x: 1\n  - y:\n" + "    - 1\n" * 2_001
    with pytest.raises(CaseError) as caught:
        read_yaml(text, "plant.yaml")
    assert str(caught.value) == (
        "plant.yaml: plant.boards[2].y: line 2005: more than 2000 entries in one list or group. Split it."
    )
    assert read_yaml("a: [" + "1," * 1_999 + "1]", "plant.yaml") == {"a": [1] * 2_000}
    assert unreadable("".join(f"k{number}: 1\n" for number in range(2_001))).startswith("line 2001: more than 2000")


def test_text_that_is_not_utf8_is_refused_with_the_byte() -> None:
    assert unreadable("gap: 5 µm".encode("latin-1")) == "byte 7 is not UTF-8 text. Save the file as UTF-8."


def test_byte_order_mark_is_accepted() -> None:
    assert read_yaml(b"\xef\xbb\xbfa: 1\n", "plant.yaml") == {"a": 1}
    assert read_yaml("\ufeffa: 1\n", "plant.yaml") == {"a": 1}
    assert parse_case(b"\xef\xbb\xbf" + DEMO.read_bytes(), "plant.yaml").name == PLAIN["name"]


@pytest.mark.parametrize("tag", ["!!python/object/apply:os.getcwd []", "!run 1", "!<!own> 1", "!!binary aGk="])
def test_foreign_tags_are_refused(tag: str) -> None:
    message = unreadable(f"a: {tag}\n")
    assert message.startswith("line 1: the tag ")
    assert message.endswith("is not allowed. Remove it.")


def test_two_documents_are_refused() -> None:
    assert unreadable("a: 1\n---\nb: 2\n") == "the file holds more than one document (---). Keep one per file."


def test_broken_yaml_names_line_and_column() -> None:
    assert unreadable("a: 1\nb: [1, 2\n").startswith("line 3, column 1: ")
    assert unreadable("a: b: c\n").startswith("line 1, column 5: ")


@pytest.mark.parametrize("content", ["a: \x07\n", "\x00", b"\x00\x01\x02"])
def test_control_characters_are_refused_without_a_trace(content: bytes | str) -> None:
    assert unreadable(content)


def test_key_that_is_a_list_is_refused() -> None:
    assert unreadable("? [1, 2]\n: 3\n") == "line 1: a key must be plain text."


@pytest.mark.parametrize("text", ["2026-02-11", "12:30:00", "1_000", "0x10", "0o17"])
def test_dates_clock_times_and_odd_numbers_stay_text(text: str) -> None:
    assert read_yaml(f"a: {text}\n", "plant.yaml") == {"a": text}


@pytest.mark.parametrize("content", ["", "just text", "- 1\n- 2\n", "3"])
def test_document_that_is_no_group_of_keys_says_how_to_start(content: str) -> None:
    with pytest.raises(CaseError) as caught:
        parse_case(content, "plant.yaml")
    assert "not a group of keys. Start with washcase_case, name, " in str(caught.value)


def test_json_is_read_as_well(plain: dict[str, Any]) -> None:
    assert parse_case(json.dumps(plain), "plant.json") == parse_case(DEMO.read_bytes(), "plant.yaml")


def test_unknown_format_version_is_the_only_complaint(plain: dict[str, Any]) -> None:
    plain["washcase_case"] = 2
    plain["from_the_future"] = 1
    assert str(only_problem(plain)) == (
        "plant.yaml: washcase_case: '2' is not a format version known here. Allowed: 1."
    )


def test_missing_file_and_folder_are_refused_with_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match=r"absent\.yaml: cannot be read: No such file or directory"):
        load_case(tmp_path / "absent.yaml")
    with pytest.raises(CaseError, match="cannot be read: "):
        load_case(tmp_path)
    with pytest.raises(CaseError, match="cannot be read: "):
        load_case("name\0with zero")


def test_text_with_line_breaks_is_parsed_as_text() -> None:
    assert load_case(DEMO.read_text(encoding="utf-8")) == load_case(DEMO) == load_case(str(DEMO))
    with pytest.raises(CaseError, match=r"^text: "):
        load_case("washcase_case: 1\nname: x\n")


# ---- keys and values ----


def test_unknown_key_gets_the_nearest_name_and_the_record_id(plain: dict[str, Any]) -> None:
    plain["candidates"][0]["spray"]["nozle_pressure"] = "3 bar"
    assert str(only_problem(plain)) == (
        "plant.yaml: candidates[offer-a-batch-spray].spray.nozle_pressure: unknown key 'nozle_pressure'. "
        'Did you mean "nozzle_pressure"?'
    )


def test_unknown_key_at_the_top_and_in_a_quantity(plain: dict[str, Any]) -> None:
    plain["bord_types"] = []
    plain["plant"]["tariffs"]["labour"] = {"likly": 30, "unit": "EUR/h"}
    found = {problem.path: problem.message for problem in problems_of(plain)}
    assert found["bord_types"] == "unknown key 'bord_types'. Did you mean \"board_types\"?"
    assert found["plant.tariffs.labour.likly"] == "unknown key 'likly'. Did you mean \"likely\"?"


def test_all_problems_are_listed_at_once_each_with_its_place(plain: dict[str, Any]) -> None:
    boards, candidates = plain["board_types"], plain["candidates"]
    boards[2]["length"] = "12 gpm"
    boards[3]["wait_before_wash"] = "9..2..4 h"
    boards[4]["alloy"] = "leadfree"
    boards[5]["components"][1]["count"] = 0
    candidates[1]["spray"]["max_flow"] = "-90 gpm"
    candidates[2]["chamber"]["levels"] = 99
    candidates[3]["wash"]["temperature"] = "85,5 degC"
    del plain["plant"]["working_days"]
    plain["plant"]["requirements"]["traceability"][0] = "scan every board"
    plain["priorities"]["stakeholders"][1]["swing"]["drying"] = -1
    found = {problem.path: problem.message for problem in problems_of(plain)}
    assert found == {
        "plant.working_days": "is missing. Add it.",
        "plant.requirements.traceability[1]": "'scan every board' is not allowed. Did you mean \"scan each board\"?",
        "board_types[dense-controller].length": "Given in gpm, which does not measure length. Give for example 120 mm.",
        "board_types[compute-board].wait_before_wash": (
            "Low, likely, high are 9, 2, 4: they must not fall. Give for example 500 h."
        ),
        "board_types[radio-module].alloy": "'leadfree' is not allowed. Did you mean \"lead-free\"?",
        "board_types[sensor-recorder].components[2].count": "Input should be greater than or equal to 1; given 0.",
        "candidates[offer-b-inline].spray.max_flow": "-90 gpm is below 0 gpm. Give for example 120 L/min.",
        "candidates[offer-c-ultrasonic].chamber.levels": "Input should be less than or equal to 20; given 99.",
        "candidates[offer-d-vacuum-solvent].wash.temperature": (
            "'85,5 degC' has a comma in the number. Write 1.5 with a point, thousands without a mark. "
            "For example 60 degC."
        ),
        "priorities.stakeholders[engineering]": found["priorities.stakeholders[engineering]"],
    }
    assert found["priorities.stakeholders[engineering]"].startswith("swing of drying is -1")


def test_number_of_problems_listed_is_bounded(plain: dict[str, Any]) -> None:
    plain |= {f"extra_{number}": 1 for number in range(MAX_PROBLEMS + 50)}
    assert len(problems_of(plain)) == MAX_PROBLEMS


def test_wrong_shapes_say_what_is_expected(plain: dict[str, Any]) -> None:
    plain["board_types"] = "none"
    plain["plant"]["site"] = 3
    found = {problem.path: problem.message for problem in problems_of(plain)}
    assert found["board_types"] == "'none' is not a list. Give lines that start with a dash."
    assert found["plant.site"] == "3 is not a group of keys. Give key: value lines below it."


def test_short_name_with_spaces_is_refused(plain: dict[str, Any]) -> None:
    plain["candidates"][4]["id"] = "../offer e"
    problem = only_problem(plain)
    assert problem.message.startswith("'../offer e' cannot be used as a short name. Use letters, digits, ")


def test_number_that_is_not_finite_is_refused_with_its_place(plain: dict[str, Any]) -> None:
    plain["board_types"][0]["clear_distance"] = {"likely": float("nan"), "unit": "mm"}
    problem = only_problem(plain)
    assert problem.path == "board_types[power-supply].clear_distance.likely"
    assert problem.message == "nan is not a finite number. Give a plain number."


def test_stakeholder_without_answers_to_its_method_is_refused(plain: dict[str, Any]) -> None:
    plain["priorities"]["stakeholders"][0]["order"] = []
    problem = only_problem(plain)
    assert problem.path == "priorities.stakeholders[plant-manager]"
    assert problem.message.startswith("The method is rank order but order is empty.")


# ---- names across records ----


def test_dangling_references_name_place_value_and_nearest(plain: dict[str, Any]) -> None:
    plain["board_types"][1]["flux"] = "ROOL0"
    plain["board_types"][2]["components"][2]["kind"] = "qfn-5x6"
    plain["board_types"][0]["parts"] = ["bare-aluminum"]
    plain["candidates"][0]["machine_class"] = "batch-difused-spray"
    plain["candidates"][0]["wash"]["fluids"][1] = "saponified-watr"
    plain["candidates"][0]["wetted_parts"][0]["replacement_material"] = "EPDMM"
    plain["plant"]["finance"]["reference"] = "contract-servce"
    plain["compare_classes"] = ["inline-sprai"]
    plain["priorities"]["stakeholders"][0]["order"][1] = "dryng"
    found = {problem.path: problem.message for problem in problems_of(plain)}
    assert found == {
        "compare_classes": "'inline-sprai' is not a known machine class. Did you mean \"inline-spray\"?",
        "board_types[control-board].flux": "'ROOL0' is not a known flux kind. Did you mean \"ROL0\"?",
        "board_types[dense-controller].components": (
            "'qfn-5x6' is not a known component kind. Did you mean \"qfn-5x5\"?"
        ),
        "board_types[power-supply].parts": (
            "'bare-aluminum' is not a known board part. Did you mean \"bare-aluminium\"?"
        ),
        "candidates[offer-a-batch-spray].machine_class": (
            "'batch-difused-spray' is not a known machine class. Did you mean \"batch-diffused-spray\"?"
        ),
        "candidates[offer-a-batch-spray].wash.fluids": (
            "'saponified-watr' is not a known fluid. Did you mean \"saponified-water\"?"
        ),
        "candidates[offer-a-batch-spray].wetted_parts": (
            "'EPDMM' is not a known wetted material. Did you mean \"EPDM\"?"
        ),
        "plant.finance.reference": (
            "'contract-servce' is not a known candidate or class. Did you mean \"contract-service\"?"
        ),
        "priorities.stakeholders[plant-manager]": "'dryng' is not a known criterion. Did you mean \"drying\"?",
    }


def test_trial_must_name_known_things(plain: dict[str, Any]) -> None:
    plain["trials"] = [{"id": "t1", "board_type": "dense-controler", "component": "qfn-5x5", "machine": "offer-z",
                        "fluid": "saponified-water", "wash_time": "12 min", "residue_left": "20 %"}]  # fmt: skip
    found = {problem.path: problem.message for problem in problems_of(plain)}
    assert found["trials[t1].board_type"].endswith('Did you mean "dense-controller"?')
    assert "'offer-z' is not a known candidate or class." in found["trials[t1].machine"]


def test_duplicate_ids_are_refused(plain: dict[str, Any]) -> None:
    plain["candidates"][1]["id"] = "offer-a-batch-spray"
    plain["board_types"][1]["id"] = "power-supply"
    plain["priorities"]["stakeholders"][2]["id"] = "engineering"
    assert {problem.path: problem.message for problem in problems_of(plain)} == {
        "board_types": "the id 'power-supply' is used 2 times. Ids must differ.",
        "candidates": "the id 'offer-a-batch-spray' is used 2 times. Ids must differ.",
        "priorities.stakeholders": "the id 'engineering' is used 2 times. Ids must differ.",
    }


def test_candidate_may_not_take_the_name_of_a_class(plain: dict[str, Any]) -> None:
    plain["candidates"][1]["id"] = "inline-spray"
    problem = only_problem(plain)
    assert problem.path == "candidates[inline-spray].id"
    assert problem.message == "'inline-spray' is also a machine class. Choose another id."


# ---- money ----


def test_unknown_currency_of_the_plant_is_refused(plain: dict[str, Any]) -> None:
    plain["plant"]["currency"] = "EUX"
    problem = only_problem(plain)
    assert problem.path == "plant.currency"
    assert problem.message.startswith("EUX is not an ISO 4217 currency code. Did you mean ")


def test_missing_exchange_rate_names_each_amount(plain: dict[str, Any]) -> None:
    del plain["plant"]["exchange_rates"]
    problems = problems_of(plain)
    assert {problem.path for problem in problems} == {
        f"candidates[offer-b-inline].prices.{name}"
        for name in ("purchase", "installation", "training", "service_per_year", "filters_per_year")
    }
    assert problems[0].message == (
        "USD has no exchange rate to EUR. Add it under plant.exchange_rates or give the amount in EUR."
    )


def test_plant_in_another_currency_needs_a_rate_for_the_library(plain: dict[str, Any]) -> None:
    plain["plant"]["currency"] = "CHF"
    messages = {problem.path: problem.message for problem in problems_of(plain)}
    assert messages["plant.exchange_rates"].startswith(
        "prices of the generic library are in EUR. Add how many CHF one EUR is"
    )


def test_amount_without_currency_is_refused(plain: dict[str, Any]) -> None:
    plain["candidates"][4]["prices"]["purchase"] = "13900 money"
    problem = only_problem(plain)
    assert problem.path == "candidates[offer-e-labware].prices.purchase"
    assert problem.message == "names no currency. Give for example 12000 EUR."


def test_nearest_name_hint_lists_what_is_allowed_when_nothing_is_near() -> None:
    assert nearest_name_hint("zzz", ["spray", "rinse"]) == "Allowed: rinse, spray."
    assert nearest_name_hint("zzz", (str(number) for number in range(20))).endswith(" and 12 more.")
    assert nearest_name_hint("zzz", []) == "Nothing is allowed here."


def test_case_error_needs_a_problem() -> None:
    with pytest.raises(ValueError, match="needs at least one problem"):
        CaseError([])
