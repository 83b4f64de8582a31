"""Screen: how sure the ranking is, and what would have to change for another machine to lead."""

from __future__ import annotations

import streamlit as st

from model.certainty import Certainty, nearest_rivals
from model.decision_charts import change_chart, drivers_chart, intervals_chart, knob_chart, rank_chart
from model.decision_rows import change_rows, dominance_rows, driver_rows, interval_rows, knob_rows, rank_rows
from model.drift_knobs import drift_knobs
from model.drivers import CORRELATION_STATEMENT, drivers
from screens import deciding, parts, rows, tables
from screens.deciding import Decided

VIEWS = ("Ranks", "Weights one by one", "Smallest change", "Dominance", "What drives the gap", "Drift")


def page() -> None:
    """Draw the screen."""
    parts.header("Certainty", "How often each machine comes first when everything uncertain is drawn again and again, "
                 "and how far weights, volume and mix may move before the answer changes.")  # fmt: skip
    found = deciding.decided()
    if found is None:
        return
    if not found.decision.ranking.order:
        deciding.answer(found)
        deciding.ruled_out(found)
        return
    sure = deciding.sure(found)
    st.markdown(f"**{parts.plain(sure.headline)}**")
    parts.note(parts.plain(sure.knowledge))
    view = parts.choose("Look at", VIEWS, "certainty-view", buttons=True)
    if view == "Ranks":
        _ranks(found, sure)
    elif view == "Weights one by one":
        _intervals(found, sure)
    elif view == "Smallest change":
        _change(found, sure)
    elif view == "Dominance":
        _dominance(found, sure)
    elif view == "What drives the gap":
        _drivers(found)
    else:
        _drift(found)
    deciding.ruled_out(found)


def _ranks(found: Decided, sure: Certainty) -> None:
    frame = rank_rows(found.decision, sure)
    sentence = sure.rank_sentence
    tables.picture(
        sentence, lambda sheet: [rank_chart(frame, sheet)],
        frame.rename(columns={"name": "Machine", "rank": "Rank", "share": "Probability"}), name="ranks-probability",
        alt="Probability of every rank",
    )  # fmt: skip
    most = float(sure.acceptability.standard_error.max()) if sure.acceptability.standard_error.size else 0.0
    parts.note(f"{sure.acceptability.draws:,} draws of weights and quantities together; standard error at most "
               f"{100.0 * most:.1f} points.".replace(",", " "))  # fmt: skip


def _intervals(found: Decided, sure: Certainty) -> None:
    frame = interval_rows(found.decision, sure)
    sentence = sure.interval_sentence
    tables.picture(
        sentence, lambda sheet: [intervals_chart(frame, sheet)],
        frame.rename(columns={"criterion": "Criterion", "low": "Stays first from", "weight": "Weight now",
                              "high": "Stays first to", "below": "Leads below", "above": "Leads above"}),
        name="weight-intervals", alt="Interval of each weight in which the leader stays",
    )  # fmt: skip
    parts.note("Diamond: the weight now. Bar: where the leader stays first, the others keeping their proportions. Mark "
               "at an end: another machine takes over there.")  # fmt: skip


def _change(found: Decided, sure: Certainty) -> None:
    rivals = nearest_rivals(found.decision, sure.be_first)
    sentence = sure.change_sentence
    never = [found.decision.table.machine_names[row] for row in found.decision.ranking.order[1:]
             if not sure.be_first.possible[row]]  # fmt: skip
    if never:
        parts.note(parts.plain(f"First under no weights at all: {', '.join(never)}."))
    if not rivals:
        st.markdown(parts.plain(sentence))
        return
    names = found.decision.table.machine_names
    row = parts.choose("Rival, the nearest first", rivals, "rival", shown=lambda one: names[one])
    frame = change_rows(found.decision, sure, row)
    moved = 100.0 * float(sure.be_first.moved_share[row])
    said = sentence if row == rivals[0] else (f"{moved:.0f} of 100 points of weight have to move until {names[row]} "
                                              "draws level for first place.")  # fmt: skip
    tables.picture(
        said, lambda sheet: [change_chart(frame, sheet)],
        frame.rename(columns={"criterion": "Criterion", "now": "Weight now", "level": "Weight when level"}),
        name="smallest-change", alt=f"Smallest change of weights that puts {names[row]} first",
    )  # fmt: skip


def _dominance(found: Decided, sure: Certainty) -> None:
    frame = dominance_rows(found.decision, sure)
    st.markdown(parts.plain(sure.dominance_sentence))
    st.table(frame.map(parts.plain), hide_index=True, border="horizontal", alt="Dominance and potential optimality")
    tables.download(frame, "dominance")


def _drivers(found: Decided) -> None:
    moved = deciding.kept(found, "drivers", lambda: drivers(found.after, found.decision))
    sentence = moved.headline
    if not moved.drivers:
        st.markdown(parts.plain(sentence))
        return
    frame = driver_rows(moved)
    tables.picture(
        sentence, lambda sheet: [drivers_chart(frame, sheet)],
        frame.rename(columns={"label": "Quantity", "low": "Gap at its low end", "high": "Gap at its high end",
                              "share": "Share of the variance", "total": "With others", "path": "Path"}),
        name="drivers", alt="Quantities that drive the gap",
    )  # fmt: skip
    explained = rows.percent(moved.explained_share)
    parts.note(f"{CORRELATION_STATEMENT} Those listed explain {explained} of the gap's variance.")


def _drift(found: Decided) -> None:
    for knob in deciding.kept(found, "drift", lambda: drift_knobs(found.after, found.decision)):
        st.subheader(parts.plain(knob.knob))
        sentence = knob.headline
        frame = knob_rows(found.decision, knob)
        if not len(frame):
            st.markdown(parts.plain(sentence))
            continue
        _knob(sentence, frame, knob.knob, knob.present)


def _knob(sentence: str, frame: object, knob: str, present: float) -> None:
    tables.picture(
        sentence,
        lambda sheet: [knob_chart(frame, sheet, knob=knob, present=present)],
        frame.rename(columns={"leader": "Leads", "low": "From", "high": "To"}),
        name=f"drift-{knob.lower().replace(' ', '-')}", alt=f"Who leads along {knob}",
    )  # fmt: skip
