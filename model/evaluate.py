"""The one road: a case becomes an evaluation."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import pandas as pd

from catalog_schema.case import Case, Library
from catalog_schema.files import case_fingerprint
from catalog_schema.library import library_for
from catalog_schema.machine import Machine, machines_of
from model.context import Context
from model.machine_inputs import MachineInputs
from model.machine_process import evaluate_machine
from model.outcomes import BoardOutcome, FluidOutcome, MachineOutcome
from model.requirements import Thresholds
from model.spray_drive import SprayGeometry
from model.spray_field import ExposureTrace
from model.tables import requirement_table, verdict_table
from model.uncertainty import Input, InputBook, merge_inputs

__all__ = ["BoardOutcome", "Evaluation", "FluidOutcome", "MachineOutcome", "evaluate"]

DEFAULT_DRAWS = 512
DEFAULT_SEED = 1
DEFAULT_RAYS = 65_536

Progress = Callable[[int, int, str], None]
"""Called with machines done, machines in all and the name of the last one; may raise to stop the evaluation."""


@dataclass(frozen=True, slots=True, kw_only=True)
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
    requirements: pd.DataFrame
    """One row per must of the chosen fluids."""
    verdicts: pd.DataFrame
    """One row per machine."""
    traces: dict[SprayGeometry, ExposureTrace] = field(repr=False)
    """Ray traces by geometry, kept for pictures and for the next evaluation."""

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
    case: Case, draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED, *, rays: int = DEFAULT_RAYS,
    library: Library | None = None, previous: Evaluation | None = None, progress: Progress | None = None,
    threads: int = 2,
) -> Evaluation:  # fmt: skip
    """Compute everything about a case.

    Parameters
    ----------
    case : Case
    draws : int
        Draws of the uncertain quantities.
    seed : int
        Same case, draws and seed give the same evaluation, bit for bit, on any number of threads.
    rays : int
        Rays per trace.
    library : Library, optional
        Base library; the shipped one when absent.
    previous : Evaluation, optional
        Machines and traces that have not changed since are taken over.
    progress : callable, optional
        Told after each machine; may raise to stop.
    threads : int
        Machines computed at the same time.

    Returns
    -------
    Evaluation

    Raises
    ------
    ValueError
        When draws, rays or threads are below 1.
    """
    for name, number in (("draws", draws), ("rays", rays), ("threads", threads)):
        if number < 1:
            raise ValueError(f"{name} is {number}. At least 1 is needed.")
    merged = library_for(case, library)
    traces: dict[SprayGeometry, ExposureTrace] = {}
    old_traces: dict[SprayGeometry, ExposureTrace] = {}
    old: dict[str, MachineOutcome] = {}
    if previous is not None and (previous.seed, previous.rays) == (seed, rays):
        old_traces = previous.traces
        old = {outcome.fingerprint: outcome for outcome in previous.machines}

    def trace_of(geometry: SprayGeometry) -> ExposureTrace:
        if geometry not in traces:
            found = old_traces.get(geometry)
            traces[geometry] = geometry.trace(rays, seed) if found is None else found
        return traces[geometry]

    shared = _shared_fingerprint(case, merged, draws, seed, rays)
    machines = machines_of(case, merged)

    def one(machine: Machine) -> MachineOutcome:
        fingerprint = _machine_fingerprint(machine, shared)
        known = old.get(fingerprint)
        return (
            known if known is not None else _evaluate_machine(case, merged, machine, draws, seed, trace_of, fingerprint)
        )

    outcomes: list[MachineOutcome] = []
    with ThreadPoolExecutor(max_workers=threads) as pool:
        futures = [pool.submit(one, machine) for machine in machines]
        try:
            for done, future in enumerate(futures, start=1):
                outcomes.append(future.result())
                if progress is not None:
                    progress(done, len(machines), outcomes[-1].machine.name)
        except BaseException:
            for future in futures:
                future.cancel()
            raise
    return Evaluation(
        case=case, library=merged, draws=draws, seed=seed, rays=rays, fingerprint=case_fingerprint(case),
        machines=tuple(outcomes), requirements=requirement_table(outcomes), verdicts=verdict_table(outcomes),
        # Traces of machines taken over stay available for pictures.
        traces=old_traces | traces,
    )  # fmt: skip


def _digest(*texts: str) -> str:
    digest = hashlib.blake2b(digest_size=16)
    for text in texts:
        digest.update(text.encode("utf-8"))
        digest.update(b"\0")
    return digest.hexdigest()


def _shared_fingerprint(case: Case, library: Library, draws: int, seed: int, rays: int) -> str:
    """Identify all that every machine's outcome depends on, but for the machine itself."""
    return _digest(
        case.plant.model_dump_json(), "".join(board.model_dump_json() for board in case.board_types),
        library.model_dump_json(exclude={"machine_classes"}), f"{draws} {seed} {rays}",
    )  # fmt: skip


def _machine_fingerprint(machine: Machine, shared: str) -> str:
    return _digest(
        shared, machine.id, machine.name, machine.class_id, machine.principle, machine.moving,
        str(machine.is_candidate), str(machine.count), machine.equipment.model_dump_json(),
        " ".join(sorted(machine.stated)),
    )  # fmt: skip


def _thresholds(case: Case) -> Thresholds:
    requirements = case.plant.requirements
    return Thresholds(meets_from=requirements.probability.si()[1], misses_to=requirements.rule_out_below.si()[1])


def _evaluate_machine(
    case: Case, library: Library, machine: Machine, draws: int, seed: int,
    trace_of: Callable[[SprayGeometry], ExposureTrace], fingerprint: str,
) -> MachineOutcome:  # fmt: skip
    rates = {code: rate.si()[1] for code, rate in case.plant.exchange_rates.items()}
    context = Context(
        case=case, library=library, inputs=MachineInputs(machine, InputBook(draws, seed, rates)),
        thresholds=_thresholds(case), trace_of=trace_of, fields={}, materials={},
    )  # fmt: skip
    return evaluate_machine(context, fingerprint)
