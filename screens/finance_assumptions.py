"""Section of a screen: rates, tariffs and an offer's prices, each with its basis, for the reader to change."""

from __future__ import annotations

from typing import get_args

import pandas as pd
import streamlit as st

from catalog_schema.library import library_for
from catalog_schema.machine import machines_of
from catalog_schema.plant import Finance
from catalog_schema.quantity import Basis
from model.outcomes import MachineOutcome
from screens import case_state, finance_rows, parts

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
    _editor("plant", finance_rows.plant_rows(case), lambda edited, paths: case_state.change(
        plant=finance_rows.with_rows(case.plant, edited, paths)))  # fmt: skip
    prices = finance_rows.offer_rows(case, outcome.machine.id)
    if not prices.empty:
        st.markdown(f"Prices of {parts.plain(outcome.machine.name)}; empty: the offer is silent and the range of its "
                    "class stands in.")  # fmt: skip
        _editor("offer", prices, lambda edited, paths: case_state.change(candidates=tuple(
            finance_rows.with_rows(one, edited, paths) if one.id == outcome.machine.id else one
            for one in case.candidates)))  # fmt: skip


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


def _editor(name: str, before: pd.DataFrame, change: finance_rows.Change) -> None:
    columns = {"Assumption": st.column_config.TextColumn(disabled=True),
               finance_rows.MEANING: st.column_config.TextColumn(disabled=True),
               "Basis": st.column_config.SelectboxColumn(options=list(get_args(Basis)))}  # fmt: skip
    after = st.data_editor(before, hide_index=True, column_config=columns, width="stretch",
                           key=f"assumptions-{name}-{finance_rows.fingerprint(before)}")  # fmt: skip
    paths = finance_rows.changed_cells(before, after)
    if paths:
        try:
            change(after, paths)
        except ValueError as refused:
            st.error(f"Not taken over: {parts.plain(str(refused))}")
            return
        st.rerun()
