"""Questions and trial plan: worth in money, turning points, and exports."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from model.criteria import COST
from model.drivers import open_columns
from model.phrase import phrase
from model.plan_text import as_csv, question_rows, questions_markdown, trial_rows, trials_markdown
from model.questions import (
    Question,
    _headline,
    _question,
    _would_change,
    knowing,
    must_change,
    price_of_score,
    turning_point,
    worth_finding_out,
)
from model.trial_plan import trial_plan
from model.value import ValueFunction


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


# ---- by hand ------------------------------------------------------------------------------------------------------

DRAWS = 512
UNIFORM = np.random.default_rng(8).permutation((np.arange(DRAWS) + 0.5) / DRAWS)
PATH = "candidates[b].wash.max_time"


def priced(table_of, decided, *costs, weights=(0.75, 0.25), points=((0.0, 1.0), (100.0, 0.5), (300.0, 0.0))):
    """Decide between machines of equal drying by cost on a bent value function."""
    function = ValueFunction(points=points)
    values = np.stack([[0.5, float(function.value(cost))] for cost in costs])
    table = table_of(values, names=("a", "b")[: len(costs)], criteria=("drying", COST))
    measures = np.tile(np.array([[[0.0, cost] for cost in costs]]), (3, 1, 1))
    return decided(replace(table, value_functions=(function, function), measures=measures), weights)


@pytest.mark.parametrize(
    ("cost", "price"),
    # Slope 0.005 a unit of money up to 100 and 0.0025 above; weight a quarter.
    [(0.0, 800.0), (50.0, 800.0), (100.0, 800.0), (101.0, 1600.0), (300.0, 1600.0), (500.0, 1600.0), (-5.0, 800.0)],
)
def test_a_point_is_worth_the_slope_at_the_leaders_cost(table_of, decided, cost, price):
    assert price_of_score(priced(table_of, decided, cost)) == pytest.approx(price)


def test_a_point_is_worth_the_slope_at_the_cost_of_the_leader_not_of_another(table_of, decided):
    assert price_of_score(priced(table_of, decided, 250.0, 50.0)) == pytest.approx(800.0)


def test_where_the_value_of_cost_is_flat_and_where_nobody_leads_a_point_has_no_price(table_of, decided):
    flat = ((0.0, 1.0), (100.0, 1.0), (300.0, 0.0))
    assert price_of_score(priced(table_of, decided, 50.0, points=flat)) is None
    assert price_of_score(priced(table_of, decided, 150.0, points=flat)) == pytest.approx(800.0)
    assert price_of_score(decided(table_of(np.zeros((0, 2)), criteria=("drying", COST)), (1, 1))) is None


def fake_record(path, *, stated=False):
    return SimpleNamespace(path=path, low=600.0, likely=1200.0, high=1800.0, dimension="time", stated=stated)


def fake_outcome(machine_id, *, columns=None, inputs=(), met=None, judged=(), is_candidate=True, supplier="Supplier S"):
    machine = SimpleNamespace(id=machine_id, name=f"Machine {machine_id.upper()}", is_candidate=is_candidate,
                              supplier=supplier)  # fmt: skip
    met = np.ones(DRAWS, dtype=np.bool_) if met is None else met
    return SimpleNamespace(machine=machine, columns=columns or {}, inputs=inputs, met=met, all_judged=lambda: judged)


def fake_evaluation(*outcomes):
    groups = ("machine_classes", "component_kinds", "flux_kinds", "board_parts", "fluids", "wetted_materials")
    case = SimpleNamespace(plant=SimpleNamespace(currency="EUR"), candidates=(), board_types=())
    return SimpleNamespace(machine={one.machine.id: one for one in outcomes}.__getitem__, case=case, draws=DRAWS,
                           library=SimpleNamespace(**dict.fromkeys(groups, ())))  # fmt: skip


def told(table_of, decided, lead, *, open_columns=({}, {})):
    """Give a decision in which b is behind a by 0.01 on average and moves with a quantity."""
    table = table_of(np.full((DRAWS, 2, 2), 0.5), names=("a", "b"), criteria=("drying", COST))
    found = decided(replace(table, machine_names=("Machine A", "Machine B"), open_columns=open_columns), (0.5, 0.5))
    scores = np.full((DRAWS, 2), 0.5)
    scores[:, 1] += lead
    return replace(found, scores=scores)


# Uniform from −√3 to √3, 0.1 of it, less 0.01: positive in 0.471 of the draws, on average 0.0384 where that is kept.
LEAD = 0.1 * np.sqrt(12.0) * (UNIFORM - 0.5) - 0.01


def test_a_silent_quantity_is_asked_for_with_its_worth_by_hand(table_of, decided):
    outcomes = (fake_outcome("a"), fake_outcome("b", columns={PATH: UNIFORM}, inputs=(fake_record(PATH),)))
    worth = worth_finding_out(fake_evaluation(*outcomes), told(table_of, decided, LEAD))
    assert len(worth.questions) == 1
    one = worth.questions[0]
    assert (one.number, one.machine_id, one.machine_name, one.supplier) == (1, "b", "Machine B", "Supplier S")
    assert (one.path, one.quantity, one.must_change) == (PATH, "longest wash", 0.0)
    assert one.score_worth == pytest.approx(0.0384, abs=5e-4)
    assert one.change_share == pytest.approx(0.471, abs=5e-3)
    # Value of cost falls by 1 over 1 here, at half the weight: a point is worth 2.
    assert worth.money_per_point == pytest.approx(2.0)
    assert one.worth == pytest.approx(2.0 * one.score_worth)
    assert worth.perfect_score == pytest.approx(0.0384, abs=5e-4)
    assert worth.perfect == pytest.approx(2.0 * worth.perfect_score)
    assert worth.perfect_change_share == pytest.approx(0.471, abs=5e-3)
    assert one.assumed.text("metric", "EUR") == "Not stated; we assume 10 min to 30 min (range of its class)."
    assert one.would_change.text("metric", "EUR").startswith("An answer above ")
    assert one.would_change.text("metric", "EUR").endswith(" would put Machine B first.")
    assert worth.headline.startswith("Ask Supplier S first about this: longest wash. Knowing it is worth about ")
    assert worth.headline.endswith(" in about 47 of 100 cases the answer puts another machine first.")


@pytest.mark.parametrize("case", ["stated", "not a candidate", "another group"])
def test_what_is_stated_or_belongs_to_no_offer_is_not_asked_for(table_of, decided, case):
    path = "fluids[x].viscosity" if case == "another group" else PATH
    second = fake_outcome("b", columns={path: UNIFORM}, inputs=(fake_record(path, stated=case == "stated"),),
                          is_candidate=case != "not a candidate")  # fmt: skip
    worth = worth_finding_out(fake_evaluation(fake_outcome("a"), second), told(table_of, decided, LEAD))
    assert worth.questions == ()
    assert worth.headline == "No answer from a supplier would change the choice or the musts."


def test_a_measure_that_nobody_knows_is_asked_for_by_its_criterion(table_of, decided):
    path = "criteria[b].drying"
    found = told(table_of, decided, LEAD, open_columns=({}, {path: UNIFORM}))
    worth = worth_finding_out(fake_evaluation(fake_outcome("a"), fake_outcome("b", supplier="")), found)
    one = worth.questions[0]
    assert (one.path, one.quantity) == (path, "Drying")
    assert one.supplier == "the supplier of Machine B"
    assert one.assumed.text() == (
        "Nobody knows it, so everything from worthless to perfect is taken as equally likely."
    )
    assert " of 1 would put Machine B first." in one.would_change.text()


def test_an_answer_that_decides_the_musts_alone_is_asked_after_those_that_change_the_choice(table_of, decided):
    other = "candidates[b].dry.max_time"
    another = np.random.default_rng(9).permutation(UNIFORM)
    second = fake_outcome("b", columns={PATH: UNIFORM, other: another}, met=another > 0.5,
                          inputs=(fake_record(PATH), fake_record(other)))  # fmt: skip
    worth = worth_finding_out(fake_evaluation(fake_outcome("a"), second), told(table_of, decided, LEAD))
    assert [one.path for one in worth.questions] == [PATH, other]
    must = worth.questions[1]
    assert (must.number, must.score_worth, must.must_change) == (2, 0.0, pytest.approx(1.0))
    assert must.would_change.text() == (
        "A high rather than a low answer raises the probability that Machine B meets every must by 100 points of 100."
    )
    falling = fake_outcome("b", columns={other: another}, met=another < 0.5, inputs=(fake_record(other),))
    steady = told(table_of, decided, np.full(DRAWS, -0.1))
    alone = worth_finding_out(fake_evaluation(fake_outcome("a"), falling), steady)
    assert "lowers the probability" in alone.questions[0].would_change.text()
    assert alone.headline == (
        "Ask Supplier S first about this: longest drying. It decides whether Machine B meets every must, more than it "
        "moves the ranking."
    )


def must(title, *, result="unknown", met=None, stage="wash"):
    sentence = phrase(f"{title} is not known.")
    return SimpleNamespace(met=met, requirement=SimpleNamespace(result=result, title=title, key=title.lower(),
                                                                stage=stage, sentence=sentence))  # fmt: skip


def test_a_must_without_any_judgement_is_asked_for_before_all_and_once(table_of, decided):
    judged = (must("Seals"), must("Seals"), must("Known", met=np.ones(DRAWS)), must("Fine", result="meets"),
              must("Relay", stage="boards"), must("Rack"))  # fmt: skip
    second = fake_outcome("b", columns={PATH: UNIFORM}, inputs=(fake_record(PATH),), judged=judged)
    worth = worth_finding_out(fake_evaluation(fake_outcome("a"), second), told(table_of, decided, LEAD))
    assert [one.path for one in worth.questions] == ["musts[b].seals", "musts[b].rack", PATH]
    assert [one.number for one in worth.questions] == [1, 2, 3]
    first = worth.questions[0]
    assert first.quantity == "how is this met: seals"
    assert first.assumed.text() == "Seals is not known."
    assert first.would_change.text() == "Without an answer this must stays open, and so does the machine."
    assert (first.worth, first.score_worth, first.change_share, first.must_change) == (None, 0.0, 0.0, 0.0)
    assert (first.supplier, first.machine_id, first.machine_name) == ("Supplier S", "b", "Machine B")
    assert len(worth_finding_out(fake_evaluation(fake_outcome("a"), second), told(table_of, decided, LEAD),
                                 most=2).questions) == 2  # fmt: skip


def test_open_musts_of_every_offer_are_asked_for(table_of, decided):
    outcomes = (fake_outcome("a", judged=(must("Seals"),)), fake_outcome("b", judged=(must("Rack"),)))
    worth = worth_finding_out(fake_evaluation(*outcomes), told(table_of, decided, LEAD))
    assert {one.path for one in worth.questions} == {"musts[a].seals", "musts[b].rack"}


def test_an_own_criterion_that_nobody_knows_is_asked_for_by_its_name(table_of, decided):
    path = "criteria[b].near"
    found = told(table_of, decided, LEAD, open_columns=({}, {path: UNIFORM}))
    for own, name in (((SimpleNamespace(id="near", name="Service nearby"),), "Service nearby"), ((), "near")):
        named = replace(found, priorities=SimpleNamespace(own_criteria=own))
        worth = worth_finding_out(fake_evaluation(fake_outcome("a"), fake_outcome("b")), named)
        assert worth.questions[0].quantity == name


def test_few_draws_and_nobody_left_are_said(table_of, decided):
    outcomes = (fake_outcome("a"), fake_outcome("b"))
    short = replace(told(table_of, decided, LEAD), scores=np.full((30, 2), 0.5))
    worth = worth_finding_out(fake_evaluation(*outcomes), short)
    assert worth.headline == "30 draws are too few to weigh questions; use at least 50."
    assert (worth.perfect_score, worth.perfect_change_share) == (0.0, 0.0)
    nobody = decided(table_of(np.zeros((0, 2)), criteria=("drying", COST)), (1, 1))
    assert worth_finding_out(fake_evaluation(), nobody).headline == (
        "No machine is left, so there is nothing to ask about yet."
    )


def test_must_change_compares_the_outer_thirds_and_keeps_its_sign():
    # Holds in the lowest sixth and the highest third: 1 − 1/2.
    met = (UNIFORM < 1 / 6) | (UNIFORM > 2 / 3)
    assert must_change(UNIFORM, met) == pytest.approx(0.5, abs=0.01)
    assert must_change(UNIFORM, ~met) == pytest.approx(-0.5, abs=0.01)
    assert must_change(UNIFORM, np.zeros(DRAWS, dtype=np.bool_)) == 0.0
    # Of a yes or no all that answer alike stand at the same end.
    yes = np.arange(90) % 2 == 0
    assert must_change(yes.astype(float), yes) == 1.0


def test_must_change_counts_beyond_three_standard_errors():
    # Thirds of 90 draws: 30 each. Half of all hold, so the error is √(½·½·2/30) = 0.129 and three of them 0.387.
    column = np.arange(90.0)
    for low, wanted in ((9, 12 / 30), (10, 0.0), (8, 14 / 30), (20, 0.0), (21, -12 / 30)):
        met = np.zeros(90, dtype=np.bool_)
        met[:low], met[30:45], met[60 : 90 - low] = True, True, True
        assert float(met.mean()) == pytest.approx(0.5)
        assert must_change(column, met) == pytest.approx(wanted)


def test_turning_points_at_both_ends_and_of_the_right_rival():
    column = np.linspace(0.0, 10.0, 512)
    flat = np.full(512, 0.6)
    # Two rivals: one better above 6, the other never.
    scores = np.stack([np.full(512, 0.1), flat, 0.1 * column], axis=1)
    assert turning_point(column, scores)[0::2] == ("above", 2)
    # A parabola above the leader in the middle only is at neither end.
    hill = 0.7 - 0.04 * (column - 5.0) ** 2
    assert turning_point(column, np.stack([flat, hill], axis=1)) is None
    # Above the leader at both ends: the upper end is said.
    bowl = 0.2 + 0.04 * (column - 5.0) ** 2
    side, value, rival = turning_point(column, np.stack([flat, bowl], axis=1))
    assert (side, rival) == ("above", 1)
    assert value == pytest.approx(5.0 + np.sqrt(10.0), abs=0.2)


def test_a_rival_comes_first_only_up_to_where_a_third_machine_does():
    # The leader is best below 5.5, a second one from there to 6.25, and a third one above.
    column = np.linspace(0.0, 10.0, 512)
    scores = np.stack([1.0 - 0.08 * column, 0.45 + 0.02 * column, 0.1 * column - 0.05], axis=1)
    side, value, rival = turning_point(column, scores)
    assert (side, rival) == ("above", 2)
    assert value == pytest.approx(6.25, abs=0.05)


def test_a_question_is_one_line_in_the_readers_units_and_currency():
    one = Question(
        number=1, machine_id="b", machine_name="B", supplier="Supplier S", path=PATH, quantity="longest wash",
        assumed=phrase("Up to {length}.", length=(0.3048, "length")),
        would_change=phrase("Worth {money}.", money=(5.0, "money")), worth=None, score_worth=0.0, change_share=0.0,
        must_change=0.0,
    )  # fmt: skip
    assert one.sentence("US", "USD") == "Ask Supplier S: longest wash? Up to 12 in. Worth 5 USD."
    assert one.sentence().startswith("Ask Supplier S: longest wash? Up to 305 mm.")
    turned = replace(one, assumed=one.would_change, would_change=one.assumed)
    assert turned.sentence("US", "USD") == "Ask Supplier S: longest wash? Worth 5 USD. Up to 12 in."
    assert turned.sentence("metric", "USD").endswith("Worth 5 USD. Up to 305 mm.")


def test_a_single_machine_and_fifty_draws_are_enough_to_weigh_questions(table_of, decided):
    alone = decided(table_of(np.full((50, 1, 2), 0.5), names=("a",), criteria=("drying", COST)), (0.5, 0.5))
    found = knowing(replace(alone, scores=np.full((50, 1), 0.5)), np.linspace(0.0, 1.0, 50)[:, None])
    assert found is not None
    assert found.partial.tolist() == [0.0]


def test_answers_that_decide_the_musts_come_by_how_much_they_do(table_of, decided):
    other = "candidates[b].dry.max_time"
    another = np.random.default_rng(9).permutation(UNIFORM)
    second = fake_outcome("b", columns={PATH: UNIFORM, other: another}, met=0.7 * UNIFORM + 0.3 * another > 0.5,
                          inputs=(fake_record(PATH), fake_record(other)))  # fmt: skip
    level = told(table_of, decided, np.full(DRAWS, -0.1))
    worth = worth_finding_out(fake_evaluation(fake_outcome("a"), second), level)
    assert [one.path for one in worth.questions] == [PATH, other]
    assert worth.questions[0].must_change > worth.questions[1].must_change > 0.0


@pytest.mark.parametrize("chance", [(0.0, 0.0), (0.004, 0.001), (0.001, 0.004), (0.0, 0.0049)])
def test_questions_worth_nothing_are_not_ordered_by_how_often_chance_changes_the_choice(
    table_of, decided, monkeypatch, chance
):
    # What decides the musts more is asked first, whatever changes of the choice too rare to count the draws happen on.
    other = "candidates[b].dry.max_time"
    another = np.random.default_rng(9).permutation(UNIFORM)
    second = fake_outcome("b", columns={PATH: UNIFORM, other: another}, met=0.7 * UNIFORM + 0.3 * another > 0.5,
                          inputs=(fake_record(PATH), fake_record(other)))  # fmt: skip
    found = SimpleNamespace(perfect=1e-3, perfect_change_share=0.01, partial=[1e-5, 2e-5], change_share=chance)
    monkeypatch.setattr("model.questions.knowing", lambda decision, columns: found)
    asked = worth_finding_out(fake_evaluation(fake_outcome("a"), second), told(table_of, decided, LEAD)).questions
    assert [(one.path, one.score_worth, one.change_share) for one in asked] == [(PATH, 0.0, 0.0), (other, 0.0, 0.0)]


def test_without_a_weight_of_cost_an_answer_has_a_worth_in_points_only(table_of, decided):
    second = fake_outcome("b", columns={PATH: UNIFORM}, inputs=(fake_record(PATH),))
    free = replace(told(table_of, decided, LEAD), weights=(1.0, 0.0))
    one = worth_finding_out(fake_evaluation(fake_outcome("a"), second), free).questions[0]
    assert one.worth is None
    assert one.score_worth > 0.0
    # The quantity is a time in seconds here.
    assert re.fullmatch(r"An answer above 0\.\d+ s would put Machine B first\.", one.would_change.text())


def test_what_an_answer_would_change_is_said_of_choice_and_musts(table_of, decided):
    found, one = told(table_of, decided, LEAD), fake_outcome("b")
    both = _would_change(found, one, UNIFORM, "", 0.1, 0.25).text()
    assert both.startswith("An answer above 0.")
    assert both.endswith(
        " of 1 would put Machine B first. A high rather than a low answer raises the probability that Machine B meets "
        "every must by 25 points of 100."
    )
    assert _would_change(found, one, UNIFORM, "", 0.0, 0.25).text().startswith("A high rather than a low answer")
    never = told(table_of, decided, np.full(DRAWS, -0.1))
    together = _would_change(never, one, UNIFORM, "", 0.1, 0.0)
    assert together.text() == "An answer can change the choice together with others."


@pytest.mark.parametrize(("share", "cases"), [(0.47, 47), (0.012, 1), (0.006, 1)])
def test_the_headline_says_worth_and_cases(table_of, decided, share, cases):
    second = fake_outcome("b", columns={PATH: UNIFORM}, inputs=(fake_record(PATH),))
    whole, found = fake_evaluation(fake_outcome("a"), second), told(table_of, decided, LEAD)
    asked = worth_finding_out(whole, found).questions[0]
    one = replace(asked, worth=0.1234, change_share=share)
    assert _headline(whole, found, (one,), knowing(found, UNIFORM[:, None])) == (
        "Ask Supplier S first about this: longest wash. Knowing it is worth about 0.12 EUR a year: in about "
        f"{cases} of 100 cases the answer puts another machine first."
    )


def test_the_turning_point_is_that_of_a_parabola_and_of_the_leader_on_average():
    # The parabola nearest to u³ on an even range from −1 to 1 is the line 0.6 u, which reaches 0.3 at a half.
    column = (np.arange(512) + 0.5) / 256 - 1.0
    lead = column**3 - 0.3
    side, value, rival = turning_point(column, np.stack([0.5 + lead, np.full(512, 0.5)], axis=1))
    assert (side, rival) == ("above", 0)
    assert value == pytest.approx(0.5, abs=0.02)


def test_an_answer_that_changes_neither_choice_nor_musts_is_not_asked_for(table_of, decided):
    idle = np.random.default_rng(9).permutation(UNIFORM)
    whole = fake_evaluation(fake_outcome("a"), fake_outcome("b", columns={PATH: idle}, inputs=(fake_record(PATH),)))
    found = told(table_of, decided, LEAD)
    assert worth_finding_out(whole, found).questions == ()
    # What changes the choice in fewer than one of two hundred draws counts for nothing, whatever it would gain.
    columns = open_columns(whole, found, (0, 1))
    for share, worth in ((0.0049, None), (0.005, 0.2), (0.1, 0.2)):
        known = SimpleNamespace(change_share=[share], partial=[0.2])
        one = _question(whole, found, columns, 0, None, known, 0)
        assert (None if one is None else one.score_worth) == worth
