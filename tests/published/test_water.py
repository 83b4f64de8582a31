"""Water and moist air against IAPWS releases, reference libraries and printed handbook values."""

from __future__ import annotations

import CoolProp.CoolProp as coolprop
import iapws._iapws
import numpy as np
import psychrolib
import pytest

from model import fluids, moist_air

ATMOSPHERE_PA = 101325.0
KELVIN = 273.15


# L: IAPWS-95 at 1 atm; 1e-5 is the spread asked for, the equation itself differs by 1e-6.
@pytest.mark.parametrize(
    ("celsius", "density_kg_m3"), [(20, 998.207), (40, 992.216), (60, 983.196), (80, 971.790)]
)
def test_water_density_agrees_with_iapws_95(celsius: float, density_kg_m3: float) -> None:
    assert fluids.water_density_kg_m3(celsius + KELVIN) == pytest.approx(density_kg_m3, rel=1e-5)


# L: live, CoolProp's IAPWS-95 from just above freezing to just below boiling at 1 atm.
def test_water_density_agrees_with_coolprop_over_the_whole_liquid_range() -> None:
    temperatures = np.linspace(0.1, 99.9, 40) + KELVIN
    expected = coolprop.PropsSI("D", "T", temperatures, "P", ATMOSPHERE_PA, "Water")
    np.testing.assert_allclose(fluids.water_density_kg_m3(temperatures), expected, rtol=2e-6)


# L: live, the iapws package's own coding of SR6-08; same equation, so only the 10th digit may differ.
@pytest.mark.parametrize("celsius", [-10.0, 5.0, 37.0, 71.0, 105.0])
def test_water_density_agrees_with_iapws_sr6_08(celsius: float) -> None:
    expected = iapws._iapws._Liquid(celsius + KELVIN)["rho"]
    assert fluids.water_density_kg_m3(celsius + KELVIN) == pytest.approx(expected, rel=1e-10)


# L: IAPWS R12-08 at 1 atm.
@pytest.mark.parametrize(
    ("celsius", "viscosity_Pa_s"),
    [(20, 1.00160e-3), (40, 6.5273e-4), (60, 4.6604e-4), (80, 3.5405e-4)],
)
def test_water_viscosity_agrees_with_iapws_2008(celsius: float, viscosity_Pa_s: float) -> None:
    assert fluids.water_viscosity_Pa_s(celsius + KELVIN) == pytest.approx(viscosity_Pa_s, rel=2e-5)


# P: IAPWS R12-08, computer-program verification value; tolerance is its last printed digit.
def test_water_viscosity_reproduces_the_printed_verification_value() -> None:
    assert fluids.water_viscosity_Pa_s(298.15, 998.0) == pytest.approx(889.735100e-6, rel=1e-9)


# L: live, iapws package; all 21 coefficients matter at these states.
def test_water_viscosity_agrees_with_iapws_package_at_other_densities() -> None:
    for temperature_K, density in [(280.0, 1005.0), (320.0, 960.0), (380.0, 940.0), (373.15, 600.0)]:
        expected = iapws._iapws._Viscosity(density, temperature_K)
        assert fluids.water_viscosity_Pa_s(temperature_K, density) == pytest.approx(expected, rel=1e-10)


# L: IAPWS-95 and ASHRAE Fundamentals; 3e-4 covers the spread between the two.
@pytest.mark.parametrize(
    ("celsius", "pressure_Pa"), [(20, 2339.3), (40, 7384.9), (60, 19946.0), (80, 47415.0)]
)
def test_water_saturation_pressure_agrees_with_iapws_95_and_ashrae(celsius: float, pressure_Pa: float) -> None:
    assert fluids.water_saturation_pressure_Pa(celsius + KELVIN) == pytest.approx(pressure_Pa, rel=3e-4)


# L: live, CoolProp (IAPWS-95) and PsychroLib (ASHRAE).
def test_saturation_pressure_agrees_with_coolprop_and_psychrolib() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    temperatures = np.linspace(1.0, 150.0, 30) + KELVIN
    ours = np.asarray(fluids.water_saturation_pressure_Pa(temperatures))
    np.testing.assert_allclose(ours, coolprop.PropsSI("P", "T", temperatures, "Q", 0, "Water"), rtol=1e-4)
    ashrae = [psychrolib.GetSatVapPres(temperature - KELVIN) for temperature in temperatures]
    np.testing.assert_allclose(ours, ashrae, rtol=5e-4)  # ASHRAE's fit departs from IAPWS-95 by up to 4e-4


# N: IAPWS R1-76(2014), the equation evaluated independently; 2e-3 as the table value has four digits.
@pytest.mark.parametrize(("celsius", "tension_mN_m"), [(25, 71.97), (60, 66.24)])
def test_surface_tension_agrees_with_iapws_r1_76(celsius: float, tension_mN_m: float) -> None:
    assert fluids.water_surface_tension_N_m(celsius + KELVIN) == pytest.approx(tension_mN_m * 1e-3, rel=2e-3)


# L: live, iapws package.
@pytest.mark.parametrize("temperature_K", [275.0, 300.0, 365.0, 450.0])
def test_surface_tension_agrees_with_iapws_package(temperature_K: float) -> None:
    expected = iapws._iapws._Tension(temperature_K)
    assert fluids.water_surface_tension_N_m(temperature_K) == pytest.approx(expected, rel=1e-10)


# L: live, CoolProp; 2e-4 is what the auxiliary vapour-density equation costs.
def test_latent_heat_agrees_with_coolprop() -> None:
    temperatures = np.linspace(0.1, 109.0, 30) + KELVIN
    vapour = coolprop.PropsSI("H", "T", temperatures, "Q", 1, "Water")
    liquid = coolprop.PropsSI("H", "T", temperatures, "Q", 0, "Water")
    np.testing.assert_allclose(fluids.latent_heat_J_kg(temperatures), vapour - liquid, rtol=2e-4)


# P: Marrero & Mason 1972. 1 %, as the exponent is printed with four digits.
@pytest.mark.parametrize(("celsius", "diffusivity_m2_s"), [(20, 2.419e-5), (60, 3.153e-5), (100, 3.988e-5)])
def test_vapour_diffusivity_agrees_with_marrero_and_mason(celsius: float, diffusivity_m2_s: float) -> None:
    ours = moist_air.vapour_diffusivity_m2_s(celsius + KELVIN, ATMOSPHERE_PA)
    assert ours == pytest.approx(diffusivity_m2_s, rel=1e-2)


# P: CRC Handbook .242 and .399 cm²/s at 20 and 100 °C.
@pytest.mark.parametrize(("celsius", "diffusivity_cm2_s"), [(20, 0.242), (100, 0.399)])
def test_vapour_diffusivity_agrees_with_the_crc_handbook(celsius: float, diffusivity_cm2_s: float) -> None:
    ours = moist_air.vapour_diffusivity_m2_s(celsius + KELVIN, ATMOSPHERE_PA)
    assert ours == pytest.approx(diffusivity_cm2_s * 1e-4, rel=1e-2)


# L: ASHRAE Fundamentals through PsychroLib, 25 °C and 50 %.
def test_moist_air_at_25_celsius_half_saturated_agrees_with_ashrae() -> None:
    state = (25.0 + KELVIN, 0.5, ATMOSPHERE_PA)
    assert moist_air.humidity_ratio(*state) == pytest.approx(0.0098810, rel=1e-3)
    assert moist_air.wet_bulb_K(*state) - KELVIN == pytest.approx(17.889, abs=5e-3)
    assert moist_air.dew_point_K(*state) - KELVIN == pytest.approx(13.864, abs=5e-3)


# L: ASHRAE Fundamentals through PsychroLib, dryer air; printed to a hundredth of a degree.
def test_wet_bulb_of_dryer_air_agrees_with_ashrae() -> None:
    assert moist_air.wet_bulb_K(60.0 + KELVIN, 0.1, ATMOSPHERE_PA) - KELVIN == pytest.approx(28.99, abs=1e-2)


# L: live, PsychroLib (stops at 1e-3 °C itself), from cold store to hot dryer, with thin air too.
@pytest.mark.parametrize("pressure_Pa", [ATMOSPHERE_PA, 80000.0])
@pytest.mark.parametrize(
    ("celsius", "share"), [(2, 0.1), (10, 0.05), (20, 0.9), (25, 0.5), (40, 0.3), (80, 0.05), (110, 0.02)]
)
def test_psychrometrics_agree_with_psychrolib(celsius: float, share: float, pressure_Pa: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    state = (celsius + KELVIN, share, pressure_Pa)
    ratio = psychrolib.GetHumRatioFromRelHum(celsius, share, pressure_Pa)
    wet = psychrolib.GetTWetBulbFromRelHum(celsius, share, pressure_Pa)
    dew = psychrolib.GetTDewPointFromRelHum(celsius, share)
    density = psychrolib.GetMoistAirDensity(celsius, ratio, pressure_Pa)
    assert moist_air.humidity_ratio(*state) == pytest.approx(ratio, rel=1e-3)
    assert moist_air.wet_bulb_K(*state) - KELVIN == pytest.approx(wet, abs=1e-2)
    assert moist_air.dew_point_K(*state) - KELVIN == pytest.approx(dew, abs=1e-2)
    # Moist-air density in PsychroLib is dry-air based volume inverted times (1 + W): the same quantity as ours.
    assert moist_air.moist_air_density_kg_m3(*state) == pytest.approx(density, rel=1e-4)


# L: live, CoolProp dry air; 1 % is the documented accuracy of the 1976 equations against it.
def test_air_transport_properties_agree_with_coolprop() -> None:
    for celsius in (0.0, 25.0, 60.0, 120.0):
        temperature_K = celsius + KELVIN
        viscosity = coolprop.PropsSI("V", "T", temperature_K, "P", ATMOSPHERE_PA, "Air")
        conductivity = coolprop.PropsSI("L", "T", temperature_K, "P", ATMOSPHERE_PA, "Air")
        assert moist_air.air_viscosity_Pa_s(temperature_K) == pytest.approx(viscosity, rel=1e-2)
        assert moist_air.air_conductivity_W_m_K(temperature_K) == pytest.approx(conductivity, rel=1e-2)
