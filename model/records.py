"""Frozen records by the thousand: taken apart, put together and changed without what `dataclasses` spends on it.

Nothing here checks a record again: it was checked when it was first made.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import lru_cache
from operator import attrgetter
from typing import Any, TypeVar

R = TypeVar("R")


@lru_cache(maxsize=256)
def slots(kind: Any) -> tuple[str, ...]:
    """Give the names of the fields of a frozen record with slots; none for any other class.

    >>> from model.phrase import Phrase
    >>> slots(Phrase), slots(dict)
    (('template', 'figures'), ())
    """
    return tuple(field.name for field in fields(kind)) if is_dataclass(kind) and hasattr(kind, "__slots__") else ()


@lru_cache(maxsize=256)
def _setters(kind: Any) -> tuple[Callable[[object, object], None], ...]:
    return tuple(getattr(kind, name).__set__ for name in slots(kind))


@lru_cache(maxsize=256)
def _reader(kind: Any) -> Callable[[object], tuple[Any, ...]]:
    names = slots(kind)
    # Of a single name the quick reader gives the bare value.
    return attrgetter(*names) if len(names) > 1 else lambda held_by: tuple(getattr(held_by, name) for name in names)


def values(held_by: object) -> tuple[Any, ...]:
    """Give what a record holds, in the order of `slots`."""
    return _reader(type(held_by))(held_by)  # type: ignore[arg-type]


def record(kind: type[R], *held: object) -> R:
    """Make a record of what `values` gave."""
    made = object.__new__(kind)
    setters = _setters(kind)  # type: ignore[arg-type]
    for set_value, value in zip(setters, held, strict=True):
        set_value(made, value)
    return made


def changed(before: R, **changes: object) -> R:
    """Make a record that differs in some fields, like `dataclasses.replace`.

    Raises
    ------
    TypeError
        When it has no such field.

    >>> from model.phrase import Phrase
    >>> changed(Phrase("Wet."), template="Dry.")
    Phrase(template='Dry.', figures=())
    """
    names: tuple[str, ...] = slots(type(before))  # type: ignore[arg-type]
    held = list(values(before))
    try:
        for name, value in changes.items():
            held[names.index(name)] = value
    except ValueError:
        unknown = [name for name in changes if name not in names]
        raise TypeError(f"{type(before).__name__} has no field {', '.join(unknown)}.") from None
    return record(type(before), *held)
