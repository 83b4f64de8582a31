"""Moisture in the board's laminate: what a wash puts in, how fast a bake takes it out.

The laminate is a plane sheet that exchanges through both faces; copper planes lengthen the way (path factor).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import erfc

from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative, require_within

GAS_CONSTANT_J_mol_K = 8.314462618
"""Molar gas constant, CODATA 2018 (J/(mol·K))."""

# Below this Dt/l² the short-time series needs two terms, above it the long-time series at most nine.
_SERIES_CHANGE = 0.05
_LONG_TERMS = 10
_NEWTON_STEPS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Laminate:
    """Moisture properties of one board's laminate."""

    thickness_m: Values
    """Full thickness [m]."""
    diffusivity_m2_s: Values
    """Diffusion coefficient at the reference temperature [m²/s]."""
    reference_temperature_K: Values
    """Temperature at which it is known [K]."""
    activation_energy_J_mol: Values
    """Of the diffusion coefficient; 0.45 eV is 43.4 kJ/mol [J/mol]."""
    path_factor: Values
    """1 for bare laminate, more where copper planes make the water go around [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BakeSuggestion:
    """A bake that would bring the laminate's moisture to a target."""

    temperature_K: Values
    """Bake temperature after capping at the board's limit [K]."""
    lowered_to_limit: Values
    """1 where the wish was above the board's limit and was lowered, else 0 [1]."""
    time_s: Values
    """Time at that temperature; 0 when no bake is needed, inf when the target cannot be reached [s]."""
    moisture_before_share: Values
    """Water ÷ dry mass at the start [1]."""
    moisture_after_share: Values
    """Water ÷ dry mass at the end [1]."""


def sorbed_share(dimensionless_time: Values) -> Values:
    """Share of the final uptake (or loss) that a plane sheet has reached, from both faces.

    Parameters
    ----------
    dimensionless_time : D·t/l², l the full thickness [1], 0 or more, float or array

    Returns
    -------
    Share 0..1.

    Errors
    ------
    ValueError if the time is negative or not finite.

    Notes
    -----
    Long times: 1 − (8/π²) Σ exp(−(2n+1)²π²Dt/l²)/(2n+1)². Short times: 4√(Dt/l²)·(1/√π + 2 Σ (−1)^n ierfc(n
    l/(2√(Dt)))). Constant D, faces at once at their final value, no convection limit outside.

    References
    ----------
    Crank, The Mathematics of Diffusion, equations 4.18 and 4.20 (equation numbers from memory).

    >>> round(sorbed_share(0.1), 6)
    0.697882
    """
    tau = require_not_negative("dimensionless time", dimensionless_time, "")
    return plain(np.where(tau < _SERIES_CHANGE, _short_series(tau), _long_series(tau)))


def time_for_share(share: Values) -> Values:
    """Dimensionless time D·t/l² after which a plane sheet has reached a share of its final change.

    Parameters
    ----------
    share : 0 to 1, float or array

    Returns
    -------
    D·t/l² [1]; `inf` at share 1.

    Errors
    ------
    ValueError outside 0..1.

    Notes
    -----
    Inverse of `sorbed_share`: start from the leading term of each series, then Newton on the series.

    >>> round(time_for_share(0.9), 6)
    0.212021
    """
    wanted = require_within("share", share, 0.0, 1.0, "(share)")
    safe = np.clip(wanted, 0.0, 1.0 - 1e-15)
    early = np.pi * safe**2 / 16.0
    late = -np.log(np.pi**2 * (1.0 - safe) / 8.0) / np.pi**2
    tau = np.where(safe < 0.5, early, late)
    for _ in range(_NEWTON_STEPS):
        slope = np.where(tau < _SERIES_CHANGE, 2.0 / np.sqrt(np.pi * np.maximum(tau, 1e-300)), _long_slope(tau))
        tau = np.maximum(tau - (np.asarray(sorbed_share(tau)) - safe) / np.maximum(slope, 1e-300), 0.0)
    return plain(np.where(wanted >= 1.0, np.inf, tau))


def effective_diffusivity_m2_s(laminate: Laminate, temperature_K: Values) -> Values:
    """Diffusion coefficient of water through the laminate at a temperature, copper included.

    Parameters
    ----------
    laminate : its moisture properties
    temperature_K : K, float or array

    Returns
    -------
    m²/s.

    Errors
    ------
    ValueError if a temperature, thickness or coefficient is not above 0, or the path factor is below 1.

    Notes
    -----
    D = D_ref·exp(−(E/R)(1/T − 1/T_ref))/f². The path factor f lengthens the way from l to f·l. The size of
    f for a given layer stack is an engineering estimate; solid planes on both faces leave only edges and
    holes as ways out.
    """
    temperature = require_above_zero("temperature", temperature_K, "K")
    reference = require_above_zero("reference temperature", laminate.reference_temperature_K, "K")
    known = require_above_zero("laminate diffusivity", laminate.diffusivity_m2_s, "m²/s")
    energy = require_not_negative("activation energy", laminate.activation_energy_J_mol, "J/mol")
    factor = require_within("path factor", laminate.path_factor, 1.0, np.inf, "")
    exponent = -energy / GAS_CONSTANT_J_mol_K * (1.0 / temperature - 1.0 / reference)
    return plain(np.asarray(known * np.exp(exponent) / factor**2))


def moisture_after(
    laminate: Laminate, moisture_share: Values, equilibrium_share: Values, temperature_K: Values, time_s: Values
) -> Values:
    """Moisture of the laminate after some time against surroundings with which it would settle at an equilibrium.

    Parameters
    ----------
    laminate : its moisture properties
    moisture_share : water ÷ dry mass at the start, taken as evenly spread
    equilibrium_share : water ÷ dry mass in the end: that of a soaked laminate in a bath, near 0 in hot dry air
    temperature_K : K of the board
    time_s : s. All broadcast.

    Returns
    -------
    Water ÷ dry mass [1].

    Errors
    ------
    ValueError if a share or time is negative, or as in `effective_diffusivity_m2_s`.

    Notes
    -----
    m = m_eq + (m0 − m_eq)(1 − sorbed_share(D t/l²)). The even start is exact for a board from storage.
    After a short wash the water sits near the faces and leaves sooner than this says, so drying times are
    on the safe side.
    """
    start = require_not_negative("moisture", moisture_share, "(share)")
    end = require_not_negative("equilibrium moisture", equilibrium_share, "(share)")
    time = require_not_negative("time", time_s, "s")
    thickness = require_above_zero("laminate thickness", laminate.thickness_m, "m")
    tau = np.asarray(effective_diffusivity_m2_s(laminate, temperature_K)) * time / thickness**2
    return plain(np.asarray(end + (start - end) * (1.0 - np.asarray(sorbed_share(tau)))))


def drying_time_s(
    laminate: Laminate,
    moisture_share: Values,
    target_share: Values,
    equilibrium_share: Values,
    temperature_K: Values,
) -> Values:
    """Time at a temperature until the laminate's mean moisture has fallen to a target.

    Parameters
    ----------
    laminate, moisture_share, equilibrium_share, temperature_K : see `moisture_after`
    target_share : water ÷ dry mass wanted. All broadcast.

    Returns
    -------
    s; 0 where the target is met already, `inf` where the surroundings themselves are wetter than the target.

    Errors
    ------
    ValueError as in `moisture_after`.

    Notes
    -----
    Inverse of `moisture_after`. The mean hides a wetter core.
    """
    start = require_not_negative("moisture", moisture_share, "(share)")
    target = require_not_negative("moisture target", target_share, "(share)")
    end = require_not_negative("equilibrium moisture", equilibrium_share, "(share)")
    thickness = require_above_zero("laminate thickness", laminate.thickness_m, "m")
    diffusivity = np.asarray(effective_diffusivity_m2_s(laminate, temperature_K))
    start, target, end = np.broadcast_arrays(start, target, end)
    works = (target < start) & (end < target)
    share = np.where(works, start - target, 0.0) / np.where(works, start - end, 1.0)
    time = np.asarray(time_for_share(share)) * thickness**2 / diffusivity
    return plain(np.where(works, time, np.where(start <= target, 0.0, np.inf)))


def bake_suggestion(
    laminate: Laminate,
    moisture_share: Values,
    target_share: Values,
    bake_temperature_K: Values,
    board_limit_K: Values,
    equilibrium_share: Values = 0.0,
) -> BakeSuggestion:
    """Suggest a bake that brings the laminate to a target moisture, never hotter than the board allows.

    Parameters
    ----------
    laminate : its moisture properties
    moisture_share, target_share : water ÷ dry mass now and wanted
    bake_temperature_K : K wished for
    board_limit_K : K, lowest of what laminate, components and labels stand
    equilibrium_share : water ÷ dry mass that the oven's air would leave in the end. All broadcast.

    Returns
    -------
    `BakeSuggestion`.

    Errors
    ------
    ValueError as in `drying_time_s`, or if the limit is not above 0.

    Notes
    -----
    A suggestion, not a release: bake tables for moisture-sensitive packages (J-STD-033) are a separate
    matter and go by package thickness and level; solderability and warpage speak against long bakes.
    """
    wish = require_above_zero("bake temperature", bake_temperature_K, "K")
    limit = require_above_zero("board temperature limit", board_limit_K, "K")
    temperature = np.minimum(wish, limit)
    time = np.asarray(drying_time_s(laminate, moisture_share, target_share, equilibrium_share, temperature))
    start = require_not_negative("moisture", moisture_share, "(share)")
    after = moisture_after(
        laminate, start, equilibrium_share, temperature, np.where(np.isfinite(time), time, 0.0)
    )
    return BakeSuggestion(
        temperature_K=plain(temperature),
        lowered_to_limit=plain(np.asarray(np.where(wish > limit, 1.0, 0.0))),
        time_s=plain(time),
        moisture_before_share=plain(start),
        # An endless bake ends at the oven's own equilibrium.
        moisture_after_share=plain(np.where(np.isfinite(time), after, equilibrium_share)),
    )


def _long_series(tau: FloatArray) -> FloatArray:
    odd = 2.0 * np.arange(_LONG_TERMS) + 1.0
    terms = np.exp(-(odd**2) * np.pi**2 * tau[..., np.newaxis]) / odd**2
    return np.asarray(1.0 - 8.0 / np.pi**2 * terms.sum(axis=-1))


def _long_slope(tau: FloatArray) -> FloatArray:
    odd = 2.0 * np.arange(_LONG_TERMS) + 1.0
    return np.asarray(8.0 * np.exp(-(odd**2) * np.pi**2 * tau[..., np.newaxis]).sum(axis=-1))


def _short_series(tau: FloatArray) -> FloatArray:
    # At D t/l² = 0.05 the first reflected term ierfc(1/(2·√0.05)) = ierfc(2.24) is still 3e-4, the second 3e-11.
    root = np.sqrt(np.maximum(tau, 1e-300))
    bracket = 1.0 / np.sqrt(np.pi) + 2.0 * (-_ierfc(0.5 / root) + _ierfc(1.0 / root))
    return np.asarray(4.0 * np.sqrt(tau) * bracket)


def _ierfc(value: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-(value**2)) / np.sqrt(np.pi) - value * erfc(value))
