"""Sentences with numbers that stay in SI until someone reads them in their own units."""

from __future__ import annotations

import re
from dataclasses import dataclass

from catalog_schema.units import show

_FIELD = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True, slots=True)
class Phrase:
    """A sentence with named figures; text inserted for a figure is never read as a template again."""

    template: str
    """Sentence with {names} for figures."""
    figures: tuple[tuple[str, str | float, str], ...] = ()
    """Per figure its name, its value (text, or a number in SI), and its dimension (empty for text)."""

    def text(self, system: str = "metric", currency: str = "") -> str:
        """Write the sentence in a unit system ("metric" or "US")."""
        shown = {
            name: value if isinstance(value, str) else show(value, dimension, system, currency)
            for name, value, dimension in self.figures
        }
        return _FIELD.sub(lambda match: shown.get(match.group(1), match.group(0)), self.template)


def phrase(template: str, **figures: str | int | tuple[float, str]) -> Phrase:
    """Make a phrase from a template and figures: text, whole numbers, or (SI value, dimension).

    >>> phrase("{kind} needs {time}.", kind="QFN", time=(600.0, "time")).text()
    'QFN needs 10 min.'
    """
    parts: list[tuple[str, str | float, str]] = []
    for name, figure in figures.items():
        if isinstance(figure, tuple):
            parts.append((name, float(figure[0]), figure[1]))
        else:
            parts.append((name, str(figure), ""))
    return Phrase(template, tuple(parts))
