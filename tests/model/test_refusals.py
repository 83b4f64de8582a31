"""What each function of the physics says of an argument without physical meaning: its name, value, unit and limits.

One table for all of them. Names and limits are those that each function's own text promises.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from model import (
    air_transfer,
    clearing,
    drying,
    esd,
    evaporation,
    fluids,
    gap,
    gap_drying,
    hansen,
    immersion,
    ionic,
    laminate,
    moist_air,
    nozzles,
    passive_drying,
    pump,
    rinse,
    rinse_supply,
    vacuum_drying,
)
from model.drying_fluid import solvent_for_drying, water_for_drying
from model.hansen import HansenPoint
from model.input_errors import UnphysicalInputError

ABOVE, FROM_ZERO = "a finite value above 0", "a finite value, 0 or above"
Told = tuple[float, str, str, str | tuple[float, float]]
Arguments = dict[str, Any]

GAP: dict[str, Told] = {
    "gap_m": (50e-6, "gap height", "m", ABOVE),
    "flow_length_m": (5e-3, "flow length", "m", ABOVE),
    "viscosity_Pa_s": (4.7e-4, "viscosity", "Pa·s", ABOVE),
    "density_kg_m3": (983.0, "fluid density", "kg/m³", ABOVE),
    "diffusivity_m2_s": (5e-10, "diffusivity", "m²/s", ABOVE),
    "pressure_Pa": (1e3, "pressure", "Pa", FROM_ZERO),
    "end_loss_coefficient": (1.5, "end loss coefficient", "", FROM_ZERO),
    "surface_tension_N_m": (0.07, "surface tension", "N/m", FROM_ZERO),
}
ANGLES: Arguments = {"contact_angle_component_rad": 0.5, "contact_angle_board_rad": 0.5}
JET: dict[str, Told] = {
    "flow_m3_s": (3e-5, "flow", "m³/s", ABOVE),
    "speed_m_s": (10.0, "jet speed", "m/s", ABOVE),
    "kinematic_viscosity_m2_s": (1e-6, "kinematic viscosity", "m²/s", ABOVE),
}
AIR: dict[str, Told] = {"pressure_Pa": (101325.0, "air pressure", "Pa", ABOVE)}
COLD_AIR: dict[str, Told] = AIR | {
    "temperature_K": (298.15, "air temperature", "K", (173.15, 473.15)),
    "relative_humidity_share": (0.5, "relative humidity", "(share)", (0.0, 1.0)),
}
WATER = water_for_drying()
LOAD = rinse.CarryOver(open_m3=1e-5, gap_m3=1e-7, area_m2=0.1)
RINSE: dict[str, Told] = {
    "residue_concentration_kg_m3": (0.5, "residue concentration", "kg/m³", FROM_ZERO),
    "exchange_share": (0.5, "exchange share", "(share)", (0.0, 1.0)),
    "feed_concentration_kg_m3": (1e-4, "feed concentration", "kg/m³", FROM_ZERO),
}
FILLED: dict[str, Told] = RINSE | {"rinse_volume_m3": (0.06, "rinse volume", "m³", ABOVE)}
CARRIED: dict[str, Told] = {
    "open_m3": (1e-5, "open carry-over", "m³", FROM_ZERO),
    "gap_m3": (1e-7, "gap carry-over", "m³", FROM_ZERO),
    "area_m2": (0.1, "board area", "m²", ABOVE),
}
SHEET: dict[str, Told] = {
    "thickness_m": (1.6e-3, "laminate thickness", "m", ABOVE),
    "diffusivity_m2_s": (1e-12, "laminate diffusivity", "m²/s", ABOVE),
    "reference_temperature_K": (298.15, "reference temperature", "K", ABOVE),
    "activation_energy_J_mol": (43.4e3, "activation energy", "J/mol", FROM_ZERO),
    "path_factor": (1.5, "path factor", "", (1.0, float("inf"))),
}
SOAKED: dict[str, Told] = {
    "moisture_share": (2e-3, "moisture", "(share)", FROM_ZERO),
    "equilibrium_share": (1e-4, "equilibrium moisture", "(share)", FROM_ZERO),
    "temperature_K": (353.15, "temperature", "K", ABOVE),
}


def some(of: dict[str, Told], *names: str) -> dict[str, Told]:
    return {name: of[name] for name in names}


def sheet(**changes: float) -> laminate.Laminate:
    values: Arguments = {name: told[0] for name, told in SHEET.items()}
    return laminate.Laminate(**(values | changes))


def after(**changes: float) -> Any:
    return laminate.moisture_after(sheet(**changes), 2e-3, 1e-4, 353.15, 60.0)


def dried(**changes: float) -> Any:
    return laminate.drying_time_s(sheet(**changes), 2e-3, 1e-3, 1e-4, 353.15)


def filled(**changes: float) -> Any:
    load = rinse.CarryOver(**({"open_m3": 1e-5, "gap_m3": 1e-7, "area_m2": 0.1} | changes))
    return rinse.batch_rinse(load, 0.5, 1.0, 0.06, 0.5)


def against_flow(**changes: float) -> Any:
    load = rinse.CarryOver(**({"open_m3": 1e-5, "gap_m3": 1e-7, "area_m2": 0.1} | changes))
    return rinse_supply.counterflow_rinse(load, 0.5, 2, 0.06, 0.5)


def wet_load(**changes: float) -> drying.DryingLoad:
    values: Arguments = {
        "wet_area_m2": 0.1, "film_before_drain_m": 1e-4, "film_drained_m": 5e-5, "blow_off_share_left": 0.5,
        "gap_volume_m3": 1e-8, "body_length_m": 5e-3, "body_width_m": 5e-3, "open_sides": 4.0,
        "heat_capacity_J_K": 300.0, "temperature_K": 323.15,
    }  # fmt: skip
    return drying.DryingLoad(**(values | changes))


def dryer(**changes: float) -> drying.HotAirDryer:
    values: Arguments = {
        "air_temperature_K": 363.15, "transfer_m_s": 0.03, "inlet_humidity_ratio": 0.01, "inlet_temperature_K": 293.15,
        "exhaust_dry_air_kg_s": 0.02,
    }  # fmt: skip
    return drying.HotAirDryer(**(values | changes))


def hot_dried(load: Arguments, machine: Arguments) -> Any:
    return drying.dry_time_needed(wet_load(**load), dryer(**machine), WATER)


def still_dried(load: Arguments, chamber: Arguments, time_s: float = 600.0) -> Any:
    values: Arguments = {"wall_temperature_K": 343.15, "saturation_share": 0.5, "heat_transfer_W_m2_K": 10.0}
    return passive_drying.passive_dry_outcome(
        wet_load(**load), passive_drying.StandingChamber(**(values | chamber)), WATER, time_s
    )


def pumped_dry(**changes: float) -> Any:
    values: Arguments = {
        "pressure_Pa": 5e3, "heating_power_W": 2e3, "pump_speed_m3_s": 0.02, "pump_down_time_s": 60.0,
    } | changes  # fmt: skip
    load = wet_load(**{name: values.pop(name) for name in ("heat_capacity_J_K", "temperature_K") if name in values})
    return vacuum_drying.vacuum_drying(load, WATER, **values)


def point(**changes: float) -> Any:
    values: Arguments = {"dispersion_sqrtPa": 16e3, "polar_sqrtPa": 6e3, "hydrogen_bonding_sqrtPa": 16e3}
    return hansen.hansen_distance_sqrtPa(HansenPoint(**values), HansenPoint(**(values | changes)))


TABLE: list[tuple[Callable[..., Any], Arguments, dict[str, Told]]] = [
    # ---- Under the component ----
    (gap.GapState, {"entry_pressure_Pa": 0.0}, some(GAP, "gap_m", "flow_length_m", "viscosity_Pa_s", "density_kg_m3",
                                                     "diffusivity_m2_s", "end_loss_coefficient")),
    (gap.GapState, {name: GAP[name][0] for name in ("gap_m", "flow_length_m", "viscosity_Pa_s", "density_kg_m3",
                                                    "diffusivity_m2_s", "end_loss_coefficient")},
     {"entry_pressure_Pa": (0.0, "entry pressure", "Pa", FROM_ZERO)}),
    (gap.capillary_pressure_Pa, ANGLES, some(GAP, "surface_tension_N_m", "gap_m")),
    (gap.gap_velocity_m_s, {}, some(GAP, "pressure_Pa", "gap_m", "flow_length_m", "viscosity_Pa_s")),
    (gap.gap_velocity_end_losses_m_s, {}, some(GAP, "pressure_Pa", "gap_m", "flow_length_m", "viscosity_Pa_s",
                                               "density_kg_m3", "end_loss_coefficient")),
    (gap.inertial_gap_m, {}, some(GAP, "pressure_Pa", "flow_length_m", "viscosity_Pa_s", "density_kg_m3",
                                  "end_loss_coefficient")),
    (gap.gap_flow_per_width_m2_s, {}, some(GAP, "gap_m") | {"velocity_m_s": (0.1, "mean speed", "m/s", FROM_ZERO)}),
    (gap.wall_shear_Pa, {}, some(GAP, "pressure_Pa", "gap_m", "flow_length_m")),
    (gap.sherwood_mean, {"active_walls": 1}, {"x_star": (0.1, "x_star", "", ABOVE)}),
    (gap.mass_transfer_m_s, {"sherwood": 5.0}, some(GAP, "gap_m", "diffusivity_m2_s")),
    (gap.effective_exchange_m_s, {}, some(GAP, "flow_length_m") | {
        "transfer_m_s": (1e-5, "mass transfer coefficient", "m/s", FROM_ZERO),
        "flow_per_width_m2_s": (1e-6, "flow per width", "m²/s", FROM_ZERO)}),
    (gap.imbibition_length_m, ANGLES, some(GAP, "surface_tension_N_m", "gap_m", "viscosity_Pa_s")
     | {"time_s": (1.0, "time", "s", FROM_ZERO)}),
    (gap.imbibition_time_s, ANGLES, some(GAP, "surface_tension_N_m", "gap_m", "viscosity_Pa_s")
     | {"length_m": (1e-3, "length", "m", FROM_ZERO)}),
    (clearing.ResidueState, {}, {
        "capacity_kg_m3": (80.0, "capacity", "kg/m³", FROM_ZERO),
        "residue_density_kg_m3": (1100.0, "residue density", "kg/m³", ABOVE),
        "residue_thickness_m": (3e-5, "residue thickness", "m", ABOVE)}),
    (clearing.hardening_factor, {"reference_peak_K": 518.0}, {
        "peak_reflow_K": (518.0, "peak reflow temperature", "K", ABOVE),
        "wait_h": (8.0, "wait", "h", FROM_ZERO),
        "wait_scale_h": (8.0, "wait time scale", "h", ABOVE),
        "sensitivity_per_K": (0.01, "hardening per kelvin", "1/K", FROM_ZERO),
        "wait_exponent": (0.15, "wait exponent", "", FROM_ZERO)}),
    (clearing.capacity_kg_m3, {"reference_temperature_K": 333.0}, {
        "reference_capacity_kg_m3": (80.0, "reference capacity", "kg/m³", FROM_ZERO),
        "sensitivity_per_K": (0.01, "temperature sensitivity", "1/K", FROM_ZERO),
        "temperature_K": (333.0, "temperature", "K", ABOVE),
        "hardening": (1.0, "hardening factor", "", FROM_ZERO)}),
    (clearing.residue_loading_kg_m3, {}, some(GAP, "gap_m") | {
        "residue_density_kg_m3": (1100.0, "residue density", "kg/m³", ABOVE),
        "residue_thickness_m": (3e-5, "residue thickness", "m", ABOVE)}),
    (clearing.soak_depth_m, {}, {
        "time_s": (60.0, "time", "s", FROM_ZERO), "soak_coefficient": (1e-5, "soak coefficient", "m/s^½", FROM_ZERO)}),
    (clearing.cleared_depth_m, {"soak_coefficient": 1e-5, "time_s": 60.0}, {
        "mean_speed_m_s": (1e-6, "mean front speed", "m/s", FROM_ZERO)}),
    (clearing.needed_time_s, {}, {
        "depth_m": (1e-3, "depth", "m", FROM_ZERO),
        "mean_speed_m_s": (1e-6, "mean front speed", "m/s", FROM_ZERO),
        "soak_coefficient": (1e-5, "soak coefficient", "m/s^½", FROM_ZERO)}),
    # ---- Nozzles and jets ----
    (nozzles.nozzle_area_m2, {}, {"diameter_m": (2e-3, "nozzle diameter", "m", ABOVE)}),
    (nozzles.orifice_flow_m3_s, {"discharge_coefficient": 0.6}, {
        "diameter_m": (2e-3, "nozzle diameter", "m", ABOVE), "pressure_Pa": (3e5, "nozzle pressure", "Pa", FROM_ZERO),
        "density_kg_m3": (998.0, "liquid density", "kg/m³", ABOVE)}),
    (nozzles.jet_speed_m_s, {}, {
        "pressure_Pa": (3e5, "nozzle pressure", "Pa", FROM_ZERO),
        "velocity_coefficient": (0.9, "velocity coefficient", "(no unit)", ABOVE),
        "density_kg_m3": (998.0, "liquid density", "kg/m³", ABOVE)}),
    (nozzles.thrust_N, {}, {
        "flow_m3_s": (1e-3, "flow", "m³/s", FROM_ZERO), "speed_m_s": (20.0, "jet speed", "m/s", FROM_ZERO),
        "density_kg_m3": (998.0, "liquid density", "kg/m³", ABOVE)}),
    (nozzles.spray_width_m, {}, {
        "distance_m": (0.1, "distance", "m", FROM_ZERO),
        "full_angle_rad": (1.0, "full spray angle", "rad", (0.0, 3.14159))}),
    (nozzles.cone_solid_angle_sr, {}, {"half_angle_rad": (0.1, "cone half angle", "rad", (0.0, 3.14159))}),
    (nozzles.fan_solid_angle_sr, {}, {
        "wide_half_angle_rad": (0.5, "fan half angle", "rad", (0.0, 1.5708)),
        "thin_half_angle_rad": (0.1, "fan half angle", "rad", (0.0, 1.5708))}),
    (nozzles.drag_decay_length_m, {}, {
        "drop_diameter_m": (1e-3, "drop diameter", "m", ABOVE),
        "liquid_density_kg_m3": (998.0, "liquid density", "kg/m³", ABOVE),
        "air_density_kg_m3": (1.2, "air density", "kg/m³", ABOVE),
        "drag_coefficient": (0.44, "drag coefficient", "(no unit)", ABOVE)}),
    (nozzles.speed_after_drag_m_s, {}, {
        "speed_m_s": (10.0, "jet speed", "m/s", FROM_ZERO), "distance_m": (0.1, "distance", "m", FROM_ZERO),
        "decay_length_m": (2.0, "decay length", "m", ABOVE)}),
    (nozzles.watson_transition_radius_m, {}, JET),
    (nozzles.watson_surface_speed_m_s, {}, JET | {"radius_m": (0.02, "radius", "m", FROM_ZERO)}),
    (nozzles.watson_film_thickness_m, {}, JET | {"radius_m": (0.02, "radius", "m", FROM_ZERO)}),
    (nozzles.film_run_out_radius_m, {}, JET | {"useful_speed_m_s": (1.0, "useful speed", "m/s", ABOVE)}),
    # ---- Pump and pipes ----
    (pump.quadratic_loss_coefficient_Pa_s2_m6, {}, {
        "pressure_drop_Pa": (1e4, "pressure drop", "Pa", FROM_ZERO), "flow_m3_s": (4e-3, "flow", "m³/s", ABOVE)}),
    (pump.operating_point, {"curve": pump.PumpCurve(shutoff_pressure_Pa=4e5, max_flow_m3_s=0.01)}, {
        "nozzle_area_m2": (2e-4, "total nozzle area", "m²", ABOVE),
        "discharge_coefficient": (0.8, "discharge coefficient", "(share)", ABOVE),
        "density_kg_m3": (985.0, "liquid density", "kg/m³", ABOVE),
        "efficiency_share": (0.5, "pump efficiency", "(share)", ABOVE),
        "piping_loss_Pa_s2_m6": (1e9, "piping loss coefficient", "Pa·s²/m⁶", FROM_ZERO),
        "filter_loss_Pa_s2_m6": (1e9, "filter loss coefficient", "Pa·s²/m⁶", FROM_ZERO),
        "static_pressure_Pa": (5e3, "static pressure", "Pa", FROM_ZERO)}),
    (pump.PumpCurve(shutoff_pressure_Pa=4e5, max_flow_m3_s=0.01).pressure_Pa, {},
     {"flow_m3_s": (5e-3, "pump flow", "m³/s", FROM_ZERO)}),
    (pump.hydraulic_power_W, {}, {
        "flow_m3_s": (5e-3, "flow", "m³/s", ABOVE), "pressure_Pa": (3e5, "pump pressure", "Pa", ABOVE)}),
    (pump.shaft_power_W, {}, {
        "flow_m3_s": (5e-3, "flow", "m³/s", ABOVE), "pressure_Pa": (3e5, "pump pressure", "Pa", ABOVE),
        "efficiency_share": (0.5, "pump efficiency", "(share)", ABOVE)}),
    (pump.friction_factor, {}, {
        "reynolds_number": (1e5, "Reynolds number", "(no unit)", ABOVE),
        "relative_roughness": (1e-3, "relative roughness", "(no unit)", (0.0, 0.05))}),
    (pump.pipe_loss_Pa, {}, {
        "flow_m3_s": (2e-3, "flow", "m³/s", ABOVE), "diameter_m": (0.03, "pipe diameter", "m", ABOVE),
        "length_m": (5.0, "pipe length", "m", FROM_ZERO), "roughness_m": (1e-6, "pipe roughness", "m", FROM_ZERO),
        "density_kg_m3": (990.0, "liquid density", "kg/m³", ABOVE),
        "viscosity_Pa_s": (5e-4, "viscosity", "Pa·s", ABOVE),
        "minor_loss_coefficient": (2.0, "minor loss coefficient", "(no unit)", FROM_ZERO)}),
    (pump.npsh_available_m, {"temperature_K": 333.15}, {
        "absolute_pressure_Pa": (101325.0, "absolute pressure", "Pa", ABOVE),
        "friction_head_m": (0.3, "friction head", "m", FROM_ZERO),
        "suction_head_m": (0.5, "suction head", "m", (-1e6, 1e6)),
        "vapour_pressure_Pa": (2e4, "vapour pressure", "Pa", FROM_ZERO),
        "density_kg_m3": (983.0, "liquid density", "kg/m³", ABOVE)}),
    # ---- Machines without spray ----
    (immersion.make_drive, {}, {
        "pressure_Pa": (1e3, "drive pressure", "Pa", FROM_ZERO), "duty_share": (0.5, "duty share", "", (0.0, 1.0)),
        "covered_share": (0.5, "covered share", "", (0.0, 1.0))}),
    (immersion.submerged_jet_speed_m_s, {}, {
        "exit_speed_m_s": (10.0, "exit speed", "m/s", FROM_ZERO),
        "nozzle_diameter_m": (4e-3, "nozzle diameter", "m", ABOVE),
        "distance_m": (0.1, "distance", "m", FROM_ZERO), "decay_constant": (6.1, "decay constant", "", ABOVE)}),
    (immersion.submerged_jet_drive, {"exit_speed_m_s": 10.0, "nozzle_diameter_m": 4e-3, "distance_m": 0.1,
                                     "decay_constant": 6.1}, {
        "half_width_growth": (0.1, "half width growth", "", FROM_ZERO),
        "nozzle_count": (30.0, "nozzle count", "", FROM_ZERO), "nozzle_pitch_m": (0.05, "nozzle pitch", "m", ABOVE),
        "board_stroke_m": (0.05, "board stroke", "m", FROM_ZERO), "board_area_m2": (0.1, "board area", "m²", ABOVE),
        "density_kg_m3": (985.0, "fluid density", "kg/m³", ABOVE),
        "coupling_share": (0.5, "coupling share", "", (0.0, 1.0))}),
    (immersion.centrifugal_drive, {"spinning_share": 0.8}, {
        "rotation_rad_s": (20.0, "angular speed", "rad/s", FROM_ZERO), "radius_m": (0.3, "radius", "m", FROM_ZERO),
        "radial_extent_m": (0.01, "radial extent", "m", FROM_ZERO),
        "density_kg_m3": (985.0, "fluid density", "kg/m³", ABOVE),
        "unbalanced_share": (0.1, "unbalanced share", "", (0.0, 1.0))}),
    (immersion.ultrasonic_drive, {"enhancement": 10.0, "active_share": 0.5}, {
        "power_density_W_m3": (1e4, "power density", "W/m³", FROM_ZERO), "depth_m": (0.3, "fluid depth", "m", ABOVE),
        "sound_speed_m_s": (1500.0, "speed of sound", "m/s", ABOVE)}),
    # ---- Water and air ----
    (fluids.scale_diffusivity_m2_s, {}, {
        "reference_diffusivity_m2_s": (1e-9, "reference diffusivity", "m²/s", ABOVE),
        "reference_temperature_K": (298.0, "reference temperature", "K", ABOVE),
        "temperature_K": (333.0, "temperature", "K", ABOVE),
        "reference_viscosity_Pa_s": (9e-4, "reference viscosity", "Pa·s", ABOVE),
        "viscosity_Pa_s": (5e-4, "viscosity", "Pa·s", ABOVE)}),
    (fluids.water_density_kg_m3, {}, {"temperature_K": (300.0, "water temperature", "K", (253.15, 383.15))}),
    (fluids.water_viscosity_Pa_s, {}, {
        "temperature_K": (300.0, "water temperature", "K", (253.15, 383.15)),
        "density_kg_m3": (996.0, "water density", "kg/m³", ABOVE)}),
    (fluids.water_saturation_pressure_Pa, {}, {"temperature_K": (300.0, "water temperature", "K", (273.15, 647.096))}),
    (fluids.water_surface_tension_N_m, {}, {"temperature_K": (300.0, "water temperature", "K", (248.15, 647.096))}),
    (fluids.latent_heat_J_kg, {}, {"temperature_K": (300.0, "water temperature", "K", (273.15, 383.15))}),
    (moist_air.saturation_vapour_pressure_Pa, {}, some(COLD_AIR, "temperature_K")),
    (moist_air.vapour_diffusivity_m2_s, {}, AIR | {"temperature_K": (298.0, "air temperature", "K", (273.15, 473.15))}),
    (moist_air.humidity_ratio, {}, COLD_AIR),
    (moist_air.wet_bulb_K, {}, COLD_AIR | {"temperature_K": (298.0, "air temperature", "K", (253.15, 473.15))}),
    (moist_air.dew_point_K, {}, COLD_AIR),
    (moist_air.moist_air_density_kg_m3, {}, COLD_AIR),
    (moist_air.moist_air_heat_capacity_J_kg_K, {},
     {"humidity_ratio_kg_kg": (0.01, "humidity ratio", "kg/kg", (0.0, 100.0))}),
    (moist_air.air_viscosity_Pa_s, {}, some(COLD_AIR, "temperature_K")),
    (moist_air.air_conductivity_W_m_K, {}, some(COLD_AIR, "temperature_K")),
    (moist_air.lewis_number, {}, AIR | {"temperature_K": (298.0, "air temperature", "K", (273.15, 473.15))}),
    # ---- Drying ----
    (air_transfer.plate_sherwood, {}, {
        "reynolds": (1e4, "Reynolds number", "", FROM_ZERO), "schmidt": (0.6, "Schmidt number", "", ABOVE)}),
    (air_transfer.round_nozzle_sherwood, {}, {
        "reynolds": (2e4, "nozzle Reynolds number", "", (2e3, 4e5)), "schmidt": (0.6, "Schmidt number", "", ABOVE),
        "radius_per_diameter": (5.0, "radius per nozzle diameter", "", (2.5, 7.5)),
        "distance_per_diameter": (6.0, "distance per nozzle diameter", "", (2.0, 12.0))}),
    (air_transfer.nozzle_array_sherwood, {}, {
        "reynolds": (2e4, "nozzle Reynolds number", "", (2e3, 1e5)), "schmidt": (0.6, "Schmidt number", "", ABOVE),
        "open_area_share": (0.01, "open area share", "", (0.004, 0.04)),
        "distance_per_diameter": (6.0, "distance per nozzle diameter", "", (2.0, 12.0))}),
    (air_transfer.stream_transfer_m_s, {"fluid": WATER}, AIR | {
        "velocity_m_s": (5.0, "air velocity", "m/s", FROM_ZERO), "length_m": (0.3, "length", "m", ABOVE),
        "temperature_K": (333.0, "air temperature", "K", ABOVE)}),
    (air_transfer.heat_transfer_W_m2_K, {"fluid": WATER}, AIR | {
        "transfer_m_s": (0.02, "mass-transfer coefficient", "m/s", FROM_ZERO),
        "temperature_K": (333.0, "air temperature", "K", ABOVE)}),
    (gap_drying.stefan_flux_mol_m2_s, {}, {
        "diffusivity_m2_s": (3e-5, "diffusivity", "m²/s", ABOVE), "length_m": (2e-3, "length", "m", ABOVE),
        "temperature_K": (333.0, "temperature", "K", ABOVE), "pressure_Pa": (101325.0, "pressure", "Pa", ABOVE),
        "vapour_pressure_Pa": (2e4, "vapour pressure", "Pa", FROM_ZERO),
        "outside_vapour_pressure_Pa": (1e3, "outside vapour pressure", "Pa", FROM_ZERO)}),
    (gap_drying.gap_rate_m2_s, {"fluid": WATER}, {
        "temperature_K": (333.0, "temperature", "K", ABOVE), "pressure_Pa": (101325.0, "pressure", "Pa", ABOVE),
        "outside_vapour_pressure_Pa": (1e3, "outside vapour pressure", "Pa", FROM_ZERO)}),
    (gap_drying.gap_progress_needed_m2, {}, {
        "body_length_m": (5e-3, "body length", "m", ABOVE), "body_width_m": (5e-3, "body width", "m", ABOVE),
        "open_sides": (4.0, "open sides", "", (1.0, 4.0))}),
    (gap_drying.gap_wet_share, {"body_length_m": 5e-3, "body_width_m": 5e-3, "open_sides": 4.0},
     {"progress_m2": (1e-6, "progress", "m²", FROM_ZERO)}),
    (evaporation.surface_evaporation, {"fluid": WATER}, {
        "wet_area_m2": (0.1, "wet area", "m²", ABOVE),
        "exhaust_dry_air_kg_s": (0.02, "exhaust air", "kg/s", (0.0, float("inf"))),
        "transfer_m_s": (0.02, "mass-transfer coefficient", "m/s", FROM_ZERO),
        "air_temperature_K": (353.0, "air temperature", "K", ABOVE),
        "inlet_humidity_ratio": (0.01, "inlet humidity ratio", "kg/kg", FROM_ZERO)} | AIR),
    (evaporation.wet_surface_K, {"fluid": WATER, "air_temperature_K": 353.0, "inlet_humidity_ratio": 0.01},
     {"transfer_m_s": (0.02, "mass-transfer coefficient", "m/s", FROM_ZERO)}),
    (evaporation.exhaust_limit_kg_s, {}, {
        "exhaust_dry_air_kg_s": (0.02, "exhaust air", "kg/s", FROM_ZERO),
        "humidity_ratio_out": (0.03, "humidity of the exhaust", "kg/kg", FROM_ZERO),
        "humidity_ratio_in": (0.01, "humidity of the inlet", "kg/kg", FROM_ZERO)}),
    (lambda **load: hot_dried(load, {}), {}, {
        "wet_area_m2": (0.1, "wet area", "m²", ABOVE),
        "film_before_drain_m": (1e-4, "film before draining", "m", FROM_ZERO),
        "film_drained_m": (5e-5, "drained film", "m", FROM_ZERO),
        "blow_off_share_left": (0.5, "share left by the blow-off", "(share)", (0.0, 1.0)),
        "gap_volume_m3": (1e-8, "gap volume", "m³", FROM_ZERO),
        "heat_capacity_J_K": (300.0, "heat capacity of the load", "J/K", ABOVE)}),
    (lambda **machine: hot_dried({}, machine), {},
     {"heater_power_W": (3e3, "heater power", "W", (0.0, float("inf")))}),
    (drying.dry_time_needed, {"load": wet_load(), "dryer": dryer(), "fluid": WATER}, {
        "laminate_time_s": (60.0, "laminate time", "s", (0.0, float("inf"))),
        "board_limit_K": (380.0, "board temperature limit", "K", ABOVE)}),
    (drying.dry_outcome, {"load": wet_load(), "dryer": dryer(), "fluid": WATER},
     {"time_s": (600.0, "time available", "s", FROM_ZERO)}),
    (drying.vapour_pressure_of_air_Pa, {"fluid": WATER}, {
        "humidity_ratio": (0.01, "humidity ratio", "kg/kg", (0.0, float("inf"))),
        "pressure_Pa": (101325.0, "pressure", "Pa", ABOVE)}),
    (lambda **load: still_dried(load, {}), {}, {
        "heat_capacity_J_K": (300.0, "heat capacity of the load", "J/K", ABOVE),
        "temperature_K": (323.0, "load temperature", "K", ABOVE)}),
    (lambda **chamber: still_dried({}, chamber), {}, {
        "wall_temperature_K": (343.0, "wall temperature", "K", ABOVE),
        "saturation_share": (0.5, "saturation share", "(share)", (0.0, 1.0)),
        "heat_transfer_W_m2_K": (10.0, "heat transfer", "W/(m²·K)", FROM_ZERO),
        "pressure_Pa": (101325.0, "pressure", "Pa", ABOVE)}),
    (lambda time_s: still_dried({}, {}, time_s), {}, {"time_s": (600.0, "time available", "s", ABOVE)}),
    (pumped_dry, {}, {
        "pressure_Pa": (5e3, "pressure", "Pa", ABOVE), "heating_power_W": (2e3, "heating power", "W", FROM_ZERO),
        "pump_speed_m3_s": (0.02, "pump speed", "m³/s", FROM_ZERO),
        "pump_down_time_s": (60.0, "pump-down time", "s", FROM_ZERO),
        "heat_capacity_J_K": (300.0, "heat capacity of the load", "J/K", ABOVE),
        "temperature_K": (323.0, "load temperature", "K", ABOVE)}),
    # ---- Laminate ----
    (laminate.sorbed_share, {}, {"dimensionless_time": (0.1, "dimensionless time", "", FROM_ZERO)}),
    (laminate.time_for_share, {}, {"share": (0.5, "share", "(share)", (0.0, 1.0))}),
    (after, {}, SHEET),
    (dried, {}, SHEET),
    (laminate.moisture_after, {"laminate": sheet()}, SOAKED | {"time_s": (60.0, "time", "s", FROM_ZERO)}),
    (laminate.drying_time_s, {"laminate": sheet()}, SOAKED | {
        "target_share": (1e-3, "moisture target", "(share)", FROM_ZERO)}),
    (laminate.bake_suggestion, {"laminate": sheet(), "moisture_share": 2e-3, "target_share": 1e-3}, {
        "bake_temperature_K": (378.0, "bake temperature", "K", ABOVE),
        "board_limit_K": (393.0, "board temperature limit", "K", ABOVE)}),
    # ---- Rinse and residue ----
    (rinse.carry_over, {}, {
        "area_m2": (0.1, "board area", "m²", ABOVE),
        "drag_out_m3_m2": (8e-5, "drag-out per area", "m³/m²", FROM_ZERO),
        "gap_volume_m3": (1e-7, "gap volume", "m³", FROM_ZERO),
        "rack_hold_up_m3": (2e-6, "rack hold-up", "m³", FROM_ZERO)}),
    (rinse.gap_exchange_share, {}, {
        "rinse_time_s": (60.0, "rinse time", "s", FROM_ZERO), "gap_m": (5e-5, "gap", "m", ABOVE),
        "flux_path_m": (3e-3, "flux path", "m", ABOVE), "diffusivity_m2_s": (1e-9, "diffusivity", "m²/s", ABOVE),
        "gap_velocity_m_s": (0.01, "gap velocity", "m/s", FROM_ZERO)}),
    (rinse.batch_rinse, {"load": LOAD}, FILLED | {"rinses": (2.0, "rinses", "", FROM_ZERO)}),
    (filled, {}, CARRIED),
    (rinse.rinses_needed, {"load": LOAD}, FILLED | {"limit_kg_m2": (1e-5, "residue limit", "kg/m²", ABOVE)}),
    (rinse.rinse_until_resistivity, {"load": LOAD, "feed_concentration_kg_m3": 0.0, "exchange_share": 0.5},
     some(FILLED, "residue_concentration_kg_m3", "rinse_volume_m3")
     | {"set_point_ohm_m": (1e4, "resistivity set point", "Ω·m", ABOVE)}),
    (rinse_supply.counterflow_dilution, {"stages": 2}, {"flow_ratio": (30.0, "flow ratio", "", FROM_ZERO)}),
    (rinse_supply.counterflow_flow_ratio, {"stages": 2}, {"dilution": (1e3, "dilution", "", (1.0, float("inf")))}),
    (rinse_supply.counterflow_rinse, {"load": LOAD, "stages": 2},
     RINSE | {"rinse_volume_m3": (0.06, "rinse volume", "m³", FROM_ZERO)}),
    (against_flow, {}, CARRIED),
    (rinse_supply.resin_volume_m3, {}, {
        "residue_removed_kg": (0.06, "residue removed", "kg", FROM_ZERO),
        "resin_capacity_eq_m3": (500.0, "resin capacity", "eq/m³", ABOVE),
        "usable_share": (0.8, "usable share", "", (0.0, 1.0))}),
    (rinse_supply.closed_loop_time_s, {"set_point_ohm_m": 1e4, "resin_outlet_ohm_m": 1e5}, {
        "start_concentration_kg_m3": (0.01, "start concentration", "kg/m³", FROM_ZERO),
        "loop_volume_m3": (0.1, "loop volume", "m³", ABOVE), "loop_flow_m3_s": (1e-4, "loop flow", "m³/s", FROM_ZERO)}),
    (ionic.salt_conductivity_S_m, {}, {
        "concentration_kg_m3": (1e-3, "the salt concentration", "kg/m³", FROM_ZERO),
        "limiting_slope": (0.0, "the limiting slope", "S·m²/mol per √(mol/m³)", FROM_ZERO)}),
    (ionic.pure_water_resistivity_ohm_m, {}, {"temperature_K": (298.15, "water temperature", "K", (273.15, 373.15))}),
    (ionic.salt_concentration_kg_m3, {},
     {"resistivity_at_25C_ohm_m": (1e4, "resistivity at 25 °C", "Ω·m", ABOVE)}),
    (ionic.micrograms_per_square_centimetre, {},
     {"micrograms_per_square_inch": (10.0, "the surface residue", "µg/in²", FROM_ZERO)}),
    (ionic.micrograms_per_square_inch, {},
     {"micrograms_per_square_centimetre": (1.5, "the surface residue", "µg/cm²", FROM_ZERO)}),
    (ionic.extracted_residue_kg_m2, {}, {
        "concentration_kg_m3": (1e-3, "the extract concentration", "kg/m³", FROM_ZERO),
        "extract_volume_m3": (1e-3, "the extract volume", "m³", FROM_ZERO),
        "board_area_m2": (0.1, "board area", "m²", ABOVE)}),
    # ---- Materials and charge ----
    (point, {}, {
        "dispersion_sqrtPa": (16e3, "dispersion parameter", "Pa^½", FROM_ZERO),
        "polar_sqrtPa": (6e3, "polar parameter", "Pa^½", FROM_ZERO),
        "hydrogen_bonding_sqrtPa": (16e3, "hydrogen-bonding parameter", "Pa^½", FROM_ZERO)}),
    (hansen.relative_energy_difference, {}, {
        "distance_sqrtPa": (8e3, "Hansen distance", "Pa^½", FROM_ZERO),
        "interaction_radius_sqrtPa": (8e3, "interaction radius", "Pa^½", ABOVE)}),
    (solvent_for_drying, {}, {
        "molar_mass_kg_mol": (0.06, "molar mass", "kg/mol", ABOVE),
        "liquid_density_kg_m3": (785.0, "liquid density", "kg/m³", ABOVE),
        "latent_heat_J_kg": (7e5, "latent heat", "J/kg", ABOVE),
        "vapour_pressure_Pa": (4.4e3, "vapour pressure", "Pa", ABOVE),
        "vapour_pressure_temperature_K": (293.15, "vapour pressure temperature", "K", ABOVE),
        "diffusivity_m2_s": (1e-5, "diffusivity", "m²/s", ABOVE),
        "diffusivity_temperature_K": (298.15, "diffusivity temperature", "K", ABOVE),
        "diffusivity_exponent": (1.75, "diffusivity exponent", "", ABOVE),
        "coldest_K": (253.15, "lowest temperature", "K", ABOVE)}),
    (esd.resistance_class, {}, {"resistance_ohm": (1e6, "resistance", "Ω", FROM_ZERO)}),
    (esd.decay_time_s, {}, {
        "resistance_ohm": (1e6, "resistance", "Ω", FROM_ZERO), "capacitance_F": (1e-11, "capacitance", "F", FROM_ZERO),
        "start_V": (1e3, "start voltage", "V", ABOVE), "end_V": (1e2, "end voltage", "V", ABOVE)}),
    (esd.relaxation_time_s, {}, {
        "relative_permittivity": (2.0, "relative permittivity", "", ABOVE),
        "conductivity_S_m": (5e-11, "conductivity", "S/m", ABOVE)}),
    (esd.decades_below, {}, {
        "value": (1e6, "value", "", FROM_ZERO), "limit": (1e8, "limit", "", ABOVE),
        "cap_decades": (3.0, "cap", "decades", ABOVE)}),
]  # fmt: skip

CASES = [
    pytest.param(function, fixed | {name: told[0] for name, told in row.items()}, argument, told,
                 id=f"{number}-{getattr(function, '__name__', 'pressure_Pa')}-{argument}")
    for number, (function, fixed, row) in enumerate(TABLE)
    for argument, told in row.items()
]  # fmt: skip


@pytest.mark.parametrize(("function", "arguments", "argument", "told"), CASES)
def test_a_value_without_physical_meaning_is_refused_with_name_value_unit_and_limits(
    function: Callable[..., Any], arguments: Arguments, argument: str, told: Told
) -> None:
    _, name, unit, limits = told
    end = f" {unit}".rstrip()
    if isinstance(limits, tuple):
        wrong, allowed = [limits[0] - 1.0, limits[1] + 1.0], f"{limits[0]:g} to {limits[1]:g}{end}"
    else:
        wrong, allowed = [-1.0, 0.0] if limits == ABOVE else [-1.0], limits
    for value in wrong:
        if value == float("inf"):  # a limit that is none
            continue
        sentence = f"{name}: {value:g}{end} is not allowed. Give {allowed}."
        with pytest.raises(UnphysicalInputError, match=f"^{re.escape(sentence)}$"):
            function(**(arguments | {argument: value}))


@pytest.mark.parametrize(("function", "arguments"), [(row.values[0], row.values[1]) for row in CASES])
def test_the_values_that_stand_in_the_table_are_accepted(function: Callable[..., Any], arguments: Arguments) -> None:
    assert function(**arguments) is not None


