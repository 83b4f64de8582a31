"""Dominance and potential optimality: every claim is checked by its own witness."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.acceptability_exact import exact_first_rank
from model.dominance import dominance_matrix, potential_optimality
from model.weight_sets import AllWeights


def test_dominance_needs_nowhere_worse_and_somewhere_better():
    values = np.array([[1.0, 1.0], [1.0, 0.5], [0.5, 1.0], [1.0, 1.0]])
    expected = np.zeros((4, 4), dtype=bool)
    expected[0, [1, 2]] = expected[3, [1, 2]] = True
    np.testing.assert_array_equal(dominance_matrix(values), expected)


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000), st.integers(2, 8), st.integers(1, 6), st.booleans())
def test_witness_and_mixture_prove_the_margin(seed, candidates, criteria, coarse):
    values = np.random.default_rng(seed).random((candidates, criteria))
    if coarse:
        values = np.round(values * 2.0) / 2.0
    result = potential_optimality(values)
    for r in range(candidates):
        others = np.delete(values, r, axis=0)
        witness = result.witness_weights[r]
        assert witness.min() >= -1e-9
        assert witness.sum() == pytest.approx(1.0)
        lead = values[r] @ witness - (others @ witness).max()
        assert lead == pytest.approx(result.margin[r], abs=1e-7)
        # Duality: the mixture shows that no weights give a larger lead.
        mixture = result.blocking_mixture[r]
        assert mixture.min() >= -1e-9
        assert mixture[r] == 0.0
        assert mixture.sum() == pytest.approx(1.0, abs=1e-7)
        assert (values[r] - mixture @ values).max() <= result.margin[r] + 1e-7


@pytest.mark.parametrize("seed", range(5))
def test_potentially_first_is_the_same_as_a_positive_exact_share(seed):
    values = np.random.default_rng(seed).random((12, 5))
    share = exact_first_rank(values, AllWeights()).first_share
    np.testing.assert_array_equal(potential_optimality(values).potentially_first, share > 0.0)


def test_a_compromise_beaten_by_a_mixture_is_never_first_though_nobody_dominates_it():
    values = np.array([[1.0, 0.0], [0.0, 1.0], [0.4, 0.4]])
    assert not dominance_matrix(values)[:, 2].any()
    result = potential_optimality(values)
    assert result.potentially_first.tolist() == [True, True, False]
    assert result.margin[2] == pytest.approx(-0.1)
    np.testing.assert_allclose(result.blocking_mixture[2], [0.5, 0.5, 0.0], atol=1e-9)


def test_scale_of_values_does_not_matter():
    values = np.random.default_rng(3).random((6, 4))
    small = potential_optimality(values * 1e-6)
    large = potential_optimality(values)
    np.testing.assert_array_equal(small.potentially_first, large.potentially_first)
    np.testing.assert_allclose(small.margin, large.margin * 1e-6, rtol=1e-5)


def test_one_candidate_none_and_equal_ones_are_all_potentially_first():
    alone = potential_optimality(np.array([[0.1, 0.2]]))
    assert alone.potentially_first.tolist() == [True]
    assert alone.potentially_first.dtype == np.bool_
    # It leads nobody, so its lead has no end; any weights bear witness.
    assert alone.margin.tolist() == [np.inf]
    assert alone.witness_weights.tolist() == [[0.5, 0.5]]
    assert alone.blocking_mixture.tolist() == [[0.0]]
    assert potential_optimality(np.zeros((0, 2))).potentially_first.size == 0
    equal = potential_optimality(np.full((3, 2), 0.5))
    assert equal.potentially_first.all()
    np.testing.assert_allclose(equal.margin, 0.0, atol=1e-9)
    assert not dominance_matrix(np.full((3, 2), 0.5)).any()
    assert dominance_matrix(np.zeros((0, 2))).shape == (0, 0)


def test_values_of_the_wrong_shape_are_refused_in_words():
    for values in (np.ones(3), np.ones((3, 0)), np.array([[0.1, np.nan], [0.2, 0.3]])):
        with pytest.raises(ValueError, match="Give finite values"):
            potential_optimality(values)
