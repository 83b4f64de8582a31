"""Cost over the yearly volume: fixed, per-machine and per-board parts, and where two machines cost the same."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from catalog_schema.units import number_text
from model.break_even import BreakEvenVolume, break_even_volume
from model.capacity_stage import SECONDS_PER_YEAR
from model.cost_drivers import LINE_KINDS
from model.cost_totals import CostStage, at_medians
from model.evaluate import Evaluation
from model.outcomes import MachineOutcome
from model.uncertainty import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class VolumeCost:
    """Equivalent annual cost of one machine as a function of the volume, the mix of board types kept."""

    planned_boards: float
    """Boards per year of the plan, all types."""
    fixed: FloatArray
    """Money per year whatever the volume, shape (draws,)."""
    per_machine: FloatArray
    """Money per year for each machine, shape (draws,)."""
    per_board: FloatArray
    """Money for each board of the plan's mix, shape (draws,)."""
    machines: float
    """Machines at the planned volume; 0 for a service."""
    machines_per_plan: float
    """Machines that the planned volume takes, as a fraction, with the plant's probability."""
    offered: bool
    """True: the number of machines is that of the offer and does not grow."""

    @property
    def copes_up_to(self) -> float:
        """Boards per year that the machines offered can wash; infinite where more machines are bought as needed."""
        if not self.offered or self.machines_per_plan <= 0.0:
            return float("inf")
        return self.planned_boards * self.machines / self.machines_per_plan

    def machines_at(self, boards: float) -> float:
        """Count the machines at a volume."""
        if self.offered or self.machines == 0:
            return self.machines
        return max(1.0, float(np.ceil(self.machines_per_plan * boards / self.planned_boards - 1e-9)))

    def annual_cost(self, boards: float) -> FloatArray:
        """Give the equivalent annual cost at a volume, shape (draws,)."""
        return np.asarray(self.fixed + self.per_machine * self.machines_at(boards) + self.per_board * boards)


def planned_boards(evaluation: Evaluation) -> float:
    """Boards per year of the plan, all types, likely values."""
    return float(sum(board.volume.si()[1] for board in evaluation.case.board_types) * SECONDS_PER_YEAR)


def volume_cost(evaluation: Evaluation, outcome: MachineOutcome, *, medians: bool = True) -> VolumeCost | None:
    """Split a machine's cost by what it grows with.

    Parameters
    ----------
    evaluation : Evaluation
    outcome : MachineOutcome
    medians : bool
        True: one draw, every quantity and price at its median; False: all draws.

    Returns
    -------
    VolumeCost or None
        None where the cost is not known or no board is planned.

    Notes
    -----
    Each line of the cost says what it grows with. More boards need more machines where the offer leaves their number
    open: as many as keep utilisation within the plant's limit with the plant's probability. Loads stay as full, and
    prices per unit the same, as at the planned volume.
    """
    boards = planned_boards(evaluation)
    stage = outcome.cost
    if stage is None or boards <= 0.0:
        return None
    if medians:
        stage = at_medians(stage)
    parts = _parts(stage)
    needed = 0.0
    if outcome.capacity is not None:
        most = evaluation.case.plant.requirements.max_utilisation.si()[1]
        limit = outcome.columns.get("plant.requirements.max_utilisation", np.array([most]))
        fraction = outcome.capacity.utilisation * outcome.capacity.machines / np.maximum(limit, 1e-3)
        probability = evaluation.case.plant.requirements.probability.si()[1]
        needed = float(np.quantile(fraction, probability, method="higher"))
    return VolumeCost(
        planned_boards=boards, fixed=parts["fixed"], per_machine=parts["per machine"] / max(stage.machines, 1.0),
        per_board=parts["with volume"] / boards, machines=stage.machines, machines_per_plan=needed,
        offered=outcome.machine.count is not None,
    )  # fmt: skip


def _parts(stage: CostStage) -> dict[str, FloatArray]:
    parts = {scaling: np.zeros(stage.present_cost.size) for scaling in ("fixed", "per machine", "with volume")}
    for line, present in zip(stage.lines, stage.line_present_cost, strict=True):
        parts[LINE_KINDS[line.id].scaling] += present * stage.recovery_factor
    return parts


def break_even_between(evaluation: Evaluation, candidate_id: str, rival_id: str, *, from_share: float = 0.05,
                       to_share: float = 5.0) -> BreakEvenVolume:  # fmt: skip
    """Give the volumes at which two machines cost the same, every input at its median.

    Parameters
    ----------
    evaluation : Evaluation
    candidate_id, rival_id : str
    from_share, to_share : float
        Limits of the search as shares of the planned volume.

    Returns
    -------
    BreakEvenVolume
        Without volumes and with a sentence where a cost is not known or no board is planned.
    """
    candidate, rival = evaluation.machine(candidate_id), evaluation.machine(rival_id)
    costs = [volume_cost(evaluation, one) for one in (candidate, rival)]
    if costs[0] is None or costs[1] is None:
        return BreakEvenVolume(volumes=(), statement="There is no break-even volume: no board is planned, or a cost "
                               "is not known.")  # fmt: skip
    first, second = costs[0], costs[1]
    found = break_even_volume(
        lambda boards: float(first.annual_cost(boards)[0]), lambda boards: float(second.annual_cost(boards)[0]),
        from_share * first.planned_boards, to_share * first.planned_boards,
        candidate_name=candidate.machine.name, rival_name=rival.machine.name,
    )  # fmt: skip
    limits = [
        # Whole boards, and none too many; the little extra is for a whole number that came out a shade too low.
        f"The {one.machines:g} {outcome.machine.name} offered cope with "
        f"{number_text(np.floor(one.copes_up_to * (1.0 + 1e-9)))} boards per year at most."
        for outcome, one in ((candidate, first), (rival, second))
        if one.copes_up_to < to_share * one.planned_boards
    ]
    return BreakEvenVolume(volumes=found.volumes, statement=" ".join([found.statement, *limits]))


def _volumes(cost: VolumeCost, to_share: float, points: int) -> FloatArray:
    """Give evenly spaced volumes, and both sides of each step at which one more machine is bought."""
    even = np.linspace(0.05, to_share, points) * cost.planned_boards
    if cost.offered or cost.machines == 0 or cost.machines_per_plan <= 0.0:
        return even
    step = cost.planned_boards / cost.machines_per_plan
    steps = step * np.arange(1, min(int(even[-1] / step), 200) + 1)
    return np.unique(np.concatenate([even, steps, steps * (1.0 + 1e-6)]))


def volume_curves(evaluation: Evaluation, machine_ids: Sequence[str], *, points: int = 41,
                  to_share: float = 2.0) -> pd.DataFrame:  # fmt: skip
    """Give the cost of some machines over the volume, for the picture.

    Parameters
    ----------
    evaluation : Evaluation
    machine_ids : sequence of str
    points : int
        Volumes, evenly from a twentieth of the plan.
    to_share : float
        Largest volume as a share of the plan.

    Returns
    -------
    DataFrame
        Columns machine, name, boards, low, middle, high (money per year), copes. Middle is at the medians of all
        inputs, as the break-even volume is; low and high are the 5 % and 95 % points over the draws.
    """
    rows = []
    for machine_id in machine_ids:
        outcome = evaluation.machine(machine_id)
        middle, all_draws = volume_cost(evaluation, outcome), volume_cost(evaluation, outcome, medians=False)
        if middle is None or all_draws is None:
            continue
        for boards in _volumes(middle, to_share, points):
            low, high = np.quantile(all_draws.annual_cost(float(boards)), [0.05, 0.95])
            at_middle = float(middle.annual_cost(float(boards))[0])
            rows.append((machine_id, outcome.machine.name, float(boards), float(low), at_middle, float(high),
                         bool(boards <= middle.copes_up_to * (1 + 1e-9))))  # fmt: skip
    return pd.DataFrame(rows, columns=["machine", "name", "boards", "low", "middle", "high", "copes"])
