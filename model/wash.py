"""What presses fluid under the components of one board type, in one machine with one fluid, and what clearing gave.

Two things press fluid through a gap under spray in air: the stream (κ² times its dynamic pressure, spread over its
footprint) and, on a board that stands, gravity: as long as a part is wetted from above, the fluid in its gap falls
through under its own head ρ g L. Both act only for the share of time in which a stream wets the place; water that
keeps running down after the stream has passed is left out, which is the slow side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from catalog_schema.boards import BoardType, ComponentKind
from model.clearing import (
    ResidueFigures,
    check_duty,
    cleared_depth_m,
    driven_front_speed_m_s,
    front_speed_m_s,
    unchecked_mean_speed,
    worst_place_speed,
)
from model.gap import GapFigures
from model.immersion import Drive, STANDARD_GRAVITY_m_s2
from model.records import changed
from model.spray_drive import SprayGeometry
from model.spray_field import DutyMap, ExposureTrace, WorstCells, duty_maps, worst_cells
from model.uncertainty import FloatArray, median

SingleArray = NDArray[np.float32]
"""Duties, and what is averaged by them: seven digits are far more than a sample of rays gives, in half the time."""

DutyKey = tuple[SprayGeometry, int, float, float]
"""All that a duty depends on, rays, seed and run-out aside: geometry, sides, restitution, dropped share."""

SHORTEST_NODE_m = 1e-4
"""Film that runs out less than this far is next to none."""

NODES_A_DECADE = 5
"""Preferred run-outs in a decade; what lies between two of them is interpolated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SprayField:
    """A board type's share of a trace: the few worst cells, for several film run-outs."""

    run_out_nodes_m: FloatArray
    """m, run-outs at which the duty is known, each above the last, shape (nodes,)"""
    duty_share: tuple[SingleArray, ...]
    """Per node, time share per cell kept and class, shape (cells kept, classes)"""
    pressure_ratio: FloatArray
    """Pressure over nozzle pressure at the nominal restitution, the same at every node, shape (classes,)"""
    bounce_order: FloatArray
    """Bounces before the hit, shape (classes,)"""
    peak_ratio: float
    """Greatest pressure over nozzle pressure at the cell that is worst but for the excluded share."""
    order_index: int
    """Which of the kept cells, from the worst, counts."""
    restitution: float
    """Nominal restitution of the pressure ratios."""

    def __post_init__(self) -> None:
        """Raise ValueError for duties that are none."""
        for duty in self.duty_share:
            check_duty(duty)

    def node_weights(self, run_outs_m: FloatArray) -> FloatArray:
        """Weight of the duty at each node for film run-outs [m], shape (nodes, draws).

        Notes
        -----
        Film reaches places at a rim that grows with the run-out and over an area that grows with its square; taken
        linear in the power between them, the middle wash times of both demo cases come within 1 % (0.05 % on average)
        of those at a spacing eight times as close, and those of single draws within 1.2 %.
        """
        return node_weights(*(length_m * np.sqrt(length_m) for length_m in (run_outs_m, self.run_out_nodes_m)))


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOutDuty:
    """Duty on all cells at one film run-out, and which of them can be the worst place."""

    duty: DutyMap
    """Duty on all cells."""
    worst: WorstCells
    """Cells that can be the worst place."""


def run_out_nodes_m(run_outs_m: FloatArray) -> FloatArray:
    """Preferred film run-outs that enclose all draws, rising.

    Parameters
    ----------
    run_outs_m : ndarray (draws,)
        m, 0 or more.

    Returns
    -------
    ndarray (nodes,)
        m: 0, where a draw is shorter than a tenth of a millimetre, and five steps a decade from there.

    Notes
    -----
    Preferred, so that board types and fluids of like run-outs share what is computed at them.

    >>> run_out_nodes_m(np.array([2e-3, 3e-3])).round(5)
    array([0.00158, 0.00251, 0.00398])
    """
    first, last = np.log10(np.maximum([run_outs_m.min(), run_outs_m.max()], SHORTEST_NODE_m) / SHORTEST_NODE_m)
    steps = np.arange(floor(NODES_A_DECADE * first), ceil(NODES_A_DECADE * last) + 1)
    nodes = SHORTEST_NODE_m * 10.0 ** (steps / NODES_A_DECADE)
    return nodes if run_outs_m.min() >= SHORTEST_NODE_m else np.concatenate([[0.0], nodes])


def spray_field(trace: ExposureTrace, board: BoardType, run_outs_m: FloatArray, restitution: float,
                drop_share: float, known: dict[float, RunOutDuty] | None = None) -> SprayField:  # fmt: skip
    """Reduce a trace to the cells that can be the worst place of a board type.

    Parameters
    ----------
    trace : ExposureTrace
    board : BoardType
        Says which sides carry components.
    run_outs_m : ndarray (nodes,)
        Film run-outs, rising, m.
    restitution : float
        Nominal share of speed kept at a bounce.
    drop_share : float
        Share of the cells that may be worse than the place that counts.
    known : dict of RunOutDuty, optional
        What has been computed of this trace at other times, with the same sides, restitution and share, by run-out;
        filled up.

    Returns
    -------
    SprayField
    """
    known = {} if known is None else known
    nodes = [float(run_out) for run_out in run_outs_m]
    missing = [run_out for run_out in nodes if run_out not in known]
    for run_out, duty in zip(missing, duty_maps(trace, missing, restitution, board.populated_sides), strict=True):
        worst = worst_cells(duty, drop_share, entry_ratios=(0.0, 1e-3), margin=KEPT_OF_WORST)
        known[run_out] = RunOutDuty(duty=duty, worst=worst)
    found = [known[run_out] for run_out in nodes]
    cells = np.unique(np.concatenate([one.worst.cell_index for one in found]))
    longest, order_index = found[-1].duty, found[0].worst.order_index
    return SprayField(
        run_out_nodes_m=run_outs_m, duty_share=tuple(one.duty.duty_share[cells].astype(np.float32) for one in found),
        pressure_ratio=longest.pressure_ratio, bounce_order=longest.bounce_order.astype(np.float64),
        peak_ratio=_peak_ratio(longest, order_index), order_index=order_index, restitution=restitution,
    )  # fmt: skip


KEPT_OF_WORST = 1.5
"""Times the passed-over number of cells that is kept: over all demo board types the front speed at the worst of them is
within 1 % of that at the worst of all cells; twice the number does hardly better."""

LEAST_DUTY_SHARE = 1e-5
"""A stream present for less of the time than this is taken as sampling noise, not as something a place sees."""


def _peak_ratio(duty: DutyMap, order_index: int) -> float:
    """Greatest pressure ratio at the cell that is worst but for `order_index` others."""
    if duty.pressure_ratio.size == 0:
        return 0.0
    seen = duty.duty_share > LEAST_DUTY_SHARE
    peaks = np.where(seen, duty.pressure_ratio[None, :], 0.0).max(axis=1)
    return float(np.partition(peaks, order_index)[order_index])


@dataclass(frozen=True, slots=True, kw_only=True)
class SprayDrive:
    """Spray acting on a board type with one fluid, over draws.

    Gaps may lie in rows, one for each component kind: their arrays then have shape (rows, chosen draws), and so has
    what comes of them.
    """

    field: SprayField
    """Where and how long."""
    nozzle_pressure_Pa: FloatArray
    """Pa, with loaded filter, shape (draws,)"""
    conversion: FloatArray
    """κ, shape (draws,)"""
    restitution: FloatArray
    """Share of speed kept at a bounce, shape (draws,)"""
    run_out_m: FloatArray
    """m, film run-out, shape (draws,)"""
    boards_stand: bool
    """Whether the boards stand on edge, so that gravity draws fluid down through wetted gaps."""

    def pressures_Pa(self, chosen: slice) -> FloatArray:
        """Pressure across a gap per class and draw, shape (classes, chosen draws)."""
        base = np.square(self.conversion[chosen]) * self.nozzle_pressure_Pa[chosen]
        bounce = (self.restitution[chosen] / self.field.restitution)[None, :] ** (
            2.0 * self.field.bounce_order[:, None]
        )
        return np.asarray(self.field.pressure_ratio[:, None] * base[None, :] * bounce)

    def gravity_head_Pa(self, gap: GapFigures) -> FloatArray:
        """Head of the fluid in the gap itself, ρ g L on a standing board, in the shape of the gap."""
        head = np.asarray(gap.density_kg_m3 * gap.flow_length_m * STANDARD_GRAVITY_m_s2)
        return head if self.boards_stand else np.zeros_like(head)

    def peak_pressure_Pa(self, gap: GapFigures, chosen: slice) -> FloatArray:
        """Greatest pressure across a gap that the place that counts ever sees, in the shape of the gap."""
        base = np.square(self.conversion[chosen]) * self.nozzle_pressure_Pa[chosen]
        wetted = 1.0 if self.field.peak_ratio > 0 else 0.0
        return np.asarray(base * self.field.peak_ratio + wetted * self.gravity_head_Pa(gap))

    def _across_Pa(self, gap: GapFigures, chosen: slice) -> FloatArray:
        """Pressure of each class and the head in each gap together, shape (classes, *shape of the gap)."""
        head, pressures = self.gravity_head_Pa(gap), self.pressures_Pa(chosen)
        between = (1,) * (head.ndim - 1)
        return np.asarray(pressures.reshape(pressures.shape[0], *between, pressures.shape[1]) + head)

    def mean_pressure_Pa(self, gap: GapFigures, chosen: slice) -> FloatArray:
        """Time-mean pressure across a gap at the place that counts, in the shape of the gap."""
        (duty,) = self.with_middle_film().field.duty_share
        return self._at_worst_place(duty, self._across_Pa(gap, chosen))

    def with_middle_film(self) -> SprayDrive:
        """Take the film run-out of the middle draw in all draws: near enough for a mean, and several times as quick."""
        middle_m = np.array([median(self.run_out_m)])
        weights = self.field.node_weights(middle_m)[:, 0]
        duty = sum(np.float32(weights[node]) * self.field.duty_share[node] for node in np.flatnonzero(weights))
        return changed(self, field=changed(self.field, run_out_nodes_m=middle_m, duty_share=(np.asarray(duty),)))

    def speed_m_s(self, gap: GapFigures, residue: ResidueFigures, open_share: FloatArray,
                  chosen: slice) -> FloatArray:  # fmt: skip
        """Front speed at the worst place but for the excluded share, in the shape of the gap.

        Notes
        -----
        Duties are interpolated between the two film run-outs that enclose a draw's own, cell by cell; the place that
        counts is looked for in what comes of it.
        """
        speeds = front_speed_m_s(self._across_Pa(gap, chosen) * open_share, gap, residue).astype(np.float32)
        # By run-out, so that the draws that lie between the same two nodes lie side by side.
        by_run_out = np.argsort(self.run_out_m[chosen])
        weights = self.field.node_weights(self.run_out_m[chosen][by_run_out]).astype(np.float32)
        acting, place = speeds[..., by_run_out], np.full(speeds.shape[1:], np.nan)
        nodes, lower_node = range(weights.shape[0]), np.argmax(weights > 0.0, axis=0)
        ends = np.searchsorted(lower_node, [*nodes, weights.shape[0]])
        for lower, start, end in zip(nodes, ends[:-1], ends[1:], strict=True):
            if end > start:
                # What acts on a draw between two nodes is what acts at the one and at the other, each for its share.
                both = [node for node in (lower, lower + 1) if node in nodes]
                shares = np.concatenate([acting[..., start:end] * weights[node, start:end] for node in both])
                duty = np.concatenate([self.field.duty_share[node] for node in both], axis=1)
                place[..., by_run_out[start:end]] = self._at_worst_place(duty, shares)
        return place

    def _at_worst_place(self, duty: SingleArray, acting: FloatArray) -> FloatArray:
        """Time mean, at the place that counts, of what each class does; its shape without that of the classes."""
        if duty.shape[1] == 0:
            return np.zeros(acting.shape[1:])
        mean = unchecked_mean_speed(duty, acting.reshape(acting.shape[0], -1).astype(np.float32))
        return worst_place_speed(mean, self.field.order_index).reshape(acting.shape[1:])


def node_weights(at: FloatArray, nodes: FloatArray) -> FloatArray:
    """Weights of linear interpolation, per node and draw; outside the nodes, each above the last, the end counts alone.

    >>> node_weights(np.array([0.25, 2.0]), np.array([0.0, 1.0]))
    array([[0.75, 0.  ],
           [0.25, 1.  ]])
    """
    # How far each draw has passed from a node to the next one; what is beyond an end stays at the end.
    passed = (at - nodes[:-1, None]) / (nodes[1:] - nodes[:-1])[:, None]
    reached = np.empty((nodes.size + 1, at.size))
    reached[0], reached[1:-1], reached[-1] = 1.0, np.minimum(np.maximum(passed, 0.0), 1.0), 0.0
    return np.asarray(reached[:-1] - reached[1:])


@dataclass(frozen=True, slots=True, kw_only=True)
class BathDrive:
    """A drive without spray, in the same form."""

    drive: Drive
    """Pressure, duty and cover over draws."""
    excluded_share: float
    """Share of the board that may be worse."""

    def peak_pressure_Pa(self, gap: GapFigures, chosen: slice) -> FloatArray:
        """Pressure across a gap, in the shape of the gap."""
        # Under the liquid level the head in the gap is balanced by the bath.
        return np.broadcast_to(self.drive.pressure_Pa[chosen], np.shape(gap.gap_m))

    def mean_pressure_Pa(self, gap: GapFigures, chosen: slice) -> FloatArray:
        """Time-mean pressure across a gap, in the shape of the gap."""
        mean = np.asarray(self.drive.pressure_Pa[chosen] * self.drive.duty_share[chosen])
        return np.broadcast_to(mean, np.shape(gap.gap_m))

    def with_middle_film(self) -> BathDrive:
        """Give this drive, which has no film."""
        return self

    def speed_m_s(self, gap: GapFigures, residue: ResidueFigures, open_share: FloatArray,
                  chosen: slice) -> FloatArray:  # fmt: skip
        """Front speed at the worst place, in the shape of the gap."""
        part = Drive(
            pressure_Pa=self.drive.pressure_Pa[chosen] * open_share, duty_share=self.drive.duty_share[chosen],
            covered_share=self.drive.covered_share[chosen],
        )  # fmt: skip
        return driven_front_speed_m_s(part, gap, residue, self.excluded_share)


@dataclass(frozen=True, slots=True, kw_only=True)
class KindClearing:
    """Clearing under one component kind."""

    kind: ComponentKind
    """The component kind."""
    gap: GapFigures
    """Gap and fluid."""
    gap_m: FloatArray
    """m, shape (draws,)"""
    depth_needed_m: FloatArray
    """m, flux path times the share that must be cleared, shape (draws,)"""
    entry_pressure_Pa: FloatArray
    """Pa, shape (draws,)"""
    peak_pressure_Pa: FloatArray
    """Pa, greatest pressure across the gap, shape (draws,)"""
    speed_m_s: FloatArray
    """m/s, time-mean front speed at the worst place, shape (draws,)"""
    soak_m_s05: FloatArray
    """m/s^½, soak coefficient, shape (draws,)"""
    needed_time_s: FloatArray
    """s, wash time needed, infinite where never, shape (draws,)"""


def reach_ratios(kinds_of_loads: Sequence[Sequence[KindClearing]], max_time_s: FloatArray) -> list[FloatArray]:
    """Depth cleared in the longest wash over the depth needed, of each load the least of its component kinds.

    Parameters
    ----------
    kinds_of_loads : sequence of sequence of KindClearing
        At least one kind for each load.
    max_time_s : ndarray (draws,)
        Longest wash, s.

    Returns
    -------
    list of ndarray (draws,)
        One for each load; infinite where no depth is needed.
    """
    if not kinds_of_loads:
        return []
    kinds = [kind for of_load in kinds_of_loads for kind in of_load]
    speed, soak, needed = (
        np.stack([getattr(kind, name) for kind in kinds]) for name in ("speed_m_s", "soak_m_s05", "depth_needed_m")
    )
    some = needed > 0.0
    ratio = np.where(some, cleared_depth_m(max_time_s, speed, soak) / np.where(some, needed, 1.0), np.inf)
    starts = np.cumsum([0, *(len(of_load) for of_load in kinds_of_loads)])[:-1]
    # Copies: a row of an array keeps the whole of it.
    return [least.copy() for least in np.minimum.reduceat(ratio, starts, axis=0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class WashOutcome:
    """Clearing of a whole board type: its hardest component kinds and the time they need."""

    kinds: tuple[KindClearing, ...]
    """Hardest kinds with all draws, the one that needs longest (at the middle draw) first."""
    screening_minutes: tuple[tuple[str, float], ...]
    """Every kind's id and middle wash time in minutes from the screening draws."""
    needed_time_s: FloatArray
    """s, the longest over the kinds, shape (draws,)"""
