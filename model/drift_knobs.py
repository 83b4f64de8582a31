"""How far volume, board mix and horizon may drift before another machine leads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from catalog_schema.boards import BoardType
from model.cost_drivers import LINE_KINDS
from model.cost_totals import CostStage, assemble
from model.criteria import COST, boards_per_year, over_mix
from model.decision import Decision
from model.drift import NOBODY, Drift, leader_drift
from model.evaluate import Evaluation
from model.outcomes import MachineOutcome
from model.uncertainty import FloatArray

LOW_STANDOFF_M = 100e-6
"""A board type counts as low standoff when its tightest gap is below this (trade columns put QFN and LGA there)."""

VOLUME_RANGE = (0.25, 4.0)
"""Smallest and largest multiple of today's volume that is looked at."""

LONGEST_HORIZON_YEARS = 25

ROUNDING = 1e-9
"""A share of the boards nearer to 0 or 1 than this differs from it by rounding."""

Cost = Callable[[MachineOutcome, CostStage, FloatArray], FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class KnobDrift:
    """One knob and who leads along it."""

    knob: str
    """What is turned, with its unit."""
    low: float
    """Lowest setting looked at."""
    present: float
    """Setting of the case."""
    high: float
    """Highest setting looked at."""
    drift: Drift | None
    """Leaders along the knob, as rows of the table; None where it cannot be turned."""
    headline: str
    """How far it may drift, in one sentence."""


def tightest_gap_m(evaluation: Evaluation, board: BoardType) -> float:
    """Smallest likely gap under any component of a board type, m."""
    kinds = {kind.id: kind for kind in evaluation.library.component_kinds}
    return min(kinds[component.kind].gap.si()[1] for component in board.components)


def drift_knobs(
    evaluation: Evaluation, decision: Decision, *, low_standoff_m: float = LOW_STANDOFF_M
) -> tuple[KnobDrift, ...]:
    """Turn the three knobs: yearly volume, share of low-standoff boards, horizon.

    Parameters
    ----------
    evaluation : Evaluation
    decision : Decision
    low_standoff_m : float
        Gap below which a board type counts as low standoff, m.

    Returns
    -------
    tuple of KnobDrift

    Notes
    -----
    Nothing physical is computed again. Volume: cost lines grow with volume, with the number of machines, or not at all
    (`model.cost_drivers`); where the offer fixes the number of machines, a machine is out when its utilisation passes
    the plant's limit in more draws than the plant forgives, else more are bought. Mix: measures per board type are
    weighed anew, and costs that one board type causes follow its volume; shared costs and the total volume stay. A must
    that only one group of boards brings stays in force. Horizon: costs are put together anew for each whole year and
    interpolated. Scores are those of the middle values under the common weights.
    """
    return (
        volume_drift(evaluation, decision), mix_drift(evaluation, decision, low_standoff_m),
        horizon_drift(evaluation, decision),
    )  # fmt: skip


def volume_drift(evaluation: Evaluation, decision: Decision) -> KnobDrift:
    """Turn the yearly volume of all board types together."""
    knob, total = "Boards per year", boards_per_year(evaluation.case.board_types)
    low, high = VOLUME_RANGE[0] * total, VOLUME_RANGE[1] * total
    outcomes, refused = _costed(evaluation, decision)
    if refused or total <= 0.0:
        return _fixed(knob, total, refused or "No board is built, so there is no volume to turn.")

    def scores_at(settings: FloatArray) -> FloatArray:
        return np.array([_scores(decision, _volume_costs(evaluation, outcomes, setting / total))
                         for setting in settings])  # fmt: skip

    drift = leader_drift(scores_at, low, high, total)
    return _turned(knob, low, total, high, drift, decision, lambda x: f"{x:,.0f} per year".replace(",", " "))


def mix_drift(evaluation: Evaluation, decision: Decision, low_standoff_m: float) -> KnobDrift:
    """Turn the share of board types with a gap below a limit, at the same total volume."""
    knob = "Share of low-standoff boards"
    boards = evaluation.case.board_types
    tight = np.array([tightest_gap_m(evaluation, board) < low_standoff_m for board in boards], dtype=np.bool_)
    share = decision.table.raw.board_share
    present = float(share[tight].sum()) if share.size else 0.0
    outcomes, refused = _costed(evaluation, decision)
    if refused:
        return _fixed(knob, present, refused)
    if tight.all() or not tight.any() or not ROUNDING < present < 1.0 - ROUNDING:
        which = "All" if tight.all() or present > 0.5 else "No"
        limit = f"{low_standoff_m * 1e6:.0f} µm"
        return _fixed(knob, present, f"{which} boards have a gap below {limit}, so there is no share to turn.")

    def scores_at(settings: FloatArray) -> FloatArray:
        rows = []
        for setting in settings:
            factor = np.where(tight, setting / present, (1.0 - setting) / (1.0 - present))
            rows.append(_mix_scores(decision, outcomes, share * factor, factor))
        return np.array(rows)

    drift = leader_drift(scores_at, 0.0, 1.0, present, grid_points=21)
    return _turned(knob, 0.0, present, 1.0, drift, decision, lambda x: f"{100.0 * x:.0f} % of the boards")


def horizon_drift(evaluation: Evaluation, decision: Decision) -> KnobDrift:
    """Turn the years over which costs are counted."""
    knob = "Horizon in years"
    outcomes, refused = _costed(evaluation, decision)
    if refused:
        return _fixed(knob, 0.0, refused)
    stages = [outcome.cost for outcome in outcomes if outcome.cost is not None]
    present = float(stages[0].finance.horizon_years)
    longest = max(LONGEST_HORIZON_YEARS, int(present))
    years = np.arange(1, longest + 1)
    table = np.array([
        _scores(decision, [
            assemble(stage.drivers, replace(stage.finance, horizon_years=int(year)), stage.machines, stage.boards,
                     stage.missing).equivalent_annual_cost
            for stage in stages
        ])
        for year in years
    ])  # fmt: skip

    def scores_at(settings: FloatArray) -> FloatArray:
        return np.column_stack([np.interp(settings, years, column) for column in table.T])

    drift = leader_drift(scores_at, 1.0, float(longest), present)
    return _turned(knob, 1.0, present, float(longest), drift, decision, lambda x: f"{x:.1f} years")


def _costed(evaluation: Evaluation, decision: Decision) -> tuple[tuple[MachineOutcome, ...], str]:
    """Give the outcomes behind the rows, or say why their costs cannot be turned."""
    outcomes = tuple(evaluation.machine(one) for one in decision.table.machine_ids)
    if len(outcomes) < 2:
        return outcomes, "There are no two machines between which the lead could change."
    silent = [outcome.machine.name for outcome in outcomes if outcome.cost is None]
    return outcomes, f"The cost of {', '.join(silent)} is not known, so this cannot be turned." if silent else ""


def _scores(decision: Decision, costs: list[FloatArray | None]) -> FloatArray:
    """Scores with other costs, shape (machines,); NaN for a machine without cost (ruled out at this setting)."""
    table, place = decision.table, decision.table.criteria.index(COST)
    weights = np.asarray(decision.weights)
    function = table.value_functions[place]
    others = decision.middle_values @ weights - decision.middle_values[:, place] * weights[place]
    worth = [np.nan if cost is None else float(np.median(function.value(cost))) for cost in costs]
    return np.asarray(others + weights[place] * np.array(worth))


def _volume_costs(evaluation: Evaluation, outcomes: tuple[MachineOutcome, ...],
                  factor: float) -> list[FloatArray | None]:  # fmt: skip
    musts = evaluation.case.plant.requirements
    most, sure = musts.max_utilisation.si()[1], musts.probability.si()[1]
    least = musts.rule_out_below.si()[1]
    found: list[FloatArray | None] = []
    for outcome in outcomes:
        stage = outcome.cost
        assert stage is not None
        machines = 1.0
        if outcome.capacity is not None:
            busy = outcome.capacity.utilisation * factor
            if outcome.machine.count is not None and float(np.mean(busy <= most)) <= least:
                found.append(None)
                continue
            if outcome.machine.count is None:
                needed = float(np.quantile(busy * outcome.capacity.machines / max(most, 1e-3), sure, method="higher"))
                machines = max(1.0, float(np.ceil(needed - 1e-9))) / max(1, outcome.capacity.machines)
        grows = {"fixed": 1.0, "per machine": machines, "with volume": factor}
        factors = np.array([grows[LINE_KINDS[line.id].scaling] for line in stage.lines])
        found.append(np.asarray((factors @ stage.line_present_cost) * stage.recovery_factor))
    return found


def _mix_scores(decision: Decision, outcomes: tuple[MachineOutcome, ...], share: FloatArray,
                factor: FloatArray) -> FloatArray:  # fmt: skip
    table, raw = decision.table, decision.table.raw
    middle = decision.middle_values.copy()
    for row, outcome in enumerate(outcomes):
        for place in range(raw.by_board.shape[2]):
            criterion, function = table.criteria[place], table.value_functions[place]
            if criterion == COST:
                assert outcome.cost is not None
                by_board = dict(zip(raw.board_ids, factor, strict=True))
                middle[row, place] = np.median(function.value(_mix_cost(outcome.cost, by_board)))
                continue
            known = raw.by_board[:, row, place, :]
            path = f"criteria[{outcome.machine.id}].{criterion}"
            stand_in = table.open_columns[row].get(path, np.full(known.shape[0], 0.5))
            middle[row, place] = np.median(function.value(over_mix(known, share, function, criterion, stand_in)))
    return np.asarray(middle @ np.asarray(decision.weights))


def _mix_cost(stage: CostStage, by_board: dict[str, float]) -> FloatArray:
    """Equivalent annual cost when the volume of each board type is multiplied by a factor of its own."""
    present_of = {line.id: factors.present for line, factors in zip(stage.lines, stage.factors, strict=True)}
    added = np.zeros_like(stage.present_cost)
    for driver in stage.drivers:
        if driver.board_id in by_board and LINE_KINDS[driver.line_id].scaling == "with volume":
            added += driver.amount * present_of[driver.line_id] * (by_board[driver.board_id] - 1.0)
    return np.asarray((stage.present_cost + added) * stage.recovery_factor)


def _fixed(knob: str, present: float, sentence: str) -> KnobDrift:
    return KnobDrift(knob=knob, low=present, present=present, high=present, drift=None, headline=sentence)


def _turned(knob: str, low: float, present: float, high: float, drift: Drift, decision: Decision,
            written: Callable[[float], str]) -> KnobDrift:  # fmt: skip
    def name(row: int) -> str:
        return "nobody" if row == NOBODY else decision.table.machine_names[row]

    ends = []
    if np.isfinite(drift.drift_down):
        ends.append(f"below {written(present - drift.drift_down)} {name(drift.takes_over_below)} leads")
    if np.isfinite(drift.drift_up):
        ends.append(f"above {written(present + drift.drift_up)} {name(drift.takes_over_above)} leads")
    leader = name(drift.leader_now)
    sentence = (f"{knob}: {leader} leads from {written(low)} to {written(high)}." if not ends
                else f"{knob}, now {written(present)}: {leader} leads; {' and '.join(ends)}.")  # fmt: skip
    return KnobDrift(knob=knob, low=low, present=present, high=high, drift=drift, headline=sentence)
