"""The plant: hours, prices, limits of the site, and what the plant requires."""

from __future__ import annotations

from typing import Annotated, Literal

from babel.numbers import list_currencies
from pydantic import AfterValidator, Field
from pydantic_core import PydanticCustomError

from catalog_schema.boards import Identifier, Title
from catalog_schema.errors import nearest_name_hint
from catalog_schema.machines import TraceFunction
from catalog_schema.quantity import (
    AirFlow,
    AirPressure,
    Area,
    Flow,
    LongDuration,
    MassPerArea,
    Money,
    MoneyPerAreaYear,
    MoneyPerEnergy,
    MoneyPerHour,
    MoneyPerVolume,
    MoneyPerYear,
    Number,
    Power,
    Ratio,
    Record,
    Resistance,
    Resistivity,
    Share,
    Temperature,
    Volume,
    Years,
)

_CURRENCIES = frozenset(list_currencies())


def _known_currency(code: str) -> str:
    if code not in _CURRENCIES:
        raise PydanticCustomError(
            "currency",
            "{code} is not an ISO 4217 currency code. {hint}",
            {"code": code[:10], "hint": nearest_name_hint(code, _CURRENCIES)},
        )
    return code


CurrencyCode = Annotated[str, Field(min_length=3, max_length=3), AfterValidator(_known_currency)]


class Tariffs(Record):
    """What the plant pays."""

    labour: MoneyPerHour
    electricity: MoneyPerEnergy
    water: MoneyPerVolume
    deionised_water: MoneyPerVolume
    drain: MoneyPerVolume
    compressed_air: MoneyPerVolume
    exhaust_air: MoneyPerVolume
    floor: MoneyPerAreaYear
    resin: MoneyPerVolume
    cleanliness_tests: MoneyPerYear
    downtime: MoneyPerHour


class FieldFailures(Record):
    """Optional: what insufficient cleaning costs, by the plant's own numbers."""

    failures_per_board_if_not_clean: Share
    cost_per_failure: Money


class Finance(Record):
    """How the plant counts money."""

    horizon: Years
    discount_rate: Ratio
    inflation: Ratio
    inflation_per_line: dict[str, Ratio] = Field(default_factory=dict)
    tax_rate: Share
    depreciation: Literal["straight line", "MACRS 3", "MACRS 5", "MACRS 7", "MACRS 10", "none"] = "straight line"
    depreciation_life: Years | None = None
    reference: Identifier | None = None


class SiteLimits(Record):
    """What the building can give; absent means no limit."""

    power: Power | None = None
    water_flow: Flow | None = None
    compressed_air: AirFlow | None = None
    exhaust_flow: AirFlow | None = None
    drain_allowed: bool = True
    floor_area: Area | None = None
    flammable_volume: Volume | None = None


class Requirements(Record):
    """The plant's own musts."""

    probability: Share = Share(likely=0.9)
    rule_out_below: Share = Share(likely=0.1)
    ionic_limit: MassPerArea | None = None
    rinse_resistivity: Resistivity | None = None
    rack_resistance_min: Resistance | None = None
    rack_resistance_max: Resistance | None = None
    ground_resistance_max: Resistance | None = None
    traceability: tuple[TraceFunction, ...] = ()
    max_utilisation: Share = Share(likely=0.85)
    max_waiting: LongDuration | None = None
    max_budget: Money | None = None
    mixed_loads: bool = False


class Plant(Record):
    """The plant that buys."""

    name: Title
    currency: CurrencyCode
    exchange_rates: dict[CurrencyCode, Number] = Field(default_factory=dict)
    working_days: Number
    hours_per_day: Number
    air_temperature: Temperature
    relative_humidity: Share
    air_pressure: AirPressure
    tariffs: Tariffs
    finance: Finance
    site: SiteLimits = SiteLimits()
    requirements: Requirements = Requirements()
    field_failures: FieldFailures | None = None
    arrival_variation: Number = Number(low=0.5, likely=1.0, high=2.0, basis="engineering estimate")
    note: str = ""
