"""Panel: board types or candidates from a spreadsheet, pasted or as a file, its columns matched by the person."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd
import streamlit as st

from catalog_schema import CaseError
from catalog_schema.table_import import FIELDS, ColumnMatch, Table, Target, match_columns, read_table
from catalog_schema.table_rows import import_rows, missing_fields
from screens import case_state, field_form, gap_filling, parts, rows

PREVIEW_ROWS = 8
PER_ROW = 3
LEFT_OUT = "leave out"
EXTRA: dict[Target, str] = {
    "board_types": "Components are written as `qfn-7x7 x 4; chip-0402 x 120` or by name. A plain parts list will do: "
                   "name, size, yearly volume, tightest component and flux; gaps can be filled below.",
    "candidates": "Empty cells are not stated.",
}  # fmt: skip
EXAMPLE = ("Name,Size (mm),Yearly volume,Tightest component,Flux\r\n"
           "Motor drive,160 x 100,12000,QFN 7 x 7 mm,ROL0\r\n")  # fmt: skip
"""A parts list to start from."""


def panel(target: Target, what: str) -> None:
    """Draw the panel for one list of the case."""
    with st.expander(f"Paste or import {what} from a spreadsheet"):
        st.markdown("The first row names the columns. A unit may stand in the heading, `length (mm)`, or in the cell, "
                    "`160 mm`. A row whose id is in the case already changes the named fields of that record. "
                    f"{EXTRA[target]}")  # fmt: skip
        if target == "board_types":
            st.download_button("Parts list to start from, as CSV", EXAMPLE.encode("utf-8-sig"), "parts-list.csv",
                               "text/csv", on_click="ignore", type="tertiary")  # fmt: skip
        key = f"import-{target}-{case_state.revision()}"
        pasted = st.text_area("Pasted cells", key=f"{key}-text", height=120,
                              help="Copy cells in the spreadsheet, paste them here and press Ctrl+Enter.")  # fmt: skip
        upload = st.file_uploader("Or a CSV or XLSX file", type=["csv", "txt", "tsv", "xlsx"], key=f"{key}-file",
                                  max_upload_size=5)  # fmt: skip
        if not pasted.strip() and upload is None:
            return
        try:
            table = read_table(upload.getvalue(), upload.name) if upload else read_table(pasted, "pasted cells")
        except CaseError as refusal:
            field_form.problem(case_state.Refused(given="", messages=tuple(str(one) for one in refusal.problems)))
            return
        _matched(target, table, key)


def _matched(target: Target, table: Table, key: str) -> None:
    st.markdown("**Which column is what**")
    matches: list[ColumnMatch] = []
    options = [LEFT_OUT, *FIELDS[target]]
    suggested = match_columns(table, target)
    for start in range(0, len(suggested), PER_ROW):
        for place, match in zip(st.columns(PER_ROW), suggested[start : start + PER_ROW], strict=False):
            number = len(matches)
            field = place.selectbox(
                parts.plain(match.column) or "no heading", options,
                index=options.index(match.field or LEFT_OUT), key=f"{key}-{number}-{match.column[:40]}",
                format_func=lambda one: one if one == LEFT_OUT else rows.words(one),
            )  # fmt: skip
            named = None if field == LEFT_OUT else str(field)
            matches.append(ColumnMatch(column=match.column, field=named, unit=match.unit))
    preview = pd.DataFrame(table.rows[:PREVIEW_ROWS])
    # Two columns of a spreadsheet may carry the same heading; a table of the page may not.
    preview.columns = pd.Index([f"{number + 1}. {name}" for number, name in enumerate(table.header)])
    st.dataframe(preview, hide_index=True, alt="First rows as read")
    more = f", the first {PREVIEW_ROWS} shown" if len(table.rows) > PREVIEW_ROWS else ""
    parts.note(f"{_rows(len(table.rows))} read{more}.")
    _take_over(target, table, tuple(matches), key)


def _take_over(target: Target, table: Table, matches: tuple[ColumnMatch, ...], key: str) -> None:
    twice = sorted({one.field for one in matches if one.field and sum(m.field == one.field for m in matches) > 1})
    if twice:
        messages = tuple(f"{rows.words(field)} stands in more than one column. Keep one." for field in twice)
        field_form.problem(case_state.Refused(given="", messages=messages))
        return
    case = case_state.current_case()
    standing_in = None
    try:
        if target == "board_types" and (lacking := missing_fields(case, table, matches)):
            standing_in = gap_filling.ask(lacking, len(table.rows), key)
        grown = import_rows(case, target, table, matches, standing_in)
    except CaseError as refusal:
        # What is missing throughout was said above; a list of it for each row would hide the wrong cells.
        said_above = target == "board_types" and standing_in is None
        _list([str(one).removeprefix("table: ") for one in refusal.problems
               if not (said_above and one.message.endswith("is missing. Add it."))])  # fmt: skip
        return
    added = len(getattr(grown, target)) - len(getattr(case, target))
    st.markdown(f"All rows are understood: **{added}** new, **{len(table.rows) - added}** changed.")
    st.button(f"Take over {_rows(len(table.rows))}", type="primary", key=f"take-over-{target}", on_click=_put,
              args=(target, table, matches, standing_in))  # fmt: skip


def _list(problems: Sequence[str]) -> None:
    if not problems:
        return
    shown = list(problems[:12])
    if len(problems) > len(shown):
        shown.append(f"and {len(problems) - len(shown)} more.")
    field_form.problem(case_state.Refused(given="", messages=tuple(shown)))


def _rows(number: int) -> str:
    return "1 row" if number == 1 else f"{number} rows"


def _put(target: Target, table: Table, matches: tuple[ColumnMatch, ...],
         standing_in: dict[str, Any] | None) -> None:  # fmt: skip
    if case_state.edit(lambda case: import_rows(case, target, table, matches, standing_in), f"import-{target}"):
        case_state.reseed()
