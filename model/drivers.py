"""Which uncertain quantities drive the gap between the first and the second machine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.priorities import CRITERIA
from model.decision import Decision
from model.evaluate import Evaluation
from model.field_names import field_words
from model.provenance import record_of
from model.result_text import record_names
from model.sensitivity import first_order_from_draws, tornado_from_draws
from model.total_effects import MOST_INPUTS, total_effects
from model.uncertainty import FloatArray, Input

LEAST_DRAWS = 50
"""Fewer draws cannot tell an effect from chance."""

EVIDENCE_RATIO = 3.5
"""Standard errors that a swing must have to be shown: of several hundred quantities chance alone seldom passes it."""

CORRELATION_STATEMENT = (
    "Quantities are drawn independently of each other; where some move together in truth, their shares cannot be told "
    "apart. Total shares come from a quadratic stand-in of the strongest quantities, not from the whole model."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenColumns:
    """Uncertain quantities behind some machines, each once."""

    paths: tuple[str, ...]
    """Where each stands."""
    labels: tuple[str, ...]
    """What each is, in words."""
    draws: FloatArray
    """SI, shape (draws, quantities)"""
    records: tuple[Input | None, ...]
    """As read; None where a value 0-1 stands in for something that nobody knows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """One quantity and what it does to the gap."""

    path: str
    """Where it stands."""
    label: str
    """What it is, in words."""
    gap_at_low: float
    """Mean gap in score over the lowest tenth of its draws."""
    gap_at_high: float
    """Mean gap in score over the highest tenth of its draws."""
    share: float
    """Share 0-1 of the gap's variance that it explains alone (first-order Sobol index)."""
    total_share: float | None
    """Share 0-1 that it explains alone and together with others (total Sobol index), None where not estimated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drivers:
    """What drives the gap between first and second."""

    drivers: tuple[Driver, ...]
    """Largest swing first; only what stands out from chance."""
    gap: tuple[float, float, float]
    """5 %, 50 % and 95 % point of the gap in score."""
    explained_share: float
    """Sum of the first-order shares listed, at most 1."""
    headline: str
    """What drives the gap, in one sentence."""


def label_of(path: str, names: dict[tuple[str, str], str], own_names: dict[str, str]) -> str:
    """Say what a path means: the record's name, then the field."""
    group, identifier, field = record_of(path)
    if group == "criteria":
        machine = names.get(("candidates", identifier)) or names.get(("machine_classes", identifier), identifier)
        return f"{machine}: {CRITERIA.get(field) or own_names.get(field, field)} (nobody knows)"
    if not identifier:
        return f"{field_words(group)}: {field_words(field)}"
    return f"{names.get((group, identifier), identifier)}: {field_words(field)}"


def open_columns(evaluation: Evaluation, decision: Decision, rows: tuple[int, ...]) -> OpenColumns:
    """Gather the uncertain quantities behind some rows of the table."""
    found: dict[str, FloatArray] = {}
    records: dict[str, Input] = {}
    for row in rows:
        outcome = evaluation.machine(decision.table.machine_ids[row])
        for path, column in (*outcome.columns.items(), *decision.table.open_columns[row].items()):
            found.setdefault(path, column)
        for record in (*outcome.inputs, *decision.table.raw.inputs[row]):
            records.setdefault(record.path, record)
    names = record_names(evaluation.case, evaluation.library)
    own = {one.id: one.name for one in decision.priorities.own_criteria}
    # Sorted, so that the order in which machines are listed plays no part.
    paths = tuple(sorted(found))
    return OpenColumns(
        paths=paths, labels=tuple(label_of(path, names, own) for path in paths),
        draws=np.column_stack([found[path] for path in paths]) if paths else np.zeros((evaluation.draws, 0)),
        records=tuple(records.get(path) for path in paths),
    )  # fmt: skip


def drivers(evaluation: Evaluation, decision: Decision, *, most: int = 15) -> Drivers:
    """Find what drives the gap in score between the first and the second machine.

    Parameters
    ----------
    evaluation : Evaluation
        The one that the decision was made from.
    decision : Decision
    most : int
        Quantities listed at most.

    Returns
    -------
    Drivers

    Notes
    -----
    Swing between the lowest and highest tenth of each quantity, and its first-order Sobol index, both from the draws
    at hand (`model.sensitivity`). A quantity is listed when its swing exceeds 3.5 standard errors: several hundred are
    looked at, and chance alone would put some forward otherwise. Total indices come from a quadratic stand-in of the
    strongest quantities (`model.total_effects`), because running the whole model again for each would take minutes;
    the share that is missing to 1 arises from many small ones.
    """
    first, second = decision.leader, decision.runner_up
    if first is None or second is None:
        return _none("There are no two machines whose gap could be explained.")
    gap = decision.scores[:, first] - decision.scores[:, second]
    low, middle, high = (float(point) for point in np.quantile(gap, [0.05, 0.5, 0.95]))
    if gap.size < LEAST_DRAWS:
        return _none(f"{gap.size} draws are too few to tell what drives the gap; use at least {LEAST_DRAWS}.")
    if float(np.ptp(gap)) <= 1e-12:
        return _none("The gap is the same in every draw: no uncertain quantity moves it.")
    columns = open_columns(evaluation, decision, (first, second))
    found: list[Driver] = []
    if columns.paths:
        swings = tornado_from_draws(columns.draws, gap)
        shown = [int(k) for k in swings.order if abs(swings.swing[k]) > EVIDENCE_RATIO * swings.standard_error[k]]
        shares = first_order_from_draws(columns.draws[:, shown[:most]], gap).first_order if shown else np.zeros(0)
        totals = _totals(columns.draws[:, shown[:MOST_INPUTS]], gap)
        found = [
            Driver(path=columns.paths[k], label=columns.labels[k], gap_at_low=float(swings.output_at_low[k]),
                   gap_at_high=float(swings.output_at_high[k]), share=float(np.clip(share, 0.0, 1.0)),
                   total_share=totals[position] if position < len(totals) else None)
            for position, (k, share) in enumerate(zip(shown, shares, strict=False))
        ]  # fmt: skip
    names = decision.table.machine_names
    if not found:
        text = (f"No single quantity moves the gap between {names[first]} and {names[second]} by more than chance "
                "would: many small ones do together.")  # fmt: skip
    else:
        top = found[0]
        text = (f"{top.label} moves the gap between {names[first]} and {names[second]} most: from "
                f"{top.gap_at_low:+.2f} at its low end to {top.gap_at_high:+.2f} at its high end")  # fmt: skip
        text += ", enough to change the order." if min(top.gap_at_low, top.gap_at_high) < 0 else "."
    return Drivers(drivers=tuple(found), gap=(low, middle, high), headline=text,
                   explained_share=min(1.0, sum(one.share for one in found)))  # fmt: skip


def _totals(inputs: FloatArray, gap: FloatArray) -> list[float]:
    """Total indices of the strongest quantities; fewer of them where there are few draws."""
    count = inputs.shape[1]
    while count and inputs.shape[0] < 3 * (1 + 2 * count + count * (count - 1) // 2):
        count -= 1
    return [float(share) for share in total_effects(inputs[:, :count], gap).total] if count else []


def _none(sentence: str) -> Drivers:
    return Drivers(drivers=(), gap=(0.0, 0.0, 0.0), explained_share=0.0, headline=sentence)
