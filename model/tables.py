"""Tidy tables of an evaluation."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from model.outcomes import MachineOutcome
from model.requirements import Requirement

REQUIREMENT_COLUMNS = [
    "machine", "board_type", "fluid", "stage", "requirement", "title", "low", "middle", "high", "limit", "dimension",
    "direction", "margin_ratio", "probability", "result", "sentence",
]  # fmt: skip
VERDICT_COLUMNS = ["machine", "name", "machine_class", "is_candidate", "result", "probability", "deciding_board_type",
                   "deciding_requirement", "sentence"]  # fmt: skip


def requirement_row(must: Requirement) -> tuple[object, ...]:
    """Give one must as a row of REQUIREMENT_COLUMNS."""
    low, middle, high = must.measure or (None, None, None)
    return (must.machine_id, must.board_id, must.fluid_id, must.stage, must.key, must.title, low, middle, high,
            must.limit, must.dimension, must.direction, must.margin_ratio, must.probability, must.result,
            must.sentence.text())  # fmt: skip


def requirement_table(outcomes: Iterable[MachineOutcome]) -> pd.DataFrame:
    """Tabulate every must of the chosen fluids, racks and machines, each once."""
    rows = [requirement_row(one.requirement) for outcome in outcomes for one in outcome.all_judged()]
    return pd.DataFrame(rows, columns=REQUIREMENT_COLUMNS)


def verdict_table(outcomes: Iterable[MachineOutcome]) -> pd.DataFrame:
    """Tabulate each machine's verdict and what decides it."""
    rows = []
    for outcome in outcomes:
        deciding = outcome.deciding.requirement if outcome.deciding else None
        rows.append(
            (outcome.machine.id, outcome.machine.name, outcome.machine.class_id, outcome.machine.is_candidate,
             outcome.result, outcome.probability, deciding.board_id if deciding else "",
             deciding.key if deciding else "", deciding.sentence.text() if deciding else "")
        )  # fmt: skip
    return pd.DataFrame(rows, columns=VERDICT_COLUMNS)
