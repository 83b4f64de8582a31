"""Sensitivity: known answers for linear and additive functions, no effect from noise, ties and constants."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm, uniform

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
