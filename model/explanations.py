"""Help in place: what every requirement and criterion means, and where its equation and source stand in the code.

The two sentences stand in the library; equation, validity and source are read from the docstring of the function that
computes it, so that they cannot drift from the code.
"""

from __future__ import annotations

import importlib
import inspect
import re
from dataclasses import dataclass
from functools import lru_cache

from catalog_schema.library import LIBRARY_FOLDER
from catalog_schema.parsing import read_yaml


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """One term explained."""

    key: str
    """Requirement key, criterion key or stage."""
    sentences: str
    """What it is and why it matters, in two sentences."""
    functions: tuple[str, ...]
    """Functions that compute it, as module:name; their docstrings hold equation and source."""


@lru_cache(maxsize=1)
def load_explanations() -> dict[str, dict[str, Explanation]]:
    """Give the explanations in two groups, "requirements" and "criteria", by key."""
    content = read_yaml((LIBRARY_FOLDER / "explanations.yaml").read_bytes(), "explanations.yaml")
    return {
        group: {
            key: Explanation(key=key, sentences=entry["sentences"], functions=tuple(entry["functions"]))
            for key, entry in entries.items()
        }
        for group, entries in content.items()
    }


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
