"""Heat and mass transfer between an air stream and a board: flat plate, one air nozzle, a field of nozzles."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from model.drying_fluid import DryingFluid, STANDARD_PRESSURE_Pa
from model.fluids import Values, plain, require_above_zero, require_not_negative, require_within
from model.moist_air import (
    DRY_AIR_GAS_CONSTANT_J_KG_K,
    DRY_AIR_HEAT_CAPACITY_J_KG_K,
    air_conductivity_W_m_K,
    air_viscosity_Pa_s,
)

_LAMINAR_LIMIT = 5e5


def plate_sherwood(reynolds: Values, schmidt: Values) -> Values:
    """Mean Sherwood number of a flat plate in a parallel stream.

    Parameters
    ----------
    reynolds : on plate length, 0 or more, float or array
    schmidt : kinematic viscosity ÷ diffusivity, above 0

    Returns
    -------
    Sherwood number on plate length.

    Errors
    ------
    ValueError for a negative Reynolds or a Schmidt number not above 0.

    Notes
    -----
    Laminar 0.664 Re^½ Sc^⅓; above Re 5e5 mixed (0.037 Re^0.8 − 871) Sc^⅓, continuous at the change within 0.1 %
    (textbook form, from memory). Components on a board trip the stream earlier, so laminar is on the safe side.

    >>> round(plate_sherwood(1e4, 1.0), 1)
    66.4
    """
    stream = require_not_negative("Reynolds number", reynolds, "")
    cube_root = np.cbrt(require_above_zero("Schmidt number", schmidt, ""))
    mixed = 0.037 * np.maximum(stream, _LAMINAR_LIMIT) ** 0.8 - 871.0
    return plain(np.where(stream > _LAMINAR_LIMIT, mixed, 0.664 * np.sqrt(stream)) * cube_root)


def round_nozzle_sherwood(
    reynolds: Values, schmidt: Values, radius_per_diameter: Values, distance_per_diameter: Values
) -> Values:
    """Mean Sherwood (or Nusselt) number under a single round air nozzle, over a disc around its axis.

    Parameters
    ----------
    reynolds : on nozzle diameter and exit speed, 2 000 to 400 000, float or array
    schmidt : Schmidt number (Prandtl number for heat)
    radius_per_diameter : radius of the disc ÷ nozzle diameter, 2.5 to 7.5
    distance_per_diameter : distance to the board ÷ nozzle diameter, 2 to 12. All broadcast.

    Returns
    -------
    Sherwood number on nozzle diameter.

    Errors
    ------
    ValueError outside those ranges.

    Notes
    -----
    Sh = Sc^0.42·(D/r)·(1 − 1.1 D/r)/(1 + 0.1(H/D − 6)D/r)·2 Re^½ (1 + 0.005 Re^0.55)^½. Smooth plate at
    right angles.

    References
    ----------
    Martin (1977), Advances in Heat Transfer 13:1–60.

    >>> round(round_nozzle_sherwood(2e4, 0.7, 5.0, 6.0), 2)
    55.83
    """
    stream = require_within("nozzle Reynolds number", reynolds, 2e3, 4e5, "")
    number = require_above_zero("Schmidt number", schmidt, "")
    inverse = 1.0 / require_within("radius per nozzle diameter", radius_per_diameter, 2.5, 7.5, "")
    distance = require_within("distance per nozzle diameter", distance_per_diameter, 2.0, 12.0, "")
    geometry = inverse * (1.0 - 1.1 * inverse) / (1.0 + 0.1 * (distance - 6.0) * inverse)
    flow = 2.0 * np.sqrt(stream * (1.0 + 0.005 * stream**0.55))
    return plain(np.asarray(number**0.42 * geometry * flow))


def nozzle_array_sherwood(
    reynolds: Values, schmidt: Values, open_area_share: Values, distance_per_diameter: Values
) -> Values:
    """Mean Sherwood (or Nusselt) number under a regular field of round air nozzles.

    Parameters
    ----------
    reynolds : on nozzle diameter and exit speed, 2 000 to 100 000, float or array
    schmidt : Schmidt number (Prandtl number for heat)
    open_area_share : nozzle exit area ÷ board area served, 0.004 to 0.04
    distance_per_diameter : distance ÷ nozzle diameter, 2 to 12. All broadcast.

    Returns
    -------
    Sherwood number on nozzle diameter.

    Errors
    ------
    ValueError outside those ranges.

    Notes
    -----
    Sh = Sc^0.42·K·G·0.5 Re^⅔, G = 2√f(1 − 2.2√f)/(1 + 0.2(H/D − 6)√f), K = [1 + (H/D·√f/0.6)^6]^(−0.05).

    References
    ----------
    Martin (1977), Advances in Heat Transfer 13:1–60, array correlation (from memory).
    """
    stream = require_within("nozzle Reynolds number", reynolds, 2e3, 1e5, "")
    number = require_above_zero("Schmidt number", schmidt, "")
    root = np.sqrt(require_within("open area share", open_area_share, 0.004, 0.04, ""))
    distance = require_within("distance per nozzle diameter", distance_per_diameter, 2.0, 12.0, "")
    crowding = (1.0 + (distance * root / 0.6) ** 6) ** -0.05
    geometry = 2.0 * root * (1.0 - 2.2 * root) / (1.0 + 0.2 * (distance - 6.0) * root)
    return plain(np.asarray(number**0.42 * crowding * geometry * 0.5 * stream ** (2.0 / 3.0)))


def stream_transfer_m_s(
    fluid: DryingFluid,
    velocity_m_s: Values,
    length_m: Values,
    temperature_K: Values,
    sherwood: Callable[[Values, Values], Values] = plate_sherwood,
    pressure_Pa: Values = STANDARD_PRESSURE_Pa,
) -> Values:
    """Mass-transfer coefficient of an air stream over a board or from nozzles.

    Parameters
    ----------
    fluid : the liquid that evaporates
    velocity_m_s : m/s of the stream (nozzle exit speed for nozzles), float or array
    length_m : m, plate length (nozzle diameter for nozzles)
    temperature_K : K of the air
    sherwood : function of Reynolds and Schmidt number; bind nozzle geometry with `functools.partial` or a
        lambda
    pressure_Pa : Pa. All broadcast.

    Returns
    -------
    k = Sh·D/length in m/s, 0 in still air.

    Errors
    ------
    ValueError if a length, temperature or pressure is not above 0 or the velocity is negative.

    >>> from model.drying_fluid import water_for_drying
    >>> round(stream_transfer_m_s(water_for_drying(), 5.0, 0.3, 333.15), 4)
    0.0166
    """
    velocity = require_not_negative("air velocity", velocity_m_s, "m/s")
    length = require_above_zero("length", length_m, "m")
    temperature = require_above_zero("air temperature", temperature_K, "K")
    pressure = require_above_zero("air pressure", pressure_Pa, "Pa")
    kinematic = air_viscosity_Pa_s(temperature) * DRY_AIR_GAS_CONSTANT_J_KG_K * temperature / pressure
    diffusivity = fluid.diffusivity_m2_s(temperature, pressure)
    number = sherwood(plain(np.asarray(velocity * length / kinematic)), plain(np.asarray(kinematic / diffusivity)))
    return plain(np.asarray(number * diffusivity / length))


def heat_transfer_W_m2_K(
    fluid: DryingFluid, transfer_m_s: Values, temperature_K: Values, pressure_Pa: Values = STANDARD_PRESSURE_Pa
) -> Values:
    """Heat-transfer coefficient that belongs to a mass-transfer coefficient.

    Parameters
    ----------
    fluid : the liquid whose vapour the mass-transfer coefficient is for
    transfer_m_s : m/s, float or array
    temperature_K, pressure_Pa : K and Pa of the air. All broadcast.

    Returns
    -------
    W/(m²·K).

    Errors
    ------
    ValueError if temperature or pressure is not above 0 or the coefficient is negative.

    Notes
    -----
    Chilton–Colburn: h = k·ρ·c·Le^⅔ with Le = λ/(ρ·c·D), dry-air properties.
    """
    transfer = require_not_negative("mass-transfer coefficient", transfer_m_s, "m/s")
    temperature = require_above_zero("air temperature", temperature_K, "K")
    pressure = require_above_zero("air pressure", pressure_Pa, "Pa")
    capacity = pressure / (DRY_AIR_GAS_CONSTANT_J_KG_K * temperature) * DRY_AIR_HEAT_CAPACITY_J_KG_K
    lewis = air_conductivity_W_m_K(temperature) / capacity / fluid.diffusivity_m2_s(temperature, pressure)
    # numpy's own power: that of Python rounds a lone number otherwise than one among others.
    return plain(np.asarray(transfer * capacity * np.power(lewis, 2.0 / 3.0)))
