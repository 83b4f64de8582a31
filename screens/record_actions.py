"""Choosing one board type or candidate, and duplicating or deleting it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from catalog_schema.case_edits import add_record, duplicate_record, free_id, remove_record
from screens import case_state, field_form, parts


def choose_record(field: str, names: Mapping[str, str], label: str, place: str = "") -> str:
    """Let the person choose a record, and duplicate or delete it; give its id."""
    chooser, duplicate, delete = st.columns([4, 1.2, 1.2], vertical_alignment="bottom")
    with chooser:
        chosen = parts.choose(label, list(names), f"edited-{field}", shown=lambda one: names.get(one, one))
    duplicate.button("Duplicate", on_click=_duplicate, args=(field, chosen), width="stretch")
    delete.button("Delete", on_click=_delete, args=(field, chosen), width="stretch", help="Undo brings it back.")
    if (refused := case_state.refused_at(f"delete-{field}")) is not None:
        field_form.problem(refused)
    return chosen


def _duplicate(field: str, chosen: str) -> None:
    case, new_id = duplicate_record(case_state.current_case(), field, chosen)
    case_state.edit(lambda _: case, f"delete-{field}")
    case_state.remember(f"edited-{field}", new_id)
    case_state.reseed()


def _delete(field: str, chosen: str) -> None:
    if case_state.edit(lambda case: remove_record(case, field, chosen), f"delete-{field}"):
        case_state.forget_refused_in(f"{field}[{chosen}]")
        case_state.reseed()


def add(field: str, name: str, content: Mapping[str, Any], taken: Sequence[str]) -> None:
    """Add a record under a free id and choose it; when it is refused, say why where it was asked for."""
    record = {"id": free_id(name, list(taken)), "name": name} | dict(content)
    if case_state.edit(lambda case: add_record(case, field, record), f"add-{field}"):
        case_state.remember(f"edited-{field}", record["id"])
        case_state.reseed()
