"""What one machine costs over the horizon: every line with its driver, and the budget it must keep."""

from __future__ import annotations

import numpy as np

from model.capacity_stage import SECONDS_PER_YEAR, CapacityStage
from model.context import Context
from model.cost_drivers import LINE_KINDS
from model.cost_equipment import add_keeping, add_purchase, add_tests, add_upgrades
from model.cost_finance import read_finance
from model.cost_ledger import CostLedger
from model.cost_running import WashedBoard, add_bought_service, add_field_failures, add_running, washed_boards
from model.cost_totals import BoardAmounts, CostStage, assemble
from model.outcomes import BoardOutcome
from model.phrase import phrase
from model.requirements import Judged, Subject, judge_fact, judge_number
from model.rinse_course import board_area_m2
from model.traceability import TraceabilityOutcome
from model.uncertainty import low_middle_high


def cost_stage(
    context: Context, boards: tuple[BoardOutcome, ...], capacity: CapacityStage | None,
    traceability: TraceabilityOutcome | None = None,
) -> CostStage:  # fmt: skip
    """Count every cost of one machine.

    Parameters
    ----------
    context : Context
        All quantities are read through its book, so that each keeps its basis.
    boards : tuple of BoardOutcome
        With the fluid chosen and its cycle.
    capacity : CapacityStage or None
        Machines, loads and running hours; None where no board type has a cycle.
    traceability : TraceabilityOutcome, optional
        Option that requirements force.

    Returns
    -------
    CostStage

    Raises
    ------
    UnphysicalInputError
        When a horizon, life, rate or tax has no meaning.

    Notes
    -----
    Machines are those of the volume, or those offered. A price or quantity that nobody knows leaves its line out and is
    named. Not counted: standby energy, value-added tax, interest of stocks, people's time outside the machine.
    """
    principle = context.machine.principle
    finance = read_finance(context)
    outside = principle in ("service", "none")
    machines = 0.0 if outside else float(capacity.machines if capacity else context.machine.count or 1)
    ledger = CostLedger(context=context, machines=machines)
    washed: tuple[WashedBoard, ...] = ()
    if principle != "none":
        add_purchase(ledger)
        if not outside:
            washed = washed_boards(context, boards, capacity)
            add_upgrades(ledger, boards, traceability)
            add_keeping(ledger, boards, capacity)
            _running_or_why_not(ledger, washed, capacity)
        else:
            add_bought_service(ledger)
            add_tests(ledger)
    add_field_failures(ledger, boards)
    return assemble(tuple(ledger.drivers), finance, machines, _amounts(context, washed, outside), ledger.missing)


def _running_or_why_not(ledger: CostLedger, washed: tuple[WashedBoard, ...], capacity: CapacityStage | None) -> None:
    if capacity is not None:
        add_running(ledger, washed, capacity)
    counted = {one.board.id for one in washed}
    for board in ledger.context.case.board_types:
        if board.id not in counted:
            name = f"Washing {board.name}"
            ledger.missing[name] = f"{name} is left out: the board type has no cycle in this machine."


def _amounts(context: Context, washed: tuple[WashedBoard, ...], outside: bool) -> dict[str, BoardAmounts]:
    if outside:
        volumes = {board.id: context.of_board(board, "volume") * SECONDS_PER_YEAR for board in context.case.board_types}
        total = np.sum(list(volumes.values()), axis=0) if volumes else np.zeros(context.draws)
        nothing = total <= 0.0
        even, whole = 1.0 / max(len(volumes), 1), np.where(nothing, 1.0, total)
        return {
            board.id: BoardAmounts(
                boards_per_year=volumes[board.id], area_m2=board_area_m2(context, board),
                shared_cost_share=np.where(nothing, even, volumes[board.id] / whole),
            )
            for board in context.case.board_types
        }  # fmt: skip
    return {
        one.board.id: BoardAmounts(
            boards_per_year=one.boards_per_year, area_m2=board_area_m2(context, one.board),
            shared_cost_share=one.machine_share,
        )
        for one in washed
    }  # fmt: skip


def budget_requirement(context: Context, stage: CostStage) -> tuple[Judged, ...]:
    """Judge what is paid at the start against the plant's budget; nothing where the plant gives none.

    Notes
    -----
    Everything that is paid at the start, all machines, ≤ budget. Unknown as long as the price is not known.
    """
    budget = context.of_plant("requirements.max_budget")
    if budget is None:
        return ()
    subject = Subject(machine_id=context.machine.id)
    title = "Within the budget"
    if LINE_KINDS["purchase"].name in stage.missing:
        sentence = phrase("The price of {machine} is not known. Ask the supplier.", machine=context.machine.name)
        return (judge_fact(subject, "budget", title, "cost", holds=None, draws=context.draws, sentence=sentence),)
    middle = low_middle_high(stage.initial_cost)[1]
    sentence = phrase(
        "{machines} × {machine} with all that is paid at the start cost {cost}; the budget is {budget}."
        if stage.machines else "{machine} costs {cost} at the start; the budget is {budget}.",
        machines=f"{stage.machines:g}", machine=context.machine.name, cost=(middle, "money"),
        budget=(float(np.median(budget)), "money"),
    )  # fmt: skip
    return (
        judge_number(subject, "budget", title, "cost", measure=stage.initial_cost, limit=budget, direction="at most",
                     dimension="money", thresholds=context.thresholds, sentence=sentence),
    )  # fmt: skip


def cost_problem(context: Context, problem: Exception) -> Judged:
    """Say an input that leaves the cost without meaning, as a finding beside the others."""
    return judge_fact(Subject(machine_id=context.machine.id), "cost inputs", "Cost can be counted", "cost", holds=None,
                      draws=context.draws, sentence=phrase("{problem}", problem=str(problem)))  # fmt: skip
