"""One board type's way through one machine: what happens when, how sure that is, and what limits each step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from model.cycle import BoardCycle
from model.evaluate import Evaluation
from model.outcomes import BoardOutcome, FluidOutcome, MachineOutcome
from model.phrase import Phrase, phrase
from model.pictures import fluid_outcome
from model.requirements import Requirement
from model.result_text import percent
from model.rinse_stage import RinseStage
from model.uncertainty import BoolArray, FloatArray, low_middle_high, share_true

Three = tuple[float, float, float]
Step = Literal["fill", "wash", "rinse", "dry", "handling"]
Existence = Literal["exists", "open", "none", "elsewhere"]
"""Whether a cycle exists; elsewhere: nothing is washed here, or someone else's machine does it."""

STEP_TITLES: dict[Step, str] = {
    "fill": "Fill and heat", "wash": "Wash", "rinse": "Rinse", "dry": "Dry", "handling": "Load and unload",
}  # fmt: skip

STEP_NOUNS: dict[Step, str] = {
    "fill": "filling and heating", "wash": "the wash", "rinse": "the rinse", "dry": "drying",
    "handling": "loading and unloading",
}  # fmt: skip
"""Steps within a sentence."""

STAGE_KEYS: dict[str, tuple[str, ...]] = {
    "wash": ("clear", "enter", "dissolve", "temperature"), "rinse": ("residue", "resistivity", "rinse"),
    "dry": ("dry", "laminate"),
}  # fmt: skip
"""Musts that say why a step does not fit, the most telling first."""

DRY_WORDS = {
    "film": "evaporating the film on open surfaces", "gap": "water under {kind}",
    "humidity": "the exhaust, which cannot carry the vapour away faster", "heat": "the heater's power",
    "laminate": "moisture in the laminate", "standing": "still air: nothing blows or heats",
    "pump-down": "pumping the chamber down", "pump": "the vacuum pump, which cannot take the vapour faster",
    "no dryer": "there being no dryer",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """One step of the way."""

    step: Step
    """Which step."""
    title: str
    """Name shown to people."""
    start_s: float
    """s from the beginning, where the step begins when all before take their middle time."""
    duration_s: Three
    """s, 5 %, 50 % and 95 % point of the time the step runs, never above the machine's limit."""
    needed_s: Three | None
    """s, of the time the boards need, infinite where no time is enough; None where only the machine sets it."""
    limit_s: Three | None
    """s, of the longest that the machine allows; None where it has no limit that is known."""
    fits_share: float
    """Share of the draws in which the need is within the limit."""
    limited_by: Phrase
    """What sets the time, in one sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """One board type through one machine with one fluid."""

    machine_name: str
    """Name of the machine."""
    board_name: str
    """Name of the board type."""
    fluid_id: str
    """Wash fluid."""
    segments: tuple[Segment, ...]
    """Steps in order."""
    total_s: Three
    """s, door to door or end to end of the belt."""
    boards_per_load: float
    """Boards in the load, or abreast on the belt, middle draw."""
    belt_speed_m_s: Three | None
    """m/s, belts only."""
    exists_share: float
    """Share of the draws in which every step fits."""
    existence: Existence
    """Whether a cycle exists by the plant's own probabilities."""
    sentence: Phrase
    """What the timeline says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleRow:
    """One line of the table of all board types on all machines."""

    machine_id: str
    """The machine."""
    board_id: str
    """The board type."""
    fluid_id: str
    """Fluid it is judged with, or empty."""
    existence: Existence
    """By the plant's own probabilities; open also where nothing can be computed."""
    exists_share: float | None
    """Share of the draws in which it does; None where no cycle could be computed."""
    total_s: Three | None
    """s, of the whole cycle, or None."""
    steps_s: dict[Step, float]
    """s, middle time of every step that was computed."""
    boards_per_load: float | None
    """Boards in the load, or abreast on the belt, middle draw."""
    boards_per_s: float | None
    """Boards per second of one machine that does nothing else, middle draw."""
    reason: Phrase
    """What takes longest, or the binding reason why no cycle exists."""


def timeline(evaluation: Evaluation, machine_id: str, board_id: str, fluid_id: str = "") -> Timeline:
    """Lay out the way of a board type through a machine.

    Parameters
    ----------
    evaluation : Evaluation
    machine_id, board_id : str
    fluid_id : str
        Empty takes the fluid that the machine is judged with.

    Returns
    -------
    Timeline

    Raises
    ------
    KeyError
        When machine, board type or fluid is not in the evaluation.
    ValueError
        With the reason as a sentence, when no cycle could be computed.

    Notes
    -----
    Steps stand one after the other at the middle times of those before, so middles of the parts need not add up to the
    middle of the whole. A step that needs more than the machine allows is drawn as long as the machine allows. On a
    belt one speed serves all zones: the times are those the boards spend in each.
    """
    outcome = evaluation.machine(machine_id)
    board = outcome.board(board_id)
    fluid = fluid_outcome(board, fluid_id) if fluid_id else board.chosen
    cycle = fluid.cycle
    if cycle is None:
        raise ValueError(_no_cycle_reason(outcome, board, fluid).text())
    segments = _segments(evaluation, outcome, fluid, cycle)
    share = share_true(cycle.exists)
    name = next(record.name for record in evaluation.case.board_types if record.id == board_id)
    existence = _existence(evaluation, share)
    return Timeline(
        machine_name=outcome.machine.name, board_name=name, fluid_id=fluid.fluid_id, segments=segments,
        total_s=low_middle_high(cycle.total_s), boards_per_load=float(np.median(cycle.boards_per_load)),
        belt_speed_m_s=None if cycle.belt_speed_m_s is None else low_middle_high(cycle.belt_speed_m_s),
        exists_share=share, existence=existence,
        sentence=_sentence(evaluation, outcome, name, fluid, cycle, segments, share, existence),
    )  # fmt: skip


def cycle_rows(evaluation: Evaluation) -> tuple[CycleRow, ...]:
    """List the cycle of every board type on every machine, or why none exists."""
    return tuple(_row(evaluation, outcome, board) for outcome in evaluation.machines for board in outcome.boards)


def _existence(evaluation: Evaluation, share: float) -> Existence:
    musts = evaluation.case.plant.requirements
    if share >= musts.probability.si()[1]:
        return "exists"
    return "none" if share <= musts.rule_out_below.si()[1] else "open"


def _segments(evaluation: Evaluation, outcome: MachineOutcome, fluid: FluidOutcome,
              cycle: BoardCycle) -> tuple[Segment, ...]:  # fmt: skip
    wash, rinse, dry = fluid.wash, fluid.rinse, fluid.dry
    assert wash is not None  # a cycle is put together from all three
    assert wash.outcome is not None
    assert rinse is not None
    assert dry is not None
    belt = cycle.belt_speed_m_s is not None
    by_machine = phrase("Set by the machine, not by the boards.")
    stated = _stated(outcome, "running.load_unload_time")
    handling = phrase("Set by the people at the machine: {stated}.", stated=stated)
    hardest = wash.outcome.kinds[0]
    washing = phrase(
        "{kind} sets it: {depth} to clear in a gap of {gap}.", kind=hardest.kind.name,
        depth=(float(np.median(hardest.depth_needed_m)), "length"), gap=(float(np.median(hardest.gap_m)), "gap"),
    )  # fmt: skip
    slow = DRY_WORDS.get(dry.limited_by, dry.limited_by).replace("{kind}", dry.slowest.name)
    drying = phrase("Limited by {limit}.", limit=slow)
    rinse_fits = np.isfinite(rinse.rinses)
    steps: list[tuple[Step, FloatArray, FloatArray | None, FloatArray | None, BoolArray | None, Phrase]] = []
    if not belt and bool(np.any(cycle.fill_s > 0.0)):
        steps.append(("fill", cycle.fill_s, None, None, None, by_machine))
    steps.append(("wash", cycle.wash_s, wash.outcome.needed_time_s, wash.max_time_s, None, washing))
    rinse_need = np.where(rinse_fits, rinse.time_s, np.inf)
    if belt or bool(np.any(rinse.time_s > 0.0)) or not bool(rinse_fits.all()):
        steps.append(("rinse", cycle.rinse_s, rinse_need, _longest_rinse_s(outcome, belt, rinse), rinse_fits,
                      _rinse_words(evaluation, outcome, fluid)))  # fmt: skip
    steps += [
        ("dry", cycle.dry_s, dry.needed_time_s, dry.max_time_s, None, drying),
        ("handling", cycle.handling_s, None, None, None, handling),
    ]
    found, start = [], 0.0
    for step, runs, needed, limit, fits, words in steps:
        duration = low_middle_high(runs)
        if fits is None:
            fits = np.ones(runs.shape, np.bool_) if needed is None else (
                np.isfinite(needed) if limit is None else needed <= limit)  # fmt: skip
        found.append(
            Segment(
                step=step, title=STEP_TITLES[step], start_s=start, duration_s=duration,
                needed_s=None if needed is None else low_middle_high(needed),
                limit_s=None if limit is None else low_middle_high(limit), fits_share=share_true(fits),
                limited_by=words,
            )
        )  # fmt: skip
        start += duration[1]
    return tuple(found)


def _longest_rinse_s(outcome: MachineOutcome, belt: bool, rinsed: RinseStage) -> FloatArray | None:
    """Longest rinse that a batch machine does, s, per draw; a belt's zone allows as long as the belt is slow."""
    rinse = outcome.machine.equipment.rinse
    if belt or rinse.max_rinses is None or rinse.time_per_rinse is None:
        return None
    done = np.where(np.isinf(rinsed.rinses), float(rinse.max_rinses), rinsed.rinses)
    likely = np.full(done.shape, rinse.time_per_rinse.si()[1])
    # The same draws as those of the time it runs: a limit of likely values would lie below a rinse that fits.
    each = np.divide(rinsed.time_s, done, out=likely, where=done > 0.0)
    return np.asarray(rinse.max_rinses * each)


def _stated(outcome: MachineOutcome, path: str) -> str:
    if not outcome.machine.is_candidate:
        return "the range of the class"
    return "stated in the offer" if outcome.machine.is_stated(path) else "not stated, the class's range"


def _rinse_words(evaluation: Evaluation, outcome: MachineOutcome, fluid: FluidOutcome) -> Phrase:
    rinse = fluid.rinse
    assert rinse is not None  # asked only where there is one
    middle = low_middle_high(rinse.rinses)[1]
    most = outcome.machine.equipment.rinse.max_rinses
    if outcome.machine.equipment.rinse.kind == "own vapour":
        return phrase("{count} rinses with the fluid's own vapour.", count=f"{middle:.0f}")
    if outcome.machine.equipment.rinse.kind == "counterflow":
        return phrase("{count} stages in counterflow, as many as the machine has.", count=f"{middle:.0f}")
    if np.isinf(middle):
        return phrase("Even {most} rinses, the most it does, do not reach the plant's limits.", most=f"{most}")
    wanted = evaluation.case.plant.requirements.rinse_resistivity is not None
    goal = "the ionic limit and the wanted resistivity of the last rinse" if wanted else "the ionic limit"
    return phrase("{count} until {goal} {verb} met.", count=f"{middle:.0f} {'rinse' if middle < 1.5 else 'rinses'}",
                  goal=goal, verb="are" if wanted else "is")  # fmt: skip


def _sentence(evaluation: Evaluation, outcome: MachineOutcome, board: str, fluid: FluidOutcome, cycle: BoardCycle,
              segments: tuple[Segment, ...], share: float, existence: Existence) -> Phrase:  # fmt: skip
    low, middle, high = low_middle_high(cycle.total_s)
    names = {record.id: record.name for record in evaluation.library.fluids}
    inline = cycle.belt_speed_m_s is not None
    short = _short_steps(evaluation, segments)
    if existence == "exists":
        template = (
            "{board} goes through {machine} in {middle} ({low} to {high}) with {fluid}, {boards} "
            + ("abreast" if inline else "boards a load")
            + "; every step fits in {share} of the draws; what takes longest is {longest}."
        )
    elif existence == "open":
        template = (
            "{board} may go through {machine} in {middle} ({low} to {high}) with {fluid}, {boards} "
            + ("abreast" if inline else "boards a load")
            + ", but every step fits in {share} of the draws only; "
            # A single step that fits as often as all together needs no second number.
            + ("what may not fit is {worst}." if [one.fits_share for one in short] == [share] else "{short}.")
        )
    else:
        # Steps that each fit now and then may still never fit together.
        together = "" if min(one.fits_share for one in segments) <= share else ", all steps together in {share}"
        template = (
            "No cycle exists for {board} in {machine} with {fluid}: {short}" + together
            + ". Shown is what the machine would run."
        )
    longest = max(segments, key=lambda segment: segment.duration_s[1])
    return phrase(
        template, board=board, machine=outcome.machine.name, fluid=names.get(fluid.fluid_id, fluid.fluid_id),
        middle=(middle, "time"), low=(low, "time"), high=(high, "time"),
        boards=f"{float(np.median(cycle.boards_per_load)):.0f}", share=percent(share),
        longest=STEP_NOUNS[longest.step], worst=STEP_NOUNS[short[0].step], short=_how_often(short),
    )  # fmt: skip


def _short_steps(evaluation: Evaluation, segments: tuple[Segment, ...]) -> list[Segment]:
    """Give every step that fits in fewer draws than the plant wants, or else the one that fits in fewest."""
    wanted = evaluation.case.plant.requirements.probability.si()[1]
    short = [one for one in segments if one.fits_share < wanted]
    return short or [min(segments, key=lambda one: one.fits_share)]


def _how_often(steps: list[Segment]) -> str:
    """Say in what share of the draws each step fits."""
    first, *others = ((STEP_NOUNS[one.step], percent(one.fits_share)) for one in steps)
    said = [f"{first[0]} fits in {first[1]} of the draws", *(f"{noun} in {share}" for noun, share in others)]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


def _binding(fluid: FluidOutcome, stage: str) -> Requirement | None:
    """Pick the must that says why a stage does not fit."""
    musts = {one.requirement.key: one.requirement for one in fluid.judged}
    present = [musts[key] for key in STAGE_KEYS.get(stage, ()) if key in musts]
    return min(present, key=lambda must: 0.5 if must.probability is None else must.probability, default=None)


def _no_cycle_reason(outcome: MachineOutcome, board: BoardOutcome, fluid: FluidOutcome) -> Phrase:
    """Say why no cycle could even be computed: the finding that stopped it."""
    del board
    rank = {"falls short": 0, "unknown": 1, "meets": 2}
    if not fluid.judged:
        return phrase("Nothing could be computed for {machine}.", machine=outcome.machine.name)
    worst = min(fluid.judged, key=lambda one: (rank[one.requirement.result], one.requirement.key != "inputs"))
    return worst.requirement.sentence


def _row(evaluation: Evaluation, outcome: MachineOutcome, board: BoardOutcome) -> CycleRow:
    fluid, cycle = board.chosen, board.chosen.cycle
    if cycle is None:
        if outcome.machine.moving in ("none", "outside"):
            return CycleRow(
                machine_id=outcome.machine.id, board_id=board.board_id, fluid_id="", existence="elsewhere",
                exists_share=None, total_s=None, steps_s={}, boards_per_load=None, boards_per_s=None,
                reason=phrase("Nothing is washed in a machine of the plant."),
            )  # fmt: skip
        stopped = any(one.requirement.result == "falls short" for one in fluid.judged)
        return CycleRow(
            machine_id=outcome.machine.id, board_id=board.board_id, fluid_id=fluid.fluid_id,
            existence="none" if stopped else "open", exists_share=None, total_s=None, steps_s={}, boards_per_load=None,
            boards_per_s=None, reason=_no_cycle_reason(outcome, board, fluid),
        )  # fmt: skip
    share = share_true(cycle.exists)
    existence = _existence(evaluation, share)
    segments = _segments(evaluation, outcome, fluid, cycle)
    worst = min(segments, key=lambda segment: segment.fits_share)
    longest = max(segments, key=lambda segment: segment.duration_s[1])
    binding = _binding(fluid, worst.step)
    reason = Phrase("{step} takes longest. " + longest.limited_by.template,
                    (("step", longest.title, ""), *longest.limited_by.figures))  # fmt: skip
    if existence != "exists" and binding is not None:
        reason = binding.sentence
    return CycleRow(
        machine_id=outcome.machine.id, board_id=board.board_id, fluid_id=fluid.fluid_id, existence=existence,
        exists_share=share, total_s=low_middle_high(cycle.total_s),
        steps_s={segment.step: segment.duration_s[1] for segment in segments},
        boards_per_load=float(np.median(cycle.boards_per_load)),
        boards_per_s=float(np.median(cycle.boards_per_load / cycle.occupied_s)), reason=reason,
    )  # fmt: skip
