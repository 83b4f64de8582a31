"""The work on one machine as a job that any process can do: what it needs, what it shares, what it keeps."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

import numpy as np

from catalog_schema.boards import ComponentKind
from catalog_schema.case import Case, Library
from catalog_schema.machine import Machine
from model.context import Context
from model.machine_inputs import MachineInputs
from model.machine_process import evaluate_machine
from model.outcomes import BoardOutcome, FluidOutcome, MachineOutcome
from model.requirements import Thresholds
from model.spray_drive import SprayGeometry
from model.spray_field import ExposureTrace
from model.stages import WashStage
from model.uncertainty import Drawn, FloatArray, InputBook

K = TypeVar("K")
V = TypeVar("V")

Details = Literal["all fluids", "chosen fluid"]

KEPT_TRACES = 32
"""Traces kept at once, half a megabyte each: more than the geometries of one machine, or of a whole small case."""

FEW_KINDS = 8
"""Different arrays that are compared with before one is kept as it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineJob:
    """All that the outcome of a machine depends on, but for the machine itself; can be sent to another process."""

    case: Case
    """The case."""
    library: Library
    """Library merged with the case's own records."""
    draws: int
    """Number of draws."""
    seed: int
    """Seed of the draws and traces."""
    rays: int
    """Rays per trace."""
    details: Details
    """Whether fluids that were not chosen keep their musts and stages."""

    def shared_fingerprint(self) -> str:
        """Identify everything in the job."""
        case, library = self.case, self.library
        return _digest(
            case.plant.model_dump_json(), "".join(board.model_dump_json() for board in case.board_types),
            library.model_dump_json(exclude={"machine_classes"}),
            f"{self.draws} {self.seed} {self.rays} {self.details}",
        )  # fmt: skip

    def fingerprints(self, machines: tuple[Machine, ...]) -> tuple[str, ...]:
        """Identify each machine together with the job."""
        shared = self.shared_fingerprint()
        return tuple(
            _digest(
                shared, machine.id, machine.name, machine.class_id, machine.class_name, machine.principle,
                machine.moving, machine.supplier, machine.note,
                str(machine.is_candidate), str(machine.count), machine.equipment.model_dump_json(),
                " ".join(sorted(machine.stated)),
            )
            for machine in machines
        )  # fmt: skip


def _digest(*texts: str) -> str:
    digest = hashlib.blake2b(digest_size=16)
    for text in texts:
        digest.update(text.encode("utf-8"))
        digest.update(b"\0")
    return digest.hexdigest()


class MachineRunner:
    """Does a job's machines one after the other and keeps what they share: draws and traces.

    Parameters
    ----------
    job : MachineJob
    traces : dict, optional
        Traces already made with the job's rays and seed.

    Notes
    -----
    What is shared only saves time: each is a function of its key alone, so a machine's outcome does not depend on
    which machines were done before it, nor by whom.
    """

    def __init__(self, job: MachineJob, traces: dict[SprayGeometry, ExposureTrace] | None = None) -> None:
        """Start with nothing shared but the traces given."""
        self.job = job
        self.traces: dict[SprayGeometry, ExposureTrace] = dict(traces or {})
        self.drawn: Drawn = {}
        self.of_boards: dict[str, FloatArray] = {}
        self._slowest: dict[str, ComponentKind] = {}
        self._rates = {code: rate.si()[1] for code, rate in job.case.plant.exchange_rates.items()}
        musts = job.case.plant.requirements
        self._thresholds = Thresholds(meets_from=musts.probability.si()[1], misses_to=musts.rule_out_below.si()[1])

    def outcome(self, machine: Machine, fingerprint: str) -> MachineOutcome:
        """Judge one machine over the whole board mix."""
        job = self.job
        context = Context(
            case=job.case, library=job.library,
            inputs=MachineInputs(machine, InputBook(job.draws, job.seed, self._rates, self.drawn)),
            thresholds=self._thresholds, trace_of=self._trace, fields={}, materials={},
            of_boards=self.of_boards, slowest=self._slowest,
        )  # fmt: skip
        found = evaluate_machine(context, fingerprint)
        _forget_oldest(self.traces, KEPT_TRACES)
        return found if job.details == "all fluids" else with_chosen_details(found)

    def _trace(self, geometry: SprayGeometry) -> ExposureTrace:
        if geometry not in self.traces:
            self.traces[geometry] = geometry.trace(self.job.rays, self.job.seed)
        return self.traces[geometry]


def _forget_oldest(known: dict[K, V], most: int) -> None:
    for key in list(known)[: max(0, len(known) - most)]:
        known.pop(key, None)


def with_chosen_details(outcome: MachineOutcome) -> MachineOutcome:
    """Drop musts, stages and price of fluids that were not chosen, and of the chosen one what is quickly made again.

    Result and probability of every fluid stay. Of the chosen one go the mass balance of its rinse and all component
    kinds but the hardest.
    """
    racks: list[FloatArray] = []
    return replace(outcome, boards=tuple(_chosen_only(board, racks) for board in outcome.boards))


def _chosen_only(board: BoardOutcome, racks: list[FloatArray]) -> BoardOutcome:
    chosen, esd = board.chosen, board.esd
    if esd is not None:
        # Board types that state nothing of their own fare alike in one rack: what is equal is kept once.
        esd = replace(esd, decay_time_s=_kept_once(esd.decay_time_s, racks),
                      margin_decades=_kept_once(esd.margin_decades, racks))  # fmt: skip
    if chosen.rinse is not None:
        chosen = replace(chosen, rinse=replace(chosen.rinse, result=None))
    if chosen.wash is not None:
        chosen = replace(chosen, wash=_hardest_only(chosen.wash))
    fluids = tuple(chosen if one is board.chosen else _result_only(one) for one in board.fluids)
    return replace(board, fluids=fluids, chosen=chosen, esd=esd)


def _kept_once(values: FloatArray | None, known: list[FloatArray]) -> FloatArray | None:
    if values is None:
        return None
    for one in known[:FEW_KINDS]:
        if np.array_equal(one, values):
            return one
    known.append(values)
    return values


def _hardest_only(wash: WashStage) -> WashStage:
    return wash if wash.outcome is None else replace(wash, outcome=replace(wash.outcome, kinds=wash.outcome.kinds[:1]))


def _result_only(fluid: FluidOutcome) -> FluidOutcome:
    return FluidOutcome(
        fluid_id=fluid.fluid_id, judged=(), result=fluid.result, probability=fluid.probability, met=fluid.met
    )
