"""Hostile names stay text: no formula in a spreadsheet, no hidden character, no raw control character in a message."""

from __future__ import annotations

import csv
import io
import json
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog_schema import CaseError, load_case, parse_case
from catalog_schema.case import Case
from catalog_schema.errors import Problem
from catalog_schema.files import case_text, check_case
from catalog_schema.inert_text import spreadsheet_safe, visible_text
from model.evaluate import evaluate
from model.json_output import EvaluationOutput, evaluation_json

DEMO = Path(__file__).parents[2] / "demo_catalog" / "through_hole_plant.yaml"

HOSTILE_NAMES = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "</script><svg onload=alert(1)>",
    "{{7*7}} {% raw %} ${7*7} #{7*7}",
    "{reached} {kind} {machine}",
    "[click](javascript:alert(1)) :material/home: $x^2$",
    "=HYPERLINK(\"http://example.invalid\",\"x\")",
    "+1+1", "-1+1", "@SUM(A1:A9)", "\t=1+1", "  =1+1", "＝1+1",
    "=cmd|' /C calc'!A0",
    "fan\u202egnp.exe", "\u2066isolated\u2069", "zero\u200bwidth", "soft\u00adhyphen", "\u3164", "line\u2028break",
    "../../etc/passwd", "C:\\Windows\\system32", "%s%n%x", "'; DROP TABLE boards; --", "back`tick` | pipe",
]  # fmt: skip


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
def test_text_that_would_be_a_formula_is_marked(start: str) -> None:
    assert spreadsheet_safe(f"{start}1+1") == f"'{start}1+1"
    assert spreadsheet_safe(f"  {start}1+1") == f"'  {start}1+1"


@pytest.mark.parametrize("text", ["", "batch washer", "1 - 2", "a=b", "5 µm", "'quoted", "Größe"])
def test_ordinary_text_is_left_as_it_is(text: str) -> None:
    assert spreadsheet_safe(text) == text
    assert visible_text(text) == text


@given(st.text())
@settings(deadline=None, max_examples=300)
def test_marked_text_never_starts_like_a_formula_and_is_marked_once(text: str) -> None:
    safe = spreadsheet_safe(text)
    assert not safe.lstrip()[:1] or safe.lstrip()[0] not in "=+-@＝＋－＠"
    assert spreadsheet_safe(safe) == safe
    assert safe in (text, f"'{text}")


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("fan\u202egnp.exe", "fan⟨U+202E⟩gnp.exe"),
        ("\u2066x\u2069", "⟨U+2066⟩x⟨U+2069⟩"),
        ("a\u200bb", "a⟨U+200B⟩b"),
        ("a\u00adb", "a⟨U+00AD⟩b"),
        ("\u3164", "⟨U+3164⟩"),
        ("a\x1b[31mb", "a⟨U+001B⟩[31mb"),
        ("a\x00b", "a⟨U+0000⟩b"),
        ("\ud800", "⟨U+D800⟩"),
        ("a\ufe0f", "a⟨U+FE0F⟩"),
        ("tag\U000e0041", "tag⟨U+E0041⟩"),
    ],
)
def test_hidden_characters_are_shown_as_their_code(text: str, shown: str) -> None:
    assert visible_text(text) == shown


def test_letters_written_from_right_to_left_and_accents_stay() -> None:
    for text in ("שלום", "مغسلة", "Prüfstand №2", "清洗机", "e\u0301"):
        assert visible_text(text) == text


def test_line_breaks_stay_unless_one_line_is_asked_for() -> None:
    assert visible_text("a\n\tb") == "a\n\tb"
    assert visible_text("a\nb", one_line=True) == "a⟨U+000A⟩b"


@given(st.text(alphabet=st.characters()))
@settings(deadline=None, max_examples=300)
def test_shown_text_can_be_written_and_holds_nothing_hidden(text: str) -> None:
    shown = visible_text(text, one_line=True)
    shown.encode("utf-8")
    assert all(unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Zl", "Zp") for character in shown)
    assert visible_text(shown, one_line=True) == shown


def test_a_problem_never_carries_control_characters_to_a_terminal() -> None:
    problem = Problem(file="a\x1b]0;title\x07.yaml", path="x.\u202ey", message="bad\nvalue\ud800")
    assert str(problem) == "a⟨U+001B⟩]0;title⟨U+0007⟩.yaml: x.⟨U+202E⟩y: bad⟨U+000A⟩value⟨U+D800⟩"


@pytest.mark.parametrize("key", ["\\e[2J", "\\u202E", "\\x7F", "\\uD800", "a\\nb"])
def test_hostile_keys_of_a_file_are_shown_harmless(key: str) -> None:
    with pytest.raises(CaseError) as caught:
        parse_case(f'washcase_case: 1\nname: x\n"{key}": 1\nplant: {{"{key}": 2}}\n', "plant\x1b.yaml")
    text = str(caught.value).replace("\n", "")
    text.encode("utf-8")
    assert text.isprintable()


def _with_names(name: str) -> Case:
    case = load_case(DEMO)
    board = case.board_types[0].model_copy(update={"name": name, "note": name})
    candidate = case.candidates[0].model_copy(update={"name": name, "supplier": name, "note": name})
    plant = case.plant.model_copy(update={"name": name, "note": name})
    return check_case(case.model_copy(update={
        "name": name, "note": name, "plant": plant, "board_types": (board,), "candidates": (candidate,),
        "compare_classes": (), "trials": (),
    }))  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_hostile_names_survive_saving_and_loading_unchanged(name: str) -> None:
    case = _with_names(name)
    again = parse_case(case_text(case), "text")
    assert again == case
    assert again.candidates[0].name == name


def test_hostile_names_stay_text_in_sentences_and_json() -> None:
    for name in HOSTILE_NAMES[:8] + HOSTILE_NAMES[14:20]:
        evaluation = evaluate(_with_names(name), draws=4, rays=500, threads=1)
        text = evaluation_json(evaluation)
        output = EvaluationOutput.model_validate(json.loads(text))
        assert output.case == name
        assert {row.name for row in output.verdicts} == {name}
        # A name that looks like a template is inserted as it stands and never filled in.
        fits = next(row.sentence for row in output.requirements if row.requirement == "temperature")
        assert "{fluid}" not in fits


def test_csv_of_hostile_names_reads_back_as_marked_text() -> None:
    stream = io.StringIO()
    csv.writer(stream).writerows([[spreadsheet_safe(visible_text(name, one_line=True))] for name in HOSTILE_NAMES])
    rows = [row[0] for row in csv.reader(io.StringIO(stream.getvalue()))]
    assert len(rows) == len(HOSTILE_NAMES)
    assert all(row.lstrip()[0] not in "=+-@＝" for row in rows)
