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

Identifier = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,63}$", description="Short unique name.")]
Title = Annotated[str, Field(min_length=1, max_length=120, description="Name shown to people.")]

ResidueFamily = Literal["rosin", "resin", "organic", "inorganic"]
Alloy = Literal["tin-lead", "lead-free", "low-temperature"]


class ComponentKind(Record):
    """A package family with its standoff and the way the fluid must go under it."""

    id: Identifier
    name: Title
    gap: GapHeight = Field(description="Standoff between the component and the board after soldering.")
    body_length: Length = Field(description="Length of the gap in the direction of the flow.")
    flux_path: Length = Field(description="Distance from the open edge to the innermost residue.")
    open_edge_share: Share = Field(description="Share of the edge left open between leads, balls or solder.")
    height: Distance = Field(description="Height above the board, for shading and rack pitch.")
    trapped_volume_share: Share | None = Field(
        default=None,
        description="Share of the gap volume that holds liquid after draining; absent means all of it.",
    )
    parts: tuple[Identifier, ...] = Field(default=(), description="Board parts whose sensitivities this kind has.")
    note: str = ""


class FluxKind(Record):
    """A flux by its J-STD-004 designator and what its residue is like."""

    id: Identifier
    name: Title
    family: ResidueFamily = Field(description="Which fluids dissolve it: the fluid gives a capacity per family.")
    residue_density: Density = Field(description="Density of the dried residue.")
    residue_thickness: GapHeight = Field(
        description="Residue volume per footprint area of a part; thicker than the gap means it fills the gap."
    )
    residue_per_area: MassPerArea = Field(description="Residue on the open board surface before washing.")
    ionic_share: Share = Field(description="Share of the residue's mass that counts as NaCl equivalent once dissolved.")
    reference_peak_temperature: Temperature = Field(description="Reflow peak at which hardening is counted from.")
    hardening_per_kelvin: PerKelvin = Field(description="Relative loss of solubility per kelvin above that peak.")
    hardening_per_hour: PerTime = Field(description="Relative loss of solubility per hour of waiting before the wash.")
    left_uncleaned_acceptable: bool = Field(description="May stay on the board where the product allows it.")
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
    above: Number | None = Field(default=None, description="pH above which (alkaline) or below which (acidic).")
    above_temperature: Temperature | None = Field(default=None, description="Board temperature above which it applies.")
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
    why: str = Field(description="One plain sentence.")


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
    volume: Rate = Field(description="Boards built per year.")
    lot_size: Count = Field(description="Boards that come to the washer together.")
    alloy: Alloy
    flux: Identifier
    peak_reflow_temperature: Temperature
    wait_before_wash: LongDuration = Field(description="Time between the last soldering and the wash.")
    components: tuple[ComponentOnBoard, ...] = Field(min_length=1)
    clear_distance: Length = Field(description="Mean clear distance between components; limits the film run-out.")
    populated_sides: Literal[1, 2] = 2
    parts: tuple[Identifier, ...] = Field(default=(), description="Sensitive parts that belong to no component kind.")
    max_temperature: Temperature = Field(description="Highest temperature the assembly may see in wash and drying.")
    cleared_share_needed: Share = Field(
        default=Share(likely=1.0), description="Share of the flux path that must be cleared, 1 for all of it."
    )
    uncleaned_allowed: bool = Field(default=False, description="The product class allows leaving no-clean residue.")
    coated: bool = Field(default=False, description="Gets a conformal coating after cleaning.")
    ionic_limit: MassPerArea | None = Field(default=None, description="Own limit where it differs from the plant's.")
    laminate_path_factor: Number = Field(
        default=Number(low=1.0, likely=1.5, high=3.0, basis="engineering estimate"),
        description="How much copper planes lengthen the way of moisture in the laminate.",
    )
    moisture_limit: Share | None = Field(default=None, description="Highest laminate moisture by mass after drying.")
    withstand_voltage: Voltage | None = Field(default=None, description="Most sensitive part, human-body model.")
    capacitance: Capacitance | None = Field(default=None, description="Of the board in the rack, for charge decay.")
    note: str = ""
