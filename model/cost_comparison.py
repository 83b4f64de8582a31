"""Costs of all machines side by side: savings against a reference, payback, internal rate, break-even price."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from model.break_even import break_even_price
from model.cash_flow import CostLine
from model.cost_drivers import LINE_KINDS
from model.cost_factors import line_factors
from model.cost_totals import CostStage, at_medians, yearly_cost
from model.evaluate import Evaluation
from model.finance import InternalRate, irr, irr_per_draw, npv, payback_years
from model.outcomes import MachineOutcome
from model.requirements import Result
from model.sensitivity import tornado_from_draws
from model.uncertainty import FloatArray, low_middle_high

Range = tuple[float, float, float]
"""5 %, 50 % and 95 % point over the draws."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineCost:
    """Cost of one machine and what it saves against the reference."""

    machine_id: str
    """Candidate or machine class."""
    name: str
    """Name shown to people."""
    is_candidate: bool
    """True for an offer on the table."""
    result: Result
    """Whether it does the job at all: a cheap machine that falls short saves nothing."""
    total_name: str
    """What its total is called: it names what it leaves out."""
    equivalent_annual_cost: Range
    """Money of year 0 per year, after tax."""
    present_cost: Range
    """Money of year 0, after tax."""
    initial_cost: Range
    """Money paid at the start, before tax."""
    cost_per_board: Range | None
    """Money per board, after tax; None where no board is built."""
    saving_present: Range | None
    """Present value of what it saves against the reference, money of year 0; None without one, or for itself."""
    saving_probability: float | None
    """Share of the draws in which that is above 0."""
    internal_rate: InternalRate | None
    """Of the savings, every input at its median; its sentence says whether there is none, one or more."""
    internal_rate_counts: tuple[float, float, float] | None
    """Share of the draws with no, one and more than one internal rate."""
    payback_years: Range | None
    """Years until the savings have paid the outlay back, infinite where they never do."""
    discounted_payback_years: Range | None
    """The same with savings discounted."""
    missing: tuple[str, ...]
    """One sentence per line left out."""
    remarks: tuple[str, ...]
    """Sentences that the reader of the totals must see."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CostComparison:
    """Every machine that has a cost, in the order of the evaluation."""

    reference_id: str | None
    """What savings are counted against, or None."""
    statement: str
    """One sentence about the reference."""
    machines: tuple[MachineCost, ...]
    """One per machine."""

    def machine(self, machine_id: str) -> MachineCost:
        """Give one machine's cost by id; raises KeyError when there is none."""
        for one in self.machines:
            if one.machine_id == machine_id:
                return one
        raise KeyError(machine_id)


def compare_costs(evaluation: Evaluation, reference_id: str | None = None) -> CostComparison:
    """Compare the cost of all machines.

    Parameters
    ----------
    evaluation : Evaluation
    reference_id : str, optional
        Machine that savings are counted against: today's way or a bought service; the plant's own choice when absent.

    Returns
    -------
    CostComparison

    Notes
    -----
    Savings of a year = the reference's cost − the candidate's, both after tax, draw by draw with the same plant. Their
    present value ranks; an internal rate does not where there are several, and pays no heed to size.
    """
    stages = {one.machine.id: one.cost for one in evaluation.machines if one.cost is not None}
    wanted = evaluation.case.plant.finance.reference if reference_id is None else reference_id
    reference = None if wanted is None else stages.get(wanted)
    at_middle = None if reference is None else yearly_cost(at_medians(reference))[:, 0]
    rows = tuple(
        _machine_cost(outcome, outcome.cost, None if outcome.machine.id == wanted else reference, at_middle)
        for outcome in evaluation.machines if outcome.cost is not None
    )
    return CostComparison(reference_id=wanted if reference is not None else None, machines=rows,
                          statement=_statement(evaluation, wanted, reference))  # fmt: skip


def _statement(evaluation: Evaluation, wanted: str | None, reference: CostStage | None) -> str:
    if wanted is None:
        return ("The plant names no reference, so there are no savings to count. Choose one under Assumptions on the "
                "screen Finance.")  # fmt: skip
    if reference is None:
        return f'The reference "{wanted}" is not among the machines whose cost is known, so no savings are counted.'
    return f"Savings are counted against {evaluation.machine(wanted).machine.name}."


def _machine_cost(outcome: MachineOutcome, stage: CostStage, reference: CostStage | None,
                  reference_at_middle: FloatArray | None) -> MachineCost:  # fmt: skip
    saving: FloatArray | None = None
    rate = counts = payback = discounted = present = None
    if reference is not None and reference_at_middle is not None:
        saving = yearly_cost(reference) - yearly_cost(stage)
        present = npv(stage.finance.discount_rate, saving)
        rate = irr(reference_at_middle - yearly_cost(at_medians(stage))[:, 0])
        found = _rate_counts(saving)
        counts = (float(np.mean(found == 0)), float(np.mean(found == 1)), float(np.mean(found > 1)))
        payback = low_middle_high(payback_years(saving))
        discounted = low_middle_high(payback_years(saving, stage.finance.discount_rate))
    return MachineCost(
        machine_id=outcome.machine.id, name=outcome.machine.name, is_candidate=outcome.machine.is_candidate,
        result=outcome.result, total_name=stage.total_name,
        equivalent_annual_cost=low_middle_high(stage.equivalent_annual_cost),
        present_cost=low_middle_high(stage.present_cost), initial_cost=low_middle_high(stage.initial_cost),
        cost_per_board=None if stage.cost_per_board is None else low_middle_high(stage.cost_per_board),
        saving_present=None if present is None else low_middle_high(present),
        saving_probability=None if present is None else float(np.mean(present > 0.0)), internal_rate=rate,
        internal_rate_counts=counts, payback_years=payback, discounted_payback_years=discounted,
        missing=tuple(stage.missing.values()), remarks=stage.remarks,
    )  # fmt: skip


def _rate_counts(flows: FloatArray) -> FloatArray:
    """Count the internal rates of each draw; one change of sign means one, so only the others are searched."""
    signs = np.sign(flows)
    # A year without money takes the sign of the year before, so that it makes no change of its own.
    for year in range(1, signs.shape[0]):
        signs[year] = np.where(signs[year] == 0, signs[year - 1], signs[year])
    changes = np.asarray((signs[1:] * signs[:-1] < 0).sum(axis=0), dtype=np.float64)
    several = changes > 1
    if several.any():
        changes[several] = irr_per_draw(flows[:, several])[1]
    return changes


def annual_cost_per_price(stage: CostStage) -> FloatArray:
    """Give the rise of the equivalent annual cost for one more unit of money in the price of one machine.

    Parameters
    ----------
    stage : CostStage

    Returns
    -------
    ndarray (draws,)
        Per year; 0 where no machine is bought.

    Notes
    -----
    Machines × (factor of the price + residual share × factor of the residual value) × capital recovery factor; it
    holds tax relief by depreciation, replacement and sale. It does not need the price itself.
    """
    kind, finance = LINE_KINDS["purchase"], stage.finance
    unit = CostLine(
        id="purchase", name=kind.name, group=kind.group, timing=kind.timing, amount=1.0,
        inflation_share=finance.inflation_of(kind.group), depreciable=finance.capital_has_tax_effect,
        tax_deductible=finance.capital_has_tax_effect, renewed_with_machine=True, residual_amount=0.0,
    )  # fmt: skip
    factor = line_factors((unit,), stage.terms, finance.discount_rate)[0]
    assert factor.present_residual is not None  # the unit line has a residual value
    whole = factor.present + finance.residual_share * factor.present_residual
    return np.asarray(stage.machines * whole * stage.recovery_factor)


def break_even_prices(evaluation: Evaluation, candidate_id: str) -> pd.DataFrame:
    """Give the price per machine at which a candidate costs as much as each rival.

    Parameters
    ----------
    evaluation : Evaluation
    candidate_id : str

    Returns
    -------
    DataFrame
        Columns rival, name, low, middle, high (money per machine; below 0: dearer even as a gift; NaN where the cost
        does not rise with the price in every draw), offered (middle of the price, NaN where not known), sentence.
        Empty where no machine is bought.

    Raises
    ------
    KeyError
        When there is no such machine.
    """
    columns = ["rival", "name", "low", "middle", "high", "offered", "sentence"]
    outcome = evaluation.machine(candidate_id)
    stage = outcome.cost
    if stage is None or stage.machines == 0:
        return pd.DataFrame(columns=columns)
    slope = annual_cost_per_price(stage)
    price = next((driver.price for driver in stage.drivers if driver.line_id == "purchase"), None)
    without = stage.equivalent_annual_cost - (0.0 if price is None else slope * price)
    offered = np.nan if price is None else float(np.median(price))
    # Without interest, or where prices rise faster, a machine may sell for more than it is bought for.
    rises = bool((slope > 0.0).all())
    rows = []
    for rival in evaluation.machines:
        if rival.machine.id == candidate_id or rival.cost is None:
            continue
        low = middle = high = np.nan
        if rises:
            low, middle, high = low_middle_high(break_even_price(without, slope, rival.cost.equivalent_annual_cost))
        rows.append((rival.machine.id, rival.machine.name, low, middle, high, offered,
                     _price_sentence(outcome.machine.name, rival.machine.name, middle, offered)))  # fmt: skip
    return pd.DataFrame(rows, columns=columns)


def _price_sentence(candidate: str, rival: str, middle: float, offered: float) -> str:
    if np.isnan(middle):
        return (f"There is none: at these rates what {candidate} sells for later outweighs its price, so a dearer one "
                "costs no more.")  # fmt: skip
    if middle < 0.0:
        return f"Even as a gift {candidate} would cost more than {rival}."
    if np.isnan(offered):
        return f"Below the price given, {candidate} costs less than {rival}."
    return f"{candidate} costs {'less' if offered < middle else 'more'} than {rival} at the price offered."


def cost_tornado(outcome: MachineOutcome, count: int = 12) -> pd.DataFrame:
    """Give the inputs that move a machine's equivalent annual cost most.

    Parameters
    ----------
    outcome : MachineOutcome
    count : int
        Inputs listed.

    Returns
    -------
    DataFrame
        Columns path, at_low, at_high (money per year), swing, standard_error, largest first; inputs whose swing is
        below three standard errors are chance and left out. Empty with fewer than 40 draws, or when nothing varies.
    """
    columns = ["path", "at_low", "at_high", "swing", "standard_error"]
    if outcome.cost is None or not outcome.columns:
        return pd.DataFrame(columns=columns)
    annual = outcome.cost.equivalent_annual_cost
    if annual.size < 40 or annual.min() == annual.max():
        return pd.DataFrame(columns=columns)
    paths = list(outcome.columns)
    found = tornado_from_draws(np.stack([outcome.columns[path] for path in paths], axis=1), annual)
    frame = pd.DataFrame({
        "path": paths, "at_low": found.output_at_low, "at_high": found.output_at_high, "swing": found.swing,
        "standard_error": found.standard_error,
    }).iloc[found.order]  # fmt: skip
    return frame[frame["swing"].abs() > 3.0 * frame["standard_error"]].head(count).reset_index(drop=True)
