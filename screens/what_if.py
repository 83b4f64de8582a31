"""Screen: what if the weights were others: one slider for each criterion, the rest keep their proportions."""

from __future__ import annotations

import numpy as np
import pandas as pd
import streamlit as st

from model.decision import Decision, weights_with
from model.decision_charts import contributions_chart
from model.ranking import Ranking, rank, scores_over_draws
from screens import case_state, deciding, explaining, parts, tables

STEPS = tuple(range(101))
COMMON = "Common weights"


def page() -> None:
    """Draw the screen."""
    parts.header("What if", "Move a weight and see who would lead. The criteria that you do not move keep their "
                 "proportions. Nothing here changes the case.")  # fmt: skip
    found = deciding.decided()
    if found is None:
        return
    if not deciding.answer(found):
        deciding.ruled_out(found)
        return
    decision = found.decision
    start = _start(decision)
    left, right = st.columns([2, 3], gap="large")
    with left:
        weights = _sliders(decision, start)
    with right:
        _result(decision, weights)
    deciding.ruled_out(found)


def _start(decision: Decision) -> tuple[float, ...]:
    voices = {COMMON: decision.weights} | {voice.name: voice.weights for voice in decision.voices if voice.id}
    return voices[parts.choose("Start from", list(voices), "what-if-start")]


def _sliders(decision: Decision, start: tuple[float, ...]) -> tuple[float, ...]:
    names = [f"what-if-{criterion}" for criterion in decision.table.criteria]
    held: dict[int, float] = {}
    for place, name in enumerate(names):
        percent = case_state.choice(name, (None, *STEPS), None)
        if percent is not None:
            held[place] = percent / 100.0
    weights = weights_with(start, held)
    for place, name in enumerate(names):
        shown = round(100.0 * weights[place])
        # The key holds the value: a slider that another one pushed shows its new place.
        key = f"{name}-{shown}-{place in held}-{case_state.revision()}"
        mark = " · moved" if place in held else ""
        label = f"{place + 1} {parts.plain(decision.table.criterion_names[place])}{mark}"
        st.slider(label, 0, 100, shown, format="%d %%", key=key, on_change=case_state.set_from_widget, args=(name, key),
                  help=explaining.sentences(explaining.CRITERIA, decision.table.criteria[place]))  # fmt: skip
    st.button("Back to the start", on_click=_forget, args=(names,), disabled=not held)
    return weights


def _forget(names: list[str]) -> None:
    for name in names:
        case_state.remember(name, None)


def _result(decision: Decision, weights: tuple[float, ...]) -> None:
    ranking = rank(decision.middle_values, weights)
    scores = np.quantile(scores_over_draws(decision.table.values, weights), [0.05, 0.95], axis=0)
    sentence, names = parts.plain(_sentence(decision, ranking)), decision.table.criterion_names
    pieces, ranges = _rows(decision, ranking, scores)
    tables.picture(
        sentence,
        lambda palette, width: [
            contributions_chart(pieces, ranges, palette=palette, description=sentence, width=width,
                                legend=isinstance(width, int))
        ],
        ranges.rename(columns={"name": "Machine", "low": "5 %", "score": "Score", "high": "95 %"}), name="what-if",
        palette=parts.palette(), alt="Scores under the weights chosen here",
    )  # fmt: skip
    parts.note("Bar: weight × value of each criterion, numbered as beside; line below it: 5 to 95 % of the draws. What "
               "each criterion means, with equation and source:")  # fmt: skip
    explaining.criteria(decision.table.criteria, names, "what-if")


def _sentence(decision: Decision, ranking: Ranking) -> str:
    names = decision.table.machine_names
    first = [row for row, place in zip(ranking.order, ranking.ranks, strict=True) if place == 1]
    leaders = " and ".join(names[row] for row in first)
    verb = "leads" if len(first) == 1 else "lead together"
    before = decision.ranking.order[0]
    changed = "as under the common weights" if before in first else f"instead of {names[before]}"
    return f"With these weights {leaders} {verb}, {changed}."


def _rows(decision: Decision, ranking: Ranking, scores: np.ndarray) -> tuple[pd.DataFrame, pd.DataFrame]:
    names, criteria = decision.table.machine_names, decision.table.criterion_names
    pieces, ranges = [], []
    for row, contributions, score in zip(ranking.order, ranking.contributions, ranking.scores, strict=True):
        ends = np.concatenate([[0.0], np.cumsum(contributions)])
        for k, criterion in enumerate(criteria):
            pieces.append((names[row], f"{k + 1} {criterion}", str(k + 1), ends[k], ends[k + 1]))
        ranges.append((names[row], float(scores[0, row]), score, float(scores[1, row])))
    return (
        pd.DataFrame(pieces, columns=["name", "criterion", "mark", "start", "end"]),
        pd.DataFrame(ranges, columns=["name", "low", "score", "high"]),
    )
