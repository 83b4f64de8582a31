"""Total Sobol indices from draws already made, by a quadratic stand-in that is checked on draws it has not seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import rankdata, uniform

from model.sensitivity import sobol_sensitivity
from model.uncertainty import FloatArray

MOST_INPUTS = 8
"""Inputs in the stand-in: their squares and products together stay well below the number of draws."""

SOBOL_SAMPLES = 1024
"""Base samples of the stand-in, which costs nothing to run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TotalEffects:
    """First-order and total shares of some inputs, as far as the stand-in explains the output."""

    first_order: FloatArray
    """Share 0-1 of the output's variance that an input explains alone, shape (inputs,)"""
    total: FloatArray
    """Share 0-1 that it explains alone and together with the other inputs listed, shape (inputs,)"""
    explained_share: float
    """Share 0-1 of the output's variance that the stand-in predicts on draws left out of its fit."""


def _terms(unit: FloatArray) -> FloatArray:
    """Legendre polynomials of degree 1 and 2 and all products of two degree-1 ones; unit has shape (n, inputs)."""
    line = np.sqrt(3.0) * (2.0 * unit - 1.0)
    bowl = np.sqrt(5.0) * (6.0 * unit * unit - 6.0 * unit + 1.0)
    pairs = [line[:, i] * line[:, j] for i in range(unit.shape[1]) for j in range(i)]
    return np.column_stack([np.ones(unit.shape[0]), line, bowl, *pairs])


def total_effects(inputs: FloatArray, output: FloatArray, *, seed: int = 1) -> TotalEffects:
    """Estimate total Sobol indices without running the model again.

    Parameters
    ----------
    inputs : ndarray (draws, inputs)
        Columns of independent inputs, at most MOST_INPUTS.
    output : ndarray (draws,)
    seed : int

    Returns
    -------
    TotalEffects

    Raises
    ------
    ValueError
        More than MOST_INPUTS inputs, or too few draws for the stand-in.

    Notes
    -----
    Each input is replaced by its rank, which is uniform; the output is fitted by least squares with Legendre
    polynomials up to degree 2 and products of pairs. `sobol_sensitivity` takes
    the indices of that stand-in, and they are scaled by the share of variance it predicts on draws left out one at a
    time (leave-one-out residual e/(1 − leverage)). Effects that only inputs outside the list share in are not seen;
    correlated inputs are not handled. Basis: polynomial chaos, as in Sudret 2008 (from memory).
    """
    draws, count = inputs.shape
    if count > MOST_INPUTS:
        raise ValueError(f"{count} inputs are more than {MOST_INPUTS}. Give the strongest only.")
    terms = 1 + 2 * count + count * (count - 1) // 2
    if draws < 3 * terms:
        raise ValueError(f"{draws} draws are too few for {terms} terms. Give at least {3 * terms}.")
    none = np.zeros(count)
    spread = float(np.var(output))
    if count == 0 or spread <= 0.0:
        return TotalEffects(first_order=none, total=none, explained_share=0.0)
    unit = (rankdata(inputs, axis=0) - 0.5) / draws
    basis = _terms(unit)
    coefficients, *_ = np.linalg.lstsq(basis, output, rcond=None)
    orthogonal, _ = np.linalg.qr(basis)
    leverage = np.minimum(np.sum(orthogonal**2, axis=1), 1.0 - 1e-9)
    left_out = (output - basis @ coefficients) / (1.0 - leverage)
    explained = float(np.clip(1.0 - np.mean(left_out**2) / spread, 0.0, 1.0))
    if explained == 0.0:
        return TotalEffects(first_order=none, total=none, explained_share=0.0)
    indices = sobol_sensitivity(
        lambda sample: _terms(np.asarray(sample).T) @ coefficients, [uniform()] * count, samples=SOBOL_SAMPLES,
        seed=seed, resamples=2,
    )  # fmt: skip
    return TotalEffects(
        first_order=np.clip(indices.first_order, 0.0, 1.0) * explained,
        total=np.clip(indices.total, 0.0, 1.0) * explained, explained_share=explained,
    )  # fmt: skip
