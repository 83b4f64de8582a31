"""A quantity: a number with unit, range, basis and source; its dimension comes from the class that inherits it."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any, ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator
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

    low: float | None = None
    likely: float | None = None
    high: float | None = None
    unit: str = Field(default="", max_length=40)
    basis: Basis | None = None
    source: str = ""
    note: str = ""

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

        >>> from catalog_schema.quantity import Pressure
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
