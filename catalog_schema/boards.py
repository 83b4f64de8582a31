"""Boards: what the plant builds, the component kinds on it and the residue under them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from catalog_schema.quantity import (
    Capacitance,
    Count,
    Density,
    Distance,
    GapHeight,
    Length,
    LongDuration,
    MassPerArea,
    Number,
    PerKelvin,
    PerTime,
    Rate,
    Record,
    Share,
    Temperature,
    Voltage,
)

Identifier = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,63}$")]
Title = Annotated[str, Field(min_length=1, max_length=120)]

ResidueFamily = Literal["rosin", "resin", "organic", "inorganic"]
Alloy = Literal["tin-lead", "lead-free", "low-temperature"]


class ComponentKind(Record):
    """A package family with its standoff and the way the fluid must go under it."""

    id: Identifier
    name: Title
    gap: GapHeight
    body_length: Length
    flux_path: Length
    open_edge_share: Share
    height: Distance
    trapped_volume_share: Share | None = None
    parts: tuple[Identifier, ...] = ()
    note: str = ""


class FluxKind(Record):
    """A flux by its J-STD-004 designator and what its residue is like."""

    id: Identifier
    name: Title
    family: ResidueFamily
    residue_density: Density
    residue_thickness: GapHeight
    residue_per_area: MassPerArea
    ionic_share: Share
    reference_peak_temperature: Temperature
    hardening_per_kelvin: PerKelvin
    hardening_per_hour: PerTime
    left_uncleaned_acceptable: bool
    note: str = ""


class PartRule(Record):
    """What one process condition does to a sensitive part of a board."""

    agent: Literal[
        "ultrasound",
        "immersion",
        "spray",
        "temperature",
        "alkaline",
        "acidic",
        "solvent",
        "vacuum",
        "centrifugal",
    ]
    above: Number | None = None
    above_temperature: Temperature | None = None
    result: Literal["not allowed", "test first"]
    basis: Literal[
        "published",
        "common practice",
        "from memory",
        "engineering estimate",
        "stated",
        "measured",
        "invented",
    ]
    source: str = ""
    why: str


class BoardPart(Record):
    """A part of a board that some processes may harm."""

    id: Identifier
    name: Title
    rules: tuple[PartRule, ...]
    note: str = ""


class ComponentOnBoard(Record):
    """How many of a component kind sit on a board type."""

    kind: Identifier
    count: int = Field(ge=1, le=100_000)


class BoardType(Record):
    """One assembly that the plant builds."""

    id: Identifier
    name: Title
    length: Length
    width: Length
    thickness: Length
    volume: Rate
    lot_size: Count
    alloy: Alloy
    flux: Identifier
    peak_reflow_temperature: Temperature
    wait_before_wash: LongDuration
    components: tuple[ComponentOnBoard, ...] = Field(min_length=1)
    clear_distance: Length
    populated_sides: Literal[1, 2] = 2
    parts: tuple[Identifier, ...] = ()
    max_temperature: Temperature
    cleared_share_needed: Share = Share(likely=1.0)
    uncleaned_allowed: bool = False
    coated: bool = False
    ionic_limit: MassPerArea | None = None
    laminate_path_factor: Number = Number(low=1.0, likely=1.5, high=3.0, basis="engineering estimate")
    moisture_limit: Share | None = None
    withstand_voltage: Voltage | None = None
    capacitance: Capacitance | None = None
    note: str = ""
