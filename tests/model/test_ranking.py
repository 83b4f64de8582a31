"""The additive ranking: ties, ruled-out candidates, relabelling, and tables with nothing in them."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from model.ranking import Ranking, checked_weights, competition_ranks, rank, scores_over_draws
from model.weights import direct_weights

Table = tuple[NDArray[np.float64], NDArray[np.float64]]


@st.composite
def tables(draw: st.DrawFn, min_candidates: int = 1) -> Table:
    """Values on a coarse grid, so that ties and clones happen, and weights that may be zero."""
    candidates = draw(st.integers(min_candidates, 8))
    criteria = draw(st.integers(1, 7))
    row = st.lists(st.integers(0, 8).map(lambda k: k / 8.0), min_size=criteria, max_size=criteria)
    values = draw(st.lists(row, min_size=candidates, max_size=candidates))
    ratings = draw(st.lists(st.integers(0, 10), min_size=criteria, max_size=criteria).filter(any))
    return np.array(values), direct_weights(np.array(ratings, dtype=float))


def by_candidate(ranking: Ranking) -> dict[int, tuple[int, float, tuple[float, ...]]]:
    rows = zip(ranking.order, ranking.ranks, ranking.scores, ranking.contributions, strict=True)
    return {candidate: (place, score, parts) for candidate, place, score, parts in rows}


def test_scores_are_the_weighted_sums_and_contributions_add_up_to_them() -> None:
    ranking = rank([[1.0, 0.0, 0.5], [0.25, 1.0, 1.0]], [0.5, 0.25, 0.25])
    assert ranking.order == (0, 1)
    assert ranking.scores == (0.625, 0.625)
    assert ranking.contributions == ((0.5, 0.0, 0.125), (0.125, 0.25, 0.25))
    assert ranking.ranks == (1, 1)


def test_order_runs_from_the_best_score_to_the_worst() -> None:
    ranking = rank([[0.1], [0.9], [0.5]], [1.0])
    assert ranking.order == (1, 2, 0)
    assert ranking.ranks == (1, 2, 3)
    assert [ranking.rank_of(candidate) for candidate in range(3)] == [3, 1, 2]
    assert ranking.score_of(2) == 0.5


def test_tied_candidates_share_the_rank_and_the_next_one_skips() -> None:
    ranking = rank([[0.5, 0.5], [1.0, 0.0], [0.2, 0.2], [0.0, 1.0]], [0.5, 0.5])
    assert ranking.order == (0, 1, 3, 2)
    assert ranking.ranks == (1, 1, 1, 4)
    assert ranking.groups == ((0, 1, 3), (2,))


def test_scores_within_1e_12_tie_and_keep_the_table_order() -> None:
    assert competition_ranks([0.5, 0.5 + 9e-13]) == ((0, 1), (1, 1))
    assert competition_ranks([0.5, 0.5 + 2e-12]) == ((1, 0), (1, 2))


def test_a_chain_of_near_equal_scores_does_not_drift_into_one_group() -> None:
    order, ranks = competition_ranks([0.5 + step * 8e-13 for step in range(4)])
    assert order == (2, 3, 0, 1)
    assert ranks == (1, 1, 3, 3)


def test_a_ruled_out_candidate_never_appears_and_may_hold_nan() -> None:
    ranking = rank([[0.2], [np.nan], [0.7]], [1.0], excluded=[False, True, False])
    assert ranking.order == (2, 0)
    assert ranking.ruled_out == (1,)
    assert ranking.rank_of(1) is None
    assert ranking.score_of(1) is None
    assert len(ranking.scores) == len(ranking.contributions) == len(ranking.ranks) == 2


def test_all_candidates_ruled_out_give_an_empty_ranking() -> None:
    ranking = rank([[0.2], [0.4]], [1.0], excluded=[True, True])
    assert ranking.order == ranking.ranks == ranking.scores == ranking.groups == ()
    assert ranking.ruled_out == (0, 1)


@pytest.mark.parametrize("values", [[], np.zeros((0, 2)), np.zeros((0, 0))])
def test_no_candidates_give_an_empty_ranking(values: object) -> None:
    ranking = rank(values, [0.5, 0.5])  # type: ignore[arg-type]
    assert ranking == Ranking(order=(), ranks=(), scores=(), contributions=(), ruled_out=())


def test_one_candidate_ranks_first_whatever_its_values() -> None:
    assert rank([[0.0, 0.0]], [0.5, 0.5]).ranks == (1,)


def test_a_weight_of_1_ranks_by_that_criterion_alone() -> None:
    assert rank([[0.1, 1.0], [0.2, 0.0]], [1.0, 0.0]).order == (1, 0)
    assert rank([[0.1, 1.0], [0.2, 0.0]], [0.0, 1.0]).order == (0, 1)


def test_all_equal_candidates_share_rank_1() -> None:
    assert rank(np.full((5, 3), 0.3), [0.2, 0.3, 0.5]).ranks == (1,) * 5


@settings(deadline=None, max_examples=50)
@given(tables(), st.data())
def test_reordering_candidates_reorders_the_result_exactly(table: Table, data: st.DataObject) -> None:
    values, weights = table
    new_order = data.draw(st.permutations(range(len(values))))
    before, after = by_candidate(rank(values, weights)), by_candidate(rank(values[new_order], weights))
    assert {new_order[row]: found for row, found in after.items()} == before


@settings(deadline=None, max_examples=50)
@given(tables(), st.data())
def test_reordering_criteria_changes_no_score_and_no_rank(table: Table, data: st.DataObject) -> None:
    values, weights = table
    new_order = data.draw(st.permutations(range(len(weights))))
    before, after = rank(values, weights), rank(values[:, new_order], weights[new_order])
    assert (after.order, after.ranks, after.scores) == (before.order, before.ranks, before.scores)
    assert after.contributions == tuple(tuple(row[j] for j in new_order) for row in before.contributions)


@settings(deadline=None, max_examples=50)
@given(tables(min_candidates=2), st.floats(0.0, 1.0), st.data())
def test_adding_a_dominated_candidate_does_not_alter_the_others(
    table: Table, factor: float, data: st.DataObject
) -> None:
    values, weights = table
    dominator = data.draw(st.integers(0, len(values) - 1))
    before = rank(values, weights)
    after = rank(np.vstack([values, values[dominator] * factor]), weights)
    others = tuple(candidate for candidate in after.order if candidate != len(values))
    assert others == before.order
    assert all(after.score_of(candidate) == before.score_of(candidate) for candidate in others)
    added = after.rank_of(len(values))
    assert added is not None
    assert added >= (after.rank_of(dominator) or 0)


@settings(deadline=None, max_examples=50)
@given(tables(min_candidates=2), st.data())
def test_an_identical_candidate_ties_with_its_twin(table: Table, data: st.DataObject) -> None:
    values, weights = table
    twin = data.draw(st.integers(0, len(values) - 1))
    ranking = rank(np.vstack([values, values[twin]]), weights)
    assert ranking.rank_of(twin) == ranking.rank_of(len(values))
    assert ranking.score_of(twin) == ranking.score_of(len(values))


@settings(deadline=None, max_examples=50)
@given(tables(min_candidates=2), st.data())
def test_ruling_out_equals_removing_the_row(table: Table, data: st.DataObject) -> None:
    values, weights = table
    excluded = np.array(data.draw(st.lists(st.booleans(), min_size=len(values), max_size=len(values))))
    kept = np.flatnonzero(~excluded)
    masked, removed = rank(values, weights, excluded), rank(values[kept], weights)
    assert masked.order == tuple(int(kept[row]) for row in removed.order)
    assert (masked.ranks, masked.scores) == (removed.ranks, removed.scores)


@settings(deadline=None, max_examples=50)
@given(tables(), st.data())
def test_raising_one_value_never_lowers_the_rank(table: Table, data: st.DataObject) -> None:
    values, weights = table
    candidate = data.draw(st.integers(0, len(values) - 1))
    criterion = data.draw(st.integers(0, len(weights) - 1))
    better = values.copy()
    better[candidate, criterion] = 1.0
    before, after = rank(values, weights).rank_of(candidate), rank(better, weights).rank_of(candidate)
    assert before is not None
    assert after is not None
    assert after <= before


@pytest.mark.parametrize(
    ("values", "weights", "excluded", "message"),
    [
        ([[0.5, 0.5]], [1.0], None, "1 weights for 2 criteria"),
        ([[0.5, 0.5]], [0.5, 0.6], None, "sum to 1.1; they must sum to 1"),
        ([[0.5, 0.5]], [1.5, -0.5], None, "not negative"),
        ([[0.5, 0.5]], [np.nan, 1.0], None, "finite"),
        ([[0.5, 1.5]], [0.5, 0.5], None, "within 0 to 1"),
        ([[0.5, np.nan]], [0.5, 0.5], None, "within 0 to 1"),
        ([0.5, 0.5], [0.5, 0.5], None, "candidates in rows"),
        ([[0.5, 0.5]], [0.5, 0.5], [True, False], "true or false for each of 1 candidates"),
        ([[0.5, 0.5]], [0.5, 0.5], [1], "true or false for each of 1 candidates"),
        (np.zeros((3, 0)), [], None, "must sum to 1"),
    ],
)
def test_tables_that_cannot_be_ranked_are_refused(
    values: object, weights: object, excluded: object, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        rank(values, weights, excluded)  # type: ignore[arg-type]


def test_checked_weights_accepts_rounding_of_normalised_weights() -> None:
    assert checked_weights([1 / 3, 1 / 3, 1 / 3 + 1e-12], 3).sum() == pytest.approx(1.0, abs=1e-11)


@settings(deadline=None, max_examples=50)
@given(tables(), st.integers(1, 5), st.integers(0, 2**32 - 1))
def test_scores_over_draws_agree_with_ranking_each_draw(table: Table, draws: int, seed: int) -> None:
    values, _ = table
    random = np.random.default_rng(seed)
    drawn_values = random.random((draws, *values.shape))
    drawn_weights = random.dirichlet(np.ones(values.shape[1]), size=draws)
    scores = scores_over_draws(drawn_values, drawn_weights)
    for draw, candidate in itertools.product(range(draws), range(len(values))):
        expected = rank(drawn_values[draw], direct_weights(drawn_weights[draw])).score_of(candidate)
        assert scores[draw, candidate] == pytest.approx(expected, abs=1e-12)


def test_scores_over_draws_accepts_one_table_or_one_set_of_weights() -> None:
    values = np.array([[1.0, 0.0], [0.0, 1.0]])
    weights = np.array([[1.0, 0.0], [0.25, 0.75], [0.5, 0.5]])
    assert scores_over_draws(values, weights).tolist() == [[1.0, 0.0], [0.25, 0.75], [0.5, 0.5]]
    both = np.stack([values, values[::-1]])
    assert scores_over_draws(both, [0.25, 0.75]).tolist() == [[0.25, 0.75], [0.75, 0.25]]
    assert scores_over_draws(values, [1.0, 0.0]).tolist() == [[1.0, 0.0]]


def test_scores_over_draws_of_no_candidates_or_no_draws_are_empty() -> None:
    assert scores_over_draws(np.zeros((4, 0, 2)), [0.5, 0.5]).shape == (4, 0)
    assert scores_over_draws(np.zeros((0, 3, 2)), [0.5, 0.5]).shape == (0, 3)


def test_identical_candidates_score_bit_identically_in_every_draw() -> None:
    random = np.random.default_rng(7)
    values = random.random((1000, 5, 7))
    values[:, 4] = values[:, 1]
    scores = scores_over_draws(values, random.dirichlet(np.ones(7), size=1000))
    assert (scores[:, 4] == scores[:, 1]).all()


@pytest.mark.parametrize(
    ("value_shape", "weights", "message"),
    [
        ((2, 3, 2), [1.0], "1 weights for 2 criteria"),
        ((2, 3, 1), [[1.0]] * 3, "2 draws of values but 3 draws of weights"),
        ((2, 3, 2), [0.5, 0.6], "each draw of weights must sum to 1"),
        ((2, 3, 2), [1.5, -0.5], "must not be negative"),
        ((2, 3, 2), [np.nan, 1.0], "must sum to 1"),
        ((3,), [1.0], r"\(draws, candidates, criteria\)"),
    ],
)
def test_draws_that_do_not_fit_are_refused(
    value_shape: tuple[int, ...], weights: object, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        scores_over_draws(np.zeros(value_shape), weights)  # type: ignore[arg-type]


def test_a_mask_for_an_empty_table_must_be_empty_too() -> None:
    assert rank(np.zeros((0, 2)), [0.5, 0.5], excluded=[]).order == ()
    with pytest.raises(ValueError, match="true or false for each of 0 candidates"):
        rank(np.zeros((0, 2)), [0.5, 0.5], excluded=[True])
