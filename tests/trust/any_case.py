"""Valid cases at the edges of what the schema allows: small bases, and every field with its extreme values."""

from __future__ import annotations

import types
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin

from annotated_types import Ge, Le
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from catalog_schema import Case, load_case, load_library
from catalog_schema.quantity import Quantity
from catalog_schema.units import DIMENSIONS

DEMO_FOLDER = Path(__file__).parents[2] / "demo_catalog"
ABSENT = object()
"""Stands for leaving a field out."""

Steps = tuple[str | int, ...]
Change = tuple[Steps, Any]

FACTORS = (1e-9, 1e-3, 0.1, 10.0, 1e3, 1e9)
ALONE = (0.0, 1e-30, 1e30)


def base_case(machine_class: str) -> dict[str, Any]:
    """Give the smallest whole case with one candidate of a class and, written out, all that it refers to.

    Parameters
    ----------
    machine_class : str
        Id of a class of the library.

    Returns
    -------
    dict
        Plain data with one board type, one candidate that states nothing, and own copies of the library's records.
    """
    demo, library = load_case(DEMO_FOLDER / "mixed_plant.yaml"), load_library()
    board = next(board for board in demo.board_types if len(board.components) > 1)
    found = next(record for record in library.machine_classes if record.id == machine_class)
    fluids = set((found.wash.fluids or ())[:2])
    kinds = {component.kind for component in board.components[:2]}
    materials = {part.material for part in (found.wetted_parts or ())[:3]}
    case = demo.model_copy(update={
        "board_types": (board.model_copy(update={"components": board.components[:2]}),),
        "candidates": (), "compare_classes": (), "trials": (),
        "fluids": tuple(record for record in library.fluids if record.id in fluids),
        "flux_kinds": tuple(record for record in library.flux_kinds if record.id == board.flux),
        "component_kinds": tuple(record for record in library.component_kinds if record.id in kinds),
        "wetted_materials": tuple(record for record in library.wetted_materials if record.id in materials),
        "constants": library.constants, "machine_classes": (),
    })  # fmt: skip
    plain: dict[str, Any] = case.model_dump(mode="json", exclude_none=True)
    for kind in plain["component_kinds"]:
        kind["parts"] = []
    equipment = found.model_dump(mode="json", exclude_none=True)
    for name in ("id", "name", "principle", "moving", "summary", "note"):
        equipment.pop(name, None)
    equipment["wetted_parts"] = equipment.get("wetted_parts", [])[:3]
    if "fluids" in equipment.get("wash", {}):
        equipment["wash"]["fluids"] = equipment["wash"]["fluids"][:2]
    plain["candidates"] = [{"id": "offer", "name": "Offer", "machine_class": machine_class, "count": 1} | equipment]
    plain["priorities"] = {}
    plain["plant"]["finance"].pop("reference", None)
    return plain


def _members(annotation: Any) -> Iterator[Any]:
    if get_origin(annotation) in (Union, types.UnionType):
        for member in get_args(annotation):
            yield from _members(member)
    else:
        yield annotation


def _quantity_values(kind: type[Quantity], present: Any) -> Iterator[Any]:
    """Yield extremes of a quantity in its SI unit, and the present one with a range far apart."""
    unit = DIMENSIONS[kind.dimension].si_unit
    if "money" in unit:
        unit = unit.replace("money", "EUR")
    middle = kind.model_validate(present).si()[1] if present is not None else 1.0
    low = kind.minimum if kind.minimum is not None else -1e3
    amounts = [*ALONE, *(middle * factor for factor in FACTORS), low, low + 1e-9]
    if kind.maximum is not None:
        amounts += [kind.maximum, kind.maximum * (1 - 1e-12)]
    for amount in amounts:
        yield {"likely": amount, "unit": unit}
    yield {"low": max(low, middle * 1e-3), "high": middle * 1e3, "unit": unit}
    yield {"low": max(low, 0.0), "likely": max(low, 0.0), "high": max(middle, 1.0), "unit": unit}


def _values(field: FieldInfo, present: Any) -> Iterator[Any]:
    for member in _members(field.annotation):
        if isinstance(member, type) and issubclass(member, Quantity):
            yield from _quantity_values(member, present)
        elif get_origin(member) is Literal:
            yield from get_args(member)
        elif member is bool:
            yield from (True, False)
        elif member is int:
            least = next((rule.ge for rule in field.metadata if isinstance(rule, Ge)), 1)
            most = next((rule.le for rule in field.metadata if isinstance(rule, Le)), 1000)
            yield from (least, least + 1, most)
        elif get_origin(member) is tuple:
            yield []
        elif get_origin(member) is dict:
            yield {}
    if not field.is_required():
        yield ABSENT


def changes_of(model: type[BaseModel], plain: dict[str, Any], here: Steps = ()) -> Iterator[Change]:
    """Yield every single change of one field to one of its extreme values; some give no valid case.

    Parameters
    ----------
    model : type
        Record that `plain` validates as.
    plain : dict
    here : tuple
        Way to it from the top of the document.
    """
    for name, field in model.model_fields.items():
        steps, present = (*here, name), plain.get(name)
        if name in ("id", "name", "washcase_case", "note", "source", "basis"):
            continue
        for value in _values(field, present):
            yield steps, value
        for member in _members(field.annotation):
            if isinstance(member, type) and issubclass(member, BaseModel) and not issubclass(member, Quantity):
                if isinstance(present, dict) or present is None:
                    yield from changes_of(member, present or {}, steps)
            elif get_origin(member) is tuple and isinstance(present, list):
                inner = get_args(member)[0]
                if isinstance(inner, type) and issubclass(inner, BaseModel):
                    for position, item in enumerate(present):
                        yield from changes_of(inner, item, (*steps, position))
            elif get_origin(member) is dict and isinstance(present, dict):
                inner = get_args(member)[1]
                if isinstance(inner, type) and issubclass(inner, Quantity):
                    for key, item in present.items():
                        for value in _quantity_values(inner, item):
                            yield (*steps, key), value


def with_changes(plain: Any, changes: list[Change]) -> Any:
    """Copy plain data with changes made; ways that an earlier change took away are made anew."""
    for steps, value in changes:
        plain = _with(plain, steps, value)
    return plain


def _with(node: Any, steps: Steps, value: Any) -> Any:
    if not steps:
        return value
    if isinstance(steps[0], int):
        if not isinstance(node, list) or steps[0] >= len(node):
            return node
        items = list(node)
        items[steps[0]] = _with(items[steps[0]], steps[1:], value)
        return items
    branch = dict(node) if isinstance(node, dict) else {}
    if len(steps) == 1 and value is ABSENT:
        branch.pop(steps[0], None)
    else:
        branch[steps[0]] = _with(branch.get(steps[0]), steps[1:], value)
    return branch


__all__ = ["ABSENT", "Case", "Change", "Steps", "base_case", "changes_of", "with_changes"]
