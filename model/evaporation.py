"""Evaporation of a wet load in a dryer: surface temperature, rate, and what the exhaust can carry away."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from model.air_transfer import heat_transfer_W_m2_K
from model.drying_fluid import DryingFluid, GAS_CONSTANT_J_mol_K, STANDARD_PRESSURE_Pa
from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative, require_within

MOLAR_MASS_DRY_AIR_kg_mol = 0.0289652
"""Molar mass of dry air, from the gas constant that ASHRAE Fundamentals uses (kg/mol)."""

# A hundred steps of double precision at 400 K; closer the rounding of the balance itself decides, and takes long.
_ROOT_TOLERANCE_K = 1e-11
# Ten to twelve steps are usual, and halving alone takes 51 from a bracket of 200 K; the bound only ends the loop.
_MOST_STEPS = 110


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceEvaporation:
    """Steady evaporation from a wet load in a dryer."""

    surface_temperature_K: Values
    """Of the wet surface; the wet bulb of the dryer's air when no heat but the air's reaches it [K]."""
    rate_kg_s: Values
    """Liquid evaporated from the whole load [kg/s]."""
    rate_in_fresh_air_kg_s: Values
    """The same if exhaust were unlimited: what the transfer alone allows [kg/s]."""
    chamber_humidity_ratio: Values
    """Vapour ÷ dry air in the dryer once balanced by the exhaust; saturation where nothing is exhausted [kg/kg]."""


def surface_evaporation(
    fluid: DryingFluid,
    *,
    wet_area_m2: Values,
    transfer_m_s: Values,
    air_temperature_K: Values,
    inlet_humidity_ratio: Values,
    exhaust_dry_air_kg_s: Values,
    pressure_Pa: Values = STANDARD_PRESSURE_Pa,
) -> SurfaceEvaporation:
    """Evaporation of a wet load when both the stream over it and the dryer's exhaust limit it.

    Parameters
    ----------
    fluid : the liquid
    wet_area_m2 : m² of wet surface
    transfer_m_s : m/s, mass-transfer coefficient
    air_temperature_K : K, held by the dryer's heater
    inlet_humidity_ratio : vapour of this liquid ÷ dry air in the air drawn in [kg/kg]
    exhaust_dry_air_kg_s : kg/s of dry air exchanged with the outside; recirculating flow × exhaust share;
        `inf` for open
    pressure_Pa : Pa. All broadcast.

    Returns
    -------
    `SurfaceEvaporation`; rate 0 where nothing is exhausted, where the air stands still or comes in saturated.

    Errors
    ------
    ValueError if area, temperature or pressure is not above 0, or a flow, coefficient or humidity is negative.

    Notes
    -----
    One unknown, the surface temperature T_s. Heat: h(T − T_s) = L·n. Exhaust: A·n = G(W − W_in). Transfer
    with Stefan flow: n = M·k·c·ln((1 − y)/(1 − y_s)), y = W/(W + M/M_air). The transfer demand rises and
    the heat supply falls with T_s: one root in a bracket. Neglected: radiation and heat from the board itself, the
    vapour's own heating, change of area as patches dry. Chamber air is ideally mixed. Checked against the
    ASHRAE wet bulb: within 1.2 K up to 100 °C, because latent heat is held at one value.
    """
    area = require_above_zero("wet area", wet_area_m2, "m²")
    exhaust = require_within("exhaust air", exhaust_dry_air_kg_s, 0.0, np.inf, "kg/s")
    transfer = require_not_negative("mass-transfer coefficient", transfer_m_s, "m/s")
    balance = _Balance.of(fluid, air_temperature_K, inlet_humidity_ratio, pressure_Pa)
    air, inlet = balance.air_K, balance.inlet
    moves = transfer > 0.0
    # A closed chamber (flow 0) fills until nothing evaporates; a tiny flow stands for that limit without 0/0.
    thickening = area * transfer / np.maximum(exhaust, 1e-30)
    shape = np.broadcast_shapes(thickening.shape, air.shape)
    surface = np.where(moves, balance.surface_K(np.broadcast_to(thickening, shape)), air)
    # With unlimited exhaust load and transfer drop out, so this balance is that of the air alone.
    wet_bulb = for_distinct_air(
        lambda air_K: _Balance.of(fluid, air_K, inlet_humidity_ratio, pressure_Pa).open_surface_K(),
        air_temperature_K, inlet_humidity_ratio, pressure_Pa,
    )  # fmt: skip
    fresh = np.where(moves, wet_bulb, air)
    ratio = balance.molar_ratio
    can_carry = exhaust > 0.0
    # A chamber without exhaust fills up to saturation at the air temperature (without bound above boiling).
    pressure_share = fluid.saturation_pressure_Pa(air) / balance.pressure_Pa
    full = np.where(pressure_share < 1.0, ratio * pressure_share / np.maximum(1.0 - pressure_share, 1e-12), np.inf)
    rate = np.where(can_carry, area * transfer * balance.flux_paid_by_heat(surface), 0.0)
    # Saturated inlet air leaves the search at the air temperature; its last 1e-11 K is not evaporation.
    saturated = balance.flux_by_transfer(air, inlet) <= 0.0
    rate = np.where(saturated, 0.0, rate)
    fresh_rate = np.where(saturated, 0.0, area * transfer * balance.flux_paid_by_heat(fresh))
    return SurfaceEvaporation(
        surface_temperature_K=plain(surface),
        rate_kg_s=plain(rate),
        rate_in_fresh_air_kg_s=plain(fresh_rate),
        chamber_humidity_ratio=plain(np.where(can_carry, inlet + rate / np.where(can_carry, exhaust, 1.0), full)),
    )


def wet_surface_K(
    fluid: DryingFluid,
    *,
    transfer_m_s: Values,
    air_temperature_K: Values,
    inlet_humidity_ratio: Values,
    pressure_Pa: Values = STANDARD_PRESSURE_Pa,
) -> Values:
    """Temperature of a wet surface in an open stream: the wet bulb of its air.

    Parameters
    ----------
    fluid, transfer_m_s, air_temperature_K, inlet_humidity_ratio, pressure_Pa : see `surface_evaporation`

    Returns
    -------
    K; the `surface_temperature_K` of `surface_evaporation` with unlimited exhaust, whatever the area.

    Errors
    ------
    ValueError as in `surface_evaporation`.
    """
    moves = require_not_negative("mass-transfer coefficient", transfer_m_s, "m/s") > 0.0
    balance = _Balance.of(fluid, air_temperature_K, inlet_humidity_ratio, pressure_Pa)
    found = balance.open_surface_K()
    # How fast the air moves drops out of the balance; still air neither cools nor dries.
    return plain(found if moves.all() else np.where(moves, found, balance.air_K))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Balance:
    """Heat and vapour of one wet surface for each metre per second of mass transfer; arrays of one shape."""

    fluid: DryingFluid
    air_K: FloatArray
    inlet: FloatArray
    pressure_Pa: FloatArray
    heat_J_m3_K: FloatArray
    molar_density_kg_m3: FloatArray
    molar_ratio: float

    @classmethod
    def of(cls, fluid: DryingFluid, air_K: Values, inlet_humidity_ratio: Values, pressure_Pa: Values) -> _Balance:
        """Check the inputs and bring them to one shape."""
        air = require_above_zero("air temperature", air_K, "K")
        inlet = require_not_negative("inlet humidity ratio", inlet_humidity_ratio, "kg/kg")
        pressure = require_above_zero("air pressure", pressure_Pa, "Pa")
        air, inlet, pressure = np.broadcast_arrays(air, inlet, pressure)
        return cls(
            fluid=fluid,
            air_K=air,
            inlet=inlet,
            pressure_Pa=pressure,
            heat_J_m3_K=np.asarray(heat_transfer_W_m2_K(fluid, 1.0, air, pressure)),
            molar_density_kg_m3=np.asarray(fluid.molar_mass_kg_mol * (pressure / (GAS_CONSTANT_J_mol_K * air))),
            molar_ratio=fluid.molar_mass_kg_mol / MOLAR_MASS_DRY_AIR_kg_mol,
        )

    def flux_paid_by_heat(self, surface_K: FloatArray) -> FloatArray:
        """Vapour that the heat reaching a surface of this temperature evaporates, kg/(m²·s) per m/s."""
        return np.asarray(self.heat_J_m3_K * (self.air_K - surface_K) / self.fluid.latent_heat_J_kg)

    def flux_by_transfer(self, surface_K: FloatArray, chamber_humidity_ratio: FloatArray) -> FloatArray:
        """Vapour that leaves a surface of this temperature into the chamber, kg/(m²·s) per m/s."""
        share_air = np.minimum(chamber_humidity_ratio / (chamber_humidity_ratio + self.molar_ratio), 1.0 - 1e-12)
        share_surface = np.minimum(self.fluid.saturation_pressure_Pa(surface_K) / self.pressure_Pa, 1.0 - 1e-12)
        return np.asarray(self.molar_density_kg_m3 * (np.log1p(-share_air) - np.log1p(-share_surface)))

    def open_surface_K(self) -> FloatArray:
        """Temperature at which both fluxes agree when the exhaust carries all away."""
        return self.surface_K(np.zeros(self.air_K.shape))

    def surface_K(self, humidity_per_flux: FloatArray) -> FloatArray:
        """Temperature at which both fluxes agree; `humidity_per_flux` is area × transfer ÷ exhaust, 0 when open."""

        def excess(surface_K: FloatArray) -> FloatArray:
            paid = self.flux_paid_by_heat(surface_K)
            return self.flux_by_transfer(surface_K, np.asarray(self.inlet + humidity_per_flux * paid)) - paid

        low = np.broadcast_to(np.minimum(self.fluid.coldest_K, self.air_K), humidity_per_flux.shape)
        return rising_root(excess, low, np.broadcast_to(self.air_K, humidity_per_flux.shape), _ROOT_TOLERANCE_K)


def for_distinct_air(
    compute: Callable[[FloatArray], FloatArray], air_temperature_K: Values, *others: Values
) -> FloatArray:
    """Compute from air temperatures, once where several rows of them are alike, as many boards bear the same.

    Parameters
    ----------
    compute : from an array of air temperatures [K], whose last two axes are those of the array
    air_temperature_K : float or array; rows are those of two axes
    others : what else goes into it; where that has rows too, each row is computed for itself

    Returns
    -------
    What `compute` gives for the array as it is.

    >>> for_distinct_air(np.sqrt, np.array([[4.0, 9.0], [1.0, 1.0], [4.0, 9.0]]))
    array([[2., 3.],
           [1., 1.],
           [2., 3.]])
    """
    air_K = np.asarray(air_temperature_K, dtype=np.float64)
    if air_K.ndim != 2 or not air_K.size or any(np.ndim(other) > 1 for other in others):
        return compute(air_K)
    # Rows are told apart by their bytes, which is many times as quick as sorting them.
    contents = [row.tobytes() for row in air_K]
    distinct = dict(zip(contents, air_K, strict=True))
    place_of = {content: place for place, content in enumerate(distinct)}
    return compute(np.stack(list(distinct.values())))[..., [place_of[content] for content in contents], :]


def rising_root(
    function: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatArray, tolerance: float
) -> FloatArray:
    """Root of a rising function in a bracket, for all draws at once.

    Parameters
    ----------
    function : of an array, element by element, rising
    low, high : ends of the bracket, arrays of one shape
    tolerance : width to which the bracket is narrowed, in the unit of the bracket

    Returns
    -------
    The root; an end of the bracket where the function does not change its sign in it.

    Notes
    -----
    Inverse quadratic interpolation where it is safe, else halving (Chandrupatla 1997, from memory): some ten steps
    where halving takes fifty. Each draw's result depends on that draw alone.

    >>> rising_root(lambda x: x**3 - 2.0, np.array([0.0]), np.array([2.0]), 1e-14).round(12)
    array([1.25992105])
    """
    newest, other = high.astype(np.float64), low.astype(np.float64)
    f_newest, f_other = function(newest), function(other)
    # Without a change of sign the end at which the function is nearest to 0 stands.
    done = (f_other >= 0.0) | (f_newest <= 0.0)
    found = np.where(f_other >= 0.0, other, newest)
    third, f_third, share = other, f_other, np.full(newest.shape, 0.5)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for _ in range(_MOST_STEPS):
            tried = newest + share * (other - newest)
            f_tried = function(np.where(done, found, tried))
            same_side = (f_tried > 0.0) == (f_newest > 0.0)
            third, f_third = np.where(same_side, newest, other), np.where(same_side, f_newest, f_other)
            other, f_other = np.where(same_side, other, newest), np.where(same_side, f_other, f_newest)
            newest, f_newest = tried, f_tried
            nearest = np.where(np.abs(f_newest) < np.abs(f_other), newest, other)
            width = np.abs(other - newest)
            ended = ~done & ((width <= tolerance) | (f_newest == 0.0))
            found, done = np.where(ended, nearest, found), done | ended
            if done.all():
                break
            place = (newest - other) / (third - other)
            rise = (f_newest - f_other) / (f_third - f_other)
            safe = (rise**2 < place) & ((1.0 - rise) ** 2 < 1.0 - place)
            interpolated = f_newest / (f_other - f_newest) * f_third / (f_other - f_third) + (third - newest) / (
                other - newest
            ) * f_newest / (f_third - f_newest) * f_other / (f_third - f_other)
            least = np.minimum(0.5, 0.5 * tolerance / width)
            share = np.clip(np.where(safe, interpolated, 0.5), least, 1.0 - least)
    return np.asarray(np.where(done, found, 0.5 * (newest + other)))


def exhaust_limit_kg_s(
    exhaust_dry_air_kg_s: Values, humidity_ratio_out: Values, humidity_ratio_in: Values
) -> Values:
    """Vapour that exhaust air carries away: flow × (humidity out − humidity in).

    Parameters
    ----------
    exhaust_dry_air_kg_s : kg/s of dry air, float or array
    humidity_ratio_out, humidity_ratio_in : vapour ÷ dry air leaving and entering [kg/kg]. All broadcast.

    Returns
    -------
    kg/s; 0 where the air leaves no wetter than it came.

    Errors
    ------
    ValueError if a flow or humidity is negative.

    Notes
    -----
    Put the highest humidity that the dryer may run at for a first check of an offer; `surface_evaporation` finds the
    humidity that really sets in.

    >>> round(exhaust_limit_kg_s(0.05, 0.06, 0.01), 6)
    0.0025
    """
    flow = require_not_negative("exhaust air", exhaust_dry_air_kg_s, "kg/s")
    leaving = require_not_negative("humidity of the exhaust", humidity_ratio_out, "kg/kg")
    entering = require_not_negative("humidity of the inlet", humidity_ratio_in, "kg/kg")
    return plain(np.asarray(flow * np.maximum(leaving - entering, 0.0)))
