"""TOPSIS and PROMETHEE II against published tables, pymcdm and scikit-criteria."""

from __future__ import annotations

import numpy as np
import pytest
import skcriteria
from numpy.typing import NDArray
from pymcdm.methods import PROMETHEE_II, TOPSIS
from skcriteria.agg.topsis import TOPSIS as PeerTopsis
from skcriteria.preprocessing.scalers import VectorScaler

from model.second_opinions import Preference, promethee, topsis

SEEDS = range(6)


def random_table(seed: int) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Measures in very different units, weights, and which criteria are better when larger."""
    random = np.random.default_rng(seed)
    candidates, criteria = random.integers(2, 17), random.integers(2, 8)
    scale = 10.0 ** random.integers(-3, 6, size=criteria)
    measures = random.uniform(0.1, 1.0, (candidates, criteria)) * scale
    # A tied entry in each table.
    measures[0, 0] = measures[1, 0]
    return measures, random.dirichlet(np.ones(criteria)), random.random(criteria) < 0.6


def test_weighted_table_of_a_published_topsis_example() -> None:
    # P: worked example after Yoon & Hwang 1995 in lecture slides (Sennaroğlu, Decision Analysis, 2009):
    # three alternatives, two criteria, weights .714 and .286; printed to four figures.
    result = topsis([[17, 12], [10, 9], [8, 6]], [0.714, 0.286])
    expected = [[0.5703, 0.2124], [0.3355, 0.1593], [0.2684, 0.1062]]
    assert np.array(result.weighted) == pytest.approx(np.array(expected), abs=1e-4)
    assert result.order == (0, 1, 2)


@pytest.mark.parametrize("seed", SEEDS)
def test_topsis_agrees_with_pymcdm(seed: int) -> None:
    # L: live. Vector normalisation is set explicitly: pymcdm 1.4 uses minimum and maximum by default.
    measures, weights, larger = random_table(seed)
    peer = TOPSIS(normalization_function="vector_normalization")
    expected = peer(measures, weights, np.where(larger, 1, -1))
    assert topsis(measures, weights, larger_is_better=larger).closeness == pytest.approx(expected, abs=1e-9)


def test_the_default_normalisation_of_pymcdm_is_not_the_vector_norm() -> None:
    # L: live. If this fails the library has changed its default and the explicit setting above is moot.
    measures, weights, larger = random_table(0)
    expected = TOPSIS()(measures, weights, np.where(larger, 1, -1))
    ours = topsis(measures, weights, larger_is_better=larger).closeness
    assert np.abs(np.array(ours) - expected).max() > 1e-3


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.filterwarnings("ignore:Although TOPSIS can operate with minimization objectives")
def test_topsis_agrees_with_scikit_criteria(seed: int) -> None:
    # L: live. Vector normalisation is a separate, explicit step there.
    measures, weights, larger = random_table(seed)
    problem = skcriteria.mkdm(measures, np.where(larger, 1, -1), weights=weights)
    expected = PeerTopsis().evaluate(VectorScaler(target="matrix").transform(problem)).e_.similarity
    assert topsis(measures, weights, larger_is_better=larger).closeness == pytest.approx(expected, abs=1e-9)


def test_flows_of_the_published_promethee_example() -> None:
    # P: example in pymcdm's own documentation of PROMETHEE I and II, printed to two decimals.
    result = promethee([[4, 3, 2], [3, 2, 4], [5, 1, 3]], [0.5, 0.3, 0.2])
    assert result.leaving_flow == pytest.approx((0.55, 0.35, 0.60), abs=1e-12)
    assert result.entering_flow == pytest.approx((0.45, 0.65, 0.40), abs=1e-12)
    assert result.net_flow == pytest.approx((0.1, -0.3, 0.2), abs=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_promethee_with_usual_preference_agrees_with_pymcdm(seed: int) -> None:
    # L: live. scikit-criteria 0.10 has no PROMETHEE to compare with.
    measures, weights, larger = random_table(seed)
    expected = PROMETHEE_II("usual")(measures, weights, np.where(larger, 1, -1))
    assert promethee(measures, weights, larger_is_better=larger).net_flow == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(("peer_shape", "indifference_share"), [("vshape", 0.0), ("vshape_2", 0.15)])
def test_promethee_with_linear_preference_agrees_with_pymcdm(
    seed: int, peer_shape: str, indifference_share: float
) -> None:
    # L: live. V-shape, and V-shape with indifference.
    measures, weights, larger = random_table(seed)
    spread = np.ptp(measures, axis=0)
    full, indifference = 0.6 * spread, indifference_share * spread
    peer = PROMETHEE_II(peer_shape, p=list(full), q=list(indifference) if indifference_share else None)
    shapes = [
        Preference(shape="linear", indifference=low, full_preference=high)
        for low, high in zip(indifference, full, strict=True)
    ]
    ours = promethee(measures, weights, shapes, larger_is_better=larger).net_flow
    assert ours == pytest.approx(peer(measures, weights, np.where(larger, 1, -1)), abs=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_promethee_agrees_with_its_formula_written_out(seed: int) -> None:
    # N: φ(a) = Σ_b Σ_j w_j sign(x_aj − x_bj)/(n − 1) for the usual preference function.
    measures, weights, larger = random_table(seed)
    signed = measures * np.where(larger, 1.0, -1.0)
    wins = np.sign(signed[:, np.newaxis] - signed[np.newaxis]) @ weights
    expected = wins.sum(axis=1) / (len(measures) - 1)
    assert promethee(measures, weights, larger_is_better=larger).net_flow == pytest.approx(
        expected, abs=1e-12
    )
