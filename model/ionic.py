"""Ionic residue on boards and in rinse water: resistivity, concentration, surface amounts as NaCl-equivalent.

"NaCl-equivalent" means: the mass of sodium chloride that would conduct as much. It says nothing about
residues that do not ionise (rosin, non-ionic surfactant). SI inside: S/m, Ω·m, kg/m³, kg/m².
"""

from __future__ import annotations

from typing import Final

import numpy as np

from model.fluids import Values, plain, require_above_zero, require_not_negative, require_within
from model.input_errors import UnphysicalInputError

MOLAR_MASS_NACL_kg_mol: Final = 58.443e-3
"""Molar mass of sodium chloride [kg/mol]."""
MOLAR_CONDUCTIVITY_NACL_S_m2_mol: Final = 126.45e-4
"""Limiting molar conductivity of NaCl in water at 25 °C, 126.45 S·cm²/mol [S·m²/mol]."""
LIMITING_SLOPE_NACL: Final = 89.2e-4 / 1000.0**0.5
"""Kohlrausch slope for NaCl, 89.2 S·cm²/mol per √(mol/L) at 25 °C, from memory [S·m²/mol per √(mol/m³)]."""
PURE_WATER_RESISTIVITY_25C_ohm_m: Final = 18.18e4
"""Resistivity of pure water at 25 °C, 18.18 MΩ·cm (Light et al. 2005) [Ω·m]."""
EXTRACT_FLUID_PROPANOL_SHARE: Final = 0.75
"""Volume share of 2-propanol in the extract fluid, the rest DI water (IPC-TM-650 2.3.25) [1]."""
EXTRACT_FLUID_PROPANOL_TOLERANCE: Final = 0.02
"""Allowed deviation of that share, both ways (IPC-TM-650 2.3.25) [1]."""

_SQUARE_CENTIMETRES_PER_SQUARE_INCH: Final = 6.4516
_KELVIN_AT_25C: Final = 298.15
# ln(κ(t)/κ(25 °C)) = a x + b x² + c x³, x = t − 25 K; our own least-squares fit, see
# pure_water_resistivity_ohm_m.
_PURE_WATER_FIT: Final = (5.433823490166449e-2, -3.3211506903289335e-4, 9.959574939853985e-7)


def salt_conductivity_S_m(
    concentration_kg_m3: Values, limiting_slope: float = 0.0
) -> Values:
    """Conductivity that dissolved NaCl adds to water at 25 °C.

    Parameters
    ----------
    concentration_kg_m3 : kg/m³ (= g/L; 1 mg/L is 1e-3), any shape
    limiting_slope : S·m²/mol per √(mol/m³); 0 is infinite dilution, `LIMITING_SLOPE_NACL` is Kohlrausch's law

    Returns
    -------
    S/m, shape of the concentration; the water's own conductivity is not in it.

    Errors
    ------
    ValueError if a concentration or the slope is negative.

    Notes
    -----
    Kohlrausch: κ = c (Λ0 − K √c). At 1 mg/L the slope takes off 0.3 %, at 100 mg/L 3 %; above about 0.01
    mol/L (600 mg/L) the law itself fails. Slope 0 keeps the conversion exactly invertible and is the
    trade's habit.

    >>> round(float(salt_conductivity_S_m(1e-3)) * 1e4, 3)  # 1 mg/L in µS/cm
    2.164
    """
    concentration = require_not_negative("the salt concentration", concentration_kg_m3, "kg/m³")
    require_not_negative("the limiting slope", limiting_slope, "S·m²/mol per √(mol/m³)")
    amount_mol_m3 = concentration / MOLAR_MASS_NACL_kg_mol
    molar = MOLAR_CONDUCTIVITY_NACL_S_m2_mol - limiting_slope * np.sqrt(amount_mol_m3)
    return plain(amount_mol_m3 * molar)


def pure_water_resistivity_ohm_m(temperature_K: Values) -> Values:
    """Resistivity of water without any salt: the most that a meter can ever show.

    Parameters
    ----------
    temperature_K : K, any shape, 273 to 373

    Returns
    -------
    Ω·m (1 MΩ·cm is 1e4 Ω·m).

    Errors
    ------
    ValueError outside 273.15 to 373.15 K.

    Notes
    -----
    Anchored at 18.18 MΩ·cm and 25 °C (Light et al. 2005, Electrochem. Solid-State Lett. 8 E16). The
    temperature course is a cubic in ln κ that we fitted to Marshall's conductance equation as coded in the
    `iapws` library; the fit follows it within 2.1 % from 0 to 99 °C, and 100 °C comes within 3 % of the
    1.29 MΩ·cm of Morash et al. 1994. Meters that compensate to 25 °C show 18.18 at any temperature; use
    this function for uncompensated readings only.

    >>> round(float(pure_water_resistivity_ohm_m(298.15)) * 1e-4, 2)  # MΩ·cm
    18.18
    """
    temperature = require_within("water temperature", temperature_K, 273.15, 373.15, "K")
    above_25 = temperature - _KELVIN_AT_25C
    first, second, third = _PURE_WATER_FIT
    log_ratio = above_25 * (first + above_25 * (second + above_25 * third))
    return plain(PURE_WATER_RESISTIVITY_25C_ohm_m * np.exp(-log_ratio))


def resistivity_ohm_m(concentration_kg_m3: Values, limiting_slope: float = 0.0) -> Values:
    """Resistivity at 25 °C of water that holds so much NaCl-equivalent.

    Parameters
    ----------
    concentration_kg_m3 : kg/m³, any shape
    limiting_slope : see `salt_conductivity_S_m`

    Returns
    -------
    Ω·m; 18.18 MΩ·cm at zero salt.

    Errors
    ------
    ValueError if a concentration is negative.

    Notes
    -----
    1/R = κ_water + κ_salt. The water's own ions are kept unchanged, which holds for a neutral salt;
    dissolved carbon dioxide from air alone brings open water to about 1 MΩ·cm (from memory) and counts
    here as salt.
    """
    own = 1.0 / PURE_WATER_RESISTIVITY_25C_ohm_m
    return plain(np.asarray(1.0 / (own + salt_conductivity_S_m(concentration_kg_m3, limiting_slope))))


def salt_concentration_kg_m3(resistivity_at_25C_ohm_m: Values) -> Values:
    """NaCl-equivalent of water from its resistivity at 25 °C: `resistivity_ohm_m` (slope 0) inverted.

    Parameters
    ----------
    resistivity_at_25C_ohm_m : Ω·m, temperature-compensated to 25 °C, any shape

    Returns
    -------
    kg/m³ (1e-3 is 1 mg/L).

    Errors
    ------
    ValueError if a resistivity is not positive or is above that of pure water.

    >>> round(float(salt_concentration_kg_m3(1.0e4)) * 1e3, 3)  # 1 MΩ·cm in mg/L
    0.437
    """
    resistivity = require_above_zero("resistivity at 25 °C", resistivity_at_25C_ohm_m, "Ω·m")
    # 1e-9 above pure water is rounding, not a wrong entry.
    if np.any(resistivity > PURE_WATER_RESISTIVITY_25C_ohm_m * (1.0 + 1e-9)):
        raise UnphysicalInputError(
            f"resistivity at 25 °C: {np.max(resistivity):g} Ω·m is not allowed. Pure water has 181800 Ω·m "
            "(18.18 MΩ·cm); give no more than that."
        )
    conductivity = np.maximum(1.0 / resistivity - 1.0 / PURE_WATER_RESISTIVITY_25C_ohm_m, 0.0)
    return plain(conductivity / MOLAR_CONDUCTIVITY_NACL_S_m2_mol * MOLAR_MASS_NACL_kg_mol)


def micrograms_per_square_centimetre(micrograms_per_square_inch: Values) -> Values:
    """Turn µg/in² into µg/cm².

    Parameters
    ----------
    micrograms_per_square_inch : µg/in², any shape

    Returns
    -------
    µg/cm².

    Errors
    ------
    ValueError if an amount is negative.

    Notes
    -----
    The often quoted 1.56 µg/cm² (10.06 µg/in²) is a historical figure of one old test method; as an
    accept/reject limit it is obsolete (IPC-WP-019B). The limit is the plant's own, from its own evidence.

    >>> round(float(micrograms_per_square_centimetre(10.06)), 3)
    1.559
    """
    amount = require_not_negative("the surface residue", micrograms_per_square_inch, "µg/in²")
    return plain(amount / _SQUARE_CENTIMETRES_PER_SQUARE_INCH)


def micrograms_per_square_inch(micrograms_per_square_centimetre: Values) -> Values:
    """Turn µg/cm² into µg/in²; the inverse of `micrograms_per_square_centimetre`, with the same errors."""
    amount = require_not_negative("the surface residue", micrograms_per_square_centimetre, "µg/cm²")
    return plain(amount * _SQUARE_CENTIMETRES_PER_SQUARE_INCH)


def extracted_residue_kg_m2(
    concentration_kg_m3: Values, extract_volume_m3: Values, board_area_m2: Values
) -> Values:
    """Residue per board area from an extract test (static bath): concentration × volume ÷ area.

    Parameters
    ----------
    concentration_kg_m3 : kg/m³ NaCl-equivalent in the extract, any shape
    extract_volume_m3 : m³ of extract fluid
    board_area_m2 : m², both faces (length × width × 2); components' own area is by convention not counted
        here

    Returns
    -------
    kg/m² (1e-5 kg/m² is 1 µg/cm²).

    Errors
    ------
    ValueError if the area is not positive or another input is negative.

    Notes
    -----
    What the fluid did not dissolve, above all under low components, is not in the figure: a good extract
    result does not prove a clean gap. The extract fluid is 75 ± 2 % by volume 2-propanol in water
    (IPC-TM-650 2.3.25); its conductivity per amount of salt differs from water's, so the meter must be
    calibrated in that fluid.
    """
    concentration = require_not_negative("the extract concentration", concentration_kg_m3, "kg/m³")
    volume = require_not_negative("the extract volume", extract_volume_m3, "m³")
    area = require_above_zero("board area", board_area_m2, "m²")
    return plain(concentration * volume / area)
