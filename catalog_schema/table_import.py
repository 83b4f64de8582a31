"""A table from a spreadsheet: pasted text, CSV or XLSX, its columns matched to fields by name."""

from __future__ import annotations

import csv
import difflib
import io
import re
import zipfile
from dataclasses import dataclass
from typing import Literal

from catalog_schema.errors import CaseError, Problem

MAX_ROWS = 10_000
MAX_COLUMNS = 200
MAX_UNPACKED_BYTES = 60_000_000

Target = Literal["board_types", "candidates"]

BOARD_FIELDS = (
    "id", "name", "size", "length", "width", "thickness", "volume", "lot_size", "alloy", "flux",
    "peak_reflow_temperature", "wait_before_wash", "components", "clear_distance", "populated_sides", "parts",
    "max_temperature", "cleared_share_needed", "uncleaned_allowed", "coated", "ionic_limit", "moisture_limit",
    "withstand_voltage", "capacitance", "note",
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

ALIASES: dict[str, tuple[str, ...]] = {
    "name": ("board", "assembly", "board type", "board name", "offer"),
    "size": ("board size", "dimensions", "length x width", "l x w", "size l x w"),
    "volume": ("yearly volume", "annual volume", "volume per year", "boards per year", "quantity per year",
               "qty year", "qty per year", "pcs per year", "pieces per year", "monthly volume", "boards per month"),
    "lot_size": ("lot", "batch", "batch size"),
    "components": ("tightest component", "component", "tightest part", "package", "tightest package"),
    "flux": ("flux type", "flux kind", "flux designator"),
    "alloy": ("solder", "solder alloy"),
    "peak_reflow_temperature": ("reflow peak", "peak temperature", "peak"),
    "thickness": ("board thickness",),
    "machine_class": ("class", "kind of machine"),
    "prices.purchase": ("price", "purchase price"),
}  # fmt: skip
"""What else people write above a column."""
_HEADER_UNITS = (
    re.compile(r"^(?P<name>.*?)[\s_]*[(\[](?P<unit>[^)\]]+)[)\]]\s*$"),
    re.compile(r"^(?P<name>.+?)[\s_,]+(?:in\s+)?(?P<unit>mm|cm|inch|µm|um|°C|degC|°F|degF|h|min|bar|psi)\s*$"),
)
_YEARLY, _MONTHLY = re.compile(r"year|annual", re.IGNORECASE), re.compile(r"month", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table as read: a header and rows of text."""

    header: tuple[str, ...]
    """Column names."""
    rows: tuple[tuple[str, ...], ...]
    """Cells as text, one row per record."""
    numbers: tuple[int, ...] = ()
    """Number of each row in the spreadsheet; without, they follow the header in row 1."""

    def number_of(self, row: int) -> int:
        """Give the number in the spreadsheet of the row at a position."""
        return self.numbers[row] if self.numbers else row + 2


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
    numbers = [number for number, row in enumerate(rows, start=1) if any(row)]
    rows = [row for row in rows if any(row)]
    if len(rows) < 2:
        raise _refuse("needs a header and at least one row below it.", file)
    if len(rows) - 1 > MAX_ROWS or len(rows[0]) > MAX_COLUMNS:
        raise _refuse(
            f"has {len(rows) - 1} rows and {len(rows[0])} columns; {MAX_ROWS} × {MAX_COLUMNS} are allowed.", file
        )
    width = len(rows[0])
    cells = tuple((row + ("",) * width)[:width] for row in rows[1:])
    return Table(header=rows[0], rows=cells, numbers=tuple(numbers[1:]))


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
        name, unit = _name_and_unit(column)
        plain = re.sub(r"[^a-z0-9]+", " ", name.lower().replace("×", "x")).strip()
        free = {field: text for field, text in spoken.items() if field not in used}
        field = next((f for f, text in free.items() if plain in (text, f, *ALIASES.get(f, ()))), None)
        if field is None:
            near = difflib.get_close_matches(plain, free.values(), n=1, cutoff=0.72)
            field = next((f for f, text in free.items() if near and text == near[0]), None)
        if field is None:
            field = next((f for f, text in free.items() if plain and text in plain.split()), None)
        if field is not None:
            used.add(field)
        if field == "volume" and not unit:
            unit = "boards/month" if _MONTHLY.search(name) else "boards/year" if _YEARLY.search(name) else ""
        matches.append(ColumnMatch(column=column, field=field, unit=unit))
    return tuple(matches)


def _name_and_unit(column: str) -> tuple[str, str]:
    for pattern in _HEADER_UNITS:
        found = pattern.match(column)
        if found:
            return found["name"], found["unit"].strip()
    return column, ""
