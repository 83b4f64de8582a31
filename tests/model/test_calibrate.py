"""Calibration: conjugate closed form, limits, warnings, quantiles and resampling."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import trapezoid
from scipy.special import logit
from scipy.stats import norm, truncnorm

from model.calibrate import calibrate_draws, systematic_resample, weighted_quantile

PRIOR = np.random.default_rng(1).uniform(0.0, 1.0, (20_000, 1))
SD = {"measurement_sd": 0.03, "discrepancy_sd": 0.04}


def test_posterior_equals_the_conjugate_normal_where_truncation_does_not_bite():
    # Normal prior (.5, .05), normal reading .56 with sd .05: posterior mean .53, sd .05/√2.
    prior = np.random.default_rng(2).normal(0.5, 0.05, (200_000, 1))
    result = calibrate_draws(prior, np.array([0.56]), **SD)
    mean = result.weights @ prior[:, 0]
    assert mean == pytest.approx(0.53, abs=5e-4)
    assert np.sqrt(result.weights @ (prior[:, 0] - mean) ** 2) == pytest.approx(0.05 / np.sqrt(2.0), rel=0.01)
    assert result.warnings == ()
    # Evidence: normal density of .56 about .5 with variance .05² + .05².
    expected = -0.5 * 0.06**2 / 0.005 - 0.5 * np.log(2.0 * np.pi * 0.005)
    assert result.log_evidence == pytest.approx(expected, abs=0.01)


def test_truncated_likelihood_is_that_of_scipy():
    predicted = np.array([[0.02], [0.3], [0.97]])
    result = calibrate_draws(predicted, np.array([0.1]), **SD)
    density = truncnorm.pdf(
        0.1, -predicted[:, 0] / 0.05, (1.0 - predicted[:, 0]) / 0.05, loc=predicted[:, 0], scale=0.05
    )
    np.testing.assert_allclose(result.weights, density / density.sum(), rtol=1e-9, atol=1e-300)


@pytest.mark.parametrize("likelihood", ["truncated normal", "logit normal"])
def test_trials_in_turn_equal_trials_together(likelihood):
    predicted = np.random.default_rng(3).uniform(0.1, 0.6, (500, 2))
    observed = np.array([0.2, 0.4])
    sd = {"measurement_sd": 0.3, "discrepancy_sd": 0.4, "likelihood": likelihood}
    together = calibrate_draws(predicted, observed, **sd).weights
    one = calibrate_draws(predicted[:, :1], observed[:1], **sd).weights
    two = calibrate_draws(predicted[:, 1:], observed[1:], **sd).weights
    np.testing.assert_allclose(together, one * two / (one * two).sum(), rtol=1e-9)


@pytest.mark.parametrize("likelihood", ["truncated normal", "logit normal"])
def test_no_trials_leave_the_prior(likelihood):
    result = calibrate_draws(np.zeros((50, 0)), np.zeros(0), likelihood=likelihood, **SD)
    np.testing.assert_allclose(result.weights, 0.02)
    assert result.effective_sample_size == pytest.approx(50.0)
    assert result.evidence_probability == 1.0
    assert result.warnings == ()


def test_useless_measurement_leaves_nearly_the_prior():
    result = calibrate_draws(PRIOR, np.array([0.5]), measurement_sd=100.0, discrepancy_sd=0.0)
    assert result.effective_share > 0.999


def test_contradicting_evidence_is_said_in_words():
    low = np.random.default_rng(4).uniform(0.0, 0.05, (512, 1))
    result = calibrate_draws(low, np.array([0.8]), **SD)
    assert result.evidence_probability < 1e-6
    assert "contradict the model" in result.warnings[0]
    assert "80.0%" in result.warnings[0]
    assert result.weights.sum() == pytest.approx(1.0)
    assert np.isfinite(result.weights).all()


def test_few_effective_draws_are_said_in_words():
    wide = np.linspace(0.0, 1.0, 512)[:, None]
    result = calibrate_draws(wide, np.array([0.5]), measurement_sd=0.005, discrepancy_sd=0.0)
    assert result.effective_share < 0.1
    assert len(result.warnings) == 1
    assert "still carry weight" in result.warnings[0]


def test_evidence_drawn_from_the_model_rarely_contradicts_it():
    generator = np.random.default_rng(5)
    alarms = 0
    for _ in range(300):
        predicted = generator.uniform(0.2, 0.8, (200, 3))
        observed = np.clip(predicted[0] + 0.05 * generator.standard_normal(3), 0.0, 1.0)
        alarms += calibrate_draws(predicted, observed, **SD).evidence_probability < 0.05
    assert alarms <= 30


def test_a_clean_board_speaks_for_draws_that_predict_clean_boards():
    for likelihood, sd in (("truncated normal", 0.05), ("logit normal", 1.0)):
        predicted = np.array([[0.0], [0.01], [0.2], [0.9], [1.0]])
        result = calibrate_draws(
            predicted, np.array([0.0]), measurement_sd=sd, discrepancy_sd=0.0, likelihood=likelihood
        )
        assert np.all(np.diff(result.weights) <= 0.0)
        soiled = calibrate_draws(
            1.0 - predicted, np.array([1.0]), measurement_sd=sd, discrepancy_sd=0.0, likelihood=likelihood
        )
        np.testing.assert_allclose(soiled.weights, result.weights, rtol=1e-6, atol=1e-30)


@pytest.mark.parametrize(
    ("likelihood", "sd", "low", "high"),
    [("truncated normal", 0.3, 0.0, 1.0), ("logit normal", 1.0, 0.02, 0.98)],
)
def test_probability_of_all_possible_results_adds_up_to_one(likelihood, sd, low, high):
    predicted = np.array([[0.1], [0.7]])

    def evidence(found):
        result = calibrate_draws(
            predicted,
            np.array([found]),
            measurement_sd=sd,
            discrepancy_sd=0.0,
            likelihood=likelihood,
            detection_share=0.02,
        )
        return np.exp(result.log_evidence)

    inside = np.linspace(low + 1e-9, high - 1e-9, 1501)
    total = trapezoid([evidence(found) for found in inside], inside)
    if likelihood == "logit normal":
        total += evidence(0.0) + evidence(1.0)
    assert total == pytest.approx(1.0, abs=1e-3)


def test_logit_results_below_detection_count_alike():
    sd = {"measurement_sd": 0.5, "discrepancy_sd": 0.5, "likelihood": "logit normal", "detection_share": 0.02}
    none = calibrate_draws(PRIOR, np.array([0.0]), **sd).weights
    trace = calibrate_draws(PRIOR, np.array([0.02]), **sd).weights
    np.testing.assert_array_equal(none, trace)


@settings(deadline=None, max_examples=50)
@given(st.floats(0.0, 1.0), st.integers(0, 1000))
def test_reordering_draws_and_trials_changes_nothing(observed, seed):
    generator = np.random.default_rng(seed)
    predicted = generator.random((100, 2))
    found = np.array([observed, 0.4])
    order = generator.permutation(100)
    plain = calibrate_draws(predicted, found, **SD)
    moved = calibrate_draws(predicted[order][:, ::-1], found[::-1], **SD)
    np.testing.assert_allclose(moved.weights, plain.weights[order], rtol=1e-9, atol=1e-300)
    assert 1.0 <= plain.effective_sample_size <= 100.0 + 1e-9


def test_weighted_quantiles_equal_those_of_repeated_draws():
    values, times = np.array([3.0, 1.0, 2.0]), np.array([1, 3, 2])
    repeated = np.repeat(values, times * 2000)
    for q in (0.05, 0.25, 0.7, 0.97):
        weighted = weighted_quantile(np.repeat(values, 2000), np.repeat(times, 2000), np.array([q]))[0]
        assert weighted == pytest.approx(np.quantile(repeated, q, method="hazen"), abs=1e-9)


def test_equal_weights_give_hazen_quantiles_and_zero_weights_vanish():
    values = np.random.default_rng(6).random(51)
    q = np.array([0.0, 0.1, 0.5, 0.9, 1.0])
    expected = np.quantile(values, q, method="hazen")
    np.testing.assert_allclose(weighted_quantile(values, np.ones(51), q), expected)
    padded = weighted_quantile(np.append(values, 99.0), np.append(np.ones(51), 0.0), q)
    np.testing.assert_allclose(padded, expected)


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000))
def test_systematic_resampling_keeps_each_share_within_one(seed):
    weights = np.random.default_rng(seed).dirichlet(np.full(40, 0.3))
    chosen = systematic_resample(weights, seed=seed, count=500)
    counts = np.bincount(chosen, minlength=40)
    assert counts.sum() == 500
    assert np.all(np.abs(counts - 500 * weights) < 1.0 + 1e-6)
    np.testing.assert_array_equal(chosen, systematic_resample(weights, seed=seed, count=500))


def test_resampling_equal_weights_keeps_every_draw_once():
    np.testing.assert_array_equal(systematic_resample(np.ones(100), seed=3), np.arange(100))


def test_resampled_draws_carry_the_posterior_mean():
    result = calibrate_draws(PRIOR, np.array([0.3]), **SD)
    chosen = systematic_resample(result.weights, seed=1)
    assert PRIOR[chosen, 0].mean() == pytest.approx(result.weights @ PRIOR[:, 0], abs=1e-4)


def test_logit_likelihood_and_tails_are_those_of_a_normal_on_the_logit():
    # scipy's normal on the logit, as a density in the share: dz/dy = 1/(y(1 − y)).
    predicted, sd = np.array([[0.05], [0.2], [0.6]]), 0.5
    result = calibrate_draws(predicted, np.array([0.1]), measurement_sd=0.3, discrepancy_sd=0.4,
                             likelihood="logit normal")  # fmt: skip
    density = norm.pdf(logit(0.1), logit(predicted[:, 0]), sd) / (0.1 * 0.9)
    below = norm.cdf(logit(0.1), logit(predicted[:, 0]), sd)
    np.testing.assert_allclose(result.weights, density / density.sum(), rtol=1e-9)
    assert result.log_evidence == pytest.approx(np.log(density.mean()), rel=1e-9)
    assert result.prior_tail_share[0] == pytest.approx(2.0 * min(below.mean(), 1.0 - below.mean()), rel=1e-9)


@pytest.mark.parametrize(("seen", "known"), [(0.01, 0.01), (0.003, 0.01), (0.99, 0.99), (1.0, 0.99)])
def test_a_logit_result_beyond_detection_counts_by_its_probability(seen, known):
    predicted = np.array([[0.0], [0.02], [0.5], [0.97], [1.0]])
    result = calibrate_draws(predicted, np.array([seen]), measurement_sd=0.3, discrepancy_sd=0.4,
                             likelihood="logit normal")  # fmt: skip
    # Predictions of nothing and of everything are taken as 1e-6 from the end.
    place = logit(np.clip(predicted[:, 0], 1e-6, 1.0 - 1e-6))
    chance = norm.cdf(logit(known), place, 0.5) if known < 0.5 else norm.sf(logit(known), place, 0.5)
    np.testing.assert_allclose(result.weights, chance / chance.sum(), rtol=1e-9)
    assert result.log_evidence == pytest.approx(np.log(chance.mean()), rel=1e-9)
    assert result.prior_tail_share[0] == pytest.approx(min(1.0, 2.0 * chance.mean()), rel=1e-9)


@pytest.mark.parametrize("seen", [0.0, 0.01, 0.99, 1.0])
def test_a_result_beyond_detection_that_was_foreseen_is_no_surprise(seen):
    foreseen = np.full((5, 1), float(seen > 0.5))
    result = calibrate_draws(foreseen, np.array([seen]), measurement_sd=0.3, discrepancy_sd=0.4,
                             likelihood="logit normal")  # fmt: skip
    assert result.prior_tail_share[0] == 1.0
    assert result.evidence_probability == 1.0


def test_tails_of_the_truncated_normal_are_those_of_scipy_and_at_most_one():
    predicted, sd = np.array([[0.02], [0.3], [0.97]]), 0.2
    low, high = -predicted[:, 0] / sd, (1.0 - predicted[:, 0]) / sd
    for seen in (0.0, 0.15, 0.4, 0.9):
        result = calibrate_draws(predicted, np.array([seen]), measurement_sd=0.2, discrepancy_sd=0.0)
        below = truncnorm.cdf(seen, low, high, loc=predicted[:, 0], scale=sd).mean()
        assert result.prior_tail_share[0] == pytest.approx(2.0 * min(below, 1.0 - below), rel=1e-9, abs=1e-12)
    one = calibrate_draws(np.full((5, 1), 0.5), np.array([0.5]), measurement_sd=0.1, discrepancy_sd=0.0)
    assert one.prior_tail_share[0] == pytest.approx(1.0)


def test_warnings_are_whole():
    low = np.full((50, 2), [0.3, 0.02])
    result = calibrate_draws(low, np.array([0.3, 0.17]), **SD)
    # Two trials: 1 − (1 − p)², p twice the normal tail beyond 3 sd, cut off at 0.
    assert result.warnings == (
        "The trials contradict the model: trial 2 left 17.0% of the residue, where 2.0% (2.0% to 2.0%) was expected; "
        f"before the trials a result this far out had a probability of {result.evidence_probability:.2%}. Check the "
        "trial and the model's estimates before you use the result.",
    )
    assert 1e-4 < result.evidence_probability < 0.01
    far = calibrate_draws(low, np.array([0.3, 0.9]), **SD)
    assert "had a probability of less than 0.01%. Check" in far.warnings[0]
    first = calibrate_draws(low, np.array([0.9, 0.02]), **SD)
    assert first.warnings[0].startswith("The trials contradict the model: trial 1 left 90.0%")
    coarse = calibrate_draws(np.linspace(0.0, 1.0, 512)[:, None], np.array([0.5]), measurement_sd=0.005,
                             discrepancy_sd=0.0)  # fmt: skip
    assert coarse.warnings == (
        f"Only {coarse.effective_sample_size:.0f} of 512 draws still carry weight, so the result is coarse. "
        "Compute with more draws, or state wider ranges.",
    )


def test_one_of_the_two_deviations_may_be_zero_and_one_draw_may_be_chosen():
    assert calibrate_draws(PRIOR, np.array([0.5]), measurement_sd=0.0, discrepancy_sd=0.05).weights.sum() == (
        pytest.approx(1.0)
    )
    assert systematic_resample(np.array([0.0, 1.0, 0.0]), seed=1, count=1).tolist() == [1]


@pytest.mark.parametrize(
    ("predicted", "observed", "changes", "text"),
    [
        (np.ones((5, 2)), np.ones(1), {}, r"\(1,\)\. Give \(draws, trials\) and one observation a trial\.$"),
        (np.ones((0, 1)), np.ones(1), {}, "Give \\(draws, trials\\)"),
        (np.full((5, 1), 1.2), np.ones(1), {}, "predicted share is outside"),
        (np.ones((5, 1)), np.array([np.nan]), {}, "observed share is outside"),
        (np.ones((5, 1)), np.ones(1), {"measurement_sd": 0.0, "discrepancy_sd": 0.0}, "not both 0"),
        (np.ones((5, 1)), np.ones(1), {"measurement_sd": -1.0}, "at least 0"),
        (np.ones((5, 1)), np.ones(1), {"likelihood": "cauchy"}, "is not known"),
        (np.ones((5, 1)), np.ones(1), {"detection_share": 0.6}, "outside 0 to 0.5"),
        (np.ones((5, 1)), np.ones(1), {"detection_share": 0.5}, "outside 0 to 0.5"),
        (np.ones((5, 1)), np.ones(1), {"detection_share": 0.0}, "outside 0 to 0.5"),
    ],
)
def test_unfit_trials_are_refused_in_words(predicted, observed, changes, text):
    with pytest.raises(ValueError, match=text):
        calibrate_draws(predicted, observed, **{**SD, **changes})


def test_unfit_weights_are_refused_in_words():
    sentence = r"^A weight is negative or not finite, or all are 0\. Give one weight a draw, some above 0\.$"
    for weights in (np.zeros(3), np.array([1.0, -1.0, 1.0]), np.array([np.nan, 1.0, 1.0]), np.ones((3, 1))):
        with pytest.raises(ValueError, match=sentence):
            systematic_resample(weights, seed=1)
        with pytest.raises(ValueError, match=sentence):
            weighted_quantile(np.ones(3), weights, np.array([0.5]))
    with pytest.raises(ValueError, match="Give one weight a draw"):
        weighted_quantile(np.ones(3), np.ones(2), np.array([0.5]))
    with pytest.raises(ValueError, match=r"^A quantile is outside 0 to 1\. Give shares, for example 0\.9\.$"):
        weighted_quantile(np.ones(3), np.ones(3), np.array([1.5]))
    with pytest.raises(ValueError, match="at least 1"):
        systematic_resample(np.ones(3), seed=1, count=0)
