"""Screen: every number of the plant, its tariffs, its way of counting money, its site and its own musts."""

from __future__ import annotations

import streamlit as st

from catalog_schema.case_edits import set_value
from catalog_schema.library import library_for
from catalog_schema.plant import FieldFailures, Finance, Plant
from catalog_schema.quantity import Number, Ratio
from screens import case_state, field_form, field_shapes, needed_form, parts

SECTIONS = {
    "Plant": "plant", "Tariffs": "plant.tariffs", "Finance": "plant.finance", "Site limits": "plant.site",
    "Own musts": "plant.requirements", "Field failures": "plant.field_failures",
}  # fmt: skip
COST_GROUPS = ("labour", "energy", "fluids", "water", "service", "parts", "floor")


def page() -> None:
    """Draw the screen."""
    parts.header("Edit the plant", "Type numbers with their unit, metric or US, in any currency with a rate: "
                 "`40 psi`, `2..5 bar`, `2..3..5 bar`. Leave empty what is not stated.")  # fmt: skip
    case = case_state.current_case()
    key = f"field-name-{case_state.revision()}"
    st.text_input("Name of the case", value=case.name, key=key, on_change=_rename, args=(key,))
    if (refused := case_state.refused_at("name")) is not None:
        field_form.problem(refused)
    section = parts.choose("Section", list(SECTIONS), "plant-section", buttons=True)
    path = SECTIONS[section]
    plant = case.plant
    if section == "Plant":
        field_form.form(plant, path)
        _exchange_rates()
        field_form.basis_form(plant, path)
    elif section == "Finance":
        machines = {record.id: record.name for record in (*case.candidates, *library_for(case).machine_classes)}
        field_form.form(plant.finance, path, names={"reference": machines})
        st.subheader("Inflation of a group of costs")
        parts.note("Where none is given the general inflation holds.")
        shapes = field_shapes.keyed_shapes(Finance, "inflation_per_line", COST_GROUPS, "quantity", quantity=Ratio)
        field_form.mapping_form(shapes, plant.finance.inflation_per_line, f"{path}.inflation_per_line")
        field_form.basis_form(plant.finance, path)
    elif section == "Field failures":
        _field_failures(plant.field_failures)
    else:
        record = {"Tariffs": plant.tariffs, "Site limits": plant.site, "Own musts": plant.requirements}[section]
        field_form.form(record, path)
        field_form.basis_form(record, path)


def _rename(key: str) -> None:
    given = case_state.widget_value(key)
    case_state.edit(lambda case: set_value(case, "name", given), "name", given)


def _exchange_rates() -> None:
    st.subheader("Exchange rates")
    plant = case_state.current_case().plant
    parts.note(f"How many {plant.currency} one unit of the other currency is. Clear a rate to take it out.")
    shapes = field_shapes.keyed_shapes(Plant, "exchange_rates", list(plant.exchange_rates), "quantity", quantity=Number)
    field_form.mapping_form(shapes, plant.exchange_rates, "plant.exchange_rates")
    keys = (f"new-currency-{case_state.revision()}", f"new-rate-{case_state.revision()}")
    with st.form(f"add-rate-{case_state.revision()}"):
        code, rate, button = st.columns([2, 2, 1.4], vertical_alignment="bottom")
        code.text_input("Other currency, three letters", key=keys[0])
        rate.text_input("Its rate", key=keys[1], help="Such as 0.92, or a range 0.86..0.92..0.98.")
        button.form_submit_button("Add", on_click=_add_rate, args=keys)
        if (refused := case_state.refused_at("plant.exchange_rates[new]")) is not None:
            field_form.problem(refused)


def _add_rate(code_key: str, rate_key: str) -> None:
    code = str(case_state.widget_value(code_key) or "").strip().upper()
    rate = str(case_state.widget_value(rate_key) or "").strip()
    rates = case_state.current_case().plant.exchange_rates
    others = {name: old.model_dump(mode="json", exclude_unset=True) for name, old in rates.items()}
    if case_state.edit(lambda case: set_value(case, "plant.exchange_rates", others | {code: rate}),
                       "plant.exchange_rates[new]"):  # fmt: skip
        case_state.reseed()


def _field_failures(record: FieldFailures | None) -> None:
    path = SECTIONS["Field failures"]
    parts.note("Optional: what boards that were not clean cost later, by the plant's own numbers.")
    if record is not None:
        field_form.form(record, path)
        field_form.basis_form(record, path)
        st.button("Take field failures out", on_click=_no_failures)
    else:
        # Both numbers are needed together, so they are entered together.
        needed_form.needed_form(FieldFailures, path, lambda case, content: set_value(case, path, content),
                                button="State both")  # fmt: skip


def _no_failures() -> None:
    path = SECTIONS["Field failures"]
    if case_state.edit(lambda case: set_value(case, path, None), path):
        case_state.reseed()
