"""Pump against nozzles, pipes and filter: operating point, power, pipe friction and suction head."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq
from scipy.special import wrightomega

from model.fluids import (
    FloatArray,
    Values,
    plain,
    require_above_zero,
    require_not_negative,
    require_within,
    water_density_kg_m3,
    water_saturation_pressure_Pa,
)
from model.input_errors import UnphysicalInputError

STANDARD_GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall, ISO 80000-3 (from memory)."""
LAMINAR_LIMIT_REYNOLDS = 2300.0
"""Reynolds number of a pipe below which the flow is taken as laminar; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpCurve:
    """Pressure that a pump adds, against flow: a parabola through two ends, or the points of a data sheet.

    Errors: ValueError when neither or both forms are given, an end is not above 0, or the points are fewer than
    two, negative, not rising in flow, or rising in pressure.

    Notes: parabola p = p0·(1 − (q/q_max)²); beyond q_max the pressure is 0. Points are joined by a monotone cubic
    (no overshoot); left of the first point its pressure is held. Valid at the speed and liquid of the data sheet;
    for a thin wash fluid viscosity is neglected. Basis: common practice, no source.
    """

    shutoff_pressure_Pa: Values | None = None
    """Pa, pressure rise at closed valve; None when points are given"""
    max_flow_m3_s: Values | None = None
    """m³/s, flow at zero pressure rise; None when points are given"""
    points: tuple[tuple[float, float], ...] = ()
    """(m³/s, Pa) pairs in rising flow; empty for the parabola"""

    def __post_init__(self) -> None:
        """Raise ValueError for a curve that no pump has."""
        if self.points:
            self._check_points()
        elif self.shutoff_pressure_Pa is None or self.max_flow_m3_s is None:
            raise UnphysicalInputError(
                "pump curve: nothing to draw it from. Give shut-off pressure and maximum flow, or points."
            )
        else:
            require_above_zero("pump shut-off pressure", self.shutoff_pressure_Pa, "Pa")
            require_above_zero("pump maximum flow", self.max_flow_m3_s, "m³/s")

    def _check_points(self) -> None:
        if self.shutoff_pressure_Pa is not None or self.max_flow_m3_s is not None:
            raise UnphysicalInputError("pump curve: points and a parabola are both given. Give one of the two.")
        flows = require_not_negative("pump curve flow", self._column(0), "m³/s")
        pressures = require_not_negative("pump curve pressure", self._column(1), "Pa")
        if len(flows) < 2:
            raise UnphysicalInputError("pump curve: one point is not a curve. Give two points or more.")
        if np.any(np.diff(flows) <= 0.0):
            raise UnphysicalInputError("pump curve: flow must rise from point to point. Sort the points, drop doubles.")
        if np.any(np.diff(pressures) > 0.0):
            raise UnphysicalInputError("pump curve: pressure must not rise with flow. Check the points.")

    def _column(self, index: int) -> FloatArray:
        return np.array([point[index] for point in self.points], dtype=np.float64)

    def pressure_Pa(self, flow_m3_s: Values) -> Values:
        """Pressure rise at a flow.

        Parameters: flow_m3_s: m³/s, float or array.
        Returns: Pa, broadcast shape; 0 beyond the parabola's maximum flow.
        Errors: ValueError for a negative flow, or a flow beyond the last point.

        >>> PumpCurve(shutoff_pressure_Pa=4e5, max_flow_m3_s=0.01).pressure_Pa(0.005)
        300000.0
        """
        flow = require_not_negative("pump flow", flow_m3_s, "m³/s")
        if self.points:
            flows = self._column(0)
            require_within("pump flow", flow, 0.0, flows[-1], "m³/s")
            curve = PchipInterpolator(flows, self._column(1))
            return plain(np.asarray(curve(np.maximum(flow, flows[0]))))
        shutoff, maximum = np.asarray(self.shutoff_pressure_Pa), np.asarray(self.max_flow_m3_s)
        return plain(shutoff * np.maximum(1.0 - (flow / maximum) ** 2, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """Where pump and system meet; floats, or arrays over draws."""

    flow_m3_s: Values
    """m³/s, total flow through pump and nozzles"""
    nozzle_pressure_Pa: Values
    """Pa, pressure drop left over the nozzles"""
    pump_pressure_Pa: Values
    """Pa, pressure rise over the pump"""
    shaft_power_W: Values
    """W, at the pump shaft"""
    beyond_curve: bool | np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
    """true where the system asks for more flow than the last point of the curve; flow is then held at that point"""


def quadratic_loss_coefficient_Pa_s2_m6(pressure_drop_Pa: Values, flow_m3_s: Values) -> Values:
    """Loss coefficient k of a pipe run or filter from one known pair: Δp = k·q².

    Parameters: pressure_drop_Pa: Pa at that flow. flow_m3_s: m³/s. Floats or arrays that broadcast.
    Returns: Pa·s²/m⁶, broadcast shape.
    Errors: ValueError for a negative drop or a flow not above 0.

    Notes: turbulent loss. A clean cartridge can be nearer to linear; the parabola is then low at smaller flows.
    Basis: common practice, no source.

    >>> print(f"{quadratic_loss_coefficient_Pa_s2_m6(2e4, 0.005):.1e}")
    8.0e+08
    """
    drop = require_not_negative("pressure drop", pressure_drop_Pa, "Pa")
    return plain(drop / require_above_zero("flow", flow_m3_s, "m³/s") ** 2)


def operating_point(
    curve: PumpCurve,
    *,
    nozzle_area_m2: Values,
    discharge_coefficient: Values,
    density_kg_m3: Values,
    efficiency_share: Values,
    piping_loss_Pa_s2_m6: Values = 0.0,
    filter_loss_Pa_s2_m6: Values = 0.0,
    static_pressure_Pa: Values = 0.0,
) -> OperatingPoint:
    """Flow and pressures at which the pump's rise equals what nozzles, pipes and filter take.

    Parameters: curve: the pump. nozzle_area_m2: m², all nozzles together. discharge_coefficient: 0 to 1.
    density_kg_m3: kg/m³. efficiency_share: pump efficiency, above 0 up to 1. piping_loss_Pa_s2_m6,
    filter_loss_Pa_s2_m6: k of Δp = k·q², Pa·s²/m⁶, use the loaded filter for the worst case.
    static_pressure_Pa: Pa, height of the nozzles over the tank level times ρg. All floats or arrays that broadcast.
    Returns: OperatingPoint, every field of the broadcast shape.
    Errors: ValueError for zero nozzle area, any negative value, a coefficient or efficiency outside 0 to 1, or a
    pump whose shut-off pressure does not exceed the static pressure (zero flow).

    Notes: p(q) = p_static + (k_nozzle + k_pipe + k_filter)·q², k_nozzle = ρ/(2·(C_d·A)²). For the parabola in closed
    form, q² = (p0 − p_static)/(k + p0/q_max²); for points by Brent's method, one draw at a time. Both sides of the
    pump are taken at the same surrounding pressure. Efficiency is taken at this point, not along the curve.
    Basis: derived.

    >>> pump = PumpCurve(shutoff_pressure_Pa=4e5, max_flow_m3_s=0.01)
    >>> point = operating_point(
    ...     pump, nozzle_area_m2=2e-4, discharge_coefficient=0.8, density_kg_m3=1000.0, efficiency_share=0.5
    ... )
    >>> print(f"{point.flow_m3_s:.5f} {point.nozzle_pressure_Pa:.0f}")
    0.00412 332005
    """
    area = require_above_zero("total nozzle area", nozzle_area_m2, "m²")
    discharge = _share("discharge coefficient", discharge_coefficient)
    density = require_above_zero("liquid density", density_kg_m3, "kg/m³")
    efficiency = _share("pump efficiency", efficiency_share)
    piping = require_not_negative("piping loss coefficient", piping_loss_Pa_s2_m6, "Pa·s²/m⁶")
    straining = require_not_negative("filter loss coefficient", filter_loss_Pa_s2_m6, "Pa·s²/m⁶")
    static = require_not_negative("static pressure", static_pressure_Pa, "Pa")
    if np.any(np.asarray(curve.pressure_Pa(0.0)) <= static):
        raise UnphysicalInputError(
            f"static pressure: {np.max(static):g} Pa is not below the pump's pressure at zero flow, so nothing flows. "
            "Give a stronger pump or less height."
        )
    nozzle = density / (2.0 * (discharge * area) ** 2)
    total = nozzle + piping + straining
    if curve.points:
        flow, beyond = _meet_points(curve, total, static)
    else:
        shutoff = np.asarray(curve.shutoff_pressure_Pa)
        maximum = np.asarray(curve.max_flow_m3_s)
        flow = np.sqrt((shutoff - static) / (total + shutoff / maximum**2))
        beyond = np.zeros(np.shape(flow), dtype=np.bool_)
    # Efficiency may be the only argument with draws: every field takes the full shape.
    flow, beyond, efficiency, nozzle, total, static = np.broadcast_arrays(
        flow, beyond, efficiency, nozzle, total, static
    )
    pump_pressure = static + total * flow**2
    return OperatingPoint(
        flow_m3_s=plain(flow),
        nozzle_pressure_Pa=plain(nozzle * flow**2),
        pump_pressure_Pa=plain(pump_pressure),
        shaft_power_W=plain(flow * pump_pressure / efficiency),
        beyond_curve=bool(beyond) if np.ndim(beyond) == 0 else beyond,
    )


def _meet_points(
    curve: PumpCurve, total: FloatArray, static: FloatArray
) -> tuple[FloatArray, np.ndarray[tuple[int, ...], np.dtype[np.bool_]]]:
    """Flow where a tabulated curve meets static + total·q², and whether that lies beyond the last point."""
    table = np.asarray(curve.points, dtype=np.float64)
    first_flow, last_flow, last_pressure = table[0, 0], table[-1, 0], table[-1, 1]
    pump_pressure = PchipInterpolator(table[:, 0], table[:, 1])
    total, static = np.broadcast_arrays(total, static)
    # Beyond the data sheet nobody knows the curve; holding the last flow never promises pressure it may not have.
    beyond = last_pressure > static + total * last_flow**2

    def surplus(trial: float, loss: float, height: float) -> float:
        return float(pump_pressure(max(trial, first_flow))) - height - loss * trial**2

    flow = np.full(total.shape, last_flow)
    for index in np.argwhere(~beyond):
        here = tuple(index)
        flow[here] = brentq(surplus, 0.0, last_flow, args=(total[here], static[here]), xtol=1e-12 * last_flow)
    return flow, beyond


def _share(name: str, values: Values) -> FloatArray:
    return require_within(name, require_above_zero(name, values, "(share)"), 0.0, 1.0, "(share)")


def hydraulic_power_W(flow_m3_s: Values, pressure_Pa: Values) -> Values:
    """Power that the liquid gains in a pump: P = q·Δp.

    Parameters: flow_m3_s: m³/s. pressure_Pa: pressure rise in Pa. Floats or arrays that broadcast.
    Returns: W, broadcast shape.
    Errors: ValueError for a flow or pressure not above 0.

    >>> print(f"{hydraulic_power_W(30 / 3600, 3e5):.1f}")
    2500.0
    """
    flow = require_above_zero("flow", flow_m3_s, "m³/s")
    return plain(flow * require_above_zero("pump pressure", pressure_Pa, "Pa"))


def shaft_power_W(flow_m3_s: Values, pressure_Pa: Values, efficiency_share: Values) -> Values:
    """Power at the pump shaft: P = q·Δp/η.

    Parameters: flow_m3_s: m³/s. pressure_Pa: pressure rise in Pa. efficiency_share: above 0 up to 1, of the pump
    alone (motor and drive not included). Floats or arrays that broadcast.
    Returns: W, broadcast shape.
    Errors: ValueError for a flow or pressure not above 0 or an efficiency outside 0 to 1.

    >>> print(f"{shaft_power_W(30 / 3600, 3e5, 0.6):.1f}")
    4166.7
    """
    efficiency = _share("pump efficiency", efficiency_share)
    return plain(np.asarray(hydraulic_power_W(flow_m3_s, pressure_Pa) / efficiency))


def friction_factor(reynolds_number: Values, relative_roughness: Values) -> Values:
    """Friction factor (Darcy) of a straight round pipe.

    Parameters: reynolds_number: on the diameter. relative_roughness: roughness over diameter, 0 to 0.05. Floats or
    arrays that broadcast.
    Returns: Darcy friction factor (no unit), broadcast shape.
    Errors: ValueError for a Reynolds number not above 0 or a roughness outside 0 to 0.05.

    Notes: 64/Re below Re 2300, above it Colebrook, 1/√f = −2·log10(ε/3.7 + 2.51/(Re·√f)), in closed form by the
    Wright omega function (the Lambert W of an exponential, safe from overflow). The band Re 2300 to 4000 is taken as
    turbulent, the higher loss. Basis: published.
    Reference: Colebrook (1939); constants as coded in `fluids`.

    >>> print(f"{friction_factor(1e5, 1e-4):.10f}")
    0.0185138661
    """
    reynolds = require_above_zero("Reynolds number", reynolds_number, "(no unit)")
    roughness = require_within("relative roughness", relative_roughness, 0.0, 0.05, "(no unit)")
    # With y = ε/3.7 + 2.51·x/Re and x = 1/√f, Colebrook reads y + s·ln y = ε/3.7, hence y = s·ω(ε/(3.7·s) − ln s).
    scale = 2.0 * 2.51 / (math.log(10.0) * reynolds)
    inner = scale * wrightomega(roughness / (3.7 * scale) - np.log(scale))
    turbulent = (-2.0 * np.log10(inner)) ** -2
    return plain(np.where(reynolds < LAMINAR_LIMIT_REYNOLDS, 64.0 / reynolds, turbulent))


def pipe_loss_Pa(
    flow_m3_s: Values,
    *,
    diameter_m: Values,
    length_m: Values,
    roughness_m: Values,
    density_kg_m3: Values,
    viscosity_Pa_s: Values,
    minor_loss_coefficient: Values = 0.0,
) -> Values:
    """Pressure lost in a straight pipe with its fittings.

    Parameters: flow_m3_s: m³/s. diameter_m: inner diameter, m. length_m: m. roughness_m: wall roughness, m.
    density_kg_m3: kg/m³. viscosity_Pa_s: Pa·s. minor_loss_coefficient: velocity heads lost in fittings together.
    All floats or arrays that broadcast.
    Returns: Pa, broadcast shape.
    Errors: ValueError for zero flow or diameter, or any negative value.

    Notes: Δp = (f·L/d + K)·ρv²/2 (Darcy and Weisbach); entrance length neglected. Basis: derived.

    >>> loss = pipe_loss_Pa(
    ...     0.002, diameter_m=0.03, length_m=5.0, roughness_m=0.0, density_kg_m3=983.2, viscosity_Pa_s=4.66e-4
    ... )
    >>> print(f"{loss:.0f}")
    10482
    """
    flow = require_above_zero("flow", flow_m3_s, "m³/s")
    diameter = require_above_zero("pipe diameter", diameter_m, "m")
    length = require_not_negative("pipe length", length_m, "m")
    roughness = require_not_negative("pipe roughness", roughness_m, "m")
    density = require_above_zero("liquid density", density_kg_m3, "kg/m³")
    viscosity = require_above_zero("viscosity", viscosity_Pa_s, "Pa·s")
    fittings = require_not_negative("minor loss coefficient", minor_loss_coefficient, "(no unit)")
    speed = 4.0 * flow / (math.pi * diameter**2)
    friction = friction_factor(density * speed * diameter / viscosity, roughness / diameter)
    return plain(np.asarray((friction * length / diameter + fittings) * 0.5 * density * speed**2))


def npsh_available_m(
    absolute_pressure_Pa: Values,
    temperature_K: Values,
    suction_head_m: Values,
    friction_head_m: Values,
    *,
    density_kg_m3: Values | None = None,
    vapour_pressure_Pa: Values | None = None,
) -> Values:
    """Head by which the liquid at the pump inlet is above boiling (net positive suction head available).

    Parameters: absolute_pressure_Pa: Pa, on the tank's liquid surface. temperature_K: kelvin. suction_head_m: m,
    height of the liquid level over the pump inlet, negative for a pump that lifts. friction_head_m: m lost on the
    way. density_kg_m3, vapour_pressure_Pa: kg/m³ and Pa; left out: hot water's. Floats or arrays that broadcast.
    Returns: m of liquid column, broadcast shape; below 0 the liquid boils in the suction line.
    Errors: ValueError for a pressure or density not above 0, a negative friction head or vapour pressure, a head
    that is not finite, or water outside 273.15 to 383.15 K.

    Notes: NPSH = (p − p_v)/(ρg) + z − h_f. Cold water's vapour pressure would flatter the margin, so the hot
    values are used.
    Dissolved gas, which comes out before boiling, is neglected. Basis: derived.

    >>> print(f"{npsh_available_m(101325.0, 343.15, 0.5, 0.3):.2f}")
    7.51
    """
    pressure = require_above_zero("absolute pressure", absolute_pressure_Pa, "Pa")
    friction = require_not_negative("friction head", friction_head_m, "m")
    height = require_within("suction head", suction_head_m, -1e6, 1e6, "m")
    if vapour_pressure_Pa is None:
        vapour_pressure_Pa = water_saturation_pressure_Pa(temperature_K)
    if density_kg_m3 is None:
        density_kg_m3 = water_density_kg_m3(temperature_K)
    vapour = require_not_negative("vapour pressure", vapour_pressure_Pa, "Pa")
    density = require_above_zero("liquid density", density_kg_m3, "kg/m³")
    return plain((pressure - vapour) / (density * STANDARD_GRAVITY_M_S2) + height - friction)
