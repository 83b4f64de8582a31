"""A worker that stays gives what this process gives, one evaluation after the other, and is never needed."""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from catalog_schema.case import Case
from model.evaluate import Evaluation, evaluate
from model.standing_worker import StandingWorker

MACHINES, BOARDS = ("offer-a-batch-spray", "offer-c-ultrasonic"), ("dense-controller", "power-supply")


@pytest.fixture(scope="module")
def standing() -> Iterator[StandingWorker]:
    worker = StandingWorker()
    yield worker
    worker.close()


def run(case: Case, **how: Any) -> Evaluation:
    return evaluate(case, draws=32, rays=8192, **how)


def assert_same(one: Evaluation, other: Evaluation) -> None:
    assert one.requirements.equals(other.requirements)
    assert one.verdicts.equals(other.verdicts)
    for mine, its in zip(one.machines, other.machines, strict=True):
        assert mine.inputs == its.inputs
        np.testing.assert_array_equal(mine.met, its.met)


def test_it_gives_what_this_process_gives_case_after_case(
    demo_case: Case, small_case: Any, standing: StandingWorker
) -> None:
    first = small_case(demo_case, MACHINES, BOARDS)
    second = small_case(demo_case, MACHINES, BOARDS, {"spray.clearance": "90 mm"})
    for case in (first, second, first):
        assert_same(run(case, standing=standing), run(case))


def test_an_edit_takes_over_what_is_unchanged(demo_case: Case, small_case: Any, standing: StandingWorker) -> None:
    case = small_case(demo_case, MACHINES, BOARDS)
    before = run(case, standing=standing)
    renamed = case.candidates[0].model_copy(update={"name": "Another name"})
    edited = case.model_copy(update={"candidates": (renamed, *case.candidates[1:])})
    after = run(edited, standing=standing, previous=before)
    assert [one is other for one, other in zip(after.machines, before.machines, strict=True)] == [False, True]
    assert_same(after, run(edited))


def test_whoever_comes_while_it_is_busy_computes_for_himself(
    demo_case: Case, small_case: Any, standing: StandingWorker
) -> None:
    case = small_case(demo_case, MACHINES, BOARDS)
    names: list[str] = []

    def progress(done: int, total: int, name: str) -> None:
        names.append(name)
        if len(names) == 1:
            # In the middle of this evaluation the process is taken: another one must not wait for it.
            assert_same(run(case, standing=standing), run(case))

    assert_same(run(case, standing=standing, progress=progress), run(case))
    assert len(names) == len(MACHINES)


def test_a_process_that_dies_costs_nothing_but_time(demo_case: Case, small_case: Any) -> None:
    case, standing = small_case(demo_case, MACHINES, BOARDS), StandingWorker()
    assert standing._process is not None
    standing._process.kill()
    assert_same(run(case, standing=standing), run(case))
    # The next evaluation starts a new one.
    assert_same(run(case, standing=standing), run(case))
    assert standing._process is not None
    assert standing._process.poll() is None
    standing.close()
    assert standing._process is None


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="processes cannot be held here")
def test_a_process_that_dies_over_a_machine_leaves_it_to_the_caller_and_makes_room(
    demo_case: Case, small_case: Any
) -> None:
    case, standing = small_case(demo_case, MACHINES, BOARDS), StandingWorker()

    def hold_and_kill(done: int, total: int, name: str) -> None:
        process = standing._process
        if done == 1 and process is not None:
            # Held, it takes the next machine but does not answer before it dies.
            process.send_signal(signal.SIGSTOP)
            threading.Timer(0.2, process.kill).start()

    assert_same(run(case, standing=standing, progress=hold_and_kill), run(case))
    assert standing._process is None
    standing.close()


def test_one_that_is_stopped_half_way_goes_on_with_the_next_case(
    demo_case: Case, small_case: Any, standing: StandingWorker
) -> None:
    case = small_case(demo_case, MACHINES, BOARDS)

    def stop(done: int, total: int, name: str) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run(case, standing=standing, progress=stop)
    assert_same(run(case, standing=standing), run(case))


def test_it_ends_by_itself_with_the_program_that_started_it() -> None:
    standing = StandingWorker()
    process = standing._process
    assert process is not None
    assert process.stdin is not None
    process.stdin.close()
    end = time.monotonic() + 30.0
    while process.poll() is None and time.monotonic() < end:
        time.sleep(0.05)
    assert process.returncode == 0
    standing.close()
