"""What a dossier is made of: sections of words, lists, tables and pictures, all plain text until the template."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from markupsafe import Markup


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """A paragraph."""

    text: str
    """What it says."""
    tone: Literal["plain", "lead", "small", "notice"] = "plain"
    """How it is set: a notice is framed, a lead is larger."""
    kind: Literal["words"] = "words"
    """Tells the template which block this is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """A list."""

    entries: tuple[str, ...]
    """One sentence each."""
    numbered: bool = False
    """Numbered, else with bullets."""
    kind: Literal["points"] = "points"
    """Tells the template which block this is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table whose head repeats on every page."""

    columns: tuple[str, ...]
    """Head; empty for facts, whose first column is the head of its row."""
    rows: tuple[tuple[str, ...], ...]
    """Cells as text."""
    widths: tuple[int, ...] = ()
    """Share of the width per column in percent, or empty."""
    caption: str = ""
    """One sentence above the table, or empty."""
    figures: tuple[int, ...] = ()
    """Columns that hold figures, set to the right and not broken."""
    centred: tuple[int, ...] = ()
    """Columns that hold a sign only."""
    tall: bool = False
    """Rows high enough to sign in."""
    dense: bool = False
    """Small type, for the annexes."""
    kind: Literal["table"] = "table"
    """Tells the template which block this is."""

    @property
    def is_short(self) -> bool:
        """Whether the table surely fits a page, so that it is not split over two."""
        return len(self.rows) <= 14 and sum(len(cell) for row in self.rows for cell in row) <= 1200

    def __post_init__(self) -> None:
        """Refuse rows that do not fill the head: a fault of the program, met before anything is printed."""
        wide = len(self.columns) or (len(self.rows[0]) if self.rows else 0)
        if any(len(row) != wide for row in self.rows):
            raise ValueError(f"A row of the table {self.caption or self.columns} does not have {wide} cells.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entries:
    """Names with values, under the heading of what they belong to."""

    title: str
    """What they belong to."""
    groups: tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...]
    """What they rest on; then name, value and note of each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """Many names with values, in two columns of small type that run on: for long annexes."""

    parts: tuple[Entries, ...]
    """In order."""
    kind: Literal["listing"] = "listing"
    """Tells the template which block this is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A vector picture with the sentence that it shows."""

    svg: Markup
    """Cleaned SVG, see `model.dossier_svg`."""
    caption: str
    """What it shows, also for those who cannot see it."""
    kind: Literal["picture"] = "picture"
    """Tells the template which block this is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of a section with a heading of its own."""

    title: str
    """Heading."""
    blocks: tuple[Words | Points | Table | Listing | Picture, ...]
    """What it holds."""
    kind: Literal["part"] = "part"
    """Tells the template which block this is."""


Block = Words | Points | Table | Listing | Picture | Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A numbered section, or an annex."""

    key: str
    """Anchor, letters and dashes only."""
    title: str
    """Heading."""
    blocks: tuple[Block, ...]
    """What it holds."""
    annex: bool = False
    """Lettered instead of numbered."""
