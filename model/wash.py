"""Clearing under the components of one board type, in one machine with one fluid.

Two things press fluid through a gap under spray in air: the stream (κ² times its dynamic pressure, spread over its
footprint) and, on a board that stands, gravity: as long as a part is wetted from above, the fluid in its gap falls
through under its own head ρ g L. Both act only for the share of time in which a stream wets the place; water that
keeps running down after the stream has passed is left out, which is the slow side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalog_schema.boards import BoardType, ComponentKind, FluxKind
from catalog_schema.case import Library
from model.clearing import (
    ResidueState,
    cleared_depth_m,
    driven_front_speed_m_s,
    front_speed_m_s,
    mean_front_speed,
    needed_time_s,
    soak_coefficient_m_s05,
    worst_place_speed,
)
from model.fluid_state import FluidState, residue_state
from model.gap import GapState, entry_pressure_Pa
from model.immersion import Drive, STANDARD_GRAVITY_m_s2
from model.machine_inputs import constant_reader
from model.spray_drive import SprayGeometry
from model.spray_field import DutyMap, ExposureTrace, duty_maps, worst_cells
from model.uncertainty import FloatArray, InputBook, median

Chosen = slice | NDArray[np.intp]
"""Which draws: a slice of them, or their indices, in which a draw may stand several times."""

SCREENING_DRAWS = 24
"""Draws used to find which component kinds need longest, before those few get all draws."""

MOST_DETAILED_KINDS = 4
"""Component kinds computed with all draws at most: those that were the slowest in any draw of the screening."""


FieldKey = tuple[SprayGeometry, int, bytes, float, float]
"""All that a spray field depends on, rays and seed aside: geometry, sides, run-outs, restitution, dropped share."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SprayField:
    """A board type's share of a trace: the few worst cells, for several film run-outs."""

    run_out_nodes_m: FloatArray
    """m, run-outs at which the duty is known, rising, shape (nodes,)"""
    duty_share: tuple[FloatArray, ...]
    """Per node, time share per cell kept and class, slow cells first, shape (cells kept, classes)"""
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


def spray_field(trace: ExposureTrace, board: BoardType, run_outs_m: FloatArray, restitution: float,
                drop_share: float) -> SprayField:  # fmt: skip
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

    Returns
    -------
    SprayField
    """
    maps = duty_maps(trace, [float(run_out) for run_out in run_outs_m], restitution, board.populated_sides)
    picked = [worst_cells(duty, drop_share, entry_ratios=(0.0, 1e-3)) for duty in maps]
    cells = np.unique(np.concatenate([pick.cell_index for pick in picked]))
    return SprayField(
        run_out_nodes_m=run_outs_m, duty_share=tuple(_slow_first(duty, cells) for duty in maps),
        pressure_ratio=maps[0].pressure_ratio, bounce_order=maps[0].bounce_order.astype(np.float64),
        peak_ratio=_peak_ratio(maps[-1], picked[0].order_index), order_index=picked[0].order_index,
        restitution=restitution,
    )  # fmt: skip


def _slow_first(duty: DutyMap, cells: NDArray[np.int64]) -> FloatArray:
    """Duty of some cells, those that probably clear slowly first, which `worst_place_speed` makes use of."""
    share = duty.duty_share[cells]
    return np.asarray(share[np.argsort(share @ np.cbrt(duty.pressure_ratio), kind="stable")])


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
    """Spray acting on a board type with one fluid, over draws."""

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

    def pressures_Pa(self, chosen: Chosen) -> FloatArray:
        """Pressure across a gap per class and draw, shape (classes, chosen draws)."""
        base = np.square(self.conversion[chosen]) * self.nozzle_pressure_Pa[chosen]
        bounce = (self.restitution[chosen] / self.field.restitution)[None, :] ** (
            2.0 * self.field.bounce_order[:, None]
        )
        return np.asarray(self.field.pressure_ratio[:, None] * base[None, :] * bounce)

    def gravity_head_Pa(self, gap: GapState) -> FloatArray:
        """Head of the fluid in the gap itself, ρ g L on a standing board, shape (chosen draws,)."""
        head = np.asarray(gap.density_kg_m3 * gap.flow_length_m * STANDARD_GRAVITY_m_s2)
        return head if self.boards_stand else np.zeros_like(head)

    def peak_pressure_Pa(self, gap: GapState, chosen: Chosen) -> FloatArray:
        """Greatest pressure across a gap that the place that counts ever sees, shape (chosen draws,)."""
        base = np.square(self.conversion[chosen]) * self.nozzle_pressure_Pa[chosen]
        wetted = 1.0 if self.field.peak_ratio > 0 else 0.0
        return np.asarray(base * self.field.peak_ratio + wetted * self.gravity_head_Pa(gap))

    def mean_pressure_Pa(self, gap: GapState, chosen: Chosen) -> FloatArray:
        """Time-mean pressure across a gap at the place that counts, shape (chosen draws,)."""
        node = self.field.run_out_nodes_m.size // 2
        duty = self.field.duty_share[node]
        if duty.shape[1] == 0:
            return np.zeros(self.nozzle_pressure_Pa[chosen].size)
        mean = mean_front_speed(duty, self.pressures_Pa(chosen) + self.gravity_head_Pa(gap))
        return worst_place_speed(mean, self.field.order_index)

    def speed_m_s(self, gap: GapState, residue: ResidueState, open_share: FloatArray, chosen: Chosen) -> FloatArray:
        """Front speed at the worst place but for the excluded share, shape (chosen draws,)."""
        run_out = self.run_out_m[chosen]
        total = np.zeros(run_out.size)
        if self.field.pressure_ratio.size == 0:
            return total
        speeds = front_speed_m_s((self.pressures_Pa(chosen) + self.gravity_head_Pa(gap)) * open_share, gap, residue)
        for duty, weight in zip(self.field.duty_share, node_weights(run_out, self.field.run_out_nodes_m), strict=True):
            # A draw lies between two nodes: only those two are worked out for it.
            concerned = np.flatnonzero(weight)
            if concerned.size:
                mean = mean_front_speed(duty, speeds[:, concerned])
                total[concerned] += weight[concerned] * worst_place_speed(mean, self.field.order_index)
        return total


def node_weights(at: FloatArray, nodes: FloatArray) -> FloatArray:
    """Weights of linear interpolation, per node and draw; outside the nodes the end node counts alone.

    >>> node_weights(np.array([0.25, 2.0]), np.array([0.0, 1.0]))
    array([[0.75, 0.  ],
           [0.25, 1.  ]])
    """
    weights = np.zeros((nodes.size, at.size))
    if nodes.size == 1:
        weights[0] = 1.0
        return weights
    place = np.clip(np.searchsorted(nodes, at) - 1, 0, nodes.size - 2)
    width = nodes[place + 1] - nodes[place]
    share = np.clip((at - nodes[place]) / np.where(width > 0, width, 1.0), 0.0, 1.0)
    columns = np.arange(at.size)
    weights[place, columns] = 1.0 - share
    weights[place + 1, columns] = share
    return weights


@dataclass(frozen=True, slots=True, kw_only=True)
class BathDrive:
    """A drive without spray, in the same form."""

    drive: Drive
    """Pressure, duty and cover over draws."""
    excluded_share: float
    """Share of the board that may be worse."""

    def peak_pressure_Pa(self, gap: GapState, chosen: Chosen) -> FloatArray:
        """Pressure across a gap, shape (chosen draws,)."""
        del gap  # under the liquid level the head in the gap is balanced by the bath
        return self.drive.pressure_Pa[chosen]

    def mean_pressure_Pa(self, gap: GapState, chosen: Chosen) -> FloatArray:
        """Time-mean pressure across a gap, shape (chosen draws,)."""
        del gap
        return np.asarray(self.drive.pressure_Pa[chosen] * self.drive.duty_share[chosen])

    def speed_m_s(self, gap: GapState, residue: ResidueState, open_share: FloatArray, chosen: Chosen) -> FloatArray:
        """Front speed at the worst place, shape (chosen draws,)."""
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
    gap: GapState
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


def reach_ratio(kind: KindClearing, max_time_s: FloatArray) -> FloatArray:
    """Depth cleared in the longest wash over the depth needed, shape (draws,); infinite where none is needed."""
    cleared = np.asarray(cleared_depth_m(max_time_s, kind.speed_m_s, kind.soak_m_s05))
    needed = kind.depth_needed_m
    return np.where(needed > 0.0, cleared / np.where(needed > 0.0, needed, 1.0), np.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class WashOutcome:
    """Clearing of a whole board type: its hardest component kinds and the time they need."""

    kinds: tuple[KindClearing, ...]
    """Hardest kinds with all draws, the one that needs longest (at the middle draw) first."""
    screening_minutes: tuple[tuple[str, float], ...]
    """Every kind's id and middle wash time in minutes from the screening draws."""
    needed_time_s: FloatArray
    """s, the longest over the kinds, shape (draws,)"""


@dataclass(frozen=True, slots=True, kw_only=True)
class _KindDraws:
    """What the draws say about one component kind on one board type, all draws."""

    kind: ComponentKind
    gap_m: FloatArray
    length_m: FloatArray
    open_edge_share: FloatArray
    depth_needed_m: FloatArray


def _kind_draws(kind: ComponentKind, board: BoardType, book: InputBook) -> _KindDraws:
    def take(field: str) -> FloatArray:
        return book.take(getattr(kind, field), f"component_kinds[{kind.id}].{field}", "engineering estimate")

    gap_m, length_m, open_share, path = (take(name) for name in ("gap", "body_length", "open_edge_share", "flux_path"))
    share = book.take(board.cleared_share_needed, f"board_types[{board.id}].cleared_share_needed", "measured")
    return _KindDraws(
        kind=kind, gap_m=gap_m, length_m=length_m, open_edge_share=open_share, depth_needed_m=path * share
    )


def _gap_state(gap_m: FloatArray, length_m: FloatArray, state: FluidState, end_loss: FloatArray,
               entry_Pa: FloatArray, chosen: Chosen | None = None) -> GapState:  # fmt: skip
    """Bring gaps and the fluid in them together, for the chosen draws; the arrays themselves where all are.

    A slice of all would be another array, which a worker could no longer name and would send for every board type.
    """

    def of(values: FloatArray) -> FloatArray:
        return values if chosen is None else values[chosen]

    return GapState(
        gap_m=gap_m, flow_length_m=length_m, viscosity_Pa_s=of(state.viscosity_Pa_s),
        density_kg_m3=of(state.density_kg_m3), diffusivity_m2_s=of(state.diffusivity_m2_s),
        entry_pressure_Pa=entry_Pa, end_loss_coefficient=of(end_loss),
    )  # fmt: skip


def _part(residue: ResidueState, chosen: Chosen) -> ResidueState:
    return ResidueState(
        capacity_kg_m3=np.asarray(residue.capacity_kg_m3)[chosen],
        residue_density_kg_m3=np.asarray(residue.residue_density_kg_m3)[chosen],
        residue_thickness_m=np.asarray(residue.residue_thickness_m)[chosen],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cleared:
    """Clearing under several kinds, each array of shape (kinds, draws)."""

    entry_pressure_Pa: FloatArray
    peak_pressure_Pa: FloatArray
    speed_m_s: FloatArray
    soak_m_s05: FloatArray
    needed_time_s: FloatArray


def _clear_kinds(kinds: list[_KindDraws], drive: SprayDrive | BathDrive, state: FluidState, residue: ResidueState,
                 end_loss: FloatArray, draws: int) -> _Cleared:  # fmt: skip
    """Clear under several kinds at once with the first draws: kinds lie behind one another along the draws."""
    chosen = np.tile(np.arange(draws), len(kinds))

    def behind_one_another(name: str) -> FloatArray:
        return np.concatenate([getattr(kind, name)[:draws] for kind in kinds])

    gap_m = behind_one_another("gap_m")
    entry = entry_pressure_Pa(
        state.surface_tension_N_m[chosen], state.contact_angle_component_rad[chosen],
        state.contact_angle_board_rad[chosen], gap_m,
    )  # fmt: skip
    gap = _gap_state(gap_m, behind_one_another("length_m"), state, end_loss, np.asarray(entry), chosen)
    part = _part(residue, chosen)
    # Leads, balls or solder close part of the edge: that share less flows in for the same pressure.
    speed = drive.speed_m_s(gap, part, behind_one_another("open_edge_share"), chosen)
    peak = drive.peak_pressure_Pa(gap, chosen)
    soak = soak_coefficient_m_s05(gap, part, peak)
    needed = needed_time_s(behind_one_another("depth_needed_m"), speed, soak)
    shape = len(kinds), draws
    return _Cleared(
        entry_pressure_Pa=np.reshape(gap.entry_pressure_Pa, shape), peak_pressure_Pa=peak.reshape(shape),
        speed_m_s=speed.reshape(shape), soak_m_s05=soak.reshape(shape), needed_time_s=needed.reshape(shape),
    )  # fmt: skip


def wash_outcome(board: BoardType, flux: FluxKind, drive: SprayDrive | BathDrive, state: FluidState,
                 library: Library, book: InputBook) -> WashOutcome:  # fmt: skip
    """Compute the wash time a board type needs under this drive with this fluid.

    Parameters
    ----------
    board, flux : records
    drive : SprayDrive or BathDrive
    state : FluidState
    library : Library
        Component kinds and constants.
    book : InputBook

    Returns
    -------
    WashOutcome

    Notes
    -----
    All kinds are screened on the first draws (a random sample, since columns are permuted independently); the kinds
    that need longest there are computed with all draws, and the longest per draw counts.
    """
    constant = constant_reader(library, book)
    end_loss = constant("gap_end_loss")
    residue = residue_state(state, flux, board, constant("hardening_time_scale"), book)
    kinds = {kind.id: kind for kind in library.component_kinds}
    present = [_kind_draws(kinds[component.kind], board, book) for component in board.components]
    draws = state.temperature_K.size
    few = min(SCREENING_DRAWS, draws)
    times_s = _clear_kinds(present, drive, state, residue, end_loss, few).needed_time_s
    screened = [median(times) for times in times_s]
    # Where nothing is ever cleared the longest path is the hardest.
    paths = [median(kind.depth_needed_m[:few]) for kind in present]
    order = sorted(range(len(present)), key=lambda i: (screened[i], paths[i]))[::-1]
    # A kind that is quick in the middle can still be the slowest in single draws.
    least = float(np.min(times_s[order[0]]))
    hardest = [present[i] for i in order if float(np.max(times_s[i])) >= least][:MOST_DETAILED_KINDS]
    found = _clear_kinds(hardest, drive, state, residue, end_loss, draws)
    detailed = []
    for row, kind in sorted(enumerate(hardest), key=lambda one: median(found.needed_time_s[one[0]]), reverse=True):
        entry = found.entry_pressure_Pa[row]
        detailed.append(
            KindClearing(
                kind=kind.kind, gap=_gap_state(kind.gap_m, kind.length_m, state, end_loss, entry), gap_m=kind.gap_m,
                depth_needed_m=kind.depth_needed_m, entry_pressure_Pa=entry,
                peak_pressure_Pa=found.peak_pressure_Pa[row], speed_m_s=found.speed_m_s[row],
                soak_m_s05=found.soak_m_s05[row], needed_time_s=found.needed_time_s[row],
            )
        )  # fmt: skip
    return WashOutcome(
        kinds=tuple(detailed),
        screening_minutes=tuple((present[i].kind.id, screened[i] / 60.0) for i in order),
        needed_time_s=found.needed_time_s.max(axis=0),
    )
