"""Screen: which machine is best, for each stakeholder and for all together, and what each score is made of."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from catalog_schema.priorities import ValuePoint
from model.criteria import COST, UNITS, stated_function
from model.decision_charts import contributions_chart, value_function_chart
from model.decision_rows import (
    contribution_rows,
    measure_rows,
    ranking_rows,
    score_rows,
    voice_rows,
    weight_rows,
)
from screens import case_state, deciding, explaining, parts, rows, tables
from screens.deciding import Decided


def page() -> None:
    """Draw the screen."""
    parts.header("Ranking", "The machines that are left, by what they are worth to you. Who falls short on a must is "
                 "not ranked, however good it is on the rest.")  # fmt: skip
    found = deciding.decided()
    if found is None:
        return
    deciding.classes_switch()
    if deciding.answer(found):
        _scores(found)
        _voices(found)
        _measures(found)
        _value_functions(found)
    deciding.ruled_out(found)
    parts.caution()


def _scores(found: Decided) -> None:
    decision = found.decision
    pieces, ranges = contribution_rows(decision), score_rows(decision)
    tables.picture(
        _score_sentence(found), lambda sheet: [contributions_chart(pieces, ranges, sheet)],
        ranking_rows(decision), name="ranking", alt="Scores of the machines that are left",
    )  # fmt: skip
    parts.note("Bar: what each criterion brings, weight × value, at the middle of the draws. Line below it: 5 % to "
               "95 % of the draws; diamond: the score. What each criterion means:")  # fmt: skip
    explaining.criteria(decision.table.criteria, decision.table.criterion_names, "ranking")
    for one in decision.table.notes:
        parts.note(parts.plain(one))


def _score_sentence(found: Decided) -> str:
    decision = found.decision
    row = decision.ranking.order[0]
    contributions = decision.ranking.contributions[0]
    most = max(range(len(contributions)), key=lambda k: contributions[k])
    low, high = decision.score_range[row]
    return (f"{decision.table.machine_names[row]} scores {low:.2f} to {high:.2f} over the draws; "
            f"{decision.table.criterion_names[most]} brings most of it.")  # fmt: skip


def _voices(found: Decided) -> None:
    decision = found.decision
    st.header("Who sees it how")
    for voice in decision.voices:
        if voice.note:
            parts.note(f"**{parts.plain(voice.name)}**: {parts.plain(voice.note)}")
    ranks, weights = voice_rows(decision), weight_rows(decision)
    st.markdown("Rank of each machine for every stakeholder, for all together, and by two other methods.")
    st.table(ranks.map(lambda cell: parts.plain(str(cell))), hide_index=True, border="horizontal", alt="Ranks")
    tables.download(ranks, "ranks")
    for sentence in decision.second_opinions:
        st.markdown(f"- {parts.plain(sentence)}")
    if decision.minimax is not None and len(decision.voices) > 1 and len(decision.ranking.order) > 1:
        least = ", ".join(decision.table.machine_names[row] for row in decision.minimax.least_regret_candidates)
        worst = min(max(column) for column in zip(*decision.minimax.regrets, strict=True))
        lost = ("nobody would rather have another." if worst < 0.005 else
                f"at most {worst:.2f} of score is lost against anyone's own favourite.")  # fmt: skip
        st.markdown(parts.plain(f"- Least to regret for the least satisfied stakeholder: {least}; {lost}"))  # fmt: skip
    shares = weights.copy()
    for name in shares.columns[1:]:
        shares[name] = [rows.percent(float(share)) for share in weights[name]]
    st.markdown("Weight of each criterion, for each stakeholder and in common.")
    st.table(shares.map(parts.plain), hide_index=True, border="horizontal", alt="Weights")
    tables.download(weights, "weights")


def _measures(found: Decided) -> None:
    st.header("What was measured")
    boards = {board.id: board.name for board in found.after.case.board_types}
    frame = measure_rows(found.decision, boards, found.after.case.plant.currency)
    st.markdown("Each measure over the board mix by volume; beside it the board type that does worst.")
    tables.grid(frame, name="measures", height=320)


def _value_functions(found: Decided) -> None:
    table = found.decision.table
    st.header("What a measure is worth")
    names = dict(zip(table.criteria, table.criterion_names, strict=True))
    criterion = parts.choose("Criterion", table.criteria, "value-function", shown=lambda one: names[one])
    place = table.criteria.index(criterion)
    points = table.value_functions[place].points
    unit = f"{found.after.case.plant.currency} per year" if criterion == COST else UNITS.get(criterion, "rating")
    middle = ranking_middle(found, place)
    sentence = (f"{names[criterion]}: worth {points[0][1]:.2g} at {points[0][0]:,.4g} and {points[-1][1]:.2g} at "
                f"{points[-1][0]:,.4g} {unit}, straight between the points.")  # fmt: skip
    tables.picture(
        sentence,
        lambda sheet: [
            value_function_chart(pd.DataFrame(points, columns=["measure", "value"]), middle, sheet,
                                 measure_title=f"{names[criterion]} [{unit}]")
        ],
        middle.rename(columns={"name": "Machine", "measure": unit, "value": "Value"}), name="value-function",
        alt=f"Value function of {names[criterion]}",
    )  # fmt: skip
    _edit_points(criterion, points)


def ranking_middle(found: Decided, place: int) -> pd.DataFrame:
    """List where each machine stands on a criterion at the middle of its draws."""
    table = found.decision.table
    return pd.DataFrame(
        [(table.machine_names[row], float(pd.Series(table.measures[:, row, place]).median()),
          float(found.decision.middle_values[row, place])) for row in found.decision.ranking.order],
        columns=["name", "measure", "value"],
    )  # fmt: skip


def _edit_points(criterion: str, points: tuple[tuple[float, float], ...]) -> None:
    written = "; ".join(f"{measure:g} = {value:g}" for measure, value in points)
    key = f"points-{criterion}-{case_state.revision()}-{written}"
    text = st.text_input("Points, as measure = value", value=written, key=key,
                         help="For example 0.5 = 0; 1 = 0.4; 2 = 0.9; 3 = 1. Values run from 0 to 1.")  # fmt: skip
    priorities = case_state.current_case().priorities
    with st.container(horizontal=True):
        use = st.button("Use these points", disabled=text == written)
        drop = st.button("Back to the default", disabled=criterion not in priorities.value_functions)
    functions = dict(priorities.value_functions)
    if use:
        try:
            functions[criterion] = read_points(text)
        except ValueError as problem:
            st.error(f"Not used: {parts.plain(str(problem))}")
            return
    elif drop:
        functions.pop(criterion)
    else:
        return
    case_state.change(priorities=priorities.model_copy(update={"value_functions": functions}))
    st.rerun()


def read_points(text: str) -> tuple[ValuePoint, ...]:
    """Read points written as "measure = value; measure = value"; raises ValueError with a sentence.

    >>> [(point.measure, point.value) for point in read_points("1 = 0; 2=1")]
    [(1.0, 0.0), (2.0, 1.0)]
    """
    found = []
    for pair in (part for part in text.split(";") if part.strip()):
        measure, sign, value = pair.partition("=")
        try:
            if not sign:
                raise ValueError
            worth = float(value)
            if not 0.0 <= worth <= 1.0:
                raise ValueError
            found.append(ValuePoint(measure=float(measure), value=worth))
        except ValueError:
            raise ValueError(f'"{pair.strip()}" is not a measure, an equals sign and a value from 0 to 1.') from None
    stated_function(tuple(found))
    return tuple(found)
