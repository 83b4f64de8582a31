"""A table of records to type in: its cells as text, and the edited cells folded into the case; no Streamlit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd
from pydantic import BaseModel

from catalog_schema import Case, CaseError
from catalog_schema.case_edits import set_value
from screens import field_shapes
from screens.field_shapes import FieldShape


def column_shape(model: type[BaseModel], path: str) -> FieldShape:
    """Give the shape of a field inside a record's sections, such as `spray.nozzle_pressure`."""
    section, _, name = path.rpartition(".")
    owner = model
    for step in filter(None, section.split(".")):
        owner = type(owner.model_fields[step].get_default(call_default_factory=True))
    return field_shapes.shape_of(owner, name)


def _cell(record: BaseModel, path: str, shape: FieldShape) -> Any:
    *sections, name = path.split(".")
    for step in sections:
        record = getattr(record, step)
    if shape.kind in ("flag", "choice"):
        return getattr(record, name)
    return field_shapes.entry_text(field_shapes.stated_value(record, name))


def base_table(records: Sequence[BaseModel], columns: Mapping[str, FieldShape]) -> pd.DataFrame:
    """Write records as a table of entries, one column per path."""
    content = {path: [_cell(record, path, shape) for record in records] for path, shape in columns.items()}
    return pd.DataFrame(content, columns=list(columns), dtype=object)


def fold(case: Case, field: str, ids: Sequence[str], columns: Mapping[str, FieldShape],
         edited: Mapping[int, Mapping[str, Any]]) -> tuple[Case, list[str]]:  # fmt: skip
    """Put edited cells into a case; a cell that is refused leaves its field as it was.

    Parameters
    ----------
    case : Case
    field : str
        "board_types" or "candidates".
    ids : sequence of str
        Ids of the rows, in the order of the table.
    columns : mapping of str to FieldShape
    edited : mapping
        Row number to column to new value, as the table reports it: all edits since it was drawn first.

    Returns
    -------
    (Case, list of str)
        The case with all cells that were accepted, and why the others were not.
    """
    refused = []
    for row, cells in edited.items():
        for path, given in cells.items():
            value = field_shapes.read_entry(columns[path], given)
            try:
                case = set_value(case, f"{field}[{ids[int(row)]}].{path}", value)
            except CaseError as problem:
                name = next(record.name for record in getattr(case, field) if record.id == ids[int(row)])
                entry = "left empty" if value is None else f"{str(given)[:60]!r}"
                refused += [f"{name}, {path.replace('_', ' ')} {entry}: {one.message}" for one in problem.problems[:2]]
    return case, refused
