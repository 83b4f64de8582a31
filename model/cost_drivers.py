"""What a cost is made of: quantity × price, with its line, group, board type and the way it grows with volume."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from model.cash_flow import Timing
from model.uncertainty import FloatArray

Group = Literal[
    "purchase", "upgrades", "labour", "energy", "fluids", "water", "waste", "parts", "service", "floor", "tests",
    "downtime", "field failures", "bought service",
]  # fmt: skip
GROUPS: tuple[Group, ...] = (
    "purchase", "upgrades", "labour", "energy", "fluids", "water", "waste", "parts", "service", "floor", "tests",
    "downtime", "field failures", "bought service",
)  # fmt: skip
"""Headings of the cost lines, in the order in which they are shown."""

Scaling = Literal["fixed", "per machine", "with volume"]

SECONDS_PER_HOUR = 3600.0
SECONDS_PER_YEAR = 365.25 * 24.0 * SECONDS_PER_HOUR
LITRES_PER_M3 = 1000.0
JOULES_PER_KWH = 3.6e6
PRICE_UNITS: dict[str, float] = {
    "money": 1.0, "money/h": SECONDS_PER_HOUR, "money/kWh": JOULES_PER_KWH, "money/m³": 1.0,
    "money/L": 1.0 / LITRES_PER_M3, "money/year": SECONDS_PER_YEAR, "money/(m²·year)": SECONDS_PER_YEAR,
    "money/board": 1.0, "money/failure": 1.0, "money/set": 1.0,
}  # fmt: skip
"""Units in which prices are shown, and what a price of 1 in SI is in them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineKind:
    """How one kind of cost is paid, taxed and grows."""

    name: str
    """Words for the reader."""
    group: Group
    """Heading, and the name under which the plant may give a price rise of its own."""
    scaling: Scaling
    """Fixed, with the number of machines, or with the number of boards."""
    timing: Timing = "every year"
    """When it is paid."""
    depreciable: bool = False
    """True: capitalised and written off over years."""
    renewed: bool = False
    """True: paid anew with every replacement of the machine."""


def _running(name: str, group: Group, scaling: Scaling) -> LineKind:
    return LineKind(name=name, group=group, scaling=scaling)


def _capital(name: str, group: Group = "purchase") -> LineKind:
    return LineKind(name=name, group=group, scaling="per machine", timing="once at start", depreciable=True,
                    renewed=True)  # fmt: skip


LINE_KINDS: dict[str, LineKind] = {
    "purchase": _capital("Purchase price"),
    "freight": _capital("Freight"),
    "installation": _capital("Installation"),
    "qualification": LineKind(name="Qualification", group="purchase", scaling="per machine", timing="once at start",
                              renewed=True),
    "training": LineKind(name="Training", group="purchase", scaling="fixed", timing="once at start"),
    "seal-upgrade": _capital("Seals replaced by resistant ones", "upgrades"),
    "traceability-option": _capital("Traceability option", "upgrades"),
    "holder-upgrade": _capital("Dissipative board holders", "upgrades"),
    "operators": _running("Attending the machine", "labour", "with volume"),
    "handling": _running("Loading and unloading", "labour", "with volume"),
    "electricity": _running("Electricity", "energy", "with volume"),
    "compressed-air": _running("Compressed air", "energy", "with volume"),
    "exhaust-air": _running("Replacing exhaust air", "energy", "with volume"),
    "wash-fluid": _running("Wash fluid carried out by boards", "fluids", "with volume"),
    "evaporation": _running("Fluid or water evaporated", "fluids", "per machine"),
    "bath-changes": _running("Wash fluid for bath changes", "fluids", "with volume"),
    "fluid-disposal": _running("Disposal of spent wash fluid", "waste", "with volume"),
    "rinse-water": _running("Rinse water", "water", "with volume"),
    "drain": _running("Drain", "water", "with volume"),
    "resin": _running("Ion-exchange resin", "water", "with volume"),
    "filters": _running("Filters", "parts", "per machine"),
    "seals": _running("Seals and gaskets", "parts", "per machine"),
    "seals-by-life": _running("Seals, by the life of their material", "parts", "with volume"),
    "spare-parts": _running("Spare parts", "parts", "per machine"),
    "service": _running("Service contract", "service", "per machine"),
    "floor": _running("Floor space", "floor", "per machine"),
    "tests": _running("Cleanliness tests", "tests", "fixed"),
    "downtime": _running("Downtime", "downtime", "with volume"),
    "field-failures": _running("Field failures of boards not clean", "field failures", "with volume"),
    "bought-service": _running("Cleaning bought per board", "bought service", "with volume"),
}  # fmt: skip
"""Every line of the cost breakdown, in order. What is capitalised and what is spent at once is common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CostDriver:
    """One part of a cost line: a quantity times a price."""

    line_id: str
    """Key of LINE_KINDS."""
    board_id: str = ""
    """Board type that causes it, or empty when all do together."""
    fluid_id: str = ""
    """Wash fluid, where the line has one part per fluid."""
    quantity: FloatArray
    """In `quantity_unit`, for all machines together, at one payment (a year of running costs), shape (draws,)."""
    quantity_unit: str
    """Unit shown, such as "h/year"."""
    price: FloatArray
    """In `price_unit`, in the plant's currency at prices of year 0, shape (draws,)."""
    price_unit: str
    """Unit shown, with "money" for the currency, such as "money/h"."""
    price_path: str
    """Path of the input that the price is, or empty when it is put together of several."""
    how: str
    """One sentence: where the quantity comes from."""

    @property
    def id(self) -> str:
        """Line, board type and fluid in one unique word."""
        return "|".join(part for part in (self.line_id, self.board_id, self.fluid_id) if part)

    @property
    def kind(self) -> LineKind:
        """How the line is paid, taxed and grows."""
        return LINE_KINDS[self.line_id]

    @property
    def name(self) -> str:
        """Words for the reader."""
        return self.kind.name

    @property
    def group(self) -> Group:
        """Heading of the line."""
        return self.kind.group

    @property
    def amount(self) -> FloatArray:
        """Money of year 0 at one payment, shape (draws,); for running costs the yearly amount."""
        return np.asarray(self.quantity * self.price)


def with_medians(driver: CostDriver) -> CostDriver:
    """Give the driver with the median of its quantity and of its price as the only draw."""
    return replace(driver, quantity=np.array([np.median(driver.quantity)]), price=np.array([np.median(driver.price)]))
