"""Quantities: a number with unit, range, basis and source; one class per dimension."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any, ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator
from pydantic_core import PydanticCustomError

from catalog_schema.units import DIMENSIONS, convert, currency_in, number_text, parse_unit, readable_unit

Basis = Literal["published", "common practice", "from memory", "engineering estimate", "stated", "measured", "invented"]

_NUMBER = r"[-+]?(?:\d+(?:[ _]\d{3})*(?:\.(?!\.)\d*)?|\.\d+)(?:[eE][-+]?\d+)?"
_TEXT = re.compile(
    rf"\s*(?P<first>{_NUMBER})(?:\s*(?:\.\.|to|–)\s*(?P<second>{_NUMBER}))?"
    rf"(?:\s*(?:\.\.|to|–)\s*(?P<third>{_NUMBER}))?\s*(?P<unit>.*?)\s*"
)


class Record(BaseModel):
    """A frozen record that refuses unknown keys and numbers that are not finite."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, str_max_length=2000)


def _number(text: str) -> float:
    return float(text.replace(" ", "").replace("_", ""))


def parse_quantity_text(text: str) -> dict[str, Any]:
    """Read "3.5 bar", "2..5 bar" or "2..3..5 bar" into the fields of a quantity.

    >>> parse_quantity_text("2..3..5 bar")
    {'low': 2.0, 'likely': 3.0, 'high': 5.0, 'unit': 'bar'}
    """
    if re.search(r"\d,\d", text):
        raise ValueError(f"{text[:60]!r} has a comma in the number. Write 1.5 with a point, thousands without a mark.")
    match = _TEXT.fullmatch(text) if len(text) <= 200 else None
    if match is None:
        raise ValueError(f"{text[:60]!r} does not start with a number. Write for example 3.5 bar or 2..5 bar.")
    numbers = [_number(found) for found in match.group("first", "second", "third") if found is not None]
    unit = match.group("unit")
    if len(numbers) == 1:
        return {"likely": numbers[0], "unit": unit}
    if len(numbers) == 2:
        return {"low": numbers[0], "high": numbers[1], "unit": unit}
    return {"low": numbers[0], "likely": numbers[1], "high": numbers[2], "unit": unit}


class Quantity(Record):
    """A number with unit, range (low, likely, high), basis and source.

    Written as text ("40 psi", "2..5 bar", "2..3..5 bar") or as a mapping with `low`, `likely`, `high`, `unit`,
    `basis`, `source`, `note`. Without `basis` the document that holds it gives one (an offer: "stated").
    """

    dimension: ClassVar[str] = "number"
    minimum: ClassVar[float | None] = 0.0
    """Smallest allowed value in the SI unit of the dimension."""
    maximum: ClassVar[float | None] = None
    """Largest allowed value in the SI unit of the dimension."""
    above_minimum: ClassVar[bool] = False
    """True when the minimum itself is not allowed."""

    low: float | None = Field(default=None, description="Lowest believable value.")
    likely: float | None = Field(default=None, description="Most likely value.")
    high: float | None = Field(default=None, description="Highest believable value.")
    unit: str = Field(default="", max_length=40, description="Unit as text, metric or US.")
    basis: Basis | None = Field(default=None, description="Where the number comes from.")
    source: str = Field(default="", description="The source by name, table and revision, if there is one.")
    note: str = Field(default="", description="Anything a reader must know.")

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, given: object) -> object:
        if isinstance(given, bool):
            raise PydanticCustomError("quantity", "{given} is not a quantity. Give for example {example}.",
                                      {"given": str(given), "example": cls.example()})  # fmt: skip
        if isinstance(given, (int, float)):
            # A whole number beyond the floating range counts as infinite, which is refused with a sentence.
            return {"likely": given if abs(given) < 1e300 else math.inf, "unit": ""}
        if isinstance(given, str):
            try:
                return parse_quantity_text(given)
            except ValueError as problem:
                raise PydanticCustomError("quantity", "{text} For example {example}.",
                                          {"text": str(problem), "example": cls.example()}) from None  # fmt: skip
        if not isinstance(given, (Mapping, Quantity)):
            raise PydanticCustomError("quantity", "{given} is not a quantity. Give for example {example}.",
                                      {"given": str(given)[:60], "example": cls.example()})  # fmt: skip
        if isinstance(given, Mapping):
            for name in ("low", "likely", "high"):
                if isinstance(given.get(name), bool):
                    why = f"{name} is {given[name]}, not a number."
                    raise PydanticCustomError("quantity", "{why} Give for example {example}.",
                                              {"why": why[:1].upper() + why[1:], "example": cls.example()})  # fmt: skip
        return given

    @model_validator(mode="after")
    def _check(self) -> Self:
        values = [value for value in (self.low, self.likely, self.high) if value is not None]
        if not values:
            self._refuse("no number is given.")
        if (self.low is None) != (self.high is None):
            self._refuse("a range needs both low and high.")
        if values != sorted(values):
            self._refuse(f"low, likely, high are {', '.join(number_text(v) for v in values)}: they must not fall.")
        try:
            unit = parse_unit(self.unit)
        except ValueError as problem:
            self._refuse(str(problem))
        target = DIMENSIONS[self.dimension].si_unit
        if unit.dimensionality != parse_unit(target).dimensionality:
            given = f"given in {readable_unit(self.unit)}, which" if self.unit else "a number without unit"
            self._refuse(f"{given} does not measure {self.dimension}.")
        for value in values:
            amount = convert(value, self.unit, target)
            if not math.isfinite(amount):
                self._refuse(f"{number_text(value)} {self.unit} is too large.")
            low, high = self.minimum, self.maximum
            if low is not None and (amount < low or (self.above_minimum and amount <= low)):
                word = "is not above" if self.above_minimum else "is below"
                self._refuse(f"{self._amount_text(value)} {word} {self._limit_text(low)}.")
            if high is not None and amount > high * (1 + 1e-12):
                self._refuse(f"{self._amount_text(value)} is above {self._limit_text(high)}.")
        return self

    @classmethod
    def example(cls) -> str:
        """Give a text that would be accepted, for error messages and forms."""
        return DIMENSIONS[cls.dimension].example

    def _limit_text(self, limit_si: float) -> str:
        return self._amount_text(convert(limit_si, DIMENSIONS[self.dimension].si_unit, self.unit))

    def _amount_text(self, amount: float) -> str:
        return f"{number_text(amount)} {readable_unit(self.unit)}".strip()

    def _refuse(self, why: str) -> None:
        raise PydanticCustomError("quantity", "{why} Give for example {example}.",
                                  {"why": why[:1].upper() + why[1:], "example": self.example()})  # fmt: skip

    @property
    def currency(self) -> str | None:
        """ISO code of the currency in the unit, or None."""
        return currency_in(self.unit)

    def si(self) -> tuple[float, float, float]:
        """Low, likely and high in the SI unit of the dimension; a range without likely takes its middle.

        >>> Pressure.model_validate("2..4 bar").si()
        (200000.0, 300000.0, 400000.0)
        """
        target = DIMENSIONS[self.dimension].si_unit
        if self.low is not None and self.high is not None:
            low, high = convert(self.low, self.unit, target), convert(self.high, self.unit, target)
            likely = (low + high) / 2 if self.likely is None else convert(self.likely, self.unit, target)
            return low, likely, high
        assert self.likely is not None  # _check refuses a quantity without any number
        only = convert(self.likely, self.unit, target)
        return only, only, only

    @property
    def has_likely(self) -> bool:
        """Whether a most likely value was given, not only a range."""
        return self.likely is not None

    def text(self) -> str:
        """Write the quantity as its owner would: range, then unit."""
        values = [number_text(v) for v in (self.low, self.likely, self.high) if v is not None]
        return f"{'..'.join(values)} {readable_unit(self.unit)}".strip()


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
