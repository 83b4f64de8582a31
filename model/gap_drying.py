"""Drying of the liquid under a component: vapour diffuses from the meniscus to the open edges (Stefan flow).

The blow-off and the air stream outside do not enter: only temperature, gap length and open sides do. The
height of the gap does not enter either, because water content and way out for vapour both grow with it.
"""

from __future__ import annotations

import numpy as np
from scipy.special import lambertw

from model.drying_fluid import DryingFluid, GAS_CONSTANT_J_mol_K, STANDARD_PRESSURE_Pa
from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative, require_within
from model.input_errors import UnphysicalInputError

# The terms fall at least like exp(−nπ/2), n = 2k + 1: even for a square the twelfth is below 1e-19 of the first.
_TERMS = 12

MOST_VAPOUR_SHARE = 0.999
"""Vapour share at which the logarithm is cut: at boiling the share is 1 and the logarithm without bound."""


def stefan_flux_mol_m2_s(
    diffusivity_m2_s: Values,
    length_m: Values,
    temperature_K: Values,
    vapour_pressure_Pa: Values,
    outside_vapour_pressure_Pa: Values,
    pressure_Pa: Values = STANDARD_PRESSURE_Pa,
) -> Values:
    """Molar flux of vapour through standing air of a given length.

    Parameters
    ----------
    diffusivity_m2_s : m²/s, float or array
    length_m : m from the meniscus to the open end
    temperature_K : K of the air in the gap
    vapour_pressure_Pa, outside_vapour_pressure_Pa : Pa at the meniscus and at the open end
    pressure_Pa : total pressure, Pa. All broadcast.

    Returns
    -------
    mol/(m²·s); negative when vapour would go in.

    Errors
    ------
    ValueError if a vapour pressure is not below the total pressure, or a length, temperature or diffusivity
    is not above 0.

    Notes
    -----
    N = D·p/(R·T·z)·ln((p − p_out)/(p − p_meniscus)): the air stands, the vapour drags itself along.

    References
    ----------
    Geankoplis, Transport Processes and Unit Operations, Example 6.2-2.

    >>> round(stefan_flux_mol_m2_s(0.250e-4, 0.1524, 293.0, 2338.5, 0.0) * 1e4, 3)
    1.593
    """
    diffusivity = require_above_zero("diffusivity", diffusivity_m2_s, "m²/s")
    length = require_above_zero("length", length_m, "m")
    temperature = require_above_zero("temperature", temperature_K, "K")
    pressure = require_above_zero("pressure", pressure_Pa, "Pa")
    inner = require_not_negative("vapour pressure", vapour_pressure_Pa, "Pa")
    outer = require_not_negative("outside vapour pressure", outside_vapour_pressure_Pa, "Pa")
    if np.any(inner >= pressure) or np.any(outer >= pressure):
        raise UnphysicalInputError(
            "vapour pressure: it reaches the total pressure, so the liquid boils and diffusion does not describe it. "
            "Give a temperature below boiling."
        )
    driving = np.log1p(-outer / pressure) - np.log1p(-inner / pressure)
    return plain(np.asarray(diffusivity * pressure / (GAS_CONSTANT_J_mol_K * temperature * length) * driving))


def gap_rate_m2_s(
    fluid: DryingFluid,
    temperature_K: Values,
    outside_vapour_pressure_Pa: Values,
    pressure_Pa: Values = STANDARD_PRESSURE_Pa,
) -> Values:
    """How fast d²/2 grows when a meniscus has receded to depth d: the one number that temperature sets.

    Parameters
    ----------
    fluid : the liquid
    temperature_K : K of meniscus and gap, float or array
    outside_vapour_pressure_Pa : Pa of this vapour in the dryer's air
    pressure_Pa : Pa. All broadcast.

    Returns
    -------
    m²/s; 0 where the outside is as wet as the meniscus. A slot open at one end is dry when rate × time =
    depth²/2.

    Errors
    ------
    ValueError if a temperature or pressure is not above 0.

    Notes
    -----
    d·dd/dt = M·N·d/ρ with the Stefan flux N. At and above boiling the logarithm is cut at 1 − 1e-3 vapour
    share (a factor of 7): the liquid then boils out faster than diffusion says, so the time is on the safe
    side. Liquid films that creep along corners and edges also speed it up and are neglected.
    """
    temperature = require_above_zero("temperature", temperature_K, "K")
    pressure = require_above_zero("pressure", pressure_Pa, "Pa")
    outside = require_not_negative("outside vapour pressure", outside_vapour_pressure_Pa, "Pa")
    return plain(unchecked_gap_rate_m2_s(fluid, temperature, outside_dryness(outside, pressure), pressure))


def outside_dryness(outside_vapour_pressure_Pa: FloatArray, pressure_Pa: FloatArray) -> FloatArray:
    """Logarithm of the share of air in the air outside, ln(1 − p_out/p), cut as in `gap_rate_m2_s`."""
    return np.asarray(np.log1p(-np.minimum(outside_vapour_pressure_Pa / pressure_Pa, MOST_VAPOUR_SHARE)))


def unchecked_gap_rate_m2_s(
    fluid: DryingFluid, temperature_K: FloatArray, dryness: FloatArray, pressure_Pa: FloatArray
) -> FloatArray:
    """Give `gap_rate_m2_s` for values checked before, against an `outside_dryness`."""
    inner = meniscus_vapour_share(fluid, temperature_K, pressure_Pa)
    return driven_gap_rate_m2_s(fluid, temperature_K, np.maximum(dryness - np.log1p(-inner), 0.0), pressure_Pa)


def meniscus_vapour_share(fluid: DryingFluid, temperature_K: FloatArray, pressure_Pa: FloatArray) -> FloatArray:
    """Vapour share at a liquid surface of this temperature [K], cut as in `gap_rate_m2_s`; values are not checked."""
    return np.asarray(np.minimum(fluid.saturation_pressure_Pa(temperature_K) / pressure_Pa, MOST_VAPOUR_SHARE))


def driven_gap_rate_m2_s(
    fluid: DryingFluid, temperature_K: FloatArray, driving: FloatArray, pressure_Pa: FloatArray
) -> FloatArray:
    """Give `gap_rate_m2_s` from ln((1 − y_out)/(1 − y_meniscus)), 0 or more; values are not checked."""
    molar_density = pressure_Pa / (GAS_CONSTANT_J_mol_K * temperature_K)
    diffusivity = fluid.diffusivity_m2_s(temperature_K, pressure_Pa)
    return np.asarray(fluid.molar_mass_kg_mol * diffusivity * molar_density * driving / fluid.liquid_density_kg_m3)


def gap_progress_needed_m2(body_length_m: Values, body_width_m: Values, open_sides: Values) -> Values:
    """Rate × time that dries the gap under a rectangular body.

    Parameters
    ----------
    body_length_m, body_width_m : m, the two sides of the body, float or array
    open_sides : 4 all round; 3 one long side closed; 2 a slot open at both ends of `body_length_m`; 1 one
        end only

    Returns
    -------
    m²; divide by `gap_rate_m2_s` for the time.

    Errors
    ------
    ValueError if a side is not above 0 or open_sides is not 1, 2, 3 or 4.

    Notes
    -----
    The receding meniscus is quasi-steady, so the time integral u of the vapour field obeys ∇²u = 1 in the
    dry part, with u = rate × time on open edges and u = 0 with zero slope on the meniscus (Baiocchi's
    transform, the obstacle problem). The last drop goes when rate × time equals the largest value of ψ with
    ∇²ψ = −1, ψ = 0 on the open edges, zero slope on closed ones. For a slot of length ℓ open at both ends ψ
    = ℓ²/8; for a rectangle L × W open all round (L²/8)·[1 − (32/π³) Σ (−1)^k/(n³·cosh(nπW/2L)), n = 2k +
    1]; square 0.0737 L², 0.589 of the slot. Closed sides are mirrors: three open sides is a rectangle of
    double width. Own derivation, checked in the tests against a finite-difference solution. Solder joints
    that bar part of an edge are neglected; choose fewer open sides for them.

    >>> round(gap_progress_needed_m2(1.0, 1.0, 4.0), 4)
    0.0737
    """
    length = require_above_zero("body length", body_length_m, "m")
    width = require_above_zero("body width", body_width_m, "m")
    sides = require_within("open sides", open_sides, 1.0, 4.0, "")
    if np.any(sides != np.floor(sides)):
        raise UnphysicalInputError("open sides: must be 1, 2, 3 or 4.")
    length, width, sides = np.broadcast_arrays(length, width, sides)
    slot = np.where(sides < 1.5, 2.0 * length, length) ** 2 / 8.0
    return plain(np.where(sides < 2.5, slot, _torsion_peak(*_short_and_long(length, width, sides))))


def gap_drying_time_s(
    fluid: DryingFluid,
    *,
    body_length_m: Values,
    body_width_m: Values,
    open_sides: Values,
    temperature_K: Values,
    outside_vapour_pressure_Pa: Values,
    pressure_Pa: Values = STANDARD_PRESSURE_Pa,
) -> Values:
    """Time to dry the gap under a component at a constant temperature.

    Parameters
    ----------
    fluid, temperature_K, outside_vapour_pressure_Pa, pressure_Pa : see `gap_rate_m2_s`
    body_length_m, body_width_m, open_sides : see `gap_progress_needed_m2`

    Returns
    -------
    s; `inf` where the outside air is saturated.

    Errors
    ------
    ValueError as in those two.

    Notes
    -----
    The temperature is the meniscus's own: the wet bulb while the board is wet outside, the board's after.
    """
    needed = np.asarray(gap_progress_needed_m2(body_length_m, body_width_m, open_sides))
    rate = np.asarray(gap_rate_m2_s(fluid, temperature_K, outside_vapour_pressure_Pa, pressure_Pa))
    return plain(np.where(rate > 0.0, needed / np.where(rate > 0.0, rate, 1.0), np.inf))


def gap_wet_share(
    progress_m2: Values, body_length_m: Values, body_width_m: Values, open_sides: Values
) -> Values:
    """Share of the gap's liquid that is still there after rate × time.

    Parameters
    ----------
    progress_m2 : rate × time [m²], 0 or more, float or array
    body_length_m, body_width_m, open_sides : see `gap_progress_needed_m2`

    Returns
    -------
    Share 1 (wet) to 0 (dry).

    Errors
    ------
    ValueError if the progress is negative or as in `gap_progress_needed_m2`.

    Notes
    -----
    θ = progress ÷ needed. Slot: 1 − √θ, exact. Disc: s(1 − ln s) = 1 − θ, exact. A rectangle open on three
    or four sides is blended between the two by how fast its meniscus first retreats, (perimeter ÷
    area)·√(2·needed): 1 for the slot, √2 for the disc. Own blend, within 0.06 of a finite-difference
    solution for side ratios 1 to 4.

    >>> round(gap_wet_share(0.125 / 4, 1.0, 9.0, 2.0), 3)  # a quarter of the time dries half a slot
    0.5
    """
    progress = require_not_negative("progress", progress_m2, "m²")
    needed = np.asarray(gap_progress_needed_m2(body_length_m, body_width_m, open_sides))
    sides = np.asarray(open_sides, dtype=np.float64)
    done = np.clip(progress / needed, 0.0, 1.0)
    slot = 1.0 - np.sqrt(done)
    # Branch −1 is the one that starts at s = 1 and falls to 0; at its branch point rounding would leave the real axis.
    argument = -np.clip(1.0 - done, 1e-300, 1.0 - 1e-12) / np.e
    disc = np.where(done < 1e-12, 1.0, np.exp(1.0 + np.real(lambertw(argument, k=-1))))
    short, long = _short_and_long(*np.broadcast_arrays(body_length_m, body_width_m, sides))
    first_retreat = 2.0 * (1.0 / short + 1.0 / long) * np.sqrt(2.0 * needed)
    slot_like = np.clip((np.sqrt(2.0) - first_retreat) / (np.sqrt(2.0) - 1.0), 0.0, 1.0)
    towards_slot = np.where(sides < 2.5, 1.0, slot_like)
    return plain(np.where(done >= 1.0, 0.0, towards_slot * slot + (1.0 - towards_slot) * disc))


def _short_and_long(length: FloatArray, width: FloatArray, sides: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sides of the rectangle open all round that dries as the body does: a closed long side is a mirror."""
    short, long = np.minimum(length, width), np.maximum(length, width)
    mirrored = np.where(sides < 3.5, 2.0 * short, short)
    return np.asarray(np.minimum(mirrored, long)), np.asarray(np.maximum(mirrored, long))


def _torsion_peak(short: FloatArray, long: FloatArray) -> FloatArray:
    """Largest ψ on a rectangle with ∇²ψ = −1 inside and 0 on all edges."""
    total = np.zeros(np.broadcast_shapes(np.shape(short), np.shape(long)))
    for k in range(_TERMS):
        odd = 2 * k + 1
        # 1/cosh written with a falling exponential so that a long strip does not overflow.
        fall = np.exp(-odd * np.pi * long / (2.0 * short))
        total = total + (-1.0) ** k / odd**3 * 2.0 * fall / (1.0 + fall**2)
    return np.asarray(short**2 / 8.0 * (1.0 - 32.0 / np.pi**3 * total))
