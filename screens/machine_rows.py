"""Machines as rows: what an offer states, what its class bounds, and one number across all."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd
from pydantic import BaseModel

from catalog_schema.machine import Machine
from catalog_schema.machines import Equipment, MachineClass
from catalog_schema.quantity import Quantity
from screens.rows import amount, number, unit_of, words


def machine_fields(machine: Machine, machine_class: MachineClass) -> list[tuple[str, object, object]]:
    """Give path, value used and value of the class for every field of a machine."""
    found: list[tuple[str, object, object]] = []
    for section in Equipment.model_fields:
        used, of_class = getattr(machine.equipment, section), getattr(machine_class, section)
        # A section groups fields; a quantity, list or mapping at the top is a field itself.
        if isinstance(of_class, BaseModel) and not isinstance(of_class, Quantity):
            names = type(of_class).model_fields
            found += [(f"{section}.{name}", getattr(used, name), getattr(of_class, name)) for name in names]
        else:
            found.append((section, used, of_class))
    return found


def statements(machine: Machine, machine_class: MachineClass) -> tuple[int, int]:
    """Count the fields that an offer states, and those its class knows but the offer leaves out."""
    fields = machine_fields(machine, machine_class)
    stated = sum(1 for path, _, _ in fields if machine.is_stated(path))
    return stated, sum(1 for path, used, _ in fields if used is not None and not machine.is_stated(path))


def machine_list(machines: Iterable[Machine], classes: dict[str, MachineClass]) -> pd.DataFrame:
    """List machines with their class, principle and how much of it an offer states."""
    found = []
    for machine in machines:
        stated, silent = statements(machine, classes[machine.class_id])
        share = f"{stated} of {stated + silent}" if machine.is_candidate else "generic class"
        found.append((machine.name, "offer" if machine.is_candidate else "class", machine.class_name, machine.principle,
                      machine.moving, share))  # fmt: skip
    return pd.DataFrame(found, columns=["Machine", "Kind", "Class", "Drives fluid by", "Boards pass", "Values stated"])


def text_of(value: object, system: str) -> str:
    """Write any field of a machine: quantity, word, yes or no, list, or not known."""
    if value is None:
        return "not known"
    if isinstance(value, Quantity):
        return number(value, system)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return "; ".join(f"{name}: {word}" for name, word in value.items())
    if isinstance(value, tuple):
        return ", ".join(f"{part.part} of {part.material}" if hasattr(part, "part") else str(part) for part in value)
    return str(value)


def machine_rows(machine: Machine, machine_class: MachineClass, system: str) -> pd.DataFrame:
    """List everything known of a machine: what the offer states, the class's range beside it, basis and source."""
    found = []
    for path, used, of_class in machine_fields(machine, machine_class):
        if used is None:
            continue
        stated = machine.is_stated(path)
        said = text_of(used, system) if stated else ("not stated" if machine.is_candidate else "")
        quantity = used if isinstance(used, Quantity) else None
        basis = (quantity.basis if quantity else None) or ("stated" if stated else "engineering estimate")
        given, source, note = (quantity.text(), quantity.source, quantity.note) if quantity else (
            text_of(used, system), "", "")  # fmt: skip
        found.append((words(path), said, text_of(of_class, system), basis, source or "none named", given, note))
    columns = ["What", "Offer states", "Class range", "Basis", "Source", "Used, as given", "Note"]
    frame = pd.DataFrame(found, columns=columns)
    return frame if machine.is_candidate else frame.drop(columns="Offer states")


def numeric_paths(machines: Iterable[Machine], classes: dict[str, MachineClass]) -> list[str]:
    """List the paths of all numbers that at least two machines have."""
    counted: dict[str, int] = {}
    for machine in machines:
        for path, used, _ in machine_fields(machine, classes[machine.class_id]):
            counted[path] = counted.get(path, 0) + isinstance(used, Quantity)
    return [path for path, count in counted.items() if count >= 2] or [path for path, count in counted.items() if count]


def across_machines(machines: Iterable[Machine], path: str, system: str) -> pd.DataFrame:
    """Give one number of every machine for drawing, in the reader's units, with what it rests on."""
    section, _, name = path.partition(".")
    found = []
    for machine in machines:
        holder = getattr(machine.equipment, section)
        quantity = getattr(holder, name) if name else holder
        if isinstance(quantity, Quantity):
            unit = unit_of(quantity.dimension, system).replace("money", quantity.currency or "money")
            head = f"{words(path)} [{unit}]" if unit else words(path)
            low, likely, high = (amount(value, quantity.dimension, system) for value in quantity.si())
            found.append((head, machine.name, low, likely, high,
                          "stated" if machine.is_stated(path) else "class range"))  # fmt: skip
    return pd.DataFrame(found, columns=["panel", "name", "low", "likely", "high", "mark"])
