"""What our boards demand: the specification that the hardest board types put on any machine."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import replace
from typing import TypeVar

import numpy as np

from catalog_schema.boards import FluxKind
from catalog_schema.case import Case, Library
from catalog_schema.library import library_for
from model.demand_boards import charge_demands, part_demands, size_demands
from model.demand_plant import rack_demands, record_demands, site_demands, volume_demands
from model.demand_records import (
    GROUPS,
    Asking,
    BoardDemands,
    Conditions,
    Demand,
    Demands,
    FluidUse,
    asking,
)
from model.demand_rinse_dry import dry_demands, rinse_demands
from model.demand_wash import RouteWash, reference_fluids, try_fluids, wash_demands
from model.evaluate import DEFAULT_DRAWS, DEFAULT_SEED, Progress
from model.uncertainty import merge_inputs

T = TypeVar("T")

STEPS_PER_BOARD = 3
"""Its fluids, its wash, and what comes after."""

__all__ = ["BoardDemands", "Conditions", "Demand", "Demands", "FluidUse", "demands_of", "hardest"]


def demands_of(case: Case, conditions: Conditions | None = None, *, library: Library | None = None,
               draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED, progress: Progress | None = None
               ) -> Demands:  # fmt: skip
    """Work out what a case's boards and plant demand of any machine; no machine of the case is looked at.

    Parameters
    ----------
    case : Case
    conditions : Conditions, optional
        Conditions under which the numbers hold.
    library : Library, optional
        Base library; the shipped one when absent.
    draws, seed : int
        As in `evaluate`: the same draws of the same quantities.
    progress : callable, optional
        Told after each step of each board type; may raise to stop.

    Returns
    -------
    Demands

    Raises
    ------
    ValueError
        When draws are below 1, or a quantity contradicts itself.
    """
    if draws < 1:
        raise ValueError(f"draws is {draws}. At least 1 is needed.")
    fixed = Conditions() if conditions is None else conditions
    merged = library_for(case, library)
    flux = {record.id: record for record in merged.flux_kinds}
    steps = itertools.count(1)

    def told(step: T) -> T:
        if progress is not None:
            progress(next(steps), STEPS_PER_BOARD * len(case.board_types), "")
        return step

    trials = [
        told(try_fluids(asking(case, merged, board, draws, seed), flux[board.flux], fixed, seed))
        for board in case.board_types
    ]
    references = reference_fluids(trials)
    washed = [
        told(wash_demands(asking(case, merged, board, draws, seed), flux[board.flux], trial, references, fixed))
        for board, trial in zip(case.board_types, trials, strict=True)
    ]
    # A machine that clears the hardest board type pushes rinse water just as hard under all the others.
    hardest_Pa = max((wash["water"].mean_pressure_Pa for _, wash in washed if "water" in wash), default=0.0)
    boards = tuple(
        BoardDemands(
            board_id=board.id, fluids=trial.uses,
            reference_fluids={route: one.fluid.id for route, one in wash.items()},
            demands=(*demands, *told(_after_wash(asking(case, merged, board, draws, seed), flux[board.flux],
                                                 wash.get("water"), hardest_Pa, fixed))),
        )
        for board, trial, (demands, wash) in zip(case.board_types, trials, washed, strict=True)
    )  # fmt: skip
    own = [stage(asking(case, merged, None, draws, seed))
           for stage in (rack_demands, record_demands, volume_demands, site_demands)]  # fmt: skip
    per_board = (demand for board in boards for demand in board.demands)
    overall = sorted(
        (*hardest(per_board), *(demand for stage in own for demand in stage)),
        key=_place,
    )
    return Demands(
        case=case, library=merged, conditions=fixed, draws=draws, share=case.plant.requirements.probability.si()[1],
        boards=boards, reference_fluids=references, overall=tuple(overall),
    )  # fmt: skip


def _after_wash(asked: Asking, flux: FluxKind, wash: RouteWash | None, mean_pressure_Pa: float,
                conditions: Conditions) -> tuple[Demand, ...]:  # fmt: skip
    pushed = None if wash is None else replace(wash, mean_pressure_Pa=mean_pressure_Pa)
    return (
        *rinse_demands(asked.fresh(), flux, pushed, conditions), *dry_demands(asked.fresh(), conditions),
        *size_demands(asked.fresh()), *charge_demands(asked.fresh()), *part_demands(asked.fresh()),
    )  # fmt: skip


def hardest(demands: Iterable[Demand]) -> tuple[Demand, ...]:
    """Keep of each demand the one that asks for most, in order of first appearance.

    Parameters
    ----------
    demands : iterable of Demand
        Of several board types.

    Returns
    -------
    tuple of Demand
        With the board types that set it: all that ask for the same, or share the "must".
    """
    kept: dict[str, Demand] = {}
    for demand in demands:
        rival = kept.setdefault(demand.key, demand)
        if rival is demand:
            continue
        if demand.side == "must" or _severity(demand) == _severity(rival):
            kept[demand.key] = replace(
                rival, board_ids=rival.board_ids + demand.board_ids,
                inputs=merge_inputs((rival.inputs, demand.inputs)),
            )  # fmt: skip
        elif _severity(demand) > _severity(rival):
            kept[demand.key] = demand
    return tuple(kept.values())


def _place(demand: Demand) -> tuple[int, bool, bool]:
    """Order demands by group, within it fluids after the numbers and what only needs a test last."""
    return GROUPS.index(demand.group), demand.key.startswith("fluid"), demand.key.startswith("part test first")


def _severity(demand: Demand) -> tuple[float, float]:
    """Order demands of one key: what is asked, then the middle of the need, for the same side."""
    assert demand.asked is not None  # numbers only
    assert demand.band is not None
    sign = 1.0 if demand.side == "at least" else -1.0
    middle = demand.band[1]
    return sign * demand.asked, sign * middle if np.isfinite(middle) else sign * np.inf
