"""Tables behind the pictures of the cost, each with one computed sentence; amounts at the medians or over the draws."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from model.cost_comparison import CostComparison, MachineCost
from model.cost_drivers import GROUPS, LINE_KINDS
from model.cost_totals import CostStage, at_medians, cash_flow_of
from model.money_format import format_amount
from model.outcomes import MachineOutcome
from model.requirements import Result

PARTS = ("Machines and start", "Running", "Tax", "Sale of machines")


def marked(name: str, result: Result) -> str:
    """Mark a machine that does not do the job, so that nobody takes it for the cheapest choice."""
    return f"{name} (falls short)" if result == "falls short" else name


def cash_flow_rows(stage: CostStage) -> pd.DataFrame:
    """Give each year's money by what it is for, every input at its median.

    Parameters
    ----------
    stage : CostStage

    Returns
    -------
    DataFrame
        Columns year, part (one of PARTS), amount (nominal money, paid above 0), and total (after tax, of the year).
    """
    flow = cash_flow_of(at_medians(stage))
    sums = {part: np.zeros(flow.years.size) for part in PARTS}
    for row, row_id in enumerate(flow.row_ids):
        line_id = row_id.removesuffix(".residual")
        part = PARTS[3] if row_id != line_id else PARTS[int(LINE_KINDS[line_id].timing == "every year")]
        sums[part] += flow.before_tax_cost[row, :, 0]
    sums["Tax"] = flow.tax[:, :, 0].sum(axis=0)
    total = flow.after_tax_cost[:, :, 0].sum(axis=0)
    rows = [(int(year), part, float(sums[part][at]), float(total[at]))
            for at, year in enumerate(flow.years) for part in PARTS]  # fmt: skip
    return pd.DataFrame(rows, columns=["year", "part", "amount", "total"])


def cash_flow_sentence(name: str, rows: pd.DataFrame, currency: str) -> str:
    """Say what is paid at the start, in the dearest later year, and in all."""
    totals = rows.drop_duplicates("year")["total"].to_numpy(dtype=np.float64)
    start, later = float(totals[0]), totals[1:]
    dearest = 1 + int(np.argmax(later))
    return (
        f"{name} takes {format_amount(start, currency, compact=True)} at the start and "
        f"{format_amount(float(np.median(later)), currency, compact=True)} in a usual later year, most in year "
        f"{dearest} ({format_amount(float(later.max()), currency, compact=True)}); after tax, every input at its "
        "median."
    )


def line_rows(outcomes: Sequence[MachineOutcome]) -> pd.DataFrame:
    """Give each machine's equivalent annual cost by line, every input at its median.

    Returns
    -------
    DataFrame
        Columns machine, name, line, group, amount (money of year 0 per year, after tax, sale taken off).
    """
    rows = []
    for outcome in outcomes:
        if outcome.cost is None:
            continue
        stage = at_medians(outcome.cost)
        for line, present in zip(stage.lines, stage.line_present_cost, strict=True):
            amount = float(present[0] * stage.recovery_factor[0])
            name = marked(outcome.machine.name, outcome.result)
            rows.append((outcome.machine.id, name, line.name, line.group, amount))
    return pd.DataFrame(rows, columns=["machine", "name", "line", "group", "amount"])


def group_rows(lines: pd.DataFrame, most: int = 5) -> pd.DataFrame:
    """Sum lines to the groups that weigh most over all machines and one rest, so that a picture stays readable.

    Returns
    -------
    DataFrame
        Columns machine, name, group, order (position of the group), amount.
    """
    sums = lines.groupby("group")["amount"].sum().sort_values(ascending=False)
    kept = list(sums.index[:most])
    rest = "all else"
    shown = lines.assign(group=[group if group in kept else rest for group in lines["group"]])
    order = {group: at for at, group in enumerate([*sorted(kept, key=GROUPS.index), rest])}
    frame = shown.groupby(["machine", "name", "group"], sort=False, as_index=False)["amount"].sum()
    return pd.DataFrame(frame.assign(order=[order[group] for group in frame["group"]]))


def lines_sentence(lines: pd.DataFrame, currency: str) -> str:
    """Name the line that costs most in the machine that costs least, and its share."""
    if lines.empty:
        return "No machine has a cost that is known."
    totals = lines.groupby("name", sort=False)["amount"].sum()
    name = str(totals.idxmin())
    own = lines[lines["name"] == name]
    if float(totals.min()) <= 0.0:
        return f"{name} costs nothing by these lines."
    largest = own.nlargest(1, "amount").to_dict("records")[0]
    total = float(totals[name])
    return (
        f"The least by these lines is {name} with {format_amount(total, currency, compact=True)} a year; its largest "
        f"line is {str(largest['line']).lower()} with {100.0 * float(largest['amount']) / total:.0f} % of it."
    )


def range_rows(compared: CostComparison, machine_ids: Sequence[str]) -> pd.DataFrame:
    """Give the range of the equivalent annual cost of some machines: columns name, low, middle, high."""
    rows = [(marked(one.name, one.result), *one.equivalent_annual_cost) for one in map(compared.machine, machine_ids)]
    return pd.DataFrame(rows, columns=["name", "low", "middle", "high"])


def range_sentence(rows: pd.DataFrame, currency: str) -> str:
    """Say whether the ranges of the two least overlap."""
    if len(rows) < 2:
        return "Only one machine's cost is known, so there is nothing to compare it with."
    first, second = rows.nsmallest(2, "middle").to_dict("records")
    gap = format_amount(second["middle"] - first["middle"], currency, compact=True)
    apart = "do not overlap" if first["high"] < second["low"] else "overlap"
    return f"{first['name']} costs least, {gap} a year below {second['name']}; the ranges of these two {apart}."


def saving_sentence(one: MachineCost, reference: str, currency: str) -> str:
    """Say what a machine saves against the reference, how surely, and when it has paid itself back."""
    if one.saving_present is None or one.saving_probability is None or one.payback_years is None:
        return f"{one.name} is not compared: there is no reference, or it is the reference itself."
    amount = one.saving_present[1]
    verb = "saves" if amount >= 0.0 else "costs more by"
    years = one.payback_years[1]
    back = f"pays itself back after {years:.1f} years" if np.isfinite(years) else "does not pay itself back"
    if years < 0.1:
        back = "pays itself back at once"
    return (
        f"Against {reference}, {one.name} {verb} {format_amount(abs(amount), currency, compact=True)} in present value "
        f"(a saving in {100.0 * one.saving_probability:.0f} % of the draws) and {back}."
    )
