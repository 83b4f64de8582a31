"""How the plant counts money: horizon, machine life, rates and depreciation, read once for one machine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalog_schema.quantity import Years
from model.capacity_stage import SECONDS_PER_YEAR
from model.context import Context
from model.cost_drivers import GROUPS
from model.depreciation import macrs_shares, straight_line_shares
from model.input_errors import UnphysicalInputError
from model.uncertainty import FloatArray

IntArray = NDArray[np.int64]

LONGEST_HORIZON_YEARS = 100
LONGEST_DEPRECIATION_YEARS = 100
HIGHEST_INFLATION_SHARE = 10.0
"""Prices that rise elevenfold a year have no meaning over a machine's life, and their powers overflow."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CostFinance:
    """What holds for all lines of one machine."""

    horizon_years: int
    """Whole years looked at."""
    life_years: IntArray
    """Whole years until the machine is replaced, shape (draws,)."""
    depreciation_shares: FloatArray
    """Share of the price written off in each year of use."""
    depreciation: str
    """Rule in words."""
    capital_has_tax_effect: bool
    """False: the plant counts no depreciation, so what is capitalised changes no tax."""
    tax_rate: FloatArray
    """Share of profit, shape (draws,)."""
    discount_rate: FloatArray
    """Nominal, share per year, shape (draws,)."""
    inflation: FloatArray
    """General, share per year, shape (draws,)."""
    inflation_by_group: dict[str, FloatArray]
    """Share per year of the groups that have their own, shape (draws,)."""
    residual_share: FloatArray
    """Of the purchase price at the end of life, shape (draws,)."""
    remarks: tuple[str, ...]
    """Sentences that the reader of the totals must see."""

    def inflation_of(self, group: str) -> FloatArray:
        """Price rise of a group: its own, else the general one."""
        return self.inflation_by_group.get(group, self.inflation)


def read_finance(context: Context) -> CostFinance:
    """Read the plant's finance record and the machine's life.

    Parameters
    ----------
    context : Context

    Returns
    -------
    CostFinance

    Raises
    ------
    UnphysicalInputError
        When a horizon, life, tax or inflation has no meaning; the sentence says what to give.

    Notes
    -----
    Horizon and depreciation life: the middle draw, in whole years. Machine life: each draw in whole years, at least
    one. Depreciation "none": the price changes no tax. Straight line without a life of its own takes the machine's.
    """
    finance = context.case.plant.finance
    take = context.inputs.book.take
    horizon = int(np.rint(np.median(context.from_plant("finance.horizon")) / SECONDS_PER_YEAR))
    if not 1 <= horizon <= LONGEST_HORIZON_YEARS:
        raise UnphysicalInputError(
            f"The horizon of the cost is {horizon} years. Give 1 to {LONGEST_HORIZON_YEARS} years in plant.finance."
        )
    remarks: list[str] = []
    life = _life_years(context, horizon, remarks)
    tax = context.from_plant("finance.tax_rate")
    if float(tax.max()) >= 1.0:
        raise UnphysicalInputError(f"The tax rate is {tax.max():.0%}. Give less than 100 % in plant.finance.")
    inflation = context.from_plant("finance.inflation")
    groups = {
        name: take(rate, f"plant.finance.inflation_per_line.{name}", "measured")
        for name, rate in finance.inflation_per_line.items()
    }
    for name in sorted(set(groups) - set(GROUPS)):
        remarks.append(f'The inflation given for "{name}" is not used: it is none of {", ".join(GROUPS)}.')
    for name, rate in (("general", inflation), *groups.items()):
        if float(rate.max()) > HIGHEST_INFLATION_SHARE:
            raise UnphysicalInputError(
                f"The {name} inflation is {rate.max():.0%} a year. Give {HIGHEST_INFLATION_SHARE:.0%} or less."
            )
    discount = context.from_plant("finance.discount_rate")
    remarks += _about_rate(float(np.median(discount)))
    shares, words = _depreciation(finance.depreciation, finance.depreciation_life, context, life)
    residual = context.inputs.draws("prices.residual_share")
    return CostFinance(
        horizon_years=horizon, life_years=life, depreciation_shares=shares, depreciation=words,
        capital_has_tax_effect=finance.depreciation != "none", tax_rate=tax, discount_rate=discount,
        inflation=inflation, inflation_by_group={name: rate for name, rate in groups.items() if name in GROUPS},
        residual_share=np.zeros(context.draws) if residual is None else residual, remarks=tuple(remarks),
    )  # fmt: skip


def _life_years(context: Context, horizon: int, remarks: list[str]) -> IntArray:
    life = context.inputs.draws("prices.life")
    if life is None:
        if context.machine.principle not in ("service", "none"):
            remarks.append("The machine's life is not known: it is taken to last to the horizon. Ask the supplier.")
        return np.full(context.draws, horizon, dtype=np.int64)
    if float(life.min()) <= 0.0:
        raise UnphysicalInputError(
            f"{context.machine.name}: its life is 0 years. Give a life above 0 under prices: life, or leave it out."
        )
    # Beyond the longest horizon a longer life changes nothing but the unused part; the cut keeps tables small.
    return np.asarray(np.clip(np.rint(life / SECONDS_PER_YEAR), 1.0, 1000.0), dtype=np.int64)


def _about_rate(rate_share: float) -> list[str]:
    if rate_share >= 1.0:
        return [f"At a discount rate of {rate_share:.0%} a year hardly anything but the money of the start counts."]
    if rate_share == 0.0:
        return ["At a discount rate of 0 % money of later years counts as much as money of today."]
    if rate_share < 0.0:
        return [f"At a discount rate of {rate_share:.1%} a year later money counts more than money of today."]
    return []


def _depreciation(rule: str, own_life: Years | None, context: Context, life: IntArray) -> tuple[FloatArray, str]:
    if rule.startswith("MACRS"):
        return macrs_shares(int(rule.split()[1])), f"{rule} (half-year convention)"
    if rule == "none":
        return straight_line_shares(1), "none"
    if own_life is None:
        years = int(np.median(life))
    else:
        years = int(np.rint(np.median(context.from_plant("finance.depreciation_life")) / SECONDS_PER_YEAR))
        if years < 1:
            raise UnphysicalInputError("The depreciation life is 0 years. Give at least 1 year in plant.finance.")
        if years > LONGEST_DEPRECIATION_YEARS:
            raise UnphysicalInputError(
                f"The depreciation life is {years:.3g} years. Give {LONGEST_DEPRECIATION_YEARS} or less in "
                "plant.finance."
            )
    return straight_line_shares(years), f"straight line over {years} years"
