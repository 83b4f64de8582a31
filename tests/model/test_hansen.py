"""Hansen distance and RED: symmetry, scaling, missing parameters, error sentences."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog_schema.fluids import HansenParameters
from model.hansen import HansenPoint, drawn_red, hansen_distance_sqrtPa, relative_energy_difference
from model.uncertainty import InputBook

PARAMETER = st.floats(0.0, 60e3)


def point(values: tuple[float, float, float]) -> HansenPoint:
    return HansenPoint(dispersion_sqrtPa=values[0], polar_sqrtPa=values[1], hydrogen_bonding_sqrtPa=values[2])


TRIPLE = st.tuples(PARAMETER, PARAMETER, PARAMETER)


@settings(deadline=None, max_examples=50)
@given(first=TRIPLE, second=TRIPLE, third=TRIPLE)
def test_distance_is_symmetric_and_keeps_the_triangle(
    first: tuple[float, float, float], second: tuple[float, float, float], third: tuple[float, float, float]
) -> None:
    one, two, three = point(first), point(second), point(third)
    direct = hansen_distance_sqrtPa(one, two)
    assert direct == pytest.approx(hansen_distance_sqrtPa(two, one))
    assert direct <= (hansen_distance_sqrtPa(one, three) + hansen_distance_sqrtPa(three, two)) * (1 + 1e-12) + 1e-9


def test_dispersion_counts_twice_as_far_as_the_other_parts() -> None:
    origin = point((1e4, 1e4, 1e4))
    assert hansen_distance_sqrtPa(origin, point((1.1e4, 1e4, 1e4))) == pytest.approx(2e3)
    assert hansen_distance_sqrtPa(origin, point((1e4, 1.1e4, 1e4))) == pytest.approx(1e3)


def test_red_falls_as_the_radius_grows_and_needs_a_radius() -> None:
    assert relative_energy_difference(8e3, 4e3) == pytest.approx(2.0)
    with pytest.raises(ValueError, match=r"interaction radius: 0 Pa\^½ is not allowed"):
        relative_energy_difference(8e3, 0.0)
    with pytest.raises(ValueError, match="polar parameter: -1 Pa"):
        hansen_distance_sqrtPa(point((1.0, -1.0, 1.0)), point((1.0, 1.0, 1.0)))


def test_red_is_drawn_where_both_are_known_and_absent_otherwise() -> None:
    fluid = HansenParameters.model_validate(
        {"dispersion": "15 MPa^0.5", "polar": "5..7 MPa^0.5", "hydrogen_bonding": "10 MPa^0.5"}
    )
    polymer = HansenParameters.model_validate(
        {"dispersion": "15 MPa^0.5", "polar": "10 MPa^0.5", "hydrogen_bonding": "10 MPa^0.5",
         "interaction_radius": "8 MPa^0.5"}
    )  # fmt: skip
    book = InputBook(50, 3)
    red = drawn_red(fluid, "fluids[f].hansen", polymer, "wetted_materials[m].hansen", book)
    assert red is not None
    assert red.min() == pytest.approx((10 - 6.98) / 8, rel=1e-3)
    assert red.max() == pytest.approx((10 - 5.02) / 8, rel=1e-3)
    records = {record.path: record.basis for record in book.inputs()}
    names = ("dispersion", "polar", "hydrogen_bonding")
    assert set(records) == {
        *(f"fluids[f].hansen.{name}" for name in names),
        *(f"wetted_materials[m].hansen.{name}" for name in (*names, "interaction_radius")),
    }
    assert set(records.values()) == {"from memory"}
    assert drawn_red(fluid, "a", fluid, "b", InputBook(50, 3)) is None
    assert np.all(np.isfinite(red))
