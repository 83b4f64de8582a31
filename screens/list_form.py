"""A form over a list of small records without ids, such as the components on a board: change, add, remove."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any

import streamlit as st
from pydantic import BaseModel

from catalog_schema.case_edits import record_content, set_value
from screens import case_state, field_form, field_shapes, needed_form, parts, rows
from screens.field_shapes import FieldShape

Names = Mapping[str, Mapping[str, str]]
PER_ROW = 2
Said = Callable[[BaseModel], str]


def list_form(records: Sequence[BaseModel], record_class: type[BaseModel], path: str, names: Names, what: str,
              said: Said | None = None, *, without: Collection[str] = ()) -> None:  # fmt: skip
    """Draw a line per record with its entries and a button to remove it, and a form to add one.

    Parameters
    ----------
    records : sequence of BaseModel
    record_class : type
        Their class.
    path : str
        Of the list in the case.
    names : mapping
        Names shown to people, by id, for fields that name another record.
    what : str
        Word for one record, such as "component".
    said : callable, optional
        Gives what to say about a record below it.
    without : collection of str
        Fields that are not drawn.
    """
    shapes = [shape for shape in field_shapes.shapes_of(record_class) if shape.name not in without]
    field_form.meanings(shapes, path)
    for number, record in enumerate(records):
        with st.container(border=True, gap="small"):
            for start in range(0, len(shapes), PER_ROW):
                row = shapes[start : start + PER_ROW]
                last = start + PER_ROW >= len(shapes)
                places = st.columns([*(3 if shape.name in names else 2 for shape in row), 1.6],
                                    vertical_alignment="bottom")  # fmt: skip
                for place, shape in zip(places, row, strict=False):
                    _entry(place, shape, record, records, number, path, names)
                if last:
                    places[-1].button("Remove", key=f"remove-{path}-{number}-{case_state.revision()}", width="stretch",
                                      on_click=_remove, args=(records, number, path),
                                      help=f"Remove this {what}.")  # fmt: skip
            for at in [f"{path}[{number}]", *(f"{path}[{number}].{shape.name}" for shape in shapes)]:
                if (refused := case_state.refused_at(at)) is not None:
                    field_form.problem(refused)
            if said is not None:
                parts.note(parts.plain(said(record)))
    needed_form.needed_form(
        record_class, f"{path}[new]",
        lambda case, fresh: set_value(case, path, [*(record_content(record) for record in records), fresh]),
        button="Add", names=names, before=f"New {what}",
    )  # fmt: skip


def _entry(place: st.delta_generator.DeltaGenerator, shape: FieldShape, record: BaseModel,
           records: Sequence[BaseModel], number: int, path: str, names: Names) -> None:  # fmt: skip
    key = f"item-{path}-{number}-{shape.name}-{case_state.revision()}"
    value = field_shapes.stated_value(record, shape.name)
    refused = case_state.refused_at(f"{path}[{number}].{shape.name}")
    settings: dict[str, Any] = {"key": key, "on_change": _change, "args": (records, number, shape, path, key),
                                "help": parts.plain(shape.help) or None}  # fmt: skip
    if shape.name in names:
        options = list(names[shape.name])
        place.selectbox(rows.words(shape.name), options, index=options.index(value) if value in options else None,
                        format_func=lambda one: names[shape.name].get(one, one), placeholder=field_form.NOT_STATED,
                        **settings)  # fmt: skip
    else:
        shown = str(refused.given) if refused is not None else field_shapes.entry_text(value)
        place.text_input(rows.words(shape.name), value=shown, placeholder=field_form.NOT_STATED, **settings)


def _change(records: Sequence[BaseModel], number: int, shape: FieldShape, path: str, key: str) -> None:
    given = case_state.widget_value(key)
    value = field_shapes.read_entry(shape, given)
    content = [record_content(record) for record in records]
    content[number] = {name: old for name, old in content[number].items() if name != shape.name}
    if value is not None:
        content[number][shape.name] = value
    case_state.edit(lambda case: set_value(case, path, content), f"{path}[{number}].{shape.name}", given)


def _remove(records: Sequence[BaseModel], number: int, path: str) -> None:
    content = [record_content(record) for position, record in enumerate(records) if position != number]
    # An optional list without any record is not stated; a needed one is refused and says so.
    value = content or ([] if path.endswith(".components") else None)
    if case_state.edit(lambda case: set_value(case, path, value), f"{path}[{number}]"):
        case_state.forget_refused_in(f"{path}[")
        case_state.reseed()
