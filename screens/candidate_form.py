"""The form of one offer or of one machine class, by section; beside an offer's fields stands the range of its class."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, get_args

import streamlit as st
from pydantic import BaseModel

from catalog_schema.case import Library
from catalog_schema.machines import Availability, Candidate, Equipment, MachineClass, TraceFunction, WettedPart
from catalog_schema.quantity import Quantity
from catalog_schema.table_import import CANDIDATE_FIELDS
from screens import case_state, field_form, field_shapes, list_form, parts, rows

GENERAL, WETTED, TRACE = "General", "Wetted parts", "Traceability"
SECTIONS = {rows.words(name): name for name in Equipment.model_fields
            if field_shapes.shape_of(Equipment, name).kind == "section"}  # fmt: skip
Names = Mapping[str, Mapping[str, str]]
Says = Callable[[str, Any, Any, Mapping[str, str]], str]


def form(candidate: Candidate, library: Library, names: Names) -> None:
    """Draw what one offer states, by section."""
    own_class = next(record for record in library.machine_classes if record.id == candidate.machine_class)
    section = parts.choose("Section", [GENERAL, *SECTIONS, WETTED, TRACE], "candidate-section", buttons=True)
    if section == GENERAL:
        st.markdown(f"Class: **{parts.plain(own_class.name)}**. {parts.plain(own_class.summary)}")
    draw(candidate, f"candidates[{candidate.id}]", section, names, own_class, "class")


def draw(machine: Candidate | MachineClass, path: str, section: str, names: Names, base: MachineClass | None,
         base_word: str, says: Says | None = None) -> None:  # fmt: skip
    """Draw one section of an offer or a class.

    Parameters
    ----------
    machine : Candidate or MachineClass
    path : str
        Where it stands in the case.
    section : str
        One of GENERAL, the SECTIONS, WETTED and TRACE.
    names : mapping
        Names shown to people, by id, for fields that name another record.
    base : MachineClass or None
        What stands in where the machine is silent, or what it was copied from.
    base_word : str
        Word for it, shown beside each field.
    says : callable, optional
        Writes what the base holds for a field that now holds something else or nothing; `stands_in` when absent.
    """
    says = says or stands_in
    if section == GENERAL:
        own = [name for name in type(machine).model_fields if name not in Equipment.model_fields]
        field_form.form(machine, path, names=names, only=own)
    elif section == WETTED:
        _wetted(machine, base, path, names)
    elif section == TRACE:
        _traceability(machine, base, path, base_word, says)
    else:
        _section(machine, base, path, SECTIONS[section], names, base_word, says)


def _section(machine: Candidate | MachineClass, base: MachineClass | None, path: str, section: str, names: Names,
             base_word: str, says: Says) -> None:  # fmt: skip
    stated, bounded = getattr(machine, section), None if base is None else getattr(base, section)
    fields = list(type(stated).model_fields)
    # What offers often state stays in sight even where a class has no range for it, such as a nozzle pressure.
    usual = [name for name in fields
             if getattr(bounded, name, None) is not None or field_shapes.is_stated(stated, name)
             or f"{section}.{name}" in CANDIDATE_FIELDS]  # fmt: skip
    shown = fields
    if 0 < len(usual) < len(fields):
        which = parts.choose("Fields", ("usual", "all"), "candidate-fields", buttons=True)
        shown = usual if which != "all" else fields
    count = sum(field_shapes.is_stated(stated, name) for name in fields)
    who = "offer" if isinstance(machine, Candidate) else "class"
    st.markdown(f"The {who} states **{count}** of {len(fields)} here. Clear an entry that is not stated.")
    beside = None if base is None else (
        lambda name: says(base_word, getattr(bounded, name), getattr(stated, name), names.get(name, {})))  # fmt: skip
    field_form.form(stated, f"{path}.{section}", names=names, only=shown, beside=beside)
    field_form.basis_form(stated, f"{path}.{section}")


def stands_in(word: str, value: Any, _now: object, names: Mapping[str, str]) -> str:
    """Write what stands in for a field that is not stated, and bounds one that is: "class: 2 (1 to 3) bar"."""
    return base_says(word, value, names)


def was(word: str, value: Any, now: object, names: Mapping[str, str]) -> str:
    """Write what a field was before it was changed; nothing where it is as it was."""
    return "" if value == now else base_says(word, value, names)


def base_says(word: str, value: Any, names: Mapping[str, str]) -> str:
    """Write a value with a word before it."""
    if value is None or value == ():
        return f"{word}: none"
    if isinstance(value, Quantity):
        return f"{word}: {rows.number(value, case_state.unit_system())}"
    if isinstance(value, bool):
        return f"{word}: {'yes' if value else 'no'}"
    if isinstance(value, tuple):
        return f"{word}: {', '.join(names.get(one, str(one)) for one in value)}"
    return f"{word}: {names.get(value, str(value))}"


def _wetted(machine: Candidate | MachineClass, base: MachineClass | None, path: str, names: Names) -> None:
    if base is not None and isinstance(machine, Candidate):
        usual = base.wetted_parts or ()
        words = "; ".join(f"{part.part}: {names['material'].get(part.material, part.material)}" for part in usual)
        parts.note(parts.plain(f"Without any part stated, those of the class stand in: {words or 'none'}."))
    chosen = {name: names[name] for name in ("material", "replacement_material")}

    def said(part: BaseModel) -> str:
        claimed = getattr(part, "resistance_stated", None)
        return f"The offer claims: {claimed}" if claimed else "The offer claims no resistance."

    list_form.list_form(machine.wetted_parts or (), WettedPart, f"{path}.wetted_parts", chosen, "part",
                        said if isinstance(machine, Candidate) else None, without=("resistance_stated",))  # fmt: skip


def _traceability(machine: Candidate | MachineClass, base: MachineClass | None, path: str, base_word: str,
                  says: Says) -> None:  # fmt: skip
    usual = {} if base is None else dict(base.traceability or {})
    options = get_args(Availability)
    shapes = field_shapes.keyed_shapes(Equipment, "traceability", get_args(TraceFunction), "choice", options)
    now = dict(machine.traceability or {})
    beside = None if base is None else (lambda name: says(base_word, usual.get(name), now.get(name), {}))
    field_form.mapping_form(shapes, machine.traceability or {}, f"{path}.traceability", beside)
    price = field_shapes.shape_of(Equipment, "traceability_option_price")
    field_form.field(price, machine.traceability_option_price, f"{path}.traceability_option_price")
