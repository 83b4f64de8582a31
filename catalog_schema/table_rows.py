"""Rows of a table taken over as board types or candidates; what is wrong is said with its row and column."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from catalog_schema.boards import BoardType
from catalog_schema.case import Case
from catalog_schema.case_edits import free_id
from catalog_schema.errors import CaseError, Problem
from catalog_schema.files import case_content, check_case, starter_board, starter_peak
from catalog_schema.library import library_for
from catalog_schema.parsing import validate
from catalog_schema.table_cells import cell_value, names_of, size_cell
from catalog_schema.table_import import ColumnMatch, Table, Target

NEEDED = tuple(name for name, info in BoardType.model_fields.items()
               if info.is_required() and name not in ("id", "name"))  # fmt: skip
"""What a board type cannot do without."""
PEAK = "peak_reflow_temperature"


def import_rows(case: Case, target: Target, table: Table, matches: Sequence[ColumnMatch],
                standing_in: Mapping[str, Any] | None = None) -> Case:  # fmt: skip
    """Add a table's rows to a case; a row whose id is already there replaces that record's named fields.

    Parameters
    ----------
    case : Case
    target : "board_types" or "candidates"
    table : Table
    matches : sequence of ColumnMatch
        As suggested, or as the user changed them.
    standing_in : mapping, optional
        Board types only: what the user chose for fields that a new row leaves empty, such as the alloy; sizes, times
        and the reflow peak are then filled from the starter board, with its basis. None fills nothing.

    Returns
    -------
    Case

    Raises
    ------
    CaseError
        With every problem of every row, each with its row and column; nothing is taken over then.
    """
    most = next(rule.max_length for rule in Case.model_fields[target].metadata if hasattr(rule, "max_length"))
    if len(table.rows) > most:
        message = f"{len(table.rows)} rows are more than the {most} that a case may hold. Split the table."
        raise CaseError([Problem(file="table", path="", message=message)])
    rows = _read_rows(case, target, table, matches)
    content = case_content(case)
    records: list[dict[str, Any]] = content.setdefault(target, [])
    by_id = {str(record["id"]): record for record in records}
    row_of: dict[str, int] = {}
    for position, fresh in enumerate(rows):
        known = by_id.get(str(fresh.get("id", "")))
        if known is not None:
            _merge(known, fresh)
            row_of[str(known["id"])] = position
            continue
        fresh.setdefault("name", f"Row {table.number_of(position)}")
        if "id" not in fresh:
            fresh["id"] = free_id(str(fresh["name"]), list(by_id))
        if standing_in is not None:
            _fill(fresh, standing_in)
        by_id[str(fresh["id"])] = fresh
        row_of[str(fresh["id"])] = position
        records.append(fresh)
    try:
        return check_case(validate(Case, content, "table"), "table")
    except CaseError as refused:
        raise CaseError([_placed(problem, target, table, matches, row_of) for problem in refused.problems]) from None


def missing_fields(case: Case, table: Table, matches: Sequence[ColumnMatch]) -> dict[str, int]:
    """Count, for each field that a board type cannot do without, the new rows that leave it empty.

    Parameters
    ----------
    case : Case
    table : Table
    matches : sequence of ColumnMatch

    Returns
    -------
    dict of str to int
        Only fields that are missing somewhere.

    Raises
    ------
    CaseError
        When a cell cannot be read at all.
    """
    known = {record.id for record in case.board_types}
    fresh = [row for row in _read_rows(case, "board_types", table, matches) if str(row.get("id", "")) not in known]
    counts = {field: sum(field not in row for row in fresh) for field in NEEDED}
    return {field: count for field, count in counts.items() if count}


def _read_rows(case: Case, target: Target, table: Table, matches: Sequence[ColumnMatch]) -> list[dict[str, Any]]:
    names = names_of(library_for(case))
    problems: list[Problem] = []
    rows = []
    for position, row in enumerate(table.rows):
        fresh: dict[str, Any] = {}
        for match, text in zip(matches, row, strict=True):
            if match.field is None or not text:
                continue
            if match.field == "size" and target == "board_types":
                try:
                    fresh |= size_cell(text, match.unit) | fresh
                except ValueError as problem:
                    problems.append(_at(table, position, match.column, str(problem)))
                continue
            section, _, name = match.field.rpartition(".")
            holder = fresh.setdefault(section, {}) if section else fresh
            holder[name] = cell_value(match.field, text, match.unit, names)
        rows.append(fresh)
    if problems:
        raise CaseError(problems)
    return rows


def _fill(fresh: dict[str, Any], chosen: Mapping[str, Any]) -> None:
    """Fill what a new board type lacks, and say in its note what was filled."""
    usual = {name: value for name, value in starter_board().items() if name not in ("id", "name")} | dict(chosen)
    filled = [name for name in NEEDED if name not in fresh and name in usual]
    fresh |= {name: usual[name] for name in filled}
    if PEAK not in fresh and "alloy" in fresh:
        try:
            fresh[PEAK] = starter_peak(str(fresh["alloy"]))
            filled.append(PEAK)
        except KeyError:
            return  # an alloy that is none is refused with its own sentence
    if filled:
        words = ", ".join(name.replace("_", " ") for name in filled)
        fresh.setdefault("note", f"Not in the table and filled on import, replace by your own: {words}.")


def _merge(known: dict[str, Any], fresh: dict[str, Any]) -> None:
    for key, value in fresh.items():
        if isinstance(value, dict) and isinstance(known.get(key), dict):
            known[key].update(value)
        else:
            known[key] = value


def _at(table: Table, position: int, column: str, message: str) -> Problem:
    place = f"row {table.number_of(position)}" + (f", column {column[:60]!r}" if column else "")
    return Problem(file="table", path=place, message=message)


def _placed(problem: Problem, target: Target, table: Table, matches: Sequence[ColumnMatch],
            row_of: Mapping[str, int]) -> Problem:  # fmt: skip
    """Say where in the table a problem of the case comes from, where it comes from the table at all."""
    found = re.match(rf"{target}\[([^\]]*)\]\.?(.*)", problem.path)
    position = None if found is None else row_of.get(found[1])
    if found is None or position is None:
        return problem
    # A size feeds two or three fields from one column.
    feeds = {"size": ("length", "width", "thickness")}
    fitting = [match for match in matches if match.field is not None
               and any(re.match(rf"{re.escape(name)}($|[.\[])", found[2])
                       for name in (match.field, *feeds.get(match.field, ())))]  # fmt: skip
    if fitting and not problem.message.startswith("is missing"):
        return _at(table, position, fitting[0].column, problem.message)
    field = found[2].replace("_", " ")
    return _at(table, position, "", f"{field}: {problem.message}" if field else problem.message)
