"""Cash-flow sheet of one machine: years across, live formulas from price to present value."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from model.cash_flow import CostLine, present_cost
from model.cost_drivers import LINE_KINDS
from model.finance import discounted_flows
from model.uncertainty import FloatArray
from model.workbook_assumptions import PlannedMachine, column_letters
from model.workbook_text import harmless

FIRST_YEAR_COLUMN = 4
HEAD_ROW = 3
NEARLY_NOTHING = "0.000001"


@dataclass(slots=True)
class CashFlowSheet:
    """Writes one sheet row by row and remembers where its totals stand."""

    sheet: Any
    """The xlsxwriter worksheet."""
    looks: dict[str, Any]
    """Cell formats."""
    machine: PlannedMachine
    """What is written."""
    inflation_names: dict[str, str]
    """Defined name of the inflation of each group."""
    row: int = HEAD_ROW + 1
    """Next free row, from 0."""
    places: dict[str, int] = field(default_factory=dict)
    """Row (from 1) by key: years, age, bought, retired, lines, totals."""

    @property
    def years(self) -> int:
        """Number of year columns, the start included."""
        return self.machine.stage.finance.horizon_years + 1

    def letters(self, year: int) -> str:
        """Name the column of a year."""
        return column_letters(FIRST_YEAR_COLUMN + year)

    def span(self, key: str) -> str:
        """Give the range of a row over all years, fixed, without the sheet's name."""
        row = self.places[key]
        return f"${self.letters(0)}${row}:${self.letters(self.years - 1)}${row}"

    def across(
        self, key: str, label: str, formula: str, values: FloatArray, look: str, *, group: str = "",
        line: CostLine | None = None, first_formula: str = "",
    ) -> None:  # fmt: skip
        """Write one row; in the formula {c} is the year's column, {p} the one before, {row} this row.

        `first_formula` stands in year 0, where there is no year before.
        """
        row = self.row + 1
        self.places[key] = row
        text = self.looks["bold" if look == "total" else "text"]
        self.sheet.write_string(self.row, 0, harmless(label), text)
        self.sheet.write_string(self.row, 1, group, text)
        if line is not None:
            amount = float(np.asarray(line.amount)[0])
            name = f'"{self.machine.prefix}|{line.id}"'
            self.sheet.write_formula(self.row, 2, f"=SUMIFS(Drivers!$J:$J,Drivers!$L:$L,{name})", self.looks["money"],
                                     amount)  # fmt: skip
            rise = float(np.asarray(line.inflation_share)[0])
            self.sheet.write_formula(self.row, 3, f"={self.inflation_names[line.group]}", self.looks["share"], rise)
        for year in range(self.years):
            template = first_formula if year == 0 and first_formula else formula
            filled = template.format(c=self.letters(year), p=self.letters(max(year - 1, 0)), row=row, **self._rows())
            value = float(values[year])
            self.sheet.write_formula(self.row, FIRST_YEAR_COLUMN + year, filled, self.looks[look],
                                     "" if np.isnan(value) else value)  # fmt: skip
        self.row += 1

    def _rows(self) -> dict[str, int]:
        return {key: row for key, row in self.places.items() if key.isidentifier()}

    def blank(self, title: str) -> None:
        """Leave a row and write a heading."""
        self.row += 1
        self.sheet.write_string(self.row, 0, title, self.looks["bold"])
        self.row += 1


def write_cash_flow(target: CashFlowSheet, title: str, reference: CashFlowSheet | None) -> None:
    """Write the whole sheet; savings against a reference only where one is given (its sheet is written already).

    Parameters
    ----------
    target : CashFlowSheet
    title : str
    reference : CashFlowSheet or None
        Sheet that savings are counted against.
    """
    sheet, looks, stage = target.sheet, target.looks, target.machine.stage
    sheet.set_column(0, 0, 44)
    sheet.set_column(1, 1, 14)
    sheet.set_column(2, 2, 16)
    sheet.set_column(3, 3, 10)
    sheet.set_column(FIRST_YEAR_COLUMN, FIRST_YEAR_COLUMN + target.years - 1, 16)
    sheet.write_string(0, 0, harmless(title), looks["title"])
    sheet.write_string(1, 0, "Costs are positive, money received negative. Year 0 is the start; nominal money, each "
                       "year at its own prices.", looks["plain"])  # fmt: skip
    for column, head in enumerate(("Line", "Group", "At prices of year 0", "Inflation")):
        sheet.write_string(HEAD_ROW, column, head, looks["head"])
    for year in range(target.years):
        sheet.write_number(HEAD_ROW, FIRST_YEAR_COLUMN + year, year, looks["year"])
    target.places["y"] = HEAD_ROW + 1
    _machine_ages(target)
    _payments(target)
    _tax_and_totals(target)
    if stage.missing or stage.remarks:
        target.blank("What the totals leave out, and remarks")
        for sentence in (*stage.missing.values(), *stage.remarks):
            sheet.write_string(target.row, 0, harmless(sentence), looks["plain"])
            target.row += 1
    if reference is not None:
        _savings(target, reference)


def _machine_ages(target: CashFlowSheet) -> None:
    life, horizon = int(target.machine.stage.finance.life_years[0]), target.years - 1
    year = np.arange(target.years)
    name = f"{target.machine.prefix}_life_years"
    target.blank("Age of the machines")
    target.across("age", "Age at the end of the year", "=IF({c}${y}=0,0,MOD({c}${y}-1," + name + ")+1)",
                  np.where(year == 0, 0, (year - 1) % life + 1), "count")  # fmt: skip
    target.across("bought", "Bought (1)", "=IF(AND(MOD({c}${y}," + name + ")=0,{c}${y}<Horizon_years),1,0)",
                  (year % life == 0) & (year < horizon), "count")  # fmt: skip
    target.across(
        "retired", "Sold or scrapped (1)",
        "=IF(AND({c}${y}>0,OR(MOD({c}${y}," + name + ")=0,{c}${y}=Horizon_years)),1,0)",
        (year > 0) & ((year % life == 0) | (year == horizon)), "count",
    )  # fmt: skip


def _row_of(target: CashFlowSheet, row_id: str) -> int:
    return target.machine.flow.row_ids.index(row_id)


def _payments(target: CashFlowSheet) -> None:
    flow, stage, prefix = target.machine.flow, target.machine.stage, target.machine.prefix
    target.blank("Paid, before tax")
    capital = [line for line in stage.lines if LINE_KINDS[line.id].depreciable]
    spent = [line for line in stage.lines if not LINE_KINDS[line.id].depreciable]
    price = "$C{row}*(1+$D{row})^{c}${y}"
    for line in (*capital, *spent):
        if line.timing == "every year":
            formula = "=IF({c}${y}>0," + price + ",0)"
        elif line.renewed_with_machine:
            formula = "=" + price + "*{c}${bought}"
        else:
            formula = "=IF({c}${y}=0,$C{row},0)"
        target.across(f"paid {line.id}", line.name, formula, flow.before_tax_cost[_row_of(target, line.id), :, 0],
                      "money", group=line.group, line=line)  # fmt: skip
    for key, found in (("capital", capital), ("spent", spent)):
        if found:
            target.places[f"{key}_first"] = target.places[f"paid {found[0].id}"]
            target.places[f"{key}_last"] = target.places[f"paid {found[-1].id}"]
    bought = next((line for line in capital if line.residual_amount is not None), None)
    sale = np.zeros(target.years)
    if bought is not None:
        sale = flow.before_tax_cost[_row_of(target, f"{bought.id}.residual"), :, 0]
        share = f"{prefix}_residual_share"
        row = target.places[f"paid {bought.id}"]
        target.across(
            "sale", "Sale of used machines",
            f"=-{{c}}${{retired}}*(1+$D{row})^{{c}}${{y}}*$C{row}*({share}+(1-{share})*"
            f"(1-{{c}}${{age}}/{prefix}_life_years))", sale, "money", group="purchase",
        )  # fmt: skip
    parts = [f"SUM({{c}}{target.places[f'{kind}_first']}:{{c}}{target.places[f'{kind}_last']})"
             for kind in ("capital", "spent") if f"{kind}_first" in target.places]  # fmt: skip
    parts += ["{c}{sale}"] if bought is not None else []
    target.across("before", "Total before tax", "=" + ("+".join(parts) or "0"),
                  flow.before_tax_cost[:, :, 0].sum(axis=0), "total")  # fmt: skip


def _tax_and_totals(target: CashFlowSheet) -> None:
    flow, stage = target.machine.flow, target.machine.stage
    capital = [line for line in stage.lines if LINE_KINDS[line.id].depreciable]
    effect = stage.finance.capital_has_tax_effect
    target.blank("Tax")
    for line in capital:
        at, row = _row_of(target, line.id), target.places[f"paid {line.id}"]
        when_bought = f"$C{row}*(1+$D{row})^({{c}}${{y}}-{{c}}${{age}})"
        index = "INDEX({name},1,MAX(1,MIN({{c}}${{age}},COLUMNS({name}))))"
        share = index.format(name="Depreciation_shares")
        book = index.format(name="Book_shares")
        # Without a tax effect the model keeps no books; the sheet shows them all the same and the switch is 0.
        kept = (flow.depreciation[at, :, 0], flow.book_value_written_off[at, :, 0])
        written, left = kept if effect else _no_books(target, line)
        target.across(
            f"depreciation {line.id}", f"Depreciation: {line.name}",
            f"=IF(AND({{c}}${{age}}>0,{{c}}${{age}}<=COLUMNS(Depreciation_shares)),{share}*{when_bought},0)",
            written, "money", group=line.group,
        )  # fmt: skip
        target.across(f"book {line.id}", f"Left in the books when sold: {line.name}",
                      f"={{c}}${{retired}}*{when_bought}*{book}", left, "money", group=line.group)  # fmt: skip
    deducted = []
    if "spent_first" in target.places:
        deducted.append(f"SUM({{c}}{target.places['spent_first']}:{{c}}{target.places['spent_last']})")
    if capital:
        first = target.places[f"depreciation {capital[0].id}"]
        last = target.places[f"book {capital[-1].id}"]
        sale = "+{c}{sale}" if "sale" in target.places else ""
        deducted.append(f"Capital_tax_effect*(SUM({{c}}{first}:{{c}}{last}){sale})")
    target.across("tax", "Tax (negative: saved)", "=-Tax_rate*(" + ("+".join(deducted) or "0") + ")",
                  flow.tax[:, :, 0].sum(axis=0), "money")  # fmt: skip
    target.blank("After tax")
    after = flow.after_tax_cost[:, :, 0].sum(axis=0)
    rate = float(stage.finance.discount_rate[0])
    target.across("after", "Total after tax", "={c}{before}+{c}{tax}", after, "total")
    year = np.arange(target.years, dtype=np.float64)
    target.across("discount", "Discount factor", "=(1+Discount_rate)^-{c}${y}", (1.0 + rate) ** -year, "price")
    target.across("present", "Present value", "={c}{after}*{c}{discount}", discounted_flows(rate, after), "money")
    total = float(present_cost(flow, rate)[0]) if flow.row_ids else 0.0
    for key, label, formula, value in (
        ("present_cost", f"Present cost. {stage.total_name}", f"=SUM({target.span('present')})", total),
        ("annual", "Equivalent annual cost, money of year 0", "=C{present_cost}*Recovery_factor",
         total * float(stage.recovery_factor[0])),
    ):  # fmt: skip
        target.places[key] = target.row + 1
        target.sheet.write_string(target.row, 0, harmless(label), target.looks["bold"])
        target.sheet.write_formula(target.row, 2, formula.format(**target._rows()), target.looks["total"], value)
        target.row += 1


def _no_books(target: CashFlowSheet, line: CostLine) -> tuple[FloatArray, FloatArray]:
    """Depreciation and book value of a line as the formulas give them, where the model itself keeps none."""
    finance = target.machine.stage.finance
    shares, life = finance.depreciation_shares, int(finance.life_years[0])
    year = np.arange(target.years)
    age = np.where(year == 0, 0, (year - 1) % life + 1)
    retired = (year > 0) & ((year % life == 0) | (year == target.years - 1))
    price = float(np.asarray(line.amount)[0]) * (1.0 + float(np.asarray(line.inflation_share)[0])) ** (year - age)
    padded = np.concatenate([[0.0], shares, np.zeros(max(target.years, life + 1))])
    left = np.maximum(1.0 - np.cumsum(padded), 0.0)
    # At the start the age is 0 and nothing is retired, so the first share is never used.
    return padded[age] * price, np.where(retired, left[age] * price, 0.0)


def _savings(target: CashFlowSheet, reference: CashFlowSheet) -> None:
    """Write savings against the reference, their sums and the year in which each sum is no longer negative."""
    mine = target.machine.flow.after_tax_cost[:, :, 0].sum(axis=0)
    saving = reference.machine.flow.after_tax_cost[:, :, 0].sum(axis=0) - mine
    rate = float(target.machine.stage.finance.discount_rate[0])
    row = reference.places["after"]
    target.blank(f"Savings against sheet {reference.machine.sheet}")
    target.across("saving", "Saving", f"='{reference.machine.sheet}'!{{c}}{row}-{{c}}{{after}}", saving, "money")
    for key, words, flow, formula in (
        ("plain", "", saving, "{c}{saving}"),
        ("discounted", ", discounted", discounted_flows(rate, saving), "{c}{saving}*{c}{discount}"),
    ):
        summed = np.cumsum(flow)
        target.across(f"{key}_sum", f"Saving summed{words}", "={p}{row}+" + formula, summed, "money",
                      first_formula="=" + formula)  # fmt: skip
        place = f"{{{key}_sum}}"
        # Small enough to mean nothing, large enough that rounding does not turn "paid back" into "never".
        back = f'{{c}}{place}>=-{NEARLY_NOTHING}'
        before = f'COUNTIF(${target.letters(0)}{place}:{{p}}{place},">=-{NEARLY_NOTHING}")=0'
        within = f"{{c}}${{y}}-1-{{p}}{place}/({{c}}{place}-{{p}}{place})"
        target.across(f"{key}_payback", f"Paid back after years{words}", f'=IF(AND({back},{before}),{within},"")',
                      _payback_cells(summed), "years", first_formula=f'=IF({back},0,"")')  # fmt: skip


def _payback_cells(summed: FloatArray) -> FloatArray:
    """Give the years of payback in the column of the first year whose sum is not negative, else not a number."""
    cells = np.full(summed.size, np.nan)
    back = np.flatnonzero(summed >= -float(NEARLY_NOTHING))
    if back.size:
        year = int(back[0])
        cells[year] = 0.0 if year == 0 else year - 1 - summed[year - 1] / (summed[year] - summed[year - 1])
    return cells
