"""Sessions of one server evaluate one after the other, edits with a limit to their patience."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Iterator
from types import SimpleNamespace

import pytest

from screens import case_state, server_process


@pytest.fixture
def turns(monkeypatch: pytest.MonkeyPatch) -> dict[bool, threading.Lock]:
    locks = {True: threading.Lock(), False: threading.Lock()}
    monkeypatch.setattr(case_state, "_turns", lambda: locks)
    monkeypatch.setattr(case_state, "WAITING_STEP_S", 0.02)
    monkeypatch.setattr(case_state, "PATIENCE_S", 0.1)
    return locks


@pytest.fixture
def switch_interval() -> Iterator[None]:
    before = sys.getswitchinterval()
    yield
    sys.setswitchinterval(before)


def _session(monkeypatch: pytest.MonkeyPatch, evaluation: object) -> list[float]:
    monkeypatch.setattr(case_state, "_session", lambda: SimpleNamespace(evaluation=evaluation))
    return []


def test_an_edit_waits_for_its_turn_but_not_for_ever(monkeypatch, turns):
    waited = _session(monkeypatch, object())
    turns[False].acquire()
    began = time.monotonic()
    with case_state.evaluation_turn(lambda: waited.append(time.monotonic())):
        spent = time.monotonic() - began
    assert spent >= 0.1
    assert len(waited) >= 2
    # The turn is still that of the one who had it.
    assert turns[False].locked()


def test_an_edit_has_the_turn_while_it_evaluates_and_hands_it_on(monkeypatch, turns):
    waited = _session(monkeypatch, object())
    with case_state.evaluation_turn(lambda: waited.append(0.0)):
        assert turns[False].locked()
        assert not turns[True].locked()
    assert not turns[False].locked()
    assert not waited


def test_a_first_evaluation_waits_until_the_one_before_is_done(monkeypatch, turns):
    waited = _session(monkeypatch, None)
    turns[True].acquire()
    threading.Timer(0.3, turns[True].release).start()
    began = time.monotonic()
    with case_state.evaluation_turn(lambda: waited.append(0.0)):
        assert time.monotonic() - began >= 0.25
        assert turns[True].locked()
    assert not turns[True].locked()


def test_who_stops_while_waiting_leaves_the_turn_to_others(monkeypatch, turns):
    def stop() -> None:
        raise KeyboardInterrupt

    _session(monkeypatch, object())
    turns[False].acquire()
    with pytest.raises(KeyboardInterrupt), case_state.evaluation_turn(stop):
        pytest.fail("entered without waiting")
    turns[False].release()
    assert turns[False].acquire(blocking=False)


@pytest.mark.usefixtures("switch_interval")
def test_threads_take_turns_quickly_and_memory_is_given_back_without_harm():
    server_process.share_processor()
    assert sys.getswitchinterval() == pytest.approx(server_process.SWITCH_S)
    kept = [bytearray(3000) for _ in range(1000)]
    server_process.give_back_memory()
    assert sum(map(len, kept)) == 3_000_000
