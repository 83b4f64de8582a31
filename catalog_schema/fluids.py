"""Wash fluids: what they dissolve, how they flow, wet, dry, burn, cost and end."""

from __future__ import annotations

from typing import Literal

from catalog_schema.boards import Identifier, ResidueFamily, Title
from catalog_schema.quantity import (
    Angle,
    Density,
    Diffusivity,
    EnergyPerMass,
    MassConcentration,
    MolarMass,
    MoneyPerVolume,
    Number,
    PerKelvin,
    Pressure,
    Record,
    Share,
    SolubilityParameter,
    SurfaceTension,
    Temperature,
    Viscosity,
)

FluidFamily = Literal["water", "alkaline", "neutral", "semi-aqueous", "solvent"]
Hazard = Literal[
    "hot liquid", "alkaline", "irritant", "flammable", "combustible", "volatile organic", "halogenated",
    "environmental", "oxygen displacing",
]  # fmt: skip


class HansenParameters(Record):
    """Hansen solubility parameters of a fluid or a polymer."""

    dispersion: SolubilityParameter
    polar: SolubilityParameter
    hydrogen_bonding: SolubilityParameter
    interaction_radius: SolubilityParameter | None = None


class Fluid(Record):
    """A wash fluid as used in the tank."""

    id: Identifier
    name: Title
    family: FluidFamily
    water_based: bool
    concentration: Share | None = None
    ph: Number | None = None
    density: Density
    viscosity: Viscosity
    viscosity_loss_per_kelvin: PerKelvin
    surface_tension: SurfaceTension
    contact_angle_component: Angle
    contact_angle_board: Angle
    reference_temperature: Temperature
    min_temperature: Temperature
    max_temperature: Temperature
    diffusivity: Diffusivity
    capacity: dict[ResidueFamily, MassConcentration]
    capacity_gain_per_kelvin: PerKelvin
    vapour_pressure: Pressure
    latent_heat: EnergyPerMass
    molar_mass: MolarMass
    boiling_temperature: Temperature
    flash_temperature: Temperature | None = None
    rinse_with: Literal["nothing", "water", "own vapour"]
    bath_load_limit: MassConcentration
    conductive_share: Share
    bath_price: MoneyPerVolume
    disposal_price: MoneyPerVolume
    hansen: HansenParameters | None = None
    hazards: tuple[Hazard, ...] = ()
    note: str = ""
