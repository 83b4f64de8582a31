"""Sheet of assumptions: every rate, tariff and price as one named, editable cell with range, basis and source."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from model.cash_flow import CashFlow
from model.cost_drivers import GROUPS, PRICE_UNITS, SECONDS_PER_YEAR, CostDriver
from model.cost_totals import CostStage
from model.evaluate import Evaluation
from model.outcomes import MachineOutcome
from model.uncertainty import Input
from model.workbook_text import CellNames, harmless

HEADS = ("Assumption", "Value used", "Unit", "Low", "Likely", "High", "Basis", "Source", "Note", "Where it stands")
WIDTHS = (44, 14, 14, 12, 12, 12, 20, 26, 40, 52)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedMachine:
    """One machine as the workbook writes it."""

    outcome: MachineOutcome
    """What was computed."""
    stage: CostStage
    """Its cost with every quantity, price, life and rate at its median."""
    flow: CashFlow
    """Its yearly table, one draw."""
    prefix: str
    """Start of its defined names."""
    sheet: str
    """Name of its cash-flow sheet."""


@dataclass(slots=True)
class AssumptionSheet:
    """Writes assumptions row by row and remembers the name of each."""

    sheet: Any
    """The xlsxwriter worksheet."""
    workbook: Any
    """Its workbook."""
    looks: dict[str, Any]
    """Cell formats."""
    names: CellNames
    """Defined names given so far."""
    currency: str
    """ISO code shown for money."""
    inputs: dict[str, Input]
    """Every input by path."""
    row: int = 0
    """Next free row, from 0."""
    prices: dict[tuple[str, str], str] = field(default_factory=dict)
    """Defined name by path and unit of a price."""

    def section(self, title: str) -> None:
        """Write a heading over the following rows."""
        self.row += 1
        for column in range(len(HEADS)):
            self.sheet.write_blank(self.row, column, None, self.looks["section"])
        self.sheet.write_string(self.row, 0, harmless(title), self.looks["section"])
        self.row += 1

    def add(
        self, name: str, label: str, value: float, unit: str, *, path: str = "", per_si: float = 1.0,
        look: str = "edit", formula: str = "", note: str = "",
    ) -> str:  # fmt: skip
        """Write one named value (or a formula with its value) and give the name."""
        known = self.inputs.get(path)
        if formula:
            self.sheet.write_formula(self.row, 1, formula, self.looks[look], value)
        else:
            self.sheet.write_number(self.row, 1, value, self.looks[look])
        range_look = self.looks["share" if look == "edit_share" else "price"]
        if known is not None:
            for column, number in zip((3, 4, 5), (known.low, known.likely, known.high), strict=True):
                self.sheet.write_number(self.row, column, number * per_si, range_look)
        basis = "" if known is None else known.basis if known.stated else f"{known.basis}; the offer is silent"
        source, remark = ("", note) if known is None else (known.source, known.note or note)
        for column, text in ((0, label), (2, unit.replace("money", self.currency)), (6, basis), (7, source),
                             (8, remark), (9, path)):  # fmt: skip
            self.sheet.write_string(self.row, column, harmless(text), self.looks["text"])
        cell = self.names.unique(name)
        self.workbook.define_name(cell, f"=Assumptions!$B${self.row + 1}")
        self.row += 1
        return cell


def write_assumptions(target: AssumptionSheet, evaluation: Evaluation, machines: Sequence[PlannedMachine]) -> None:
    """Write all assumptions.

    Parameters
    ----------
    target : AssumptionSheet
    evaluation : Evaluation
    machines : sequence of PlannedMachine
        At least one; the plant's rates are those of the first.
    """
    sheet, looks = target.sheet, target.looks
    for column, width in enumerate(WIDTHS):
        sheet.set_column(column, column, width)
    sheet.write_string(0, 0, harmless(f"Assumptions: {evaluation.case.name}"), looks["title"])
    invented = "INVENTED DATA. " if evaluation.case.invented else ""
    sheet.write_string(
        1, 0, f"{invented}Framed cells are for you to change: every sheet follows. Values used are the medians of the "
        f"model's {evaluation.draws} draws. Case {evaluation.fingerprint}.", looks["plain"],
    )  # fmt: skip
    for column, head in enumerate(HEADS):
        sheet.write_string(2, column, head, looks["head"])
    target.row = 2
    _rates(target, machines[0].stage)
    _depreciation(target, machines[0].stage)
    _prices(target, machines)
    for machine in machines:
        _of_machine(target, machine)
    target.section("Board types")
    for board in evaluation.case.board_types:
        path = f"board_types[{board.id}].volume"
        found = next((one.stage.boards[board.id] for one in machines if board.id in one.stage.boards), None)
        if found is not None:
            target.add(f"Boards_{board.id}", f"Volume: {board.name}", float(found.boards_per_year[0]), "boards/year",
                       path=path, per_si=SECONDS_PER_YEAR, look="edit", note="Divides the cost; to see another "
                       "volume of all, change the volume factor.")  # fmt: skip


def _rates(target: AssumptionSheet, stage: CostStage) -> None:
    finance = stage.finance
    target.section("Rates")
    add = target.add
    add("Discount_rate", "Discount rate, nominal", float(finance.discount_rate[0]), "per year",
        path="plant.finance.discount_rate", look="edit_share")  # fmt: skip
    add("Tax_rate", "Tax on profit", float(finance.tax_rate[0]), "share", path="plant.finance.tax_rate",
        look="edit_share")  # fmt: skip
    general = float(finance.inflation[0])
    add("Inflation_general", "Inflation, general", general, "per year", path="plant.finance.inflation",
        look="edit_share")  # fmt: skip
    for group in GROUPS:
        own = finance.inflation_by_group.get(group)
        add(f"Inflation_{group}", f"Inflation: {group}", general if own is None else float(own[0]), "per year",
            path="" if own is None else f"plant.finance.inflation_per_line.{group}", look="edit_share",
            formula="=Inflation_general" if own is None else "",
            note="As general; write a rate here to part from it." if own is None else "")  # fmt: skip
    add("Volume_factor", "Volume, as a multiple of the plan", 1.0, "times",
        note="The number of machines does not follow by itself: change it below.")  # fmt: skip
    add("Horizon_years", "Horizon", float(finance.horizon_years), "years", path="plant.finance.horizon",
        per_si=1.0 / SECONDS_PER_YEAR, look="count", note="Fixed in this workbook; change it in the case.")  # fmt: skip
    real = float((finance.discount_rate[0] - finance.inflation[0]) / (1.0 + finance.inflation[0]))
    add("Real_rate", "Discount rate above general inflation", real, "per year", look="share",
        formula="=(1+Discount_rate)/(1+Inflation_general)-1", note="Fisher.")  # fmt: skip
    add("Recovery_factor", "Capital recovery factor", float(stage.recovery_factor[0]), "per year", look="price",
        formula="=IF(ABS(Real_rate)<0.0000000001,1/Horizon_years,Real_rate/(1-(1+Real_rate)^-Horizon_years))",
        note="Turns present cost into equivalent annual cost, in money of year 0.")  # fmt: skip


def _depreciation(target: AssumptionSheet, stage: CostStage) -> None:
    """Write the schedule as a row of shares and, under it, what is left in the books."""
    finance, sheet, looks = stage.finance, target.sheet, target.looks
    target.section(f"Depreciation: {finance.depreciation}")
    target.add("Capital_tax_effect", "What is capitalised lowers tax (1) or not (0)",
               float(finance.capital_has_tax_effect), "switch", look="edit",
               note="0 where the plant counts no depreciation.")  # fmt: skip
    shares = finance.depreciation_shares
    straight = finance.depreciation.startswith("straight")
    if straight:
        target.add("Depreciation_years", "Depreciation life", float(shares.size), "years",
                   path="plant.finance.depreciation_life", per_si=1.0 / SECONDS_PER_YEAR, look="edit",
                   note="Whole years, up to those of the row below.")  # fmt: skip
    years = max(shares.size, finance.horizon_years, 20)
    top = target.row
    for offset, label in enumerate(("Year of use", "Share written off", "Share still in the books")):
        sheet.write_string(top + offset, 0, label, looks["text"])
    kept = 1.0
    for year in range(1, years + 1):
        column = year  # year 1 stands in column B
        share = float(shares[year - 1]) if year <= shares.size else 0.0
        kept = max(kept - share, 0.0)
        letter = column_letters(column)
        sheet.write_number(top, column, year, looks["year"])
        if straight:
            sheet.write_formula(top + 1, column, f"=IF({letter}{top + 1}<=Depreciation_years,1/Depreciation_years,0)",
                                looks["share"], share)  # fmt: skip
        else:
            sheet.write_number(top + 1, column, share, looks["edit_share"])
        sheet.write_formula(top + 2, column, f"=MAX(0,1-SUM($B${top + 2}:{letter}${top + 2}))", looks["share"],
                            0.0 if kept < 1e-12 else kept)  # fmt: skip
    last = column_letters(years)
    target.workbook.define_name("Depreciation_shares", f"=Assumptions!$B${top + 2}:${last}${top + 2}")
    target.workbook.define_name("Book_shares", f"=Assumptions!$B${top + 3}:${last}${top + 3}")
    target.names.taken |= {"depreciation_shares", "book_shares"}
    target.row = top + 3


def column_letters(column: int) -> str:
    """Name a column counted from 0.

    >>> column_letters(0), column_letters(27)
    ('A', 'AB')
    """
    text, rest = "", column + 1
    while rest:
        rest, digit = divmod(rest - 1, 26)
        text = chr(65 + digit) + text
    return text


def _prices(target: AssumptionSheet, machines: Sequence[PlannedMachine]) -> None:
    """Write what the plant pays and what fluids cost, each once."""
    for title, start, name in (("Tariffs of the plant", "plant.", "Tariff"), ("Fluids", "fluids[", "Price")):
        target.section(title)
        for machine in machines:
            for driver in machine.stage.drivers:
                if driver.price_path.startswith(start):
                    _price(target, driver, f"{name}_{driver.price_path.split('.')[-1]}", machine)


def _price(target: AssumptionSheet, driver: CostDriver, name: str, machine: PlannedMachine) -> None:
    key = (driver.price_path, driver.price_unit)
    if key in target.prices or not driver.price_path:
        return
    label = driver.price_path.split(".")[-1].replace("_", " ")
    if driver.fluid_id and driver.price_path.startswith("fluids["):
        label, name = f"{label}: {driver.fluid_id}", f"{name}_{driver.fluid_id}"
    elif driver.price_path.startswith(("candidates[", "machine_classes[")):
        label = f"{machine.outcome.machine.name}: {label}"
    target.prices[key] = target.add(
        name, label[:1].upper() + label[1:], float(driver.price[0]), driver.price_unit, path=driver.price_path,
        per_si=PRICE_UNITS[driver.price_unit],
    )  # fmt: skip


def _of_machine(target: AssumptionSheet, machine: PlannedMachine) -> None:
    name, prefix, finance = machine.outcome.machine.name, machine.prefix, machine.stage.finance
    group = "candidates" if machine.outcome.machine.is_candidate else "machine_classes"
    start = f"{group}[{machine.outcome.machine.id}]."
    target.section(name)
    target.add(f"{prefix}_machines", f"{name}: machines", machine.stage.machines, "machines",
               note="Computed from the volume, or as offered.")  # fmt: skip
    target.add(f"{prefix}_life_years", f"{name}: life", float(finance.life_years[0]), "years",
               path=f"{start}prices.life", per_si=1.0 / SECONDS_PER_YEAR, note="Whole years.")  # fmt: skip
    target.add(f"{prefix}_residual_share", f"{name}: residual value", float(np.asarray(finance.residual_share)[0]),
               "of the price", path=f"{start}prices.residual_share", look="edit_share")  # fmt: skip
    for driver in machine.stage.drivers:
        if driver.price_path.startswith(start):
            _price(target, driver, f"{prefix}_{driver.price_path.split('.')[-1]}", machine)
