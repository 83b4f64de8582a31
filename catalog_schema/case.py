"""The case: plant, board mix, candidates and priorities in one document; and the library beside it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from catalog_schema.boards import BoardPart, BoardType, ComponentKind, FluxKind, Identifier, Title
from catalog_schema.constants import Constants
from catalog_schema.fluids import Fluid
from catalog_schema.machines import Candidate, MachineClass
from catalog_schema.materials import WettedMaterial
from catalog_schema.plant import Plant
from catalog_schema.priorities import Priorities, Trial
from catalog_schema.quantity import Record

FORMAT_VERSION = 1


class Library(Record):
    """Generic knowledge that every case shares and may override."""

    machine_classes: tuple[MachineClass, ...]
    component_kinds: tuple[ComponentKind, ...]
    flux_kinds: tuple[FluxKind, ...]
    board_parts: tuple[BoardPart, ...]
    fluids: tuple[Fluid, ...]
    wetted_materials: tuple[WettedMaterial, ...]
    constants: Constants


class Case(Record):
    """Everything one purchase decision starts from; can be saved, sent and reopened."""

    washcase_case: Literal[1] = Field(description="Version of this format.")
    name: Title
    invented: bool = False
    note: str = ""
    plant: Plant
    board_types: tuple[BoardType, ...] = Field(default=(), max_length=500)
    candidates: tuple[Candidate, ...] = Field(default=(), max_length=1000)
    compare_classes: tuple[Identifier, ...] | None = None
    priorities: Priorities = Priorities()
    trials: tuple[Trial, ...] = ()
    component_kinds: tuple[ComponentKind, ...] = ()
    flux_kinds: tuple[FluxKind, ...] = ()
    board_parts: tuple[BoardPart, ...] = ()
    fluids: tuple[Fluid, ...] = ()
    wetted_materials: tuple[WettedMaterial, ...] = ()
    machine_classes: tuple[MachineClass, ...] = ()
    constants: Constants = Constants()
