"""Section of a screen: rates, tariffs and an offer's prices, each with its basis, for the reader to change."""

from __future__ import annotations

from collections.abc import Callable
from typing import get_args

import pandas as pd
import streamlit as st
from pydantic import BaseModel

from catalog_schema import Case
from catalog_schema.library import library_for
from catalog_schema.machine import machines_of
from catalog_schema.plant import Finance
from catalog_schema.quantity import Basis
from model.outcomes import MachineOutcome
from screens import case_state, finance_rows, parts, typed_table

NOTHING = "nothing"


def section(outcome: MachineOutcome) -> None:
    """Draw the assumptions of the plant and of one offer."""
    st.header("Assumptions")
    st.markdown("Change a value, for example `38 EUR/h` or `34..38..43 EUR/h`; everything is counted anew. Each change "
                "can be undone.")  # fmt: skip
    case = case_state.current_case()
    names = {machine.id: machine.name for machine in machines_of(case, library_for(case))}
    finance = case.plant.finance
    left, right = st.columns(2)
    with left:
        _choice("Savings are counted against", [NOTHING, *names], finance.reference or NOTHING, "reference",
                lambda one: names.get(one, one),
                "Today's way, or the machine that others must beat. Payback and saving count against it.")  # fmt: skip
    with right:
        rules = list(get_args(Finance.model_fields["depreciation"].annotation))
        _choice("Depreciation", rules, finance.depreciation, "depreciation", str,
                "How the purchase is written off for tax: evenly over its years, or by the MACRS tables of the United "
                "States.")  # fmt: skip
    _editor("plant", finance_rows.plant_rows, lambda one: one.plant, lambda plant: case_state.change(plant=plant))
    if outcome.machine.is_candidate:
        st.markdown(f"Prices of {parts.plain(outcome.machine.name)}; empty: the offer is silent and the range of its "
                    "class stands in.")  # fmt: skip
        _prices(outcome.machine.id)


def _prices(candidate_id: str) -> None:
    def chosen(case: Case) -> BaseModel:
        return next(one for one in case.candidates if one.id == candidate_id)

    def change(offer: BaseModel) -> None:
        candidates = case_state.current_case().candidates
        case_state.change(candidates=tuple(offer if one.id == candidate_id else one for one in candidates))

    _editor(f"offer-{candidate_id}", lambda case: finance_rows.offer_rows(case, candidate_id), chosen, change)


def _choice(label: str, options: list[str], now: str, field: str, shown: finance_rows.Shown,
            help: str) -> None:  # fmt: skip
    """Offer the values of one field of the plant's finance and write a new choice into the case."""
    known = options if now in options else [now, *options]
    picked = st.selectbox(label, known, index=known.index(now), format_func=shown, key=f"finance-{field}-{now}",
                          help=help)  # fmt: skip
    if picked != now:
        plant = case_state.current_case().plant
        changed = plant.finance.model_copy(update={field: None if picked == NOTHING else picked})
        case_state.change(plant=plant.model_copy(update={"finance": changed}))
        st.rerun()


def _editor(name: str, rows: Callable[[Case], pd.DataFrame], record: Callable[[Case], BaseModel],
            change: Callable[[BaseModel], None]) -> None:  # fmt: skip
    place = f"assumptions-{name}"
    base, key = typed_table.base_and_key(place, lambda: rows(case_state.current_case()))
    columns = {"Assumption": st.column_config.TextColumn(disabled=True),
               finance_rows.MEANING: st.column_config.TextColumn(disabled=True),
               "Basis": st.column_config.SelectboxColumn(options=list(get_args(Basis)))}  # fmt: skip

    def take_over() -> None:
        before = record(case_state.current_case())
        found, refused = finance_rows.with_edits(before, base, typed_table.edited_rows(key))
        if found != before:
            change(found)
        typed_table.taken_over(place, refused)

    st.data_editor(base, hide_index=True, column_config=columns, width="stretch", key=key, on_change=take_over)
    if (refused := case_state.refused_at(place)) is not None:
        st.error("Not taken over: " + parts.plain(" ".join(refused.messages)))
