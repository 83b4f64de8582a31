"""Rinse and ionic figures against outside sources; the tag beside each says how the value was obtained."""

from __future__ import annotations

import numpy as np
import pytest
from iapws import IAPWS97
from iapws._iapws import _Conductivity

from model.ionic import (
    EXTRACT_FLUID_PROPANOL_SHARE,
    EXTRACT_FLUID_PROPANOL_TOLERANCE,
    micrograms_per_square_centimetre,
    pure_water_resistivity_ohm_m,
    resistivity_ohm_m,
    salt_concentration_kg_m3,
    salt_conductivity_S_m,
)
from model.rinse import CarryOver, batch_rinse, carry_over
from model.rinse_supply import counterflow_dilution, counterflow_flow_ratio


def test_one_stage_rinse_dilutes_by_drag_out_plus_flow_over_drag_out() -> None:
    # P: plating handbooks, C0/C = (D + Q)/D; D 1, Q 99 → 100.
    load = CarryOver(open_m3=1.0, gap_m3=0.0, area_m2=1.0)
    assert batch_rinse(load, 1.0, 1, 99.0, 1.0).residue_left_kg == pytest.approx(1 / 100, rel=1e-12)
    assert counterflow_dilution(99.0, 1) == pytest.approx(100.0, rel=1e-12)


@pytest.mark.parametrize(("stages", "ratio"), [(1, 999.0), (2, 31.1109), (3, 9.64197), (4, 5.33962)])
def test_counterflow_ratio_for_a_thousandfold_dilution(stages: int, ratio: float) -> None:
    # P: plating handbooks, C0/Cn = Σ r^i. Six printed digits, so 1e-6 … 3e-6.
    assert counterflow_flow_ratio(1000.0, stages) == pytest.approx(ratio, rel=3e-6)


@pytest.mark.parametrize("stages", [2, 3, 4])
def test_the_series_lies_a_share_below_the_short_form_not_above(stages: int) -> None:
    # P: the printed short form X^(1/n) + 1/n oversizes; the series gives about X^(1/n) − 1/n.
    short = 1000.0 ** (1 / stages)
    ratio = counterflow_flow_ratio(1000.0, stages)
    assert ratio < short
    assert ratio == pytest.approx(short - 1 / stages, rel=0.02)


@pytest.mark.parametrize(("gallons", "millilitres"), [(0.4, 16.3), (2.0, 81.5), (4.0, 163.0)])
def test_drag_out_of_well_poorly_and_very_poorly_drained_work(gallons: float, millilitres: float) -> None:
    # M: plating handbooks, Kushner, from memory; the conversion from gal per 1000 ft² is N. 3.785412 L, 0.09290304 m².
    drag_out = gallons * 3.785412e-3 / (1000 * 0.09290304)
    assert drag_out * 1e6 == pytest.approx(millilitres, rel=2e-3)
    assert carry_over(2.0, drag_out, 0.0, 0.0).open_m3 == pytest.approx(2.0 * millilitres * 1e-6, rel=2e-3)


def test_historic_figure_in_both_units() -> None:
    # P: IPC-WP-019B; 10.06 µg/in² = 1.559 µg/cm², obsolete as an acceptance value.
    assert micrograms_per_square_centimetre(10.06) == pytest.approx(1.559, rel=1e-3)


def test_extract_fluid_is_three_quarters_propanol() -> None:
    # P: IPC-TM-650 2.3.25: 75 ± 2 % v/v 2-propanol in water.
    assert (EXTRACT_FLUID_PROPANOL_SHARE, EXTRACT_FLUID_PROPANOL_TOLERANCE) == (0.75, 0.02)


def test_conductivity_of_one_milligram_salt_per_litre() -> None:
    # N: Λ0 126.45 S·cm²/mol → 2.164 µS/cm.
    assert float(salt_conductivity_S_m(1e-3)) * 1e4 == pytest.approx(2.164, rel=1e-3)


def test_one_megohm_centimetre_is_less_than_half_a_milligram_per_litre() -> None:
    # N: (1 − 0.0550) µS/cm ÷ 2.164 = .437 mg/L.
    assert float(salt_concentration_kg_m3(1e4)) * 1e3 == pytest.approx(0.437, rel=1e-3)


def test_pure_water_at_25_degrees() -> None:
    # P: Light et al. 2005, Electrochem. Solid-State Lett. 8 E16: 18.18 MΩ·cm.
    assert float(pure_water_resistivity_ohm_m(298.15)) * 1e-4 == pytest.approx(18.18, rel=1e-4)


def test_one_microgram_salt_per_litre_in_pure_water() -> None:
    # P: Morash et al. 1994, Ultrapure Water (abstract): 18.18 → 17.5 MΩ·cm, −3.9 %; printed to three digits.
    assert float(resistivity_ohm_m(1e-6)) * 1e-4 == pytest.approx(17.5, rel=3e-3)


def test_pure_water_at_100_degrees() -> None:
    # P: Morash et al. 1994 (abstract): 1.29 MΩ·cm. 3 %: our cubic follows another conductance equation.
    assert float(pure_water_resistivity_ohm_m(373.15)) * 1e-4 == pytest.approx(1.29, rel=0.03)


@pytest.mark.parametrize("celsius", [1.0, 10.0, 25.0, 40.0, 60.0, 80.0, 99.0])
def test_temperature_course_follows_the_iapws_library(celsius: float) -> None:
    # L: Marshall's conductance equation in `iapws`; 2.2 % is the misfit of our cubic.
    kelvin = celsius + 273.15
    live = 1.0 / _Conductivity(IAPWS97(T=kelvin, P=0.101325).rho, kelvin)
    assert np.asarray(pure_water_resistivity_ohm_m(kelvin)) == pytest.approx(live, rel=0.022)
