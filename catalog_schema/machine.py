"""One machine as evaluated: what its offer states over what its class bounds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from pydantic import BaseModel

from catalog_schema.case import Case, Library
from catalog_schema.machines import Candidate, Equipment, MachineClass, Principle
from catalog_schema.quantity import Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A candidate or a class, with every field filled as far as anything is known."""

    id: str
    """Id of the candidate, or of the class itself."""
    name: str
    """Name shown to people."""
    class_id: str
    """Id of the machine class."""
    class_name: str
    """Name of the machine class."""
    principle: Principle
    """How it drives fluid under components."""
    moving: Literal["batch", "inline", "manual", "outside", "none"]
    """How boards pass through."""
    is_candidate: bool
    """True for an offer on the table, False for a generic class."""
    equipment: Equipment
    """Sections with what is stated, else the class's range."""
    stated: frozenset[str]
    """Paths, such as "spray.nozzle_diameter", that the offer itself states."""
    count: int | None
    """Machines offered, or None for as many as needed."""
    supplier: str
    """Supplier named in the offer, or empty."""
    note: str
    """Note of the offer or the class."""

    def is_stated(self, path: str) -> bool:
        """Tell whether the offer states the value at a path; a class states nothing."""
        return path in self.stated


def _overlay(own: BaseModel, base: BaseModel, path: str, stated: set[str]) -> dict[str, Any]:
    merged: dict[str, Any] = {}
    for name in type(base).model_fields:
        mine, default = getattr(own, name), getattr(base, name)
        here = f"{path}.{name}" if path else name
        # A quantity is a record too, but it is stated as a whole, never part by part.
        if isinstance(default, BaseModel) and not isinstance(default, Quantity) and not path:
            assert isinstance(mine, BaseModel)
            merged[name] = type(default).model_construct(**_overlay(mine, default, here, stated))
        elif isinstance(mine, dict) and isinstance(default, dict):
            # An offer that names some functions is silent on the others: those stay with the class.
            merged[name] = default | mine
            stated.add(here)
        elif mine is not None:
            merged[name] = mine
            stated.add(here)
        else:
            merged[name] = default
    return merged


def _equipment_only(machine: MachineClass | Candidate) -> Equipment:
    return Equipment.model_construct(**{name: getattr(machine, name) for name in Equipment.model_fields})


def machine_from_class(machine_class: MachineClass) -> Machine:
    """Take a generic class as a machine of its own."""
    return Machine(
        id=machine_class.id, name=machine_class.name, class_id=machine_class.id, class_name=machine_class.name,
        principle=machine_class.principle, moving=machine_class.moving, is_candidate=False,
        equipment=_equipment_only(machine_class), stated=frozenset(), count=None, supplier="", note=machine_class.note,
    )  # fmt: skip


def machine_from_candidate(candidate: Candidate, library: Library) -> Machine:
    """Lay what an offer states over its class; raise KeyError when the class is not in the library."""
    machine_class = next((record for record in library.machine_classes if record.id == candidate.machine_class), None)
    if machine_class is None:
        raise KeyError(candidate.machine_class)
    stated: set[str] = set()
    merged = _overlay(_equipment_only(candidate), _equipment_only(machine_class), "", stated)
    return Machine(
        id=candidate.id, name=candidate.name, class_id=machine_class.id, class_name=machine_class.name,
        principle=machine_class.principle, moving=machine_class.moving, is_candidate=True,
        equipment=Equipment.model_construct(**merged), stated=frozenset(stated), count=candidate.count,
        supplier=candidate.supplier, note=candidate.note,
    )  # fmt: skip


def machines_of(case: Case, library: Library) -> tuple[Machine, ...]:
    """List the machines to evaluate: candidates first, then the generic classes the case compares with."""
    wanted = [record.id for record in library.machine_classes] if case.compare_classes is None else case.compare_classes
    classes = {record.id: record for record in library.machine_classes}
    return (
        *(machine_from_candidate(candidate, library) for candidate in case.candidates),
        *(machine_from_class(classes[name]) for name in wanted),
    )
