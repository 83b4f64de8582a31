"""How far under a component the residue is gone after a given time, and how long the wash must last.

The residue recedes from the open edge as a front. Mass balance at the front, per width: the gap holds ρ_gap·h
of residue for each metre of path (`residue_loading_kg_m3`), the fluid passing along the front face of height
h takes away k_eff·C_s·h each second, so v_f = k_eff·C_s/ρ_gap. A residue that fills the gap gives ρ_gap = ρ_r
and the plain front law v_f = k_eff·C_s/ρ_r; in a gap taller than the residue is thick, the same residue fills
only the share δ_r/h.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor

import numpy as np
from numpy.typing import NDArray

from model.fluids import Values, require_above_zero, require_not_negative
from model.gap import GapFigures, gap_exchange_m_s
from model.immersion import Drive
from model.input_errors import UnphysicalInputError

ONE_THREAD_PRODUCTS = 200_000
"""Multiplications in one matrix product below which linear-algebra libraries stay on one thread."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ResidueFigures:
    """One residue in one fluid at one temperature; floats or arrays over draws; parts of a `ResidueState`."""

    capacity_kg_m3: Values
    """kg/m³, residue that the fluid takes up at most, from `capacity_kg_m3`; 0 = does not dissolve it"""
    residue_density_kg_m3: Values
    """kg/m³, above 0"""
    residue_thickness_m: Values
    """m, residue volume per footprint area of the part, above 0; more than the gap height (say 1 m) = fills the gap"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ResidueState(ResidueFigures):
    """Figures of a residue that were checked, once, here."""

    def __post_init__(self) -> None:
        """Raise ValueError for a value without physical meaning."""
        require_not_negative("capacity", self.capacity_kg_m3, "kg/m³")
        require_above_zero("residue density", self.residue_density_kg_m3, "kg/m³")
        require_above_zero("residue thickness", self.residue_thickness_m, "m")


def hardening_factor(
    *,
    peak_reflow_K: Values,
    reference_peak_K: Values,
    wait_h: Values,
    wait_scale_h: Values,
    sensitivity_per_K: Values,
    wait_exponent: Values,
) -> Values:
    """Share of its capacity that a fluid keeps for a residue reflowed hotter or left longer than the reference.

    Parameters: peak reflow temperature (K), the peak at which the reference capacity holds (K), wait between
    reflow and wash (h, reference 0), time scale of the wait (h), loss per kelvin (1/K), exponent of the wait
    (-).
    Returns: factor (-), 1 at the reference peak without wait; above 1 for a cooler peak.
    Errors: ValueError for a negative wait, sensitivity or exponent, or a time scale not above 0.

    Notes: exp(−a (T − T_ref))·(1 + t/t_scale)^(−b). That hotter reflow and longer wait make residue harder to
    remove is common practice, no source; the form and its sizes are engineering estimates.
    """
    require_above_zero("peak reflow temperature", peak_reflow_K, "K")
    require_not_negative("wait", wait_h, "h")
    require_above_zero("wait time scale", wait_scale_h, "h")
    require_not_negative("hardening per kelvin", sensitivity_per_K, "1/K")
    require_not_negative("wait exponent", wait_exponent, "")
    wait_term = wait_exponent * np.log1p(np.asarray(wait_h) / wait_scale_h)
    exponent = np.asarray(sensitivity_per_K) * (np.asarray(peak_reflow_K) - reference_peak_K)
    factor: NDArray[np.float64] = np.exp(-exponent - wait_term)
    return factor


def capacity_kg_m3(
    reference_capacity_kg_m3: Values,
    sensitivity_per_K: Values,
    temperature_K: Values,
    reference_temperature_K: Values,
    hardening: Values,
) -> Values:
    """How much residue a cubic metre of wash fluid takes up, at temperature and for the hardened residue.

    Parameters: capacity at the reference temperature (kg/m³, 0 where the fluid does not dissolve that
    residue), rise per kelvin (1/K), wash and reference temperature (K), `hardening_factor` (-).
    Returns: C_s (kg/m³). Errors: ValueError for a negative capacity, sensitivity or hardening factor, or a
    temperature not above 0 K.

    Notes: C_s = C_ref·exp(s (T − T_ref))·f. Stands for dissolving, saponifying and emulsifying together; the
    exponential is an engineering estimate for the range between room and wash temperature, not for
    extrapolation.
    """
    require_not_negative("reference capacity", reference_capacity_kg_m3, "kg/m³")
    require_not_negative("temperature sensitivity", sensitivity_per_K, "1/K")
    require_above_zero("temperature", temperature_K, "K")
    require_not_negative("hardening factor", hardening, "")
    return (
        reference_capacity_kg_m3
        * np.exp(sensitivity_per_K * (temperature_K - reference_temperature_K))
        * hardening
    )


def residue_loading_kg_m3(
    residue_density_kg_m3: Values, residue_thickness_m: Values, gap_m: Values
) -> Values:
    """Residue mass per volume of the gap it sits in: ρ_r·min(1, δ_r/h).

    Parameters: residue density (kg/m³), residue volume per footprint area δ_r (m), gap height h (m).
    Returns: loading (kg/m³). Errors: ValueError for a value not above 0.

    Notes: volume balance. A residue thicker than the gap fills it (what does not fit is squeezed out); a
    thinner one fills the share δ_r/h of the gap volume, whether as bridges between the walls or as a coat.
    How it is spread over the footprint is neglected: open channels would let fresh fluid in early, so the
    slow side is taken.
    """
    require_above_zero("residue density", residue_density_kg_m3, "kg/m³")
    require_above_zero("residue thickness", residue_thickness_m, "m")
    require_above_zero("gap height", gap_m, "m")
    return _loading_kg_m3(residue_density_kg_m3, residue_thickness_m, gap_m)


def _loading_kg_m3(residue_density_kg_m3: Values, residue_thickness_m: Values, gap_m: Values) -> Values:
    return residue_density_kg_m3 * np.minimum(1.0, residue_thickness_m / np.asarray(gap_m))


def fluid_enters(pressure_Pa: Values, entry_pressure_Pa: Values) -> NDArray[np.bool_]:
    """Whether fluid gets into the gap: always if it is drawn in (entry pressure 0), else only above that pressure.

    Parameters: drive pressure and entry pressure (Pa), broadcasting. Returns: booleans of the broadcast
    shape.
    """
    entry = np.asarray(entry_pressure_Pa)
    enters: NDArray[np.bool_] = (entry <= 0.0) | (np.asarray(pressure_Pa) > entry)
    return enters


def front_speed_m_s(
    pressure_Pa: Values, gap: GapFigures, residue: ResidueFigures, active_walls: int = 1
) -> NDArray[np.float64]:
    """Speed at which the residue front recedes while a drive pressure acts; 0 unless the fluid enters the gap.

    Parameters: drive pressure (Pa; float, (draws,), (bins, 1) or (bins, draws)), gap, residue, number of
    dissolving walls for the mass transfer (1: the front face, the slow case; 2).
    Returns: front speed (m/s), broadcast shape. Errors: ValueError for a negative pressure or wrong wall
    count.

    Notes: v_f = k_eff·C_s/ρ_gap. The fluid runs along the front face in a strip about one gap height wide,
    over the flow length: exchange k·h·L against the strip's flow ū·h·h gives the carrying exponent kL/Q' of
    one active wall. Grows like p^⅓ in the entry range and like p where the fluid leaves saturated. Never
    falls when pressure, gap height or capacity rises, or flow length, residue thickness or viscosity falls.
    Once the entry pressure is exceeded the whole pressure drives the flow. Swelling, softening and mechanical
    tearing of residue are neglected.
    """
    exchange_m_s = gap_exchange_m_s(pressure_Pa, gap, active_walls)
    # Gap and residue were checked when they were made.
    loading_kg_m3 = _loading_kg_m3(residue.residue_density_kg_m3, residue.residue_thickness_m, gap.gap_m)
    speed_m_s = exchange_m_s * (residue.capacity_kg_m3 / loading_kg_m3)
    return np.where(fluid_enters(pressure_Pa, gap.entry_pressure_Pa), speed_m_s, 0.0)


def driven_front_speed_m_s(
    drive: Drive, gap: GapFigures, residue: ResidueFigures, excluded_share: float
) -> NDArray[np.float64]:
    """Time-mean front speed at the worst place but for an excluded share, for a machine without spray.

    Parameters: drive, gap, residue, share of the board that may be worse (0 to below 1). Returns: (draws,)
    m/s, 0 where the drive reaches less than the rest of the board. Errors: ValueError for an excluded share
    outside 0 to 1.

    Notes: v̄ = duty × v_f(p) where the drive covers at least 1 − excluded share of the board, else 0.
    """
    _check_excluded_share(excluded_share)
    reaches = drive.covered_share >= 1.0 - excluded_share
    speed_m_s = drive.duty_share * front_speed_m_s(drive.pressure_Pa, gap, residue)
    return np.where(reaches, speed_m_s, 0.0)


def soak_coefficient_m_s05(
    gap: GapFigures, residue: ResidueFigures, peak_pressure_Pa: Values
) -> NDArray[np.float64]:
    """Coefficient a of the static soak depth a√t, for fluid standing in the gap.

    Parameters: gap, residue, the greatest drive pressure of the wash (Pa), which decides whether fluid gets
    in at all.
    Returns: a (m/s^½), 0 where it does not. Errors: ValueError for a negative pressure.

    Notes: a = √(2 D C_s/ρ_gap): steady diffusion through the cleared depth (Stefan), bath kept clean at the
    edge.
    """
    require_not_negative("peak pressure", peak_pressure_Pa, "Pa")
    loading_kg_m3 = _loading_kg_m3(residue.residue_density_kg_m3, residue.residue_thickness_m, gap.gap_m)
    coefficient = np.sqrt(2.0 * gap.diffusivity_m2_s * residue.capacity_kg_m3 / loading_kg_m3)
    return np.where(fluid_enters(peak_pressure_Pa, gap.entry_pressure_Pa), coefficient, 0.0)


def soak_depth_m(time_s: Values, soak_coefficient: Values) -> Values:
    """Depth cleared by standing fluid alone: a√t (m), from time (s) and `soak_coefficient_m_s05`.

    Errors: ValueError for a negative time or coefficient.

    >>> round(float(soak_depth_m(100.0, 8e-6)), 9)
    8e-05
    """
    require_not_negative("time", time_s, "s")
    require_not_negative("soak coefficient", soak_coefficient, "m/s^½")
    return soak_coefficient * np.sqrt(time_s)


def mean_front_speed(
    duty_share: NDArray[np.floating], front_speed: NDArray[np.floating]
) -> NDArray[np.floating]:
    """Time-mean front speed of every cell: Σ over pressure bins of duty share times front speed.

    Parameters: duty shares (cells, bins), each row adding up to at most 1; front speeds (bins, draws) in m/s; both of
    one precision.
    Returns: mean speeds (cells, draws) in m/s, of that precision; the cells of each draw lie together in memory.
    Errors: ValueError for other shapes, a negative share, or a row adding up to more than 1.
    """
    if duty_share.ndim != 2 or front_speed.ndim != 2 or duty_share.shape[1] != front_speed.shape[0]:
        raise ValueError(
            f"duty must be (cells, bins) and speed (bins, draws); got {duty_share.shape} and {front_speed.shape}."
        )
    check_duty(duty_share)
    return unchecked_mean_speed(duty_share, front_speed)


def check_duty(duty_share: NDArray[np.floating]) -> None:
    """Raise ValueError for a negative share, or shares of a cell, shape (cells, bins), that add up to more than 1."""
    require_not_negative("duty share", float(duty_share.min(initial=0.0)), "")
    # Single precision rounds a sum of 1 by up to a millionth.
    if not np.all(duty_share.sum(axis=1) <= 1.0 + 1e-6):
        raise UnphysicalInputError(
            f"duty shares of a cell add up to {duty_share.sum(axis=1).max()}; at most 1 is possible."
        )


def unchecked_mean_speed(
    duty_share: NDArray[np.floating], front_speed: NDArray[np.floating]
) -> NDArray[np.floating]:
    """Give `mean_front_speed` for duties that `check_duty` has seen; for loops over draws."""
    # Column blocks are kept so small that the linear-algebra library stays on one thread: it shares skinny products
    # out at a loss, and the last digit must not depend on how many threads it has.
    step = max(1, ONE_THREAD_PRODUCTS // max(1, duty_share.size))
    mean = np.empty((front_speed.shape[1], duty_share.shape[0]), dtype=front_speed.dtype)
    for start in range(0, front_speed.shape[1], step):
        mean[start : start + step] = front_speed[:, start : start + step].T @ duty_share.T
    return mean.T


def _check_excluded_share(excluded_share: float) -> None:
    if not 0.0 <= excluded_share < 1.0:
        raise UnphysicalInputError(f"excluded share must be at least 0 and below 1; got {excluded_share}.")


def worst_place_index(cell_count: int, excluded_share: float) -> int:
    """Rank, slowest first, of the cell that is worst but for an excluded share of the cells.

    Parameters: number of cells (at least 1), share that may be worse (0 to below 1). Returns: index from 0.
    Errors: ValueError for no cells or a share outside that range.

    Notes: Index = floor(excluded share × cells), counted from the slowest.

    >>> worst_place_index(200, 0.02)
    4
    """
    _check_excluded_share(excluded_share)
    if cell_count < 1:
        raise UnphysicalInputError(f"cell count must be at least 1; got {cell_count}.")
    # 0.29 * 100 is 28.999…: the nudge keeps whole numbers whole.
    return min(cell_count - 1, floor(excluded_share * cell_count + 1e-9))


def worst_place_speed(speed: NDArray[np.floating], index: int) -> NDArray[np.float64]:
    """Front speed of the index-slowest cell, draw by draw.

    Parameters: mean speeds (cells, draws) in m/s, index from `worst_place_index`. Returns: (draws,) in m/s.
    Errors: ValueError for another shape or an index outside the cells.
    """
    if speed.ndim != 2 or not 0 <= index < speed.shape[0]:
        raise ValueError(
            f"speed must be (cells, draws) and index one of its cells; got {speed.shape} and {index}."
        )
    # Partitioning is quickest where the cells of a draw lie together, as `mean_front_speed` leaves them.
    place: NDArray[np.float64] = np.partition(np.ascontiguousarray(speed.T), index, axis=1)[:, index].astype(np.float64)
    return place


def cleared_depth_m(time_s: Values, mean_speed_m_s: Values, soak_coefficient: Values) -> Values:
    """Depth cleared from the open edge after a wash time: v t + a√t.

    Parameters: time (s), time-mean front speed (m/s), soak coefficient (m/s^½). Returns: depth (m), not
    capped at the flux path: the surplus is the margin. Errors: ValueError for a negative value.

    Notes: driven and soaked depth are added, as in a wash that alternates between both.
    """
    require_not_negative("mean front speed", mean_speed_m_s, "m/s")
    return mean_speed_m_s * time_s + soak_depth_m(time_s, soak_coefficient)


def needed_time_s(depth_m: Values, mean_speed_m_s: Values, soak_coefficient: Values) -> NDArray[np.float64]:
    """Wash time until a depth is cleared: the closed-form root of v t + a√t = x.

    Parameters: flux path x (m), time-mean front speed v (m/s), soak coefficient a (m/s^½). Returns: time (s),
    infinite when neither v nor a is above 0, 0 for a depth of 0. Errors: ValueError for a negative value.

    Notes: √t = 2x/(a + √(a² + 4vx)), the form without cancellation.

    >>> round(float(needed_time_s(2.5e-3, 5e-6, 0.0)), 6)
    500.0
    """
    require_not_negative("depth", depth_m, "m")
    require_not_negative("mean front speed", mean_speed_m_s, "m/s")
    require_not_negative("soak coefficient", soak_coefficient, "m/s^½")
    depth = np.asarray(depth_m, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        divisor = soak_coefficient + np.sqrt(np.square(soak_coefficient) + 4.0 * mean_speed_m_s * depth)
        time_s = np.square(2.0 * depth / divisor)
    return np.where(depth == 0.0, 0.0, time_s)
