"""Hansen solubility parameters: how close a fluid is to a polymer that it may swell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.fluids import HansenParameters
from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative
from model.uncertainty import InputBook


@dataclass(frozen=True, slots=True, kw_only=True)
class HansenPoint:
    """Place of a substance in Hansen space."""

    dispersion_sqrtPa: Values
    """Dispersion part δD [Pa^½], float or (draws,)."""
    polar_sqrtPa: Values
    """Polar part δP [Pa^½], float or (draws,)."""
    hydrogen_bonding_sqrtPa: Values
    """Hydrogen-bonding part δH [Pa^½], float or (draws,)."""


def hansen_distance_sqrtPa(first: HansenPoint, second: HansenPoint) -> Values:
    """Distance Ra of two substances in Hansen space.

    Parameters
    ----------
    first, second : HansenPoint
        Pa^½, float or (draws,).

    Returns
    -------
    float or ndarray (draws,)
        Ra [Pa^½].

    Errors
    ------
    ValueError if a parameter is negative or not finite.

    Notes
    -----
    Ra² = 4 (ΔδD)² + (ΔδP)² + (ΔδH)². Rates equilibrium affinity at room temperature only: neither the speed of
    swelling, nor chemical attack (an amine on FKM), nor heat is in it. Basis: Hansen 2007, Hansen Solubility
    Parameters, a user's handbook.

    >>> alcohol = HansenPoint(dispersion_sqrtPa=15.8e3, polar_sqrtPa=6.1e3, hydrogen_bonding_sqrtPa=16.4e3)
    >>> water = HansenPoint(dispersion_sqrtPa=15.5e3, polar_sqrtPa=16.0e3, hydrogen_bonding_sqrtPa=42.3e3)
    >>> round(hansen_distance_sqrtPa(alcohol, water) / 1e3, 3)
    27.734
    """
    pairs = [
        (require_not_negative(name, one, "Pa^½"), require_not_negative(name, other, "Pa^½"))
        for name, one, other in (
            ("dispersion parameter", first.dispersion_sqrtPa, second.dispersion_sqrtPa),
            ("polar parameter", first.polar_sqrtPa, second.polar_sqrtPa),
            ("hydrogen-bonding parameter", first.hydrogen_bonding_sqrtPa, second.hydrogen_bonding_sqrtPa),
        )
    ]
    dispersion, polar, hydrogen = (one - other for one, other in pairs)
    return plain(np.asarray(np.sqrt(4.0 * dispersion**2 + polar**2 + hydrogen**2)))


def relative_energy_difference(distance_sqrtPa: Values, interaction_radius_sqrtPa: Values) -> Values:
    """Relative energy difference RED of a fluid and a polymer; below 1 the fluid may swell or dissolve it.

    Parameters
    ----------
    distance_sqrtPa : float or (draws,)
        Ra between fluid and polymer [Pa^½].
    interaction_radius_sqrtPa : float or (draws,)
        R0 of the polymer [Pa^½].

    Returns
    -------
    float or ndarray (draws,)
        RED [1].

    Errors
    ------
    ValueError if the distance is negative or the radius is not above 0.

    Notes
    -----
    RED = Ra/R0 (Hansen 2007). Evidence, never proof: cross-linked elastomers swell where RED is low and do not
    dissolve; small molecules enter polymers at RED above 1.
    """
    distance = require_not_negative("Hansen distance", distance_sqrtPa, "Pa^½")
    return plain(distance / require_above_zero("interaction radius", interaction_radius_sqrtPa, "Pa^½"))


def drawn_red(
    fluid: HansenParameters | None, fluid_path: str, polymer: HansenParameters | None, polymer_path: str,
    book: InputBook,
) -> FloatArray | None:  # fmt: skip
    """RED of a fluid and a polymer over the draws, or None when either is not known.

    Parameters
    ----------
    fluid, polymer : HansenParameters or None
        The polymer's need an interaction radius.
    fluid_path, polymer_path : str
        Paths of the two records of parameters, under which the draws are noted.
    book : InputBook

    Returns
    -------
    ndarray (draws,) or None
        RED [1].
    """
    if fluid is None or polymer is None or polymer.interaction_radius is None:
        return None

    def point(parameters: HansenParameters, path: str) -> HansenPoint:
        return HansenPoint(
            dispersion_sqrtPa=book.take(parameters.dispersion, f"{path}.dispersion", "from memory"),
            polar_sqrtPa=book.take(parameters.polar, f"{path}.polar", "from memory"),
            hydrogen_bonding_sqrtPa=book.take(parameters.hydrogen_bonding, f"{path}.hydrogen_bonding", "from memory"),
        )

    radius = book.take(polymer.interaction_radius, f"{polymer_path}.interaction_radius", "from memory")
    distance = hansen_distance_sqrtPa(point(fluid, fluid_path), point(polymer, polymer_path))
    return np.asarray(relative_energy_difference(distance, radius))
