"""What kind of entry each field of a record needs, and its value as the text a person would type; no Streamlit."""

from __future__ import annotations

import re
import types
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel

from catalog_schema.quantity import Quantity
from model.explanations import Explanation, explain_input
from model.field_names import field_names

Kind = Literal["quantity", "choice", "flag", "whole", "text", "several", "section", "other"]

FLAGS = {"yes": True, "no": False}


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldShape:
    """What a form needs to know of a field."""

    name: str
    """Name in the record."""
    kind: Kind
    """Which entry it takes; "other" has a form of its own."""
    options: tuple[Any, ...] = ()
    """Allowed values of a choice or of several."""
    quantity: type[Quantity] | None = None
    """Class of the quantity, for its example and unit."""
    needed: bool = False
    """True when a record without it is refused."""
    default: Any = None
    """What stands in when it is not stated."""
    help: str = ""
    """What it means, in two sentences, and how to write it."""
    label: str = ""
    """Name shown; without, it follows from the place in the case."""
    explanation: Explanation | None = None
    """The same with where its equation and source stand, for help one click further."""


def _plain_types(annotation: Any) -> list[Any]:
    if get_origin(annotation) in (Union, types.UnionType):
        return [found for member in get_args(annotation) for found in _plain_types(member)]
    if hasattr(annotation, "__metadata__"):
        return _plain_types(annotation.__origin__)
    return [] if annotation is type(None) else [annotation]


def _kind_of(annotation: Any) -> tuple[Kind, tuple[Any, ...], type[Quantity] | None]:
    for member in _plain_types(annotation):
        if get_origin(member) is Literal:
            return "choice", get_args(member), None
        if get_origin(member) is tuple:
            inner = _plain_types(get_args(member)[0])
            if inner and get_origin(inner[0]) is Literal:
                return "several", get_args(inner[0]), None
            return ("several", (), None) if inner == [str] else ("other", (), None)
        if member is bool:
            return "flag", tuple(FLAGS), None
        if member is int:
            return "whole", (), None
        if member in (str, float):
            # A plain number stays text until the case reads it, and says there what is wrong with it.
            return "text", (), None
        if isinstance(member, type) and issubclass(member, Quantity):
            return "quantity", (), member
        if isinstance(member, type) and issubclass(member, BaseModel):
            return "section", (), None
    return "other", (), None


def shape_of(record: type[BaseModel], name: str) -> FieldShape:
    """Tell what entry a field of a record takes.

    >>> from catalog_schema.machines import Wash
    >>> shape_of(Wash, "tank_volume").kind
    'quantity'
    """
    info = record.model_fields[name]
    kind, options, quantity = _kind_of(info.annotation)
    explanation = explain_input(record, name)
    words = [explanation.sentences] if explanation is not None else []
    if quantity is not None:
        words.append(f"For example {quantity.example()}; a range as 2..5 or 2..3..5 with the unit behind.")
    return FieldShape(
        name=name, kind=kind, options=options, quantity=quantity, needed=info.is_required(),
        default=None if info.is_required() else info.get_default(call_default_factory=True), help=" ".join(words),
        explanation=explanation,
    )  # fmt: skip


def keyed_shapes(record: type[BaseModel], name: str, keys: Collection[Any], kind: Kind, options: tuple[Any, ...] = (),
                 quantity: type[Quantity] | None = None) -> tuple[FieldShape, ...]:  # fmt: skip
    """Tell it for the keys of a mapping in a record, such as the inflation of each group of costs.

    Keys given as a mapping carry the names shown.
    """
    labels = keys if isinstance(keys, Mapping) else {}
    held = shape_of(record, name)
    example = "" if quantity is None else f" For example {quantity.example()}."
    return tuple(
        FieldShape(name=key, kind=kind, options=options, quantity=quantity, help=held.help + example,
                   label=labels.get(key, ""), explanation=held.explanation)
        for key in keys
    )  # fmt: skip


def shapes_of(record: type[BaseModel]) -> tuple[FieldShape, ...]:
    """Tell it for every field of a record."""
    return tuple(shape_of(record, name) for name in record.model_fields)


def field_label(path: str) -> str:
    """Name a field of the case as the other screens name it.

    >>> field_label("candidates[offer-a].wash.max_time"), field_label("plant.note")
    ('Longest wash', 'Note')
    >>> field_label("wetted_materials[FKM].rules[1].ph_above")
    'pH above'
    """
    inside = re.sub(r"^(plant\.|[a-z_]+\[[^\]]*\]\.)", "", path)
    words = field_names().get(inside) or inside.rpartition(".")[2].replace("_", " ")
    # The sign of acidity keeps its small letter.
    return f"pH{words[2:]}" if re.match(r"ph\b", words) else words[:1].upper() + words[1:]


def quantity_text(quantity: Quantity) -> str:
    """Write a quantity so that reading it back gives the same numbers.

    >>> quantity_text(Quantity(low=2, high=5.125, unit=""))
    '2..5.125'
    """
    numbers = [value for value in (quantity.low, quantity.likely, quantity.high) if value is not None]
    return f"{'..'.join(_shortest(value) for value in numbers)} {quantity.unit}".strip()


def _shortest(value: float) -> str:
    short = f"{value:.12g}"
    return short if float(short) == value else repr(value)


def is_stated(record: BaseModel, name: str) -> bool:
    """Tell whether a record states a field itself; a default that stands in is not stated."""
    return name in record.model_fields_set and getattr(record, name) is not None


def stated_value(record: BaseModel, name: str) -> Any:
    """Give what a record itself states for a field, or None."""
    return getattr(record, name) if is_stated(record, name) else None


def entry_text(value: Any) -> str:
    """Write a field's value as the text that would be typed for it; nothing stated is empty."""
    if value is None:
        return ""
    if isinstance(value, Quantity):
        return quantity_text(value)
    return _shortest(value) if isinstance(value, float) else str(value)


def read_entry(shape: FieldShape, given: Any) -> Any:
    """Turn what a widget holds into what the case takes; None means not stated.

    A whole number that cannot be read stays text: the case then says what is wrong with it.
    """
    if given is None or given == []:
        return None
    if shape.kind == "flag":
        return FLAGS.get(given, given)
    if isinstance(given, list):
        return list(given)
    if not isinstance(given, str):
        return given
    text = given.strip()
    if not text:
        return None
    if shape.kind == "whole" and text.lstrip("+-").isdigit() and text.isascii() and len(text) < 19:
        return int(text)
    return text
