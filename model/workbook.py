"""An evaluation's costs as a workbook that a controller can change: live formulas, named cells, no macro.

The workbook holds one column of values: every quantity, price, life and rate at the median of the model's draws
(`at_medians`). Changing a framed cell on the sheet of assumptions changes drivers, cash flows and comparison.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import numpy as np
import xlsxwriter

from model.cost_totals import at_medians, cash_flow_of
from model.evaluate import Evaluation
from model.finance import irr, npv, payback_years
from model.json_output import CAUTION
from model.outcomes import MachineOutcome
from model.workbook_assumptions import AssumptionSheet, PlannedMachine, write_assumptions
from model.workbook_machine import HEAD_ROW, CashFlowSheet, write_cash_flow
from model.workbook_text import CellNames, formats, harmless, print_set_up, sheet_name

DRIVER_HEADS = (
    "Machine", "Line", "Group", "Board type", "Quantity at plan", "Unit", "Times", "Price", "Unit of price", "Amount",
    "Paid", "Key", "Where the quantity comes from",
)  # fmt: skip
COMPARISON_HEADS = (
    "Machine", "Result", "Machines", "Paid at start, before tax", "Present cost", "Equivalent annual cost",
    "Boards per year", "Cost per board", "Present value of savings", "Internal rate of savings", "Payback, years",
    "Discounted payback, years", "Left out of the total",
)  # fmt: skip


def machines_for_workbook(evaluation: Evaluation) -> tuple[str, ...]:
    """List the machines written when none are named: the candidates and the reference, or all without candidates."""
    known = [one.machine for one in evaluation.machines if one.cost is not None]
    reference = evaluation.case.plant.finance.reference
    chosen = tuple(one.id for one in known if one.is_candidate or one.id == reference)
    return chosen if any(one.is_candidate for one in known) else tuple(one.id for one in known)


def build_workbook(evaluation: Evaluation, machine_ids: Sequence[str] | None = None) -> bytes:
    """Write the workbook.

    Parameters
    ----------
    evaluation : Evaluation
    machine_ids : sequence of str, optional
        Machines to write, each on a sheet of its own; see `machines_for_workbook`.

    Returns
    -------
    bytes
        An .xlsx file.

    Raises
    ------
    ValueError
        When no machine's cost is known.
    KeyError
        When a machine is not in the evaluation.

    Notes
    -----
    Cells hold the model's values besides their formulas, so programs that do not calculate show the right numbers.
    The horizon (number of columns) and the number of machines do not follow other cells: the first is changed in the
    case, the second in its own cell.
    """
    wanted = machines_for_workbook(evaluation) if machine_ids is None else tuple(machine_ids)
    outcomes = [outcome for outcome in map(evaluation.machine, wanted) if outcome.cost is not None]
    if not outcomes:
        raise ValueError("There is no machine whose cost is known, so there is nothing to write.")
    stream = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(stream, options) as workbook:
        workbook.set_properties({"title": f"Cost of ownership: {harmless(evaluation.case.name)}", "comments": CAUTION})
        workbook.set_calc_mode("auto")
        _write(workbook, evaluation, outcomes)
    return stream.getvalue()


def _write(workbook: Any, evaluation: Evaluation, outcomes: Sequence[MachineOutcome]) -> None:
    currency, case_name = evaluation.case.plant.currency, evaluation.case.name
    looks, names = formats(workbook, currency), CellNames()
    machines = [_planned(number, outcome, names) for number, outcome in enumerate(outcomes, start=1)]
    comparison = workbook.add_worksheet("Comparison")
    assumptions = AssumptionSheet(
        sheet=workbook.add_worksheet("Assumptions"), workbook=workbook, looks=looks, names=names, currency=currency,
        inputs={record.path: record for record in evaluation.inputs},
    )  # fmt: skip
    write_assumptions(assumptions, evaluation, machines)
    print_set_up(assumptions.sheet, case_name, head_row=2, columns=0)
    drivers = workbook.add_worksheet("Drivers")
    _write_drivers(drivers, evaluation, machines, looks, assumptions.prices)
    print_set_up(drivers, case_name, head_row=2, columns=1)
    sheets = {
        one.outcome.machine.id: CashFlowSheet(
            sheet=workbook.add_worksheet(one.sheet), looks=looks, machine=one,
            inflation_names={line.group: f"Inflation_{line.group.replace(' ', '_')}" for line in one.stage.lines},
        )
        for one in machines
    }
    reference = sheets.get(evaluation.case.plant.finance.reference or "")
    # The reference comes first: the others point at its total.
    ordered = sorted(sheets.values(), key=lambda one: one is not reference)
    for one in ordered:
        write_cash_flow(one, one.machine.outcome.machine.name, None if one is reference else reference)
        print_set_up(one.sheet, case_name, head_row=HEAD_ROW, columns=0)
    _write_comparison(comparison, evaluation, list(sheets.values()), reference, looks)
    print_set_up(comparison, case_name, head_row=2, columns=0)


def _planned(number: int, outcome: MachineOutcome, names: CellNames) -> PlannedMachine:
    assert outcome.cost is not None  # only machines with a cost are planned
    stage = at_medians(outcome.cost)
    prefix = names.unique(f"M{number}_{outcome.machine.id}")
    return PlannedMachine(outcome=outcome, stage=stage, flow=cash_flow_of(stage), prefix=prefix,
                          sheet=sheet_name(number, outcome.machine.name))  # fmt: skip


def _heads(sheet: Any, title: str, explanation: str, heads: Sequence[str], widths: Sequence[int],
           looks: dict[str, Any]) -> None:  # fmt: skip
    sheet.write_string(0, 0, harmless(title), looks["title"])
    sheet.write_string(1, 0, explanation, looks["plain"])
    for column, (head, width) in enumerate(zip(heads, widths, strict=True)):
        sheet.set_column(column, column, width)
        sheet.write_string(2, column, head, looks["head"])


def _write_drivers(sheet: Any, evaluation: Evaluation, machines: Sequence[PlannedMachine], looks: dict[str, Any],
                   prices: dict[tuple[str, str], str]) -> None:  # fmt: skip
    """Write quantity × price of every part of every line; prices point at the assumptions."""
    _heads(sheet, "Drivers: quantity × price", "Amount = quantity at plan × times × price, at prices of year 0. Framed "
           "quantities and prices are for you to change.", DRIVER_HEADS,
           (30, 30, 14, 22, 16, 12, 10, 14, 14, 16, 14, 20, 60), looks)  # fmt: skip
    currency = evaluation.case.plant.currency
    boards = {board.id: board.name for board in evaluation.case.board_types}
    row = 3
    for machine in machines:
        for driver in machine.stage.drivers:
            times, value = _times(machine, driver.kind.scaling)
            quantity = float(driver.quantity[0]) / value if value else 0.0
            for column, text in (
                (0, machine.outcome.machine.name), (1, driver.name), (2, driver.group),
                (3, boards.get(driver.board_id, "")), (5, driver.quantity_unit),
                (8, driver.price_unit.replace("money", currency)), (10, driver.kind.timing),
                (11, f"{machine.prefix}|{driver.line_id}"), (12, driver.how),
            ):  # fmt: skip
                sheet.write_string(row, column, harmless(text), looks["text"])
            sheet.write_number(row, 4, quantity, looks["edit"])
            sheet.write_formula(row, 6, times, looks["number"], value)
            price = float(driver.price[0])
            name = prices.get((driver.price_path, driver.price_unit), "")
            if name:
                sheet.write_formula(row, 7, f"={name}", looks["price"], price)
            else:
                sheet.write_number(row, 7, price, looks["edit"])
            sheet.write_formula(row, 9, f"=E{row + 1}*G{row + 1}*H{row + 1}", looks["money"], quantity * value * price)
            row += 1
    if row > 3:
        sheet.autofilter(2, 0, row - 1, len(DRIVER_HEADS) - 1)


def _times(machine: PlannedMachine, scaling: str) -> tuple[str, float]:
    """Give the formula of what a quantity is multiplied with, and its value."""
    if scaling == "per machine":
        return f"={machine.prefix}_machines", machine.stage.machines
    return ("=Volume_factor", 1.0) if scaling == "with volume" else ("=1", 1.0)


def _write_comparison(sheet: Any, evaluation: Evaluation, sheets: Sequence[CashFlowSheet],
                      reference: CashFlowSheet | None, looks: dict[str, Any]) -> None:  # fmt: skip
    against = "without a reference" if reference is None else f"against {reference.machine.outcome.machine.name}"
    invented = "INVENTED DATA. " if evaluation.case.invented else ""
    _heads(sheet, f"Comparison: {evaluation.case.name}", f"{invented}After tax where nothing else is said; savings "
           f"{harmless(against)}. {CAUTION}", COMPARISON_HEADS,
           (36, 13, 10, 18, 18, 18, 14, 14, 18, 14, 12, 12, 60), looks)  # fmt: skip
    for offset, one in enumerate(sheets):
        _comparison_row(sheet, 3 + offset, one, reference, looks)


def _comparison_row(sheet: Any, row: int, one: CashFlowSheet, reference: CashFlowSheet | None,
                    looks: dict[str, Any]) -> None:  # fmt: skip
    stage, outcome = one.machine.stage, one.machine.outcome
    at, places, capital = f"'{one.machine.sheet}'!", one.places, stage.lines
    sheet.write_string(row, 0, harmless(outcome.machine.name), looks["text"])
    sheet.write_string(row, 1, outcome.result, looks["text"])
    sheet.write_formula(row, 2, f"={one.machine.prefix}_machines", looks["count"], stage.machines)
    start = [f"{at}$C${places[f'paid {line.id}']}" for line in capital if line.timing == "once at start"]
    sheet.write_formula(row, 3, "=" + ("+".join(start) or "0"), looks["money"], float(stage.initial_cost[0]))
    sheet.write_formula(row, 4, f"={at}$C${places['present_cost']}", looks["money"], float(stage.present_cost[0]))
    annual = float(stage.equivalent_annual_cost[0])
    sheet.write_formula(row, 5, f"={at}$C${places['annual']}", looks["total"], annual)
    boards = sum(float(found.boards_per_year[0]) for found in stage.boards.values())
    sheet.write_formula(row, 6, f"={boards!r}*Volume_factor", looks["number"], boards)
    sheet.write_formula(row, 7, f'=IF(G{row + 1}>0,F{row + 1}/G{row + 1},"no board")', looks["money"],
                        annual / boards if boards > 0 else "no board")  # fmt: skip
    if reference is not None and one is not reference:
        _savings_cells(sheet, row, one, reference, looks)
    left_out = " ".join((*stage.missing.values(), *stage.remarks))
    sheet.write_string(row, 12, harmless(left_out), looks["text"])


def _savings_cells(sheet: Any, row: int, one: CashFlowSheet, reference: CashFlowSheet, looks: dict[str, Any]) -> None:
    at = f"'{one.machine.sheet}'!"
    rate = float(one.machine.stage.finance.discount_rate[0])
    totals = [found.machine.flow.after_tax_cost[:, :, 0].sum(axis=0) for found in (reference, one)]
    saving = totals[0] - totals[1]
    last = f"${one.letters(one.years - 1)}${one.places['discounted_sum']}"
    sheet.write_formula(row, 8, f"={at}{last}", looks["money"], float(npv(rate, saving)))
    found = irr(saving)
    # The start value keeps the spreadsheet's search near the model's answer, however high the rate is.
    guess = found.rates[0] if len(found.rates) == 1 else 0.1
    rates = f"{at}{one.span('saving')}"
    sheet.write_formula(
        row, 9, f'=IF(AND(MIN({rates})<0,MAX({rates})>0),IFERROR(IRR({rates},{guess!r}),"none found"),"none")',
        looks["share"], found.rates[0] if len(found.rates) == 1 else "none" if not found.rates else "several",
    )  # fmt: skip
    for column, key, share in ((10, "plain", 0.0), (11, "discounted", rate)):
        cells = f"{at}{one.span(f'{key}_payback')}"
        years = float(payback_years(saving, share))
        sheet.write_formula(row, column, f'=IF(COUNT({cells})=0,"never",MIN({cells}))', looks["years"],
                            years if np.isfinite(years) else "never")  # fmt: skip
