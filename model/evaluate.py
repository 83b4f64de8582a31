"""The one road: a case becomes an evaluation."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from catalog_schema.boards import BoardType
from catalog_schema.case import Case, Library
from catalog_schema.files import case_fingerprint
from catalog_schema.library import library_for
from catalog_schema.machine import Machine, machines_of
from model.machine_inputs import MachineInputs, MissingInputError
from model.phrase import phrase
from model.requirements import Judged, Result, Subject, Thresholds, joint, judge_fact
from model.spray_drive import LoadFit, SprayGeometry
from model.spray_field import ExposureTrace
from model.stages import Context, WashStage, board_fit, fit_requirement, input_problem, wash_stage
from model.uncertainty import Input, InputBook, merge_inputs

DEFAULT_DRAWS = 512
DEFAULT_SEED = 1
DEFAULT_RAYS = 65_536

Progress = Callable[[int, int, str], None]
"""Called with machines done, machines in all and the name of the last one; may raise to stop the evaluation."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidOutcome:
    """One board type in one machine with one fluid."""

    fluid_id: str
    """The fluid."""
    judged: tuple[Judged, ...]
    """Its musts."""
    result: Result
    """All of them together."""
    probability: float
    """Share of the draws in which all that can be computed hold."""
    met: NDArray[np.bool_]
    """Outcome per draw."""
    wash: WashStage | None
    """The wash, or None when it was not computed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardOutcome:
    """One board type in one machine, with the fluid that does best."""

    board_id: str
    """The board type."""
    fit: LoadFit | None
    """Boards per load."""
    fluids: tuple[FluidOutcome, ...]
    """Every fluid tried."""
    chosen: FluidOutcome
    """The fluid that meets all, else the one that comes nearest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineOutcome:
    """One machine over the whole board mix."""

    machine: Machine
    """The machine."""
    boards: tuple[BoardOutcome, ...]
    """Every board type."""
    result: Result
    """Falls short when one board type cannot be cleaned."""
    probability: float
    """Share of the draws in which every board type's musts hold together."""
    met: NDArray[np.bool_]
    """Outcome per draw."""
    deciding: Judged | None
    """The must that decides: the one least likely to be met."""
    inputs: tuple[Input, ...]
    """Every quantity that was read."""
    fingerprint: str
    """Identifies all that the outcome depends on."""


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
        machines=tuple(outcomes), requirements=_requirement_table(outcomes), verdicts=_verdict_table(outcomes),
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
    book = InputBook(draws, seed, rates)
    context = Context(
        case=case, library=library, inputs=MachineInputs(machine, book), thresholds=_thresholds(case),
        trace_of=trace_of, fields={},
    )  # fmt: skip
    boards = tuple(_evaluate_board(context, board) for board in case.board_types)
    judged = tuple(one for board in boards for one in board.chosen.judged)
    result, probability, met = joint(judged, draws, context.thresholds)
    return MachineOutcome(
        machine=machine, boards=boards, result=result, probability=probability, met=met, deciding=_deciding(judged),
        inputs=book.inputs(), fingerprint=fingerprint,
    )  # fmt: skip


def _deciding(judged: tuple[Judged, ...]) -> Judged | None:
    """Pick the must least likely to be met; one that cannot be computed comes before one that is met."""

    def badness(one: Judged) -> tuple[int, float]:
        rank = {"falls short": 0, "unknown": 1, "meets": 2}[one.requirement.result]
        probability = one.requirement.probability
        return rank, 0.5 if probability is None else probability

    return min(judged, key=badness, default=None)


def _evaluate_board(context: Context, board: BoardType) -> BoardOutcome:
    flux = next(record for record in context.library.flux_kinds if record.id == board.flux)
    if context.machine.principle == "none":
        return _single(context, board, None, (_uncleaned(context, board),))
    if context.machine.principle == "service":
        return _single(context, board, None, (_bought_outside(context, board),))
    try:
        fit = board_fit(context, board)
    except (MissingInputError, ValueError) as problem:
        return _single(context, board, None, (input_problem(context, board.id, "", problem),))
    fits = fit_requirement(context, board, fit)
    if fit.boards_per_load < 1:
        return _single(context, board, fit, (fits,))
    fluids = {fluid.id: fluid for fluid in context.library.fluids}
    outcomes = []
    for fluid_id in context.machine.equipment.wash.fluids or ():
        try:
            wash = wash_stage(context, board, flux, fluids[fluid_id], fit)
            judged = (fits, *wash.judged)
        except (MissingInputError, ValueError) as problem:
            wash, judged = None, (fits, input_problem(context, board.id, fluid_id, problem))
        result, probability, met = joint(judged, context.draws, context.thresholds)
        outcomes.append(
            FluidOutcome(fluid_id=fluid_id, judged=judged, result=result, probability=probability, met=met, wash=wash)
        )
    if not outcomes:
        missing = MissingInputError(context.machine.name, "wash.fluids")
        return _single(context, board, fit, (fits, input_problem(context, board.id, "", missing)))
    return BoardOutcome(board_id=board.id, fit=fit, fluids=tuple(outcomes), chosen=_best_fluid(context, outcomes))


def _best_fluid(context: Context, outcomes: list[FluidOutcome]) -> FluidOutcome:
    """Take the cheapest fluid that meets all, else the one most likely to."""
    prices = {fluid.id: fluid.bath_price.si()[1] for fluid in context.library.fluids}
    meeting = [outcome for outcome in outcomes if outcome.result == "meets"]
    if meeting:
        return min(meeting, key=lambda outcome: (prices[outcome.fluid_id], outcome.fluid_id))
    rank = {"unknown": 1, "falls short": 0, "meets": 2}
    return max(outcomes, key=lambda outcome: (rank[outcome.result], outcome.probability, outcome.fluid_id))


def _single(context: Context, board: BoardType, fit: LoadFit | None, judged: tuple[Judged, ...]) -> BoardOutcome:
    result, probability, met = joint(judged, context.draws, context.thresholds)
    only = FluidOutcome(fluid_id="", judged=judged, result=result, probability=probability, met=met, wash=None)
    return BoardOutcome(board_id=board.id, fit=fit, fluids=(only,), chosen=only)


def _uncleaned(context: Context, board: BoardType) -> Judged:
    flux = next(record for record in context.library.flux_kinds if record.id == board.flux)
    holds = board.uncleaned_allowed and flux.left_uncleaned_acceptable
    if holds:
        sentence = phrase("{board} may stay uncleaned: its product class allows it and {flux} is made to stay.",
                          board=board.name, flux=flux.name)  # fmt: skip
    elif not board.uncleaned_allowed:
        sentence = phrase("The product class of {board} does not allow leaving residue.", board=board.name)
    else:
        sentence = phrase("{flux} must not stay on a board: its residue is active.", flux=flux.name)
    subject = Subject(machine_id=context.machine.id, board_id=board.id)
    return judge_fact(subject, "uncleaned", "May stay uncleaned", "wash", holds=holds, draws=context.draws,
                      sentence=sentence)  # fmt: skip


def _bought_outside(context: Context, board: BoardType) -> Judged:
    subject = Subject(machine_id=context.machine.id, board_id=board.id)
    return judge_fact(
        subject, "evidence", "Cleaning shown by trial", "wash", holds=None, draws=context.draws,
        sentence=phrase("{machine} uses a machine of its own choice: ask for trial boards of {board}, parts lifted.",
                        machine=context.machine.name, board=board.name),
    )  # fmt: skip


def _requirement_table(outcomes: list[MachineOutcome]) -> pd.DataFrame:
    rows = []
    for outcome in outcomes:
        for board in outcome.boards:
            for one in board.chosen.judged:
                must = one.requirement
                low, middle, high = must.measure or (None, None, None)
                rows.append(
                    (must.machine_id, must.board_id, must.fluid_id, must.stage, must.key, must.title, low, middle, high,
                     must.limit, must.dimension, must.direction, must.margin_ratio, must.probability, must.result,
                     must.sentence.text())
                )  # fmt: skip
    columns = ["machine", "board_type", "fluid", "stage", "requirement", "title", "low", "middle", "high", "limit",
               "dimension", "direction", "margin_ratio", "probability", "result", "sentence"]  # fmt: skip
    return pd.DataFrame(rows, columns=columns)


def _verdict_table(outcomes: list[MachineOutcome]) -> pd.DataFrame:
    rows = []
    for outcome in outcomes:
        deciding = outcome.deciding.requirement if outcome.deciding else None
        rows.append(
            (outcome.machine.id, outcome.machine.name, outcome.machine.class_id, outcome.machine.is_candidate,
             outcome.result, outcome.probability, deciding.board_id if deciding else "",
             deciding.key if deciding else "", deciding.sentence.text() if deciding else "")
        )  # fmt: skip
    columns = ["machine", "name", "machine_class", "is_candidate", "result", "probability", "deciding_board_type",
               "deciding_requirement", "sentence"]  # fmt: skip
    return pd.DataFrame(rows, columns=columns)
