"""Where the cost drivers of one machine are gathered, with a sentence for each line that has to be left out."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from catalog_schema.fluids import Fluid
from model.context import Context
from model.cost_drivers import LINE_KINDS, LITRES_PER_M3, PRICE_UNITS, CostDriver
from model.fluid_state import fluid_path
from model.uncertainty import FloatArray


@dataclass(slots=True)
class CostLedger:
    """Drivers met so far and what is missing; filled while one machine is computed."""

    context: Context
    """The machine with its draws."""
    machines: float
    """Machines bought."""
    drivers: list[CostDriver] = field(default_factory=list)
    """In the order added."""
    missing: dict[str, str] = field(default_factory=dict)
    """One sentence per line left out, by the line's name."""
    prices: dict[tuple[str, str], FloatArray] = field(default_factory=dict)
    """Prices met so far by path and unit: every board type pays the same one, which need be kept but once."""

    def add(
        self, line_id: str, quantity: FloatArray | float, quantity_unit: str, price: FloatArray, price_unit: str,
        price_path: str, how: str, *, board_id: str = "", fluid_id: str = "",
    ) -> None:  # fmt: skip
        """Add quantity × price; a quantity or price that is not finite is named as missing instead."""
        amounts = np.asarray(quantity, dtype=np.float64)
        if amounts.shape != (self.context.draws,):
            amounts = np.broadcast_to(amounts, (self.context.draws,))
        known = self.prices.get((price_path, price_unit))
        # A price that is known is finite.
        if not np.isfinite(amounts).all() or not (price is known or np.isfinite(price).all()):
            self.leave_out(line_id, f"its quantity has no end in some draws ({how.rstrip('.')})")
            return
        known = self.prices.setdefault((price_path, price_unit), price)
        self.drivers.append(CostDriver(
            line_id=line_id, board_id=board_id, fluid_id=fluid_id, quantity=amounts, quantity_unit=quantity_unit,
            price=known if price is known or np.array_equal(known, price) else price, price_unit=price_unit,
            price_path=price_path, how=how,
        ))  # fmt: skip

    def leave_out(self, line_id: str, why: str) -> None:
        """Name a line as missing, once."""
        name = LINE_KINDS[line_id].name
        self.missing.setdefault(name, f"{name} is left out: {why}.")

    def machine_price(self, line_id: str, field_name: str, *, optional: bool = False) -> None:
        """Add a price of the offer per machine (training: once), or name it as missing."""
        path = f"prices.{field_name}"
        price = self.context.inputs.draws(path)
        if price is None:
            if not optional:
                self.leave_out(line_id, "its price is not known; ask the supplier")
            return
        kind = LINE_KINDS[line_id]
        count = self.machines if kind.scaling == "per machine" else 1.0
        unit = "money/year" if kind.timing == "every year" else "money"
        self.add(
            line_id, count, "machines" if kind.scaling == "per machine" else "times",
            price * PRICE_UNITS[unit], unit,
            self.context.inputs.full_path(path),
            "Per machine." if kind.scaling == "per machine" else "Once for all machines.",
        )  # fmt: skip

    def tariff(self, name: str, unit: str) -> tuple[FloatArray, str, str]:
        """Give a tariff of the plant in a unit of PRICE_UNITS, that unit, and the tariff's path."""
        path = f"plant.tariffs.{name}"
        known = self.prices.get((path, unit))
        price = self.context.from_plant(f"tariffs.{name}") * PRICE_UNITS[unit] if known is None else known
        return price, unit, path

    def fluid_price(self, fluid: Fluid, field_name: str) -> tuple[FloatArray, str, str]:
        """Give a price of a fluid for each litre, its unit, and its path."""
        unit, path = "money/L", fluid_path(fluid, field_name)
        known = self.prices.get((path, unit))
        return self.context.of_fluid(fluid, field_name) / LITRES_PER_M3 if known is None else known, unit, path
