"""The one road: a case becomes an evaluation."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from functools import cached_property

import pandas as pd

from catalog_schema.case import Case, Library
from catalog_schema.collector import collector_at_rest
from catalog_schema.files import case_fingerprint
from catalog_schema.library import library_for
from catalog_schema.machine import machines_of
from model.machine_job import Details, MachineJob, MachineRunner
from model.outcomes import BoardOutcome, FluidOutcome, MachineOutcome
from model.spray_drive import SprayGeometry
from model.spray_field import ExposureTrace
from model.standing_worker import StandingWorker
from model.tables import requirement_table, verdict_table
from model.uncertainty import Input, merge_inputs
from model.workers import Task, outcomes_by_workers

__all__ = ["BoardOutcome", "Evaluation", "FluidOutcome", "MachineOutcome", "evaluate"]

DEFAULT_DRAWS = 512
DEFAULT_SEED = 1
FINE_RAYS = 200_000
"""Rays per trace: few leave the worst cells too dry; four times as many moved no demo probability by over 0.03."""

COARSE_RAYS = 65_536
"""Rays per trace in large cases; the bias is on the safe side."""

MANY_DRAWS = 100_000
"""Draws times machines to compute times board types from which worker processes are worth starting (some seconds)."""

DETAILED_DRAWS = 400_000
"""Draws times machines times board types up to which the stages of every fluid are kept (some 300 MB)."""

Progress = Callable[[int, int, str], None]
"""Called with machines done, machines in all and the name of the last one; may raise to stop the evaluation."""


@dataclass(frozen=True, kw_only=True)
class Evaluation:
    """Everything computed from a case."""

    case: Case
    """The case as evaluated."""
    library: Library
    """Library merged with the case's own records."""
    draws: int
    """Number of draws."""
    seed: int
    """Seed of the draws and traces."""
    rays: int
    """Rays per trace."""
    fingerprint: str
    """Identifies the case."""
    machines: tuple[MachineOutcome, ...]
    """Candidates first, then the machine classes compared with."""
    traces: dict[SprayGeometry, ExposureTrace] = field(repr=False)
    """Ray traces by geometry, kept for pictures and for the next evaluation; the latest ones made in this process,
    others are quickly made again."""
    details: Details
    """Whether `FluidOutcome` holds musts and stages of all fluids, or, in a large case, of the chosen one of each board
    type only (without the mass balance of its rinse); result and probability of all fluids are always there."""

    @cached_property
    def requirements(self) -> pd.DataFrame:
        """One row per must of the chosen fluids; written when first asked for, which in a large case takes seconds."""
        return requirement_table(self.machines)

    @cached_property
    def verdicts(self) -> pd.DataFrame:
        """One row per machine."""
        return verdict_table(self.machines)

    @property
    def inputs(self) -> tuple[Input, ...]:
        """Every quantity that reached a result, each once."""
        return merge_inputs(outcome.inputs for outcome in self.machines)

    def machine(self, machine_id: str) -> MachineOutcome:
        """Give the outcome of a machine by id; raises KeyError when there is none."""
        for outcome in self.machines:
            if outcome.machine.id == machine_id:
                return outcome
        raise KeyError(machine_id)


def evaluate(
    case: Case, draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED, *, rays: int | None = None,
    library: Library | None = None, previous: Evaluation | None = None, progress: Progress | None = None,
    threads: int = 1, workers: int | None = None, details: Details | None = None,
    standing: StandingWorker | None = None,
) -> Evaluation:  # fmt: skip
    """Compute everything about a case.

    Parameters
    ----------
    case : Case
    draws : int
        Draws of the uncertain quantities.
    seed : int
        Same case, draws and seed give the same evaluation, bit for bit, on any number of threads or workers.
    rays : int, optional
        Rays per trace; when absent FINE_RAYS, or COARSE_RAYS in a case larger than DETAILED_DRAWS.
    library : Library, optional
        Base library; the shipped one when absent.
    previous : Evaluation, optional
        Machines and traces that have not changed since are taken over.
    progress : callable, optional
        Told after each machine, in the caller's thread; may raise to stop, which ends all workers at once.
    threads : int
        Machines computed at the same time within this process. More than one seldom pays: the arrays are small and
        Python itself works on one thread at a time.
    workers : int, optional
        Processes that share the machines; 1 computes here. When absent: this process alone for a small job, one
        process a processor for a large one (see `MANY_DRAWS`).
    details : "all fluids" or "chosen fluid", optional
        See `Evaluation.details`; when absent, by the size of the case (see `DETAILED_DRAWS`).
    standing : StandingWorker, optional
        Computes in place of this process what is too small for worker processes of its own, when it is not busy.

    Returns
    -------
    Evaluation

    Raises
    ------
    ValueError
        When draws, rays, threads or workers are below 1.
    RuntimeError
        When a worker process ends before its time.
    """
    for name, number in (("draws", draws), ("rays", rays), ("threads", threads), ("workers", workers)):
        if number is not None and number < 1:
            raise ValueError(f"{name} is {number}. At least 1 is needed.")
    merged = library_for(case, library)
    machines = machines_of(case, merged)
    per_machine = draws * len(case.board_types)
    if details is None:
        details = "all fluids" if per_machine * len(machines) <= DETAILED_DRAWS else "chosen fluid"
    if rays is None:
        rays = FINE_RAYS if per_machine * len(machines) <= DETAILED_DRAWS else COARSE_RAYS
    job = MachineJob(case=case, library=merged, draws=draws, seed=seed, rays=rays, details=details)
    traces: dict[SprayGeometry, ExposureTrace] = {}
    known: dict[str, MachineOutcome] = {}
    if previous is not None and (previous.seed, previous.rays) == (seed, rays):
        traces = previous.traces
        known = {outcome.fingerprint: outcome for outcome in previous.machines}
    tasks = tuple(zip(machines, job.fingerprints(machines), strict=True))
    outcomes = [known.get(fingerprint) for _, fingerprint in tasks]
    missing = [place for place, outcome in enumerate(outcomes) if outcome is None]
    if workers is None:
        workers = (os.cpu_count() or 1) if per_machine * len(missing) >= MANY_DRAWS else 1
    runner = MachineRunner(job, traces)
    done = len(tasks) - len(missing)
    if progress is not None and done:
        progress(done, len(tasks), "")
    to_compute = [tasks[place] for place in missing]
    # Nothing that a machine leaves behind needs the garbage collector, but it would go through all of it all the time.
    resting = collector_at_rest(unlooked_at=workers > 1)
    with closing(_computed(runner, to_compute, threads, workers, standing)) as computed, resting:
        for number, outcome in computed:
            outcomes[missing[number]] = outcome
            done += 1
            if progress is not None:
                progress(done, len(tasks), outcome.machine.name)
    complete = tuple(outcome for outcome in outcomes if outcome is not None)
    return Evaluation(
        case=case, library=merged, draws=draws, seed=seed, rays=rays, fingerprint=case_fingerprint(case),
        machines=complete, traces=runner.traces, details=details,
    )  # fmt: skip


def _computed(
    runner: MachineRunner, tasks: list[Task], threads: int, workers: int, standing: StandingWorker | None
) -> Generator[tuple[int, MachineOutcome], None, None]:
    """Compute machines here, on threads, or by workers; gives each task's place and outcome when it is known."""
    if workers > 1 and len(tasks) > 1:
        yield from outcomes_by_workers(runner.job, tasks, workers)
    elif threads == 1 or len(tasks) < 2:
        done = 0
        if standing is not None and tasks:
            with closing(standing.outcomes(runner.job, tasks)) as elsewhere:
                for place, outcome in elsewhere:
                    done = place + 1
                    yield place, outcome
        for place, task in enumerate(tasks[done:], start=done):
            yield place, runner.outcome(*task)
    else:
        with ThreadPoolExecutor(max_workers=threads) as pool:
            futures = [pool.submit(runner.outcome, *task) for task in tasks]
            try:
                for place, future in enumerate(futures):
                    yield place, future.result()
            finally:
                for future in futures:
                    future.cancel()
