"""Robustness analyses against exact geometry, closed forms and other libraries."""

from __future__ import annotations

import numpy as np
import pytest
from SALib.analyze import sobol as salib_sobol
from SALib.sample import sobol as salib_sample
from scipy.stats import norm, qmc, sobol_indices, uniform

from model.acceptability import sample_acceptability
from model.acceptability_exact import exact_first_rank, exact_pairwise_win_share
from model.sensitivity import _indices, first_order_from_draws, sobol_sensitivity
from model.value_of_information import value_of_information
from model.weight_sets import AllWeights, OrderedWeights, draw_weights
from model.weight_stability import weight_intervals


def polygon_share(difference):
    """Share of the triangle of weights with difference·w > 0, by clipping and the shoelace formula."""
    corners = [np.array(c, dtype=float) for c in ((0, 0), (1, 0), (0, 1))]

    def gain(corner):
        return corner @ difference[:2] + (1.0 - corner.sum()) * difference[2]

    kept = []
    for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
        a, b = gain(start), gain(end)
        if a > 0.0:
            kept.append(start)
        if (a > 0.0) != (b > 0.0):
            kept.append(start + (end - start) * a / (a - b))
    if len(kept) < 3:
        return 0.0
    x, y = np.array(kept).T
    return 2.0 * 0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1))


@pytest.mark.parametrize("seed", range(4))
def test_half_space_share_is_the_area_of_the_clipped_triangle(seed):
    # N: exact geometry; against 1e6 draws within 3 standard errors.
    values = np.random.default_rng(seed).random((2, 3))
    area = polygon_share(values[0] - values[1])
    assert exact_first_rank(values, AllWeights()).first_share[0] == pytest.approx(area, abs=1e-9)
    assert exact_pairwise_win_share(values)[0, 1] == pytest.approx(area, abs=1e-12)
    sampled = sample_acceptability(values, AllWeights(), draws=1_000_000, seed=seed)
    assert abs(sampled.rank_share[0, 0] - area) <= 3.0 * sampled.standard_error[0, 0]


def test_pair_volumes_and_central_weights():
    # N: exact. (1, ½, −1) wins on 2/3; (1, −1, −2) on 1/6 with central weights (13/18, 1/6, 1/9).
    first = np.array([[1.0, 0.5, -1.0], [0.0, 0.0, 0.0]])
    assert exact_pairwise_win_share(first)[0, 1] == pytest.approx(2.0 / 3.0, abs=1e-14)
    second = np.array([[1.0, -1.0, -2.0], [0.0, 0.0, 0.0]])
    assert exact_pairwise_win_share(second)[0, 1] == pytest.approx(1.0 / 6.0, abs=1e-14)
    exact = exact_first_rank(second, AllWeights())
    assert exact.first_share[0] == pytest.approx(1.0 / 6.0, abs=1e-9)
    np.testing.assert_allclose(exact.central_weights[0], [13.0 / 18.0, 1.0 / 6.0, 1.0 / 9.0], atol=1e-9)
    sampled = sample_acceptability(second, AllWeights(), draws=400_000)
    np.testing.assert_allclose(sampled.central_weights[0], [13.0 / 18.0, 1.0 / 6.0, 1.0 / 9.0], atol=0.001)


def test_dirichlet_draws_have_the_exact_moments():
    # N: Dirichlet(1⁷): variance 6/392, P(w₁ > .3) = .7⁶ = .117649, E max = (1 + ½ + … + 1/7)/7 = .370408.
    draws = 1_000_000
    weights = draw_weights(AllWeights(), 7, draws, np.random.default_rng(1)).astype(float)
    np.testing.assert_allclose(weights.mean(axis=1), 1.0 / 7.0, atol=5e-4)
    np.testing.assert_allclose(weights.var(axis=1), 6.0 / 392.0, rtol=0.01)
    error = np.sqrt(0.117649 * 0.882351 / draws)
    assert abs(np.mean(weights[0] > 0.3) - 0.117649) <= 3.5 * error
    assert weights.max(axis=0).mean() == pytest.approx(0.370408, rel=1e-3)


def test_identity_table_gives_equal_shares_and_the_known_central_weights():
    # N: exact. Seven candidates, each best on one of seven criteria.
    exact = exact_first_rank(np.eye(7), AllWeights())
    np.testing.assert_allclose(exact.first_share, 1.0 / 7.0, atol=1e-9)
    expected = np.full((7, 7), 0.104932)
    np.fill_diagonal(expected, 0.370408)
    np.testing.assert_allclose(exact.central_weights, expected, atol=1e-6)
    sampled = sample_acceptability(np.eye(7), AllWeights(), draws=400_000)
    np.testing.assert_allclose(sampled.rank_share, 1.0 / 7.0, atol=4.0 * sampled.standard_error.max())
    np.testing.assert_allclose(sampled.central_weights, expected, atol=0.002)


def test_centroid_of_a_declared_order_is_the_rank_order_centroid():
    # N: Barron & Barrett 1996, n = 3 and 4. One candidate is always first: its central weights are the
    # centroid.
    for expected in ([0.6111, 0.2778, 0.1111], [0.5208, 0.2708, 0.1458, 0.0625]):
        count = len(expected)
        order = OrderedWeights(importance_rank=tuple(range(1, count + 1)))
        exact = exact_first_rank(np.ones((1, count)), order)
        np.testing.assert_allclose(exact.central_weights[0], expected, atol=5e-5)


# M: table and weights of the worked example of Triantaphyllou & Sánchez 1997, Decision Sciences 28(1), from
# memory.
PRIORITIES = np.array(
    [
        [0.3088, 0.2897, 0.3867, 0.1922],
        [0.2163, 0.3458, 0.1755, 0.6288],
        [0.4509, 0.2473, 0.1194, 0.0575],
        [0.0240, 0.1172, 0.3184, 0.1215],
    ]
)
IMPORTANCE = np.array([0.3277, 0.3058, 0.2876, 0.0790])


def critical_change(i, j, k):
    """Change of weight k, before the weights are divided by their sum, that brings i and j level."""
    scores = PRIORITIES @ IMPORTANCE
    return (scores[j] - scores[i]) / (PRIORITIES[j, k] - PRIORITIES[i, k])


def test_most_critical_weight_of_the_remembered_example():
    # M: relative changes of the first two alternatives, per cent, from memory; .5 % for the table's rounding.
    weights = IMPORTANCE / IMPORTANCE.sum()
    np.testing.assert_allclose(weights, IMPORTANCE, atol=2e-4)
    changes = [100.0 * critical_change(0, 1, k) / IMPORTANCE[k] for k in (1, 2, 3)]
    np.testing.assert_allclose(changes, [-229.7, 64.8, -114.1], rtol=0.005)


@pytest.mark.parametrize("k", range(4))
def test_weight_interval_ends_where_the_closed_form_change_brings_two_level(k):
    # N: weight w_k − δ, all divided by 1 − δ, is the same path as w_k → t with the others in proportion.
    weights = IMPORTANCE / IMPORTANCE.sum()
    scores = PRIORITIES @ weights
    ends = []
    for j in (1, 2, 3):
        delta = (scores[j] - scores[0]) / (PRIORITIES[j, k] - PRIORITIES[0, k])
        t = (weights[k] - delta) / (1.0 - delta)
        if delta < 1.0 and 0.0 < t < 1.0:
            ends.append(t)
    result = weight_intervals(PRIORITIES, weights)
    assert result.leader == 0
    below = [t for t in ends if t < weights[k]]
    above = [t for t in ends if t > weights[k]]
    assert result.low[k] == pytest.approx(max(below, default=0.0), abs=1e-12)
    assert result.high[k] == pytest.approx(min(above, default=1.0), abs=1e-12)


def ishigami(x):
    return np.sin(x[0]) + 7.0 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])


ISHIGAMI_INPUTS = [uniform(-np.pi, 2.0 * np.pi)] * 3


def test_sobol_indices_of_the_ishigami_function_in_closed_form():
    # L: Ishigami & Homma 1990, a 7, b .1: S1 .3139 .4424 0; ST .5576 .4424 .2437.
    # At N 32768 the estimates scatter by 1e-4 between seeds; at 8192 still by .004.
    result = sobol_sensitivity(ishigami, ISHIGAMI_INPUTS, samples=32768)
    np.testing.assert_allclose(result.first_order, [0.3139, 0.4424, 0.0], atol=0.001)
    np.testing.assert_allclose(result.total, [0.5576, 0.4424, 0.2437], atol=0.001)
    assert np.all(result.total_low < [0.5576, 0.4424, 0.2437])
    assert np.all(result.total_high > [0.5576, 0.4424, 0.2437])


def test_sobol_indices_agree_with_scipy_on_its_own_sample():
    # L: live; same estimator, other random numbers.
    ours = sobol_sensitivity(ishigami, ISHIGAMI_INPUTS, samples=32768)
    theirs = sobol_indices(func=ishigami, n=32768, dists=ISHIGAMI_INPUTS, rng=np.random.default_rng(9))
    np.testing.assert_allclose(ours.first_order, theirs.first_order, atol=0.001)
    np.testing.assert_allclose(ours.total, theirs.total_order, atol=0.001)


def test_plain_estimator_behind_the_intervals_agrees_with_scipy():
    # L: N 4096, 12 inputs, same evaluations: 1e-3.
    def function(x):
        return np.sum(np.arange(1, 13)[:, None] * x, axis=0) + 5.0 * x[0] * x[1]

    generator = np.random.default_rng(3)
    first, second = generator.random((12, 4096)), generator.random((12, 4096))
    mixed = np.stack([function(np.where(np.arange(12)[:, None] == i, second, first)) for i in range(12)])
    a, b = function(first), function(second)
    centre = 0.5 * (a.mean() + b.mean())
    plain = _indices(np.full((1, 4096), 1.0 / 4096), a - centre, b - centre, mixed - centre)
    theirs = sobol_indices(func={"f_A": a[None], "f_B": b[None], "f_AB": mixed[:, None]}, n=4096)
    np.testing.assert_allclose(plain[0][0], theirs.first_order, atol=1e-3)
    np.testing.assert_allclose(plain[1][0], theirs.total_order, atol=1e-3)


def test_sobol_indices_agree_with_salib():
    # L: live.
    problem = {"num_vars": 3, "names": ["a", "b", "c"], "bounds": [[-np.pi, np.pi]] * 3}
    sample = salib_sample.sample(problem, 16384, calc_second_order=False, seed=3)
    theirs = salib_sobol.analyze(
        problem, ishigami(sample.T), calc_second_order=False, num_resamples=10, print_to_console=False, seed=3
    )
    ours = sobol_sensitivity(ishigami, ISHIGAMI_INPUTS, samples=32768)
    np.testing.assert_allclose(ours.first_order, theirs["S1"], atol=0.005)
    np.testing.assert_allclose(ours.total, theirs["ST"], atol=0.005)


def test_first_order_indices_from_given_draws_match_the_ishigami_closed_form():
    draws = (np.random.default_rng(2).random((20_000, 3)) - 0.5) * 2.0 * np.pi
    result = first_order_from_draws(draws, ishigami(draws.T))
    assert np.all(np.abs(result.first_order - [0.3139, 0.4424, 0.0]) <= 4.0 * result.standard_error + 0.005)


def even_normals(inputs, power):
    """Normal draws spread evenly: scrambled Sobol points through the quantile function."""
    return norm.ppf(qmc.Sobol(inputs, rng=np.random.default_rng(5)).random_base2(power))


@pytest.mark.parametrize(("ratio", "loss"), [(0.0, 0.39894), (1.0, 0.08332)])
def test_value_of_perfect_information_is_the_unit_normal_loss(ratio, loss):
    # N: two actions, gain normal with mean m, sd s: EVPI = s·L(|m|/s). Decision theory textbooks.
    deviation = 7.0
    gain = deviation * (even_normals(1, 14) - ratio)
    result = value_of_information(np.hstack([np.zeros_like(gain), gain]), gain)
    assert result.perfect == pytest.approx(deviation * loss, rel=2e-3)
    # The only input decides everything: knowing it is perfect knowledge.
    assert result.partial[0] == pytest.approx(deviation * loss, rel=5e-3)


def test_partial_value_of_information_of_a_normal_gain():
    # N: gain N(−20, 30² + 40²): EVPI 50·L(.4) = 11.52194; partial 30·L(2/3) = 4.53359 and 40·L(½) = 7.91186.
    # Tolerance 2 %: regression on 65536 evenly spread draws.
    draws = even_normals(3, 16)
    gain = -20.0 + 30.0 * draws[:, 0] + 40.0 * draws[:, 1]
    result = value_of_information(np.column_stack([np.zeros_like(gain), gain]), draws)
    assert result.perfect == pytest.approx(11.52194, rel=2e-3)
    np.testing.assert_allclose(result.partial[:2], [4.53359, 7.91186], rtol=0.02)
    assert result.partial[2] == pytest.approx(0.0, abs=0.02)
