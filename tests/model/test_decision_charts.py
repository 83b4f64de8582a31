"""Charts and rows of a decision: each can be drawn, in both palettes, and holds the numbers of the decision."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from model.certainty import certainty
from model.charts import DARK, LIGHT, Sheet, chart_svg
from model.decision_charts import (
    CRITERION_COLOURS,
    change_chart,
    contributions_chart,
    drivers_chart,
    intervals_chart,
    knob_chart,
    rank_chart,
    trial_chart,
    value_function_chart,
)
from model.decision_rows import (
    change_rows,
    contribution_rows,
    dominance_rows,
    interval_rows,
    measure_rows,
    rank_rows,
    ranking_rows,
    score_rows,
    voice_rows,
    weight_rows,
)


@pytest.fixture(scope="module")
def sure(decision):
    return certainty(decision, draws=2000)


def test_stacked_parts_end_at_the_score(decision):
    parts, scores = contribution_rows(decision), score_rows(decision)
    ends = parts.groupby("name")["end"].max()
    for row in scores.itertuples():
        assert ends[row.name] == pytest.approx(row.score)
        assert row.low <= row.high


def test_rows_of_rank_probabilities_add_up_to_one(decision, sure):
    frame = rank_rows(decision, sure)
    assert np.allclose(frame.groupby("name")["share"].sum(), 1.0)
    assert np.allclose(frame.groupby("rank")["share"].sum(), 1.0)


def test_todays_weight_lies_in_its_interval(decision, sure):
    frame = interval_rows(decision, sure)
    assert (frame["low"] <= frame["weight"] + 1e-12).all()
    assert (frame["weight"] <= frame["high"] + 1e-12).all()


def test_unknown_measures_are_said_and_not_shown_as_numbers(decision):
    frame = measure_rows(decision, {}, "EUR")
    service = frame[(frame["Machine"] == "Contract cleaning service") & (frame["Criterion"] == "Spray reach")]
    assert (service["Measure (range)"] == "not known").all()
    assert "not known" in ranking_rows(decision).to_string()


def test_every_voice_and_second_opinion_has_a_column(decision):
    columns = set(voice_rows(decision).columns)
    assert {voice.name for voice in decision.voices} | {"Common", "TOPSIS", "PROMETHEE II"} <= columns
    weights = weight_rows(decision).drop(columns="Criterion")
    assert np.allclose(weights.sum(), 1.0)


def test_dominance_lists_every_machine_once(decision, sure):
    assert len(dominance_rows(decision, sure)) == len(decision.ranking.order)


def test_colours_of_neighbouring_parts_differ(decision):
    assert len(set(CRITERION_COLOURS)) == len(CRITERION_COLOURS) >= len(decision.table.criteria)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_every_chart_can_be_drawn(decision, sure, palette):
    sheet = Sheet(palette=palette, description="Said in words.", width=460)
    rival = decision.ranking.order[1]
    change = change_rows(decision, sure, rival).fillna(0.1)
    charts = [
        contributions_chart(contribution_rows(decision), score_rows(decision), sheet),
        rank_chart(rank_rows(decision, sure), sheet),
        intervals_chart(interval_rows(decision, sure), sheet),
        change_chart(change, sheet),
        value_function_chart(
            pd.DataFrame({"measure": [0.0, 1.0], "value": [0.0, 1.0]}),
            pd.DataFrame({"name": ["a"], "measure": [0.5], "value": [0.5]}), sheet, measure_title="Times needed",
        ),
        drivers_chart(pd.DataFrame({"label": ["a"], "low": [-0.1], "high": [0.1], "share": [0.5]}), sheet),
        knob_chart(pd.DataFrame({"leader": ["a"], "low": [0.0], "high": [1.0]}), sheet, knob="Share", present=0.5),
        trial_chart(
            pd.DataFrame({"trial": ["t"] * 2, "when": ["before", "after"], "low": [0.1] * 2, "middle": [0.2] * 2,
                          "high": [0.3] * 2, "found": [0.2] * 2}), sheet,
        ),
    ]  # fmt: skip
    for chart in charts:
        assert chart_svg(chart).startswith("<svg")
        assert chart.to_dict()["description"] == "Said in words."
