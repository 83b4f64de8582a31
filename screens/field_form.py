"""A form over any record: one entry per field, what was understood below it, and what is wrong right there."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any

import streamlit as st
from pydantic import BaseModel

from catalog_schema.case_edits import set_value
from catalog_schema.quantity import Quantity
from screens import case_state, explaining, field_shapes, parts, rows
from screens.field_shapes import FieldShape

NOT_STATED = "not stated"
PER_ROW = 2
NOTE = "note"
"""Longer text, which gets the whole width."""

Names = Mapping[str, Mapping[str, str]]
"""Names shown to people, by id, for the fields that name another record."""
Beside = Callable[[str], str]
"""Gives a field's name the text to stand beside it, such as the range of the class."""


def form(record: BaseModel, path: str, *, names: Names | None = None, beside: Beside | None = None,
         only: Collection[str] | None = None) -> None:  # fmt: skip
    """Draw the entries of a record's own fields; sections and lists inside it have forms of their own.

    Parameters
    ----------
    record : BaseModel
    path : str
        Where it stands in the case, such as `plant.tariffs`.
    names : mapping, optional
    beside : callable, optional
    only : collection of str, optional
        Fields to draw; all when absent.
    """
    drawn = [
        shape for shape in field_shapes.shapes_of(type(record))
        if shape.kind not in ("section", "other") and shape.name != "id" and (only is None or shape.name in only)
    ]  # fmt: skip
    meanings(drawn, path)
    notes = [shape for shape in drawn if shape.name == NOTE]
    drawn = [shape for shape in drawn if shape.name != NOTE]
    for start in range(0, len(drawn), PER_ROW):
        places = st.columns(PER_ROW, gap="medium")
        for place, shape in zip(places, drawn[start : start + PER_ROW], strict=False):
            with place.container(gap="xsmall"):
                stated = field_shapes.stated_value(record, shape.name)
                field(shape, stated, f"{path}.{shape.name}", (names or {}).get(shape.name), beside)
    for shape in notes:
        field(shape, field_shapes.stated_value(record, NOTE), f"{path}.{NOTE}")


def meanings(shapes: Sequence[FieldShape], path: str) -> None:
    """Give the button that explains the entries of a form."""
    found = [(shape.label or field_shapes.field_label(f"{path}.{shape.name}"), shape.explanation)
             for shape in shapes if shape.explanation is not None]  # fmt: skip
    explaining.entries(found, path)


def mapping_form(shapes: Sequence[FieldShape], values: Mapping[Any, Any], path: str,
                 beside: Beside | None = None) -> None:  # fmt: skip
    """Draw entries for the known keys of a mapping, such as the inflation of each group of costs."""
    for start in range(0, len(shapes), PER_ROW):
        places = st.columns(PER_ROW, gap="medium")
        for place, shape in zip(places, shapes[start : start + PER_ROW], strict=False):
            with place.container(gap="xsmall"):
                # A key that is no plain word, such as the id of an offer, stands in brackets.
                at = f".{shape.name}" if re.fullmatch(r"[A-Za-z_][A-Za-z0-9_ ]*", shape.name) else f"[{shape.name}]"
                field(shape, values.get(shape.name), f"{path}{at}", None, beside)


def field(shape: FieldShape, value: Any, path: str, names: Mapping[str, str] | None = None,
          beside: Beside | None = None) -> None:  # fmt: skip
    """Draw one entry, with what was understood or what is wrong below it."""
    refused = case_state.refused_at(path)
    key = f"field-{path}-{case_state.revision()}"
    label = shape.label or field_shapes.field_label(path)
    settings: dict[str, Any] = {
        "key": key, "help": parts.plain(shape.help) or None, "on_change": take_over, "args": (shape, path, key),
    }  # fmt: skip
    if shape.kind == "several":
        options = list(names) if names is not None else list(shape.options)
        st.multiselect(label, options, default=[one for one in value or () if one in options], placeholder=NOT_STATED,
                       format_func=lambda one: (names or {}).get(one, str(one)), **settings)  # fmt: skip
    elif shape.kind in ("choice", "flag") or names is not None:
        _choice(shape, label, value, names, settings)
    else:
        shown = str(refused.given) if refused is not None else field_shapes.entry_text(value)
        draw = st.text_area if shape.name == NOTE else st.text_input
        draw(label, value=shown, placeholder="needed" if shape.needed else NOT_STATED, **settings)
    if refused is not None:
        problem(refused)
    elif said := _understood(shape, value, beside):
        parts.note(parts.plain(said))


def _choice(shape: FieldShape, label: str, value: Any, names: Mapping[str, str] | None,
            settings: dict[str, Any]) -> None:  # fmt: skip
    if shape.kind == "flag" and not shape.needed and isinstance(shape.default, bool):
        st.checkbox(label, value=shape.default if value is None else value, **settings)
        return
    options = list(names) if names is not None else list(shape.options)
    now = {True: "yes", False: "no"}[value] if isinstance(value, bool) else value
    st.selectbox(label, options, index=options.index(now) if now in options else None, placeholder=NOT_STATED,
                 format_func=lambda one: (names or {}).get(one, str(one)), **settings)  # fmt: skip


def take_over(shape: FieldShape, path: str, key: str) -> None:
    """Write a widget's value into the case, or keep the entry with the reason why not."""
    given = case_state.widget_value(key)
    value = field_shapes.read_entry(shape, given)
    case_state.edit(lambda case: set_value(case, path, value), path, given)


def problem(refused: case_state.Refused) -> None:
    """Write why an entry was not taken over, right where it was made."""
    lines = "  \n".join(parts.plain(message) for message in refused.messages)
    st.error(f"**Not taken over.** {lines}", icon="⚠️")


def _understood(shape: FieldShape, value: Any, beside: Beside | None) -> str:
    aside = beside(shape.name) if beside is not None else ""
    if isinstance(value, Quantity):
        basis = f", {value.basis}" if value.basis else ""
        said = f"= {rows.number(value, case_state.unit_system())}{basis}"
    else:
        said = "" if value is not None else _stands_in(shape)
    return "  ·  ".join(part for part in (said, aside) if part)


def _stands_in(shape: FieldShape) -> str:
    if shape.needed:
        return "needed"
    if isinstance(shape.default, Quantity):
        return f"{NOT_STATED}: {rows.number(shape.default, case_state.unit_system())} stands in"
    if isinstance(shape.default, bool):
        return ""
    if shape.default in (None, "", ()):
        # The empty entry says so itself.
        return ""
    return f"{NOT_STATED}: {shape.default} stands in"


def basis_form(record: BaseModel, path: str) -> None:
    """Let the person say where a number of this record comes from: its basis, source and note."""
    stated = {
        name: getattr(record, name) for name in type(record).model_fields
        if isinstance(getattr(record, name), Quantity) and field_shapes.is_stated(record, name)
    }  # fmt: skip
    if not stated:
        return
    with st.expander("Where a number comes from"):
        name = parts.choose("Number", list(stated), f"basis-of-{path}", shown=rows.words)
        quantity = stated[name]
        for part in ("basis", "source", "note"):
            shape = field_shapes.shape_of(Quantity, part)
            field(shape, field_shapes.stated_value(quantity, part), f"{path}.{name}.{part}")
