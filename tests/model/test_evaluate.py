"""The road as a whole: what is computed again, what is taken over, how it stops, and that workers change nothing."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pydantic import BaseModel

import model.evaluate
from catalog_schema.case import Case
from catalog_schema.files import load_case
from catalog_schema.priorities import Priorities
from catalog_schema.quantity import Money, Temperature
from model.evaluate import Evaluation, evaluate
from model.machine_job import KEPT_TRACES, MachineJob
from model.outcomes import MachineOutcome
from model.stages import WashStage
from model.workers import outcomes_by_workers

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog" / "mixed_plant.yaml"
FEW = {"draws": 16, "rays": 2048}


@pytest.fixture(scope="module")
def case() -> Case:
    """Give three of the demo's offers (sprayed batch, belt, bath) on two of its board types."""
    demo = load_case(DEMO)
    return demo.model_copy(
        update={"candidates": demo.candidates[:3], "board_types": demo.board_types[1:3], "compare_classes": ()}
    )


@pytest.fixture(scope="module")
def known(case: Case) -> Evaluation:
    return evaluate(case, **FEW)


def leaves(thing: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Walk records, tuples and dictionaries down to what can be compared."""
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        for field in dataclasses.fields(thing):
            yield from leaves(getattr(thing, field.name), f"{path}.{field.name}")
    elif isinstance(thing, dict):
        for key, value in thing.items():
            yield from leaves(value, f"{path}[{key}]")
    elif isinstance(thing, tuple | list):
        yield f"{path}.len", len(thing)
        for number, value in enumerate(thing):
            yield from leaves(value, f"{path}[{number}]")
    else:
        yield path, thing


def assert_same(one: object, other: object) -> None:
    """Compare two results bit for bit."""
    ours, theirs = list(leaves(one)), list(leaves(other))
    assert [path for path, _ in ours] == [path for path, _ in theirs]
    assert len(ours) > 100
    for (path, mine), (_, other_value) in zip(ours, theirs, strict=True):
        if isinstance(mine, np.ndarray):
            assert mine.dtype == other_value.dtype, path
            assert mine.tobytes() == other_value.tobytes(), path
        elif not callable(mine) or isinstance(mine, BaseModel):
            assert mine == other_value or (mine != mine and other_value != other_value), path


def changed_candidate(case: Case, position: int, **sections: object) -> Case:
    candidates = list(case.candidates)
    candidates[position] = candidates[position].model_copy(update=sections)
    return case.model_copy(update={"candidates": tuple(candidates)})


def taken_over(after: Evaluation, before: Evaluation) -> list[bool]:
    return [one is other for one, other in zip(after.machines, before.machines, strict=True)]


@pytest.mark.parametrize("how", [{"threads": 2}, {"workers": 2}, {"workers": 3}])
def test_threads_and_workers_change_no_bit(case: Case, known: Evaluation, how: dict[str, int]) -> None:
    again = evaluate(case, **FEW, **how)
    assert_same(again.machines, known.machines)
    assert again.requirements.equals(known.requirements)
    assert again.verdicts.equals(known.verdicts)


def test_same_seed_gives_the_same_bits_and_another_seed_others(case: Case, known: Evaluation) -> None:
    assert_same(evaluate(case, **FEW).machines, known.machines)
    other = evaluate(case, **FEW, seed=2)
    assert not all(
        np.array_equal(mine, known.machines[0].columns[path]) for path, mine in other.machines[0].columns.items()
    )


def test_a_machine_does_not_depend_on_which_were_computed_before_it(case: Case, known: Evaluation) -> None:
    turned = evaluate(case.model_copy(update={"candidates": case.candidates[::-1]}), **FEW)
    for outcome in turned.machines:
        assert_same(outcome, known.machine(outcome.machine.id))


def test_nothing_changed_means_nothing_computed(
    case: Case, known: Evaluation, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(model.evaluate.MachineRunner, "outcome", None)
    after = evaluate(case, **FEW, previous=known)
    assert taken_over(after, known) == [True, True, True]
    assert after.requirements.equals(known.requirements)


def test_changed_priorities_compute_nothing(case: Case, known: Evaluation, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(model.evaluate.MachineRunner, "outcome", None)
    other = case.model_copy(update={"priorities": Priorities(weight_knowledge="none"), "name": "Renamed"})
    assert other.priorities != case.priorities
    after = evaluate(other, **FEW, previous=known)
    assert taken_over(after, known) == [True, True, True]
    assert after.case is other


def test_editing_one_candidate_computes_only_that_one(case: Case, known: Evaluation) -> None:
    cooler = case.candidates[1].wash.model_copy(update={"temperature": Temperature.model_validate("41 degC")})
    after = evaluate(changed_candidate(case, 1, wash=cooler), **FEW, previous=known)
    assert taken_over(after, known) == [True, False, True]
    assert_same(after.machines, evaluate(changed_candidate(case, 1, wash=cooler), **FEW).machines)


def test_editing_a_price_computes_only_that_machine_and_leaves_its_cleaning_alone(
    case: Case, known: Evaluation
) -> None:
    dearer = case.candidates[0].prices.model_copy(
        update={"purchase": Money.model_validate("1234567 EUR")}
    )
    after = evaluate(changed_candidate(case, 0, prices=dearer), **FEW, previous=known)
    assert taken_over(after, known) == [False, True, True]
    assert_same(after.machines[0].boards, known.machines[0].boards)
    before_cost, after_cost = known.machines[0].cost, after.machines[0].cost
    assert before_cost is not None
    assert after_cost is not None
    assert np.all(after_cost.equivalent_annual_cost > before_cost.equivalent_annual_cost)


def test_a_changed_board_type_or_other_draws_compute_everything(case: Case, known: Evaluation) -> None:
    board = case.board_types[0].model_copy(update={"populated_sides": 1})
    other = case.model_copy(update={"board_types": (board, *case.board_types[1:])})
    assert taken_over(evaluate(other, **FEW, previous=known), known) == [False, False, False]
    more = evaluate(case, draws=17, rays=FEW["rays"], previous=known)
    assert taken_over(more, known) == [False, False, False]


def test_progress_counts_every_machine_and_names_it(case: Case) -> None:
    told: list[tuple[int, int, str]] = []
    evaluate(case, **FEW, progress=lambda *what: told.append(what))
    assert told == [(n, 3, candidate.name) for n, candidate in enumerate(case.candidates, start=1)]


def test_progress_starts_at_what_is_taken_over(case: Case, known: Evaluation) -> None:
    told: list[int] = []
    dearer = case.candidates[2].model_copy(update={"count": 2})
    other = case.model_copy(update={"candidates": (*case.candidates[:2], dearer)})
    evaluate(other, **FEW, previous=known, progress=lambda done, _total, _name: told.append(done))
    assert told == [2, 3]


class Stop(Exception):
    """What a stop button raises."""


@pytest.mark.parametrize("how", [{}, {"threads": 2}, {"workers": 2}])
def test_progress_may_stop_the_evaluation(case: Case, how: dict[str, int]) -> None:
    told: list[int] = []

    def stop(done: int, _total: int, _name: str) -> None:
        told.append(done)
        raise Stop

    with pytest.raises(Stop):
        evaluate(case, **FEW, progress=stop, **how)
    assert told == [1]


@pytest.mark.parametrize("name", ["draws", "rays", "threads", "workers"])
def test_less_than_one_is_refused(case: Case, name: str) -> None:
    with pytest.raises(ValueError, match=rf"{name} is 0\. At least 1 is needed\."):
        evaluate(case, **{name: 0})


def test_no_machine_gives_empty_tables(case: Case) -> None:
    empty = evaluate(case.model_copy(update={"candidates": ()}), **FEW)
    assert empty.machines == ()
    assert list(empty.requirements.columns)
    assert len(empty.requirements) == 0
    assert len(empty.verdicts) == 0


def test_no_board_type_gives_verdicts_about_the_machine_alone(case: Case) -> None:
    bare = evaluate(case.model_copy(update={"board_types": ()}), **FEW)
    assert len(bare.machines) == 3
    assert set(bare.requirements["board_type"]) == {""}


def hardest(wash: WashStage | None) -> WashStage | None:
    if wash is None or wash.outcome is None:
        return wash
    return dataclasses.replace(wash, outcome=dataclasses.replace(wash.outcome, kinds=wash.outcome.kinds[:1]))


def test_a_large_case_keeps_the_stages_of_the_chosen_fluid_only(case: Case, known: Evaluation) -> None:
    large = evaluate(case, **FEW, details="chosen fluid")
    assert known.details == "all fluids"
    assert large.requirements.equals(known.requirements)
    assert large.verdicts.equals(known.verdicts)
    dropped = 0
    for mine, whole in zip(large.machines, known.machines, strict=True):
        for board, whole_board in zip(mine.boards, whole.boards, strict=True):
            for stage in ("judged", "met", "dry", "cycle", "materials", "harm", "running_cost_per_board"):
                ours, theirs = getattr(board.chosen, stage), getattr(whole_board.chosen, stage)
                assert list(map(repr, leaves(ours))) == list(map(repr, leaves(theirs)))
            kept = hardest(whole_board.chosen.wash)
            assert list(map(repr, leaves(board.chosen.wash))) == list(map(repr, leaves(kept)))
            for fluid, whole_fluid in zip(board.fluids, whole_board.fluids, strict=True):
                assert (fluid.result, fluid.probability) == (whole_fluid.result, whole_fluid.probability)
                assert np.array_equal(fluid.met, whole_fluid.met)
                dropped += fluid.wash is None and whole_fluid.wash is not None
                assert fluid.wash is None or fluid is board.chosen
    assert dropped > 0


def test_traces_kept_are_bounded(case: Case) -> None:
    assert 0 < len(evaluate(case, **FEW).traces) <= KEPT_TRACES


def job_and_tasks(known: Evaluation) -> tuple[MachineJob, list[tuple[Any, str]]]:
    job = MachineJob(case=known.case, library=known.library, draws=16, seed=1, rays=2048, details="all fluids")
    return job, [(outcome.machine, outcome.fingerprint) for outcome in known.machines]


def test_an_error_in_a_worker_reaches_the_caller(known: Evaluation) -> None:
    job, tasks = job_and_tasks(known)
    broken = dataclasses.replace(job, library=known.library.model_copy(update={"flux_kinds": ()}))
    with pytest.raises(RuntimeError, match="StopIteration"):
        list(outcomes_by_workers(broken, tasks, 2))


def test_a_worker_that_dies_is_said_and_not_waited_for(known: Evaluation, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("model.workers._START", "import sys; sys.exit(3) # {root}")
    job, tasks = job_and_tasks(known)
    with pytest.raises(RuntimeError, match="worker process ended before its work was done"):
        list(outcomes_by_workers(job, tasks, 2))


def test_workers_share_columns_between_machines(case: Case) -> None:
    first, _second, third = evaluate(case, **FEW, workers=2).machines
    common = first.columns.keys() & third.columns.keys()
    assert len(common) > 50
    assert all(first.columns[path] is third.columns[path] for path in common)


def test_workers_bring_every_outcome_once(known: Evaluation) -> None:
    job, tasks = job_and_tasks(known)
    found: dict[int, MachineOutcome] = dict(outcomes_by_workers(job, tasks, 2))
    assert sorted(found) == [0, 1, 2]
    assert [found[place].machine.id for place in range(3)] == [outcome.machine.id for outcome in known.machines]
