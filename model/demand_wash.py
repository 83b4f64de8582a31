"""What a board type asks of the wash: fluids, temperatures, and the pressure across its tightest gap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType, FluxKind
from catalog_schema.fluids import Fluid
from model.board_harm import NEUTRAL_PH, sensitive_parts
from model.demand_records import Asking, Conditions, Demand, FluidUse, Route, asking
from model.demand_solving import ClearingTask, clearing_tasks, hardest_first, pressure_needed_Pa
from model.fluid_state import dissolves, fluid_state
from model.phrase import phrase
from model.uncertainty import FloatArray

TASKS_KEPT = 3
"""Component kinds solved with all draws; the others need less pressure in those used for ranking."""


ROUTE_WORDS: dict[Route, str] = {"water": "rinsed with water", "solvent": "not rinsed with water"}
"""How each route is said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """One fluid ready to be solved for on one board type."""

    fluid: Fluid
    """The fluid."""
    asked: Asking
    """With the book of what was read for it."""
    tasks: tuple[ClearingTask, ...]
    """Clearing under the tightest component kinds, the hardest first."""
    highest_K: FloatArray
    """K, shape (draws,)"""


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidTrials:
    """Every fluid of the library tried on one board type."""

    uses: tuple[FluidUse, ...]
    """What came of each."""
    prepared: dict[str, Prepared]
    """Those that may be used and dissolve the residue, by id."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteWash:
    """The wash of one route, for the stages that follow it."""

    fluid: Fluid
    """The fluid."""
    hardest: ClearingTask
    """The tightest component in it."""
    mean_pressure_Pa: float
    """Pa, time-mean pressure asked at the smallest duty; 0 where none is asked or within reach."""


def route_of(fluid: Fluid) -> Route:
    """Tell how a fluid's wash ends."""
    return "water" if fluid.rinse_with == "water" else "solvent"


def fluid_limits(board: BoardType, fluid: Fluid, asked: Asking) -> tuple[str, FloatArray]:
    """Say whether a rule about a sensitive part forbids a fluid, and up to which temperature it may be used.

    Parameters
    ----------
    board : BoardType
    fluid : Fluid
    asked : Asking

    Returns
    -------
    blocked_by : str
        Empty when nothing forbids it.
    highest_K : ndarray (draws,)
        K, lowest of the fluid's, the board's and the parts' own limits.

    Notes
    -----
    Only what comes with the fluid and its heat is looked at: pH, solvent, temperature. What a machine does besides
    (ultrasound, immersion) is listed as a demand of its own. "Test first" forbids nothing.
    """
    context = asked.context
    highest = np.minimum(context.of_fluid(fluid, "max_temperature"), context.of_board(board, "max_temperature"))
    for part_id in sensitive_parts(board, context.kinds):
        for number, rule in enumerate(context.parts[part_id].rules, start=1):
            ph, bound = fluid.ph.si()[1] if fluid.ph else None, rule.above.si()[1] if rule.above else NEUTRAL_PH
            acts = rule.result == "not allowed" and (
                rule.agent == "temperature"
                or (rule.agent == "solvent" and fluid.family == "solvent")
                or (rule.agent == "alkaline" and ph is not None and ph > bound)
                or (rule.agent == "acidic" and ph is not None and ph < bound)
            )
            if acts and rule.above_temperature is not None:
                path = f"board_parts[{part_id}].rules[{number}].above_temperature"
                highest = np.minimum(highest, context.inputs.book.take(rule.above_temperature, path, rule.basis))
            elif acts:
                return f"{context.parts[part_id].name}: {rule.why}", np.asarray(highest)
    return "", np.asarray(highest)


def try_fluids(asked: Asking, flux: FluxKind, conditions: Conditions, seed: int) -> FluidTrials:
    """Solve for the pressure that every fluid of the library asks for on one board type, at the middle duty.

    Parameters
    ----------
    asked : Asking
        With a board type.
    flux : FluxKind
        Its flux.
    conditions : Conditions
    seed : int

    Returns
    -------
    FluidTrials

    Notes
    -----
    Every fluid washes at the highest temperature that it and the board allow, which asks for the least pressure; a
    cooler wash asks for more.
    """
    context, board, duty = asked.context, asked.board, conditions.duties[len(conditions.duties) // 2]
    assert board is not None  # asked per board type only
    uses: list[FluidUse] = []
    prepared: dict[str, Prepared] = {}
    for fluid in context.library.fluids:
        own = asking(context.case, context.library, board, context.draws, seed)
        blocked, highest_K = fluid_limits(board, fluid, own)
        lowest_K, fits = own.context.of_fluid(fluid, "min_temperature"), dissolves(fluid, flux.family)
        if fits and not blocked and float(np.median(highest_K)) < float(np.median(lowest_K)):
            blocked = "The board may not get as warm as this fluid must be."
        pressure = None
        if fits and not blocked:
            tasks = clearing_tasks(own.context, board, flux, fluid_state(fluid, highest_K, own.context.inputs.book))
            tasks = hardest_first(tasks, conditions.wash_time_s, duty, asked.share)[:TASKS_KEPT]
            pressure = pressure_needed_Pa(tasks, conditions.wash_time_s, duty, asked.share)
            prepared[fluid.id] = Prepared(fluid=fluid, asked=own, tasks=tasks, highest_K=highest_K)
        uses.append(
            FluidUse(fluid_id=fluid.id, route=route_of(fluid), dissolves=fits, blocked_by=blocked,
                     lowest_K=float(np.median(lowest_K)), highest_K=float(np.median(highest_K)), asked_Pa=pressure)
        )  # fmt: skip
    return FluidTrials(uses=tuple(uses), prepared=prepared)


def reference_fluids(trials: Sequence[FluidTrials]) -> dict[Route, str]:
    """Pick one fluid a route: it serves most board types, and of those asks for the least pressure on the hardest.

    Parameters
    ----------
    trials : sequence of FluidTrials
        One per board type.

    Returns
    -------
    dict of route to fluid id
        A route for which no fluid may be used on any board type is left out.
    """
    by_fluid: dict[str, list[FluidUse]] = {}
    for trial in trials:
        for use in trial.uses:
            if use.asked_Pa is not None:
                by_fluid.setdefault(use.fluid_id, []).append(use)

    def merit(fluid_id: str) -> tuple[int, float, float, str]:
        asked = [use.asked_Pa for use in by_fluid[fluid_id] if use.asked_Pa is not None]
        return -len([one for one in asked if np.isfinite(one)]), max(asked), sum(asked), fluid_id

    found: dict[Route, str] = {}
    for fluid_id in sorted(by_fluid, key=merit):
        found.setdefault(by_fluid[fluid_id][0].route, fluid_id)
    # Always in the same order, so that the specification of every plant reads alike.
    return {route: found[route] for route in ROUTE_WORDS if route in found}


def wash_demands(asked: Asking, flux: FluxKind, trials: FluidTrials, references: dict[Route, str],
                 conditions: Conditions) -> tuple[tuple[Demand, ...], dict[Route, RouteWash]]:  # fmt: skip
    """Work out what a board type asks of the wash, for each route with that route's reference fluid.

    Parameters
    ----------
    asked : Asking
        With a board type.
    flux : FluxKind
    trials : FluidTrials
        Of this board type.
    references : dict of route to fluid id
        A board type on which the reference may not be used takes its own best of that route.
    conditions : Conditions

    Returns
    -------
    demands : tuple of Demand
    washes : dict of route to RouteWash
    """
    demands = [_fluids(asked, flux, trials)]
    own_best = reference_fluids((trials,))
    washes: dict[Route, RouteWash] = {}
    for route in own_best:
        reference = references.get(route, "")
        one = trials.prepared.get(reference) or trials.prepared[own_best[route]]
        pressures = [_pressure(one, route, conditions, duty) for duty in conditions.duties]
        demands += [*_temperatures(one, route), *pressures]
        if route == "water":
            middle = len(conditions.duties) // 2
            demands.append(_stream(one, conditions, conditions.duties[middle], pressures[middle]))
        last = pressures[-1].asked
        mean = last * conditions.duties[-1] if last is not None and np.isfinite(last) else 0.0
        washes[route] = RouteWash(fluid=one.fluid, hardest=one.tasks[0], mean_pressure_Pa=mean)
    return tuple(demands), washes


def _fluids(asked: Asking, flux: FluxKind, trials: FluidTrials) -> Demand:
    names = {fluid.id: fluid.name for fluid in asked.context.library.fluids}
    fit = "; ".join(names[use.fluid_id] for use in trials.uses if use.usable)
    unfit = "; ".join(names[use.fluid_id] for use in trials.uses if not use.dissolves)
    if not fit:
        return asked.fact(
            f"fluid {flux.family}", "Wash", phrase("Fluid that dissolves {family} residue", family=flux.family),
            phrase("No fluid of the library dissolves {family} residue ({flux}) and may be used on this board. Offer "
                   "one and show by trial that it does.", family=flux.family, flux=flux.name),
        )  # fmt: skip
    return asked.fact(
        f"fluid {flux.family}", "Wash", phrase("Fluid that dissolves {family} residue", family=flux.family),
        phrase("{flux} leaves {family} residue. Dissolved by: {fit}. "
               + ("Not dissolved by: {unfit}. " if unfit else "") + "Name the fluid offered.",
               flux=flux.name, family=flux.family, fit=fit, unfit=unfit),
    )  # fmt: skip


def _temperatures(one: Prepared, route: Route) -> list[Demand]:
    lowest_K = one.asked.context.of_fluid(one.fluid, "min_temperature")
    return [
        one.asked.number(
            f"{route} wash hottest", "Wash",
            phrase("Wash temperature with a fluid {route}, highest", route=ROUTE_WORDS[route]), "at most",
            one.highest_K, "temperature",
            phrase("With {fluid}, the wash must stay at or below {highest}, the lower limit of board and fluid.",
                   fluid=one.fluid.name, highest=(float(np.median(one.highest_K)), "temperature")),
        ),
        one.asked.number(
            f"{route} wash coolest", "Wash",
            phrase("Wash temperature with a fluid {route}, lowest", route=ROUTE_WORDS[route]), "at least", lowest_K,
            "temperature",
            phrase("{fluid} works as meant from {lowest} on. The pressures asked hold at the highest temperature; a "
                   "cooler wash needs more.", fluid=one.fluid.name,
                   lowest=(float(np.median(lowest_K)), "temperature")),
        ),
    ]  # fmt: skip


def _points(tasks: tuple[ClearingTask, ...], conditions: Conditions, duty: float, share: float,
            multiplier: FloatArray | float) -> tuple[float, tuple[float, float, float]]:  # fmt: skip
    def at(point: float) -> float:
        return pressure_needed_Pa(tasks, conditions.wash_time_s, duty, point, multiplier)

    return at(share), (at(0.05), at(0.5), at(0.95))


def _pressure(one: Prepared, route: Route, conditions: Conditions, duty: float) -> Demand:
    asked_Pa, band = _points(one.tasks, conditions, duty, one.asked.share, 1.0)
    kind = one.tasks[0].kind
    if np.isinf(asked_Pa):
        template = ("In {share} of the draws no pressure within reach is enough under {kind} in a wash of {time} in "
                    "{fluid} when it acts {duty} of the time. Offer a longer wash and show it by trial.")  # fmt: skip
    elif asked_Pa == 0.0:
        template = "Standing {fluid} clears under {kind} within {time} by itself; no pressure is asked."
    else:
        template = (
            "Across the gap under {kind}, at the worst place of the board and for {duty} of a wash of {time} in "
            "{fluid}; it clears all residue in {share} of the draws, and half of them need "
            + ("none." if band[1] == 0.0 else "more." if np.isinf(band[1]) else "{middle} at most.")
        )
    share = 1.0 - one.asked.share if np.isinf(asked_Pa) else one.asked.share
    return one.asked.banded(
        f"{route} pressure {duty:g}", "Wash",
        phrase("Pressure across the tightest gap, acting {duty} of the time, fluid {route}", duty=(duty, "share"),
               route=ROUTE_WORDS[route]),
        "at least", asked_Pa, band, "low pressure",
        phrase(template, kind=kind.name, duty=(duty, "share"), time=(conditions.wash_time_s, "time"),
               fluid=one.fluid.name, middle=(band[1], "low pressure"), share=(share, "share")),
    )  # fmt: skip


def _stream(one: Prepared, conditions: Conditions, duty: float, across: Demand) -> Demand:
    """Ask for the pressure of streams in air, none where `across`, the demand across the gap at that duty, is none."""
    conversion = np.square(one.asked.context.constant("stream_pressure_conversion"))
    asked_Pa, band = _points(one.tasks, conditions, duty, one.asked.share, conversion)
    if across.asked == 0.0:
        # Both answers stop at a least pressure, which the stream's exceeds a little sooner.
        low_Pa, middle_Pa, high_Pa = (0.0 if point_Pa <= asked_Pa else point_Pa for point_Pa in band)
        asked_Pa, band = 0.0, (low_Pa, middle_Pa, high_Pa)
    if np.isinf(asked_Pa):
        template = "No stream within reach is enough under {kind} in {time}, in the share of draws the plant wants."
    elif asked_Pa == 0.0:
        template = "Standing {fluid} clears under {kind} within {time} by itself; no stream pressure is asked."
    else:
        template = (
            "A machine that sprays in air must hit the worst place of the board with such streams for {duty} of a wash "
            "of {time} in {fluid}; only a part of their pressure acts across the gap under {kind}."
        )
    return one.asked.banded(
        "stream", "Wash", phrase("Dynamic pressure of spray at the board, acting {duty} of the time",
                                 duty=(duty, "share")),
        "at least", asked_Pa, band, "low pressure",
        phrase(template, kind=one.tasks[0].kind.name, duty=(duty, "share"),
               time=(conditions.wash_time_s, "time"), fluid=one.fluid.name),
    )  # fmt: skip
