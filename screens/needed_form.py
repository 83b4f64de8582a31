"""A small form for a new record: what it cannot do without, stated together."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import streamlit as st
from pydantic import BaseModel

from catalog_schema import Case
from screens import case_state, field_form, field_shapes, parts
from screens.field_shapes import FieldShape

Act = Callable[[Case, dict[str, Any]], Case]
"""Puts what was stated into a case."""
PER_ROW = 2


def needed_form(record: type[BaseModel], at: str, act: Act, *, button: str, names: field_form.Names | None = None,
                before: str = "") -> None:  # fmt: skip
    """Draw one entry for each field that a record cannot do without, and a button that states them.

    Parameters
    ----------
    record : type
        Class of the record.
    at : str
        Place under which a refusal is kept, such as `fluids[a].hansen`.
    act : callable
    button : str
        Its label.
    names : mapping, optional
        Names shown to people, by id, for fields that name another record.
    before : str
        Words before each label, such as "New component".
    """
    known = names or {}
    shapes = [shape for shape in field_shapes.shapes_of(record) if shape.needed]
    keys = {shape.name: f"new-{at}-{shape.name}-{case_state.revision()}" for shape in shapes}
    with st.form(f"add-{at}-{case_state.revision()}", border=True):
        for start in range(0, len(shapes), PER_ROW):
            row = shapes[start : start + PER_ROW]
            last = start + PER_ROW >= len(shapes)
            widths = [3 if shape.name in known else 2 for shape in row]
            places = st.columns([*widths, 1.6] if last else widths, vertical_alignment="bottom")
            for place, shape in zip(places, row, strict=False):
                label = field_shapes.field_label(shape.name)
                _entry(place, shape, f"{before}: {label.lower()}" if before else label, keys[shape.name],
                       known.get(shape.name))  # fmt: skip
            if last:
                places[-1].form_submit_button(button, width="stretch", on_click=_state, args=(at, shapes, keys, act))
        if (refused := case_state.refused_at(at)) is not None:
            field_form.problem(refused)


def _entry(place: st.delta_generator.DeltaGenerator, shape: FieldShape, label: str, key: str,
           named: Mapping[str, str] | None) -> None:  # fmt: skip
    help = parts.plain(shape.help) or None
    if named is not None or shape.kind == "choice":
        shown = dict(named) if named is not None else {one: str(one) for one in shape.options}
        place.selectbox(label, list(shown), index=None, format_func=shown.__getitem__, key=key, placeholder="choose",
                        help=help)  # fmt: skip
    else:
        place.text_input(label, key=key, help=help)


def _state(at: str, shapes: Sequence[FieldShape], keys: Mapping[str, str], act: Act) -> None:
    read = {shape.name: field_shapes.read_entry(shape, case_state.widget_value(keys[shape.name])) for shape in shapes}
    content = {name: value for name, value in read.items() if value is not None}
    if case_state.edit(lambda case: act(case, content), at):
        case_state.reseed()
