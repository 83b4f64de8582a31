"""Under the component: what it takes to enter the gap, how fast fluid runs through it, how fast it dissolves.

The gap is a plane slot of height h between component and board, crossed by the fluid along the flow length L
(the body length). Results are per unit width across the flow. Every argument may be a float or an array;
shapes broadcast, so pressure bins (bins, 1) go together with draws (draws,).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.fluids import Values, plain, require_above_zero, require_not_negative
from model.input_errors import UnphysicalInputError

SHERWOOD_DEVELOPED = {1: 4.8607, 2: 7.5407}
"""Developed Sherwood number on 2h by count of active walls: VDI Heat Atlas 2002 Gb; Shah & London 1978."""

ENTRY_COEFFICIENT = 1.849
"""Mean entry (Lévêque) coefficient of the plane slot, for one active wall as for two: Shah & London 1978."""

_ENTRY_CUBED = ENTRY_COEFFICIENT**3
_SMALLEST = 1e-300


@dataclass(frozen=True, slots=True, kw_only=True)
class GapFigures:
    """One kind of gap filled by one fluid at one temperature; floats or arrays over draws; parts of a `GapState`."""

    gap_m: Values
    """m, clear height between component and board, above 0"""
    flow_length_m: Values
    """m, distance the fluid runs under the body, above 0"""
    viscosity_Pa_s: Values
    """Pa·s, at wash temperature, above 0"""
    density_kg_m3: Values
    """kg/m³, of the fluid at wash temperature, above 0"""
    diffusivity_m2_s: Values
    """m²/s, of the dissolved residue in the fluid, above 0"""
    entry_pressure_Pa: Values
    """Pa, from `entry_pressure_Pa`, 0 for a wetting fluid"""
    end_loss_coefficient: Values
    """dimensionless, velocity heads lost at entrance and exit together; 0 leaves plane Poiseuille flow"""


@dataclass(frozen=True, slots=True, kw_only=True)
class GapState(GapFigures):
    """Figures of a gap that were checked, once, here."""

    def __post_init__(self) -> None:
        """Raise ValueError for a value without physical meaning."""
        require_above_zero("gap height", self.gap_m, "m")
        require_above_zero("flow length", self.flow_length_m, "m")
        require_above_zero("viscosity", self.viscosity_Pa_s, "Pa·s")
        require_above_zero("fluid density", self.density_kg_m3, "kg/m³")
        require_above_zero("diffusivity", self.diffusivity_m2_s, "m²/s")
        require_not_negative("entry pressure", self.entry_pressure_Pa, "Pa")
        require_not_negative("end loss coefficient", self.end_loss_coefficient, "")


def capillary_pressure_Pa(
    surface_tension_N_m: Values,
    contact_angle_component_rad: Values,
    contact_angle_board_rad: Values,
    gap_m: Values,
) -> Values:
    """Capillary suction of a meniscus between two plane walls; negative where the walls repel the fluid.

    Parameters: surface tension (N/m), contact angle on component and on board (rad), gap height (m); all
    broadcast.
    Returns: suction (Pa), positive draws the fluid in.
    Errors: ValueError for a gap not above 0 or a negative surface tension.

    Notes: p = σ(cosθ₁ + cosθ₂)/h (Young–Laplace). Static and advancing angles are not told apart; the angle
    on a flux residue may differ from that on bare solder mask. Pins and balls in the gap are neglected.

    >>> round(float(capillary_pressure_Pa(0.072, 0.0, 0.0, 50e-6)), 6)
    2880.0
    """
    require_above_zero("gap height", gap_m, "m")
    require_not_negative("surface tension", surface_tension_N_m, "N/m")
    return (
        surface_tension_N_m * (np.cos(contact_angle_component_rad) + np.cos(contact_angle_board_rad)) / gap_m
    )


def entry_pressure_Pa(
    surface_tension_N_m: Values,
    contact_angle_component_rad: Values,
    contact_angle_board_rad: Values,
    gap_m: Values,
) -> Values:
    """Pressure that a stream must exceed before it enters the gap; 0 when the walls together draw the fluid in.

    Parameters, errors: as `capillary_pressure_Pa`. Returns: entry pressure (Pa), at least 0.

    Notes: p_c = max(0, −σ(cosθ₁ + cosθ₂)/h). Air trapped at a dead end is neglected.

    >>> from math import radians
    >>> round(float(entry_pressure_Pa(0.072, radians(110), radians(110), 50e-6)), 1)
    985.0
    """
    suction = capillary_pressure_Pa(
        surface_tension_N_m, contact_angle_component_rad, contact_angle_board_rad, gap_m
    )
    return np.maximum(0.0, -suction)


def gap_velocity_m_s(
    pressure_Pa: Values, gap_m: Values, flow_length_m: Values, viscosity_Pa_s: Values
) -> Values:
    """Mean speed of plane Poiseuille flow through the gap.

    Parameters: pressure difference (Pa), gap height (m), flow length (m), viscosity (Pa·s); all broadcast.
    Returns: mean speed (m/s). Errors: ValueError for gap, length or viscosity not above 0, or pressure below
    0.

    Notes: ū = h²Δp/(12µL): laminar, developed, Newtonian. Losses at entrance and exit are neglected; they
    matter for short or tall gaps at high pressure, for which see `gap_velocity_end_losses_m_s`.

    >>> round(float(gap_velocity_m_s(1000.0, 50e-6, 5e-3, 6.530e-4)), 6)
    0.063808
    """
    require_not_negative("pressure", pressure_Pa, "Pa")
    require_above_zero("gap height", gap_m, "m")
    require_above_zero("flow length", flow_length_m, "m")
    require_above_zero("viscosity", viscosity_Pa_s, "Pa·s")
    return _poiseuille_m_s(pressure_Pa, gap_m, flow_length_m, viscosity_Pa_s)


def _poiseuille_m_s(pressure_Pa: Values, gap_m: Values, flow_length_m: Values, viscosity_Pa_s: Values) -> Values:
    return gap_m * gap_m * pressure_Pa / (12.0 * viscosity_Pa_s * flow_length_m)


def gap_velocity_end_losses_m_s(
    pressure_Pa: Values,
    gap_m: Values,
    flow_length_m: Values,
    viscosity_Pa_s: Values,
    density_kg_m3: Values,
    end_loss_coefficient: Values,
) -> Values:
    """Mean speed through the gap when part of the pressure is spent on entrance and exit.

    Parameters: as `gap_velocity_m_s`, and fluid density (kg/m³), velocity heads lost at both ends together
    (K, -).
    Returns: mean speed (m/s), never above Poiseuille and never above √(2Δp/(Kρ)).
    Errors: ValueError for gap, length, viscosity or density not above 0, pressure or K below 0.

    Notes: solves 12µLū/h² + ½Kρū² = Δp, written so that nothing cancels. Without it a 350 µm gap at 10 kPa
    would be given 8 m/s, more than the pressure can accelerate water to. Turbulence and developing shear are
    neglected.
    """
    require_above_zero("fluid density", density_kg_m3, "kg/m³")
    require_not_negative("end loss coefficient", end_loss_coefficient, "")
    require_not_negative("pressure", pressure_Pa, "Pa")
    require_above_zero("gap height", gap_m, "m")
    require_above_zero("flow length", flow_length_m, "m")
    require_above_zero("viscosity", viscosity_Pa_s, "Pa·s")
    return _velocity_end_losses_m_s(
        pressure_Pa, gap_m, flow_length_m, viscosity_Pa_s, density_kg_m3, end_loss_coefficient
    )


def _velocity_end_losses_m_s(
    pressure_Pa: Values, gap_m: Values, flow_length_m: Values, viscosity_Pa_s: Values, density_kg_m3: Values,
    end_loss_coefficient: Values,
) -> Values:  # fmt: skip
    viscous_m_s = _poiseuille_m_s(pressure_Pa, gap_m, flow_length_m, viscosity_Pa_s)
    resistance_Pa_s_m = 12.0 * viscosity_Pa_s * flow_length_m / (gap_m * gap_m)
    head_share = 2.0 * end_loss_coefficient * density_kg_m3 * viscous_m_s / resistance_Pa_s_m
    return 2.0 * viscous_m_s / (1.0 + np.sqrt(1.0 + head_share))


def inertial_gap_m(
    pressure_Pa: Values,
    flow_length_m: Values,
    viscosity_Pa_s: Values,
    density_kg_m3: Values,
    end_loss_coefficient: Values,
) -> Values:
    """Gap height at which the wall shear rate is greatest for the given pressure; infinite without pressure or loss.

    Parameters: pressure (Pa), flow length (m), viscosity (Pa·s), density (kg/m³), end loss coefficient (-).
    Returns: gap height (m). Errors: ValueError for length, viscosity, density not above 0, pressure or K
    below 0.

    Notes: ū/h with ū of `gap_velocity_end_losses_m_s` peaks where a third of the pressure goes to the ends:
    h* = √(12√3 (µ/ρ) L / √(2KΔp/ρ)). Wider gaps keep the transfer coefficient of h* here: developed-profile
    shear would fall, but the momentum layer is then still developing and makes up for it. With Pohlhausen's
    plate term (0.664 Re^½ Sc^⅓) added in cubes to Lévêque's, k at K = 1.5 is 0.99 to 1.10 times the value
    held here up to 4 h* and 0.93 times at 8 h* (own derivation, an engineering estimate; the plate law is
    standard).
    """
    require_not_negative("pressure", pressure_Pa, "Pa")
    require_above_zero("flow length", flow_length_m, "m")
    require_above_zero("viscosity", viscosity_Pa_s, "Pa·s")
    require_above_zero("fluid density", density_kg_m3, "kg/m³")
    require_not_negative("end loss coefficient", end_loss_coefficient, "")
    return _tallest_m(pressure_Pa, flow_length_m, viscosity_Pa_s, density_kg_m3, end_loss_coefficient)


def _tallest_m(
    pressure_Pa: Values, flow_length_m: Values, viscosity_Pa_s: Values, density_kg_m3: Values,
    end_loss_coefficient: Values,
) -> Values:  # fmt: skip
    speed_m_s = np.sqrt(2.0 * end_loss_coefficient * pressure_Pa / density_kg_m3)
    squared = 12.0 * np.sqrt(3.0) * viscosity_Pa_s * flow_length_m / density_kg_m3
    tallest_m: Values = np.sqrt(squared / np.maximum(speed_m_s, _SMALLEST))
    return tallest_m


def gap_flow_per_width_m2_s(velocity_m_s: Values, gap_m: Values) -> Values:
    """Flow through the gap for each metre of width, Q' = ūh (m²/s), from mean speed (m/s) and gap height (m).

    Errors: ValueError for a gap not above 0 or a negative speed.

    >>> round(float(gap_flow_per_width_m2_s(0.063808, 50e-6)) * 5e-3, 11)  # 5 mm wide: m³/s
    1.595e-08
    """
    require_above_zero("gap height", gap_m, "m")
    require_not_negative("mean speed", velocity_m_s, "m/s")
    return velocity_m_s * gap_m


def wall_shear_Pa(pressure_Pa: Values, gap_m: Values, flow_length_m: Values) -> Values:
    """Wall shear stress of plane Poiseuille flow, τ = hΔp/(2L) (Pa): the force balance on the fluid in the gap.

    Parameters: pressure difference (Pa), gap height (m), flow length (m). Errors: ValueError as
    `gap_velocity_m_s`.

    >>> round(float(wall_shear_Pa(1000.0, 50e-6, 5e-3)), 3)
    5.0
    """
    require_not_negative("pressure", pressure_Pa, "Pa")
    require_above_zero("gap height", gap_m, "m")
    require_above_zero("flow length", flow_length_m, "m")
    return gap_m * pressure_Pa / (2.0 * flow_length_m)


def sherwood_developed(active_walls: int) -> float:
    """Sherwood number on 2h far from the inlet, with one wall (the other inert) or both walls dissolving.

    Errors: ValueError when active_walls is neither 1 nor 2. Source: VDI Heat Atlas 2002 Gb; Shah & London
    1978.

    >>> sherwood_developed(2)
    7.5407
    """
    if active_walls not in SHERWOOD_DEVELOPED:
        raise UnphysicalInputError(f"active_walls must be 1 or 2; got {active_walls!r}.")
    return SHERWOOD_DEVELOPED[active_walls]


def sherwood_mean(x_star: Values, active_walls: int) -> Values:
    """Mean Sherwood number on 2h from the inlet to the dimensionless distance x*.

    Parameters: x_star = (L/D_h)/(Re Sc) = L·D/(ū·4h²) (-), number of dissolving walls (1 or 2).
    Returns: Sherwood number (-), based on the logarithmic mean concentration difference.
    Errors: ValueError when x_star is not above 0 or active_walls is neither 1 nor 2.

    Notes: Sh³ = 1.849³/x* + Sh∞³. Checked against the exact Graetz series: at most 4.2 % high for two walls
    and 4.6 % for one, over all x*. The entry coefficient is the same for one active wall as for two, because
    a thin concentration layer sees only the shear of its own wall; the series confirms it. Developed velocity
    profile (Sc ≈ 1000), constant wall concentration, no axial diffusion.
    """
    require_above_zero("x_star", x_star, "")
    return np.cbrt(_ENTRY_CUBED / x_star + sherwood_developed(active_walls) ** 3)


def mass_transfer_m_s(sherwood: Values, diffusivity_m2_s: Values, gap_m: Values) -> Values:
    """Mass transfer coefficient k = Sh·D/(2h) (m/s) from Sherwood number (-), diffusivity (m²/s), gap height (m).

    Errors: ValueError for a gap or a diffusivity not above 0.
    """
    require_above_zero("gap height", gap_m, "m")
    require_above_zero("diffusivity", diffusivity_m2_s, "m²/s")
    return sherwood * diffusivity_m2_s / (2.0 * gap_m)


def effective_exchange_m_s(
    transfer_m_s: Values, flow_per_width_m2_s: Values, flow_length_m: Values, active_walls: int = 1
) -> Values:
    """Exchange per active wall area that the through-flow can carry away; 0 when nothing flows.

    Parameters: k (m/s), Q' (m²/s), flow length L (m), number of dissolving walls n (1 or 2).
    Returns: k_eff (m/s), never above k nor above Q'/(nL).
    Errors: ValueError for a length not above 0, negative k or Q', active_walls neither 1 nor 2.

    Notes: k_eff = Q'/(nL)·(1 − exp(−n k L/Q')): the exact outlet balance when k is a log-mean coefficient, as
    the one from `sherwood_mean` is. Fresh fluid at the inlet; residue already in the bath lowers the
    capacity, not k_eff.
    """
    sherwood_developed(active_walls)  # refuses anything but 1 or 2
    require_above_zero("flow length", flow_length_m, "m")
    require_not_negative("mass transfer coefficient", transfer_m_s, "m/s")
    require_not_negative("flow per width", flow_per_width_m2_s, "m²/s")
    return _carried_exchange_m_s(transfer_m_s, flow_per_width_m2_s, flow_length_m, active_walls)


def _carried_exchange_m_s(
    transfer_m_s: Values, flow_per_width_m2_s: Values, flow_length_m: Values, active_walls: int
) -> Values:
    carried_m_s = flow_per_width_m2_s / (active_walls * flow_length_m)
    transfer_units = transfer_m_s / np.maximum(carried_m_s, _SMALLEST)
    return carried_m_s * -np.expm1(-transfer_units)


def gap_exchange_m_s(pressure_Pa: Values, state: GapFigures, active_walls: int = 1) -> Values:
    """Effective exchange coefficient in the gap for a drive pressure: flow, mass transfer and carrying limit in one.

    Parameters: drive pressure (Pa; e.g. (bins, 1) or (bins, draws)), the gap, number of dissolving walls.
    Returns: k_eff (m/s), broadcast shape; 0 at zero pressure. Entry pressure is not looked at here.
    Errors: ValueError for negative pressure or active_walls neither 1 nor 2.

    Notes: the chain of the functions above, with no division by a speed, so a pressure of 0 gives 0 and never
    NaN. Gaps taller than `inertial_gap_m` get the exchange of that height. k_eff never falls when pressure or
    gap height rises or when flow length or viscosity falls: where the flow is developed and k = Sh∞D/2h would
    fall with h, the carrying limit Q'/L ∝ h³ governs; in the entry range k ∝ (hΔp/L²)^⅓ rises by itself.
    """
    require_not_negative("pressure", pressure_Pa, "Pa")
    # The gap was checked when it was made, so the links of the chain need not look again.
    length_m, diffusivity_m2_s = state.flow_length_m, state.diffusivity_m2_s
    tallest_m = _tallest_m(
        pressure_Pa, length_m, state.viscosity_Pa_s, state.density_kg_m3, state.end_loss_coefficient
    )
    height_m = np.minimum(state.gap_m, tallest_m)
    velocity_m_s = _velocity_end_losses_m_s(
        pressure_Pa, height_m, length_m, state.viscosity_Pa_s, state.density_kg_m3, state.end_loss_coefficient
    )
    inverse_x_star = 4.0 * velocity_m_s * height_m * height_m / (length_m * diffusivity_m2_s)
    sherwood = np.cbrt(_ENTRY_CUBED * inverse_x_star + sherwood_developed(active_walls) ** 3)
    transfer_m_s = sherwood * diffusivity_m2_s / (2.0 * height_m)
    return _carried_exchange_m_s(transfer_m_s, velocity_m_s * height_m, length_m, active_walls)


def _imbibition_m2_s(
    surface_tension_N_m: Values,
    contact_angle_component_rad: Values,
    contact_angle_board_rad: Values,
    gap_m: Values,
    viscosity_Pa_s: Values,
) -> Values:
    """Coefficient b of x² = b t for capillary filling; 0 when the fluid is not drawn in."""
    require_above_zero("viscosity", viscosity_Pa_s, "Pa·s")
    suction = capillary_pressure_Pa(
        surface_tension_N_m, contact_angle_component_rad, contact_angle_board_rad, gap_m
    )
    return np.maximum(0.0, suction) * gap_m * gap_m / (6.0 * viscosity_Pa_s)


def imbibition_length_m(
    time_s: Values,
    surface_tension_N_m: Values,
    contact_angle_component_rad: Values,
    contact_angle_board_rad: Values,
    gap_m: Values,
    viscosity_Pa_s: Values,
) -> Values:
    """How far a wetting fluid has crept into the gap by capillarity alone; 0 for a fluid that is repelled.

    Parameters: time (s), surface tension (N/m), two contact angles (rad), gap height (m), viscosity (Pa·s).
    Returns: length (m). Errors: ValueError for gap or viscosity not above 0, time or surface tension below 0.

    Notes: x² = σh(cosθ₁ + cosθ₂)t/(6µ), the plane-wall form of Washburn 1921. Inertia of the first instants,
    gravity and trapped air are neglected.
    """
    require_not_negative("time", time_s, "s")
    coefficient_m2_s = _imbibition_m2_s(
        surface_tension_N_m, contact_angle_component_rad, contact_angle_board_rad, gap_m, viscosity_Pa_s
    )
    return np.sqrt(coefficient_m2_s * time_s)


def imbibition_time_s(
    length_m: Values,
    surface_tension_N_m: Values,
    contact_angle_component_rad: Values,
    contact_angle_board_rad: Values,
    gap_m: Values,
    viscosity_Pa_s: Values,
) -> Values:
    """Time for a wetting fluid to creep a given length into the gap; infinite for a fluid that is repelled.

    Parameters, errors, notes: as `imbibition_length_m`, with the length (m, at least 0) in place of the time.

    >>> round(float(imbibition_time_s(10e-3, 0.072, 0.0, 0.0, 50e-6, 8.9e-4)) * 1e3, 2)
    74.17
    """
    require_not_negative("length", length_m, "m")
    coefficient_m2_s = _imbibition_m2_s(
        surface_tension_N_m, contact_angle_component_rad, contact_angle_board_rad, gap_m, viscosity_Pa_s
    )
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        time_s = np.square(length_m) / np.asarray(coefficient_m2_s)
    return plain(np.where(np.asarray(length_m) == 0.0, 0.0, time_s))
