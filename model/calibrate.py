"""Trial boards re-weight the draws, so that the plant's own evidence replaces the estimates."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.special import expit, log_ndtr, logit, logsumexp, ndtr

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.intp]
Likelihood = Literal["truncated normal", "logit normal"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Weights of the draws after the trials, and how well trials and model agree."""

    weights: FloatArray
    """Posterior weight of each draw, shares that add up to 1, shape (draws,)."""
    effective_sample_size: float
    """Number of equally weighted draws worth as much, 1 to draws."""
    effective_share: float
    """`effective_sample_size` as share 0-1 of the draws."""
    prior_tail_share: FloatArray
    """Probability 0-1, before the trial, of a result at least this far out, both ways, shape (trials,)."""
    evidence_probability: float
    """Probability 0-1, before the trials, that the most surprising of them comes out this far or further."""
    log_evidence: float
    """Natural logarithm of the mean likelihood over the draws, to compare models on the same trials."""
    warnings: tuple[str, ...]
    """Plain sentences; empty if trials and model agree and enough draws carry weight."""


def calibrate_draws(
    predicted_share: FloatArray,
    observed_share: FloatArray,
    *,
    measurement_sd: float,
    discrepancy_sd: float,
    likelihood: Likelihood = "truncated normal",
    detection_share: float = 0.01,
    least_effective_share: float = 0.1,
    least_probability: float = 0.01,
) -> Calibration:
    """Weigh draws by how well they predict the share of residue left in trials.

    Parameters
    ----------
    predicted_share : ndarray, shape (draws, trials)
        Share 0-1 of residue left that each draw predicts for each trial.
    observed_share : ndarray, shape (trials,)
        Share 0-1 of residue left that was found.
    measurement_sd : float
        Standard deviation of reading a trial board: a share for "truncated normal", logits for "logit
        normal".
    discrepancy_sd : float
        Standard deviation of what the model leaves out, same unit.
    likelihood : str
        "truncated normal": normal error on the share, cut off at 0 and 1. "logit normal": normal error on
        log(share / (1 − share)); for results that spread over decades.
    detection_share : float
        For "logit normal" only: a result at or below this share counts as "at most this share", one at or
        above 1 less it as "at least".
    least_effective_share : float
        Share of the draws below which the effective sample size gives a warning.
    least_probability : float
        Prior probability of the evidence below which the trials contradict the model.

    Returns
    -------
    Calibration
        Posterior weights and checks. Without trials all draws weigh the same.

    Raises
    ------
    ValueError
        Shapes do not fit, a share outside 0-1, no draws, or standard deviations that are negative or both 0.

    Notes
    -----
    w_d ∝ Π_t p(y_t | f_dt), variance s² = measurement² + discrepancy². Truncated: p = φ((y − f)/s)/s / (Φ((1
    − f)/s) − Φ(−f/s)). Effective sample size (Σw)²/Σw² (Kish, from memory). Prior tail probability: twice the
    smaller of P(Y ≤ y) and P(Y ≥ y) averaged over the draws, at most 1; over several trials 1 − (1 − min
    p)^T, which takes trials as independent. Discrepancy is taken as independent between trials: repeats on
    one board type and machine then count for more than they should; give their mean as one trial. Both
    standard deviations are engineering estimates of whoever enters them.

    Examples
    --------
    >>> predicted = np.array([[0.1], [0.5]])
    >>> result = calibrate_draws(predicted, np.array([0.1]), measurement_sd=0.1, discrepancy_sd=0.1)
    >>> bool(result.weights[0] > 0.95)
    True

    """
    predicted = np.asarray(predicted_share, dtype=np.float64)
    observed = np.asarray(observed_share, dtype=np.float64)
    if predicted.ndim != 2 or predicted.shape[0] == 0 or observed.shape != (predicted.shape[1],):
        raise ValueError(
            f"Predictions have shape {predicted.shape}, observations {observed.shape}. "
            "Give (draws, trials) and one observation a trial."
        )
    for name, share in (("predicted", predicted), ("observed", observed)):
        if not np.all((share >= 0.0) & (share <= 1.0)):
            raise ValueError(
                f"A {name} share is outside 0 to 1. Give the residue left as share of what was there."
            )
    if not (measurement_sd >= 0.0 and discrepancy_sd >= 0.0 and measurement_sd + discrepancy_sd > 0.0):
        raise ValueError(
            f"Standard deviations {measurement_sd:g} and {discrepancy_sd:g}: give two numbers of at least "
            "0, not both 0."
        )
    if not 0.0 < detection_share < 0.5:
        raise ValueError(
            f"A detection share of {detection_share:g} is outside 0 to 0.5. Give for example 0.01."
        )
    deviation = float(np.hypot(measurement_sd, discrepancy_sd))
    if likelihood == "truncated normal":
        log_density, at_most = _truncated_normal(predicted, observed, deviation)
        at_least = 1.0 - at_most
    elif likelihood == "logit normal":
        log_density, at_most, at_least = _logit_normal(predicted, observed, deviation, detection_share)
    else:
        raise ValueError(
            f'Likelihood "{likelihood}" is not known. Give "truncated normal" or "logit normal".'
        )
    draws, trials = predicted.shape
    log_likelihood = log_density.sum(axis=1)
    weights = np.exp(log_likelihood - logsumexp(log_likelihood))
    weights /= weights.sum()
    effective = float(1.0 / np.sum(weights**2))
    tail = np.minimum(1.0, 2.0 * np.minimum(at_most.mean(axis=0), at_least.mean(axis=0)))
    evidence = float(-np.expm1(trials * np.log1p(-tail.min()))) if trials and tail.min() < 1.0 else 1.0
    return Calibration(
        weights=weights,
        effective_sample_size=effective,
        effective_share=effective / draws,
        prior_tail_share=tail,
        evidence_probability=evidence,
        log_evidence=float(logsumexp(log_likelihood) - np.log(draws)),
        warnings=_warnings(
            predicted, observed, tail, evidence, effective, least_effective_share, least_probability
        ),
    )


def weighted_quantile(values: FloatArray, weights: FloatArray, quantiles: FloatArray) -> FloatArray:
    """Give quantiles of weighted draws.

    Parameters
    ----------
    values : ndarray, shape (draws,)
        Any unit.
    weights : ndarray, shape (draws,)
        At least 0, not all 0; need not add up to 1.
    quantiles : ndarray, shape (m,)
        Shares 0-1.

    Returns
    -------
    ndarray, shape (m,)
        Quantiles in the unit of the values.

    Raises
    ------
    ValueError
        Shapes do not fit, a negative weight, all weights 0, or a quantile outside 0-1.

    Notes
    -----
    Linear between the draws that carry weight, each placed at the middle of its weight in the cumulated
    weight; flat beyond the first and the last. With equal weights this is Hazen's rule.

    Examples
    --------
    >>> weighted_quantile(np.array([1.0, 2.0, 3.0]), np.array([1.0, 1.0, 0.0]), np.array([0.5])).tolist()
    [1.5]

    """
    sample = np.asarray(values, dtype=np.float64)
    share = np.asarray(weights, dtype=np.float64)
    wanted = np.asarray(quantiles, dtype=np.float64)
    _check_weights(share)
    if sample.shape != share.shape:
        raise ValueError(f"Values have shape {sample.shape}, weights {share.shape}. Give one weight a draw.")
    if not np.all((wanted >= 0.0) & (wanted <= 1.0)):
        raise ValueError("A quantile is outside 0 to 1. Give shares, for example 0.9.")
    carrying = share > 0.0
    sample, share = sample[carrying], share[carrying]
    order = np.argsort(sample, kind="stable")
    share = share[order] / share.sum()
    middle = np.cumsum(share) - 0.5 * share
    return np.asarray(np.interp(wanted, middle, sample[order]), dtype=np.float64)


def systematic_resample(weights: FloatArray, *, seed: int, count: int | None = None) -> IntArray:
    """Choose draws in proportion to their weights, so that equal weights serve all later steps.

    Parameters
    ----------
    weights : ndarray, shape (draws,)
        At least 0, not all 0; need not add up to 1.
    seed : int
        Seed of the one random offset.
    count : int, optional
        Number of indices; the default is the number of draws.

    Returns
    -------
    ndarray of int, shape (count,)
        Positions of chosen draws, rising; draw d appears ⌊count·w_d⌋ or ⌈count·w_d⌉ times.

    Raises
    ------
    ValueError
        A negative weight, all weights 0, or a count below 1.

    Notes
    -----
    Systematic resampling (Kitagawa 1996, from memory): one uniform offset u, points (u + i)/count.

    """
    share = np.asarray(weights, dtype=np.float64)
    _check_weights(share)
    number = share.size if count is None else count
    if number < 1:
        raise ValueError(f"A count of {number} is not possible. Give at least 1.")
    points = (np.random.default_rng(seed).random() + np.arange(number)) / number
    cumulated = np.cumsum(share / share.sum())
    # Rounding may leave the sum just below the last point: the last draw with weight takes it.
    last = int(np.flatnonzero(share > 0.0)[-1])
    return np.minimum(np.searchsorted(cumulated, points, side="right"), last)


def _check_weights(share: FloatArray) -> None:
    if share.ndim != 1 or not np.isfinite(share).all() or not np.all(share >= 0.0) or share.sum() <= 0.0:
        raise ValueError(
            "A weight is negative or not finite, or all are 0. Give one weight a draw, some above 0."
        )


def _truncated_normal(
    predicted: FloatArray, observed: FloatArray, deviation: float
) -> tuple[FloatArray, FloatArray]:
    """Log density of the observation and probability of at most the observation, (draws, trials)."""
    distance = (observed - predicted) / deviation
    below_zero = ndtr(-predicted / deviation)
    inside = ndtr((1.0 - predicted) / deviation) - below_zero
    log_density = -0.5 * distance**2 - 0.5 * np.log(2.0 * np.pi) - np.log(deviation * inside)
    at_most = np.clip((ndtr(distance) - below_zero) / inside, 0.0, 1.0)
    return log_density, at_most


def _logit_normal(
    predicted: FloatArray, observed: FloatArray, deviation: float, detection_share: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """As `_truncated_normal`, on the logit, with results beyond detection known only as beyond it."""
    low, high = detection_share, 1.0 - detection_share
    seen = logit(np.clip(observed, low, high))
    distance = (seen - logit(np.clip(predicted, 1e-6, 1.0 - 1e-6))) / deviation
    density = -0.5 * distance**2 - 0.5 * np.log(2.0 * np.pi) - np.log(deviation)
    # Change of variable from logit to share, so that the evidence is a density in the share.
    density = density - np.log(expit(seen) * expit(-seen))
    density = np.where(observed <= low, log_ndtr(distance), density)
    density = np.where(observed >= high, log_ndtr(-distance), density)
    at_most, at_least = ndtr(distance), ndtr(-distance)
    at_most = np.where(observed >= high, 1.0, at_most)
    at_least = np.where(observed <= low, 1.0, at_least)
    return density, at_most, at_least


def _warnings(
    predicted: FloatArray,
    observed: FloatArray,
    tail: FloatArray,
    evidence: float,
    effective: float,
    least_effective_share: float,
    least_probability: float,
) -> tuple[str, ...]:
    sentences: list[str] = []
    draws = predicted.shape[0]
    if evidence < least_probability:
        worst = int(np.argmin(tail))
        low, middle, high = np.quantile(predicted[:, worst], [0.05, 0.5, 0.95])
        sentences.append(
            f"The trials contradict the model: trial {worst + 1} left {observed[worst]:.1%} of the residue, "
            "where "
            f"{middle:.1%} ({low:.1%} to {high:.1%}) was expected; before the trials a result this far out "
            "had a "
            f"probability of {_in_words(evidence)}. Check the trial and the model's estimates before you "
            "use the result."
        )
    if effective < least_effective_share * draws:
        sentences.append(
            f"Only {effective:.0f} of {draws} draws still carry weight, so the result is coarse. "
            "Compute with more draws, or state wider ranges."
        )
    return tuple(sentences)


def _in_words(probability: float) -> str:
    return f"{probability:.2%}" if probability >= 1e-4 else "less than 0.01%"
