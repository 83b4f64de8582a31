"""The table of board types or of candidates that can be typed into."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st
from pydantic import BaseModel

from screens import case_state, field_form, grid_fold, parts, rows, typed_table
from screens.field_shapes import FieldShape

Names = Mapping[str, Mapping[str, str]]


def grid(field: str, records: Sequence[BaseModel], model: type[BaseModel], paths: Sequence[str], names: Names) -> None:
    """Draw the table; cells typed in reach the case at once.

    Parameters
    ----------
    field : str
        "board_types" or "candidates".
    records : sequence of BaseModel
    model : type
        Their class.
    paths : sequence of str
        Columns, such as `name` or `prices.purchase`.
    names : mapping
        Names shown to people, by id, for columns that name another record.
    """
    columns = {path: grid_fold.column_shape(model, path) for path in paths}
    base, key = typed_table.base_and_key(f"grid-{field}", lambda: grid_fold.base_table(records, columns))
    ids = [str(getattr(record, "id", "")) for record in records]
    st.data_editor(base, hide_index=True, key=key, num_rows="fixed", on_change=_take_over,
                   args=(field, ids, columns, key),
                   column_config={path: _column(path, shape, names) for path, shape in columns.items()})  # fmt: skip
    if (refused := case_state.refused_at(f"grid-{field}")) is not None:
        field_form.problem(refused)
    parts.note("Double-click a cell to change it; cells can be copied from and to a spreadsheet. Numbers carry their "
               "unit: 160 mm, 6.5 in, 2..5 h.")  # fmt: skip


def _column(path: str, shape: FieldShape, names: Names) -> Any:
    label, needed, explained = rows.words(path), shape.needed, parts.plain(shape.help) or None
    if path in names:
        shown = names[path]
        return st.column_config.SelectboxColumn(label, options=list(shown), required=needed, help=explained,
                                                format_func=lambda one: shown.get(one, one))  # fmt: skip
    if shape.kind == "choice":
        return st.column_config.SelectboxColumn(label, options=list(shape.options), required=needed, help=explained)
    if shape.kind == "flag":
        return st.column_config.CheckboxColumn(label, help=explained)
    return st.column_config.TextColumn(label, pinned=path == "name", width="medium" if path == "name" else None,
                                       help=explained)  # fmt: skip


def _take_over(field: str, ids: Sequence[str], columns: Mapping[str, FieldShape], key: str) -> None:
    edited = typed_table.edited_rows(key)
    case, refused = grid_fold.fold(case_state.current_case(), field, ids, columns, edited)
    case_state.edit(lambda _: case, f"grid-{field}")
    typed_table.taken_over(f"grid-{field}", refused)
    # The form below shows the same record; the table itself has a key of its own and stays as it is.
    case_state.reseed()
