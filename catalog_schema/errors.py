"""What is wrong with a document, said so that its owner can mend it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

from catalog_schema.inert_text import visible_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing wrong at one place of one document."""

    file: str
    """File name or "text" when the document did not come from a file."""
    path: str
    """Path of the field inside the document, such as `candidates[belt].spray.nozzle_count`."""
    message: str
    """What is wrong, with the value met, what is allowed and what to do."""

    def __post_init__(self) -> None:
        """Show control and other hidden characters: names and keys of a hostile file reach terminals and pages."""
        for name in ("file", "path", "message"):
            object.__setattr__(self, name, visible_text(getattr(self, name), one_line=True))

    def __str__(self) -> str:
        """Give the problem as one line: file, path, message."""
        place = f"{self.path}: " if self.path else ""
        return f"{self.file}: {place}{self.message}"


class CaseError(Exception):
    """A document was refused; `problems` lists all that was found, never only the first."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        """Keep the problems; at least one is needed to refuse a document."""
        self.problems: tuple[Problem, ...] = tuple(problems)
        if not self.problems:
            raise ValueError("A CaseError needs at least one problem.")
        super().__init__("\n".join(str(problem) for problem in self.problems))


def nearest_name_hint(name: str, allowed: Iterable[str], show_at_most: int = 8) -> str:
    """Suggest the allowed name nearest to a mistyped one, or list what is allowed.

    >>> nearest_name_hint("sprey", ["spray", "rinse"])
    'Did you mean "spray"?'
    """
    names = sorted(set(allowed))
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    if near:
        return f'Did you mean "{near[0]}"?'
    shown = ", ".join(names[:show_at_most])
    more = f" and {len(names) - show_at_most} more" if len(names) > show_at_most else ""
    return f"Allowed: {shown}{more}." if names else "Nothing is allowed here."
