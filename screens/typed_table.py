"""A table that is typed into and stays where it is: fed its own result anew, it would lose entries, focus and place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from catalog_schema import Case
from screens import case_state

EditedRows = Mapping[int, Mapping[str, Any]]
"""Row number to column to new value, as a table reports it: all edits since it was drawn first."""


@dataclass(slots=True)
class _Kept:
    """What a table was drawn from, and the case that its own edits led to."""

    base: pd.DataFrame | None = None
    case: Case | None = None
    number: int = 0


def base_and_key(name: str, make: Callable[[], pd.DataFrame]) -> tuple[pd.DataFrame, str]:
    """Give what a table is drawn from and the key of its widget.

    Both stay the same through the table's own edits. Any other change of the case, and a change of screen, makes a
    fresh table, and forgets what the old one refused.
    """
    kept = case_state.kept(name, _Kept)
    key = f"{name}-{kept.number}"
    if kept.base is None or kept.case is not case_state.current_case() or not case_state.is_drawn(key):
        kept.base, kept.case = make(), case_state.current_case()
        kept.number += 1
        key = f"{name}-{kept.number}"
        case_state.refuse_at(name, None, ())
    return kept.base, key


def edited_rows(key: str) -> EditedRows:
    """Give what was typed into a table, inside its own callback."""
    state: Any = case_state.widget_value(key)
    rows: EditedRows = state["edited_rows"]
    return rows


def taken_over(name: str, refused: list[str]) -> None:
    """Note that the open case now holds the table's edits but for those refused, each with a sentence."""
    case_state.refuse_at(name, None, refused)
    case_state.kept(name, _Kept).case = case_state.current_case()
