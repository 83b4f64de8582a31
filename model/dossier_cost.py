"""Dossier: what each machine costs over its life, by heading, with what it saves and what is left out."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from model.charts import Sheet
from model.cost_comparison import CostComparison, MachineCost, Range, compare_costs
from model.cost_drivers import GROUPS
from model.dossier_blocks import Block, Part, Picture, Points, Section, Table, Words
from model.dossier_svg import PRINT, picture_svg
from model.dossier_text import counted, joined, money, money_span, percent, short_names
from model.evaluate import Evaluation
from model.range_charts import ranges_chart

MOST_COLUMNS = 5
"""Machines side by side in the table by heading; more do not fit a page."""


def cost_of(evaluation: Evaluation) -> CostComparison | None:
    """Compare the costs of the machines, or give None where no machine has a cost."""
    found = compare_costs(evaluation)
    return found if found.machines else None


def cost_section(evaluation: Evaluation, costs: CostComparison | None) -> Section:
    """Print totals with their range, savings, the cost by heading, and what the totals leave out."""
    title = "Cost over the life"
    if costs is None:
        said = "Not computed: no machine has a cost, because inputs are missing or contradict themselves."
        return Section(key="cost", title=title, blocks=(Words(text=said, tone="notice"),))
    currency = evaluation.case.plant.currency
    shown = _shown(evaluation, costs)
    years = evaluation.case.plant.finance.horizon.si()[1] / (365.25 * 24 * 3600)
    blocks: list[Block] = [
        Words(text=f"Amounts in {currency}, after tax and in money of year 0, middle value (5 to 95 % of the draws), "
                   f"over a horizon of {years:.0f} years. Terms follow IEC 60300-3-3. The equivalent annual cost is "
                   "the level yearly amount with the same present value; it lets machines of unequal life be compared. "
                   f"{costs.statement}"),
        _totals(shown, evaluation, currency),
    ]  # fmt: skip
    if len(shown) > 1:
        blocks.append(_picture(shown, currency))
    if any(one.saving_present is not None for one in shown):
        blocks.append(Part(title="Savings against the reference", blocks=(_savings(shown, currency),)))
    blocks.append(Part(title="Equivalent annual cost by heading", blocks=(_headings(evaluation, shown, currency),)))
    left_out = [f"{one.name}: {text}" for one in shown for text in (*one.missing, *one.remarks)]
    if left_out:
        blocks.append(Part(title="What the reader of the totals must know", blocks=(Points(entries=tuple(left_out)),)))
    return Section(key="cost", title=title, blocks=tuple(blocks))


def _shown(evaluation: Evaluation, costs: CostComparison) -> list[MachineCost]:
    """Keep offers and the reference; where there are none, every machine that is not ruled out, else all."""
    kept = [one for one in costs.machines if one.is_candidate or one.machine_id == costs.reference_id]
    left = {one.machine.id for one in evaluation.machines if one.result != "falls short"}
    return kept or [one for one in costs.machines if one.machine_id in left] or list(costs.machines)


def _totals(shown: list[MachineCost], evaluation: Evaluation, currency: str) -> Table:
    out = {one.machine.id for one in evaluation.machines if one.result == "falls short"}
    rows = tuple(
        (
            f"{one.name}{' (ruled out)' if one.machine_id in out else ''}",
            money_span(one.initial_cost, currency), money_span(one.equivalent_annual_cost, currency),
            money_span(one.present_cost, currency),
            "no board is built" if one.cost_per_board is None else money_span(one.cost_per_board, currency),
        )
        for one in shown
    )  # fmt: skip
    columns = ("Machine", "Paid at the start, before tax", "Equivalent annual cost", "Present cost", "Per board")
    return Table(columns=columns, rows=rows, widths=(24, 19, 20, 19, 18))


def _picture(shown: list[MachineCost], currency: str) -> Picture:
    panel = f"Equivalent annual cost [{currency} per year]"
    points = [one.equivalent_annual_cost for one in shown]
    names = short_names([one.name for one in shown])
    frame = pd.DataFrame(
        [(panel, name, *point, "5 to 95 % of the draws, middle marked")
         for name, point in zip(names, points, strict=True) if all(math.isfinite(value) for value in point)],
        columns=["panel", "name", "low", "likely", "high", "mark"],
    )  # fmt: skip
    best = min(shown, key=lambda one: one.equivalent_annual_cost[1])
    caption = (f"Equivalent annual cost with its range. {best.name} is cheapest at the middle of the draws, with "
               f"{money(best.equivalent_annual_cost[1], currency)} a year.")  # fmt: skip
    chart = ranges_chart(frame, Sheet(palette=PRINT, description=caption, width=380), panels=(panel,))
    return Picture(svg=picture_svg(chart, "cost"), caption=caption)


def _savings(shown: list[MachineCost], currency: str) -> Table:
    rows = []
    for one in shown:
        if one.saving_present is None:
            continue
        rate = one.internal_rate
        rows.append(
            (one.name, money_span(one.saving_present, currency), percent(one.saving_probability),
             _years(one.payback_years), _years(one.discounted_payback_years),
             "not computed" if rate is None
             else f"{100 * rate.rates[0]:.0f} % a year" if len(rate.rates) == 1 else rate.statement)
        )  # fmt: skip
    columns = ("Machine", "Present value of savings", "Chance that it saves", "Payback", "Discounted payback",
               "Internal rate at the medians")  # fmt: skip
    return Table(columns=columns, rows=tuple(rows), widths=(22, 20, 12, 14, 14, 18))


def _years(points: Range | None) -> str:
    if points is None:
        return "not computed"
    low, middle, high = points
    if not math.isfinite(middle):
        return "never" if not math.isfinite(low) else f"never in most draws; at best {low:.1f} years"
    end = f"{high:.1f}" if math.isfinite(high) else "never"
    return f"{middle:.1f} years" if low == high else f"{middle:.1f} years ({low:.1f} to {end})"


def _headings(evaluation: Evaluation, shown: list[MachineCost], currency: str) -> Table:
    """Tabulate the mean share of each heading in the equivalent annual cost; means add up, middles do not."""
    chosen = shown[:MOST_COLUMNS]
    columns: list[dict[str, float]] = []
    for one in chosen:
        stage = evaluation.machine(one.machine_id).cost
        assert stage is not None  # it has a row in the comparison
        sums: dict[str, float] = {}
        for line, present in zip(stage.lines, stage.line_present_cost, strict=True):
            yearly = float(np.mean(present * stage.recovery_factor))
            sums[line.group] = sums.get(line.group, 0.0) + yearly
        columns.append(sums)
    rows = [
        (group[:1].upper() + group[1:], *(money(sums[group], currency) if group in sums else "–" for sums in columns))
        for group in GROUPS if any(group in sums for sums in columns)
    ]  # fmt: skip
    rows.append(("Sum", *(money(sum(sums.values()), currency) for sums in columns)))
    rest = [one.name for one in shown[MOST_COLUMNS:]]
    caption = "Means over the draws, so that the headings add up; middle values need not."
    if rest:
        caption += f" Left out for want of room: {joined(rest)}; the workbook has all of them."
    width = 76 // len(chosen)
    return Table(
        columns=("Heading", *(one.name for one in chosen)), rows=tuple(rows), caption=caption,
        widths=(100 - width * len(chosen), *([width] * len(chosen))), figures=tuple(range(1, len(chosen) + 1)),
    )  # fmt: skip


def cost_sentence(costs: CostComparison | None, machine_id: str, name: str, currency: str) -> str:
    """Say what one machine costs, or that it is not known."""
    found = next((one for one in costs.machines if one.machine_id == machine_id), None) if costs else None
    if found is None:
        return f"The cost of {name} was not computed."
    said = (f"{name} costs {money_span(found.initial_cost, currency)} at the start and "
            f"{money_span(found.equivalent_annual_cost, currency)} a year over its life")  # fmt: skip
    if found.saving_present is not None:
        said += f"; the chance that it saves money against the reference is {percent(found.saving_probability)}"
    said += "."
    if found.missing:
        said += f" {counted(len(found.missing), 'cost line is', 'cost lines are')} left out for want of numbers."
    return said
