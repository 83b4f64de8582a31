"""Drift: crossings of lines are exact, third leaders, gaps, ties and ranges without change."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.drift import NOBODY, leader_drift


def lines(slopes, offsets):
    return lambda t: t[:, None] * np.asarray(slopes) + np.asarray(offsets)


def test_crossing_of_two_lines_is_found_exactly():
    result = leader_drift(lines([1.0, -1.0], [0.0, 1.0]), 0.0, 3.0, 0.2)
    assert result.crossings == (pytest.approx(0.5, abs=1e-10),)
    assert [part.leader for part in result.intervals] == [1, 0]
    assert result.leader_now == 1
    assert result.drift_up == pytest.approx(0.3, abs=1e-10)
    assert result.drift_down == np.inf
    assert result.takes_over_above == 0
    assert result.takes_over_below == -1


def test_no_change_in_the_range_leaves_both_ways_open():
    result = leader_drift(lines([0.0, 1.0], [10.0, 0.0]), 0.0, 5.0, 2.0)
    assert result.crossings == ()
    assert result.drift_up == result.drift_down == np.inf
    assert [(part.low, part.high, part.leader) for part in result.intervals] == [(0.0, 5.0, 0)]


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000), st.integers(2, 60))
def test_leaders_of_random_lines_are_those_of_a_fine_scan_even_on_a_coarse_grid(seed, grid_points):
    # The upper envelope of lines is convex: each leads once, so even two grid points must find all.
    generator = np.random.default_rng(seed)
    scores_at = lines(generator.normal(size=6), generator.normal(size=6))
    result = leader_drift(scores_at, -3.0, 3.0, 0.1, grid_points=grid_points)
    for t in generator.uniform(-3.0, 3.0, 200):
        scores = scores_at(np.array([t]))[0]
        inside = [p for p in result.intervals if p.low <= t <= p.high]
        assert any(scores[p.leader] >= scores.max() - 1e-8 for p in inside)
    assert result.intervals[0].low == -3.0
    assert result.intervals[-1].high == 3.0
    for left, right in zip(result.intervals[:-1], result.intervals[1:], strict=True):
        assert left.high == right.low
        assert left.leader != right.leader
        scores = scores_at(np.array([left.high]))[0]
        assert scores[left.leader] == pytest.approx(scores[right.leader], abs=1e-7)


def test_a_third_candidate_between_two_grid_points_is_found():
    # Leads only from .45 to .55, inside one cell of a two-point grid.
    result = leader_drift(lines([-1.0, 1.0, 0.0], [1.0, 0.0, 0.55]), 0.0, 1.0, 0.0, grid_points=2)
    assert [part.leader for part in result.intervals] == [0, 2, 1]
    np.testing.assert_allclose(result.crossings, [0.45, 0.55], atol=1e-9)


def test_several_crossings_of_curves_are_listed_in_order():
    result = leader_drift(lambda t: np.stack([np.sin(t), 0.0 * t], axis=1), 0.5, 12.0, 7.0, grid_points=101)
    np.testing.assert_allclose(result.crossings, [np.pi, 2 * np.pi, 3 * np.pi], atol=1e-9)
    assert result.leader_now == 0
    assert result.drift_down == pytest.approx(7.0 - 2 * np.pi)
    assert result.drift_up == pytest.approx(3 * np.pi - 7.0)


def test_a_candidate_ruled_out_beyond_a_limit_hands_over_at_the_limit():
    def scores_at(t):
        return np.stack([np.where(t <= 0.37, 1.0, np.nan), np.full_like(t, 0.5)], axis=1)

    result = leader_drift(scores_at, 0.0, 1.0, 0.1)
    assert result.crossings == (pytest.approx(0.37, abs=1e-9),)
    assert result.takes_over_above == 1


def test_nobody_leads_where_all_are_ruled_out():
    def scores_at(t):
        return np.where(t[:, None] <= 0.5, 1.0, np.nan)

    result = leader_drift(scores_at, 0.0, 1.0, 0.25)
    assert [part.leader for part in result.intervals] == [0, -1]
    assert result.takes_over_above == -1
    assert result.drift_up == pytest.approx(0.25, abs=1e-9)


def test_a_step_in_a_score_is_found_as_closely_as_a_crossing():
    # One more machine is needed above .61: the score falls by a step.
    result = leader_drift(
        lambda t: np.stack([np.where(t < 0.61, 1.0, 0.2), np.full_like(t, 0.5)], axis=1), 0.0, 1.0, 0.3
    )
    assert result.crossings == (pytest.approx(0.61, abs=1e-9),)


def test_one_none_equal_and_identical_candidates():
    assert leader_drift(lines([1.0], [0.0]), 0.0, 1.0, 0.5).leader_now == 0
    nobody = leader_drift(lambda t: np.zeros((t.size, 0)), 0.0, 1.0, 0.5)
    assert nobody.leader_now == -1
    assert len(nobody.intervals) == 1
    equal = leader_drift(lines([1.0, 1.0], [0.0, 0.0]), 0.0, 1.0, 0.5)
    assert equal.leader_now == 0
    assert equal.crossings == ()


def test_present_setting_on_a_crossing_leaves_no_room_one_way():
    result = leader_drift(lines([-1.0, 1.0], [1.0, 0.0]), 0.0, 1.0, 0.5)
    assert min(result.drift_up, result.drift_down) == pytest.approx(0.0, abs=1e-9)


def test_scale_of_the_knob_does_not_matter():
    small = leader_drift(lines([1.0, 0.0], [0.0, 0.3]), 0.0, 1.0, 0.1)
    large = leader_drift(lambda t: lines([1.0, 0.0], [0.0, 0.3])(t / 1e6), 0.0, 1e6, 1e5)
    assert large.crossings[0] == pytest.approx(1e6 * small.crossings[0], rel=1e-9)


@pytest.mark.parametrize(
    ("low", "high", "present", "points", "text"),
    [
        (1.0, 1.0, 1.0, 10, "is empty"),
        (0.0, 1.0, 2.0, 10, "outside 0 to 1"),
        (0.0, 1.0, 0.5, 1, "Give at least 2"),
    ],
)
def test_impossible_ranges_are_refused_in_words(low, high, present, points, text):
    with pytest.raises(ValueError, match=text):
        leader_drift(lines([1.0], [0.0]), low, high, present, grid_points=points)


def test_scores_of_the_wrong_shape_are_refused_in_words():
    with pytest.raises(ValueError, match="Give \\(settings, candidates\\)"):
        leader_drift(lambda t: t, 0.0, 1.0, 0.5)


def test_a_score_that_pauses_between_two_settings_hands_the_lead_over_where_it_stops():
    # The first falls from 1 and has no score between 0.45 and 0.55; the second rises from 0.
    def pausing(t):
        first = np.where((t > 0.45) & (t < 0.55), np.nan, 1.0 - t)
        return np.stack([first, t], axis=1)

    found = leader_drift(pausing, 0.0, 1.0, 0.2, grid_points=2)
    assert found.crossings == pytest.approx((0.45,), abs=1e-9)
    assert (found.leader_now, found.takes_over_above) == (0, 1)
    assert found.drift_up == pytest.approx(0.25, abs=1e-9)


def test_nobody_leads_until_the_only_score_starts():
    found = leader_drift(lambda t: np.where(t < 0.3, np.nan, 1.0)[:, None], 0.0, 1.0, 0.8, grid_points=2)
    assert [part.leader for part in found.intervals] == [NOBODY, 0]
    assert found.crossings == pytest.approx((0.3,), abs=1e-9)
    assert found.takes_over_below == NOBODY
    assert found.drift_down == pytest.approx(0.5, abs=1e-9)


@pytest.mark.parametrize(("low", "high"), [(-np.inf, 1.0), (0.0, np.inf), (1.0, 1.0), (2.0, 1.0)])
def test_a_range_without_ends_or_width_is_refused(low, high):
    with pytest.raises(ValueError, match=rf"^The range {low:g} to {high:g} is empty"):
        leader_drift(lambda t: t[:, None], low, high, 0.5)


def test_each_way_has_its_own_room_and_its_own_successor():
    result = leader_drift(lines([-1.0, 1.0, 0.0], [1.0, 0.0, 0.55]), 0.0, 1.0, 0.48)
    assert (result.leader_now, result.takes_over_below, result.takes_over_above) == (2, 0, 1)
    assert (result.drift_down, result.drift_up) == (pytest.approx(0.03, abs=1e-9), pytest.approx(0.07, abs=1e-9))


@pytest.mark.parametrize(("slope", "leaders", "down", "up"), [(1.0, [1, 0], 0.0, np.inf), (-1.0, [0, 1], np.inf, 0.0)])
def test_on_a_crossing_the_candidate_listed_first_leads_and_has_no_room_on_one_side(slope, leaders, down, up):
    result = leader_drift(lines([slope, -slope], [0.0, slope]), 0.0, 1.0, 0.5)
    assert [part.leader for part in result.intervals] == leaders
    assert result.leader_now == 0
    assert (result.drift_down, result.drift_up) == (down, up)
    assert (result.takes_over_below, result.takes_over_above) == ((1, NOBODY) if slope > 0 else (NOBODY, 1))


@pytest.mark.parametrize(
    "scores_at",
    [
        # Level at the lower end, at the upper end, and at one setting between.
        lines([-1.0, 1.0], [0.0, 0.0]),
        lines([1.0, -1.0], [-1.0, 1.0]),
        lambda t: np.stack([-np.abs(t - 0.5), 0.0 * t], axis=1),
    ],
)
def test_a_rival_that_only_draws_level_makes_no_stretch_of_its_own(scores_at):
    result = leader_drift(scores_at, 0.0, 1.0, 0.5)
    assert [(part.low, part.high, part.leader) for part in result.intervals] == [(0.0, 1.0, 1)]
    assert result.crossings == ()
    assert (result.drift_down, result.drift_up) == (np.inf, np.inf)


@pytest.mark.parametrize("step", [0.2965203989049717, 1.2, 3.6928630609428477, 5.1, 9.97])
@pytest.mark.parametrize("gain", [0.03, 0.5])
def test_the_lead_changes_at_the_step_itself_on_whichever_side_the_search_ends(step, gain):
    def scores_at(t):
        return np.stack([0.6 - 0.01 * t, 0.5 + gain * (t > step) + 0.08 * (t > step)], axis=1)

    assert leader_drift(scores_at, 0.0, 10.0, 0.0).crossings == (pytest.approx(step, abs=1e-9),)
    falling = leader_drift(lambda t: scores_at(10.0 - t), 0.0, 10.0, 0.0)
    assert falling.crossings == (pytest.approx(10.0 - step, abs=1e-9),)
