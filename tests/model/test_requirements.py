"""Musts judged over draws: results, margins and joint probability."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.phrase import phrase
from model.requirements import (
    Judged,
    Requirement,
    Subject,
    Thresholds,
    about,
    joint,
    judge_fact,
    judge_number,
    judge_share,
)

THRESHOLDS = Thresholds(meets_from=0.9, misses_to=0.1)
SUBJECT = Subject(machine_id="m", board_id="b", fluid_id="f")
SENTENCE = phrase("Said.")


def number(measure: list[float], limit: float | list[float], direction: str = "at most") -> Judged:
    bound = np.array(limit, dtype=float) if isinstance(limit, list) else limit
    return judge_number(
        SUBJECT, "key", "Title", "wash", measure=np.array(measure, dtype=float), limit=bound,
        direction="at most" if direction == "at most" else "at least", dimension="time", thresholds=THRESHOLDS,
        sentence=SENTENCE,
    )  # fmt: skip


def of_probability(share: float) -> Requirement:
    return number([0.0] * round(100 * share) + [2.0] * round(100 - 100 * share), 1.0).requirement


@pytest.mark.parametrize(
    ("share", "result"),
    [(1.0, "meets"), (0.9, "meets"), (0.89, "unknown"), (0.5, "unknown"), (0.11, "unknown"), (0.1, "falls short"),
     (0.0, "falls short")],
)  # fmt: skip
def test_a_must_is_met_from_the_upper_and_missed_up_to_the_lower_threshold(share: float, result: str) -> None:
    must = of_probability(share)
    assert must.probability == pytest.approx(share)
    assert must.result == result


def test_equality_with_the_limit_counts_as_met_on_both_sides() -> None:
    assert number([1.0], 1.0).requirement.probability == 1.0
    assert number([1.0], 1.0, "at least").requirement.probability == 1.0


@pytest.mark.parametrize(
    ("measure", "limit", "direction", "margin"),
    [(2.0, 6.0, "at most", 3.0), (6.0, 2.0, "at least", 3.0), (6.0, 3.0, "at most", 0.5),
     (np.inf, 3.0, "at most", 0.0), (0.0, 3.0, "at most", None), (0.0, 3.0, "at least", 0.0),
     (2.0, 0.0, "at least", None)],
)  # fmt: skip
def test_the_margin_says_how_many_times_better_than_the_limit(
    measure: float, limit: float, direction: str, margin: float | None
) -> None:
    assert number([measure] * 3, limit, direction).requirement.margin_ratio == margin


@pytest.mark.parametrize(
    ("measure", "limit"),
    [([np.nan, 1.0], 1.0), ([1.0, 1.0], [1.0, np.nan]), ([1.0] * 4, [2.0, np.nan, np.inf, 1.0])],
)  # fmt: skip
def test_what_is_not_a_number_is_refused_and_never_judged(measure: list[float], limit: float | list[float]) -> None:
    with pytest.raises(ValueError, match="Title: the computation gave no number"):
        number(measure, limit)


def test_a_limit_may_differ_from_draw_to_draw() -> None:
    judged = number([1.0, 1.0, 1.0, 1.0], [0.5, 2.0, 2.0, 2.0])
    assert judged.met is not None
    assert judged.met.tolist() == [False, True, True, True]
    assert judged.requirement.limit == 2.0


def test_a_fact_nobody_knows_has_no_probability() -> None:
    judged = judge_fact(SUBJECT, "k", "T", "fit", holds=None, draws=3, sentence=SENTENCE)
    assert (judged.requirement.result, judged.requirement.probability, judged.met) == ("unknown", None, None)


@pytest.mark.parametrize(("holds", "result"), [(True, "meets"), (False, "falls short")])
def test_a_known_fact_holds_in_every_draw_or_in_none(holds: bool, result: str) -> None:
    judged = judge_fact(SUBJECT, "k", "T", "fit", holds=holds, draws=3, sentence=SENTENCE)
    assert judged.met is not None
    assert judged.met.tolist() == [holds] * 3
    assert judged.requirement.result == result


def shares(*rows: list[bool]) -> tuple[Judged, ...]:
    return tuple(
        judge_share(SUBJECT, str(place), "T", "wash", met=np.array(row), thresholds=THRESHOLDS, sentence=SENTENCE)
        for place, row in enumerate(rows)
    )


def test_one_must_that_falls_short_decides() -> None:
    result, probability, met = joint(shares([True] * 10, [False] * 10), 10, THRESHOLDS)
    assert (result, probability, met.any()) == ("falls short", 0.0, np.False_)


def test_musts_that_each_are_likely_may_be_unlikely_together_and_leave_doubt() -> None:
    rows = [[place != missing for place in range(10)] for missing in range(10)]
    result, probability, _ = joint(shares(*rows), 10, THRESHOLDS)
    assert (result, probability) == ("unknown", 0.0)


def test_what_cannot_be_computed_leaves_the_probability_and_makes_the_result_unknown() -> None:
    unknown = judge_fact(SUBJECT, "k", "T", "fit", holds=None, draws=10, sentence=SENTENCE)
    assert joint((*shares([True] * 10), unknown), 10, THRESHOLDS)[:2] == ("unknown", 1.0)


def test_nothing_to_judge_is_met() -> None:
    assert joint((), 4, THRESHOLDS)[:2] == ("meets", 1.0)


@given(st.lists(st.lists(st.booleans(), min_size=8, max_size=8), min_size=1, max_size=5))
@settings(deadline=None, max_examples=50)
def test_together_musts_are_never_likelier_than_the_least_likely(rows: list[list[bool]]) -> None:
    judged = shares(*rows)
    _, probability, met = joint(judged, 8, THRESHOLDS)
    assert probability <= min(one.requirement.probability or 0.0 for one in judged)
    assert probability == met.mean() == np.all(np.array(rows), axis=0).mean()


def test_a_must_without_a_number_has_no_measure_limit_or_dimension() -> None:
    share = judge_share(SUBJECT, "key", "Title", "wash", met=np.ones(3, dtype=np.bool_), thresholds=THRESHOLDS,
                        sentence=SENTENCE).requirement  # fmt: skip
    fact = judge_fact(SUBJECT, "key", "Title", "wash", holds=True, draws=3, sentence=SENTENCE).requirement
    for one in (share, fact):
        assert (one.key, one.title, one.stage) == ("key", "Title", "wash")
        assert (one.machine_id, one.board_id, one.fluid_id) == ("m", "b", "f")
        assert (one.measure, one.limit, one.dimension, one.direction, one.margin_ratio) == (
            None, None, "", "must hold", None,
        )  # fmt: skip


@pytest.mark.parametrize("direction", ["at most", "at least"])
def test_a_judged_number_keeps_all_it_was_told_and_found(direction: str) -> None:
    judged = number([1.0, 2.0, 3.0, 4.0, 9.0], 3.0, direction)
    said = judged.requirement
    assert (said.key, said.title, said.stage) == ("key", "Title", "wash")
    assert (said.dimension, said.direction) == ("time", direction)
    assert (said.machine_id, said.board_id, said.fluid_id) == ("m", "b", "f")
    assert said.measure is not None
    assert (said.measure[1], said.limit, said.margin_ratio, said.sentence) == (3.0, 3.0, 1.0, SENTENCE)
    assert judged.met is not None
    assert judged.met.tolist() == ([True, True, True, False, False] if direction == "at most" else
                                   [False, False, True, True, True])  # fmt: skip
    assert (said.probability, said.result) == (0.6, "unknown")


@pytest.mark.parametrize(
    ("measure", "limit", "direction", "margin"),
    [(0.5, 2.0, "at most", 4.0), (2.0, 0.5, "at least", 4.0), (np.inf, 3.0, "at most", 0.0),
     (3.0, np.inf, "at most", None), (np.inf, 3.0, "at least", None), (3.0, np.inf, "at least", 0.0),
     (np.inf, np.inf, "at most", None)],
)  # fmt: skip
def test_margins_below_one_and_without_end(measure: float, limit: float, direction: str, margin: float | None) -> None:
    assert number([measure], limit, direction).requirement.margin_ratio == margin


def test_facts_shares_and_subjects_are_kept() -> None:
    for holds, probability in ((True, 1.0), (False, 0.0), (None, None)):
        fact = judge_fact(SUBJECT, "key", "Title", "wash", holds=holds, draws=3, sentence=SENTENCE)
        assert (fact.requirement.probability, fact.requirement.sentence) == (probability, SENTENCE)
        assert (None if fact.met is None else fact.met.tolist()) == (None if holds is None else [holds] * 3)
    for met in ([True, True], [False, False], [True, False]):
        share = judge_share(SUBJECT, "key", "Title", "wash", met=np.array(met), thresholds=THRESHOLDS,
                            sentence=SENTENCE)  # fmt: skip
        assert share.requirement.sentence == SENTENCE
        assert share.met is not None
        assert share.met.tolist() == met
    said = about(number([1.0, 5.0], 3.0), Subject(machine_id="n", board_id="c", fluid_id="g"))
    assert (said.requirement.machine_id, said.requirement.board_id, said.requirement.fluid_id) == ("n", "c", "g")
    assert said.met is not None
    assert said.met.tolist() == [True, False]


def test_together_nine_draws_of_ten_meet_a_wanted_ninety_percent() -> None:
    nine = number([0.0] * 9 + [2.0], 1.0)
    result, probability, met = joint((nine, number([0.0] * 10, 1.0)), 10, THRESHOLDS)
    assert (result, probability) == ("meets", 0.9)
    assert met.tolist() == [True] * 9 + [False]
    result, probability, met = joint((), 10, THRESHOLDS)
    assert (result, probability, met.tolist()) == ("meets", 1.0, [True] * 10)
