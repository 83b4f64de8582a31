"""What the pictures show, as plain arrays and tables: a board's exposure, and clearing depth over wash time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

from catalog_schema.boards import BoardType, ComponentKind
from catalog_schema.case import Library
from model.clearing import cleared_depth_m
from model.evaluate import Evaluation
from model.machine_inputs import MachineInputs, MissingInputError, constant_reader
from model.outcomes import BoardOutcome, FluidOutcome
from model.phrase import Phrase, phrase
from model.spray_drive import run_out_m, spray_geometry, spray_pump
from model.spray_field import board_picture, direct_coverage_share, duty_map, ricochet_only_share
from model.spray_geometry import Rack
from model.stages import WashStage
from model.uncertainty import FloatArray, InputBook, low_middle_high, share_true
from model.wash import LEAST_DUTY_SHARE, KindClearing
from model.wash_course import wash_outcome

Place = Literal["outer board", "inner board"]

Three = tuple[float, float, float]
"""5 %, 50 % and 95 % point over the draws."""

CURVE_POINTS = 61
"""Times at which a depth curve is computed."""


def tightest_kind(board: BoardType, library: Library) -> ComponentKind:
    """Find the component kind of a board whose flux path is longest for its gap.

    Raises
    ------
    KeyError
        When a kind is not in the library.

    Notes
    -----
    Geometry alone, for a first look: a low gap under a small chip is soon cleared, a higher one under a wide body is
    not. Which kind needs longest in a machine also depends on its drive and on the fluid, and is computed there.
    """
    kinds = {kind.id: kind for kind in library.component_kinds}
    return max((kinds[component.kind] for component in board.components), key=path_per_gap)


def path_per_gap(kind: ComponentKind) -> float:
    """Divide a component kind's flux path by its gap, both at their likely values."""
    return kind.flux_path.si()[1] / kind.gap.si()[1]


def fluid_outcome(board: BoardOutcome, fluid_id: str) -> FluidOutcome:
    """Give a fluid's outcome on a board type; raises KeyError when it was not tried."""
    for found in board.fluids:
        if found.fluid_id == fluid_id:
            return found
    raise KeyError(fluid_id)


def kind_clearing(evaluation: Evaluation, board_id: str, stage: WashStage, kind_id: str) -> KindClearing:
    """Give the clearing under one component kind with all draws, whether or not it was among the hardest.

    Parameters
    ----------
    evaluation : Evaluation
    board_id : str
    stage : WashStage
        The wash of that board type in one machine with one fluid.
    kind_id : str
        A component kind of that board type.

    Returns
    -------
    KindClearing
        Equal to the evaluation's own where it kept that kind: every quantity's draws follow from its path alone.

    Raises
    ------
    ValueError
        When the wash could not be computed, or the board type does not carry the kind.
    """
    if stage.outcome is None or stage.drive is None:
        raise ValueError("Nothing is cleared here: the fluid does not dissolve the residue.")
    for kept in stage.outcome.kinds:
        if kept.kind.id == kind_id:
            return kept
    board = next(record for record in evaluation.case.board_types if record.id == board_id)
    only = tuple(component for component in board.components if component.kind == kind_id)
    if not only:
        raise ValueError(f"{board.name} carries no {kind_id}.")
    flux = next(record for record in evaluation.library.flux_kinds if record.id == board.flux)
    alone = wash_outcome(
        board.model_copy(update={"components": only}), flux, stage.drive, stage.state, evaluation.library,
        InputBook(evaluation.draws, evaluation.seed),
    )  # fmt: skip
    return alone.kinds[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthCurve:
    """Depth cleared under one component kind over wash time, at the worst place that counts."""

    kind_name: str
    """Component kind."""
    time_s: FloatArray
    """s, shape (points,)"""
    low_m: FloatArray
    """m, 5 % point of the depth, shape (points,)"""
    middle_m: FloatArray
    """m, middle of the depth, shape (points,)"""
    high_m: FloatArray
    """m, 95 % point of the depth, shape (points,)"""
    needed_m: Three
    """m, 5 %, 50 % and 95 % point of the depth needed."""
    limit_s: Three | None
    """s, 5 %, 50 % and 95 % point of the machine's longest wash; None when it is not known."""
    at_limit_m: Three | None
    """m, depth at that limit."""
    needed_time_s: Three
    """s, wash time needed; infinite where it is never cleared."""
    probability: float | None
    """Share of the draws in which the depth needed is cleared within the limit."""
    sentence: Phrase
    """What the curve says."""


def _curve_end_s(limit_s: Three | None, needed_s: Three) -> float:
    """Choose the end of the time axis so that what decides is seen.

    Past the limit, and on to where the depth is reached if that is not far off; where the depth is surely reached long
    before the limit, the limit is left beyond the edge.
    """
    middle_s = needed_s[1] if np.isfinite(needed_s[1]) else 0.0
    if limit_s is None:
        return max(1.5 * middle_s, 60.0)
    if 0.0 < 4.0 * needed_s[2] < limit_s[0]:
        return 3.0 * needed_s[2]
    return max(min(1.3 * middle_s, 5.0 * limit_s[1]), 1.25 * limit_s[2], 1.0)


def depth_curve(clearing: KindClearing, max_time_s: FloatArray | None, machine_name: str) -> DepthCurve:
    """Turn the draws of one kind's clearing into a curve with its 5 to 95 % band.

    Parameters
    ----------
    clearing : KindClearing
    max_time_s : ndarray (draws,) or None
        s, longest wash of the machine.
    machine_name : str
        For the sentence.

    Returns
    -------
    DepthCurve

    Notes
    -----
    Depth is `cleared_depth_m`, draw by draw, then the points of the draws at each time. Times are spaced by their
    square roots, because soaking goes with the root of time. Depths beyond the flux path are the margin.
    """
    needed_s = low_middle_high(clearing.needed_time_s)
    needed_m = low_middle_high(clearing.depth_needed_m)
    limit_s = None if max_time_s is None else low_middle_high(max_time_s)
    time_s = np.linspace(0.0, 1.0, CURVE_POINTS) ** 2 * _curve_end_s(limit_s, needed_s)
    depth = np.asarray(cleared_depth_m(time_s[:, None], clearing.speed_m_s, clearing.soak_m_s05))
    low, middle, high = np.quantile(depth, [0.05, 0.5, 0.95], axis=1)
    at_limit, probability = None, None
    if max_time_s is not None:
        at_limit = low_middle_high(np.asarray(cleared_depth_m(max_time_s, clearing.speed_m_s, clearing.soak_m_s05)))
        probability = share_true(clearing.needed_time_s <= max_time_s)
    return DepthCurve(
        kind_name=clearing.kind.name, time_s=time_s, low_m=low, middle_m=middle, high_m=high, needed_m=needed_m,
        limit_s=limit_s, at_limit_m=at_limit, needed_time_s=needed_s, probability=probability,
        sentence=_depth_sentence(clearing.kind.name, machine_name, needed_m, needed_s, limit_s, at_limit, probability),
    )  # fmt: skip


def _depth_sentence(
    kind: str, machine: str, needed_m: Three, needed_s: Three, limit_s: Three | None, at_limit_m: Three | None,
    probability: float | None,
) -> Phrase:  # fmt: skip
    if limit_s is None or at_limit_m is None or probability is None:
        return phrase("The longest wash of {machine} is not known, so only the course of clearing can be shown.",
                      machine=machine)  # fmt: skip
    if at_limit_m[1] <= 0.0:
        return phrase("Nothing is cleared under {kind} at the worst place: the fluid does not get into the gap.",
                      kind=kind)  # fmt: skip
    if needed_s[1] <= limit_s[1]:
        return phrase(
            "The {needed} needed under {kind} are cleared at the worst place in {middle} ({low} to {high}); {machine} "
            "washes up to {limit}, enough with probability {probability}.",
            needed=(needed_m[1], "length"), kind=kind, middle=(needed_s[1], "time"), low=(needed_s[0], "time"),
            high=(needed_s[2], "time"), machine=machine, limit=(limit_s[1], "time"),
            probability=(probability, "share"),
        )  # fmt: skip
    return phrase(
        "After {limit}, the longest wash of {machine}, {middle} ({low} to {high}) of the {needed} needed under {kind} "
        "is cleared at the worst place; all of it with probability {probability}.",
        limit=(limit_s[1], "time"), machine=machine, middle=(at_limit_m[1], "length"), low=(at_limit_m[0], "length"),
        high=(at_limit_m[2], "length"), needed=(needed_m[1], "length"), kind=kind, probability=(probability, "share"),
    )  # fmt: skip


def depth_frame(curve: DepthCurve) -> pd.DataFrame:
    """Give a depth curve as a table in SI: time_s, low_m, middle_m, high_m."""
    return pd.DataFrame(
        {"time_s": curve.time_s, "low_m": curve.low_m, "middle_m": curve.middle_m, "high_m": curve.high_m}
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """Streams on both sides of one board of a load."""

    cells: pd.DataFrame
    """Per cell: side, left_m, right_m, bottom_m, top_m, duty_share, direct_share, pressure_Pa (of the streams alone,
    across a gap while one acts), weakest."""
    places: tuple[Place, ...]
    """Boards that can be asked for; one when the load is a single board."""
    standing: bool
    """True when boards stand in a rack: up in the picture is up in the machine."""
    boards_traced: int
    """Boards in the trace."""
    ray_count: int
    """Rays traced."""
    run_out_m: float
    """m, film run-out, middle draw."""
    nozzle_pressure_Pa: float
    """Pa, with loaded filter, middle draw."""
    sentence: Phrase
    """What the picture says."""


def exposure(evaluation: Evaluation, machine_id: str, board_id: str, fluid_id: str, place: Place) -> Exposure:
    """Prepare the picture of a board in a spraying machine, from the ray trace that the evaluation kept.

    Parameters
    ----------
    evaluation : Evaluation
    machine_id, board_id, fluid_id : str
    place : "outer board" or "inner board"
        First board of the load, or the one in its middle.

    Returns
    -------
    Exposure

    Raises
    ------
    KeyError
        When machine, board type or fluid is not in the evaluation.
    ValueError
        With a sentence, when there is no spray to show.
    """
    outcome = evaluation.machine(machine_id)
    machine = outcome.machine
    if machine.principle != "spray in air":
        raise ValueError(f"{machine.name} does not spray in air, so there is no stream to trace.")
    found = outcome.board(board_id)
    stage = fluid_outcome(found, fluid_id).wash
    if found.fit is None or found.fit.boards_per_load < 1 or stage is None:
        raise ValueError(_why_no_wash(found))
    board = next(record for record in evaluation.case.board_types if record.id == board_id)
    book = InputBook(evaluation.draws, evaluation.seed)
    inputs = MachineInputs(machine, book)
    constant = constant_reader(evaluation.library, book)
    try:
        pump = spray_pump(inputs, stage.state)
        geometry = spray_geometry(inputs, board, found.fit, float(np.median(constant("drop_drag_coefficient"))))
    except MissingInputError as missing:
        raise ValueError(str(missing)) from None
    trace = evaluation.traces.get(geometry) or geometry.trace(evaluation.rays, evaluation.seed)
    clear = book.take(board.clear_distance, f"board_types[{board.id}].clear_distance", "measured")
    reach_m = float(np.median(run_out_m(inputs, pump, stage.state, constant("useful_film_speed"), clear)))
    duty = duty_map(trace, reach_m, float(np.median(constant("restitution"))))
    nozzle_Pa = float(np.median(np.asarray(pump.loaded.nozzle_pressure_Pa)))
    full_Pa = float(np.median(np.square(constant("stream_pressure_conversion")))) * nozzle_Pa
    standing = geometry.rack.orientation == "standing"
    boards = duty.cell_shape[0]
    places: tuple[Place, ...] = ("outer board", "inner board") if boards > 2 else ("outer board",)
    index = boards // 2 if place == "inner board" and boards > 2 else 0
    names = ("Face A", "Face B") if standing else ("Underside", "Upper side")
    size = _shown_size_m(board, geometry.rack)
    frames = []
    for side, name in enumerate(names):
        picture = board_picture(duty, index, side)
        bare = " (no parts)" if board.populated_sides == 1 and side == 0 else ""
        frames.append(_side_frame(name + bare, picture.duty_share, picture.direct_duty_share,
                                  picture.pressure_ratio * full_Pa, size))  # fmt: skip
    cells = pd.concat(frames, ignore_index=True)
    sentence = phrase(
        "On this board a stream acts {mean} of the time on average and {least} at the weakest place; over the whole "
        "load direct streams reach {direct} of the area and {bounced} is reached by ricochet only.",
        mean=(float(cells["duty_share"].mean()), "share"), least=(float(cells["duty_share"].min()), "share"),
        direct=(direct_coverage_share(duty, LEAST_DUTY_SHARE), "share"),
        bounced=(ricochet_only_share(duty, LEAST_DUTY_SHARE), "share"),
    )  # fmt: skip
    return Exposure(
        cells=cells, places=places, standing=standing, boards_traced=boards, ray_count=trace.ray_count,
        run_out_m=reach_m, nozzle_pressure_Pa=nozzle_Pa, sentence=sentence,
    )  # fmt: skip


def _why_no_wash(board: BoardOutcome) -> str:
    """Repeat the finding that kept the wash from being computed."""
    reasons = [one.requirement.sentence.text() for one in board.chosen.judged if one.requirement.result != "meets"]
    return reasons[0] if reasons else "No wash was computed for this board type."


def _shown_size_m(board: BoardType, rack: Rack) -> tuple[float, float]:
    """Upright and level edge of the board as it lies in the trace, which may have turned it to fit a belt, m."""
    length_m, width_m = board.length.si()[1], board.width.si()[1]
    turned = (rack.board_length_m >= rack.board_width_m) != (length_m >= width_m)
    return (length_m, width_m) if turned else (width_m, length_m)


def _side_frame(name: str, duty: FloatArray, direct: FloatArray, pressure_Pa: FloatArray,
                size_m: tuple[float, float]) -> pd.DataFrame:  # fmt: skip
    """List one side's cells with their edges on the board as it is, width upwards, length to the right."""
    rows, columns = duty.shape
    row, column = (index.ravel() for index in np.indices(duty.shape))
    weakest = np.zeros(duty.size, dtype=np.bool_)
    weakest[int(np.argmin(duty))] = True
    height_m, width_m = size_m[0] / rows, size_m[1] / columns
    return pd.DataFrame(
        {
            "side": name, "left_m": column * width_m, "right_m": (column + 1) * width_m, "bottom_m": row * height_m,
            "top_m": (row + 1) * height_m, "duty_share": duty.ravel(), "direct_share": direct.ravel(),
            "pressure_Pa": pressure_Pa.ravel(), "weakest": weakest,
        }
    )  # fmt: skip
