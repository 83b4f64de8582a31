"""Trials: evidence reaches every machine that shares the quantity, and contradictions are said."""

from __future__ import annotations

import numpy as np
import pytest

from catalog_schema.priorities import Trial
from catalog_schema.quantity import Duration, Share
from model.decision import decide
from model.evaluate import evaluate
from model.pictures import kind_clearing
from model.trials import ResampledBook, predicted_residue, residue_left_share, weigh_trials, with_trials
from model.uncertainty import InputBook


def trial(left: float, minutes: float = 30.0, *, machine: str = "offer-a-batch-spray", error: float = 0.03, name="t1",
          component: str = "qfp-05", fluid: str = "saponified-water") -> Trial:  # fmt: skip
    return Trial(id=name, board_type="control-board", component=component, machine=machine, fluid=fluid,
                 wash_time=Duration(likely=minutes, unit="min"), residue_left=Share(likely=left),
                 measurement_error=Share(likely=error))  # fmt: skip


@pytest.fixture(scope="module")
def clean_result(decision_evaluation):
    share = predicted_residue(decision_evaluation, trial(0.0))
    return float(np.quantile(share, 0.15))


def test_all_is_left_at_the_start_and_nothing_after_the_time_for_the_whole_path(decision_evaluation):
    wash = decision_evaluation.machine("offer-d-vacuum-solvent").board("control-board").chosen.wash
    kind = wash.outcome.kinds[0]
    ones = np.ones(512)
    assert residue_left_share(kind, 0.0, ones) == pytest.approx(ones)
    assert residue_left_share(kind, float(kind.needed_time_s.max()) * 1.001, ones).max() <= 1e-12


def test_the_prediction_falls_with_time_and_uses_the_whole_flux_path(decision_evaluation):
    short, long = (predicted_residue(decision_evaluation, trial(0.5, minutes)) for minutes in (5.0, 60.0))
    assert (long <= short).all()
    wash = next(one.wash for one in decision_evaluation.machine("offer-a-batch-spray").board("control-board").fluids
                if one.fluid_id == "saponified-water")  # fmt: skip
    kind = kind_clearing(decision_evaluation, "control-board", wash, "qfp-05")
    columns = decision_evaluation.machine("offer-a-batch-spray").columns
    needed = columns["board_types[control-board].cleared_share_needed"]
    assert short == pytest.approx(residue_left_share(kind, 300.0, needed))


def test_a_cleaner_trial_than_expected_pulls_the_expectation_down(decision_evaluation, clean_result):
    summary = weigh_trials(decision_evaluation, (trial(clean_result),))
    finding = summary.findings[0]
    assert finding.posterior[1] < finding.prior[1]
    assert finding.posterior[2] - finding.posterior[0] < finding.prior[2] - finding.prior[0]
    assert summary.weights.sum() == pytest.approx(1.0)
    assert 1.0 <= summary.effective_sample_size < 512
    assert "One trial counts" in summary.headline


def test_the_evidence_reaches_every_machine_with_the_same_picks(decision_evaluation, clean_result):
    summary = weigh_trials(decision_evaluation, (trial(clean_result),))
    after = with_trials(decision_evaluation, summary)
    path = "component_kinds[qfp-05].gap"
    columns = [outcome.columns[path] for outcome in after.machines if path in outcome.columns]
    assert len(columns) > 2
    assert all((column == columns[0]).all() for column in columns)
    before = decision_evaluation.machine("offer-a-batch-spray").columns
    # The weighted mean of the prior draws is what the picked draws must have on average.
    for one in (path, "fluids[saponified-water].capacity.rosin"):
        if one in before:
            wanted = float(before[one] @ summary.weights)
            assert after.machine("offer-a-batch-spray").columns[one].mean() == pytest.approx(wanted, rel=0.02)
    assert after.machine("offer-a-batch-spray").probability >= decision_evaluation.machine(
        "offer-a-batch-spray").probability - 0.02  # fmt: skip
    assert after.fingerprint == decision_evaluation.fingerprint
    assert after.machines[0].fingerprint != decision_evaluation.machines[0].fingerprint
    assert decide(after).headline


def test_a_dirty_trial_lowers_the_chance_of_that_wash(decision_evaluation):
    share = predicted_residue(decision_evaluation, trial(0.0))
    dirty = trial(float(np.quantile(share, 0.97)))
    after = with_trials(decision_evaluation, weigh_trials(decision_evaluation, (dirty,)))

    def clears(evaluation):
        fluid = next(one for one in evaluation.machine("offer-a-batch-spray").board("control-board").fluids
                     if one.fluid_id == "saponified-water")  # fmt: skip
        return float(np.mean(fluid.wash.outcome.needed_time_s <= fluid.wash.max_time_s))

    assert clears(after) < clears(decision_evaluation)


def test_the_same_trials_give_the_same_evaluation(decision_evaluation, clean_result):
    summary = weigh_trials(decision_evaluation, (trial(clean_result),))
    one, two = (with_trials(decision_evaluation, summary, threads=threads) for threads in (1, 2))
    assert one.verdicts.equals(two.verdicts)


def test_no_trial_leaves_the_evaluation_itself(decision_evaluation):
    summary = weigh_trials(decision_evaluation, ())
    assert with_trials(decision_evaluation, summary) is decision_evaluation
    assert summary.effective_sample_size == pytest.approx(512)
    assert "No trial has been entered" in summary.headline


def test_a_trial_that_contradicts_the_model_is_warned_about(decision_evaluation):
    wrong = trial(1.0, 2000.0, machine="offer-d-vacuum-solvent", fluid="modified-alcohol", error=0.01)
    summary = weigh_trials(decision_evaluation, (wrong,))
    assert any("contradicts the model" in one for one in summary.warnings)


def test_a_single_weighty_trial_warns_when_few_draws_are_left(decision_evaluation):
    share = predicted_residue(decision_evaluation, trial(0.0))
    many = tuple(trial(float(np.quantile(share, 0.02)), name=f"t{n}", error=0.001) for n in range(30))
    summary = weigh_trials(decision_evaluation, many)
    assert summary.effective_sample_size < 51
    assert any("still count" in one for one in summary.warnings)


def test_trials_that_fit_nothing_are_said_and_left_out(decision_evaluation):
    lost = (trial(0.2, machine="manual-brush", name="gone"), trial(0.2, fluid="modified-alcohol", name="other"),
            trial(0.2, component="bga-35", name="kind"))  # fmt: skip
    summary = weigh_trials(decision_evaluation, lost)
    assert summary.used == 0
    assert all(finding.problem for finding in summary.findings)
    assert len(summary.warnings) == 3
    assert with_trials(decision_evaluation, summary) is decision_evaluation


def test_a_resampled_book_picks_the_same_draws_of_every_quantity():
    index = np.array([3, 3, 0, 1])
    quantity = Share(low=0.1, likely=0.4, high=0.9)
    plain, picked = InputBook(4, 1, {}), ResampledBook(4, 1, {}, index)
    assert (picked.take(quantity, "a", "stated") == plain.take(quantity, "a", "stated")[index]).all()
    assert (picked.take(quantity, "a", "stated") == plain.take(quantity, "a", "stated")[index]).all()
    assert picked.inputs() == plain.inputs()
    assert (picked.uncertain_columns()["a"] == plain.take(quantity, "a", "stated")[index]).all()


def test_a_trial_with_a_fluid_not_chosen_counts_also_where_only_chosen_stages_are_kept(decision_case):
    full, lean = (evaluate(decision_case, draws=64, rays=1024, details=kept) for kept in ("all fluids", "chosen fluid"))
    board = full.machine("offer-b-inline").board("control-board")
    other = next(one.fluid_id for one in board.fluids if one.fluid_id != board.chosen.fluid_id and one.wash is not None)
    one = trial(0.3, machine="offer-b-inline", fluid=other)
    assert predicted_residue(lean, one) == pytest.approx(predicted_residue(full, one))
    after = with_trials(lean, weigh_trials(lean, (one,)))
    assert after.details == "chosen fluid"
    assert after.verdicts.equals(with_trials(full, weigh_trials(full, (one,))).verdicts)
