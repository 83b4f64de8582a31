"""Self-check rows of the physics: water, air, nozzles, pump, gap, rinse, drying, laminate, charge, solvents."""

from __future__ import annotations

from math import pi, radians

from model import (
    air_transfer,
    drying_fluid,
    esd,
    fluids,
    gap,
    gap_drying,
    hansen,
    ionic,
    laminate,
    moist_air,
    nozzles,
    pump,
    rinse,
    rinse_supply,
)
from model.fluids import Values
from model.self_check import Check

KELVIN = 273.15
ATMOSPHERE_PA = 101325.0
INCH_M = 0.0254
LITRE_PER_MINUTE = 1e-3 / 60.0

IAPWS_95 = "IAPWS-95"
VISCOSITY = "IAPWS R12-08"
TENSION = "IAPWS R1-76(2014), equation evaluated independently"
SHAH = "Shah & London 1978; VDI Heat Atlas 2002 Gb"
YOUNG = "Young–Laplace, derived"
PLATING = "plating handbooks"
CRANK = "Crank, The Mathematics of Diffusion"
STEFAN = "Stefan diffusion, derived"


def _watson(name: str) -> Values:
    flow_m3_s = pi * 0.001**2 * 10.0
    if name == "transition":
        return nozzles.watson_transition_radius_m(flow_m3_s, 10.0, 1e-6)
    if name == "film":
        return nozzles.watson_film_thickness_m(0.020, flow_m3_s, 10.0, 1e-6)
    return nozzles.watson_surface_speed_m_s(0.020, flow_m3_s, 10.0, 1e-6)


def _thrust_N() -> Values:
    flow_m3_s = nozzles.orifice_flow_m3_s(0.015, 3e5, 1.0, 998.2)
    return nozzles.thrust_N(flow_m3_s, nozzles.jet_speed_m_s(3e5, 1.0, 998.2), 998.2)


def _slot_time_s(celsius: float) -> Values:
    return gap_drying.gap_drying_time_s(
        drying_fluid.water_for_drying(celsius + KELVIN), body_length_m=10e-3, body_width_m=1.0, open_sides=2.0,
        temperature_K=celsius + KELVIN, outside_vapour_pressure_Pa=0.0,
    )  # fmt: skip


def _plate_sherwood() -> Values:
    fluid, temperature_K = drying_fluid.water_for_drying(), 60.0 + KELVIN
    transfer_m_s = air_transfer.stream_transfer_m_s(fluid, 5.0, 0.3, temperature_K)
    return transfer_m_s * 0.3 / moist_air.vapour_diffusivity_m2_s(temperature_K, ATMOSPHERE_PA)


def _point(dispersion: float, polar: float, hydrogen_bonding: float) -> hansen.HansenPoint:
    return hansen.HansenPoint(
        dispersion_sqrtPa=1e3 * dispersion, polar_sqrtPa=1e3 * polar, hydrogen_bonding_sqrtPa=1e3 * hydrogen_bonding
    )


def _water(what: str, source: str, expected: float, tolerance: float, function: str, celsius: float) -> Check:
    return Check(topic="water", what=what, source=source, expected=expected, tolerance=tolerance,
                 compute=lambda: getattr(fluids, function)(celsius + KELVIN))  # fmt: skip


PHYSICS_CHECKS: tuple[Check, ...] = (
    _water("density at 20 °C, kg/m³", IAPWS_95, 998.207, 1e-5, "water_density_kg_m3", 20.0),
    _water("density at 80 °C, kg/m³", IAPWS_95, 971.790, 1e-5, "water_density_kg_m3", 80.0),
    _water("viscosity at 60 °C, Pa·s", VISCOSITY, 4.6604e-4, 2e-5, "water_viscosity_Pa_s", 60.0),
    Check(topic="water", what="viscosity at 298.15 K and 998 kg/m³, Pa·s", source=f"{VISCOSITY}, verification value",
          expected=889.735100e-6, tolerance=1e-9, compute=lambda: fluids.water_viscosity_Pa_s(298.15, 998.0)),
    _water("saturation pressure at 60 °C, Pa", f"{IAPWS_95}; ASHRAE Fundamentals", 19946.0, 3e-4,
           "water_saturation_pressure_Pa", 60.0),
    _water("surface tension at 60 °C, N/m", TENSION, 0.06624, 2e-3, "water_surface_tension_N_m", 60.0),
    Check(topic="air", what="diffusivity of water vapour at 60 °C, m²/s", source="Marrero & Mason 1972",
          expected=3.153e-5, tolerance=1e-2, compute=lambda: moist_air.vapour_diffusivity_m2_s(333.15, ATMOSPHERE_PA)),
    Check(topic="air", what="humidity ratio at 25 °C and 50 %", source="ASHRAE Fundamentals", expected=0.0098810,
          tolerance=1e-3, compute=lambda: moist_air.humidity_ratio(298.15, 0.5, ATMOSPHERE_PA)),
    Check(topic="air", what="wet bulb at 25 °C and 50 %, °C", source="ASHRAE Fundamentals", expected=17.889,
          tolerance=5e-3, absolute=True, compute=lambda: moist_air.wet_bulb_K(298.15, 0.5, ATMOSPHERE_PA) - KELVIN),
    Check(topic="air", what="dew point at 25 °C and 50 %, °C", source="ASHRAE Fundamentals", expected=13.864,
          tolerance=5e-3, absolute=True, compute=lambda: moist_air.dew_point_K(298.15, 0.5, ATMOSPHERE_PA) - KELVIN),
    Check(topic="nozzles", what="orifice 2 mm, 3 bar, C_d 0.62, L/min", source="Q = C_d A √(2Δp/ρ), derived",
          expected=2.8652, tolerance=5e-5,
          compute=lambda: nozzles.orifice_flow_m3_s(0.002, 3e5, 0.62, 998.2) / LITRE_PER_MINUTE),
    Check(topic="nozzles", what="ideal speed at 3 bar, m/s", source="v = √(2Δp/ρ), derived", expected=24.517,
          tolerance=5e-5, compute=lambda: nozzles.jet_speed_m_s(3e5, 1.0, 998.2)),
    Check(topic="nozzles", what="thrust of 15 mm at 3 bar, N", source="fluid-mechanics handbooks", expected=106.0,
          tolerance=3e-3, compute=_thrust_N),
    Check(topic="nozzles", what="width of a 45° spray at 12 in, in", source="nozzle coverage tables", expected=9.9,
          tolerance=0.1, absolute=True,
          compute=lambda: nozzles.spray_width_m(12 * INCH_M, radians(45.0)) / INCH_M),
    Check(topic="jet film", what="transition radius, 2 mm at 10 m/s, m", source="Watson 1964, J. Fluid Mech. 20:481",
          expected=9.956e-3, tolerance=1e-3, compute=lambda: _watson("transition")),
    Check(topic="jet film", what="thickness at 20 mm, m", source="Watson 1964", expected=83.05e-6, tolerance=1e-3,
          compute=lambda: _watson("film")),
    Check(topic="jet film", what="surface speed at 20 mm, m/s", source="Watson 1964", expected=4.894, tolerance=1e-3,
          compute=lambda: _watson("speed")),
    Check(topic="pump", what="shaft power, 30 m³/h, 3 bar, η 0.6, W", source="P = Q Δp/η", expected=4166.7,
          tolerance=1e-4, compute=lambda: pump.shaft_power_W(30.0 / 3600.0, 3e5, 0.6)),
    Check(topic="pump", what="friction factor, Re 1e5, ε/D 1e-4", source="Colebrook equation",
          expected=0.0185138661, tolerance=1e-8, compute=lambda: pump.friction_factor(1e5, 1e-4)),
    Check(topic="pump", what="net positive suction head, 40 °C, m", source="worked example, g 9.81", expected=10.77,
          tolerance=1e-3, compute=lambda: pump.npsh_available_m(101300.0, 313.15, 2.0, 0.8, density_kg_m3=1000.0)),
    Check(topic="gap", what="mean speed, 50 µm, 5 mm, 1 kPa, m/s", source="plane Poiseuille flow, derived",
          expected=0.063808, tolerance=1e-4, compute=lambda: gap.gap_velocity_m_s(1000.0, 50e-6, 5e-3, 6.530e-4)),
    Check(topic="gap", what="wall shear there, Pa", source="plane Poiseuille flow, derived", expected=5.0,
          tolerance=1e-9, compute=lambda: gap.wall_shear_Pa(1000.0, 50e-6, 5e-3)),
    Check(topic="gap", what="Sherwood number, both walls, developed", source=SHAH, expected=7.5407, tolerance=1e-4,
          compute=lambda: gap.sherwood_developed(2)),
    Check(topic="gap", what="Sherwood number, one wall, developed", source=SHAH, expected=4.8607, tolerance=1e-4,
          compute=lambda: gap.sherwood_developed(1)),
    Check(topic="gap", what="mean Sherwood number, one wall, x* 0.03", source="exact Graetz series", expected=6.610,
          tolerance=0.05, compute=lambda: gap.sherwood_mean(0.03, 1)),
    Check(topic="gap", what="capillary pressure, 72 mN/m, 50 µm, Pa", source=YOUNG, expected=2880.0, tolerance=1e-6,
          compute=lambda: gap.capillary_pressure_Pa(0.072, 0.0, 0.0, 50e-6)),
    Check(topic="gap", what="entry pressure at 110°, Pa", source=YOUNG, expected=985.0, tolerance=1e-4,
          compute=lambda: gap.entry_pressure_Pa(0.072, radians(110), radians(110), 50e-6)),
    Check(topic="gap", what="time to be drawn in 10 mm, s", source="Washburn 1921, plate form", expected=74.17e-3,
          tolerance=1e-4, compute=lambda: gap.imbibition_time_s(10e-3, 0.072, 0.0, 0.0, 50e-6, 8.9e-4)),
    Check(topic="rinse", what="dilution in one stage, D 1, Q 99", source=PLATING, expected=100.0, tolerance=1e-12,
          compute=lambda: rinse_supply.counterflow_dilution(99.0, 1)),
    Check(topic="rinse", what="flow ratio, 3 stages, dilution 1000", source=PLATING, expected=9.64197, tolerance=3e-6,
          compute=lambda: rinse_supply.counterflow_flow_ratio(1000.0, 3)),
    Check(topic="rinse", what="residue after one batch rinse of 99 parts", source=PLATING, expected=0.01,
          tolerance=1e-12, compute=lambda: rinse.batch_rinse(
              rinse.CarryOver(open_m3=1.0, gap_m3=0.0, area_m2=1.0), 1.0, 1, 99.0, 1.0).residue_left_kg),
    Check(topic="ionic", what="10.06 µg/in² in µg/cm²", source="IPC-WP-019B (history, not a limit)", expected=1.559,
          tolerance=1e-3, compute=lambda: ionic.micrograms_per_square_centimetre(10.06)),
    Check(topic="ionic", what="1 mg/L NaCl, µS/cm", source="Λ0 126.45 S·cm²/mol, derived", expected=2.164,
          tolerance=1e-3, compute=lambda: ionic.salt_conductivity_S_m(1e-3) * 1e4),
    Check(topic="ionic", what="pure water at 25 °C, MΩ·cm", source="Light et al. 2005", expected=18.18,
          tolerance=1e-4, compute=lambda: ionic.pure_water_resistivity_ohm_m(298.15) * 1e-4),
    Check(topic="drying", what="Stefan tube, kmol/(s·m²)", source="Geankoplis, Example 6.2-2", expected=1.593e-7,
          tolerance=3e-3, compute=lambda: gap_drying.stefan_flux_mol_m2_s(
              0.250e-4, 0.1524, 293.0, 17.54 / 760.0 * ATMOSPHERE_PA, 0.0) * 1e-3),
    Check(topic="drying", what="10 mm slot at 60 °C, s", source=STEFAN, expected=2698.0, tolerance=0.02,
          compute=lambda: _slot_time_s(60.0)),
    Check(topic="drying", what="10 mm slot at 80 °C, s", source=STEFAN, expected=870.0, tolerance=0.02,
          compute=lambda: _slot_time_s(80.0)),
    Check(topic="drying", what="Sherwood number, plate 0.3 m, 5 m/s", source="0.664 Re^½ Sc^⅓", expected=157.63,
          tolerance=1e-3, compute=_plate_sherwood),
    Check(topic="drying", what="round air nozzle, Re 2e4, Pr 0.7", source="Martin 1977, Adv. Heat Transfer 13",
          expected=55.83, tolerance=1e-3, compute=lambda: air_transfer.round_nozzle_sherwood(2e4, 0.7, 5.0, 6.0)),
    Check(topic="laminate", what="uptake of a sheet at Dt/l² 0.05", source=CRANK, expected=0.504088, tolerance=1e-5,
          compute=lambda: laminate.sorbed_share(0.05)),
    Check(topic="laminate", what="uptake of a sheet at Dt/l² 0.2", source=CRANK, expected=0.887403, tolerance=1e-5,
          compute=lambda: laminate.sorbed_share(0.2)),
    Check(topic="laminate", what="Dt/l² at 90 %", source=CRANK, expected=0.212021, tolerance=1e-5,
          compute=lambda: laminate.time_for_share(0.9)),
    Check(topic="charge", what="decay 1000 to 100 V, 1e11 Ω, 20 pF, s", source="t = R C ln 10", expected=4.605,
          tolerance=1e-3, compute=lambda: esd.decay_time_s(1e11, 20e-12, 1000.0, 100.0)),
    Check(topic="charge", what="relaxation, ε_r 2, 50 pS/m, s", source="NFPA 77 table", expected=0.354,
          tolerance=1e-3, compute=lambda: esd.relaxation_time_s(2.0, 50e-12)),
    Check(topic="solvents", what="distance of 2-propanol and water, MPa^½", source="Hansen 2007", expected=27.734,
          tolerance=1e-4, compute=lambda: hansen.hansen_distance_sqrtPa(
              _point(15.8, 6.1, 16.4), _point(15.5, 16.0, 42.3)) * 1e-3),
)  # fmt: skip
