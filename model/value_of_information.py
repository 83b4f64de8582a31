"""What knowing an uncertain input before deciding would be worth, from draws that were made anyway."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.intp]

HIGHEST_DEGREE = 5
"""Highest degree of the regression polynomial: bends twice each way; more only follows noise at 512 draws."""

MOST_DISTINCT = 10
"""An input with no more distinct values than this is a choice, such as yes or no: each value has its own
mean."""

BLOCK_ELEMENTS = 2_000_000
"""Numbers held at once while inputs are worked through in blocks: about 16 MB."""

CORRELATION_STATEMENT = (
    "Each input is judged alone; inputs that move together share the worth of knowing either."
)
"""For screens and documents: how correlated inputs are to be read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueOfInformation:
    """Worth of knowing before deciding, in the units of the net benefit."""

    leader: int
    """Candidate with the highest mean net benefit: the choice without further knowledge; -1 if there is
    none."""
    perfect: float
    """Expected gain from knowing everything (EVPI), net benefit units: no enquiry is worth more."""
    perfect_standard_error: float
    """Standard error of `perfect`, net benefit units."""
    perfect_change_share: float
    """Share 0-1 of the draws in which knowing everything changes the choice."""
    partial: FloatArray
    """Expected gain from knowing each input alone, net benefit units, shape (inputs,)."""
    partial_standard_error: FloatArray
    """Standard error of the cross-validated gain, net benefit units, shape (inputs,); wide for `partial`."""
    cross_validated: FloatArray
    """Gain from choices predicted without the draw they are judged on, net benefit units, shape (inputs,).
    Well below `partial`: the regression follows noise. It may fall below 0 by chance."""
    change_share: FloatArray
    """Share 0-1 of the draws in which knowing the input changes the choice, shape (inputs,)."""
    explained_share: FloatArray
    """Largest share 0-1 of the variance of any rival's lead that the input explains, shape (inputs,); 0 if it
    explains nothing beyond chance."""


def value_of_information(
    net_benefit: FloatArray, inputs: FloatArray, *, evidence_ratio: float = 2.0
) -> ValueOfInformation:
    """Give the expected gain from perfect knowledge of everything and of each input alone.

    Parameters
    ----------
    net_benefit : ndarray, shape (draws, candidates)
        Net benefit or score, any unit, more is better.
    inputs : ndarray, shape (draws, inputs)
        Drawn inputs in any units.
    evidence_ratio : float
        A regression counts only if its cross-validated squared error beats that of the mean by this many
        standard errors of the difference; else the input is taken to say nothing about that rival.

    Returns
    -------
    ValueOfInformation
        Gains, chances of changing the choice, and the bias check.

    Raises
    ------
    ValueError
        Shapes do not fit, fewer than 50 draws, or numbers that are not finite.

    Notes
    -----
    EVPI = E[max_j B_j] − max_j E[B_j]. Partial: E[max_j g_j(x)] − max_j E[B_j] with g_j(x) = E[B_j | x] by
    regression on the draws, which replaces nested loops (Strong, Oakley & Brennan 2014, from memory).
    Regression: orthonormal polynomial in the normal score of the input's rank, so any monotone transformation
    of an input gives the same result; all inputs without ties share one basis. Degree 0 to 5 by the least
    leave-one-out squared error, in closed form from the leverages, for each rival's lead over the leader. An
    input with up to 10 distinct values gets one mean for each value. Effects too
    small to tell from chance count as none: with 512 draws an input that explains 3 % of a lead's variance is
    found once in four times, 5 % three times in four, 8 % always (tried with a straight line). Sharp steps
    are smoothed. Correlated inputs: see `CORRELATION_STATEMENT`.

    """
    benefit, table = _checked(net_benefit, inputs)
    draws, candidates = benefit.shape
    count = table.shape[1]
    if candidates == 0:
        zero = np.zeros(count)
        return ValueOfInformation(
            leader=-1,
            perfect=0.0,
            perfect_standard_error=0.0,
            perfect_change_share=0.0,
            partial=zero,
            partial_standard_error=zero,
            cross_validated=zero,
            change_share=zero,
            explained_share=zero,
        )
    leader = int(np.argmax(benefit.mean(axis=0)))
    rivals = np.delete(benefit, leader, axis=1) - benefit[:, leader : leader + 1]
    best = np.maximum(rivals.max(axis=1, initial=0.0), 0.0)
    partial, error, validated, change, explained = (np.zeros(count) for _ in range(5))
    basis = _polynomial_basis(ndtri((np.arange(draws) + 0.5) / draws))
    order = np.argsort(table, axis=0, kind="stable")
    untied = [i for i in range(count) if np.all(np.diff(table[order[:, i], i]) > 0.0)]
    block = max(1, BLOCK_ELEMENTS // max(1, draws * (candidates - 1)))
    jobs: list[tuple[IntArray, FloatArray, bool]] = [
        (np.array(untied[start : start + block], dtype=np.intp), basis, True)
        for start in range(0, len(untied), block)
    ]
    jobs += [
        (np.array([i], dtype=np.intp), *_tied_basis(table[order[:, i], i]))
        for i in range(count)
        if i not in set(untied)
    ]
    for members, columns, by_degree in jobs if candidates > 1 else []:
        # Draws sorted by the input, so that every input shares the basis rows.
        leads = rivals[order[:, members].T]
        fitted, predicted, share = _regress(leads, columns, by_degree, evidence_ratio)
        top = fitted.max(axis=2)
        partial[members] = np.maximum(top, 0.0).mean(axis=1)
        change[members] = (top > 0.0).mean(axis=1)
        choice = predicted.argmax(axis=2)[:, :, None]
        realised = np.take_along_axis(leads, choice, axis=2)[:, :, 0]
        realised = np.where(predicted.max(axis=2) > 0.0, realised, 0.0)
        validated[members] = realised.mean(axis=1)
        error[members] = realised.std(axis=1, ddof=1) / np.sqrt(draws)
        explained[members] = share.max(axis=1)
    return ValueOfInformation(
        leader=leader,
        perfect=float(best.mean()),
        perfect_standard_error=float(best.std(ddof=1) / np.sqrt(draws)),
        perfect_change_share=float(np.mean(best > 0.0)),
        partial=partial,
        partial_standard_error=error,
        cross_validated=validated,
        change_share=change,
        explained_share=explained,
    )


def money_per_value_unit(cost_weight: float, value_per_money: float) -> float:
    """Give what one unit of overall value is worth in money, through the weight of the cost criterion.

    Parameters
    ----------
    cost_weight : float
        Weight of the cost criterion, share 0-1.
    value_per_money : float
        Slope of the cost criterion's value function at the costs in question, value units per money unit;
        its sign does not matter.

    Returns
    -------
    float
        Money units per unit of overall value.

    Raises
    ------
    ValueError
        The weight or the slope is 0 or not finite: value then has no price.

    Notes
    -----
    One more unit of overall value makes up for a cost that takes 1/w_cost off the cost criterion's value,
    that is 1/(w_cost·|dv/dcost|) in money. The cost must be in the same terms (per year or present value) as
    the gain is to be. Holds along one straight piece of the value function.

    Examples
    --------
    >>> round(money_per_value_unit(0.25, -1 / 200_000))
    800000

    """
    if (
        not (np.isfinite(cost_weight) and np.isfinite(value_per_money))
        or cost_weight <= 0.0
        or value_per_money == 0.0
    ):
        raise ValueError(
            "Cost carries no weight, or its value function is flat here: value cannot be expressed in money. "
            "Give cost of ownership a weight above 0."
        )
    return 1.0 / (cost_weight * abs(value_per_money))


def _checked(net_benefit: FloatArray, inputs: FloatArray) -> tuple[FloatArray, FloatArray]:
    benefit = np.asarray(net_benefit, dtype=np.float64)
    table = np.asarray(inputs, dtype=np.float64)
    if benefit.ndim != 2 or table.ndim != 2 or benefit.shape[0] != table.shape[0]:
        raise ValueError(
            f"Net benefit has shape {benefit.shape}, inputs {table.shape}. Give (draws, candidates) and "
            "(draws, inputs)."
        )
    if benefit.shape[0] < 50:
        raise ValueError(f"{benefit.shape[0]} draws are too few for a regression. Give at least 50.")
    if not (np.isfinite(benefit).all() and np.isfinite(table).all()):
        raise ValueError("A net benefit or input is not finite. Leave out such draws or candidates.")
    return benefit, table


def _polynomial_basis(position: FloatArray) -> FloatArray:
    """Orthonormal columns (draws, degree) of polynomials in the positions, the constant left out."""
    powers = np.polynomial.hermite_e.hermevander(position, HIGHEST_DEGREE)
    return np.asarray(np.linalg.qr(powers)[0][:, 1:], dtype=np.float64)


def _tied_basis(sorted_values: FloatArray) -> tuple[FloatArray, bool]:
    """Give columns for an input with ties, and whether they are degrees: else one mean for each value."""
    draws = sorted_values.size
    _, member, size = np.unique(sorted_values, return_inverse=True, return_counts=True)
    if size.size == 1:
        return np.zeros((draws, 0)), True
    if size.size <= MOST_DISTINCT:
        columns = np.eye(size.size)[member.reshape(-1)]
        columns[:, 0] = 1.0
        return np.asarray(np.linalg.qr(columns)[0][:, 1:], dtype=np.float64), False
    last = np.cumsum(size)
    middle = (last - 0.5 * size) / draws
    return _polynomial_basis(ndtri(middle[member.reshape(-1)])), True


def _regress(
    leads: FloatArray, columns: FloatArray, by_degree: bool, evidence_ratio: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give fitted leads, leads predicted with the draw itself left out, and explained shares."""
    draws = leads.shape[1]
    leverage = np.full(draws, 1.0 / draws)
    fitted = np.broadcast_to(leads.mean(axis=1, keepdims=True), leads.shape).copy()
    residual = leads - fitted
    total = np.maximum((residual**2).sum(axis=1), np.finfo(np.float64).tiny)
    left_out = residual / (1.0 - leverage)[:, None]
    mean_square = left_out**2
    best_fit, best_prediction = fitted.copy(), leads - left_out
    best_error = mean_square.sum(axis=1)
    share = np.zeros(best_error.shape)
    coefficient = np.matmul(columns.T, leads)
    for degree in range(columns.shape[1]):
        part = columns[:, degree, None] * coefficient[:, degree, None, :]
        fitted += part
        residual -= part
        leverage = leverage + columns[:, degree] ** 2
        # Degrees compete one by one; the values of a choice only all together.
        if not by_degree and degree < columns.shape[1] - 1:
            continue
        left_out = residual / np.maximum(1.0 - leverage, 1e-9)[:, None]
        square = left_out**2
        error = square.sum(axis=1)
        gain = mean_square - square
        mean_gain = gain.mean(axis=1)
        noise = np.sqrt(np.maximum((gain**2).mean(axis=1) - mean_gain**2, 0.0) / draws)
        better = (error < best_error) & (mean_gain > evidence_ratio * noise)
        best_error = np.where(better, error, best_error)
        best_fit = np.where(better[:, None, :], fitted, best_fit)
        best_prediction = np.where(better[:, None, :], leads - left_out, best_prediction)
        share = np.where(better, 1.0 - (residual**2).sum(axis=1) / total, share)
    return best_fit, best_prediction, np.clip(share, 0.0, 1.0)
