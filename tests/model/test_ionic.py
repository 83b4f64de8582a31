"""Conversions between resistivity, salt in water and residue on boards."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.ionic import (
    LIMITING_SLOPE_NACL,
    PURE_WATER_RESISTIVITY_25C_ohm_m,
    extracted_residue_kg_m2,
    micrograms_per_square_centimetre,
    micrograms_per_square_inch,
    pure_water_resistivity_ohm_m,
    resistivity_ohm_m,
    salt_concentration_kg_m3,
    salt_conductivity_S_m,
)


@settings(deadline=None, max_examples=50)
@given(st.floats(1e-8, 1.0))
def test_concentration_and_resistivity_are_inverse(concentration: float) -> None:
    assert salt_concentration_kg_m3(resistivity_ohm_m(concentration)) == pytest.approx(concentration, rel=1e-6)


@settings(deadline=None, max_examples=50)
@given(st.floats(1e-6, 0.5), st.floats(1.01, 3.0))
def test_more_salt_always_lowers_resistivity(concentration: float, factor: float) -> None:
    assert resistivity_ohm_m(concentration * factor) < resistivity_ohm_m(concentration)


def test_water_without_salt_has_pure_water_resistivity() -> None:
    assert resistivity_ohm_m(0.0) == pytest.approx(PURE_WATER_RESISTIVITY_25C_ohm_m, rel=1e-12)
    assert salt_concentration_kg_m3(PURE_WATER_RESISTIVITY_25C_ohm_m) == pytest.approx(0.0, abs=1e-15)


def test_limiting_slope_takes_off_more_at_higher_concentration() -> None:
    concentration = np.array([1e-3, 1e-1])
    share = salt_conductivity_S_m(concentration, LIMITING_SLOPE_NACL) / salt_conductivity_S_m(concentration)
    assert share == pytest.approx([0.9971, 0.9708], abs=2e-4)


def test_the_limiting_slope_counts_in_the_resistivity_too() -> None:
    own = 1.0 / PURE_WATER_RESISTIVITY_25C_ohm_m
    with_slope = resistivity_ohm_m(0.1, LIMITING_SLOPE_NACL)
    assert 1.0 / with_slope - own == pytest.approx(salt_conductivity_S_m(0.1, LIMITING_SLOPE_NACL), rel=1e-12)
    assert with_slope > resistivity_ohm_m(0.1)


def test_water_purer_than_pure_is_refused() -> None:
    sentence = (
        "resistivity at 25 °C: 200000 Ω·m is not allowed. Pure water has 181800 Ω·m (18.18 MΩ·cm); "
        "give no more than that."
    )
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        salt_concentration_kg_m3(2e5)


def test_hot_pure_water_conducts_better() -> None:
    resistivity = np.asarray(pure_water_resistivity_ohm_m(np.linspace(273.15, 373.15, 101)))
    assert np.all(np.diff(resistivity) < 0.0)


@settings(deadline=None, max_examples=50)
@given(st.floats(0.0, 1e3))
def test_square_inch_and_square_centimetre_are_inverse(amount: float) -> None:
    there_and_back = micrograms_per_square_inch(micrograms_per_square_centimetre(amount))
    assert there_and_back == pytest.approx(amount, rel=1e-12)


def test_extract_of_one_litre_at_one_mg_per_litre_from_a_tenth_square_metre() -> None:
    # 1 mg on 1000 cm² is 1 µg/cm², that is 1e-5 kg/m².
    assert extracted_residue_kg_m2(1e-3, 1e-3, 0.1) == pytest.approx(1e-5, rel=1e-12)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: salt_conductivity_S_m(-1.0), "salt concentration: -1 kg/m³ is not allowed"),
        (lambda: salt_conductivity_S_m(1.0, -1.0), "limiting slope"),
        (lambda: salt_concentration_kg_m3(2e5), "Pure water has 181800"),
        (lambda: salt_concentration_kg_m3(0.0), "resistivity at 25 °C"),
        (lambda: pure_water_resistivity_ohm_m(400.0), "water temperature"),
        (lambda: micrograms_per_square_centimetre(-1.0), "surface residue"),
        (lambda: extracted_residue_kg_m2(1.0, 1.0, 0.0), "board area"),
        (lambda: extracted_residue_kg_m2(float("nan"), 1.0, 1.0), "extract concentration"),
    ],
)
def test_wrong_input_is_refused_by_name(call, message) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=message):
        call()
