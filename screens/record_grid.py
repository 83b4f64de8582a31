"""The table of board types or of candidates that can be typed into."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd
import streamlit as st
from pydantic import BaseModel

from catalog_schema import Case
from screens import case_state, field_form, grid_fold, parts, rows
from screens.field_shapes import FieldShape

Names = Mapping[str, Mapping[str, str]]


@dataclass(slots=True)
class _Grid:
    """What must stay the same while a table is typed into: a table fed its own result loses entries."""

    base: pd.DataFrame | None = None
    case: Case | None = None
    number: int = 0


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
    kept = case_state.kept(f"grid-{field}", _Grid)
    key = f"grid-{field}-{kept.number}"
    # Anything but this table's own edits, and a change of screen, makes a fresh table from the case.
    if kept.base is None or kept.case is not case_state.current_case() or not case_state.is_drawn(key):
        kept.base, kept.case = grid_fold.base_table(records, columns), case_state.current_case()
        kept.number += 1
        key = f"grid-{field}-{kept.number}"
        case_state.refuse_at(f"grid-{field}", None, ())
    ids = [str(getattr(record, "id", "")) for record in records]
    st.data_editor(kept.base, hide_index=True, key=key, num_rows="fixed", on_change=_take_over,
                   args=(field, ids, columns, key),
                   column_config={path: _column(path, shape, names) for path, shape in columns.items()})  # fmt: skip
    if (refused := case_state.refused_at(f"grid-{field}")) is not None:
        field_form.problem(refused)
    parts.note("Double-click a cell to change it; cells can be copied from and to a spreadsheet. Numbers carry their "
               "unit: 160 mm, 6.5 in, 2..5 h.")  # fmt: skip


def _column(path: str, shape: FieldShape, names: Names) -> Any:
    label, needed = rows.words(path), shape.needed
    if path in names:
        shown = names[path]
        return st.column_config.SelectboxColumn(label, options=list(shown), required=needed,
                                                format_func=lambda one: shown.get(one, one))  # fmt: skip
    if shape.kind == "choice":
        return st.column_config.SelectboxColumn(label, options=list(shape.options), required=needed)
    if shape.kind == "flag":
        return st.column_config.CheckboxColumn(label)
    return st.column_config.TextColumn(label, pinned=path == "name", width="medium" if path == "name" else None)


def _take_over(field: str, ids: Sequence[str], columns: Mapping[str, FieldShape], key: str) -> None:
    state: Any = case_state.widget_value(key)
    case, refused = grid_fold.fold(case_state.current_case(), field, ids, columns, state["edited_rows"])
    case_state.edit(lambda _: case, f"grid-{field}")
    case_state.refuse_at(f"grid-{field}", None, refused)
    case_state.kept(f"grid-{field}", _Grid).case = case_state.current_case()
    # The form below shows the same record; the table itself has a key of its own and stays as it is.
    case_state.reseed()
