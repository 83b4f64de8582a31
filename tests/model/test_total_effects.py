"""Total effects from draws: exact for what a quadratic can be, honest about what it cannot."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial.legendre import legval
from SALib.analyze import sobol as salib_sobol
from SALib.sample import sobol as salib_sample

from model.total_effects import MOST_INPUTS, _terms, total_effects

UNIT = (np.random.default_rng(7).random((1024, 3)) - 0.5) * np.sqrt(12.0)


def test_a_product_has_no_first_order_and_all_total_effect() -> None:
    effects = total_effects(UNIT, UNIT[:, 0] * UNIT[:, 1])
    assert effects.explained_share == pytest.approx(1.0, abs=1e-2)
    assert effects.first_order[:2] == pytest.approx([0.0, 0.0], abs=0.05)
    assert effects.total[:2] == pytest.approx([1.0, 1.0], abs=0.05)
    assert effects.total[2] == pytest.approx(0.0, abs=0.02)


def test_a_sum_shares_out_by_variance_and_first_order_equals_total() -> None:
    effects = total_effects(UNIT, 2.0 * UNIT[:, 0] + UNIT[:, 1])
    assert effects.first_order[:2] == pytest.approx([0.8, 0.2], abs=0.02)
    assert effects.total[:2] == pytest.approx([0.8, 0.2], abs=0.02)


def test_it_agrees_with_salib_run_on_the_true_function() -> None:
    # L: live against SALib's estimator on y = a + ab + c², inputs uniform 0-1.
    problem = {"num_vars": 3, "names": ["a", "b", "c"], "bounds": [[0.0, 1.0]] * 3}
    sample = salib_sample.sample(problem, 4096, seed=1)
    outside = salib_sobol.analyze(problem, sample[:, 0] + sample[:, 0] * sample[:, 1] + sample[:, 2] ** 2, seed=1)
    drawn = np.random.default_rng(3).random((2048, 3))
    effects = total_effects(drawn, drawn[:, 0] + drawn[:, 0] * drawn[:, 1] + drawn[:, 2] ** 2)
    np.testing.assert_allclose(effects.total, outside["ST"], atol=0.02)
    np.testing.assert_allclose(effects.first_order, outside["S1"], atol=0.02)


def test_a_single_input_has_its_own_effect_alone() -> None:
    effects = total_effects(UNIT[:, :1], UNIT[:, 0])
    assert effects.first_order == pytest.approx([1.0], abs=0.01)
    assert effects.total == pytest.approx([1.0], abs=0.01)


def test_noise_is_not_explained() -> None:
    effects = total_effects(UNIT, np.random.default_rng(9).standard_normal(1024))
    assert effects.explained_share < 0.05
    assert effects.total.max() < 0.05


def test_what_a_quadratic_cannot_follow_lowers_the_explained_share() -> None:
    effects = total_effects(UNIT, np.sin(20.0 * UNIT[:, 0]))
    assert effects.explained_share < 0.1


def test_constant_output_and_no_inputs_give_zero() -> None:
    constant = total_effects(UNIT, np.ones(1024))
    assert constant.explained_share == 0.0
    assert constant.first_order.tolist() == constant.total.tolist() == [0.0, 0.0, 0.0]
    assert total_effects(np.zeros((64, 0)), np.arange(64.0)).total.size == 0


def test_too_many_inputs_or_too_few_draws_are_refused() -> None:
    with pytest.raises(ValueError, match="more than"):
        total_effects(np.random.default_rng(1).random((500, MOST_INPUTS + 1)), np.arange(500.0))
    with pytest.raises(ValueError, match="too few"):
        total_effects(UNIT[:20], UNIT[:20, 0])


def test_terms_are_legendre_polynomials_of_unit_variance() -> None:
    # numpy's Legendre series on −1 to 1; normalised they are orthonormal over the unit square.
    grid = (np.arange(200) + 0.5) / 200
    unit = np.stack([one.ravel() for one in np.meshgrid(grid, grid)], axis=1)
    terms = _terms(unit)
    for column, degree in ((1, 1), (3, 2)):
        wanted = np.sqrt(2 * degree + 1) * legval(2.0 * unit[:, 0] - 1.0, np.eye(degree + 1)[degree])
        np.testing.assert_allclose(terms[:, column], wanted, atol=1e-12)
    np.testing.assert_allclose(terms.T @ terms / len(unit), np.eye(6), atol=2e-4)


def test_what_the_stand_in_predicts_worse_than_the_mean_explains_nothing() -> None:
    found = [total_effects(UNIT, np.random.default_rng(seed).standard_normal(1024)) for seed in range(4)]
    assert any(one.explained_share == 0.0 for one in found)
    for one in found:
        assert one.explained_share >= 0.0
        assert (one.total >= 0.0).all()
        assert one.explained_share > 0.0 or not (one.total.any() or one.first_order.any())


def test_the_seed_is_one_unless_another_is_given() -> None:
    output = UNIT[:, 0] * UNIT[:, 1] + UNIT[:, 2]
    usual, same, other = total_effects(UNIT, output), total_effects(UNIT, output, seed=1), total_effects(
        UNIT, output, seed=2)  # fmt: skip
    assert (usual.total == same.total).all()
    assert (usual.total != other.total).any()


def test_the_draws_needed_are_said() -> None:
    with pytest.raises(ValueError, match=r"^29 draws are too few for 10 terms\. Give at least 30\.$"):
        total_effects(UNIT[:29], UNIT[:29, 0])
    assert total_effects(UNIT[:30], UNIT[:30, 0]).total.shape == (3,)


def test_the_explained_share_is_that_of_draws_predicted_without_themselves() -> None:
    # The stand-in fitted anew without each draw in turn predicts that draw.
    inputs = UNIT[:40, :2]
    output = np.exp(inputs[:, 0]) + inputs[:, 1] + 0.5 * np.random.default_rng(2).standard_normal(40)
    basis = _terms((inputs.argsort(axis=0).argsort(axis=0) + 0.5) / 40)
    missed = []
    for left_out in range(40):
        kept = np.arange(40) != left_out
        coefficients = np.linalg.lstsq(basis[kept], output[kept], rcond=None)[0]
        missed.append(output[left_out] - basis[left_out] @ coefficients)
    expected = 1.0 - np.mean(np.square(missed)) / np.var(output)
    assert 0.3 < expected < 0.95
    assert total_effects(inputs, output).explained_share == pytest.approx(expected, rel=1e-9)


def test_a_bowl_and_a_line_of_equal_variance_share_evenly_however_few_the_draws() -> None:
    # Output is a sum of two terms of unit variance of the middles of 32 classes, in shuffled order.
    middles = (np.arange(32) + 0.5) / 32
    inputs = np.column_stack([middles, np.random.default_rng(5).permutation(middles)])
    terms = _terms(inputs)
    effects = total_effects(inputs, terms[:, 3] + terms[:, 2])
    assert effects.explained_share == pytest.approx(1.0)
    assert effects.first_order == pytest.approx([0.5, 0.5], abs=0.005)
    assert effects.total == pytest.approx([0.5, 0.5], abs=0.005)


def test_effects_are_shares_of_all_the_variance_not_only_of_what_is_explained() -> None:
    noisy = total_effects(UNIT[:, :1], UNIT[:, 0] + np.random.default_rng(4).standard_normal(1024))
    assert noisy.explained_share == pytest.approx(0.5, abs=0.05)
    assert noisy.first_order == pytest.approx([noisy.explained_share], rel=0.01)
    assert noisy.total == pytest.approx([noisy.explained_share], rel=0.01)
