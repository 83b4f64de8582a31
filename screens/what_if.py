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
LAST = "what-if-last"
"""Choice that holds the place of the slider moved last."""


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
    _play(found.decision)
    deciding.ruled_out(found)


@st.fragment
def _play(decision: Decision) -> None:
    """Draw sliders and result; moving a slider draws these again, not the page around them."""
    start = _start(decision)
    left, right = st.columns([2, 3], gap="large")
    with left:
        weights = _sliders(decision, start)
    with right:
        _result(decision, weights)


def _start(decision: Decision) -> tuple[float, ...]:
    voices = {COMMON: decision.weights} | {voice.name: voice.weights for voice in decision.voices if voice.id}
    return voices[parts.choose("Start from", list(voices), "what-if-start")]


def _sliders(decision: Decision, start: tuple[float, ...]) -> tuple[float, ...]:
    names = [f"what-if-{criterion}" for criterion in decision.table.criteria]
    held = {place: percent / 100.0 for place, name in enumerate(names)
            if (percent := case_state.choice(name, (None, *STEPS), None)) is not None}  # fmt: skip
    weights = weights_with(start, held, case_state.choice(LAST, (None, *held), None))
    for place, name in enumerate(names):
        # One key for good, so that the slider under the keyboard stays; those that it pushed are shown their new place.
        key = f"{name}-{case_state.revision()}"
        case_state.show_in_widget(key, round(100.0 * weights[place]))
        mark = " · moved" if place in held else ""
        label = f"{place + 1} {parts.plain(decision.table.criterion_names[place])}{mark}"
        st.slider(label, 0, 100, format="%d %%", key=key, on_change=_move, args=(name, key, place),
                  help=explaining.sentences(explaining.CRITERIA, decision.table.criteria[place]))  # fmt: skip
    st.button("Back to the start", on_click=_forget, args=(names,), disabled=not held)
    return weights


def _move(name: str, key: str, place: int) -> None:
    case_state.set_from_widget(name, key)
    case_state.remember(LAST, place)


def _forget(names: list[str]) -> None:
    for name in (*names, LAST):
        case_state.remember(name, None)


def _result(decision: Decision, weights: tuple[float, ...]) -> None:
    ranking = rank(decision.middle_values, weights)
    scores = np.quantile(scores_over_draws(decision.table.values, weights), [0.05, 0.95], axis=0)
    sentence, names = _sentence(decision, ranking), decision.table.criterion_names
    pieces, ranges = _rows(decision, ranking, scores)
    tables.picture(
        sentence,
        # On the page the sliders beside it are its legend.
        lambda sheet: [contributions_chart(pieces, ranges, sheet, legend=isinstance(sheet.width, int))],
        ranges.rename(columns={"name": "Machine", "low": "5 %", "score": "Score", "high": "95 %"}), name="what-if",
        alt="Scores under the weights chosen here",
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
