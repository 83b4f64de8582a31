"""Help in place: what every requirement, criterion and entry means, and where its equation and source stand.

The two sentences stand in the library; equation, validity and source are read from the docstring of the function that
computes it, so that they cannot drift from the code.
"""

from __future__ import annotations

import importlib
import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, get_args

from pydantic import BaseModel

from catalog_schema.case import Case
from catalog_schema.library import LIBRARY_FOLDER
from catalog_schema.parsing import read_yaml
from catalog_schema.quantity import Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """One term explained."""

    key: str
    """Requirement key, criterion key, or record and field of an entry."""
    sentences: str
    """What it is and why it matters, in two sentences."""
    functions: tuple[str, ...]
    """Functions that compute it, as module:name; their docstrings hold equation and source."""


def _load(file: str) -> dict[str, dict[str, Explanation]]:
    content = read_yaml((LIBRARY_FOLDER / file).read_bytes(), file)
    return {
        group: {
            key: Explanation(key=key, sentences=entry["sentences"], functions=tuple(entry["functions"]))
            for key, entry in entries.items()
        }
        for group, entries in content.items()
    }


@lru_cache(maxsize=1)
def load_explanations() -> dict[str, dict[str, Explanation]]:
    """Give the explanations in two groups, "requirements" and "criteria", by key."""
    return _load("explanations.yaml")


@lru_cache(maxsize=1)
def load_input_explanations() -> dict[str, dict[str, Explanation]]:
    """Give the explanations of everything a person can enter, by record and field; see `explain_input`."""
    return _load("input_explanations.yaml")


def record_key(record: type[BaseModel]) -> str:
    """Name a record as the explanations do.

    >>> from catalog_schema.boards import BoardType
    >>> record_key(BoardType)
    'board_type'
    """
    return re.sub(r"(?<!^)(?=[A-Z])", "_", record.__name__).lower()


def explain_input(record: type[BaseModel], field: str) -> Explanation | None:
    """Give what a field of a record means; what holds for all that build on a record is explained there once.

    Parameters
    ----------
    record : type
        Class of the record, such as `BoardType`.
    field : str

    Returns
    -------
    Explanation or None
        None where nothing is written about it.
    """
    known = load_input_explanations()
    groups = (known.get(record_key(owner), {}) for owner in record.__mro__ if issubclass(owner, BaseModel))
    return next((group[field] for group in groups if field in group), None)


@lru_cache(maxsize=1)
def entered_records() -> tuple[type[BaseModel], ...]:
    """List every class of record that a case holds, each once, quantities counted as one."""
    return tuple(dict.fromkeys(_records_in(Case)))


def _records_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, Quantity):
        yield Quantity
    elif isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
        for info in annotation.model_fields.values():
            yield from _records_in(info.annotation)
    for inner in get_args(annotation):
        yield from _records_in(inner)


@dataclass(frozen=True, slots=True, kw_only=True)
class Derivation:
    """What a function's own docstring says of its equation and source."""

    function: str
    """Module and name."""
    claim: str
    """First line of the docstring."""
    notes: str
    """Equation, validity, what is neglected, basis."""
    reference: str
    """Source, or empty."""


_SECTION = re.compile(r"^\s*(Parameters|Returns|Errors|Raises|Notes|References?|Examples?)\s*:?(.*)$")


def _sections(text: str) -> dict[str, str]:
    """Split a docstring into sections; both underlined headings and headings with a colon are known."""
    found: dict[str, list[str]] = {"": []}
    current = ""
    in_example = False
    for line in text.splitlines():
        # An example ends at the next empty line: its output explains nothing to a reader of the page.
        in_example = line.strip().startswith(">>>") or (in_example and bool(line.strip()))
        if in_example or re.fullmatch(r"\s*-{3,}\s*", line):
            continue
        heading = _SECTION.match(line)
        if heading and (":" in line or not heading[2].strip()):
            current = {"Reference": "References", "Raises": "Errors", "Example": "Examples"}.get(heading[1], heading[1])
            found.setdefault(current, [])
            line = heading[2]
        found[current].append(line.strip())
    return {name: re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip() for name, lines in found.items()}


def derivation(function: str) -> Derivation:
    """Read equation and source of a function from its docstring.

    Parameters
    ----------
    function : str
        Module and name, such as "model.gap:entry_pressure_Pa".

    Returns
    -------
    Derivation

    Raises
    ------
    ValueError
        When there is no such function or it has no docstring.
    """
    module_name, _, name = function.partition(":")
    found = getattr(importlib.import_module(module_name), name, None)
    text = inspect.getdoc(found) if found is not None else None
    if not text:
        raise ValueError(f"{function} has no docstring to explain it.")
    sections = _sections(text)
    claim, _, rest = sections[""].partition("\n")
    notes = sections.get("Notes", "") or rest.strip()
    return Derivation(function=function, claim=claim.strip(), notes=notes, reference=sections.get("References", ""))


def derivations_of(explanation: Explanation) -> tuple[Derivation, ...]:
    """Read all derivations behind an explanation."""
    return tuple(derivation(function) for function in explanation.functions)
