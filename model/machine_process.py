"""One machine over the whole board mix: boards, records, volume and site put together."""

from __future__ import annotations

import numpy as np

from catalog_schema.fluids import Fluid
from model.board_process import Refusal, evaluate_boards
from model.capacity_stage import CapacityStage, capacity_stage
from model.context import Context
from model.cost_lines import budget_requirement, cost_problem, cost_stage
from model.cost_totals import CostStage
from model.outcomes import BoardOutcome, MachineOutcome
from model.phrase import phrase
from model.requirements import Judged, Subject, joint, judge_fact
from model.site_limits import site_requirements
from model.stages import input_problem
from model.traceability import TraceabilityOutcome, traceability_requirement


def evaluate_machine(context: Context, fingerprint: str) -> MachineOutcome:
    """Judge one machine.

    Parameters
    ----------
    context : Context
    fingerprint : str
        Identifies all that the outcome depends on.

    Returns
    -------
    MachineOutcome
    """
    boards = evaluate_boards(context, context.case.board_types)
    judged: list[Judged] = []
    traceability: TraceabilityOutcome | None = None
    capacity: CapacityStage | None = None
    try:
        traceability = traceability_requirement(context.inputs, context.case.plant.requirements.traceability)
        judged.append(traceability.judged)
        cycles = {board.board_id: board.chosen.cycle for board in boards if board.chosen.cycle is not None}
        if cycles:
            capacity = capacity_stage(context, cycles)
            judged += capacity.judged
        if context.machine.moving not in ("none", "outside"):
            judged += _site(context, boards, capacity)
    except Refusal as problem:
        judged.append(input_problem(context, "", "", problem))
    cost: CostStage | None = None
    try:
        cost = cost_stage(context, boards, capacity, traceability)
        judged += budget_requirement(context, cost)
    except Refusal as problem:
        judged.append(cost_problem(context, problem))
    if not boards:
        judged.append(
            judge_fact(
                Subject(machine_id=context.machine.id), "board mix", "Boards to judge by", "fit", holds=None,
                draws=context.draws, sentence=phrase("The board mix is empty: add a board type to get an answer."),
            )
        )  # fmt: skip
    everything = (
        *(one for board in boards for one in board.chosen.judged),
        *(one for board in boards if board.esd is not None for one in board.esd.judged),
        *judged,
    )
    result, probability, met = joint(everything, context.draws, context.thresholds)
    return MachineOutcome(
        machine=context.machine, boards=boards, judged=tuple(judged), capacity=capacity, traceability=traceability,
        cost=cost, result=result, probability=probability, met=met, deciding=_deciding(everything),
        inputs=context.inputs.book.inputs(), columns=context.inputs.book.uncertain_columns(), fingerprint=fingerprint,
    )  # fmt: skip


def _site(context: Context, boards: tuple[BoardOutcome, ...], capacity: CapacityStage | None) -> tuple[Judged, ...]:
    machines = np.full(context.draws, float(capacity.machines if capacity else context.machine.count or 1))
    return site_requirements(
        context.inputs, machines, context.case.plant.site, most_flammable(context, boards), context.thresholds
    )


def most_flammable(context: Context, boards: tuple[BoardOutcome, ...]) -> Fluid | None:
    """Pick the fluid in use with the lowest flash temperature, else any fluid in use, else None."""
    used = {board.chosen.fluid_id for board in boards if board.chosen.fluid_id}
    fluids = [fluid for fluid in context.library.fluids if fluid.id in used]

    def flash(fluid: Fluid) -> tuple[float, str]:
        temperature = fluid.flash_temperature
        return (np.inf if temperature is None else temperature.si()[1], fluid.id)

    return min(fluids, key=flash, default=None)


def _deciding(judged: tuple[Judged, ...]) -> Judged | None:
    """Pick the must least likely to be met; one that cannot be computed comes before one that is met."""

    def badness(one: Judged) -> tuple[int, float]:
        rank = {"falls short": 0, "unknown": 1, "meets": 2}[one.requirement.result]
        probability = one.requirement.probability
        return rank, 0.5 if probability is None else probability

    return min(judged, key=badness, default=None)
