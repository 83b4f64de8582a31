"""One class of quantity per dimension; what they share stands in `quantity_base`."""

from __future__ import annotations

import math
from typing import ClassVar

from pydantic import field_validator

from catalog_schema.quantity_base import Basis, Quantity, Record, parse_quantity_text

__all__ = ["Basis", "Quantity", "Record", "parse_quantity_text"]  # the classes below are imported by name


class Number(Quantity):
    """A plain number."""


class Count(Quantity):
    """A number of things, at least one."""

    minimum: ClassVar[float | None] = 1.0


class Share(Quantity):
    """A share between 0 and 1 (or in percent)."""

    dimension: ClassVar[str] = "share"
    maximum: ClassVar[float | None] = 1.0


class Ratio(Quantity):
    """A ratio that may exceed 1 or be negative, such as inflation."""

    dimension: ClassVar[str] = "share"
    minimum: ClassVar[float | None] = -0.99


class Length(Quantity):
    """A length."""

    dimension: ClassVar[str] = "length"
    above_minimum: ClassVar[bool] = True


class Distance(Quantity):
    """A length that may be zero."""

    dimension: ClassVar[str] = "length"


class GapHeight(Quantity):
    """A gap of micrometres."""

    dimension: ClassVar[str] = "gap"
    above_minimum: ClassVar[bool] = True


class Area(Quantity):
    """An area."""

    dimension: ClassVar[str] = "area"


class Volume(Quantity):
    """A volume."""

    dimension: ClassVar[str] = "volume"


class Mass(Quantity):
    """A mass."""

    dimension: ClassVar[str] = "mass"


class Duration(Quantity):
    """A time of minutes."""

    dimension: ClassVar[str] = "time"


class LongDuration(Quantity):
    """A time of hours or more."""

    dimension: ClassVar[str] = "long time"


class Years(Quantity):
    """A time of years."""

    dimension: ClassVar[str] = "years"


class Temperature(Quantity):
    """A temperature of a liquid, a machine, a room or a solder joint: anything else is a slip of the unit."""

    dimension: ClassVar[str] = "temperature"
    minimum: ClassVar[float | None] = 100.0
    maximum: ClassVar[float | None] = 1500.0


class TemperatureDifference(Quantity):
    """A difference of temperatures."""

    dimension: ClassVar[str] = "temperature difference"
    minimum: ClassVar[float | None] = None

    @field_validator("unit", mode="after")
    @classmethod
    def _as_difference(cls, unit: str) -> str:
        # 10 °C here means a step of ten degrees, not the temperature 283 K.
        return {"°C": "delta_degC", "degC": "delta_degC", "°F": "delta_degF", "degF": "delta_degF"}.get(unit, unit)


class Pressure(Quantity):
    """A pressure."""

    dimension: ClassVar[str] = "pressure"


class AirPressure(Pressure):
    """A pressure of the air that people work in, from above the highest town to the deepest mine."""

    minimum: ClassVar[float | None] = 20e3
    maximum: ClassVar[float | None] = 200e3


class LowPressure(Quantity):
    """A pressure of kilopascals."""

    dimension: ClassVar[str] = "low pressure"


class Flow(Quantity):
    """A volume flow of liquid."""

    dimension: ClassVar[str] = "flow"


class AirFlow(Quantity):
    """A volume flow of air."""

    dimension: ClassVar[str] = "air flow"


class Speed(Quantity):
    """A belt speed."""

    dimension: ClassVar[str] = "speed"


class StreamSpeed(Quantity):
    """A speed of a liquid."""

    dimension: ClassVar[str] = "stream speed"


class Angle(Quantity):
    """An angle up to 180 degrees."""

    dimension: ClassVar[str] = "angle"
    maximum: ClassVar[float | None] = math.pi


class RotationSpeed(Quantity):
    """A speed of rotation."""

    dimension: ClassVar[str] = "rotation"


class Frequency(Quantity):
    """A frequency."""

    dimension: ClassVar[str] = "frequency"


class Power(Quantity):
    """A power."""

    dimension: ClassVar[str] = "power"


class PowerPerVolume(Quantity):
    """A power per volume of bath."""

    dimension: ClassVar[str] = "power per volume"


class Density(Quantity):
    """A density."""

    dimension: ClassVar[str] = "density"
    above_minimum: ClassVar[bool] = True


class MassConcentration(Quantity):
    """A mass per volume of fluid."""

    dimension: ClassVar[str] = "mass concentration"


class MassPerArea(Quantity):
    """A mass per area, such as an ionic residue."""

    dimension: ClassVar[str] = "mass per area"


class VolumePerArea(Quantity):
    """A volume of liquid per area, such as drag-out."""

    dimension: ClassVar[str] = "volume per area"


class Viscosity(Quantity):
    """A dynamic viscosity."""

    dimension: ClassVar[str] = "viscosity"
    above_minimum: ClassVar[bool] = True


class Diffusivity(Quantity):
    """A diffusion coefficient."""

    dimension: ClassVar[str] = "diffusivity"
    above_minimum: ClassVar[bool] = True


class SurfaceTension(Quantity):
    """A surface tension."""

    dimension: ClassVar[str] = "surface tension"


class EnergyPerMass(Quantity):
    """A latent heat."""

    dimension: ClassVar[str] = "energy per mass"


class SpecificHeat(Quantity):
    """A heat capacity per mass."""

    dimension: ClassVar[str] = "specific heat"
    above_minimum: ClassVar[bool] = True


class HeatTransferCoefficient(Quantity):
    """A heat flow per area and temperature difference."""

    dimension: ClassVar[str] = "heat transfer coefficient"


class MolarMass(Quantity):
    """A molar mass."""

    dimension: ClassVar[str] = "molar mass"
    above_minimum: ClassVar[bool] = True


class Resistance(Quantity):
    """An electrical resistance."""

    dimension: ClassVar[str] = "resistance"


class Resistivity(Quantity):
    """A resistivity, as used for rinse water."""

    dimension: ClassVar[str] = "resistivity"


class Capacitance(Quantity):
    """An electrical capacitance."""

    dimension: ClassVar[str] = "capacitance"


class Voltage(Quantity):
    """A voltage."""

    dimension: ClassVar[str] = "voltage"


class SolubilityParameter(Quantity):
    """A Hansen solubility parameter."""

    dimension: ClassVar[str] = "solubility parameter"


class ChargePerVolume(Quantity):
    """Equivalents per volume of ion-exchange resin, given in mol/L."""

    dimension: ClassVar[str] = "charge per volume"


class Rate(Quantity):
    """A number per time, such as boards per year."""

    dimension: ClassVar[str] = "rate"


class PerKelvin(Quantity):
    """A relative change per kelvin."""

    dimension: ClassVar[str] = "per kelvin"


class PerTime(Quantity):
    """A relative change per time."""

    dimension: ClassVar[str] = "per time"


class Money(Quantity):
    """An amount of money in a named currency."""

    dimension: ClassVar[str] = "money"


class MoneyPerYear(Quantity):
    """Money per year."""

    dimension: ClassVar[str] = "money per year"


class MoneyPerHour(Quantity):
    """Money per hour."""

    dimension: ClassVar[str] = "money per hour"


class MoneyPerVolume(Quantity):
    """Money per volume."""

    dimension: ClassVar[str] = "money per volume"


class MoneyPerEnergy(Quantity):
    """Money per energy."""

    dimension: ClassVar[str] = "money per energy"


class MoneyPerAreaYear(Quantity):
    """Money per area and year, such as floor space."""

    dimension: ClassVar[str] = "money per area and year"
