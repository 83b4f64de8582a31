"""Volume against machines: loads, machines needed, utilisation and waiting over the whole board mix."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType
from model.capacity import (
    availability_share,
    cycle_with_failures,
    loads_per_day,
    machine_time_s_per_day,
    machines_needed,
    mean_waiting_s,
    service_moments,
    utilisation_share,
)
from model.context import Context
from model.cycle import BoardCycle
from model.input_errors import UnphysicalInputError
from model.phrase import phrase
from model.requirements import Judged, Subject, judge_number
from model.uncertainty import FloatArray, low_middle_high

SECONDS_PER_HOUR = 3600.0
SECONDS_PER_YEAR = 365.25 * 24.0 * SECONDS_PER_HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacityStage:
    """How many machines the volume takes and how busy they are."""

    judged: tuple[Judged, ...]
    """Musts of the volume."""
    machines: int
    """Machines offered, or as many as keep utilisation within the plant's limit with the plant's probability."""
    needed: FloatArray
    """Machines needed, shape (draws,)"""
    utilisation: FloatArray
    """Share of the available time that the machines are busy, shape (draws,)"""
    waiting_s: FloatArray
    """s, mean wait of a load before its cycle, infinite where the queue grows, shape (draws,)"""
    loads_per_year: dict[str, FloatArray]
    """Loads per year by board type, shape (draws,)"""
    run_hours_per_year: FloatArray
    """Hours per year that all machines run, shape (draws,)"""
    availability: FloatArray
    """Share of the time that a machine works, shape (draws,)"""


def working_days_per_year(context: Context) -> FloatArray:
    """Days per year on which the plant works; at least one."""
    return np.asarray(np.maximum(context.from_plant("working_days"), 1.0))


def boards_per_day(context: Context, board: BoardType) -> FloatArray:
    """Boards of one type per working day.

    Notes
    -----
    Boards a year ÷ working days a year.
    """
    return np.asarray(context.of_board(board, "volume") * SECONDS_PER_YEAR / working_days_per_year(context))


def refuse_no_working_time(context: Context) -> None:
    """Say which of the plant's times is zero: no number of machines would be an answer then.

    Raises
    ------
    UnphysicalInputError
    """
    for path, unit in (("working_days", "days"), ("hours_per_day", "hours")):
        if np.any(context.from_plant(path) <= 0.0):
            raise UnphysicalInputError(
                f"plant.{path} is 0 {unit}, so no board can be washed. Give a number above 0, for example "
                f"{'225' if path == 'working_days' else '16'}."
            )
    if context.case.plant.requirements.max_utilisation.si()[2] <= 0.0:
        raise UnphysicalInputError(
            "plant.requirements.max_utilisation is 0 %, so no machine may run. Give a share above 0, for example 85 %."
        )


def _refuse_no_time(context: Context) -> None:
    """Say which time is zero, the plant's or the machine's."""
    refuse_no_working_time(context)
    between = context.inputs.draws("running.time_between_failures")
    if between is not None and np.any(between <= 0.0):
        raise UnphysicalInputError(
            f"{context.machine.name}: running: time between failures is 0 h, so it never runs. Give for example 500 h."
        )


def capacity_stage(context: Context, cycles: dict[str, BoardCycle]) -> CapacityStage:
    """Judge the machine against the plant's volume.

    Parameters
    ----------
    context : Context
    cycles : dict
        Cycle by board type, for those that have one.

    Returns
    -------
    CapacityStage

    Raises
    ------
    UnphysicalInputError
        When the plant never works, or the machine fails as soon as it starts.

    Notes
    -----
    Busy time a day = Σ loads × time a load keeps the machine + lots × change-over. Machines = the fewest with busy time
    ÷ (machines × hours × availability) ≤ limit, with the plant's probability; availability = MTBF/(MTBF + MTTR); mean
    wait by Allen–Cunneen, failures included.
    """
    plant = context.case.plant
    inputs = context.inputs
    _refuse_no_time(context)
    boards = [board for board in context.case.board_types if board.id in cycles]
    share_loads = plant.requirements.mixed_loads
    inline = context.machine.moving == "inline"
    lots = [np.ones(context.draws) if inline else context.of_board(board, "lot_size") for board in boards]
    fits = [np.full(context.draws, 1.0 if inline else cycles[board.id].boards_that_fit) for board in boards]
    per_day = np.array([boards_per_day(context, board) for board in boards])
    if inline:
        # A belt carries rows, one pitch after another; lots follow each other without gaps.
        loads = per_day / np.array([cycles[board.id].boards_per_load for board in boards])
    else:
        loads = loads_per_day(per_day, np.array(lots), np.array(fits), types_may_share=share_loads).loads_per_day
    occupied = np.array([cycles[board.id].occupied_s for board in boards])
    changeover = inputs.draws("running.changeover_time")
    lots_per_day = per_day / np.array([context.of_board(board, "lot_size") for board in boards])
    busy = machine_time_s_per_day(loads, occupied, types_may_share=share_loads and not inline).sum(axis=0)
    if changeover is not None and len(boards) > 1:
        busy = busy + lots_per_day.sum(axis=0) * changeover
    working = np.maximum(context.from_plant("hours_per_day") * SECONDS_PER_HOUR, 1.0)
    between, repair = inputs.draws("running.time_between_failures"), inputs.draws("running.repair_time")
    known = between is not None and repair is not None
    availability = (
        availability_share(np.maximum(between, 1.0), repair)
        if known and between is not None and repair is not None
        else np.ones(context.draws)
    )
    most = context.from_plant("requirements.max_utilisation")
    needed = machines_needed(busy, working, availability, np.maximum(most, 1e-3)).astype(np.float64)
    probability = context.thresholds.meets_from
    machines = context.machine.count or max(1, int(np.ceil(np.quantile(needed, probability, method="higher"))))
    utilisation = utilisation_share(busy, float(machines), working, availability)
    waiting = np.zeros(context.draws)
    if loads.sum() > 0:
        mean, variation = service_moments(np.maximum(loads, 1e-12), np.maximum(occupied, 1e-3))
        variation = variation + context.constant("service_variation")
        if between is not None and repair is not None:
            mean, variation = cycle_with_failures(mean, variation, np.maximum(between, 1.0), repair)
        waiting = mean_waiting_s(
            loads.sum(axis=0) / working, mean, float(machines), context.from_plant("arrival_variation"), variation
        )
    days = working_days_per_year(context)
    return CapacityStage(
        judged=_judged(context, machines, utilisation, waiting, most), machines=machines, needed=needed,
        utilisation=utilisation, waiting_s=waiting,
        loads_per_year={board.id: loads[row] * days for row, board in enumerate(boards)},
        run_hours_per_year=busy * days / SECONDS_PER_HOUR, availability=availability,
    )  # fmt: skip


def _judged(context: Context, machines: int, utilisation: FloatArray, waiting: FloatArray,
            most: FloatArray) -> tuple[Judged, ...]:  # fmt: skip
    subject = Subject(machine_id=context.machine.id)
    busy = low_middle_high(utilisation)[1]
    counted = "1 machine" if machines == 1 else f"{machines} machines"
    offered = "offered" if context.machine.count else "taken"
    judged = [
        judge_number(
            subject, "capacity", "Copes with the volume", "capacity", measure=utilisation, limit=most,
            direction="at most", dimension="share", thresholds=context.thresholds,
            sentence=phrase(
                "{machines} {offered} {verb} busy {busy} of the time fit to run; the limit is {most}.",
                machines=counted, offered=offered, verb="is" if machines == 1 else "are", busy=(busy, "share"),
                most=(float(np.median(most)), "share"),
            ),
        )
    ]  # fmt: skip
    longest = context.of_plant("requirements.max_waiting")
    if longest is not None:
        middle = low_middle_high(waiting)[1]
        template = (
            "The queue grows without end: {machines} cannot keep up."
            if np.isinf(middle)
            else "A load waits {waiting} on average before its cycle; the plant allows {longest}."
        )
        judged.append(
            judge_number(
                subject, "waiting", "Boards do not wait too long", "capacity", measure=waiting, limit=longest,
                direction="at most", dimension="long time", thresholds=context.thresholds,
                sentence=phrase(template, machines=counted, waiting=(middle, "long time"),
                                longest=(float(np.median(longest)), "long time")),
            )
        )  # fmt: skip
    return tuple(judged)
