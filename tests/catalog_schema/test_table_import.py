"""Importing tables: columns by name, all problems at once, hostile text stays text."""

from __future__ import annotations

import io

import openpyxl
import pytest

from catalog_schema import CaseError
from catalog_schema.files import load_case, starter_case
from catalog_schema.table_import import ColumnMatch, Table, import_rows, match_columns, read_table

HEADER = [
    "Board name", "length (mm)", "width (mm)", "thickness (mm)", "volume", "lot size", "alloy", "flux",
    "peak reflow temperature (degC)", "wait before wash", "components", "clear distance", "max temperature",
]  # fmt: skip
ROW = ["Alpha", "100", "80", "1.6", "1200 boards/year", "10", "lead-free", "ROL0", "245", "4 h",
       "qfn-7x7 x 4; chip-0402 x 20", "2 mm", "90 degC"]  # fmt: skip


def as_text(rows: list[list[str]], separator: str) -> str:
    return "\n".join(separator.join(cell.replace(separator, " ") for cell in row) for row in [HEADER, *rows])


@pytest.mark.parametrize("separator", ["\t", ","])
def test_pasted_and_csv_tables_give_the_same_board(separator: str) -> None:
    table = read_table(as_text([ROW], separator), "boards.csv")
    case = import_rows(starter_case(), "board_types", table, match_columns(table, "board_types"))
    (board,) = case.board_types
    assert (board.id, board.name) == ("alpha", "Alpha")
    assert board.length.si()[1] == pytest.approx(0.1)
    assert [(part.kind, part.count) for part in board.components] == [("qfn-7x7", 4), ("chip-0402", 20)]


def test_workbooks_are_read_and_formulas_in_them_are_not_run() -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(HEADER)
    sheet.append(["=HYPERLINK(1)", *ROW[1:]])
    buffer = io.BytesIO()
    book.save(buffer)
    table = read_table(buffer.getvalue(), "boards.xlsx")
    # A formula that no program has calculated has no value: the name is empty, nothing ran.
    assert table.rows[0][0] == ""


def test_formula_text_in_a_csv_stays_text() -> None:
    table = read_table(as_text([["=2+2", *ROW[1:]]], "\t"), "boards.csv")
    case = import_rows(starter_case(), "board_types", table, match_columns(table, "board_types"))
    assert case.board_types[0].name == "=2+2"


def test_a_row_with_a_known_id_changes_only_the_named_fields() -> None:
    case = load_case("demo_catalog/mixed_plant.yaml")
    table = read_table("id\twash.max_time\tcount\noffer-a-batch-spray\t25 min\t2", "paste")
    matches = match_columns(table, "candidates")
    assert [match.field for match in matches] == ["id", "wash.max_time", "count"]
    changed = import_rows(case, "candidates", table, matches).candidates[0]
    assert changed.count == 2
    assert changed.wash.max_time is not None
    assert changed.wash.max_time.si()[1] == pytest.approx(1500)
    assert changed.wash.fluids == case.candidates[0].wash.fluids


def test_every_problem_of_every_row_is_listed_and_nothing_is_taken_over() -> None:
    bad = [["One", "-5", *ROW[2:]], ["Two", *ROW[1:6], "gold", *ROW[7:]]]
    table = read_table(as_text(bad, "\t"), "boards.csv")
    case = starter_case()
    with pytest.raises(CaseError) as refused:
        import_rows(case, "board_types", table, match_columns(table, "board_types"))
    text = str(refused.value)
    assert "board_types[one].length: -5 mm" in text
    assert "board_types[two].alloy: 'gold' is not allowed" in text
    assert case.board_types == ()


@pytest.mark.parametrize(
    ("content", "file", "said"),
    [
        (b"\xff\xfe\x00", "a.csv", "not UTF-8"),
        (b"not a zip", "a.xlsx", "cannot be read as a workbook"),
        ("only a header", "paste", "needs a header and at least one row"),
        ("a\tb\n" + "1\t2\n" * 10_001, "paste", "are allowed"),
        ("a\0b\n1\n", "paste", "binary"),
    ],
)
def test_unreadable_tables_are_refused_with_a_sentence(content: bytes | str, file: str, said: str) -> None:
    with pytest.raises(CaseError) as refused:
        read_table(content, file)
    assert said in str(refused.value)


def test_columns_without_a_field_are_left_out() -> None:
    table = Table(header=("favourite colour", "name"), rows=(("blue", "x"),))
    assert match_columns(table, "candidates") == (
        ColumnMatch(column="favourite colour", field=None, unit=""),
        ColumnMatch(column="name", field="name", unit=""),
    )
