"""Hansen distances against the handbook's parameters."""

from __future__ import annotations

import pytest

from model.hansen import HansenPoint, hansen_distance_sqrtPa, relative_energy_difference

# P: Hansen 2007, Hansen Solubility Parameters, a user's handbook: δD, δP, δH in MPa^½.
PARAMETERS = {
    "2-propanol": (15.8, 6.1, 16.4),
    "water": (15.5, 16.0, 42.3),
    "butyl diglycol": (16.0, 7.0, 10.6),
}


def point(name: str) -> HansenPoint:
    dispersion, polar, hydrogen = (1e3 * value for value in PARAMETERS[name])
    return HansenPoint(dispersion_sqrtPa=dispersion, polar_sqrtPa=polar, hydrogen_bonding_sqrtPa=hydrogen)


# P: Hansen 2007; 1e-4 because the parameters have three digits and the distance is printed with five.
def test_distance_of_2_propanol_and_water() -> None:
    assert hansen_distance_sqrtPa(point("2-propanol"), point("water")) == pytest.approx(27.734e3, rel=1e-4)


# N: Ra² = 4·0.2² + 0.9² + 5.8², worked by hand from the handbook's parameters.
def test_distance_of_2_propanol_and_butyl_diglycol() -> None:
    expected = 1e3 * (4 * 0.04 + 0.81 + 33.64) ** 0.5
    assert hansen_distance_sqrtPa(point("butyl diglycol"), point("2-propanol")) == pytest.approx(expected, rel=1e-9)


# P: Hansen 2007 defines RED = Ra/R0, 1 on the sphere's surface.
def test_red_is_one_on_the_surface_of_the_sphere() -> None:
    distance = hansen_distance_sqrtPa(point("2-propanol"), point("water"))
    assert relative_energy_difference(distance, 27.734e3) == pytest.approx(1.0, rel=1e-4)
