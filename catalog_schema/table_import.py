"""Boards and candidates from a spreadsheet: pasted text, CSV or XLSX, columns matched to fields by name."""

from __future__ import annotations

import csv
import difflib
import io
import re
import zipfile
from dataclasses import dataclass
from typing import Any, Literal

from catalog_schema.case import Case
from catalog_schema.case_edits import free_id
from catalog_schema.errors import CaseError, Problem
from catalog_schema.files import case_content, check_case
from catalog_schema.parsing import validate

MAX_ROWS = 10_000
MAX_COLUMNS = 200
MAX_UNPACKED_BYTES = 60_000_000

Target = Literal["board_types", "candidates"]

BOARD_FIELDS = (
    "id", "name", "length", "width", "thickness", "volume", "lot_size", "alloy", "flux", "peak_reflow_temperature",
    "wait_before_wash", "components", "clear_distance", "populated_sides", "parts", "max_temperature",
    "cleared_share_needed", "uncleaned_allowed", "coated", "ionic_limit", "moisture_limit", "withstand_voltage",
    "capacitance", "note",
)  # fmt: skip
CANDIDATE_FIELDS = (
    "id", "name", "machine_class", "supplier", "offer_date", "count", "note", "spray.nozzle_pressure",
    "spray.nozzle_diameter", "spray.max_flow", "spray.shutoff_pressure", "spray.nozzle_shape", "wash.temperature",
    "wash.max_time", "wash.tank_volume", "wash.fluids", "rinse.max_rinses", "rinse.volume_per_rinse",
    "rinse.time_per_rinse", "dry.air_temperature", "dry.air_flow", "dry.max_time", "rack.point_to_point",
    "rack.to_ground", "site.connected_power", "site.floor_area", "prices.purchase", "prices.installation",
    "prices.service_per_year", "prices.life", "running.operator_share", "running.time_between_failures",
)  # fmt: skip
FIELDS: dict[Target, tuple[str, ...]] = {"board_types": BOARD_FIELDS, "candidates": CANDIDATE_FIELDS}

_LIST_FIELDS = {"parts", "wash.fluids"}
_FLAG_FIELDS = {"uncleaned_allowed", "coated"}
_WHOLE_FIELDS = {"populated_sides", "count", "rinse.max_rinses"}
_FLAGS = {"yes": True, "true": True, "1": True, "y": True, "no": False, "false": False, "0": False, "n": False}
_HEADER_UNIT = re.compile(r"^(?P<name>.*?)[\s_]*[(\[](?P<unit>[^)\]]+)[)\]]\s*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table as read: a header and rows of text."""

    header: tuple[str, ...]
    """Column names."""
    rows: tuple[tuple[str, ...], ...]
    """Cells as text, one row per record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnMatch:
    """Which field a column feeds."""

    column: str
    """Name in the table's header."""
    field: str | None
    """Field of the record, or None to leave the column out."""
    unit: str
    """Unit named in the header, added to bare numbers."""


def _refuse(message: str, file: str = "table") -> CaseError:
    return CaseError([Problem(file=file, path="", message=message)])


def read_table(content: bytes | str, file: str) -> Table:
    """Read pasted text, CSV or XLSX into a table; formulas and markup stay text.

    Parameters
    ----------
    content : bytes or str
    file : str
        Name; `.xlsx` is read as a workbook (first sheet, values), anything else as text.

    Returns
    -------
    Table

    Raises
    ------
    CaseError
        When it cannot be read, is too large or has no header.
    """
    if isinstance(content, bytes) and file.lower().endswith(".xlsx"):
        rows = _xlsx_rows(content, file)
    else:
        try:
            text = content.decode("utf-8-sig") if isinstance(content, bytes) else content.lstrip("\ufeff")
        except UnicodeDecodeError:
            raise _refuse("is not UTF-8 text. Save the table as CSV in UTF-8.", file) from None
        if "\0" in text:
            raise _refuse("holds binary data. Give CSV, XLSX or pasted cells.", file)
        first = text.partition("\n")[0]
        separator = max("\t;,", key=first.count)
        try:
            rows = [tuple(cell.strip() for cell in row) for row in csv.reader(io.StringIO(text), delimiter=separator)]
        except csv.Error as problem:
            raise _refuse(f"cannot be read as a table: {problem}.", file) from None
    rows = [row for row in rows if any(row)]
    if len(rows) < 2:
        raise _refuse("needs a header and at least one row below it.", file)
    if len(rows) - 1 > MAX_ROWS or len(rows[0]) > MAX_COLUMNS:
        raise _refuse(
            f"has {len(rows) - 1} rows and {len(rows[0])} columns; {MAX_ROWS} × {MAX_COLUMNS} are allowed.", file
        )
    width = len(rows[0])
    return Table(header=rows[0], rows=tuple((row + ("",) * width)[:width] for row in rows[1:]))


def _xlsx_rows(content: bytes, file: str) -> list[tuple[str, ...]]:
    import openpyxl  # only needed here; slow to import

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if sum(entry.file_size for entry in packed.infolist()) > MAX_UNPACKED_BYTES:
                raise _refuse("unpacks to more than is allowed. Keep only the table.", file)
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        rows = []
        for number, row in enumerate(sheet.iter_rows(values_only=True)):
            if number > MAX_ROWS:
                break
            rows.append(tuple("" if cell is None else str(cell).strip() for cell in row[: MAX_COLUMNS + 1]))
        book.close()
    except CaseError:
        raise
    except Exception as problem:
        # openpyxl raises many kinds for damaged workbooks; all mean the same to the user.
        raise _refuse(
            f"cannot be read as a workbook ({type(problem).__name__}). Save it again as XLSX or CSV.", file
        ) from None
    return rows


def match_columns(table: Table, target: Target) -> tuple[ColumnMatch, ...]:
    """Suggest a field for every column by its name; a unit in the header goes with it.

    >>> match_columns(Table(header=("Board name", "length (mm)"), rows=()), "board_types")[1].field
    'length'
    """
    fields = FIELDS[target]
    spoken = {field: re.sub(r"[^a-z0-9]+", " ", field.partition(".")[2] or field).strip() for field in fields}
    used: set[str] = set()
    matches = []
    for column in table.header:
        found = _HEADER_UNIT.match(column)
        name, unit = (found["name"], found["unit"].strip()) if found else (column, "")
        plain = re.sub(r"[^a-z0-9]+", " ", name.lower()).strip()
        free = {field: text for field, text in spoken.items() if field not in used}
        field = next((f for f, text in free.items() if plain in (text, f)), None)
        if field is None:
            near = difflib.get_close_matches(plain, free.values(), n=1, cutoff=0.72)
            field = next((f for f, text in free.items() if near and text == near[0]), None)
        if field is None:
            field = next((f for f, text in free.items() if plain and text in plain.split()), None)
        if field is not None:
            used.add(field)
        matches.append(ColumnMatch(column=column, field=field, unit=unit))
    return tuple(matches)


def _cell(field: str, text: str, unit: str) -> Any:
    if field in _FLAG_FIELDS and text.lower() in _FLAGS:
        return _FLAGS[text.lower()]
    if field in _WHOLE_FIELDS and re.fullmatch(r"\d+(\.0)?", text):
        return int(float(text))
    if field in _LIST_FIELDS:
        return [part.strip() for part in re.split(r"[;,|]", text) if part.strip()]
    if field == "components":
        # "qfn-7x7 × 4; chip-0402 × 120"
        parts = []
        for part in re.split(r"[;,|]", text):
            found = re.fullmatch(r"\s*(\S+?)\s*(?:[x×*:]\s*(\d+))?\s*", part)
            if found:
                parts.append({"kind": found[1], "count": int(found[2] or 1)})
        return parts
    if unit and re.fullmatch(r"[-+0-9. eE]+(\s*\.\.\s*[-+0-9. eE]+)*", text):
        return f"{text} {unit}"
    return text


def import_rows(case: Case, target: Target, table: Table, matches: tuple[ColumnMatch, ...]) -> Case:
    """Add a table's rows to a case; a row whose id is already there replaces that record's named fields.

    Parameters
    ----------
    case : Case
    target : "board_types" or "candidates"
    table : Table
    matches : tuple of ColumnMatch
        As suggested, or as the user changed them.

    Returns
    -------
    Case

    Raises
    ------
    CaseError
        With every problem of every row; nothing is taken over then.
    """
    content = case_content(case)
    records: list[dict[str, Any]] = content.setdefault(target, [])
    by_id = {str(record["id"]): record for record in records}
    for number, row in enumerate(table.rows, start=1):
        fresh: dict[str, Any] = {}
        for match, text in zip(matches, row, strict=True):
            if match.field is None or not text:
                continue
            section, _, name = match.field.rpartition(".")
            holder = fresh.setdefault(section, {}) if section else fresh
            holder[name] = _cell(match.field, text, match.unit)
        known = by_id.get(str(fresh.get("id", "")))
        if known is not None:
            _merge(known, fresh)
            continue
        fresh.setdefault("name", f"Row {number}")
        if "id" not in fresh:
            fresh["id"] = free_id(str(fresh["name"]), list(by_id))
        by_id[str(fresh["id"])] = fresh
        records.append(fresh)
    return check_case(validate(Case, content, "table"), "table")


def _merge(known: dict[str, Any], fresh: dict[str, Any]) -> None:
    for key, value in fresh.items():
        if isinstance(value, dict) and isinstance(known.get(key), dict):
            known[key].update(value)
        else:
            known[key] = value
