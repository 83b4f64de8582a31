"""Which boards to try, by hand: which washes are uncertain, what is expected, what a result decides and is worth."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from model.criteria import COST
from model.phrase import phrase
from model.trial_plan import _decides, trial_plan

DRAWS = 512
UNIFORM = np.random.default_rng(8).permutation((np.arange(DRAWS) + 0.5) / DRAWS)
MUST = "If residue is still left there after this time, the machine falls short on this board type."
LOOK = (
    "Choose the part in the worst place for the streams and look for residue from the middle outwards; "
    "{} of it left is expected ({} to {})."
)


def kind(speed_m_s: Any, name: str = "qfn") -> Any:
    """Give a component of 2 mm flux path, cleared at an even speed."""
    return SimpleNamespace(kind=SimpleNamespace(id=name, name=name.upper()), depth_needed_m=np.full(DRAWS, 2e-3),
                           speed_m_s=np.broadcast_to(speed_m_s, (DRAWS,)), soak_m_s05=np.zeros(DRAWS))  # fmt: skip


def board(board_id: str, clean: Any, *, speed_m_s: Any = 1e-6, max_time_s: Any = 1200.0) -> Any:
    """Give a board type that gets clean in the draws said; its longest wash is 20 minutes."""
    limit = None if max_time_s is None else np.broadcast_to(max_time_s, (DRAWS,))
    needed = np.where(clean, 1200.0, 1200.1)
    outcome = SimpleNamespace(needed_time_s=needed, kinds=(kind(speed_m_s), kind(1.0, "other")))
    wash = SimpleNamespace(outcome=outcome, max_time_s=limit)
    return SimpleNamespace(board_id=board_id, chosen=SimpleNamespace(wash=wash, fluid_id="cleaner"))


def machine(machine_id: str, *boards: Any, is_candidate: bool = True) -> Any:
    return SimpleNamespace(
        machine=SimpleNamespace(id=machine_id, name=f"Machine {machine_id.upper()}", is_candidate=is_candidate),
        boards=boards, columns={},
    )  # fmt: skip


def evaluation(*machines: Any) -> Any:
    records = tuple(
        SimpleNamespace(id=name, name=f"Board {name}", cleared_share_needed=SimpleNamespace(si=lambda: (0.7, 0.8, 0.9)))
        for name in ("one", "two", "three")
    )  # fmt: skip
    return SimpleNamespace(
        machine={one.machine.id: one for one in machines}.__getitem__, case=SimpleNamespace(board_types=records),
        draws=DRAWS,
        library=SimpleNamespace(fluids=(SimpleNamespace(id="water", name="Water"),
                                        SimpleNamespace(id="cleaner", name="Cleaner"))),
    )  # fmt: skip


@pytest.fixture
def told(table_of: Any, decided: Any) -> Any:
    """Give a decision between a and b of level scores, or with a lead of b that varies."""

    def decision(lead: Any = 0.0, names: tuple[str, ...] = ("a", "b")) -> Any:
        values = np.full((DRAWS, len(names), 2), 0.5)
        table = table_of(values, names=names, criteria=("drying", COST))
        found = decided(replace(table, machine_names=tuple(f"Machine {one.upper()}" for one in names)), (0.5, 0.5))
        scores = np.full((DRAWS, len(names)), 0.5)
        scores[:, -1] += lead
        return replace(found, scores=scores)

    return decision


HALF = np.arange(DRAWS) % 2 == 0


def test_a_trial_says_what_to_wash_how_long_and_what_to_expect(told: Any) -> None:
    # 2 mm needed are 80 % of a path of 2.5 mm; 20 minutes at 1 µm/s clear 1.2 mm of it: 52 % is left.
    steps = trial_plan(evaluation(machine("a", board("one", HALF)), machine("b")), told())
    assert len(steps) == 1
    one = steps[0]
    assert (one.number, one.machine_id, one.machine_name) == (1, "a", "Machine A")
    assert (one.board_id, one.board_name, one.fluid_id, one.fluid_name) == ("one", "Board one", "cleaner", "Cleaner")
    assert (one.component_id, one.component_name) == ("qfn", "QFN")
    assert one.minutes == 20.0
    assert one.probability_clean == 0.5
    assert one.expected == pytest.approx((0.52, 0.52, 0.52))
    assert one.look_for.text() == LOOK.format("52 %", "52 %", "52 %")
    assert one.decides.text() == MUST
    assert one.sentence() == (
        f"Wash Board one in Machine A with Cleaner for 20 min, then lift QFN. {one.look_for.text()} {MUST}"
    )
    assert (one.worth, one.score_worth, one.change_share) == (0.0, 0.0, 0.0)


def test_expected_residue_spans_its_5_to_95_percent_points(told: Any) -> None:
    # From nothing to 2.4 mm cleared, evenly: 1 − 0.96·u of the residue is left.
    steps = trial_plan(evaluation(machine("a", board("one", HALF, speed_m_s=2e-6 * UNIFORM)), machine("b")), told())
    assert steps[0].expected == pytest.approx((1 - 0.96 * 0.95, 1 - 0.96 * 0.5, 1 - 0.96 * 0.05), abs=2e-3)


@pytest.mark.parametrize(
    ("clean", "planned"),
    # 10 of 512 are less than one in fifty, 11 are more.
    [(10, False), (11, True), (256, True), (501, True), (502, False), (512, False), (0, False)],
)
def test_a_wash_that_is_sure_to_end_or_not_to_end_in_time_needs_no_trial(told: Any, clean: int, planned: bool) -> None:
    whole = evaluation(machine("a", board("one", np.arange(DRAWS) < clean)), machine("b"))
    assert bool(trial_plan(whole, told())) == planned


def test_without_a_wash_its_outcome_or_its_limit_there_is_nothing_to_try(told: Any) -> None:
    bare, blank, endless = board("one", HALF), board("two", HALF), board("three", HALF, max_time_s=None)
    bare.chosen.wash = None
    blank.chosen.wash.outcome = None
    assert trial_plan(evaluation(machine("a", bare, blank, endless), machine("b")), told()) == ()


def test_only_offers_are_tried(told: Any) -> None:
    whole = evaluation(machine("a", board("one", HALF), is_candidate=False), machine("b", board("one", HALF)))
    assert [one.machine_id for one in trial_plan(whole, told())] == ["b"]


def test_the_least_certain_comes_first_where_no_result_is_worth_anything(told: Any) -> None:
    nearly, even = np.arange(DRAWS) < 400, HALF
    whole = evaluation(machine("b", board("one", nearly), board("two", even)), machine("a", board("three", even)))
    steps = trial_plan(whole, told())
    assert [(one.machine_id, one.board_id, one.number) for one in steps] == [
        ("a", "three", 1), ("b", "two", 2), ("b", "one", 3),
    ]  # fmt: skip
    assert len(trial_plan(whole, told(), most=2)) == 2
    unlikely = evaluation(machine("a", board("one", np.arange(DRAWS) < 112), board("two", even)), machine("b"))
    assert [one.board_id for one in trial_plan(unlikely, told())] == ["two", "one"]


def test_without_a_weight_of_cost_a_trial_has_a_worth_in_points_only(told: Any) -> None:
    lead = 0.1 * np.sqrt(12.0) * (UNIFORM - 0.5) - 0.01
    whole = evaluation(machine("a", board("one", HALF, speed_m_s=2e-6 * UNIFORM)), machine("b"))
    (step,) = trial_plan(whole, replace(told(lead), weights=(1.0, 0.0)))
    assert step.worth is None
    assert step.score_worth > 0.0


def test_a_result_that_decides_between_two_machines_comes_first_with_its_worth(told: Any) -> None:
    # The residue left on board two moves the lead of b: 0.1 of a uniform from −√3 to √3, less 0.01; knowing it is
    # worth 0.0384 points in 47 % of the draws, and a point is worth 2 a year at half the weight and slope 1.
    lead = 0.1 * np.sqrt(12.0) * (UNIFORM - 0.5) - 0.01
    whole = evaluation(
        machine("a", board("one", HALF)), machine("b", board("two", np.arange(DRAWS) < 400, speed_m_s=2e-6 * UNIFORM))
    )  # fmt: skip
    first, second = trial_plan(whole, told(lead))
    assert (first.board_id, second.board_id) == ("two", "one")
    assert first.score_worth == pytest.approx(0.0384, abs=5e-4)
    assert first.change_share == pytest.approx(0.471, abs=5e-3)
    assert first.worth == pytest.approx(2.0 * first.score_worth)
    text = first.decides.text()
    assert text.startswith("Below ")
    assert text.endswith(f" % of the residue left, Machine B would come first. {MUST}")
    # b leads where u is above 0.5 + 0.1/√12 = 0.529, which is where less than 1 − 0.96·0.529 = 49 % is left.
    assert 0.42 < float(text.split()[1]) / 100.0 < 0.56
    assert second.decides.text() == MUST


def test_few_draws_leave_the_trials_without_worth(told: Any) -> None:
    short = told()
    short = replace(short, scores=short.scores[:30])
    steps = trial_plan(evaluation(machine("a", board("one", HALF)), machine("b")), short)
    assert [(one.worth, one.score_worth, one.change_share) for one in steps] == [(None, 0.0, 0.0)]
    assert steps[0].decides.text() == MUST


def test_a_trial_is_one_line_in_the_readers_units_and_currency(told: Any) -> None:
    step = trial_plan(evaluation(machine("a", board("one", HALF)), machine("b")), told())[0]
    one = replace(step, look_for=phrase("Look {length} in.", length=(0.3048, "length")),
                  decides=phrase("Worth {money}.", money=(5.0, "money")))  # fmt: skip
    start = "Wash Board one in Machine A with Cleaner for 20 min, then lift QFN."
    assert one.sentence("US", "USD") == f"{start} Look 12 in in. Worth 5 USD."
    swapped = replace(one, decides=one.look_for)
    assert swapped.sentence() == f"{start} {one.look_for.text()} {one.look_for.text()}"
    assert swapped.sentence("US") == f"{start} Look 12 in in. Look 12 in in."


def test_a_result_that_is_worth_nothing_is_not_said_to_put_another_first(told: Any) -> None:
    decision = told(UNIFORM - 0.5)
    assert "Machine B would come first" in _decides(decision, UNIFORM, 0.1).text()
    assert _decides(decision, UNIFORM, 0.0).text() == MUST
