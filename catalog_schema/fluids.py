"""Wash fluids: what they dissolve, how they flow, wet, dry, burn, cost and end."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

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
    interaction_radius: SolubilityParameter | None = Field(default=None, description="R0, of a polymer only.")


class Fluid(Record):
    """A wash fluid as used in the tank."""

    id: Identifier
    name: Title
    family: FluidFamily
    water_based: bool = Field(description="Flows, evaporates and carries heat like water.")
    concentration: Share | None = Field(default=None, description="Share of concentrate in the bath.")
    ph: Number | None = None
    density: Density = Field(description="At the reference temperature.")
    viscosity: Viscosity = Field(description="At the reference temperature.")
    viscosity_loss_per_kelvin: PerKelvin = Field(description="Relative loss of viscosity per kelvin, exponential.")
    surface_tension: SurfaceTension
    contact_angle_component: Angle = Field(description="Advancing angle on the underside of components.")
    contact_angle_board: Angle = Field(description="Advancing angle on solder mask with flux residue.")
    reference_temperature: Temperature
    min_temperature: Temperature = Field(description="Below it the fluid does not work as meant.")
    max_temperature: Temperature = Field(description="Above it the fluid must not be used.")
    diffusivity: Diffusivity = Field(description="Of the dissolved residue, at the reference temperature.")
    capacity: dict[ResidueFamily, MassConcentration] = Field(
        description="Residue the fluid takes up at the residue's face, per family, at the reference temperature. "
        "A family not named here is not dissolved."
    )
    capacity_gain_per_kelvin: PerKelvin = Field(description="Relative gain of that capacity per kelvin, exponential.")
    vapour_pressure: Pressure = Field(description="At the reference temperature.")
    latent_heat: EnergyPerMass
    molar_mass: MolarMass
    boiling_temperature: Temperature
    flash_temperature: Temperature | None = Field(default=None, description="Absent: does not flash in use.")
    rinse_with: Literal["nothing", "water", "own vapour"]
    bath_load_limit: MassConcentration = Field(description="Dissolved residue at which the bath is changed.")
    conductive_share: Share = Field(description="Share of the concentrate's mass that counts as NaCl equivalent.")
    bath_price: MoneyPerVolume = Field(description="Price of the fluid as used in the tank.")
    disposal_price: MoneyPerVolume
    hansen: HansenParameters | None = None
    hazards: tuple[Hazard, ...] = ()
    note: str = ""
