"""Electrostatic discharge: resistance classes, time in which a charge leaks away, scope of the standard."""

from __future__ import annotations

from typing import Literal

import numpy as np

from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative

ResistanceClass = Literal["conductive", "dissipative", "insulative"]

CONDUCTIVE_BELOW_ohm = 1e4
"""Surfaces below it are conductive (ANSI/ESD STM11.11)."""
INSULATIVE_FROM_ohm = 1e11
"""Surfaces from it on are insulative (ANSI/ESD STM11.11)."""
TO_GROUND_BELOW_ohm = 1e9
"""Usual upper limit of a working surface to ground (ANSI/ESD S20.20, from memory)."""
SCOPE_HUMAN_BODY_V = 100.0
"""Lowest human-body-model withstand voltage in the scope of ANSI/ESD S20.20-2021."""
SCOPE_CHARGED_DEVICE_V = 200.0
"""Lowest charged-device-model withstand voltage in the scope of ANSI/ESD S20.20-2021."""
SCOPE_ISOLATED_CONDUCTOR_V = 35.0
"""An isolated conductor must stay below it in the scope of ANSI/ESD S20.20-2021."""
VACUUM_PERMITTIVITY_F_m = 8.8541878128e-12
"""Electric constant, CODATA 2018."""
TENTH = 0.1
"""A charge is taken as gone when a tenth is left, as charge-plate tests count it (1000 V to 100 V)."""


def resistance_class(resistance_ohm: float) -> ResistanceClass:
    """Class of a surface by its resistance.

    Parameters
    ----------
    resistance_ohm : float
        Ω.

    Returns
    -------
    "conductive", "dissipative" or "insulative"

    Errors
    ------
    ValueError if the resistance is negative or not finite.

    Notes
    -----
    Conductive below 1e4 Ω, dissipative from 1e4 to below 1e11 Ω, insulative from 1e11 Ω on (ANSI/ESD STM11.11).
    For a surface resistivity in Ω per square the limits are ten times these.

    >>> [resistance_class(value) for value in (9.9e3, 1e4, 1e11)]
    ['conductive', 'dissipative', 'insulative']
    """
    value = float(require_not_negative("resistance", resistance_ohm, "Ω"))
    if value < CONDUCTIVE_BELOW_ohm:
        return "conductive"
    return "dissipative" if value < INSULATIVE_FROM_ohm else "insulative"


def decay_time_s(resistance_ohm: Values, capacitance_F: Values, start_V: Values, end_V: Values) -> Values:
    """Time in which a charged body falls from one voltage to another through a resistance.

    Parameters
    ----------
    resistance_ohm, capacitance_F : float or (draws,)
        To ground [Ω], [F].
    start_V, end_V : float or (draws,)
        V, above 0.

    Returns
    -------
    float or ndarray (draws,)
        s; 0 where the start is not above the end.

    Errors
    ------
    ValueError if a resistance or capacitance is negative, a voltage is not above 0, or one is not finite.

    Notes
    -----
    t = R C ln(V₀/V₁). A constant resistance is assumed; real dissipative surfaces leak less at low voltage.

    >>> round(decay_time_s(1e11, 20e-12, 1000.0, 100.0), 3)
    4.605
    """
    resistance = require_not_negative("resistance", resistance_ohm, "Ω")
    capacitance = require_not_negative("capacitance", capacitance_F, "F")
    ratio = require_above_zero("start voltage", start_V, "V") / require_above_zero("end voltage", end_V, "V")
    return plain(np.asarray(resistance * capacitance * np.log(np.maximum(ratio, 1.0))))


def relaxation_time_s(relative_permittivity: Values, conductivity_S_m: Values) -> Values:
    """Charge relaxation time of a liquid or solid.

    Parameters
    ----------
    relative_permittivity : float or (draws,)
        1.
    conductivity_S_m : float or (draws,)
        S/m, above 0.

    Returns
    -------
    float or ndarray (draws,)
        s, in which a charge falls to 1/e.

    Errors
    ------
    ValueError if a value is not above 0.

    Notes
    -----
    τ = ε₀ ε_r/σ (NFPA 77 tabulates it for liquids). Ohmic; very pure liquids relax more slowly than this.

    >>> round(relaxation_time_s(2.0, 50e-12), 3)
    0.354
    """
    permittivity = require_above_zero("relative permittivity", relative_permittivity, "")
    conductivity = require_above_zero("conductivity", conductivity_S_m, "S/m")
    return plain(np.asarray(VACUUM_PERMITTIVITY_F_m * permittivity / conductivity))


def in_standard_scope(
    *, human_body_V: float | None = None, charged_device_V: float | None = None,
    isolated_conductor_V: float | None = None,
) -> bool:  # fmt: skip
    """Tell whether what is known of a part lies in the scope of an ordinary ESD programme.

    Parameters
    ----------
    human_body_V, charged_device_V : float or None
        Withstand voltages of the part [V]; None when not known.
    isolated_conductor_V : float or None
        Voltage that an isolated conductor near it may reach [V].

    Returns
    -------
    bool
        False when any known value lies outside.

    Notes
    -----
    ANSI/ESD S20.20-2021: parts that stand 100 V (human body) and 200 V (charged device) or more; isolated conductors
    below 35 V. More sensitive parts may need additional measures.

    >>> in_standard_scope(human_body_V=100.0), in_standard_scope(human_body_V=50.0)
    (True, False)
    """
    return (
        (human_body_V is None or human_body_V >= SCOPE_HUMAN_BODY_V)
        and (charged_device_V is None or charged_device_V >= SCOPE_CHARGED_DEVICE_V)
        and (isolated_conductor_V is None or isolated_conductor_V < SCOPE_ISOLATED_CONDUCTOR_V)
    )


def decades_below(value: FloatArray, limit: FloatArray | float, cap_decades: float) -> FloatArray:
    """Decades by which a value lies below its limit, negative above it.

    Parameters
    ----------
    value : ndarray (draws,)
        0 or above.
    limit : ndarray (draws,) or float
        Above 0, in the same unit.
    cap_decades : float
        Largest size of the result, both ways.

    Returns
    -------
    ndarray (draws,)
        log₁₀(limit/value), within ± cap_decades.

    Errors
    ------
    ValueError if a value is negative or a limit or the cap is not above 0.

    >>> decades_below(np.array([1e6, 0.0]), 1e8, 3.0).tolist()
    [2.0, 3.0]
    """
    require_above_zero("cap", cap_decades, "decades")
    bounds = require_above_zero("limit", limit, "")
    smallest = bounds * 10.0**-cap_decades
    shown = np.maximum(require_not_negative("value", value, ""), smallest)
    return np.asarray(np.clip(np.log10(bounds / shown), -cap_decades, cap_decades))
