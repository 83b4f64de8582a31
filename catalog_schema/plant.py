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

    labour: MoneyPerHour = Field(description="An hour of an operator, wage and extras together.")
    electricity: MoneyPerEnergy = Field(description="Energy for pumps, heaters and drying.")
    water: MoneyPerVolume = Field(description="Tap water as drawn.")
    deionised_water: MoneyPerVolume = Field(description="Water made on site or bought, before the machine.")
    drain: MoneyPerVolume = Field(description="Water let off, treatment included.")
    compressed_air: MoneyPerVolume = Field(description="Air for blow-off and valves.")
    exhaust_air: MoneyPerVolume = Field(description="Heating or cooling of the air that replaces exhaust.")
    floor: MoneyPerAreaYear = Field(description="What the floor under the machine costs a year.")
    resin: MoneyPerVolume = Field(description="Exchange or regeneration of ion-exchange resin.")
    cleanliness_tests: MoneyPerYear = Field(description="Consumables for ionic and visual tests.")
    downtime: MoneyPerHour = Field(description="Cost of an hour that the washer stands and boards wait.")


class FieldFailures(Record):
    """Optional: what insufficient cleaning costs, by the plant's own numbers."""

    failures_per_board_if_not_clean: Share
    cost_per_failure: Money


class Finance(Record):
    """How the plant counts money."""

    horizon: Years = Field(description="Years over which machines are compared; shorter lives are bought again.")
    discount_rate: Ratio = Field(description="What money tied up costs a year; later money counts for less.")
    inflation: Ratio = Field(description="General, used where a line has none of its own.")
    inflation_per_line: dict[str, Ratio] = Field(
        default_factory=dict,
        description="By cost group: labour, energy, fluids, water, service, parts, floor.",
    )
    tax_rate: Share = Field(description="Share of the profit paid as tax; costs and depreciation lower it.")
    depreciation: Literal["straight line", "MACRS 3", "MACRS 5", "MACRS 7", "MACRS 10", "none"] = "straight line"
    depreciation_life: Years | None = Field(default=None, description="For straight line.")
    reference: Identifier | None = Field(
        default=None, description="Candidate or machine class that payback and savings are counted against."
    )


class SiteLimits(Record):
    """What the building can give; absent means no limit."""

    power: Power | None = None
    water_flow: Flow | None = None
    compressed_air: AirFlow | None = None
    exhaust_flow: AirFlow | None = None
    drain_allowed: bool = True
    floor_area: Area | None = None
    flammable_volume: Volume | None = Field(default=None, description="Allowed by the local code for this room.")


class Requirements(Record):
    """The plant's own musts."""

    probability: Share = Field(
        default=Share(likely=0.9), description="A must counts as met when at least this probable."
    )
    rule_out_below: Share = Field(
        default=Share(likely=0.1), description="A must counts as missed when at most this probable."
    )
    ionic_limit: MassPerArea | None = Field(default=None, description="The plant's own limit per board area.")
    rinse_resistivity: Resistivity | None = Field(default=None, description="Of the last rinse.")
    rack_resistance_min: Resistance | None = None
    rack_resistance_max: Resistance | None = None
    ground_resistance_max: Resistance | None = None
    traceability: tuple[TraceFunction, ...] = Field(default=(), description="Functions the plant must have.")
    max_utilisation: Share = Share(likely=0.85)
    max_waiting: LongDuration | None = None
    max_budget: Money | None = None
    mixed_loads: bool = Field(default=False, description="Different board types may share a load.")


class Plant(Record):
    """The plant that buys."""

    name: Title
    currency: CurrencyCode
    exchange_rates: dict[CurrencyCode, Number] = Field(
        default_factory=dict, description="Amount of the plant's currency for one unit of another."
    )
    working_days: Number = Field(description="Days per year.")
    hours_per_day: Number
    air_temperature: Temperature
    relative_humidity: Share
    air_pressure: AirPressure
    tariffs: Tariffs
    finance: Finance
    site: SiteLimits = SiteLimits()
    requirements: Requirements = Requirements()
    field_failures: FieldFailures | None = None
    arrival_variation: Number = Field(
        default=Number(low=0.5, likely=1.0, high=2.0, basis="engineering estimate"),
        description="Squared coefficient of variation of the time between lots.",
    )
    note: str = ""
