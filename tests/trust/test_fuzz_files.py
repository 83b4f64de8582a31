"""Any file either opens or is refused with file, path and sentence: no other exception, no hang, no flood of memory."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from catalog_schema import Case, CaseError, case_text, parse_case
from catalog_schema.files import check_case
from catalog_schema.parsing import MAX_PROBLEMS, validate
from tests.trust.bad_files import (
    BAD_VALUES,
    KINDS,
    LARGE,
    PLAIN,
    PLAIN_LARGE,
    SMALL,
    Steps,
    changed,
    steps_of,
)

ROOT = Path(__file__).parents[2]
LIMIT_S = 2.0
LIMIT_MB = 200.0


def _warm_up() -> None:
    # Reading the library and the first units is start-up, not part of any file.
    parse_case(SMALL, "demo.yaml")
    parse_case(LARGE, "demo.yaml")


def _check_refusal(refused: CaseError, what: str) -> None:
    assert 1 <= len(refused.problems) <= MAX_PROBLEMS, what
    text = str(refused)
    text.encode("utf-8")
    assert text.replace("\n", "").isprintable(), what
    for problem in refused.problems:
        assert problem.file == "bad.yaml", what
        assert 5 < len(problem.message) < 1000, f"{what}: {problem.message[:200]}"
        assert "Traceback" not in problem.message, what


def _try(what: str, read: Callable[[], Case]) -> Case | CaseError:
    """Read one bad file; anything but a case or a CaseError goes through to the test."""
    started = time.process_time()
    try:
        outcome: Case | CaseError = read()
    except CaseError as refused:
        _check_refusal(refused, what)
        outcome = refused
    except Exception as fault:
        raise AssertionError(f"{what}: {type(fault).__name__}: {fault}") from fault
    took = time.process_time() - started
    assert took < LIMIT_S, f"{what} took {took:.1f} s"
    return outcome


@pytest.mark.parametrize("kind", KINDS)
def test_every_bad_file_opens_or_is_refused_with_a_sentence(kind: str) -> None:
    _warm_up()
    outcomes: dict[str, Case | CaseError] = {}
    for what, content in KINDS[kind]():
        outcomes[what] = _try(what, lambda content=content: parse_case(content, "bad.yaml"))  # type: ignore[misc]
    opened = [outcome for outcome in outcomes.values() if isinstance(outcome, Case)]
    print(f"{kind}: {len(outcomes)} files, {len(opened)} opened, the rest refused")
    assert len(opened) < len(outcomes) / 2
    assert all(isinstance(outcome, CaseError) for outcome in outcomes.values()) or kind != "wide but allowed"
    for case in opened[::7]:
        assert parse_case(case_text(case), "again") == case


def test_corpus_holds_at_least_five_hundred_files_and_is_the_same_every_time() -> None:
    corpus = [bad for make in KINDS.values() for bad in make()]
    assert len(corpus) >= 500
    assert len({what for what, _ in corpus}) > 0.95 * len(corpus)
    assert corpus == [bad for make in KINDS.values() for bad in make()]


def _mutations(plain: dict[str, Any], share: float) -> Iterator[tuple[Steps, Any, Any]]:
    choose = random.Random(11)
    for steps in steps_of(plain):
        for value in BAD_VALUES:
            if share >= 1.0 or choose.random() < share:
                yield steps, value, changed(plain, steps, value)


@pytest.mark.parametrize(("plain", "share"), [(PLAIN, 0.6), (PLAIN_LARGE, 0.08)], ids=["small", "large"])
def test_any_wrong_value_anywhere_is_refused_with_its_path_or_read(plain: dict[str, Any], share: float) -> None:
    _warm_up()
    tried = refused = 0
    for steps, value, spoiled in _mutations(plain, share):
        what = f"{steps} = {str(value)[:40]!r}"
        outcome = _try(what, lambda spoiled=spoiled: check_case(validate(Case, spoiled, "bad.yaml"), "bad.yaml"))  # type: ignore[misc]
        tried += 1
        if isinstance(outcome, CaseError):
            refused += 1
            assert all(problem.path for problem in outcome.problems), f"{what}: {outcome}"
            here = str(steps[0])
            # A record that is gone is missed where it was used, which may be in another part of the file.
            elsewhere = all("is not a known" in problem.message for problem in outcome.problems)
            assert elsewhere or any(problem.path.startswith(here) for problem in outcome.problems), f"{what}: {outcome}"
    print(f"{tried} wrong values, {refused} refused")
    assert refused > tried / 2


def test_mutated_text_of_the_whole_file_is_read_or_refused() -> None:
    _warm_up()
    choose = random.Random(12)
    ways = list(steps_of(PLAIN))
    for number in range(300):
        spoiled: Any = PLAIN
        for _ in range(choose.randint(2, 5)):
            steps, value = choose.choice(ways), choose.choice(BAD_VALUES)
            try:
                spoiled = changed(spoiled, steps, value)
            except (LookupError, TypeError, ValueError):
                continue  # an earlier change took that place away
        # JSON is YAML, but for its words for what is no number.
        content = json.dumps(spoiled).encode("utf-8")
        _try(f"mutation {number}", lambda content=content: parse_case(content, "bad.yaml"))  # type: ignore[misc]


_MEASURE = """
import sys, time
from pathlib import Path
from catalog_schema import CaseError, parse_case
from tests.trust.bad_files import KINDS, LARGE

def peak_kB():
    # Unlike getrusage this does not count what the parent process held.
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM"))

parse_case(LARGE, "demo.yaml")
before = peak_kB()
slowest = 0.0
for what, content in KINDS[sys.argv[1]]():
    started = time.process_time()
    try:
        parse_case(content, "bad.yaml")
    except CaseError:
        pass
    slowest = max(slowest, time.process_time() - started)
print((peak_kB() - before) / 1024, slowest)
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs Linux to tell a process's own peak memory")
@pytest.mark.parametrize("kind", ["sizes", "structures", "wide but allowed"])
def test_worst_files_take_little_memory(kind: str) -> None:
    answer = subprocess.run(
        [sys.executable, "-c", _MEASURE, kind], cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert answer.returncode == 0, answer.stderr[-2000:]
    megabytes, slowest_s = (float(word) for word in answer.stdout.split())
    print(f"{kind}: {megabytes:.0f} MB more at the peak, slowest {slowest_s:.2f} s")
    assert megabytes < LIMIT_MB
    assert slowest_s < LIMIT_S
