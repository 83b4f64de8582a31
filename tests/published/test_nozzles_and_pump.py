"""Nozzles, jet film and pump against handbook relations, printed tables and reference libraries."""

from __future__ import annotations

import fluids as fluids_library
import numpy as np
import pytest
from scipy.integrate import quad

from model import nozzles, pump

INCH_M = 0.0254
LITRE_PER_MINUTE = 1e-3 / 60.0


# N: Q = Cd·A·√(2Δp/ρ).
def test_orifice_flow_of_two_millimetres_at_three_bar() -> None:
    flow = nozzles.orifice_flow_m3_s(0.002, 3e5, 0.62, 998.2)
    assert flow / LITRE_PER_MINUTE == pytest.approx(2.8652, rel=5e-5)
    assert nozzles.jet_speed_m_s(3e5, 1.0, 998.2) == pytest.approx(24.517, rel=5e-5)


# P: fluid-mechanics handbooks, F = 2·A·Δp; .3 % as the printed value has four digits and a rounded area.
def test_ideal_thrust_of_fifteen_millimetres_at_three_bar() -> None:
    flow = nozzles.orifice_flow_m3_s(0.015, 3e5, 1.0, 998.2)
    force = nozzles.thrust_N(flow, nozzles.jet_speed_m_s(3e5, 1.0, 998.2), 998.2)
    assert force == pytest.approx(106.0, rel=3e-3)


# M: from memory, thrust per flow and root of pressure for water of 1000 kg/m³; handbooks print the rounded .024.
def test_thrust_coefficients_in_shop_units() -> None:
    per_bar = nozzles.thrust_N(LITRE_PER_MINUTE, nozzles.jet_speed_m_s(1e5, 1.0, 1000.0), 1000.0)
    assert per_bar == pytest.approx(0.23570, rel=5e-5)
    technical_Pa, kilogram_force_N = 98066.5, 9.80665
    per_technical = nozzles.thrust_N(LITRE_PER_MINUTE, nozzles.jet_speed_m_s(technical_Pa, 1.0, 1000.0), 1000.0)
    assert per_technical / kilogram_force_N == pytest.approx(0.023801, rel=5e-5)


# P: agricultural nozzle coverage tables, theoretical width printed to a tenth of an inch.
@pytest.mark.parametrize(
    ("angle_deg", "distance_in", "width_in"), [(15, 8, 2.1), (45, 12, 9.9), (60, 24, 27.7)]
)
def test_spray_width_agrees_with_coverage_tables(
    angle_deg: float, distance_in: float, width_in: float
) -> None:
    width_m = nozzles.spray_width_m(distance_in * INCH_M, np.radians(angle_deg))
    assert width_m / INCH_M == pytest.approx(width_in, abs=0.1)


# N: Watson 1964, J. Fluid Mech. 20:481; d 2 mm, 10 m/s, ν 1e-6 m²/s.
def test_watson_film_of_a_two_millimetre_jet() -> None:
    flow = np.pi * 0.001**2 * 10.0
    assert nozzles.watson_transition_radius_m(flow, 10.0, 1e-6) == pytest.approx(9.956e-3, rel=1e-3)
    assert nozzles.watson_film_thickness_m(0.020, flow, 10.0, 1e-6) == pytest.approx(83.05e-6, rel=1e-3)
    assert nozzles.watson_surface_speed_m_s(0.020, flow, 10.0, 1e-6) == pytest.approx(4.894, rel=1e-3)
    assert nozzles.film_run_out_radius_m(flow, 10.0, 1e-6, 4.894) == pytest.approx(0.020, rel=1e-3)


# M: the constants of Watson 1964 from memory: r0 = .3155·a·R^(1/3), l = .567·a·R^(1/3), c = 1.402.
def test_closed_form_constants_agree_with_the_rounded_ones_of_the_paper() -> None:
    assert np.cbrt(nozzles._R0_CUBED) == pytest.approx(0.3155, rel=2e-4)
    assert np.cbrt(nozzles._L_CUBED) == pytest.approx(0.567, rel=1e-3)
    shape, _ = quad(lambda x: (1.0 - x**3) ** -0.5, 0.0, 1.0)
    assert nozzles._SHAPE == pytest.approx(shape, rel=1e-7)


# N: P = Q·Δp/η.
def test_pump_power_of_thirty_cubic_metres_an_hour_at_three_bar() -> None:
    assert pump.hydraulic_power_W(30.0 / 3600.0, 3e5) == pytest.approx(2500.0, rel=1e-12)
    assert pump.shaft_power_W(30.0 / 3600.0, 3e5, 0.6) == pytest.approx(4166.7, rel=1e-5)


# L: Colebrook through the fluids library.
def test_friction_factor_reproduces_the_colebrook_value() -> None:
    assert pump.friction_factor(1e5, 1e-4) == pytest.approx(0.0185138661, rel=1e-8)


# L: live, the fluids library's Colebrook solver over smooth to rough and slow to very fast.
@pytest.mark.parametrize("relative_roughness", [0.0, 1e-6, 1e-4, 1e-2, 0.05])
@pytest.mark.parametrize("reynolds", [4e3, 1e5, 1e7, 1e9])
def test_friction_factor_agrees_with_the_fluids_library(reynolds: float, relative_roughness: float) -> None:
    expected = fluids_library.friction.Colebrook(reynolds, relative_roughness)
    assert pump.friction_factor(reynolds, relative_roughness) == pytest.approx(expected, rel=1e-8)


# L: live, laminar law.
def test_friction_factor_is_laminar_below_2300() -> None:
    expected = fluids_library.friction.friction_laminar(1500.0)
    assert pump.friction_factor(1500.0, 0.01) == pytest.approx(expected, rel=1e-12)


# P: worked example with cold density 1000 and g 9.81: 10.77 m. Ours uses 9.80665, hence 1e-3.
def test_npsh_reproduces_the_worked_example_with_cold_density() -> None:
    head = pump.npsh_available_m(101300.0, 313.15, 2.0, 0.8, density_kg_m3=1000.0)
    assert head == pytest.approx(10.77, rel=1e-3)


# N: the same example with hot density: the column is lighter, so the pressure term gains 1000/992.2.
def test_npsh_uses_hot_density_by_default() -> None:
    cold = pump.npsh_available_m(101300.0, 313.15, 2.0, 0.8, density_kg_m3=1000.0)
    hot = pump.npsh_available_m(101300.0, 313.15, 2.0, 0.8)
    assert (hot - 1.2) / (cold - 1.2) == pytest.approx(1000.0 / 992.216, rel=1e-5)
