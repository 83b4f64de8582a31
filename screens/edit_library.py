"""Screen: the generic knowledge behind every case, and the case's own records in its place or beside it."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st
from pydantic import BaseModel

from catalog_schema.case_edits import LISTS, copy_from_library
from catalog_schema.library import library_for, load_library
from catalog_schema.quantity import Quantity
from screens import case_state, constants_form, field_form, library_form, parts, record_actions, rows, tables
from screens.field_shapes import field_label

KINDS = {
    "Component kinds": "component_kinds", "Flux kinds": "flux_kinds", "Fluids": "fluids",
    "Wetted materials": "wetted_materials", "Board parts": "board_parts", "Machine classes": "machine_classes",
    "Model constants": "constants",
}  # fmt: skip
IN_PLACE, NEW = "in place of the one here", "as a new one beside it"


def page() -> None:
    """Draw the screen."""
    parts.header("Edit the library", "Generic knowledge that every case starts from. Copy a record into this case to "
                 "change it; the shipped one stays as it is for other cases.")  # fmt: skip
    kind = parts.choose("Kind of record", list(KINDS), "library-kind", buttons=True)
    field = KINDS[kind]
    if field == "constants":
        constants_form.form()
        return
    case = case_state.current_case()
    library = library_for(case)
    own = {record.id: record for record in getattr(case, field)}
    records = getattr(library, field)
    frame = listed(records, field, case_state.unit_system(), own)
    st.markdown(f"This case works with **{len(records)}**, of which **{len(own)}** are its own.")
    tables.grid(frame, name=field.replace("_", "-"), height=280)
    with st.expander("Copy one into this case and change it", expanded=not own):
        _copying(field, {record.id: record.name for record in records}, own)
    if not own:
        st.info(f"This case has no {LISTS[field]} of its own yet. Copy one above.", icon="ℹ️")
        return
    st.header("One of this case")
    chosen = record_actions.choose_record(field, {name: record.name for name, record in own.items()},
                                          LISTS[field].capitalize())  # fmt: skip
    if any(record.id == chosen for record in getattr(load_library(), field)):
        parts.note("It stands in place of the shipped one. Delete it to take the shipped one again.")
    library_form.form(own[chosen], field, library)
    parts.caution()


def listed(records: tuple[BaseModel, ...], field: str, system: str, own: dict[str, Any]) -> pd.DataFrame:
    """List the records of one kind with where each comes from and what it says in single values."""
    shipped = {record.id for record in getattr(load_library(), field)}
    found = []
    for record in records:
        here = str(getattr(record, "id", ""))
        source = "shipped" if here not in own else "this case, in place of shipped" if here in shipped else "this case"
        row = {"Name": getattr(record, "name", here), "From": source, "Short name": here}
        for name in type(record).model_fields:
            value = getattr(record, name)
            if isinstance(value, Quantity):
                row[field_label(name)] = rows.number(value, system)
            elif name not in ("id", "name", "note") and isinstance(value, (str, bool)):
                row[field_label(name)] = {True: "yes", False: "no"}[value] if isinstance(value, bool) else value
        found.append(row)
    return pd.DataFrame(found).fillna("")


def _copying(field: str, names: dict[str, str], own: dict[str, Any]) -> None:
    revision = case_state.revision()
    keys = {part: f"copy-{part}-{field}-{revision}" for part in ("record", "how", "name")}
    with st.form(f"copy-{field}-{revision}", border=False):
        left, right = st.columns(2, gap="medium")
        left.selectbox(f"{LISTS[field].capitalize()} to copy", list(names), index=None, key=keys["record"],
                       format_func=names.__getitem__, placeholder="choose")  # fmt: skip
        right.text_input("Name of the copy", key=keys["name"], max_chars=120,
                         help="Needed for a new one; in place of the one here the name stays.")  # fmt: skip
        left.radio("Put it", (NEW, IN_PLACE), key=keys["how"])
        st.form_submit_button("Copy into this case", type="primary", on_click=_copy, args=(field, keys))
        if (refused := case_state.refused_at(f"copy-{field}")) is not None:
            field_form.problem(refused)


def _copy(field: str, keys: dict[str, str]) -> None:
    at = f"copy-{field}"
    given = {part: str(case_state.widget_value(key) or "").strip() for part, key in keys.items()}
    as_new = given["how"] == NEW
    missing = [label for label, lacks in (
        ("what to copy", not given["record"]), ("a name for the copy", as_new and not given["name"]),
    ) if lacks]  # fmt: skip
    if missing:
        case_state.refuse_at(at, given["name"], [f"Still needed: {' and '.join(missing)}."])
        return
    copied: list[str] = []

    def act(case: Any) -> Any:
        grown, copy = copy_from_library(case, field, given["record"], given["name"] if as_new else "")
        copied.append(copy)
        return grown

    if case_state.edit(act, at):
        case_state.remember(f"edited-{field}", copied[0])
        case_state.reseed()
