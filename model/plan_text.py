"""Questions and trial plan as tables, CSV and markdown, to send to suppliers and to hang up in the laboratory."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from catalog_schema.inert_text import spreadsheet_safe
from catalog_schema.units import show
from model.questions import Question
from model.trial_plan import TrialStep


def question_rows(questions: Sequence[Question], system: str = "metric", currency: str = "") -> pd.DataFrame:
    """List questions, most worth first."""
    return pd.DataFrame(
        [
            (one.number, one.supplier, one.machine_name, one.quantity, one.assumed.text(system, currency),
             one.would_change.text(system, currency), _money(one.worth, currency), _cases(one.change_share))
            for one in questions
        ],
        columns=["No.", "Ask", "Machine", "What", "Until then", "What an answer changes", "Worth a year",
                 "Changes the choice in"],
    )  # fmt: skip


def trial_rows(steps: Sequence[TrialStep], system: str = "metric", currency: str = "") -> pd.DataFrame:
    """List planned trials, the worthiest first."""
    return pd.DataFrame(
        [
            (one.number, one.board_name, one.machine_name, one.fluid_name, f"{one.minutes:.0f}", one.component_name,
             one.look_for.text(system, currency), one.decides.text(system, currency), _percent(one.probability_clean),
             _money(one.worth, currency))
            for one in steps
        ],
        columns=["No.", "Board type", "Machine", "Fluid", "Minutes", "Lift", "Look for", "What it decides",
                 "Expected clean", "Worth a year"],
    )  # fmt: skip


def as_csv(frame: pd.DataFrame) -> str:
    """Write a table as CSV; no cell can start a formula in a spreadsheet."""
    safe = frame.map(lambda cell: spreadsheet_safe(cell) if isinstance(cell, str) else cell)
    return safe.to_csv(index=False)


def questions_markdown(questions: Sequence[Question], system: str = "metric", currency: str = "") -> str:
    """Write the questions as markdown, one list per supplier, each in its order of worth."""
    lines = ["# Questions before signing", ""]
    for supplier in dict.fromkeys(one.supplier for one in questions):
        lines += [f"## {supplier}", ""]
        for one in questions:
            if one.supplier == supplier:
                rest = f"{one.assumed.text(system, currency)} {one.would_change.text(system, currency)}"
                lines.append(f"{one.number}. **{one.machine_name}, {one.quantity}** – {rest}")
        lines.append("")
    return "\n".join(lines if questions else [*lines, "None: no answer would change the choice or the musts.", ""])


def trials_markdown(steps: Sequence[TrialStep], system: str = "metric", currency: str = "") -> str:
    """Write the trial plan as markdown, with room for what was found."""
    lines = ["# Trial boards", ""]
    for one in steps:
        sentence = one.sentence(system, currency)
        lines += [f"{one.number}. {sentence}", "   Found: ______ of the residue left, on ______.", ""]
    return "\n".join(lines if steps else [*lines, "None: no wash is uncertain enough to be tried.", ""])


def _money(worth: float | None, currency: str) -> str:
    return "not in money" if worth is None else show(worth, "money", "metric", currency, digits=2)


def _cases(share: float) -> str:
    """Write how often something happens in words that nobody reads as a certainty."""
    hundred = 100.0 * share
    if hundred <= 0.0:
        return "no case"
    return "fewer than 1 of 100 cases" if hundred < 1.0 else f"{hundred:.0f} of 100 cases"


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"

