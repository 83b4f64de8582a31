"""Screen: what each machine costs over the horizon, where every amount comes from, and what it would take to change."""

from __future__ import annotations

import streamlit as st

from model.cost_charts import cash_flow_chart, lines_chart, range_chart, tornado_chart, volume_chart
from model.cost_comparison import CostComparison, break_even_prices, compare_costs, cost_tornado
from model.cost_pictures import (
    cash_flow_rows,
    cash_flow_sentence,
    group_rows,
    line_rows,
    lines_sentence,
    range_rows,
    range_sentence,
    saving_sentence,
)
from model.cost_volume import break_even_between, planned_boards, volume_curves
from model.evaluate import Evaluation, MachineOutcome
from model.workbook import build_workbook, machines_for_workbook
from screens import case_state, computing, finance_assumptions, finance_rows, frame, parts, tables

WORKBOOK_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def page() -> None:
    """Draw the screen."""
    parts.header("Finance", "What each machine costs over the plant's horizon: every line as quantity × price, after "
                 "tax, in money of the start year unless a picture says otherwise.")  # fmt: skip
    if not case_state.current_case().board_types:
        parts.no_boards("nothing is washed and nothing can be counted")
        return
    evaluation = computing.current_evaluation()
    known = {one.machine.id: one for one in evaluation.machines if one.cost is not None}
    if not known:
        st.warning("No machine's cost can be counted yet. The screen Ruled out names what stands in the way.")
        return
    compared = case_state.derived(evaluation, "costs compared", lambda: compare_costs(evaluation))
    shown = [one for one in machines_for_workbook(evaluation) if one in known]
    _totals(evaluation, compared, shown)
    st.header("One machine")
    outcome = known[parts.choose("Machine", list(known), "machine", shown=lambda one: known[one].machine.name)]
    _machine(evaluation, compared, outcome)
    _volume(evaluation, outcome, [one for one in known if one != outcome.machine.id])
    finance_assumptions.section(outcome)


def _totals(evaluation: Evaluation, compared: CostComparison, shown: list[str]) -> None:
    currency = evaluation.case.plant.currency
    st.header("Totals")
    st.download_button("Workbook with live formulas", lambda: build_workbook(evaluation), mime=WORKBOOK_TYPE,
                       file_name=f"{frame.file_stem(evaluation.case.name)}-cost.xlsx", on_click="ignore",
                       help="Every amount as a formula on named assumptions; offers and reference.")  # fmt: skip
    ranges = range_rows(compared, shown)
    sentence = range_sentence(ranges, currency)
    tables.picture(
        sentence,
        lambda sheet: [range_chart(ranges, sheet, currency=currency)],
        finance_rows.comparison_rows(compared, currency), name="total-cost",
        alt="Range of the yearly cost of each machine",
    )  # fmt: skip
    parts.note("Point: middle of the draws; bar: 5 to 95 % of them. " + parts.plain(compared.statement))
    lines = case_state.derived(evaluation, "cost lines", lambda: line_rows([evaluation.machine(one) for one in shown]))
    about = lines_sentence(lines, currency)
    tables.picture(
        about,
        lambda sheet: [lines_chart(group_rows(lines), sheet, currency=currency)],
        lines, name="cost-lines", alt="Yearly cost of each machine by group of lines",
    )  # fmt: skip


def _machine(evaluation: Evaluation, compared: CostComparison, outcome: MachineOutcome) -> None:
    assert outcome.cost is not None  # only machines with a cost are offered
    currency, stage, name = evaluation.case.plant.currency, outcome.cost, outcome.machine.name
    for remark in (*stage.missing.values(), *stage.remarks):
        st.warning(parts.plain(remark))
    one = compared.machine(outcome.machine.id)
    reference = "" if compared.reference_id is None else evaluation.machine(compared.reference_id).machine.name
    st.markdown(parts.plain(saving_sentence(one, reference, currency)))
    if one.internal_rate is not None:
        parts.note(parts.plain(f"{one.internal_rate.statement} Every input at its median."))
    flow = case_state.derived(evaluation, f"cash flow {outcome.machine.id}", lambda: cash_flow_rows(stage))
    sentence = cash_flow_sentence(name, flow, currency)
    st.subheader("Year by year")
    tables.picture(
        sentence,
        lambda sheet: [cash_flow_chart(flow, sheet, currency=currency)],
        flow, name="cash-flow", alt=f"Money of each year for {name}",
    )  # fmt: skip
    st.subheader("Quantity × price")
    tables.grid(case_state.derived(evaluation, f"cost drivers {outcome.machine.id}",
                                   lambda: finance_rows.driver_rows(evaluation, stage)),
                name="cost-drivers", height=360)  # fmt: skip
    parts.sources_button(evaluation, outcome, f"Cost of {name}", "cost", label="Sources of all these numbers")
    _drivers(evaluation, outcome)
    st.subheader("Price at which it costs as much as a rival")
    prices = case_state.derived(evaluation, f"break-even prices {outcome.machine.id}",
                                lambda: break_even_prices(evaluation, outcome.machine.id))  # fmt: skip
    if prices.empty:
        st.markdown("No machine is bought here, so there is no price to set against a rival's.")
    else:
        written = finance_rows.price_rows(prices, currency)
        with st.container(key="written-prices"):
            st.table(written.map(parts.plain), hide_index=True, border="horizontal", alt="Break-even prices")
        tables.download(written, "break-even-prices")


def _drivers(evaluation: Evaluation, outcome: MachineOutcome) -> None:
    st.subheader("What moves it most")
    moved = case_state.derived(evaluation, f"tornado {outcome.machine.id}",
                               lambda: finance_rows.tornado_rows(evaluation, cost_tornado(outcome)))  # fmt: skip
    if moved.empty:
        st.markdown("No single input moves the cost by more than chance at this number of draws.")
        return
    currency, first = evaluation.case.plant.currency, moved.iloc[0]
    sentence = (f"{first['name']} moves the yearly cost most: from {first['low']} at one end of its range to "
                f"{first['high']} at the other.")  # fmt: skip
    tables.picture(
        sentence,
        lambda sheet: [tornado_chart(moved, sheet, currency=currency)],
        moved[["name", "low", "high", "path"]], name="cost-tornado", alt="Inputs that move the yearly cost",
    )  # fmt: skip


def _volume(evaluation: Evaluation, outcome: MachineOutcome, rivals: list[str]) -> None:
    if not rivals or planned_boards(evaluation) <= 0.0:
        return
    currency, planned = evaluation.case.plant.currency, planned_boards(evaluation)
    st.subheader("Over the volume")
    reference = evaluation.case.plant.finance.reference
    rival = parts.choose("Against", rivals, f"rival-{outcome.machine.id}", default=reference if reference in rivals
                         else rivals[0], shown=lambda one: evaluation.machine(one).machine.name)  # fmt: skip
    pair = f"{outcome.machine.id} against {rival}"
    found = case_state.derived(evaluation, f"break-even of {pair}",
                               lambda: break_even_between(evaluation, outcome.machine.id, rival))  # fmt: skip
    curves = case_state.derived(evaluation, f"volume curves of {pair}",
                                lambda: volume_curves(evaluation, [outcome.machine.id, rival]))  # fmt: skip
    tables.picture(
        found.statement,
        lambda sheet: [volume_chart(curves, sheet, planned=planned, crossings=found.volumes, currency=currency)],
        curves.drop(columns="machine"), name="cost-over-volume", alt="Yearly cost over the yearly volume",
    )  # fmt: skip
