"""Questions and trial plan: worth in money, turning points, and exports."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from model.criteria import COST
from model.plan_text import as_csv, question_rows, questions_markdown, trial_rows, trials_markdown
from model.questions import knowing, must_change, price_of_score, turning_point, worth_finding_out
from model.trial_plan import trial_plan


def planted(decision, evaluation, path, size):
    """Give the decision scores in which one silent quantity alone decides between first and second."""
    outcome = evaluation.machine(path[path.index("[") + 1 : path.index("]")])
    column = outcome.columns[path]
    standard = (column - column.mean()) / column.std()
    scores = np.full_like(decision.scores, 0.2)
    scores[:, decision.leader] = 0.51
    scores[:, decision.runner_up] = 0.5 + size * standard
    return replace(decision, scores=scores)


def silent_path(evaluation, decision):
    for row in (decision.runner_up, decision.leader):
        outcome = evaluation.machine(decision.table.machine_ids[row])
        for record in outcome.inputs:
            if record.path.startswith("candidates[") and not record.stated and record.path in outcome.columns:
                return record.path
    raise AssertionError("every quantity is stated")


def test_a_point_of_score_is_worth_what_makes_up_for_it_in_cost(decision):
    place = decision.table.criteria.index(COST)
    (low, _), (high, _) = decision.table.value_functions[place].points
    assert price_of_score(decision) == pytest.approx((high - low) / decision.weights[place])


def test_without_weight_on_cost_nothing_has_a_price(table_of, decided):
    table = table_of([[0.5, 0.6], [0.2, 0.4]], criteria=("drying", COST))
    assert price_of_score(decided(table, (1, 0))) is None


def test_a_planted_silent_quantity_is_the_first_ranked_question_with_its_worth(decision, decision_evaluation):
    path = silent_path(decision_evaluation, decision)
    worth = worth_finding_out(decision_evaluation, planted(decision, decision_evaluation, path, 0.1))
    asked = [one for one in worth.questions if one.score_worth > 0.0]
    assert asked[0].path == path
    assert asked[0].worth == pytest.approx(asked[0].score_worth * worth.money_per_point)
    # Knowing this one is knowing everything that matters here (regression error aside).
    assert asked[0].score_worth == pytest.approx(worth.perfect_score, rel=0.1)
    assert 0.3 < asked[0].change_share < 0.6
    assert "would put" in asked[0].sentence("metric", "EUR")
    assert asked[0].sentence("metric", "EUR").startswith("Ask ")


def test_scores_that_nothing_moves_leave_no_answer_worth_money(decision, decision_evaluation):
    level = replace(decision, scores=np.tile(np.linspace(0.9, 0.1, decision.scores.shape[1]), (512, 1)))
    worth = worth_finding_out(decision_evaluation, level)
    assert worth.perfect_score == 0.0
    assert all(one.score_worth == 0.0 for one in worth.questions)


def test_questions_are_numbered_and_only_about_offers_that_are_left(decision, decision_evaluation):
    worth = worth_finding_out(decision_evaluation, decision)
    assert [one.number for one in worth.questions] == list(range(1, len(worth.questions) + 1))
    offers = {one.id for one in decision_evaluation.case.candidates} & set(decision.table.machine_ids)
    assert {one.machine_id for one in worth.questions} <= offers


def test_a_must_that_cannot_be_judged_is_asked_first(decision_case, change):
    from model.decision import decide
    from model.evaluate import evaluate

    silent = tuple(
        change(one, {"rack.point_to_point": None, "rack.to_ground": None}) if one.id == "offer-a-batch-spray" else one
        for one in decision_case.candidates
    )
    classes = tuple(
        change(one, {"rack.point_to_point": None, "rack.to_ground": None})
        for one in evaluate(decision_case, draws=64, rays=1024).library.machine_classes
        if one.id == "batch-diffused-spray"
    )
    case = decision_case.model_copy(update={"candidates": silent, "machine_classes": classes})
    evaluation = evaluate(case, draws=64, rays=1024)
    worth = worth_finding_out(evaluation, decide(evaluation))
    assert worth.questions[0].path.startswith("musts[offer-a-batch-spray]")
    assert worth.questions[0].quantity.startswith("how is this met")


def test_turning_point_is_found_where_the_rival_takes_over():
    column = np.random.default_rng(1).permutation(np.linspace(0.0, 10.0, 512))
    scores = np.stack([np.full(512, 0.6), 0.1 * column], axis=1)
    side, value, rival = turning_point(column, scores)
    assert (side, rival) == ("above", 1)
    assert value == pytest.approx(6.0, abs=0.3)
    side, value, _ = turning_point(-column, scores)
    assert (side, value) == ("below", pytest.approx(-6.0, abs=0.3))
    assert turning_point(column, np.stack([np.ones(512), np.zeros(512)], axis=1)) is None


def test_must_change_sees_a_planted_cause_and_not_chance():
    column = np.random.default_rng(3).permutation(np.linspace(0.0, 1.0, 512))
    assert must_change(column, column > 0.5) == pytest.approx(1.0)
    assert must_change(column, np.ones(512, dtype=np.bool_)) == 0.0
    assert must_change(column, np.random.default_rng(4).random(512) > 0.5) == 0.0


def test_too_few_draws_give_no_worth(decision):
    assert knowing(replace(decision, scores=decision.scores[:30]), np.zeros((30, 1))) is None


def test_trials_are_planned_where_the_wash_is_uncertain(decision_case, change):
    from model.decision import decide
    from model.evaluate import evaluate

    shorter = tuple(
        change(one, {"wash.max_time": "60 min"}) if one.id == "offer-a-batch-spray" else one
        for one in decision_case.candidates
    )
    evaluation = evaluate(decision_case.model_copy(update={"candidates": shorter}), draws=256, rays=4096)
    decision = decide(evaluation)
    steps = trial_plan(evaluation, decision)
    assert steps
    for step in steps:
        clean = evaluation.machine(step.machine_id).board(step.board_id).chosen.wash
        assert step.probability_clean == pytest.approx(float(np.mean(clean.outcome.needed_time_s <= clean.max_time_s)))
        assert 0.02 < step.probability_clean < 0.98
        assert step.component_id == clean.outcome.kinds[0].kind.id
        text = step.sentence("metric", "EUR")
        assert step.component_name in text
        assert f"for {step.minutes:.0f} min" in text
    assert "Found: ______" in trials_markdown(steps)
    assert len(trial_rows(steps)) == len(steps)


def test_exports_hold_every_question_and_no_formula(decision, decision_evaluation):
    worth = worth_finding_out(decision_evaluation, decision)
    evil = replace(worth.questions[0], machine_name="=1+1", supplier="=HYPERLINK(1)")
    frame = question_rows([evil, *worth.questions[1:]], "metric", "EUR")
    read = list(csv.reader(io.StringIO(as_csv(frame))))
    assert len(read) == len(worth.questions) + 1
    assert read[1][1] == "'=HYPERLINK(1)"
    text = questions_markdown(worth.questions, "US", "EUR")
    assert all(one.quantity in text for one in worth.questions)
    assert "None: no answer" in questions_markdown(())
    assert "None: no wash" in trials_markdown(())
