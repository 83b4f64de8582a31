"""The board types through one machine: every fluid tried, every stage judged, the best fluid chosen for each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np

from catalog_schema.boards import BoardType, FluxKind
from catalog_schema.fluids import Fluid
from model.board_harm import HarmOutcome, board_harm_requirement, board_temperature_requirement
from model.context import Context
from model.cycle import board_cycle, boards_together
from model.dry_course import WetBoards, dry_boards
from model.dry_stage import DryStage, dry_stage
from model.esd_requirements import EsdOutcome, RackOutcome, esd_requirements, rack_outcome
from model.input_errors import UnphysicalInputError
from model.machine_inputs import MissingInputError
from model.outcomes import BoardOutcome, FluidOutcome
from model.phrase import phrase
from model.records import changed
from model.requirements import Judged, Subject, joint, judge_fact
from model.rinse_course import RinseLoad, rinse_boards
from model.rinse_stage import RinseStage, rinse_stage
from model.spray_drive import LoadFit, load_fit
from model.stages import WashLoad, WashStage, fit_requirement, input_problem, wash_boards, wash_stage
from model.uncertainty import FloatArray, median
from model.wetted_parts import MaterialOutcome, material_requirement

K = TypeVar("K")
V = TypeVar("V")

Refusal = (MissingInputError, UnphysicalInputError)
"""What a missing or contradictory input raises: said as a finding, never as a crash."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Attempt:
    """One board type with one fluid as far as the rinse: what it is and what was found."""

    load: WashLoad
    judged: tuple[Judged, ...]
    """Musts judged so far; the last one says so where an input ended the attempt."""
    ended: bool = False
    """Whether a missing or contradictory input ended it."""
    wash: WashStage | None = None
    materials: MaterialOutcome | None = None
    rinse: RinseStage | None = None


def evaluate_boards(context: Context, boards: Sequence[BoardType]) -> tuple[BoardOutcome, ...]:
    """Judge board types in one machine with every fluid the machine is made or offered for.

    Parameters
    ----------
    context : Context
    boards : sequence of BoardType

    Returns
    -------
    tuple of BoardOutcome
        One for each board type, in their order; each the same whatever others there are.

    Notes
    -----
    Each fluid goes through fit, wash, materials, rinse, drying and harm to board parts. Chosen is the cheapest fluid,
    by what it costs to run, of those that meet every must; where none does, the one nearest to it.
    """
    rack = _rack(context)
    begun = [_begin(context, board, rack) for board in boards]
    loads = [load for found in begun if isinstance(found, _Begun) for load in found.loads]
    _ahead(context.washed, lambda: wash_boards(context, loads))
    attempts = [
        _washed(context, load, found.fits) for found in begun if isinstance(found, _Begun) for load in found.loads
    ]
    to_rinse = [_rinse_load(context, attempt) for attempt in attempts]
    _ahead(context.rinsed, lambda: rinse_boards(context, [one for one in to_rinse if one is not None]))
    attempts = [_rinsed(context, attempt, load) for attempt, load in zip(attempts, to_rinse, strict=True)]
    to_dry = [_wet_boards(context, attempt) for attempt in attempts]
    _ahead(context.dried, lambda: dry_boards(context, {one.key: one for one in to_dry if one is not None}))
    finished = iter([_finish(context, attempt, wet) for attempt, wet in zip(attempts, to_dry, strict=True)])
    return tuple(
        _finish_board(found, [next(finished) for _ in found.loads]) if isinstance(found, _Begun) else found
        for found in begun
    )


def _ahead(known: dict[K, V], compute: Callable[[], dict[K, V]]) -> None:
    """Do one stage of all attempts together, which costs little more than doing one."""
    # An input that makes no sense ends only the attempts that have it: they then fail one by one, in their stage.
    with suppress(*Refusal):
        known.update(compute())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Begun:
    """One board type ready to be washed, with every fluid."""

    board: BoardType
    fit: LoadFit
    fits: Judged
    esd: EsdOutcome | None
    loads: tuple[WashLoad, ...]


def _begin(context: Context, board: BoardType, rack: RackOutcome | None) -> BoardOutcome | _Begun:
    """Judge whether a board type fits, or wholly where there is nothing more to judge."""
    flux = next(record for record in context.library.flux_kinds if record.id == board.flux)
    principle = context.machine.principle
    if principle == "none":
        return _single(context, board, None, (_uncleaned(context, board, flux),), None)
    esd = _esd(context, board, rack)
    if principle == "service":
        harm = _harm(context, board, None, None, None)
        return _single(context, board, None, (_bought_outside(context, board), harm.judged), esd)
    try:
        fit = load_fit(context.inputs, board)
    except Refusal as problem:
        return _single(context, board, None, (input_problem(context, board.id, "", problem),), esd)
    fits = fit_requirement(context, board, fit)
    if fit.boards_per_load < 1:
        return _single(context, board, fit, (fits,), esd)
    fluids = {fluid.id: fluid for fluid in context.library.fluids}
    loads = tuple(
        WashLoad(board=board, flux=flux, fluid=fluids[fluid_id], fit=fit)
        for fluid_id in context.machine.equipment.wash.fluids or ()
    )
    if not loads:
        missing = MissingInputError(context.machine.name, "wash.fluids")
        return _single(context, board, fit, (fits, input_problem(context, board.id, "", missing)), esd)
    return _Begun(board=board, fit=fit, fits=fits, esd=esd, loads=loads)


def _washed(context: Context, load: WashLoad, fits: Judged) -> _Attempt:
    """Judge the wash and what it does to the machine."""
    attempt = _Attempt(load=load, judged=(fits,))
    try:
        wash = wash_stage(context, load)
        attempt = changed(attempt, judged=(fits, *wash.judged), wash=wash)
        materials = _materials(context, load.fluid, wash.state.temperature_K)
    except Refusal as problem:
        return _ended(context, attempt, problem)
    stood = materials.judged_with_upgrade or materials.judged
    return changed(attempt, judged=(*attempt.judged, stood), materials=materials)


def _ended(context: Context, attempt: _Attempt, problem: MissingInputError | ValueError) -> _Attempt:
    """Say the input that ends an attempt."""
    said = input_problem(context, attempt.load.board.id, attempt.load.fluid.id, problem)
    return changed(attempt, judged=(*attempt.judged, said), ended=True)


def _rinse_load(context: Context, attempt: _Attempt) -> RinseLoad | None:
    """Take boards out of the wash; None where there is nothing to rinse."""
    load, wash = attempt.load, attempt.wash
    if attempt.ended or wash is None or wash.outcome is None or wash.drive is None:
        return None
    return RinseLoad(
        board=load.board, flux=load.flux, fluid=load.fluid, drive=wash.drive,
        # The kind that clears last also trades places with rinse water most slowly.
        hardest=wash.outcome.kinds[0], boards=boards_together(context, load.board, load.fit, "rinse"),
    )  # fmt: skip


def _rinsed(context: Context, attempt: _Attempt, load: RinseLoad | None) -> _Attempt:
    """Judge the rinse."""
    if load is None:
        return attempt
    try:
        rinse = rinse_stage(context, load)
    except Refusal as problem:
        return _ended(context, attempt, problem)
    return changed(attempt, judged=(*attempt.judged, *rinse.judged), rinse=rinse)


def _wet_boards(context: Context, attempt: _Attempt) -> WetBoards | None:
    """Take boards out of the rinse; None where there is nothing to dry."""
    if attempt.rinse is None:
        return None
    load = attempt.load
    together = boards_together(context, load.board, load.fit, "dry")
    return WetBoards(board=load.board, fluid=load.fluid, rinse=attempt.rinse, boards=together)


def _finish_board(begun: _Begun, outcomes: list[FluidOutcome]) -> BoardOutcome:
    return BoardOutcome(
        board_id=begun.board.id, fit=begun.fit, fluids=tuple(outcomes), chosen=_best_fluid(outcomes), esd=begun.esd
    )


def _finish(context: Context, attempt: _Attempt, wet: WetBoards | None) -> FluidOutcome:
    """Judge drying, cycle and harm of an attempt, and everything together."""
    board, fluid, fit = attempt.load.board, attempt.load.fluid, attempt.load.fit
    wash, rinse = attempt.wash, attempt.rinse
    judged = list(attempt.judged)
    dry: DryStage | None = None
    cycle = harm = cost = None
    try:
        if wash is not None and not attempt.ended:
            if wet is not None and rinse is not None:
                dry = dry_stage(context, wet)
                judged += dry.judged
                cycle = board_cycle(context, board, fit, wash, rinse, dry)
                cost = _running_cost(context, fluid, rinse)
            air = None if dry is None else dry.air_temperature_K
            harm = _harm(context, board, fluid, wash.state.temperature_K, air)
            judged.append(harm.judged)
            limit = board_temperature_requirement(
                board, context.machine, fluid, wash.state.temperature_K, air, context.inputs.book, context.thresholds
            )
            if limit is not None:
                judged.append(limit)
    except Refusal as problem:
        judged.append(input_problem(context, board.id, fluid.id, problem))
    result, probability, met = joint(tuple(judged), context.draws, context.thresholds)
    return FluidOutcome(
        fluid_id=fluid.id, judged=tuple(judged), result=result, probability=probability, met=met, wash=wash,
        rinse=rinse, dry=dry, cycle=cycle, materials=attempt.materials, harm=harm, running_cost_per_board=cost,
    )  # fmt: skip


def _harm(context: Context, board: BoardType, fluid: Fluid | None, wash_K: FloatArray | None,
          air_K: FloatArray | None) -> HarmOutcome:  # fmt: skip
    return board_harm_requirement(
        board, context.machine, fluid, wash_K, air_K, context.kinds, context.parts, context.inputs.book,
        context.thresholds,
    )  # fmt: skip


def _materials(context: Context, fluid: Fluid, temperature_K: FloatArray) -> MaterialOutcome:
    key = f"{fluid.id} {float(temperature_K.sum()):.12g}"
    if key not in context.materials:
        materials = {material.id: material for material in context.library.wetted_materials}
        context.materials[key] = material_requirement(
            context.inputs, fluid, temperature_K, materials, context.thresholds
        )
    return context.materials[key]


def _running_cost(context: Context, fluid: Fluid, rinse: RinseStage) -> FloatArray:
    """Fluid carried out, rinse water and resin per board, in the plant's currency."""
    dear_water = context.inputs.draws("rinse.feed_resistivity") is not None
    water = context.from_plant("tariffs.deionised_water" if dear_water else "tariffs.water")
    return np.asarray(
        rinse.drag_out_m3 * context.of_fluid(fluid, "bath_price")
        + rinse.water_m3 * (water + context.from_plant("tariffs.drain"))
        + rinse.resin_m3 * context.from_plant("tariffs.resin")
    )


def _best_fluid(outcomes: list[FluidOutcome]) -> FluidOutcome:
    """Take the cheapest fluid that meets all, else the one most likely to."""
    meeting = [outcome for outcome in outcomes if outcome.result == "meets"]

    def price(outcome: FluidOutcome) -> tuple[float, str]:
        cost = outcome.running_cost_per_board
        return (0.0 if cost is None else median(cost), outcome.fluid_id)

    if meeting:
        return min(meeting, key=price)
    rank = {"unknown": 1, "falls short": 0, "meets": 2}

    def nearness(outcome: FluidOutcome) -> tuple[int, bool, float, float, str]:
        # Among fluids that all fail, one that at least dissolves the residue tells more; then the fewest misses.
        shares = [one.requirement.probability for one in outcome.judged]
        missed = sum(1.0 - share for share in shares if share is not None)
        return rank[outcome.result], outcome.rinse is not None, outcome.probability, -missed, outcome.fluid_id

    return max(outcomes, key=nearness)


def _rack(context: Context) -> RackOutcome | None:
    """Judge what of the rack is the same for every board type."""
    if context.machine.principle == "none":
        return None
    return rack_outcome(context.inputs, context.case.plant.requirements, **_esd_terms(context))


def _esd(context: Context, board: BoardType, rack: RackOutcome | None) -> EsdOutcome:
    requirements = context.case.plant.requirements
    return esd_requirements(context.inputs, board, requirements, rack=rack, **_esd_terms(context))


def _esd_terms(context: Context) -> dict[str, Any]:
    """Give what rack and boards are judged by alike."""
    return {
        "rack_capacitance_F": context.constant("rack_capacitance"), "max_decay_s": context.constant("max_decay_time"),
        "charging_V": context.constant("charging_voltage"), "thresholds": context.thresholds,
    }  # fmt: skip


def _single(context: Context, board: BoardType, fit: LoadFit | None, judged: tuple[Judged, ...],
            esd: EsdOutcome | None) -> BoardOutcome:  # fmt: skip
    result, probability, met = joint(judged, context.draws, context.thresholds)
    only = FluidOutcome(fluid_id="", judged=judged, result=result, probability=probability, met=met)
    return BoardOutcome(board_id=board.id, fit=fit, fluids=(only,), chosen=only, esd=esd)


def _uncleaned(context: Context, board: BoardType, flux: FluxKind) -> Judged:
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
