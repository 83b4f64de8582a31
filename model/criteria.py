"""The table that a decision rests on: machines by criteria, as measures and as values from 0 to 1, over the draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType
from catalog_schema.priorities import CRITERIA, OwnCriterion, Priorities, ValuePoint
from model.evaluate import Evaluation
from model.measures import Measures, annual_cost, measures_of
from model.outcomes import MachineOutcome
from model.phrase import Phrase, phrase
from model.requirements import Result
from model.uncertainty import BoolArray, FloatArray, InputBook, stratified_ranks
from model.value import ValueFunction, default_value_function

DEFAULT_VALUE_FUNCTIONS: dict[str, ValueFunction] = {
    "spray_reach": ValueFunction(points=((0.5, 0.0), (1.0, 0.4), (2.0, 0.9), (3.0, 1.0))),
    "pump_reserve": ValueFunction(points=((0.5, 0.0), (1.0, 0.4), (2.0, 0.9), (4.0, 1.0))),
    "material_compatibility": ValueFunction(points=((0.5, 0.0), (1.0, 1.0))),
    "drying": ValueFunction(points=((0.5, 0.0), (1.0, 0.4), (2.0, 0.9), (3.0, 1.0))),
    "esd_racking": ValueFunction(points=((-1.0, 0.0), (0.0, 0.4), (1.0, 0.8), (3.0, 1.0))),
    "traceability": ValueFunction(points=((0.0, 0.0), (1.0, 1.0))),
}
"""Where the priorities give none: just enough is worth 0.4, twice as much 0.9 (engineering estimate, editable)."""

UNITS: dict[str, str] = {
    "spray_reach": "times the depth needed", "pump_reserve": "times the pressure or suction head needed",
    "material_compatibility": "share of wetted parts", "drying": "times the time needed",
    "esd_racking": "decades inside the limits", "traceability": "share of functions",
    "cost_of_ownership": "per year",
}  # fmt: skip
"""Unit of each measure as shown; cost in the plant's currency."""

FOR_HARDEST_BOARD = ("pump_reserve",)
"""Criteria that take the worst board type in each draw instead of the volume-weighted mean over the mix."""

COST = "cost_of_ownership"
COST_ANCHOR_CLASS = "contract-service"


@dataclass(frozen=True, slots=True, kw_only=True)
class RuledOut:
    """A machine that is not ranked."""

    machine_id: str
    """Machine."""
    name: str
    """Name shown to people."""
    reason: Phrase
    """The must it misses, in one sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionTable:
    """Machines that are left, by criteria, over the draws."""

    machine_ids: tuple[str, ...]
    """Ranked machines: candidates, the reference, and classes where asked for."""
    machine_names: tuple[str, ...]
    """Names shown to people."""
    results: tuple[Result, ...]
    """Verdict on the musts: meets or unknown."""
    probabilities: tuple[float, ...]
    """Share of the draws in which all musts hold."""
    criteria: tuple[str, ...]
    """Ids: the seven, then the plant's own."""
    criterion_names: tuple[str, ...]
    """Names shown to people."""
    value_functions: tuple[ValueFunction, ...]
    """How much each measure is worth."""
    measures: FloatArray
    """In the criterion's unit, within the ends of its value function, shape (draws, machines, criteria)"""
    values: FloatArray
    """0-1, shape (draws, machines, criteria)"""
    unknown: BoolArray
    """True where nobody knows and every value is equally likely, shape (machines, criteria)"""
    worst_board: tuple[tuple[str, ...], ...]
    """Per machine and criterion the board type that does worst (id), empty where boards play no part."""
    ruled_out: tuple[RuledOut, ...]
    """Machines that fall short on a must: listed, never ranked."""
    open_columns: tuple[dict[str, FloatArray], ...]
    """Per machine, draws of what stands in for unknown measures and of quantities read here, by path."""
    raw: Measures
    """Measures per board type, before any value function."""
    notes: tuple[str, ...]
    """What a reader must know about the table."""

    def middle_values(self) -> FloatArray:
        """Values at the middle of the draws, shape (machines, criteria)."""
        return np.median(self.values, axis=0) if self.machine_ids else np.zeros((0, len(self.criteria)))


def considered(evaluation: Evaluation, include_classes: bool) -> tuple[MachineOutcome, ...]:
    """List the machines that stand for election: candidates, the reference, and classes where asked for."""
    reference = evaluation.case.plant.finance.reference
    return tuple(
        outcome for outcome in evaluation.machines
        if outcome.machine.is_candidate or include_classes or outcome.machine.id == reference
    )  # fmt: skip


def criterion_table(
    evaluation: Evaluation, *, include_classes: bool = False, priorities: Priorities | None = None
) -> CriterionTable:
    """Put measures and values of all machines that are left into one table.

    Parameters
    ----------
    evaluation : Evaluation
    include_classes : bool
        Rank generic machine classes beside the offers.
    priorities : Priorities, optional
        Those of the case when absent.

    Returns
    -------
    CriterionTable

    Notes
    -----
    A measure is held within the ends of its value function, so that surplus on an easy board type cannot make up for
    lack on a hard one, then averaged over the board mix by volume (pump reserve: least over the board types, draw by
    draw), then valued. Where nobody knows a measure, every value from 0 to 1 is taken as equally likely, which is said
    in `unknown` and `notes`. Cost is valued on fixed ends that do not depend on which offers are on the table
    (`cost_value_function`), so that adding or dropping an offer never reorders the others.
    """
    wanted = priorities or evaluation.case.priorities
    notes: list[str] = []
    everyone = considered(evaluation, include_classes)
    ranked = tuple(outcome for outcome in everyone if outcome.result != "falls short")
    raw = measures_of(evaluation, ranked)
    functions = _functions(evaluation, wanted, notes)
    own = wanted.own_criteria
    criteria = (*CRITERIA, *(one.id for one in own))
    shape = (evaluation.draws, len(ranked), len(criteria))
    measures, values, unknown = np.empty(shape), np.empty(shape), np.zeros(shape[1:], dtype=np.bool_)
    columns: list[dict[str, FloatArray]] = [dict(found) for found in raw.columns]
    worst: list[tuple[str, ...]] = []
    for row, outcome in enumerate(ranked):
        hardest: list[str] = []
        for place, criterion in enumerate(criteria):
            function = functions[place]
            path = f"criteria[{outcome.machine.id}].{criterion}"
            if place < len(CRITERIA):
                known = raw.by_board[:, row, place, :]
                open_share = stratified_ranks(path, evaluation.draws, evaluation.seed)
                measure = over_mix(known, raw.board_share, function, criterion, open_share)
                lacking = bool(np.isnan(known).any()) or known.shape[1] == 0
                hardest.append(_worst_board(known, raw, function))
            else:
                measure, lacking = _rating(own[place - len(CRITERIA)], outcome.machine.id, path, evaluation)
                open_share = measure
                hardest.append("")
            if lacking or (place >= len(CRITERIA) and np.ptp(open_share) > 0.0):
                columns[row][path] = open_share
            unknown[row, place] = lacking
            measures[:, row, place] = measure
            values[:, row, place] = function.value(measure)
        worst.append(tuple(hardest))
    names = (*CRITERIA.values(), *(one.name for one in own))
    notes += _unknown_notes(unknown, tuple(one.machine.name for one in ranked), names)
    return CriterionTable(
        machine_ids=tuple(one.machine.id for one in ranked), machine_names=tuple(one.machine.name for one in ranked),
        results=tuple(one.result for one in ranked), probabilities=tuple(one.probability for one in ranked),
        criteria=criteria, criterion_names=names, value_functions=functions, measures=measures, values=values,
        unknown=unknown, worst_board=tuple(worst), open_columns=tuple(columns), raw=raw, notes=tuple(notes),
        ruled_out=tuple(
            RuledOut(machine_id=one.machine.id, name=one.machine.name,
                     reason=one.deciding.requirement.sentence if one.deciding else phrase("It misses a must."))
            for one in everyone if one.result == "falls short"
        ),
    )  # fmt: skip


def over_mix(known: FloatArray, board_share: FloatArray, function: ValueFunction, criterion: str,
             open_share: FloatArray) -> FloatArray:  # fmt: skip
    """Bring a measure of all board types together as one of the mix.

    Parameters
    ----------
    known : ndarray (draws, boards)
        Measure, NaN where nobody knows.
    board_share : ndarray (boards,)
        Shares of the volume, adding up to 1.
    function : ValueFunction
    criterion : str
    open_share : ndarray (draws,)
        Value 0-1 that stands in for what nobody knows.

    Returns
    -------
    ndarray (draws,)
        Within the ends of the value function.

    Notes
    -----
    Spread over the board types by their share of the volume: Σ share × measure; criteria that ask whether the hardest
    board works take the least over the board types instead. What nobody knows stands in between the ends of the value
    function.
    """
    table = np.asarray(function.points)
    stand_in = _measure_worth(function, open_share)
    if known.shape[1] == 0:
        return stand_in
    held = np.where(np.isnan(known), stand_in[:, None], np.clip(known, table[0, 0], table[-1, 0]))
    if criterion in FOR_HARDEST_BOARD:
        built = held[:, board_share > 0.0]
        return np.asarray((built if built.shape[1] else held).min(axis=1))
    # Rounding may leave a mean of equal ends just outside them.
    return np.asarray(np.clip(held @ board_share, table[0, 0], table[-1, 0]))


def _measure_worth(function: ValueFunction, share: FloatArray) -> FloatArray:
    """Give measures whose value is the share of the way from the function's lowest to its highest value."""
    table = np.asarray(function.points)
    values = table[:, 1]
    if function.direction == "level":
        return np.asarray(table[0, 0] + share * (table[-1, 0] - table[0, 0]))
    aim = values.min() + share * (values.max() - values.min())
    rising = table if values[-1] > values[0] else table[::-1]
    return np.asarray(np.interp(aim, rising[:, 1], rising[:, 0]))


def _worst_board(known: FloatArray, raw: Measures, function: ValueFunction) -> str:
    """Name the board type with the lowest middle value; of equals the lowest measure; nothing where all are alike."""
    if known.shape[1] < 2 or np.isnan(known).all(axis=0).all():
        return raw.board_ids[0] if known.shape[1] == 1 and not np.isnan(known).all() else ""
    if bool((known == known[:, :1]).all()):
        return ""
    sign = -1.0 if function.direction == "decreasing" else 1.0
    found = []
    for column, board_id in enumerate(raw.board_ids):
        if not np.isnan(known[:, column]).any():
            middle = float(np.median(known[:, column]))
            found.append((float(function.value(middle)), sign * middle, board_id))
    return min(found)[2] if found else ""


def _rating(own: OwnCriterion, machine_id: str, path: str, evaluation: Evaluation) -> tuple[FloatArray, bool]:
    rating = own.ratings.get(machine_id)
    if rating is None:
        return stratified_ranks(path, evaluation.draws, evaluation.seed), True
    book = InputBook(evaluation.draws, evaluation.seed)
    return np.asarray(np.clip(book.take(rating, path, "stated"), 0.0, 1.0)), False


def _functions(evaluation: Evaluation, priorities: Priorities, notes: list[str]) -> tuple[ValueFunction, ...]:
    found = []
    for criterion in (*CRITERIA, *(one.id for one in priorities.own_criteria)):
        points = priorities.value_functions.get(criterion)
        if points:
            try:
                found.append(stated_function(points))
                continue
            except ValueError as problem:
                notes.append(f"The value function of {criterion.replace('_', ' ')} is not used: {problem}")
        if criterion == COST:
            function, note = cost_value_function(evaluation)
            notes.append(note)
            found.append(function)
        else:
            found.append(DEFAULT_VALUE_FUNCTIONS.get(criterion) or default_value_function(0.0, 1.0))
    return tuple(found)


def stated_function(points: tuple[ValuePoint, ...]) -> ValueFunction:
    """Make a value function of the points that a case states, in any order; raises ValueError as ValueFunction does."""
    return ValueFunction(points=tuple(sorted((point.measure, point.value) for point in points)))


def cost_value_function(evaluation: Evaluation) -> tuple[ValueFunction, str]:
    """Value of cost on fixed ends: 1 at no cost, ½ at the cost of the reference, 0 at twice that.

    Returns
    -------
    ValueFunction, str
        And one sentence that says what the ends rest on.

    Notes
    -----
    The reference is the machine named under plant.finance.reference; else contract cleaning of the whole volume at the
    library's price per board; else, where both are missing, the dearest offer, and then adding an offer can move the
    ends. Rounded to two figures, so that chance in the draws does not move them.
    """
    case = evaluation.case
    currency = case.plant.currency
    reference = case.plant.finance.reference
    by_id = {outcome.machine.id: outcome for outcome in evaluation.machines}
    found = annual_cost(by_id[reference]) if reference in by_id else None
    if reference is not None and found is not None and np.median(found) > 0.0:
        middle, basis = float(np.median(found)), f"the reference {by_id[reference].machine.name}"
    else:
        middle, basis = _contract_cleaning(evaluation), "contract cleaning of the whole volume"
    if middle <= 0.0:
        costs = [float(np.median(cost)) for cost in map(annual_cost, evaluation.machines) if cost is not None]
        middle, basis = max(costs, default=0.0), "the dearest machine, so another offer can move the scale"
    if middle <= 0.0:
        return default_value_function(1.0, 0.0), "No machine has a cost yet, so cost tells nothing apart."
    anchor = float(f"{middle:.1e}")
    half, none = (f"{amount:,.0f}".replace(",", " ") for amount in (anchor, 2.0 * anchor))
    note = (f"Cost is worth 1 at nothing, 0.5 at {half} and 0 at {none} {currency} per year, after {basis}; give an "
            "own value function to change that.")  # fmt: skip
    return default_value_function(worst=2.0 * anchor, best=0.0), note


def _contract_cleaning(evaluation: Evaluation) -> float:
    case = evaluation.case
    service = next((one for one in evaluation.library.machine_classes if one.id == COST_ANCHOR_CLASS), None)
    price = None if service is None else service.prices.price_per_board
    if price is None:
        return 0.0
    rate = case.plant.exchange_rates.get(price.currency or "")
    return price.si()[1] * (1.0 if rate is None else rate.si()[1]) * boards_per_year(case.board_types)


def boards_per_year(boards: tuple[BoardType, ...]) -> float:
    """Likely number of boards per year over all board types."""
    return sum(board.volume.si()[1] for board in boards) * SECONDS_PER_YEAR


SECONDS_PER_YEAR = 365.25 * 24.0 * 3600.0


def _unknown_notes(unknown: BoolArray, machines: tuple[str, ...], criteria: tuple[str, ...]) -> list[str]:
    found = []
    for row, machine in enumerate(machines):
        lacking = [criteria[place] for place in np.flatnonzero(unknown[row])]
        if lacking:
            found.append(f"{machine}: not known, so any value from 0 to 1 is taken as equally likely: "
                         f"{', '.join(lacking)}.")  # fmt: skip
    return found
