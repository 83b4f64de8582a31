"""The rinse of one board type in one machine after one fluid: residue left, rinses, water, resistivity."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from catalog_schema.fluids import Fluid
from model.context import Context, Rinsed
from model.phrase import phrase
from model.requirements import Judged, Subject, judge_fact, judge_number
from model.rinse import RinseResult
from model.rinse_course import (
    RinseLoad,
    residue_limit_kg_m2,
    rinse_boards,
    rinse_follows,
    rinse_kind,
    rinses_in_own_vapour,
)
from model.uncertainty import FloatArray, low_middle_high, median


@dataclass(frozen=True, slots=True, kw_only=True)
class RinseStage(Rinsed):
    """The rinse of a load, judged."""

    judged: tuple[Judged, ...]
    """Musts of the rinse."""


def rinse_stage(context: Context, load: RinseLoad) -> RinseStage:
    """Judge the rinse; what `model.board_process` has rinsed together with other board types is taken from there.

    Parameters
    ----------
    context : Context
    load : RinseLoad

    Returns
    -------
    RinseStage

    Raises
    ------
    MissingInputError, ValueError
        When an input is missing or contradicts itself.

    Notes
    -----
    See `rinse_boards`. Ionic residue is judged against the board type's or the plant's own limit, where there is one;
    the last rinse's resistivity against what the plant wants.
    """
    board, fluid = load.board, load.fluid
    if (board.id, fluid.id) not in context.rinsed:
        context.rinsed.update(rinse_boards(context, [load]))
    rinsed = context.rinsed[board.id, fluid.id]
    subject = Subject(machine_id=context.machine.id, board_id=board.id, fluid_id=fluid.id)
    limit = residue_limit_kg_m2(context, board)
    if not rinse_follows(context, fluid):
        judged = _residue(context, subject, limit, rinsed, "No rinse follows {fluid}; it dries on the board with "
                          "{left} of ionic residue; the limit is {limit}.", fluid)  # fmt: skip
        if rinse_kind(context) == "none" and fluid.rinse_with == "water":
            judged = (
                judge_fact(
                    subject, "rinse", "Rinses", "rinse", holds=False, draws=context.draws,
                    sentence=phrase("{fluid} must be rinsed off with water and this machine does not rinse.",
                                    fluid=fluid.name),
                ),
            )  # fmt: skip
    else:
        judged = _residue(
            context, subject, limit, rinsed,
            "{rinses} {left} of ionic residue after {fluid}; the plant's own limit is {limit}.", fluid,
        )  # fmt: skip
        if rinsed.result is not None and not rinses_in_own_vapour(context, fluid):
            judged += _resistivity(context, subject, rinsed.result)
    return RinseStage(judged=judged, **{one.name: getattr(rinsed, one.name) for one in fields(Rinsed)})


def _residue(context: Context, subject: Subject, limit: FloatArray | None, rinsed: Rinsed, template: str,
             fluid: Fluid) -> tuple[Judged, ...]:  # fmt: skip
    if limit is None:
        return ()
    left = rinsed.residue_left_kg_m2
    middle = median(rinsed.rinses)
    all_run, one = np.isinf(middle), middle == 1.0
    sentence = phrase(
        template, fluid=fluid.name, left=(low_middle_high(left)[1], "mass per area"),
        limit=(median(limit), "mass per area"),
        rinses="All rinses leave" if all_run else "1 rinse leaves" if one else f"{middle:.0f} rinses leave",
    )  # fmt: skip
    return (
        judge_number(
            subject, "residue", "Ionic residue within the plant's limit", "rinse", measure=left, limit=limit,
            direction="at most", dimension="mass per area", thresholds=context.thresholds, sentence=sentence,
        ),
    )  # fmt: skip


def _resistivity(context: Context, subject: Subject, result: RinseResult) -> tuple[Judged, ...]:
    wanted = context.of_plant("requirements.rinse_resistivity")
    if wanted is None:
        return ()
    reached = np.asarray(result.last_rinse_resistivity_ohm_m)
    return (
        judge_number(
            subject, "resistivity", "Last rinse clean enough", "rinse", measure=reached, limit=wanted,
            direction="at least", dimension="resistivity", thresholds=context.thresholds,
            sentence=phrase("The last rinse has {reached}; the plant wants {wanted}.",
                            reached=(median(reached), "resistivity"),
                            wanted=(median(wanted), "resistivity")),
        ),
    )  # fmt: skip
