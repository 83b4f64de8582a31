"""Screen: the offers on the table, what each states, and the range of its class beside every field."""

from __future__ import annotations

from typing import Any

import streamlit as st

from catalog_schema.library import library_for
from catalog_schema.machines import Candidate, Prices
from screens import (
    candidate_form,
    case_state,
    field_form,
    field_shapes,
    import_panel,
    parts,
    record_actions,
    record_grid,
)

COLUMNS = ("name", "machine_class", "supplier", "offer_date", "count", "spray.nozzle_pressure", "wash.max_time",
           "prices.purchase", "prices.installation", "prices.service_per_year", "note")  # fmt: skip


def page() -> None:
    """Draw the screen."""
    parts.header("Edit offers", "What each offer states. What it leaves out stays empty: then the range of its class "
                 "stands in, and the answer is less certain for it.")  # fmt: skip
    case = case_state.current_case()
    library = library_for(case)
    names = {
        "machine_class": {record.id: record.name for record in library.machine_classes},
        "fluids": {record.id: record.name for record in library.fluids},
        "material": {record.id: record.name for record in library.wetted_materials},
        "replacement_material": {record.id: record.name for record in library.wetted_materials},
    }
    if case.candidates:
        record_grid.grid("candidates", case.candidates, Candidate, COLUMNS, names)
    with st.expander("Add an offer", expanded=not case.candidates):
        _adding(names["machine_class"])
    import_panel.panel("candidates", "offers")
    if not case.candidates:
        st.info("This case has no offers yet. Add one above.", icon="ℹ️")
        return
    st.header("One offer")
    by_id = {record.id: record for record in case.candidates}
    chosen = record_actions.choose_record("candidates", {one.id: one.name for one in case.candidates}, "Offer")
    candidate_form.form(by_id[chosen], library, names)
    parts.caution()


def _adding(classes: dict[str, str]) -> None:
    revision = case_state.revision()
    keys = {name: f"new-offer-{name}-{revision}" for name in ("name", "machine_class", "supplier", "purchase")}
    with st.form(f"new-offer-{revision}", border=False):
        left, right = st.columns(2, gap="medium")
        left.text_input("Name of the offer", key=keys["name"])
        right.selectbox("Machine class", list(classes), index=None, format_func=classes.__getitem__,
                        key=keys["machine_class"], placeholder="choose")  # fmt: skip
        left.text_input("Supplier", key=keys["supplier"], placeholder=field_form.NOT_STATED)
        right.text_input("Purchase price", key=keys["purchase"], placeholder=field_form.NOT_STATED,
                         help=parts.plain(field_shapes.shape_of(Prices, "purchase").help))  # fmt: skip
        st.form_submit_button("Add offer", type="primary", on_click=_add, args=(keys,))
        if (refused := case_state.refused_at("add-candidates")) is not None:
            field_form.problem(refused)


def _add(keys: dict[str, str]) -> None:
    given = {name: str(case_state.widget_value(key) or "").strip() for name, key in keys.items()}
    missing = [label for name, label in (("name", "a name"), ("machine_class", "its class")) if not given[name]]
    if missing:
        case_state.refuse_at("add-candidates", given["name"], [f"Still needed: {', '.join(missing)}."])
        return
    content: dict[str, Any] = {"machine_class": given["machine_class"]}
    if given["supplier"]:
        content["supplier"] = given["supplier"]
    if given["purchase"]:
        content["prices"] = {"purchase": given["purchase"]}
    case = case_state.current_case()
    # A class and an offer may not share an id, so the ids of classes are taken too.
    taken = [*(record.id for record in case.candidates),
             *(record.id for record in library_for(case).machine_classes)]  # fmt: skip
    record_actions.add("candidates", given["name"], content, taken)
