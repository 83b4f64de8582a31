"""Importing tables: columns by name, all problems at once, hostile text stays text."""

from __future__ import annotations

import io

import openpyxl
import pytest

from catalog_schema import CaseError
from catalog_schema.files import load_case, starter_case
from catalog_schema.library import load_library
from catalog_schema.table_cells import cell_value, component_cell, names_of
from catalog_schema.table_import import ColumnMatch, Table, match_columns, read_table
from catalog_schema.table_rows import import_rows, missing_fields

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
    assert "row 2, column 'length (mm)': -5 mm" in text
    assert "row 3, column 'alloy': 'gold' is not allowed" in text
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


PARTS_LIST = (
    "Board\tSize (mm)\tYearly volume\tTightest component\tFlux\n"
    "Motor drive\t160 x 100\t12000\tQFN 7x7\tROL0\n"
    "\n"
    "Sensor\t40 × 30 x 1.2\t80000\t4 x 0402; LGA, 12 mm\tJ-STD-004 ROL1\n"
)


def test_a_plain_parts_list_becomes_boards_with_marked_starter_values() -> None:
    table = read_table(PARTS_LIST, "paste")
    matches = match_columns(table, "board_types")
    assert [match.field for match in matches] == ["name", "size", "volume", "components", "flux"]
    lacking = missing_fields(starter_case(), table, matches)
    everywhere = ("lot_size", "alloy", "peak_reflow_temperature", "wait_before_wash", "clear_distance",
                  "max_temperature")  # fmt: skip
    assert lacking == {"thickness": 1} | dict.fromkeys(everywhere, 2)
    case = import_rows(starter_case(), "board_types", table, matches, {"alloy": "tin-lead"})
    drive, sensor = case.board_types
    assert drive.width.si()[1] == pytest.approx(0.1)
    assert drive.volume.si()[1] * 365.25 * 86400 == pytest.approx(12000)
    assert (drive.flux, sensor.flux) == ("ROL0", "ROL1")
    assert [(part.kind, part.count) for part in sensor.components] == [("chip-0402", 4), ("lga-12", 1)]
    assert sensor.thickness.si()[1] == pytest.approx(0.0012)
    assert drive.length.basis is None
    assert drive.lot_size.basis == "engineering estimate"
    assert drive.lot_size.note == "starter value: replace it"
    assert drive.peak_reflow_temperature.si()[1] == pytest.approx(222 + 273.15)
    assert "thickness" in drive.note
    assert "thickness" not in sensor.note
    assert "alloy" in sensor.note


def test_without_filling_every_gap_is_named_with_the_row_of_the_spreadsheet() -> None:
    table = read_table(PARTS_LIST, "paste")
    with pytest.raises(CaseError) as refused:
        import_rows(starter_case(), "board_types", table, match_columns(table, "board_types"))
    text = str(refused.value)
    # The empty row 3 counts, as it does in the spreadsheet.
    assert "row 2: thickness: is missing" in text
    assert "row 4: lot size: is missing" in text


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (["big", "100", "QFN 7x7", "ROL0"], "row 2, column 'Size (mm)': 'big' is not a size with its unit"),
        (["160 x 100", "lots", "QFN 7x7", "ROL0"], "row 2, column 'Yearly volume': 'lots"),
        (["160 x 100", "100", "QFN", "ROL0"], "row 2, column 'Component': 'QFN' is not a known component kind"),
        (["160 x 100", "100", "QFN 7x7", "ROL9"], "row 2, column 'Flux': 'ROL9' is not a known flux kind"),
        (["0 x 100", "100", "QFN 7x7", "ROL0"], "row 2, column 'Size (mm)': 0 mm is not above 0"),
    ],
)
def test_a_bad_cell_is_said_with_its_row_and_column(row: list[str], said: str) -> None:
    table = read_table("Size (mm)\tYearly volume\tComponent\tFlux\n" + "\t".join(row), "paste")
    with pytest.raises(CaseError) as refused:
        import_rows(starter_case(), "board_types", table, match_columns(table, "board_types"), {"alloy": "lead-free"})
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("qfn-7x7", [("qfn-7x7", 1)]),
        ("qfn-7x7 x 4", [("qfn-7x7", 4)]),
        ("QFN 7 × 7 mm × 12", [("qfn-7x7", 12)]),
        ("3x QFN 7x7, 0402 x 20", [("qfn-7x7", 3), ("chip-0402", 20)]),
        ("QFP, 0.5 mm pitch; MELF", [("qfp-05", 1), ("melf", 1)]),
        ("no such part x 3", [("no such part", 3)]),
    ],
)
def test_components_are_read_as_people_write_them(text: str, read: list[tuple[str, int]]) -> None:
    found = component_cell(text, names_of(load_library()))
    assert [(part["kind"], part["count"]) for part in found] == read


def test_more_rows_than_a_case_holds_are_refused_at_once() -> None:
    table = read_table("name\n" + "x\n" * 501, "paste")
    with pytest.raises(CaseError, match="501 rows are more than the 500"):
        import_rows(starter_case(), "board_types", table, match_columns(table, "board_types"))


def test_filling_leaves_a_known_board_as_it_is() -> None:
    case = load_case("demo_catalog/mixed_plant.yaml")
    table = read_table("id\tlot size\npower-supply\t7", "paste")
    matches = match_columns(table, "board_types")
    assert missing_fields(case, table, matches) == {}
    changed = import_rows(case, "board_types", table, matches, {"alloy": "tin-lead"}).board_types[0]
    assert changed.lot_size.si()[1] == 7
    assert changed.alloy == case.board_types[0].alloy
    assert changed.note == case.board_types[0].note


@pytest.mark.parametrize(
    ("written", "alloy"),
    [("SAC305", "lead-free"), ("Pb-free", "lead-free"), ("SnPb", "tin-lead"), ("Sn63/Pb37", "tin-lead"),
     ("low temp", "low-temperature")],
)  # fmt: skip
def test_alloys_are_read_as_people_write_them(written: str, alloy: str) -> None:
    assert cell_value("alloy", written, "", names_of(load_library())) == alloy
