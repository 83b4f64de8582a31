"""One nozzle and its jet: flow, speed, thrust, spread, loss of speed in air, and its film on a wall."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import beta

from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative, require_within

# Watson's similarity film: c = ∫0..1 dx/√(1 − x³) = 1.4022; everything below follows from it in closed form,
# which keeps thickness and speed continuous at r0 better than the rounded .3155 and .567 of the paper.
_SHAPE = float(beta(1.0 / 3.0, 0.5)) / 3.0
_R0_CUBED = 9.0 * math.sqrt(3.0) * _SHAPE * (math.pi - _SHAPE * math.sqrt(3.0)) / (16.0 * math.pi**3)
_L_CUBED = 27.0 * _SHAPE**2 / (8.0 * math.pi**3) - _R0_CUBED
_SPEED_FACTOR = 27.0 * _SHAPE**2 / (8.0 * math.pi**4)
_THICKNESS_FACTOR = 2.0 * math.pi**2 / (3.0 * math.sqrt(3.0))


def nozzle_area_m2(diameter_m: Values) -> Values:
    """Area of a round orifice: A = π d²/4.

    Parameters: diameter_m: m, float or array.
    Returns: m², same shape.
    Errors: ValueError for a diameter that is not above 0.

    >>> print(f"{nozzle_area_m2(0.002):.4e}")
    3.1416e-06
    """
    diameter = require_above_zero("nozzle diameter", diameter_m, "m")
    return plain(0.25 * math.pi * diameter**2)


def orifice_flow_m3_s(
    diameter_m: Values, pressure_Pa: Values, discharge_coefficient: Values, density_kg_m3: Values
) -> Values:
    """Flow of one round nozzle.

    Parameters: diameter_m: orifice diameter in m. pressure_Pa: pressure drop over the nozzle in Pa.
    discharge_coefficient: C_d, above 0 up to 1. density_kg_m3: liquid density in kg/m³. All floats or arrays
    that broadcast.
    Returns: m³/s, broadcast shape.
    Errors: ValueError for a diameter or density not above 0, a negative pressure, or a coefficient outside 0
    to 1.

    Notes: Q = C_d·A·√(2Δp/ρ). Holds for a turbulent jet into air; viscosity enters only through C_d. Basis:
    derived.

    >>> print(f"{orifice_flow_m3_s(0.002, 3e5, 0.62, 998.2) * 60000:.4f}")
    2.8652
    """
    coefficient = _coefficient("discharge coefficient", discharge_coefficient)
    ideal = jet_speed_m_s(pressure_Pa, 1.0, density_kg_m3)
    return plain(np.asarray(coefficient * nozzle_area_m2(diameter_m) * ideal))


def jet_speed_m_s(pressure_Pa: Values, velocity_coefficient: Values, density_kg_m3: Values) -> Values:
    """Speed of the liquid as it leaves the nozzle.

    Parameters: pressure_Pa: pressure drop over the nozzle in Pa. velocity_coefficient: C_v, above 0 up to 1.
    density_kg_m3: liquid density in kg/m³. All floats or arrays that broadcast.
    Returns: m/s, broadcast shape.
    Errors: ValueError for a negative pressure, a density not above 0, or a coefficient outside 0 to 1.

    Notes: v0 = C_v·√(2Δp/ρ). Basis: derived.

    >>> print(f"{jet_speed_m_s(3e5, 1.0, 998.2):.3f}")
    24.517
    """
    pressure = require_not_negative("nozzle pressure", pressure_Pa, "Pa")
    coefficient = _coefficient("velocity coefficient", velocity_coefficient)
    density = require_above_zero("liquid density", density_kg_m3, "kg/m³")
    return plain(coefficient * np.sqrt(2.0 * pressure / density))


def _coefficient(name: str, values: Values) -> FloatArray:
    return require_within(name, require_above_zero(name, values, "(no unit)"), 0.0, 1.0, "(no unit)")


def thrust_N(flow_m3_s: Values, speed_m_s: Values, density_kg_m3: Values) -> Values:
    """Force of a jet on a wall square to it, equal to the recoil on the nozzle.

    Parameters: flow_m3_s: m³/s. speed_m_s: m/s. density_kg_m3: liquid density in kg/m³. All floats or arrays
    that broadcast.
    Returns: N, broadcast shape.
    Errors: ValueError for a negative flow or speed or a density not above 0.

    Notes: F = ρ·q·v. Basis: derived (momentum balance).

    >>> thrust_N(0.001, 20.0, 1000.0)
    20.0
    """
    flow = require_not_negative("flow", flow_m3_s, "m³/s")
    speed = require_not_negative("jet speed", speed_m_s, "m/s")
    density = require_above_zero("liquid density", density_kg_m3, "kg/m³")
    return plain(density * flow * speed)


def spray_width_m(distance_m: Values, full_angle_rad: Values) -> Values:
    """Width that a spray of given full angle covers at a distance.

    Parameters: distance_m: m from the nozzle. full_angle_rad: full spray angle in radians, below π. Floats
    or arrays that broadcast.
    Returns: m, broadcast shape.
    Errors: ValueError for a negative distance or an angle outside 0 to π.

    Notes: w = 2·H·tan(α/2). Straight rays: gravity and entrained air make the real width narrower. Basis:
    derived.

    >>> print(f"{spray_width_m(0.1, np.pi / 2):.3f}")
    0.200
    """
    distance = require_not_negative("distance", distance_m, "m")
    angle = require_within("full spray angle", full_angle_rad, 0.0, math.pi * (1.0 - 1e-9), "rad")
    return plain(2.0 * distance * np.tan(0.5 * angle))


def cone_solid_angle_sr(half_angle_rad: Values) -> Values:
    """Solid angle of a full cone: Ω = 2π(1 − cos a).

    Parameters: half_angle_rad: half angle in radians, 0 to π, float or array.
    Returns: Steradian, same shape.
    Errors: ValueError for an angle outside 0 to π.

    Notes: Written as 4π·sin²(a/2), which keeps its digits for the 1° of a coherent jet. Basis: derived.

    >>> print(f"{cone_solid_angle_sr(np.pi / 2):.4f}")
    6.2832
    """
    half_angle = require_within("cone half angle", half_angle_rad, 0.0, math.pi, "rad")
    return plain(4.0 * math.pi * np.sin(0.5 * half_angle) ** 2)


def fan_solid_angle_sr(wide_half_angle_rad: Values, thin_half_angle_rad: Values) -> Values:
    """Solid angle of a flat fan with two half angles: Ω = 4·arcsin(sin a·sin b).

    Parameters: wide_half_angle_rad, thin_half_angle_rad: half angles in the two mid-planes, radians, 0 to
    π/2; floats or arrays.
    Returns: Steradian, broadcast shape.
    Errors: ValueError for an angle outside 0 to π/2.

    Notes: Exact for a rectangular pyramid seen from its apex; a real fan has rounded ends. Basis: derived.

    >>> print(f"{fan_solid_angle_sr(np.pi / 4, np.pi / 4):.4f}")
    2.0944
    """
    wide = require_within("fan half angle", wide_half_angle_rad, 0.0, 0.5 * math.pi, "rad")
    thin = require_within("fan half angle", thin_half_angle_rad, 0.0, 0.5 * math.pi, "rad")
    return plain(4.0 * np.arcsin(np.minimum(np.sin(wide) * np.sin(thin), 1.0)))


def drag_decay_length_m(
    drop_diameter_m: Values,
    liquid_density_kg_m3: Values,
    air_density_kg_m3: Values,
    drag_coefficient: Values,
) -> Values:
    """Distance over which air drag takes a drop's speed down to 1/e.

    Parameters: drop_diameter_m: m. liquid_density_kg_m3, air_density_kg_m3: kg/m³. drag_coefficient: C_d of
    the drop. All floats or arrays that broadcast.
    Returns: m, broadcast shape.
    Errors: ValueError for any argument not above 0.

    Notes: λ = (4/3)·d·ρ_l/(C_d·ρ_a), so that v(x) = v0·exp(−x/λ). Newton regime: constant drag coefficient
    (drop Reynolds number about 500 and more), still air, no gravity; air dragged along by a dense spray
    makes the true loss smaller. Basis: derived.

    >>> print(f"{drag_decay_length_m(0.001, 1000.0, 1.2, 0.44):.3f}")
    2.525
    """
    diameter = require_above_zero("drop diameter", drop_diameter_m, "m")
    liquid = require_above_zero("liquid density", liquid_density_kg_m3, "kg/m³")
    air = require_above_zero("air density", air_density_kg_m3, "kg/m³")
    drag = require_above_zero("drag coefficient", drag_coefficient, "(no unit)")
    return plain(4.0 / 3.0 * diameter * liquid / (drag * air))


def speed_after_drag_m_s(speed_m_s: Values, distance_m: Values, decay_length_m: Values) -> Values:
    """Speed of a drop after it has flown a distance: v = v0·exp(−x/λ).

    Parameters: speed_m_s: start speed in m/s. distance_m: flown distance in m. decay_length_m: λ in m from
    `drag_decay_length_m`. All floats or arrays that broadcast.
    Returns: m/s, broadcast shape.
    Errors: ValueError for a negative speed or distance or a decay length not above 0.

    >>> print(f"{speed_after_drag_m_s(10.0, 2.0, 2.0):.3f}")
    3.679
    """
    speed = require_not_negative("jet speed", speed_m_s, "m/s")
    distance = require_not_negative("distance", distance_m, "m")
    decay = require_above_zero("decay length", decay_length_m, "m")
    return plain(speed * np.exp(-distance / decay))


def _film(flow: Values, speed: Values, viscosity: Values) -> tuple[FloatArray, FloatArray, FloatArray]:
    return (
        require_above_zero("flow", flow, "m³/s"),
        require_above_zero("jet speed", speed, "m/s"),
        require_above_zero("kinematic viscosity", viscosity, "m²/s"),
    )


def watson_transition_radius_m(
    flow_m3_s: Values, speed_m_s: Values, kinematic_viscosity_m2_s: Values
) -> Values:
    """Radius r0 at which the wall's slowing reaches the surface of the film under a jet.

    Parameters: flow_m3_s: flow of the jet in m³/s. speed_m_s: speed of the jet in m/s; with the flow it
    fixes the jet's radius a = √(Q/(πU)). kinematic_viscosity_m2_s: m²/s. All floats or arrays that
    broadcast.
    Returns: m, broadcast shape.
    Errors: ValueError for any argument not above 0.

    Notes: r0 = 0.3155·a·R^(1/3), R = Q/(νa), with the constant in closed form. Laminar film on a flat smooth
    wall, jet square to it; no gravity, no surface tension, no hydraulic jump. Basis: published.
    Reference: Watson (1964), J. Fluid Mech. 20:481 (equations re-derived; paper cited from memory).

    >>> print(f"{watson_transition_radius_m(np.pi * 1e-5, 10.0, 1e-6) * 1e3:.3f}")
    9.956
    """
    flow, speed, viscosity = _film(flow_m3_s, speed_m_s, kinematic_viscosity_m2_s)
    return plain(np.cbrt(_R0_CUBED * flow**2 / (math.pi * viscosity * speed)))


def watson_surface_speed_m_s(
    radius_m: Values, flow_m3_s: Values, speed_m_s: Values, kinematic_viscosity_m2_s: Values
) -> Values:
    """Speed of the film's free surface at a radius from the point of impact.

    Parameters: radius_m: m from the axis of the jet. flow_m3_s, speed_m_s, kinematic_viscosity_m2_s: as
    `watson_transition_radius_m`. All broadcast.
    Returns: m/s, broadcast shape: the jet's own speed up to r0, then falling.
    Errors: ValueError for a negative radius or any other argument not above 0.

    Notes: U_s = (27c²/(8π⁴))·Q²/(ν(r³ + l³)), l = 0.567·a·R^(1/3), c = 1.402. Limits as
    `watson_transition_radius_m`. Basis: published.
    Reference: Watson (1964), J. Fluid Mech. 20:481 (equations re-derived; paper cited from memory).

    >>> print(f"{watson_surface_speed_m_s(0.020, np.pi * 1e-5, 10.0, 1e-6):.3f}")
    4.894
    """
    radius = require_not_negative("radius", radius_m, "m")
    flow, speed, viscosity = _film(flow_m3_s, speed_m_s, kinematic_viscosity_m2_s)
    length_cubed = _L_CUBED * flow**2 / (math.pi * viscosity * speed)
    developed = _SPEED_FACTOR * flow**2 / (viscosity * (radius**3 + length_cubed))
    return plain(np.minimum(developed, speed))


def watson_film_thickness_m(
    radius_m: Values, flow_m3_s: Values, speed_m_s: Values, kinematic_viscosity_m2_s: Values
) -> Values:
    """Thickness of the film under a jet at a radius from the point of impact.

    Parameters: radius_m: m from the axis of the jet. flow_m3_s, speed_m_s, kinematic_viscosity_m2_s: as
    `watson_transition_radius_m`. All broadcast.
    Returns: m, broadcast shape.
    Errors: ValueError for a negative radius or any other argument not above 0.

    Notes: Beyond r0: h = (2π²/(3√3))·ν(r³ + l³)/(Q·r). Up to r0: h = a²/(2r) + (1 − 2π/(3√3c²))·δ, δ² =
    (√3c³/(π − c√3))·νr/U. Inside the jet's own radius there is no film; the value at r = a is returned
    there. Limits as `watson_transition_radius_m`. Basis: published.
    Reference: Watson (1964), J. Fluid Mech. 20:481 (equations re-derived; paper cited from memory).

    >>> print(f"{watson_film_thickness_m(0.020, np.pi * 1e-5, 10.0, 1e-6) * 1e6:.1f}")
    83.1
    """
    flow, speed, viscosity = _film(flow_m3_s, speed_m_s, kinematic_viscosity_m2_s)
    jet_radius = np.sqrt(flow / (math.pi * speed))
    radius = np.maximum(require_not_negative("radius", radius_m, "m"), jet_radius)
    transition = watson_transition_radius_m(flow, speed, viscosity)
    length_cubed = _L_CUBED * flow**2 / (math.pi * viscosity * speed)
    developed = _THICKNESS_FACTOR * viscosity * (radius**3 + length_cubed) / (flow * radius)
    root3 = math.sqrt(3.0)
    layer = np.sqrt(root3 * _SHAPE**3 / (math.pi - _SHAPE * root3) * viscosity * radius / speed)
    displaced = (1.0 - 2.0 * math.pi / (3.0 * root3 * _SHAPE**2)) * layer
    growing = jet_radius**2 / (2.0 * radius) + displaced
    return plain(np.where(radius < transition, growing, developed))


def film_run_out_radius_m(
    flow_m3_s: Values, speed_m_s: Values, kinematic_viscosity_m2_s: Values, useful_speed_m_s: Values
) -> Values:
    """Radius around the point of impact within which the film's surface is still fast enough to be useful.

    Parameters: flow_m3_s, speed_m_s, kinematic_viscosity_m2_s: as `watson_transition_radius_m`.
    useful_speed_m_s: lowest surface speed in m/s that still helps. All floats or arrays that broadcast.
    Returns: m, broadcast shape; 0 where the jet itself is slower than the useful speed, never below r0
    otherwise.
    Errors: ValueError for any argument not above 0.

    Notes: Solves U_s(r) = useful speed: r³ = (27c²/(8π⁴))·Q²/(ν·U_useful) − l³. On a smooth flat wall this
    is centimetres; between components the caller must take the shorter clear distance. Turbulence and the
    hydraulic jump end a film earlier and are neglected, so this is an upper limit. Basis: published.
    Reference: Watson (1964), J. Fluid Mech. 20:481 (equations re-derived; paper cited from memory).

    >>> print(f"{film_run_out_radius_m(np.pi * 1e-5, 10.0, 1e-6, 4.8936) * 1e3:.2f}")
    20.00
    """
    flow, speed, viscosity = _film(flow_m3_s, speed_m_s, kinematic_viscosity_m2_s)
    useful = require_above_zero("useful speed", useful_speed_m_s, "m/s")
    reached = np.minimum(useful, speed)
    cubed = flow**2 / viscosity * (_SPEED_FACTOR / reached - _L_CUBED / (math.pi * speed))
    return plain(np.where(useful > speed, 0.0, np.cbrt(cubed)))
