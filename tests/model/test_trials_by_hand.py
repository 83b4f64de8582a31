"""Trials against a wash put together by hand: what each draw predicts, how much it counts after, what is said."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.stats import truncnorm

from catalog_schema.priorities import Trial
from catalog_schema.quantity import Duration, Share
from model import trials
from model.machine_inputs import MachineInputs
from model.requirements import Thresholds
from model.trials import cleared_share_needed, predicted_residue, residue_left_share, weigh_trials, with_trials
from model.uncertainty import InputBook
from tests.model.cost_by_hand import case_by_hand
from tests.model.records import machine

DRAWS = 200
SPEED_M_S = (np.arange(DRAWS) + 0.5) / DRAWS * 2.0e-6
MODEL_ERROR = 0.04


def kind(speed_m_s: Any = SPEED_M_S, depth_m: Any = 2e-3, soak: float = 0.0) -> Any:
    def whole(value: Any) -> Any:
        return np.broadcast_to(np.asarray(value, dtype=np.float64), (DRAWS,))

    return SimpleNamespace(kind=SimpleNamespace(id="qfn"), depth_needed_m=whole(depth_m), speed_m_s=whole(speed_m_s),
                           soak_m_s05=whole(soak))  # fmt: skip


def evaluation(*, error: float | None = MODEL_ERROR, columns: Any = None, outcome: Any = "usual", wash: Any = "usual",
               details: str = "all fluids") -> Any:  # fmt: skip
    stage = SimpleNamespace(outcome=SimpleNamespace(kinds=(kind(),)) if outcome == "usual" else outcome, drive=object())
    fluids = (SimpleNamespace(fluid_id="other", wash=None),
              SimpleNamespace(fluid_id="cleaner", wash=stage if wash == "usual" else wash))  # fmt: skip
    boards = {"control": SimpleNamespace(fluids=fluids)}
    machine = SimpleNamespace(board=boards.__getitem__, columns=columns or {})
    # The likely share that must be cleared is 80 % of the path.
    record = SimpleNamespace(id="control", cleared_share_needed=SimpleNamespace(si=lambda: (0.7, 0.8, 0.9)))
    constant = None if error is None else SimpleNamespace(si=lambda: (0.0, error, 1.0))
    return SimpleNamespace(
        machine={"washer": machine}.__getitem__, draws=DRAWS, details=details,
        case=SimpleNamespace(board_types=(SimpleNamespace(id="x"), record), trials=(trial(0.5),)),
        library=SimpleNamespace(constants=SimpleNamespace(trial_model_error=constant)),
    )  # fmt: skip


def trial(left: float, minutes: float = 20.0, *, error: float = 0.03, name: str = "t1", machine: str = "washer",
          fluid: str = "cleaner") -> Trial:  # fmt: skip
    return Trial(id=name, board_type="control", component="qfn", machine=machine, fluid=fluid,
                 wash_time=Duration(likely=minutes, unit="min"), residue_left=Share(likely=left),
                 measurement_error=Share(likely=error))  # fmt: skip


def predicted(minutes: float = 20.0) -> Any:
    # 2 mm are 80 % of a path of 2.5 mm.
    return np.clip(1.0 - SPEED_M_S * 60.0 * minutes / 2.5e-3, 0.0, 1.0)


def likelihood(left: float, minutes: float = 20.0, error: float = 0.03, model: float = MODEL_ERROR) -> Any:
    # scipy's truncated normal on 0 to 1.
    mean, scale = predicted(minutes), np.hypot(error, model)
    found = truncnorm.pdf(left, (0.0 - mean) / scale, (1.0 - mean) / scale, loc=mean, scale=scale)
    return found / found.sum()


def test_residue_left_is_what_lies_beyond_the_depth_cleared() -> None:
    assert residue_left_share(kind(1e-6), 1000.0, np.full(DRAWS, 0.8)) == pytest.approx(np.full(DRAWS, 0.6))
    # Soaking clears a√t besides: 1e-5 · √1e4 = 1 mm.
    soaked = residue_left_share(kind(0.0, soak=1e-5), 1e4, np.full(DRAWS, 1.0))
    assert soaked == pytest.approx(np.full(DRAWS, 0.5))
    # No share need be cleared: the depth stands for the whole path.
    assert residue_left_share(kind(1e-6), 1000.0, np.zeros(DRAWS)) == pytest.approx(np.full(DRAWS, 0.5))
    # No path at all: nothing is left.
    for time_s in (0.0, 1000.0):
        assert residue_left_share(kind(1e-6, depth_m=0.0), time_s, np.ones(DRAWS)).tolist() == [0.0] * DRAWS
    assert residue_left_share(kind(1.0), 1000.0, np.ones(DRAWS)).tolist() == [0.0] * DRAWS


def test_the_share_to_clear_is_the_one_drawn_or_else_the_likely_one() -> None:
    drawn = np.linspace(0.7, 0.9, DRAWS)
    column = {"board_types[control].cleared_share_needed": drawn}
    whole = evaluation(columns=column)
    record = whole.case.board_types[1]
    assert (cleared_share_needed(whole, whole.machine("washer"), record) == drawn).all()
    plain = evaluation()
    assert cleared_share_needed(plain, plain.machine("washer"), record).tolist() == [0.8] * DRAWS
    assert predicted_residue(whole, trial(0.5)) == pytest.approx(np.clip(1 - SPEED_M_S * 1200 / (2e-3 / drawn), 0, 1))


def test_each_draw_predicts_the_residue_of_its_own_speed() -> None:
    assert predicted_residue(evaluation(), trial(0.5)) == pytest.approx(predicted())
    assert predicted_residue(evaluation(), trial(0.5, 45.0)) == pytest.approx(predicted(45.0))


def test_the_component_is_looked_up_on_its_own_board_type(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []

    def kind_clearing(*told: Any) -> Any:
        asked.append(told)
        return kind()

    monkeypatch.setattr(trials, "kind_clearing", kind_clearing)
    whole_case = evaluation()
    predicted_residue(whole_case, trial(0.5))
    stage = whole_case.machine("washer").board("control").fluids[1].wash
    assert asked == [(whole_case, "control", stage, "qfn")]


def test_where_the_fluid_dissolves_nothing_all_is_left() -> None:
    assert predicted_residue(evaluation(outcome=None), trial(0.5)).tolist() == [1.0] * DRAWS


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [({"machine": "ghost"}, "ghost is not among the machines and board types computed here."),
     ({"fluid": "acid"}, "washer is not computed with acid: add the fluid to its wash fluids."),
     ({"fluid": "other"}, "washer is not computed with other: add the fluid to its wash fluids.")],
)  # fmt: skip
def test_a_trial_of_what_is_not_computed_is_said_and_left_out(wrong: Any, sentence: str) -> None:
    lost = trial(0.5, name="lost", **wrong)
    with pytest.raises(ValueError, match=f"^{sentence}$"):
        predicted_residue(evaluation(), lost)
    summary = weigh_trials(evaluation(), (lost,))
    assert summary.warnings == (f"Trial lost is not used: {sentence}",)
    assert summary.headline == "None of the 1 trials can be used, so the answer rests on estimates alone."
    finding = summary.findings[0]
    assert (finding.problem, finding.prior, finding.posterior) == (sentence, None, None)
    assert (finding.observed, finding.tail_probability) == (None, None)
    assert summary.used == 0


def test_a_draw_counts_by_the_truncated_normal_density_of_what_was_found() -> None:
    summary = weigh_trials(evaluation(), (trial(0.5),))
    wanted = likelihood(0.5)
    np.testing.assert_allclose(summary.weights, wanted, rtol=1e-6, atol=1e-12)
    assert summary.effective_sample_size == pytest.approx(1.0 / np.sum(wanted**2))
    assert (summary.draws, summary.used) == (DRAWS, 1)
    finding = summary.findings[0]
    assert finding.observed == 0.5
    assert finding.prior == pytest.approx(np.quantile(predicted(), [0.05, 0.5, 0.95]), abs=0.006)
    assert finding.posterior is not None
    assert finding.posterior[1] == pytest.approx(0.5, abs=0.02)
    # The normal distribution's 5 % and 95 % points lie 1.645 standard deviations out.
    assert finding.posterior[2] - finding.posterior[0] == pytest.approx(2 * 1.645 * 0.05, rel=0.06)
    assert summary.headline == (
        f"One trial counts: {summary.effective_sample_size:.0f} of 200 draws still carry weight. For trial t1 the "
        f"expected residue moved from {finding.prior[1]:.0%} to {finding.posterior[1]:.0%}."
    )


def test_two_trials_multiply_and_an_unusable_one_between_them_changes_nothing() -> None:
    three = (trial(0.5), trial(0.5, name="lost", fluid="acid"), trial(0.2, 30.0, name="t2", error=0.1))
    summary = weigh_trials(evaluation(), three)
    wanted = likelihood(0.5) * likelihood(0.2, 30.0, error=0.1)
    np.testing.assert_allclose(summary.weights, wanted / wanted.sum(), rtol=1e-6, atol=1e-12)
    assert [one.trial.id for one in summary.findings] == ["t1", "lost", "t2"]
    assert summary.used == 2
    assert summary.headline.startswith("2 trials count: ")
    assert "For trial t1" in summary.headline


def test_without_a_model_error_the_reading_alone_decides() -> None:
    summary = weigh_trials(evaluation(error=None), (trial(0.5, error=0.1),))
    np.testing.assert_allclose(summary.weights, likelihood(0.5, error=0.1, model=0.0), rtol=1e-6, atol=1e-12)


def test_the_trials_of_the_case_are_weighed_where_none_are_given() -> None:
    assert weigh_trials(evaluation()).findings[0].trial.residue_left.si()[1] == 0.5
    nothing = weigh_trials(evaluation(), ())
    assert nothing.weights == pytest.approx(np.full(DRAWS, 1 / DRAWS))
    assert nothing.headline == "No trial has been entered yet, so the answer rests on estimates alone."
    assert nothing.warnings == ()


def test_what_was_found_is_taken_at_its_likely_value() -> None:
    read = trial(0.5).model_copy(update={
        "residue_left": Share(low=0.4, likely=0.5, high=0.9),
        "measurement_error": Share(low=0.01, likely=0.03, high=0.2),
        "wash_time": Duration(low=10.0, likely=20.0, high=60.0, unit="min"),
    })  # fmt: skip
    summary = weigh_trials(evaluation(), (read,))
    assert summary.findings[0].observed == 0.5
    assert summary.findings[0].problem == ""
    np.testing.assert_allclose(summary.weights, likelihood(0.5), rtol=1e-6, atol=1e-12)


def test_a_hundred_trials_leave_weights_that_add_up() -> None:
    summary = weigh_trials(evaluation(), tuple(trial(0.5, name=f"t{number}") for number in range(100)))
    assert summary.weights.sum() == pytest.approx(1.0)
    assert int(np.argmax(summary.weights)) == int(np.argmax(likelihood(0.5)))


def test_trials_that_contradict_each_other_leave_weights_that_add_up() -> None:
    # No draw leaves both a tenth and nine tenths: each is as good as impossible by one of the two.
    both = (trial(0.1, error=0.01), trial(0.9, error=0.01, name="t2"))
    weights = weigh_trials(evaluation(error=0.0), both).weights
    assert weights.sum() == pytest.approx(1.0)
    assert (weights >= 0.0).all()


@pytest.mark.parametrize(("tail", "warned"), [(0.009, True), (0.011, False)])
def test_a_single_trial_contradicts_the_model_below_one_in_a_hundred(tail: float, warned: bool) -> None:
    finding = weigh_trials(evaluation(), (trial(0.5),)).findings[0]
    assert bool(trials._warnings((replace(finding, tail_probability=tail),), 100.0, DRAWS)) == warned


def test_of_two_trials_one_contradicts_the_model_below_one_in_two_hundred() -> None:
    finding = weigh_trials(evaluation(), (trial(0.5),)).findings[0]
    for tail, warned in ((0.004, True), (0.006, False)):
        both = (finding, replace(finding, tail_probability=tail))
        assert bool(trials._warnings(both, 100.0, DRAWS)) == warned


def test_a_result_far_from_all_draws_is_said_to_contradict_the_model() -> None:
    # After two minutes 90 % and more is left in every draw; nothing was found.
    summary = weigh_trials(evaluation(), (trial(0.0, 2.0, error=0.01),))
    prior = summary.findings[0].prior
    assert prior is not None
    assert summary.warnings[0] == (
        f"Trial t1 contradicts the model: 0% of the residue was left where {prior[1]:.0%} ({prior[0]:.0%} to "
        f"{prior[2]:.0%}) was expected. Check the trial and the estimates before you rely on the result."
    )
    assert summary.findings[0].tail_probability == pytest.approx(0.0, abs=1e-6)


def test_few_draws_left_are_said_to_make_the_result_coarse() -> None:
    # Readings of 0.4 % leave a few of 200 draws.
    summary = weigh_trials(evaluation(error=0.0), (trial(0.5, error=0.004),))
    assert summary.effective_sample_size < 20
    assert summary.warnings == (
        f"Only {summary.effective_sample_size:.0f} of 200 draws still count, so the result is coarse. Compute with "
        "more draws, or state wider ranges.",
    )  # fmt: skip
    assert weigh_trials(evaluation(), (trial(0.5),)).warnings == ()


# ---- computing again from the draws that the trials left ----------------------------------------------------------


@dataclass(frozen=True)
class Whole:
    """As much of an evaluation as computing it again reads."""

    case: Any
    library: Any
    machines: Any
    draws: int
    seed: int
    rays: int
    details: str
    traces: Any
    fingerprint: str = "whole"
    requirements: Any = None
    verdicts: Any = None


def summary_of(weights: Any) -> Any:
    return SimpleNamespace(weights=np.asarray(weights, dtype=np.float64), used=1)


def whole(details: str = "all fluids") -> Whole:
    machines = tuple(
        SimpleNamespace(machine=machine(site={"floor_area": "2..4..6 m^2"}), fingerprint=f"print-{number}")
        for number in range(3)
    )
    musts = {"probability": "70..80..90 %", "rule_out_below": "10..15..40 %"}
    return Whole(case=case_by_hand(requirements=musts), library=object(),
                 machines=machines, draws=8, seed=5, rays=64, details=details, traces={"known": "traced"})  # fmt: skip


@pytest.fixture
def again(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Note with what each machine is computed again."""
    seen: list[Any] = []

    def evaluate_machine(context: Any, fingerprint: str) -> Any:
        seen.append(SimpleNamespace(context=context, fingerprint=fingerprint, trimmed=False, machine=context.machine))
        return seen[-1]

    monkeypatch.setattr(trials, "evaluate_machine", evaluate_machine)
    monkeypatch.setattr(trials, "with_chosen_details", lambda one: SimpleNamespace(**{**vars(one), "trimmed": True}))
    for table in ("requirement_table", "verdict_table"):
        monkeypatch.setattr(trials, table, lambda outcomes: None, raising=False)
    return seen


WEIGHTS = np.array([0.0, 0.5, 0.0, 0.25, 0.0, 0.0, 0.25, 0.0])


def test_every_machine_is_computed_again_with_the_same_picks_in_proportion_to_the_weights(again: list[Any]) -> None:
    before = whole()
    told: list[tuple[int, int, str]] = []
    after = with_trials(before, summary_of(WEIGHTS), progress=lambda *one: told.append(one), threads=1)
    assert len(again) == 3
    plain = MachineInputs(before.machines[0].machine, InputBook(8, 5, {})).draws("site.floor_area")
    picked = [one.context.inputs.draws("site.floor_area") for one in again]
    assert plain is not None
    # Weights of ½, ¼ and ¼ of eight draws: four times the second, twice the fourth and the seventh.
    assert sorted(picked[0]) == sorted([plain[1]] * 4 + [plain[3]] * 2 + [plain[6]] * 2)
    assert list(picked[0]) != sorted(picked[0], key=list(plain).index)
    assert all((one == picked[0]).all() for one in picked)
    assert {one.context.thresholds for one in again} == {Thresholds(meets_from=0.8, misses_to=0.15)}
    assert [one.context.case is before.case and one.context.library is before.library for one in again] == [True] * 3
    marks = [one.fingerprint.removeprefix(f"print-{number}-after-trials-") for number, one in enumerate(again)]
    assert len(set(marks)) == 1
    assert len(marks[0]) == 16
    # Nothing that one machine has computed is handed to the next.
    assert all(one.context.fields == {} and one.context.materials == {} for one in again)
    assert again[0].context.materials is not again[1].context.materials
    assert told == [(1, 3, "Washer"), (2, 3, "Washer"), (3, 3, "Washer")]
    assert after.machines == tuple(again)
    assert (after.fingerprint, after.case) == ("whole", before.case)


def test_the_mark_of_a_machine_computed_again_follows_the_picks(again: list[Any]) -> None:
    for weights in (WEIGHTS, WEIGHTS, WEIGHTS[::-1]):
        with_trials(whole(), summary_of(weights), threads=1)
    first, second, other = (again[number].fingerprint for number in (0, 3, 6))
    assert first == second
    assert first != other
    uneven = np.random.default_rng(2).dirichlet(np.ones(8))
    for _ in range(3):
        with_trials(whole(), summary_of(uneven), threads=1)
    assert len({one.fingerprint for one in again[-9:] if one.fingerprint.startswith("print-0")}) == 1


def test_a_large_case_keeps_the_chosen_stages_only(again: list[Any]) -> None:
    assert not any(one.trimmed for one in with_trials(whole(), summary_of(WEIGHTS)).machines)
    assert all(one.trimmed for one in with_trials(whole("chosen fluid"), summary_of(WEIGHTS)).machines)


def test_a_trace_is_made_once_and_handed_on(again: list[Any]) -> None:
    made: list[tuple[int, int]] = []

    class Geometry:
        def trace(self, rays: int, seed: int) -> str:
            made.append((rays, seed))
            return "new"

    before = whole()
    with_trials(before, summary_of(WEIGHTS), threads=1)
    geometry = Geometry()
    trace_of = again[0].context.trace_of
    assert trace_of("known") == "traced"
    assert [trace_of(geometry), trace_of(geometry)] == ["new", "new"]
    assert made == [(64, 5)]
    assert before.traces == {"known": "traced"}
    assert with_trials(before, summary_of(WEIGHTS), threads=1).traces == {"known": "traced"}


def test_money_in_another_currency_keeps_the_plants_rate_in_the_draws_left(again: list[Any]) -> None:
    priced = SimpleNamespace(machine=machine(prices={"purchase": "1000 USD"}), fingerprint="p")
    with_trials(replace(whole(), machines=(priced,)), summary_of(WEIGHTS), threads=1)
    # Half a euro for a dollar.
    assert again[0].context.inputs.draws("prices.purchase").tolist() == [500.0] * 8
    unsure = replace(whole(), machines=(priced,), case=case_by_hand(exchange_rates={"USD": "0.4..0.5..0.9"}))
    with_trials(unsure, summary_of(WEIGHTS), threads=1)
    assert again[1].context.inputs.draws("prices.purchase").tolist() == [500.0] * 8


def test_trials_are_weighed_where_no_summary_is_given(again: list[Any], monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []
    monkeypatch.setattr(trials, "weigh_trials", lambda one: asked.append(one) or summary_of(WEIGHTS))
    before = whole()
    with_trials(before, threads=1)
    assert asked == [before]
    with_trials(whole(), summary_of(WEIGHTS[::-1]), threads=1)
    marks = [one.fingerprint.rpartition("-")[2] for one in again]
    assert len(marks) == 6
    assert len(set(marks[:3])) == len(set(marks[3:])) == 1
    assert marks[0] != marks[3]


def test_nothing_is_computed_again_where_no_trial_could_be_used(again: list[Any]) -> None:
    before = whole()
    assert with_trials(before, SimpleNamespace(weights=WEIGHTS, used=0)) is before
    assert again == []


def test_a_fluid_not_kept_is_computed_again_with_all_its_stages(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []

    class Runner:
        def __init__(self, job: Any, traces: Any) -> None:
            asked.append((job, traces))

        def outcome(self, one: Any, fingerprint: str) -> Any:
            asked.append((one, fingerprint))
            return evaluation().machine("washer")

    monkeypatch.setattr(trials, "MachineRunner", Runner)
    lean = evaluation(wash=None, details="chosen fluid")
    lean.seed, lean.rays, lean.traces = 5, 64, {"known": "traced"}
    lean.machine("washer").machine, lean.machine("washer").fingerprint = "the machine", "print"
    assert predicted_residue(lean, trial(0.5)) == pytest.approx(predicted())
    job, traces = asked[0]
    assert (job.case, job.library, job.draws, job.seed, job.rays) == (lean.case, lean.library, DRAWS, 5, 64)
    assert (job.details, traces) == ("all fluids", {"known": "traced"})
    assert asked[1] == ("the machine", "print")
    lean.machine("washer").board("control").fluids[0].fluid_id = "gone"
    monkeypatch.setattr(Runner, "outcome", lambda *_: SimpleNamespace(board=lambda _: SimpleNamespace(fluids=())))
    with pytest.raises(ValueError, match="is not computed with cleaner"):
        predicted_residue(lean, trial(0.5))


def test_a_book_of_picked_draws_notes_who_said_a_quantity() -> None:
    book = trials.ResampledBook(8, 5, {}, np.arange(8))
    column = book.take(Share(low=0.1, likely=0.2, high=0.3), "somewhere", "engineering estimate", stated=False)
    assert not column.flags.writeable
    assert [(one.path, one.basis, one.stated) for one in book.inputs()] == [
        ("somewhere", "engineering estimate", False),
    ]  # fmt: skip
