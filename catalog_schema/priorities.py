"""Priorities: criteria, value functions, stakeholders and their weights; trials."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from catalog_schema.boards import Identifier, Title
from catalog_schema.quantity import Duration, Record, Share

CRITERIA: dict[str, str] = {
    "spray_reach": "Spray reach",
    "pump_reserve": "Pump reserve",
    "material_compatibility": "Wetted-material compatibility",
    "drying": "Drying",
    "esd_racking": "ESD racking",
    "traceability": "Traceability",
    "cost_of_ownership": "Cost of ownership",
}
"""The seven criteria of the job: key and name."""


class Judgement(Record):
    """One pairwise judgement: `first` is `times` as important as `second`."""

    first: Identifier
    second: Identifier
    times: float = Field(ge=1 / 9, le=9)


class Stakeholder(Record):
    """One voice and how it gave its weights."""

    id: Identifier
    name: Title
    voice: float = Field(default=1.0, ge=0, le=1000)
    method: Literal["swing", "rank order", "pairwise", "direct"]
    swing: dict[Identifier, float] = Field(default_factory=dict)
    order: tuple[Identifier, ...] = ()
    pairwise: tuple[Judgement, ...] = ()
    direct: dict[Identifier, float] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _given(self) -> Self:
        given = {
            "swing": self.swing,
            "rank order": self.order,
            "pairwise": self.pairwise,
            "direct": self.direct,
        }
        if not given[self.method]:
            field = {"rank order": "order"}.get(self.method, self.method)
            raise PydanticCustomError("weights", "The method is {method} but {field} is empty.",
                                      {"method": self.method, "field": field})  # fmt: skip
        for name in ("swing", "direct"):
            ratings: dict[str, float] = getattr(self, name)
            for criterion, rating in ratings.items():
                if rating < 0:
                    raise PydanticCustomError("weights", "{name} of {criterion} is {rating}, below 0.",
                                              {"name": name, "criterion": criterion, "rating": rating})  # fmt: skip
        return self


class Range(Record):
    """Lowest and highest weight."""

    low: float = Field(ge=0, le=1)
    high: float = Field(ge=0, le=1)

    @model_validator(mode="after")
    def _order(self) -> Self:
        if self.low > self.high:
            raise PydanticCustomError("range", "low {low} is above high {high}.", {"low": self.low, "high": self.high})
        return self


class ValuePoint(Record):
    """A measure and the value 0..1 that it is worth."""

    measure: float
    value: float = Field(ge=0, le=1)


class OwnCriterion(Record):
    """A criterion of the user's own, rated 0..1 per candidate."""

    id: Identifier
    name: Title
    ratings: dict[Identifier, Share]
    note: str = ""


class Priorities(Record):
    """What counts, and for whom."""

    stakeholders: tuple[Stakeholder, ...] = ()
    weight_knowledge: Literal["exact", "order", "ranges", "none"] = "order"
    weight_ranges: dict[Identifier, Range] = Field(default_factory=dict)
    value_functions: dict[Identifier, tuple[ValuePoint, ...]] = Field(default_factory=dict)
    own_criteria: tuple[OwnCriterion, ...] = ()


class Trial(Record):
    """What a trial board showed."""

    id: Identifier
    board_type: Identifier
    component: Identifier
    machine: Identifier
    fluid: Identifier
    wash_time: Duration
    residue_left: Share
    measurement_error: Share = Share(likely=0.1)
    date: str = Field(default="", max_length=40)
    note: str = ""
