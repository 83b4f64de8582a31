"""Rinsing: what the load carries over, how fast rinses thin it, what is left on the board and in its gaps.

Residue is counted as NaCl-equivalent mass (see `model.ionic`). Two waters are followed: the open water
(film on the board, hold-up of the rack) which mixes fully with each rinse, and the gap water under
components which exchanges only a share per rinse. `rinse_supply` holds the closed loop through ion-exchange
resin.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative, require_within
from model.input_errors import UnphysicalInputError
from model.ionic import resistivity_ohm_m
from model.laminate import sorbed_share


@dataclass(frozen=True, slots=True, kw_only=True)
class CarryOver:
    """The liquid that one load (or one board) drags from one step to the next."""

    open_m3: Values
    """Film on open faces plus rack hold-up; mixes fully with a rinse [m³]."""
    gap_m3: Values
    """Liquid under components; exchanges only in part [m³]."""
    area_m2: Values
    """Board area to which residue is referred, both faces [m²]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RinseResult:
    """Outcome of a rinse; every mass is NaCl-equivalent of one load, and in = out + left."""

    rinses: Values
    """Rinses or stages done [1]."""
    residue_in_kg: Values
    """Carried in by the load plus brought by the rinse water [kg]."""
    residue_out_kg: Values
    """Gone down the drain (or, inline, out of the first stage's overflow) [kg]."""
    residue_left_kg: Values
    """Still in open and gap water when the load leaves [kg]."""
    residue_left_kg_m2: Values
    """The same per board area; 1e-5 kg/m² is 1 µg/cm² [kg/m²]."""
    gap_residue_left_kg: Values
    """The part of it that sits under components [kg]."""
    last_rinse_resistivity_ohm_m: Values
    """Resistivity of the last rinse's water at 25 °C; what a probe in the drain shows [Ω·m]."""
    water_m3: Values
    """Rinse water taken in [m³]."""
    drain_m3: Values
    """Rinse water let out; equals the water taken in, since carry-over replaces carry-over [m³]."""


def carry_over(
    area_m2: Values, drag_out_m3_m2: Values, gap_volume_m3: Values, rack_hold_up_m3: Values
) -> CarryOver:
    """Carry-over of a load: drag-out per area × area, plus what the rack holds, plus the gap water.

    Parameters
    ----------
    area_m2 : m², wetted board area, both faces, float or array
    drag_out_m3_m2 : m³/m², film left after draining; 1.6e-5 well, 8e-5 poorly, 1.6e-4 very poorly drained
    gap_volume_m3 : m³ under all low components
    rack_hold_up_m3 : m³ that clings to rack, clips and conveyor. All broadcast.

    Returns
    -------
    `CarryOver`.

    Errors
    ------
    ValueError if the area is not above 0 or another input is negative.

    Notes
    -----
    The three drag-out figures are 0.4, 2 and 4 US gal per 1000 ft² of plating practice (Kushner), from memory.

    >>> load = carry_over(0.1, 80e-6, 1e-7, 2e-6)
    >>> round(load.open_m3 * 1e6, 3)  # mL
    10.0
    """
    area = require_above_zero("board area", area_m2, "m²")
    film = require_not_negative("drag-out per area", drag_out_m3_m2, "m³/m²") * area
    rack = require_not_negative("rack hold-up", rack_hold_up_m3, "m³")
    gap = require_not_negative("gap volume", gap_volume_m3, "m³")
    return CarryOver(open_m3=plain(np.asarray(film + rack)), gap_m3=plain(gap), area_m2=plain(area))


def gap_exchange_share(
    rinse_time_s: Values, gap_m: Values, flux_path_m: Values, diffusivity_m2_s: Values, gap_velocity_m_s: Values
) -> Values:
    """Share of the gap water's residue that trades places with the rinse water in one rinse.

    Parameters
    ----------
    rinse_time_s : s, float or array
    gap_m : m, height of the gap
    flux_path_m : m, from the open edge to the innermost residue
    diffusivity_m2_s : m²/s of the dissolved residue in the rinse water at its temperature
    gap_velocity_m_s : m/s, mean through-flow under the component; 0 for a soak. All broadcast.

    Returns
    -------
    Share 0..1: 0 at time 0, 1 means fully mixed with the rinse water.

    Errors
    ------
    ValueError if gap, path or diffusivity is not above 0, or time or velocity is negative.

    Notes
    -----
    1 − (1 − s_D)·exp(−t/τ). s_D is diffusion along the path from the edge (Crank's plane sheet, one face
    open). Flow renews the gap with τ = x_f/u + h²/(π²D): transit, then diffusion across the gap, since the
    layer on the walls stands still; the two times add (engineering estimate, ours). Holds for residue
    already dissolved; the wash must do that.

    >>> round(gap_exchange_share(60.0, 50e-6, 3e-3, 1.5e-9, 0.0), 3)  # a one-minute soak hardly reaches the gap
    0.113
    """
    time = require_not_negative("rinse time", rinse_time_s, "s")
    gap = require_above_zero("gap", gap_m, "m")
    path = require_above_zero("flux path", flux_path_m, "m")
    diffusivity = require_above_zero("diffusivity", diffusivity_m2_s, "m²/s")
    velocity = require_not_negative("gap velocity", gap_velocity_m_s, "m/s")
    by_diffusion = np.asarray(sorbed_share(diffusivity * time / (2.0 * path) ** 2))
    # 1/τ written so that a standing gap (velocity 0) gives the rate 0 instead of 1/0.
    rate_1_s = velocity / (path + velocity * gap**2 / (np.pi**2 * diffusivity))
    return plain(np.asarray(1.0 - (1.0 - by_diffusion) * np.exp(-rate_1_s * time)))


def batch_rinse(
    load: CarryOver,
    residue_concentration_kg_m3: Values,
    rinses: Values,
    rinse_volume_m3: Values,
    exchange_share: Values,
    feed_concentration_kg_m3: Values = 0.0,
) -> RinseResult:
    """Rinse a load by filling and draining n times with fresh water.

    Parameters
    ----------
    load : its carry-over
    residue_concentration_kg_m3 : kg/m³ NaCl-equivalent in the carried liquid at the start, open and gap alike
    rinses : whole number of fills, 0 or more, float or array
    rinse_volume_m3 : m³ of fresh water per fill
    exchange_share : share of the gap exchanged per rinse, see `gap_exchange_share`
    feed_concentration_kg_m3 : kg/m³ NaCl-equivalent of the fresh water. All broadcast.

    Returns
    -------
    `RinseResult`.

    Errors
    ------
    ValueError for a negative or fractional number of rinses, a rinse volume of 0, or a share outside 0..1.

    Notes
    -----
    Open water dilutes by V_c/(V_c + V_r) each fill; the gap moves by the exchange share towards the mixture
    of all three volumes, and what leaves it stays in the bulk until the drain opens, so that mass closes.
    Without gap water this is (V_c/(V_c + V_r))^n. The probe reading uses infinite-dilution conductivity at
    25 °C.

    >>> load = CarryOver(open_m3=1.0, gap_m3=0.0, area_m2=1.0)
    >>> round(1.0 / batch_rinse(load, 1.0, 1, 99.0, 1.0).residue_left_kg, 9)
    100.0
    """
    count = require_not_negative("rinses", rinses, "")
    if np.any(count != np.floor(count)):
        raise UnphysicalInputError(f"rinses: {float(np.max(count)):g} is not a whole number. Give 0, 1, 2, …")
    state = _BatchState(load, residue_concentration_kg_m3, rinse_volume_m3, exchange_share, feed_concentration_kg_m3)
    count = np.broadcast_to(count, np.broadcast_shapes(count.shape, state.open_kg.shape))
    for number in range(int(np.max(count, initial=0.0))):
        state.rinse_once(number < count)
    return state.result()


def rinses_needed(
    load: CarryOver,
    residue_concentration_kg_m3: Values,
    limit_kg_m2: Values,
    rinse_volume_m3: Values,
    exchange_share: Values,
    feed_concentration_kg_m3: Values = 0.0,
    most_rinses: int = 50,
) -> Values:
    """Fewest fill-and-drain rinses that bring the residue per area to the limit.

    Parameters
    ----------
    load, residue_concentration_kg_m3, rinse_volume_m3, exchange_share, feed_concentration_kg_m3 : see
        `batch_rinse`
    limit_kg_m2 : kg/m² NaCl-equivalent, the plant's own limit (1e-5 is 1 µg/cm²)
    most_rinses : rinses beyond which a process is not worth having

    Returns
    -------
    Whole numbers as float; `inf` where the feed water itself, left on the board, is above the limit, or where
    `most_rinses` do not get there (a gap that does not exchange).

    Errors
    ------
    ValueError as in `batch_rinse`, or if the limit is not above 0.

    Notes
    -----
    Step by step, all draws at once; the residue falls monotonically towards the feed's own level. There is
    no standing accept/reject figure for boards: 1.56 µg/cm² is history (IPC-WP-019B).

    >>> load = CarryOver(open_m3=1e-5, gap_m3=0.0, area_m2=0.1)
    >>> rinses_needed(load, 1.0, 1e-9, 99e-5, 1.0)
    3.0
    """
    limit = require_above_zero("residue limit", limit_kg_m2, "kg/m²")
    state = _BatchState(load, residue_concentration_kg_m3, rinse_volume_m3, exchange_share, feed_concentration_kg_m3)
    needed = np.full(np.broadcast_shapes(limit.shape, state.open_kg.shape), np.inf)
    for number in range(most_rinses + 1):
        reached = state.left_kg_m2() <= limit
        needed = np.where(np.isinf(needed) & reached, float(number), needed)
        if np.all(np.isfinite(needed)):
            break
        state.rinse_once(np.asarray(True))
    return plain(needed)


def rinse_until_resistivity(
    load: CarryOver,
    residue_concentration_kg_m3: Values,
    set_point_ohm_m: Values,
    rinse_volume_m3: Values,
    exchange_share: Values,
    feed_concentration_kg_m3: Values = 0.0,
    most_rinses: int = 50,
) -> RinseResult:
    """Rinse until the drained water's resistivity meets the set point, as machines with an end-point probe do.

    Parameters
    ----------
    load, residue_concentration_kg_m3, rinse_volume_m3, exchange_share, feed_concentration_kg_m3 : see
        `batch_rinse`
    set_point_ohm_m : Ω·m at 25 °C (1 MΩ·cm is 1e4 Ω·m)
    most_rinses : the machine gives up after so many

    Returns
    -------
    `RinseResult`; where the set point was not met, `rinses` is `most_rinses` and the resistivity stays
    below it.

    Errors
    ------
    ValueError as in `batch_rinse`, if the set point is not above 0, or if `most_rinses` is below 1.

    Notes
    -----
    A probe sees the bulk only. With a small exchange share the set point is met while the gap is still
    dirty; compare `gap_residue_left_kg`.
    """
    set_point = require_above_zero("resistivity set point", set_point_ohm_m, "Ω·m")
    if most_rinses < 1:
        raise UnphysicalInputError(f"most_rinses: {most_rinses} is below 1. Give at least one rinse.")
    state = _BatchState(load, residue_concentration_kg_m3, rinse_volume_m3, exchange_share, feed_concentration_kg_m3)
    going = np.ones(np.broadcast_shapes(set_point.shape, state.open_kg.shape), dtype=np.bool_)
    for _ in range(most_rinses):
        state.rinse_once(going)
        going = going & (state.resistivity_ohm_m() < set_point)
        if not np.any(going):
            break
    return state.result()


class _BatchState:
    """Residue in the open and in the gap water while a load is filled and drained; arrays over draws."""

    def __init__(self, load: CarryOver, start: Values, volume: Values, share: Values, feed: Values) -> None:
        """Check the inputs and put the same concentration in both waters."""
        start_array = require_not_negative("residue concentration", start, "kg/m³")
        self._volume = require_above_zero("rinse volume", volume, "m³")
        self._share = require_within("exchange share", share, 0.0, 1.0, "(share)")
        self._feed = require_not_negative("feed concentration", feed, "kg/m³")
        self._open = require_not_negative("open carry-over", load.open_m3, "m³")
        self._gap = require_not_negative("gap carry-over", load.gap_m3, "m³")
        self._area = require_above_zero("board area", load.area_m2, "m²")
        zero = 0.0 * (self._volume + self._share + self._feed + self._area + self._open + self._gap)
        self.open_kg: FloatArray = np.asarray(start_array * self._open + zero)
        self.gap_kg: FloatArray = np.asarray(start_array * self._gap + zero)
        self._carried_in = self.open_kg + self.gap_kg
        self._out = np.zeros_like(self.open_kg)
        self._done = np.zeros_like(self.open_kg)
        self._bulk = np.asarray(start_array + zero)

    def rinse_once(self, where: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> None:
        """Fill, let the gap exchange, drain; only in the draws where it is wanted."""
        brought = self._volume * self._feed
        everything = self.open_kg + self.gap_kg + brought
        mixed = everything / (self._open + self._gap + self._volume)
        gap_after = self.gap_kg + self._share * (mixed * self._gap - self.gap_kg)
        bulk = (everything - gap_after) / (self._open + self._volume)
        self._out = np.where(where, self._out + bulk * self._volume, self._out)
        self._bulk = np.where(where, bulk, self._bulk)
        self.open_kg = np.where(where, bulk * self._open, self.open_kg)
        self.gap_kg = np.where(where, gap_after, self.gap_kg)
        self._done = np.where(where, self._done + 1.0, self._done)

    def left_kg_m2(self) -> FloatArray:
        """Residue per board area, open and gap together."""
        return np.asarray((self.open_kg + self.gap_kg) / self._area)

    def resistivity_ohm_m(self) -> FloatArray:
        """Show what a probe in the drained water reads at 25 °C."""
        return np.asarray(resistivity_ohm_m(self._bulk))

    def result(self) -> RinseResult:
        """Freeze the state."""
        water = self._done * self._volume
        return RinseResult(
            rinses=plain(self._done),
            residue_in_kg=plain(self._carried_in + water * self._feed),
            residue_out_kg=plain(self._out),
            residue_left_kg=plain(self.open_kg + self.gap_kg),
            residue_left_kg_m2=plain(self.left_kg_m2()),
            gap_residue_left_kg=plain(self.gap_kg),
            last_rinse_resistivity_ohm_m=plain(self.resistivity_ohm_m()),
            water_m3=plain(water),
            drain_m3=plain(water),
        )
