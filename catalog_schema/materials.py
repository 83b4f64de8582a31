"""Wetted materials: what the fluid touches in a machine and how it stands it."""

from __future__ import annotations

from typing import Literal

from catalog_schema.boards import Identifier, Title
from catalog_schema.fluids import FluidFamily, HansenParameters
from catalog_schema.quantity import Basis, LongDuration, Number, Record, Temperature

Resistance = Literal["resistant", "limited", "not resistant", "unknown"]


class MaterialRule(Record):
    """How a material stands a fluid under a condition; the worst rule that applies decides."""

    fluid: Identifier | None = None
    family: FluidFamily | None = None
    ph_above: Number | None = None
    ph_below: Number | None = None
    above_temperature: Temperature | None = None
    result: Resistance
    life: LongDuration | None = None
    basis: Basis
    source: str = ""
    why: str


class WettedMaterial(Record):
    """An elastomer, plastic, metal or ceramic by its ISO abbreviation."""

    id: Identifier
    name: Title
    group: Literal["elastomer", "plastic", "metal", "ceramic"]
    max_temperature: Temperature
    hansen: HansenParameters | None = None
    rules: tuple[MaterialRule, ...]
    note: str = ""
