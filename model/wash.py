"""Clearing under the components of one board type, in one machine with one fluid.

Two things press fluid through a gap under spray in air: the stream (κ² times its dynamic pressure, spread over its
footprint) and, on a board that stands, gravity: as long as a part is wetted from above, the fluid in its gap falls
through under its own head ρ g L. Both act only for the share of time in which a stream wets the place; water that
keeps running down after the stream has passed is left out, which is the slow side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType, ComponentKind, FluxKind
from catalog_schema.case import Library
from catalog_schema.machine import Machine
from model.clearing import (
    ResidueState,
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
from model.spray_field import DutyMap, ExposureTrace, duty_map, worst_cells
from model.uncertainty import FloatArray, InputBook

SCREENING_DRAWS = 24
"""Draws used to find which component kinds need longest, before those few get all draws."""

DETAILED_KINDS = 2
"""Component kinds computed with all draws; the others needed less time in the screening."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SprayField:
    """A board type's share of a trace: the few worst cells, for several film run-outs."""

    run_out_nodes_m: FloatArray
    """m, run-outs at which the duty is known, rising, shape (nodes,)"""
    duty_share: tuple[FloatArray, ...]
    """Per node, time share per cell kept and class, shape (cells kept, classes)"""
    pressure_ratio: tuple[FloatArray, ...]
    """Per node, pressure over nozzle pressure at the nominal restitution, shape (classes,)"""
    bounce_order: tuple[FloatArray, ...]
    """Per node, bounces before the hit, shape (classes,)"""
    peak_ratio: float
    """Greatest pressure over nozzle pressure at the cell that is worst but for the excluded share."""
    order_index: int
    """Which of the kept cells, from the worst, counts."""
    restitution: float
    """Nominal restitution of the pressure ratios."""


def side_cells(duty: DutyMap, populated_sides: int) -> DutyMap:
    """Keep the cells of the populated sides: both, or the upper (along the normal) one."""
    if populated_sides == 2:
        return duty
    boards, sides, nu, nv = duty.cell_shape
    kept = duty.duty_share.reshape(boards, sides, nu, nv, -1)[:, 1:].reshape(boards * nu * nv, -1)
    return DutyMap(
        duty_share=kept, pressure_ratio=duty.pressure_ratio, bounce_order=duty.bounce_order,
        cell_shape=(boards, 1, nu, nv),
    )  # fmt: skip


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
    maps = [side_cells(duty_map(trace, float(run_out), restitution), board.populated_sides) for run_out in run_outs_m]
    picked = [worst_cells(duty, drop_share, entry_ratios=(0.0, 1e-3)) for duty in maps]
    cells = np.unique(np.concatenate([pick.cell_index for pick in picked]))
    return SprayField(
        run_out_nodes_m=run_outs_m, duty_share=tuple(duty.duty_share[cells] for duty in maps),
        pressure_ratio=tuple(duty.pressure_ratio for duty in maps),
        bounce_order=tuple(duty.bounce_order.astype(np.float64) for duty in maps),
        peak_ratio=_peak_ratio(maps[-1], picked[0].order_index), order_index=picked[0].order_index,
        restitution=restitution,
    )  # fmt: skip


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

    def pressures_Pa(self, node: int, chosen: slice) -> FloatArray:
        """Pressure across a gap per class and draw, shape (classes, chosen draws)."""
        base = np.square(self.conversion[chosen]) * self.nozzle_pressure_Pa[chosen]
        bounce = (self.restitution[chosen] / self.field.restitution)[None, :] ** (
            2.0 * self.field.bounce_order[node][:, None]
        )
        return np.asarray(self.field.pressure_ratio[node][:, None] * base[None, :] * bounce)

    def gravity_head_Pa(self, gap: GapState) -> FloatArray:
        """Head of the fluid in the gap itself, ρ g L on a standing board, shape (chosen draws,)."""
        head = np.asarray(gap.density_kg_m3 * gap.flow_length_m * STANDARD_GRAVITY_m_s2)
        return head if self.boards_stand else np.zeros_like(head)

    def peak_pressure_Pa(self, gap: GapState, chosen: slice) -> FloatArray:
        """Greatest pressure across a gap that the place that counts ever sees, shape (chosen draws,)."""
        base = np.square(self.conversion[chosen]) * self.nozzle_pressure_Pa[chosen]
        wetted = 1.0 if self.field.peak_ratio > 0 else 0.0
        return np.asarray(base * self.field.peak_ratio + wetted * self.gravity_head_Pa(gap))

    def mean_pressure_Pa(self, gap: GapState, chosen: slice) -> FloatArray:
        """Time-mean pressure across a gap at the place that counts, shape (chosen draws,)."""
        node = self.field.run_out_nodes_m.size // 2
        duty = self.field.duty_share[node]
        if duty.shape[1] == 0:
            return np.zeros(self.nozzle_pressure_Pa[chosen].size)
        mean = mean_front_speed(duty, self.pressures_Pa(node, chosen) + self.gravity_head_Pa(gap))
        return worst_place_speed(mean, self.field.order_index)

    def speed_m_s(self, gap: GapState, residue: ResidueState, open_share: FloatArray, chosen: slice) -> FloatArray:
        """Front speed at the worst place but for the excluded share, shape (chosen draws,)."""
        at_nodes = np.empty((self.field.run_out_nodes_m.size, self.nozzle_pressure_Pa[chosen].size))
        head = self.gravity_head_Pa(gap)
        for node, duty in enumerate(self.field.duty_share):
            if duty.shape[1] == 0:
                at_nodes[node] = 0.0
                continue
            pressures = (self.pressures_Pa(node, chosen) + head) * open_share
            speeds = front_speed_m_s(pressures, gap, residue)
            at_nodes[node] = worst_place_speed(mean_front_speed(duty, speeds), self.field.order_index)
        return interpolate_columns(self.run_out_m[chosen], self.field.run_out_nodes_m, at_nodes)


def interpolate_columns(at: FloatArray, nodes: FloatArray, values: FloatArray) -> FloatArray:
    """Interpolate linearly, each draw in its own column of values; outside the nodes the end value holds.

    >>> interpolate_columns(np.array([0.5, 2.0]), np.array([0.0, 1.0]), np.array([[0.0, 0.0], [4.0, 6.0]]))
    array([2., 6.])
    """
    if nodes.size == 1:
        return np.asarray(values[0])
    place = np.clip(np.searchsorted(nodes, at) - 1, 0, nodes.size - 2)
    width = nodes[place + 1] - nodes[place]
    share = np.clip((at - nodes[place]) / np.where(width > 0, width, 1.0), 0.0, 1.0)
    columns = np.arange(at.size)
    return np.asarray(values[place, columns] * (1.0 - share) + values[place + 1, columns] * share)


@dataclass(frozen=True, slots=True, kw_only=True)
class BathDrive:
    """A drive without spray, in the same form."""

    drive: Drive
    """Pressure, duty and cover over draws."""
    excluded_share: float
    """Share of the board that may be worse."""

    def peak_pressure_Pa(self, gap: GapState, chosen: slice) -> FloatArray:
        """Pressure across a gap, shape (chosen draws,)."""
        del gap  # under the liquid level the head in the gap is balanced by the bath
        return self.drive.pressure_Pa[chosen]

    def mean_pressure_Pa(self, gap: GapState, chosen: slice) -> FloatArray:
        """Time-mean pressure across a gap, shape (chosen draws,)."""
        del gap
        return np.asarray(self.drive.pressure_Pa[chosen] * self.drive.duty_share[chosen])

    def speed_m_s(self, gap: GapState, residue: ResidueState, open_share: FloatArray, chosen: slice) -> FloatArray:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class WashOutcome:
    """Clearing of a whole board type: its hardest component kinds and the time they need."""

    kinds: tuple[KindClearing, ...]
    """Hardest kinds with all draws, the one that needs longest (at the middle draw) first."""
    screening_minutes: tuple[tuple[str, float], ...]
    """Every kind's id and middle wash time in minutes from the screening draws."""
    needed_time_s: FloatArray
    """s, the longest over the kinds, shape (draws,)"""


def gap_state(kind: ComponentKind, state: FluidState, end_loss: FloatArray, book: InputBook, chosen: slice) -> GapState:
    """Bring one component kind's gap and the fluid in it together."""

    def take(field: str) -> FloatArray:
        return book.take(getattr(kind, field), f"component_kinds[{kind.id}].{field}", "engineering estimate")[chosen]

    gap_m = take("gap")
    entry = entry_pressure_Pa(
        state.surface_tension_N_m[chosen], state.contact_angle_component_rad[chosen],
        state.contact_angle_board_rad[chosen], gap_m,
    )  # fmt: skip
    return GapState(
        gap_m=gap_m, flow_length_m=take("body_length"), viscosity_Pa_s=state.viscosity_Pa_s[chosen],
        density_kg_m3=state.density_kg_m3[chosen], diffusivity_m2_s=state.diffusivity_m2_s[chosen],
        entry_pressure_Pa=entry, end_loss_coefficient=end_loss[chosen],
    )  # fmt: skip


def _part(residue: ResidueState, chosen: slice) -> ResidueState:
    return ResidueState(
        capacity_kg_m3=np.asarray(residue.capacity_kg_m3)[chosen],
        residue_density_kg_m3=np.asarray(residue.residue_density_kg_m3)[chosen],
        residue_thickness_m=np.asarray(residue.residue_thickness_m)[chosen],
    )


def _clear_kind(kind: ComponentKind, board: BoardType, drive: SprayDrive | BathDrive, state: FluidState,
                residue: ResidueState, end_loss: FloatArray, book: InputBook,
                chosen: slice) -> KindClearing:  # fmt: skip
    gap = gap_state(kind, state, end_loss, book, chosen)
    # Leads, balls or solder close part of the edge: that share less flows in for the same pressure.
    open_share = book.take(kind.open_edge_share, f"component_kinds[{kind.id}].open_edge_share", "engineering estimate")
    speed = drive.speed_m_s(gap, _part(residue, chosen), open_share[chosen], chosen)
    peak = drive.peak_pressure_Pa(gap, chosen)
    soak = soak_coefficient_m_s05(gap, _part(residue, chosen), peak)
    path = book.take(kind.flux_path, f"component_kinds[{kind.id}].flux_path", "engineering estimate")[chosen]
    share = book.take(board.cleared_share_needed, f"board_types[{board.id}].cleared_share_needed", "measured")[chosen]
    depth = path * share
    return KindClearing(
        kind=kind, gap=gap, gap_m=np.asarray(gap.gap_m), depth_needed_m=depth,
        entry_pressure_Pa=np.asarray(gap.entry_pressure_Pa), peak_pressure_Pa=peak, speed_m_s=speed,
        soak_m_s05=soak, needed_time_s=needed_time_s(depth, speed, soak),
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
    present = [kinds[component.kind] for component in board.components]
    few = slice(0, min(SCREENING_DRAWS, state.temperature_K.size))
    screened = [_clear_kind(kind, board, drive, state, residue, end_loss, book, few) for kind in present]
    middles = [float(np.median(result.needed_time_s)) for result in screened]
    # Where nothing is ever cleared the longest path is the hardest.
    order = sorted(range(len(present)), key=lambda i: (middles[i], float(np.median(screened[i].depth_needed_m))))
    hardest = [present[i] for i in order[::-1][:DETAILED_KINDS]]
    everything = slice(None)
    detailed = [_clear_kind(kind, board, drive, state, residue, end_loss, book, everything) for kind in hardest]
    detailed.sort(key=lambda result: float(np.median(result.needed_time_s)), reverse=True)
    return WashOutcome(
        kinds=tuple(detailed),
        screening_minutes=tuple((present[i].id, middles[i] / 60.0) for i in order[::-1]),
        needed_time_s=np.max([result.needed_time_s for result in detailed], axis=0),
    )


def drive_is_spray(machine: Machine) -> bool:
    """Tell whether the machine drives its fluid by spray in air."""
    return machine.principle == "spray in air"
