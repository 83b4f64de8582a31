"""Sensitivity: known answers for linear and additive functions, no effect from noise, ties and constants."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import f_oneway, norm, sobol_indices, uniform

from model.sensitivity import (
    CORRELATION_STATEMENT,
    first_order_from_draws,
    sobol_sensitivity,
    tornado_from_draws,
)


def draws_of(seed, count, inputs):
    return np.random.default_rng(seed).random((count, inputs))


def test_sobol_indices_of_a_sum_are_the_shares_of_its_variance():
    result = sobol_sensitivity(lambda x: 3.0 * x[0] + 4.0 * x[1], [norm(), norm(), norm()], samples=2048)
    np.testing.assert_allclose(result.first_order, [0.36, 0.64, 0.0], atol=0.01)
    np.testing.assert_allclose(result.total, [0.36, 0.64, 0.0], atol=0.01)
    assert np.all(result.first_order_low <= result.first_order + 1e-12)
    assert np.all(result.first_order_high >= result.first_order - 1e-12)


def test_sobol_totals_of_a_pure_interaction_exceed_the_first_order():
    result = sobol_sensitivity(lambda x: x[0] * x[1], [uniform(-1, 2), uniform(-1, 2)], samples=2048)
    np.testing.assert_allclose(result.first_order, 0.0, atol=0.03)
    np.testing.assert_allclose(result.total, 1.0, atol=0.05)


def test_a_single_input_explains_all_alone():
    result = sobol_sensitivity(lambda x: 2.0 * x[0] + 3.0, [uniform()], samples=1024)
    np.testing.assert_allclose(result.first_order, [1.0], atol=0.01)
    np.testing.assert_allclose(result.total, [1.0], atol=0.01)
    assert result.evaluations == 3 * 1024


def test_sobol_indices_of_a_constant_are_zero():
    result = sobol_sensitivity(lambda x: np.full(x.shape[1], 5.0), [norm(), norm()])
    np.testing.assert_array_equal(result.total, 0.0)


@pytest.mark.parametrize(
    ("function", "distributions", "samples", "text"),
    [
        (lambda x: x[0], [norm()], 1000, "power of 2"),
        (lambda x: x[0], [], 1024, "at least one input"),
        (lambda x: x[0] * np.nan, [norm()], 64, "not finite"),
    ],
)
def test_sobol_refuses_what_it_cannot_do(function, distributions, samples, text):
    with pytest.raises(ValueError, match=text):
        sobol_sensitivity(function, distributions, samples=samples)


def test_first_order_from_draws_recovers_the_shares_of_a_sum():
    inputs = draws_of(1, 4000, 3)
    output = 3.0 * inputs[:, 0] + 4.0 * inputs[:, 1]
    result = first_order_from_draws(inputs, output)
    np.testing.assert_allclose(result.first_order, [0.36, 0.64, 0.0], atol=0.03)
    assert np.all(result.standard_error < 0.02)


def test_first_order_from_draws_agrees_with_the_sobol_estimator_on_a_bent_function():
    def function(x):
        return np.sin(3.0 * x[0]) + x[1] ** 2 * (1.0 + x[2])

    inputs = draws_of(2, 20_000, 3)
    given_data = first_order_from_draws(inputs, function(inputs.T))
    designed = sobol_sensitivity(function, [uniform()] * 3, samples=4096)
    np.testing.assert_allclose(given_data.first_order, designed.first_order, atol=0.02)


def test_noise_inputs_average_to_zero_after_the_bias_correction():
    estimates = [
        first_order_from_draws(draws_of(s, 512, 10), np.random.default_rng(s + 999).standard_normal(512))
        for s in range(20)
    ]
    first = np.concatenate([e.first_order for e in estimates])
    errors = np.concatenate([e.standard_error for e in estimates])
    assert abs(first.mean()) < 4.0 * first.std() / np.sqrt(first.size)
    assert first.std() < 0.03
    assert 0.4 < errors.mean() / first.std() < 2.5


def test_standard_error_covers_the_true_share_about_as_often_as_it_should():
    hits = 0
    for seed in range(40):
        inputs = draws_of(seed, 1000, 2)
        noise = np.random.default_rng(seed + 500).standard_normal(1000) * np.sqrt(1.0 / 12.0)
        result = first_order_from_draws(inputs, inputs[:, 0] + noise)
        hits += abs(result.first_order[0] - 0.5) <= 2.0 * result.standard_error[0]
    assert hits >= 32


def test_choices_with_few_values_keep_equal_values_together():
    generator = np.random.default_rng(3)
    choice = generator.integers(0, 2, 2000).astype(float)
    output = choice + 0.5 * generator.standard_normal(2000)
    result = first_order_from_draws(choice[:, None], output)
    assert result.bins == 2
    assert result.first_order[0] == pytest.approx(0.25 / (0.25 + 0.25), abs=0.05)


def test_constant_inputs_and_constant_outputs_explain_nothing():
    inputs = np.column_stack([np.ones(100), draws_of(1, 100, 1)])
    assert first_order_from_draws(inputs, inputs[:, 1]).first_order[0] == 0.0
    np.testing.assert_array_equal(first_order_from_draws(inputs, np.ones(100)).first_order, 0.0)
    assert tornado_from_draws(inputs, inputs[:, 1]).swing[0] == 0.0


@settings(deadline=None, max_examples=50)
@given(st.floats(0.001, 1000.0), st.floats(-1000.0, 1000.0), st.integers(0, 1000))
def test_units_of_inputs_and_output_do_not_matter(factor, offset, seed):
    inputs = draws_of(seed, 200, 2)
    output = inputs[:, 0] ** 2 + inputs[:, 1]
    plain = first_order_from_draws(inputs, output).first_order
    np.testing.assert_allclose(first_order_from_draws(inputs, factor * output).first_order, plain, atol=1e-9)
    moved = np.column_stack([inputs[:, 0] * 8.0, inputs[:, 1]])
    np.testing.assert_allclose(first_order_from_draws(moved, output).first_order, plain, atol=1e-9)
    swing = tornado_from_draws(inputs, output).swing
    np.testing.assert_allclose(
        tornado_from_draws(inputs, factor * output + offset).swing, factor * swing, rtol=1e-6, atol=1e-8
    )


def test_tornado_of_a_line_is_slope_times_the_distance_of_the_tails():
    # Uniform input: the outer tenths have means .05 and .95.
    inputs = draws_of(4, 50_000, 3)
    result = tornado_from_draws(inputs, 2.0 * inputs[:, 0] - 5.0 * inputs[:, 1])
    assert np.all(np.abs(result.swing - [1.8, -4.5, 0.0]) <= 5.0 * result.standard_error + 1e-9)
    assert result.order[:2].tolist() == [1, 0]
    np.testing.assert_allclose(result.swing, result.output_at_high - result.output_at_low)


def test_reordering_inputs_reorders_the_result():
    inputs = draws_of(5, 500, 4)
    output = inputs @ np.array([1.0, 2.0, 3.0, 4.0])
    order = np.array([2, 0, 3, 1])
    np.testing.assert_allclose(
        first_order_from_draws(inputs[:, order], output).first_order,
        first_order_from_draws(inputs, output).first_order[order],
    )


@pytest.mark.parametrize(
    ("inputs", "output", "text"),
    [
        (np.ones((50, 2)), np.ones(40), "Give one output a draw"),
        (np.ones((10, 2)), np.ones(10), "too few"),
        (np.full((50, 1), np.nan), np.ones(50), "not finite"),
    ],
)
def test_unfit_draws_are_refused_in_words(inputs, output, text):
    with pytest.raises(ValueError, match=text):
        first_order_from_draws(inputs, output)
    with pytest.raises(ValueError, match=text):
        tornado_from_draws(inputs, output)


def test_unfit_settings_are_refused_in_words():
    with pytest.raises(ValueError, match="classes for 50 draws"):
        first_order_from_draws(np.ones((50, 1)), np.ones(50), bins=40)
    with pytest.raises(ValueError, match="outside 0 to 0\\.5"):
        tornado_from_draws(np.ones((50, 1)), np.ones(50), tail_share=0.7)


def test_correlated_inputs_are_stated_as_not_handled():
    assert "independent" in CORRELATION_STATEMENT


def test_a_large_mean_takes_no_digits_from_the_indices():
    # y and y + 1e6 vary alike.
    plain = sobol_sensitivity(lambda x: x[0] + 0.5 * x[1], [uniform(), uniform()], samples=256, resamples=8)
    high = sobol_sensitivity(lambda x: 1e6 + x[0] + 0.5 * x[1], [uniform(), uniform()], samples=256, resamples=8)
    for name in ("first_order", "total", "first_order_low", "first_order_high", "total_low", "total_high"):
        np.testing.assert_allclose(getattr(high, name), getattr(plain, name), atol=1e-6)


def test_a_constant_has_no_index_and_no_interval():
    found = sobol_sensitivity(lambda x: np.full(x.shape[1], 5.0), [norm(), norm()], samples=64)
    for name in ("first_order", "total", "first_order_low", "first_order_high", "total_low", "total_high"):
        assert getattr(found, name).tolist() == [0.0, 0.0]
    assert found.evaluations == 4 * 64


def test_equal_inputs_at_an_end_stay_together():
    # Three tenths of the draws at 0 and the rest at 1: the ends are those groups whole, not a tenth of the draws.
    inputs = np.repeat([0.0, 1.0], [30, 70])[:, None]
    output = np.concatenate([np.linspace(4.0, 6.0, 30), np.linspace(7.0, 9.0, 70)])
    found = tornado_from_draws(inputs, output)
    assert (found.output_at_low[0], found.output_at_high[0]) == (pytest.approx(5.0), pytest.approx(8.0))
    error = np.sqrt(output[:30].var(ddof=1) / 30 + output[30:].var(ddof=1) / 70)
    assert found.standard_error[0] == pytest.approx(error)


def product(x):
    """Product of independent factors with mean 1: |4u − 2| + a over 1 + a."""
    heights = np.array([0.0, 1.0, 4.5])[:, None]
    return np.prod((np.abs(4.0 * x - 2.0) + heights) / (1.0 + heights), axis=0)


def test_sobol_indices_of_a_product_follow_from_the_variances_of_its_factors():
    # Each factor has mean 1 and variance v = 1/(3(1 + a)²), so the product has Π(1 + v) − 1, of which an input alone
    # explains v and takes part in v·Π over the others of (1 + v).
    parts = 1.0 / (3.0 * (1.0 + np.array([0.0, 1.0, 4.5])) ** 2)
    whole = np.prod(1.0 + parts) - 1.0
    found = sobol_sensitivity(product, [uniform()] * 3, samples=8192, resamples=20)
    np.testing.assert_allclose(found.first_order, parts / whole, atol=0.004)
    np.testing.assert_allclose(found.total, parts * np.prod(1.0 + parts) / (1.0 + parts) / whole, atol=0.004)


def test_the_intervals_are_those_of_rows_drawn_again():
    # L: scipy's estimator on the evaluations made; the intervals from rows repeated one by one.
    made = []

    def function(x):
        made.append(product(x))
        return made[-1]

    found = sobol_sensitivity(function, [uniform()] * 3, samples=8, seed=5, confidence=0.8, resamples=31)
    first, second, mixed = made[0], made[1], np.array(made[2:])
    theirs = sobol_indices(func={"f_A": first[None], "f_B": second[None], "f_AB": mixed[:, None]}, n=8)
    np.testing.assert_allclose(found.first_order, theirs.first_order, atol=1e-12)
    np.testing.assert_allclose(found.total, theirs.total_order, atol=1e-12)
    centre = np.concatenate([first, second]).mean()
    again = []
    for counts in np.random.default_rng(5).multinomial(8, np.full(8, 1.0 / 8.0), size=31):
        rows = np.repeat(np.arange(8), counts)
        a, b, ab = first[rows] - centre, second[rows] - centre, mixed[:, rows] - centre
        variance = np.var(np.concatenate([a, b]))
        again.append([np.mean(b * (ab - a), axis=1) / variance, 0.5 * np.mean((a - ab) ** 2, axis=1) / variance])
    low, high = np.percentile(np.array(again), [10.0, 90.0], axis=0)
    np.testing.assert_allclose([found.first_order_low, found.total_low], low, atol=1e-12)
    np.testing.assert_allclose([found.first_order_high, found.total_high], high, atol=1e-12)


def test_two_samples_are_a_power_of_two():
    assert sobol_sensitivity(lambda x: x[0], [uniform()], samples=2, resamples=1).evaluations == 6


def test_an_output_or_input_of_yes_and_no_counts_as_one_and_zero():
    # Yes for u below 1/2 in either input: Var = 3/16, Var(E[Y|u]) = 1/16, E[Var(Y|u)] = 1/8.
    found = sobol_sensitivity(lambda x: (x < 0.5).any(axis=0), [uniform()] * 2, samples=4096, resamples=2)
    np.testing.assert_allclose([found.first_order, found.total], [[1 / 3] * 2, [2 / 3] * 2], atol=0.02)
    yes = np.arange(80) % 4 < 2
    either = yes | (np.arange(80) % 2 == 0)
    plain = first_order_from_draws(yes[:, None].astype(float), either.astype(float))
    assert first_order_from_draws(yes[:, None], either).first_order == pytest.approx(plain.first_order)
    assert tornado_from_draws(yes[:, None], either).swing == pytest.approx([0.5])


def share_beyond_chance(choice, output):
    """ε² from the F statistic of an analysis of variance: SS_within/SS_total = 1/(1 + F(M − 1)/(N − M))."""
    if np.ptp(output) == 0.0:
        return 0.0
    samples = [output[choice == one] for one in np.unique(choice)]
    draws, classes = output.size, len(samples)
    within = 1.0 / (1.0 + f_oneway(*samples).statistic * (classes - 1) / (draws - classes))
    return 1.0 - within * (draws - 1) / (draws - classes)


@pytest.mark.parametrize("case", ["even", "a choice met once", "an output that stirs in one group only"])
def test_share_and_error_agree_with_an_analysis_of_variance(case):
    # L: scipy.stats.f_oneway, on all draws and, for the jackknife, without every twentieth draw in turn.
    generator = np.random.default_rng(8)
    choice = np.arange(47) % 3
    output = choice + generator.standard_normal(47)
    if case == "a choice met once":
        choice[7] = 3
    elif case == "an output that stirs in one group only":
        output = np.zeros(47)
        output[[4, 24]] = 1.0, -1.0
    found = first_order_from_draws(choice[:, None].astype(float), output)
    group = np.arange(47) % 20
    parts = np.array([share_beyond_chance(choice[group != g], output[group != g]) for g in range(20)])
    assert found.first_order[0] == pytest.approx(share_beyond_chance(choice, output))
    assert found.standard_error[0] == pytest.approx(np.sqrt(19.0 / 20.0 * np.sum((parts - parts.mean()) ** 2)))


def test_a_large_mean_takes_no_digits_from_the_share_of_draws():
    inputs = draws_of(6, 400, 2)
    output = inputs[:, 0] + 0.5 * inputs[:, 1]
    plain, high = first_order_from_draws(inputs, output), first_order_from_draws(inputs, output + 1e7)
    np.testing.assert_allclose(high.first_order, plain.first_order, atol=1e-6)
    np.testing.assert_allclose(high.standard_error, plain.standard_error, atol=1e-6)


@pytest.mark.parametrize(("draws", "bins", "classes"), [(400, None, 20), (5000, None, 64), (41, 2, 2), (41, 20, 20)])
def test_draws_fall_into_as_many_classes_as_wanted(draws, bins, classes):
    # By default the root of the number of draws, at most 64.
    inputs = draws_of(7, draws, 1)
    assert first_order_from_draws(inputs, inputs[:, 0], bins=bins).bins == classes


def test_as_many_choices_as_classes_are_kept_apart():
    choice = np.repeat([0.0, 1.0, 2.0, 3.0], [54, 2, 2, 2])
    found = first_order_from_draws(choice[:, None], choice, bins=4)
    assert (found.bins, found.first_order[0]) == (4, pytest.approx(1.0))


def test_what_does_not_vary_is_not_divided_and_hides_no_other_input():
    inputs = np.column_stack([np.ones(100), np.arange(100) % 2])
    found = first_order_from_draws(inputs, inputs[:, 1])
    assert (found.bins, found.first_order.tolist()) == (2, [0.0, pytest.approx(1.0)])
    assert first_order_from_draws(np.ones((100, 1)), inputs[:, 1]).bins == 1
    # The mean of many 0.1 is not 0.1 to the last digit.
    level = first_order_from_draws(inputs[:, ::-1], np.full(100, 0.1))
    assert (level.bins, level.first_order.tolist(), level.standard_error.tolist()) == (1, [0.0, 0.0], [0.0, 0.0])


def test_the_fewest_draws_and_the_widest_ends_of_a_tornado():
    # Four draws at each end: 40 at a tenth, 8 at halves.
    line = np.arange(40.0)[:, None]
    assert tornado_from_draws(line, line[:, 0]).swing == pytest.approx([37.5 - 1.5])
    assert tornado_from_draws(line[:8], line[:8, 0], tail_share=0.5).swing == pytest.approx([5.5 - 1.5])
    with pytest.raises(ValueError, match=r"^39 draws are too few\. Give at least 40\.$"):
        tornado_from_draws(line[:39], line[:39, 0])
    with pytest.raises(ValueError, match="A tail share of 0 is outside"):
        tornado_from_draws(line, line[:, 0], tail_share=0.0)
    with pytest.raises(ValueError, match=r"^21 classes for 41 draws: give between 2 and 20\.$"):
        first_order_from_draws(np.ones((41, 1)), np.ones(41), bins=21)


def test_bars_of_equal_swing_keep_the_order_of_the_inputs():
    # Swings 0 and 1 in turn, more of them than are sorted one by one.
    inputs = np.tile([0.0, 1.0], 20)[:, None] * (np.arange(60) % 2)
    assert tornado_from_draws(inputs, np.tile([0.0, 1.0], 20)).order.tolist() == [*range(1, 60, 2), *range(0, 60, 2)]


@pytest.mark.parametrize("level", [2.5, 0.1, -67.74, 1e-3])
def test_one_odd_draw_in_a_level_output_has_an_error_without_rounding_in_it(level):
    # Without the odd draw nothing varies, whatever the level: that group's part is 0, as if the level were 0.
    inputs = draws_of(9, 190, 2)
    odd = np.where(np.arange(190) == 57, 3.0, 0.0)
    plain, raised = first_order_from_draws(inputs, odd), first_order_from_draws(inputs, odd + level)
    np.testing.assert_allclose(raised.first_order, plain.first_order, atol=1e-9)
    np.testing.assert_allclose(raised.standard_error, plain.standard_error, rtol=1e-6)
