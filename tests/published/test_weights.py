"""Weights against published examples and a general decision library."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from pymcdm.weights.subjective import AHP

from model.ranking import rank
from model.weights import RANDOM_INDEX, pairwise_weights, rank_order_centroid, swing_weights


@pytest.mark.parametrize(
    ("count", "expected"), [(3, (0.6111, 0.2778, 0.1111)), (4, (0.5208, 0.2708, 0.1458, 0.0625))]
)
def test_rank_order_centroid_of_three_and_four(count: int, expected: tuple[float, ...]) -> None:
    # N: Barron & Barrett 1996 formula; figures printed to four decimals, hence 5e-5.
    assert rank_order_centroid(np.arange(1, count + 1)) == pytest.approx(expected, abs=5e-5)


def test_random_index_is_saatys_1980_table() -> None:
    # M: Saaty 1980, from memory, as widely reprinted for n = 3 to 9.
    assert [RANDOM_INDEX[n] for n in range(3, 10)] == [0.58, 0.90, 1.12, 1.24, 1.32, 1.41, 1.45]


def test_random_index_lies_within_2_percent_of_a_later_table() -> None:
    # L: Rao Tummala & Ling 1998, as stored in pymcdm; a different sample of random matrices for n = 3 to 15,
    # where 11 to 15 differ by up to 4 % (Saaty's index falls from n = 11 to 12, the later one does not).
    for count, index in RANDOM_INDEX.items():
        assert index == pytest.approx(AHP.RI_M[count - 1], rel=0.02 if count <= 10 else 0.04)


def test_swing_weights_of_the_office_location_example() -> None:
    # P: Goodwin & Wright, Decision Analysis for Management Judgment, Figure 3.5; printed to whole percent.
    weights = swing_weights([100, 80, 70, 30, 20, 10])
    assert weights * 100 == pytest.approx([32, 26, 23, 10, 6, 3], abs=0.5)


def test_best_office_of_the_example_has_80_8_points() -> None:
    # P: Goodwin & Wright, chapter 3: values 100 60 100 75 0 90 with the weights rounded to whole percent
    # give 80.8. Unrounded the same sum is 24950/310 = 80.48, so the rounding is part of the printed figure.
    values = np.array([[100, 60, 100, 75, 0, 90]]) / 100
    rounded = swing_weights([100, 80, 70, 30, 20, 10]).round(2)
    assert rank(values, rounded).scores[0] * 100 == pytest.approx(80.8, abs=1e-9)
    unrounded = rank(values, swing_weights([100, 80, 70, 30, 20, 10])).scores[0]
    assert unrounded * 100 == pytest.approx(24950 / 310, abs=1e-9)


EXAMPLE = np.array([[1, 3, 5], [1 / 3, 1, 3], [1 / 5, 1 / 3, 1]])


def test_pairwise_example() -> None:
    # N: geometric means and Saaty's consistency ratio with his 1980 random index 0.58 for n = 3.
    result = pairwise_weights(EXAMPLE)
    assert result.weights == pytest.approx((0.63699, 0.25828, 0.10473), abs=5e-6)
    assert result.principal_eigenvalue == pytest.approx(3.038511, abs=5e-7)
    assert result.consistency_ratio == pytest.approx(0.0332, abs=5e-5)
    assert "Saaty 1980" in result.random_index_table
    assert result.worst_triad is not None
    assert (result.worst_triad.stated_ratio, result.worst_triad.implied_ratio) == pytest.approx((5.0, 9.0))


@pytest.mark.parametrize("seed", range(5))
def test_three_pairwise_judgements_agree_with_pymcdm(seed: int) -> None:
    # L: live. pymcdm takes the principal eigenvector, which for n = 3 equals the geometric mean exactly.
    a, b, c = np.random.default_rng(seed).choice([1 / 9, 1 / 5, 1 / 3, 1 / 2, 1, 2, 3, 5, 9], size=3)
    matrix = EXAMPLE if seed == 0 else np.array([[1, a, b], [1 / a, 1, c], [1 / b, 1 / c, 1]])
    peer = AHP(matrix=matrix)
    result = pairwise_weights(matrix)
    assert result.weights == pytest.approx(peer(), abs=1e-9)
    # Its random index for n = 3 is 0.5799 (Rao Tummala & Ling 1998) where ours is 0.58.
    assert result.consistency_ratio == pytest.approx(peer.get_cr() * AHP.RI_M[2] / 0.58, abs=1e-9)


def test_larger_consistency_ratio_agrees_with_pymcdm_up_to_the_random_index() -> None:
    # L: live, 7 criteria with judgements on the 1 to 9 scale (all that pymcdm accepts).
    random = np.random.default_rng(11)
    matrix = np.ones((7, 7))
    for i, j in itertools.combinations(range(7), 2):
        matrix[i, j] = random.choice([1 / 3, 1 / 2, 1, 2, 3, 5, 7])
        matrix[j, i] = 1.0 / matrix[i, j]
    expected = AHP(matrix=matrix).get_cr() * AHP.RI_M[6] / RANDOM_INDEX[7]
    assert pairwise_weights(matrix).consistency_ratio == pytest.approx(expected, abs=1e-9)
