"""Which candidates are dominated, and which no weights can put first, each with a witness or a proof."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.linalg import block_diag
from scipy.optimize import linprog

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

SOLVER_TOLERANCE = 1e-9
"""Feasibility tolerance of the LP solver, in units of the largest value difference: what is short by less is
a tie."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PotentialOptimality:
    """Whether some weights put a candidate first, each time with a witness or a proof."""

    potentially_first: BoolArray
    """Whether some weights make it at least as good as every other, shape (candidates,)."""
    margin: FloatArray
    """Largest lead over the best other that any weights give it, value units; infinite if alone."""
    witness_weights: FloatArray
    """Weights that give this margin, shares, shape (candidates, criteria)."""
    blocking_mixture: FloatArray
    """Shares of other candidates whose average is at least -margin better on every criterion, shape
    (candidates, candidates): the proof where the margin is negative."""


def dominance_matrix(values: FloatArray) -> BoolArray:
    """Tell which candidate dominates which: nowhere worse and somewhere better.

    Parameters
    ----------
    values : ndarray, shape (candidates, criteria)
        Value 0-1.

    Returns
    -------
    ndarray of bool, shape (candidates, candidates)
        True where the row dominates the column. Identical candidates do not dominate each other.

    Examples
    --------
    >>> dominance_matrix(np.array([[1.0, 1.0], [1.0, 0.0]])).tolist()
    [[False, True], [False, False]]

    """
    table = np.asarray(values, dtype=np.float64)
    difference = table[:, None, :] - table[None, :, :]
    dominates: BoolArray = np.all(difference >= 0.0, axis=2) & np.any(difference > 0.0, axis=2)
    return dominates


def potential_optimality(values: FloatArray) -> PotentialOptimality:
    """Tell which candidates some weights put first, with such weights or a proof that there are none.

    Parameters
    ----------
    values : ndarray, shape (candidates, criteria)
        Value 0-1.

    Returns
    -------
    PotentialOptimality
        Margin, witness weights and blocking mixture for each candidate.

    Raises
    ------
    ValueError
        Values not finite or of wrong shape; RuntimeError if the LP solver fails.

    Notes
    -----
    max t subject to (v_r − v_j)·w ≥ t for every other j, Σw = 1, w ≥ 0. Its dual is a mixture λ of the others
    with Σ λ_j v_j ≥ v_r − t on every criterion; for t < 0 the mixture beats r whatever the weights. All
    candidates go into one block-diagonal LP (HiGHS).

    Examples
    --------
    >>> potential_optimality(np.array([[1.0, 0.0], [0.0, 1.0], [0.4, 0.4]])).potentially_first.tolist()
    [True, True, False]

    """
    table = np.asarray(values, dtype=np.float64)
    if table.ndim != 2 or table.shape[1] == 0 or not np.isfinite(table).all():
        raise ValueError(f"Values have shape {table.shape}. Give finite values, (candidates, criteria).")
    candidates, criteria = table.shape
    mixture = np.zeros((candidates, candidates))
    if candidates <= 1:
        return PotentialOptimality(
            potentially_first=np.ones(candidates, dtype=np.bool_),
            margin=np.full(candidates, np.inf),
            witness_weights=np.full(table.shape, 1.0 / criteria),
            blocking_mixture=mixture,
        )
    scale = largest_difference(table)
    blocks = [
        np.column_stack([(np.delete(table, r, axis=0) - table[r]) / scale, np.ones(candidates - 1)])
        for r in range(candidates)
    ]
    one = np.append(np.ones(criteria), 0.0)[None]
    solution = linprog(
        np.tile(np.append(np.zeros(criteria), -1.0), candidates),
        A_ub=block_diag(*blocks),
        b_ub=np.zeros(candidates * (candidates - 1)),
        A_eq=block_diag(*([one] * candidates)),
        b_eq=np.ones(candidates),
        bounds=[*[(0.0, 1.0)] * criteria, (None, None)] * candidates,
        method="highs",
        options={
            "primal_feasibility_tolerance": SOLVER_TOLERANCE,
            "dual_feasibility_tolerance": SOLVER_TOLERANCE,
        },
    )
    if solution.x is None:
        raise RuntimeError(f"The LP for potential optimality was not solved: {solution.message}")
    answer = solution.x.reshape(candidates, criteria + 1)
    margin = answer[:, -1]
    prices = -np.asarray(solution.ineqlin.marginals).reshape(candidates, candidates - 1)
    for r in range(candidates):
        mixture[r, np.arange(candidates) != r] = prices[r]
    return PotentialOptimality(
        potentially_first=margin >= -SOLVER_TOLERANCE,
        margin=margin * scale,
        witness_weights=answer[:, :-1],
        blocking_mixture=mixture,
    )


def largest_difference(table: FloatArray) -> float:
    """Give the largest value difference on any criterion, or 1 if there is none, to scale the LPs by.

    Parameters
    ----------
    table : ndarray, shape (candidates, criteria)
        Value 0-1; at least one candidate.

    Returns
    -------
    float
        Value units.

    """
    largest = float(np.ptp(table, axis=0).max())
    return largest if largest > 0.0 else 1.0
