"""The form of one offer, by section, with the range of its class beside every field."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

import streamlit as st
from pydantic import BaseModel

from catalog_schema.case import Library
from catalog_schema.machines import Availability, Candidate, Equipment, MachineClass, TraceFunction, WettedPart
from catalog_schema.quantity import Quantity
from catalog_schema.table_import import CANDIDATE_FIELDS
from screens import case_state, field_form, field_shapes, list_form, parts, rows

GENERAL, WETTED, TRACE = "Offer", "Wetted parts", "Traceability"
SECTIONS = {rows.words(name): name for name in Equipment.model_fields
            if field_shapes.shape_of(Equipment, name).kind == "section"}  # fmt: skip


def form(candidate: Candidate, library: Library, names: dict[str, dict[str, str]]) -> None:
    """Draw what one offer states, by section."""
    path = f"candidates[{candidate.id}]"
    own_class = next(record for record in library.machine_classes if record.id == candidate.machine_class)
    section = parts.choose("Section", [GENERAL, *SECTIONS, WETTED, TRACE], "candidate-section", buttons=True)
    if section == GENERAL:
        st.markdown(f"Class: **{parts.plain(own_class.name)}**. {parts.plain(own_class.summary)}")
        own = [name for name in Candidate.model_fields if name not in Equipment.model_fields]
        field_form.form(candidate, path, names=names, only=own)
    elif section == WETTED:
        _wetted(candidate, own_class, path, names)
    elif section == TRACE:
        _traceability(candidate, own_class, path)
    else:
        _section(candidate, own_class, path, SECTIONS[section], names)


def _section(candidate: Candidate, own_class: MachineClass, path: str, section: str,
             names: dict[str, dict[str, str]]) -> None:  # fmt: skip
    stated, bounded = getattr(candidate, section), getattr(own_class, section)
    fields = list(type(stated).model_fields)
    # What offers often state stays in sight even where a class has no range for it, such as a nozzle pressure.
    usual = [name for name in fields
             if getattr(bounded, name) is not None or field_shapes.is_stated(stated, name)
             or f"{section}.{name}" in CANDIDATE_FIELDS]  # fmt: skip
    shown = fields
    if 0 < len(usual) < len(fields):
        which = parts.choose("Fields", ("usual", "all"), "candidate-fields", buttons=True)
        shown = usual if which != "all" else fields
    count = sum(field_shapes.is_stated(stated, name) for name in fields)
    st.markdown(f"The offer states **{count}** of {len(fields)} here. Clear an entry that is not stated.")
    field_form.form(stated, f"{path}.{section}", names=names, only=shown,
                    beside=lambda name: class_says(getattr(bounded, name), names.get(name, {})))  # fmt: skip
    field_form.basis_form(stated, f"{path}.{section}")


def class_says(value: Any, names: Mapping[str, str]) -> str:
    """Write what the class holds for a field."""
    if value is None or value == ():
        return "class: none"
    if isinstance(value, Quantity):
        return f"class: {rows.number(value, case_state.unit_system())}"
    if isinstance(value, bool):
        return f"class: {'yes' if value else 'no'}"
    if isinstance(value, tuple):
        return f"class: {', '.join(names.get(one, str(one)) for one in value)}"
    return f"class: {value}"


def _wetted(candidate: Candidate, own_class: MachineClass, path: str, names: dict[str, dict[str, str]]) -> None:
    usual = own_class.wetted_parts or ()
    words = "; ".join(f"{part.part}: {names['material'].get(part.material, part.material)}" for part in usual)
    parts.note(parts.plain(f"Without any part stated, those of the class stand in: {words or 'none'}."))
    shapes = [shape for shape in field_shapes.shapes_of(WettedPart) if shape.name != "resistance_stated"]
    chosen = {name: names[name] for name in ("material", "replacement_material")}

    def said(part: BaseModel) -> str:
        claimed = getattr(part, "resistance_stated", None)
        return f"The offer claims: {claimed}" if claimed else "The offer claims no resistance."

    list_form.list_form(candidate.wetted_parts or (), f"{path}.wetted_parts", shapes, chosen, "part", said)


def _traceability(candidate: Candidate, own_class: MachineClass, path: str) -> None:
    usual = own_class.traceability or {}
    options = get_args(Availability)
    shapes = field_shapes.keyed_shapes(Equipment, "traceability", get_args(TraceFunction), "choice", options)
    field_form.mapping_form(shapes, candidate.traceability or {}, f"{path}.traceability",
                            lambda name: class_says(dict(usual).get(name), {}))  # fmt: skip
    price = field_shapes.shape_of(Equipment, "traceability_option_price")
    field_form.field(price, candidate.traceability_option_price, f"{path}.traceability_option_price")
