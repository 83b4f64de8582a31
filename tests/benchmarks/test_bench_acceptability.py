"""Rank acceptability side by side with pymcdm and scikit-criteria loops and the straightforward argsort
form."""

from __future__ import annotations

import time
import tracemalloc

import numpy as np
import pytest
import skcriteria
from pymcdm.helpers import rrankdata
from pymcdm.methods import WSM
from skcriteria.agg.simple import WeightedSumModel

from model.acceptability import sample_acceptability
from model.acceptability_exact import exact_first_rank, exact_pairwise_win_share
from model.weight_sets import AllWeights

pytestmark = pytest.mark.benchmark

DRAWS = 1_000_000
FEW = 400  # the libraries rank one weight vector a call: timed on few and scaled up
VALUES = np.random.default_rng(1).random((16, 7))
TYPES = np.ones(7)


def timed(function, repeats):
    best, result = np.inf, None
    for _ in range(repeats):
        start = time.perf_counter()
        result = function()
        best = min(best, time.perf_counter() - start)
    return best, result


def peak_bytes(function):
    tracemalloc.start()
    try:
        function()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def argsort_form():
    """Weigh, sort and count everything at once: what one would write first."""
    weights = np.random.default_rng(2).dirichlet(np.ones(7), DRAWS)
    order = np.argsort(-(weights @ VALUES.T), axis=1)
    return np.stack([np.bincount(order[:, r], minlength=16) for r in range(16)], axis=1) / DRAWS


def pymcdm_ranks(weights):
    method = WSM(normalization_function=lambda column, cost=False: column)
    return np.array([rrankdata(method(VALUES, w, TYPES)) for w in weights])


def scikit_criteria_ranks(weights):
    method = WeightedSumModel()
    return np.array([method.evaluate(skcriteria.mkdm(VALUES, [1] * 7, weights=w)).rank_ for w in weights])


def test_acceptability_against_argsort_and_library_loops(capsys):
    weights = np.random.default_rng(3).dirichlet(np.ones(7), FEW)
    scale = DRAWS / FEW
    ours, result = timed(lambda: sample_acceptability(VALUES, AllWeights(), draws=DRAWS), 5)
    one_thread, single = timed(lambda: sample_acceptability(VALUES, AllWeights(), draws=DRAWS, threads=1), 3)
    sorting, sorted_shares = timed(argsort_form, 2)
    pymcdm_time, pymcdm_found = timed(lambda: pymcdm_ranks(weights), 1)
    skcriteria_time, skcriteria_found = timed(lambda: scikit_criteria_ranks(weights), 1)
    memory = peak_bytes(lambda: sample_acceptability(VALUES, AllWeights(), draws=DRAWS))
    sorting_memory = peak_bytes(argsort_form)

    np.testing.assert_array_equal(result.rank_share, single.rank_share)
    np.testing.assert_array_equal(pymcdm_found, skcriteria_found)
    scores = weights @ VALUES.T
    np.testing.assert_array_equal(pymcdm_found, 1 + (scores[:, None, :] > scores[:, :, None]).sum(axis=2))
    np.testing.assert_allclose(result.rank_share, sorted_shares, atol=0.003)

    with capsys.disabled():
        print(f"\nrank acceptability, {DRAWS} weight draws × 16 candidates × 7 criteria")
        print(f"  here, 2 threads        {ours:8.3f} s  {memory / 1e6:6.1f} MB")
        print(f"  here, 1 thread         {one_thread:8.3f} s")
        print(f"  argsort at once        {sorting:8.3f} s  {sorting_memory / 1e6:6.1f} MB")
        for name, spent in (
            ("argsort at once", sorting),
            ("pymcdm loop, scaled", pymcdm_time * scale),
            ("scikit-criteria loop, scaled", skcriteria_time * scale),
        ):
            print(f"  {name}: {spent:.1f} s, {spent / ours:.1f} times as long as here")
    assert memory < 50e6
    assert ours < sorting
    assert ours * 50 < pymcdm_time * scale
    assert ours * 50 < skcriteria_time * scale


def test_exact_shares_against_sampling_to_the_same_accuracy(capsys):
    exact_time, exact = timed(lambda: exact_first_rank(VALUES, AllWeights()), 3)
    pair_time, _ = timed(lambda: exact_pairwise_win_share(VALUES), 3)
    sample_time, sampled = timed(lambda: sample_acceptability(VALUES, AllWeights(), draws=DRAWS), 3)
    apart = np.abs(exact.first_share - sampled.rank_share[:, 0])
    assert np.all(apart <= 5.0 * sampled.standard_error[:, 0] + 3.0 / DRAWS)
    with capsys.disabled():
        print(f"\nexact first-rank shares {exact_time:.3f} s, pairwise shares {pair_time * 1e3:.2f} ms")
        print(
            f"  sampling {DRAWS} draws {sample_time:.3f} s, largest error {apart.max():.1e}, "
            f"largest standard error {sampled.standard_error[:, 0].max():.1e}"
        )
    assert exact_time < 50 * sample_time
