"""Break the model one small fault at a time and see whether a test notices.

    python -m tests.trust.mutation_run gap clearing --record gap.json

Faults are mutmut's (`tests/trust/mutants.py`). One process imports the program and collects the tests once; each mutant
is a fork of it that runs the tests that reach the faulty statement, first those that have caught other faults of the
same function, then the cheapest, and stops at the first one to fail.
What each test reaches is measured once with coverage and remembered, by file of tests, until that file or the model
changes. What a fixture computes counts as reached by every test that uses it.

Left out: tests of screens, browser, trust and benchmarks, and tests beyond the time allowed for one mutant. Hypothesis
tries at most 25 examples, the same ones each time. All of this can only make a mutant look alive that the whole suite
would kill, never the other way round.
"""

from __future__ import annotations

import os

os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}

import argparse
import gc
import hashlib
import json
import pickle
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from coverage import Coverage

from tests.trust.mutants import ROOT, Mutant, mutants_of

TESTS = ("tests/model", "tests/published", "model")
EXAMPLES = 25
MEMORY_BYTES = 6 * 2**30
KILLED, SURVIVED, TIMEOUT, UNREACHED, INVALID = "killed", "survived", "timeout", "unreached", "invalid"
OUR_FAULT = 3
WRITE_EVERY_S = 20.0


class Runner:
    """A pytest plugin that runs mutants in place of tests."""

    def __init__(self, options: argparse.Namespace) -> None:
        self.options = options
        self.failed: list[str] = []
        self.reach: dict[str, Any] = {}
        self.items: dict[str, pytest.Item] = {}
        self.caught: dict[tuple[str, str], Counter[str]] = {}
        """How many faults of a function, by file and name, each test was the first to catch."""
        self._fixture_lines: dict[str, Any] = {}
        self._coverage: Coverage | None = None

    @pytest.hookimpl
    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note a failure."""
        if report.failed:
            self.failed.append(report.nodeid)

    @pytest.hookimpl
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Have Hypothesis try few examples, always the same, and not look for the simplest one that fails."""
        # Not before pytest has prepared to rewrite its assertions.
        from hypothesis import HealthCheck, Phase, settings

        for item in items:
            function = getattr(item, "obj", None)
            wanted = getattr(function, "_hypothesis_internal_use_settings", None)
            if wanted is not None:
                target = getattr(function, "__func__", function)
                target._hypothesis_internal_use_settings = settings(
                    wanted, max_examples=min(wanted.max_examples, EXAMPLES), derandomize=True, database=None,
                    deadline=None, phases=(Phase.explicit, Phase.generate), suppress_health_check=list(HealthCheck),
                )  # fmt: skip

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any, request: pytest.FixtureRequest) -> Iterator[None]:
        """Measure what a shared fixture reaches apart from the test that happens to ask first."""
        if self._coverage is None or fixturedef.scope == "function":
            return (yield)
        name = _fixture_name(fixturedef)
        start = time.process_time()
        self._coverage.switch_context(f"fixture {name}")
        try:
            return (yield)
        finally:
            self._coverage.switch_context(self._running)
            self._fixture_lines[name] = time.process_time() - start

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Run the mutants."""
        self.items = {item.nodeid: item for item in session.items}
        self._load_reach()
        gc.collect()
        gc.freeze()
        _run_mutants(self)
        return True

    def _load_reach(self) -> None:
        """Measure what the tests reach, as far as it is not remembered."""
        model = hashlib.sha256()
        for path in sorted([*(ROOT / "model").glob("*.py"), *(ROOT / "tests").rglob("conftest.py")]):
            model.update(path.read_bytes())
        by_file: dict[str, list[pytest.Item]] = {}
        for item in self.items.values():
            by_file.setdefault(item.nodeid.split("::")[0], []).append(item)
        folder = Path(self.options.memory)
        folder.mkdir(parents=True, exist_ok=True)
        for file, items in by_file.items():
            key = model.copy()
            key.update((ROOT / file).read_bytes())
            known = folder / f"{Path(file).stem}-{key.hexdigest()[:20]}.pickle"
            if not known.exists():
                print(f"measuring what {file} reaches", flush=True)
                code, found = _in_fork(lambda items=items: self._measured(items), self.options.measure_seconds)
                if found is None:
                    print(f"  gave up ({code})", flush=True)
                    found = {}
                known.write_bytes(pickle.dumps(found))
            self.reach |= pickle.loads(known.read_bytes())

    def _measured(self, items: Sequence[pytest.Item]) -> dict[str, Any]:
        """Give for each passing test: own seconds, lines by file, and (seconds, lines by file) of its fixtures."""
        model = str(ROOT / "model" / "*")
        self._coverage = Coverage(data_file=None, include=[model], config_file=False, messages=False)
        self._coverage.start()
        seconds: dict[str, float] = {}
        for item, following in zip(items, [*items[1:], None], strict=True):
            before, start = sum(self._fixture_lines.values()), time.process_time()
            self._running = item.nodeid
            self._coverage.switch_context(item.nodeid)
            self.failed.clear()
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if not self.failed:
                spent = time.process_time() - start
                seconds[item.nodeid] = spent - (sum(self._fixture_lines.values()) - before)
            else:
                print("  fails without any fault:", item.nodeid, file=sys.__stderr__)
        self._coverage.stop()
        data = self._coverage.get_data()
        lines: dict[str, dict[str, set[int]]] = {}
        for path in data.measured_files():
            file = str(Path(path).relative_to(ROOT))
            for line, contexts in data.contexts_by_lineno(path).items():
                for context in contexts:
                    lines.setdefault(context, {}).setdefault(file, set()).add(line)
        return {
            item.nodeid: {
                "seconds": seconds[item.nodeid],
                "lines": lines.get(item.nodeid, {}),
                "fixtures": {
                    name: (self._fixture_lines[name], lines.get(f"fixture {name}", {}))
                    for name in _fixture_names(item)
                    if name in self._fixture_lines
                },
            }
            for item in items
            if item.nodeid in seconds
        }

    def note_catch(self, file: str, result: dict[str, Any]) -> None:
        """Take note of which test, if any, caught a mutant of a file."""
        if result["by"]:
            self.caught.setdefault((file, result["function"]), Counter())[result["by"]] += 1

    def tests_for(self, mutant: Mutant) -> tuple[list[pytest.Item], float]:
        """Give the tests that reach a mutant, within the time allowed, and the time they need.

        Those that have caught most faults of the same function for their cost come first, then the cheapest.
        """
        wanted = set(mutant.lines)
        costs: list[tuple[float, str]] = []
        for test, known in self.reach.items():
            if test not in self.items:
                continue
            reached = wanted & known["lines"].get(mutant.file, set()) or any(
                wanted & lines.get(mutant.file, set()) for _, lines in known["fixtures"].values()
            )
            if reached:
                costs.append((known["seconds"] + sum(seconds for seconds, _ in known["fixtures"].values()), test))
        chosen: list[pytest.Item] = []
        spent, paid = 0.0, set()
        for _, test in sorted(costs):
            known = self.reach[test]
            fresh = {name: seconds for name, (seconds, _) in known["fixtures"].items() if name not in paid}
            cost = known["seconds"] + sum(fresh.values())
            if spent + cost <= self.options.budget:
                chosen.append(self.items[test])
                spent += cost
                paid |= set(fresh)
        caught = self.caught.get((mutant.file, mutant.function), Counter())
        cost_of = {test: seconds for seconds, test in costs}
        # Sorting is stable: tests that have caught nothing stay in order of their cost.
        chosen.sort(key=lambda item: -caught[item.nodeid] / (cost_of[item.nodeid] + 0.02))
        return chosen, spent


def _fixture_name(fixturedef: Any) -> str:
    return f"{fixturedef.baseid}::{fixturedef.argname}"


def _fixture_names(item: pytest.Item) -> set[str]:
    found = getattr(item, "_fixtureinfo", None)
    return {_fixture_name(one) for defs in found.name2fixturedefs.values() for one in defs} if found else set()


def _in_fork(work: Callable[[], Any], seconds: float) -> tuple[int, Any]:
    """Do some work in a fork; gives its exit code (negative: the signal that ended it) and what it gave."""
    reading, writing = os.pipe()
    process = os.fork()
    if process == 0:
        os.close(reading)
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
        resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + 1, int(seconds) + 2))
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(10 * int(seconds) + 10)
        with _silence():
            answer = pickle.dumps(work())
        with os.fdopen(writing, "wb") as stream:
            stream.write(answer)
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as stream:
        answer = stream.read()
    code = os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])
    return code, pickle.loads(answer) if answer else None


@contextmanager
def _silence() -> Iterator[None]:
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    except BaseException:
        traceback.print_exc()
        os._exit(OUR_FAULT)


def _run_mutants(runner: Runner) -> None:
    options = runner.options
    record = Path(options.record)
    told: dict[str, dict[str, Any]] = json.loads(record.read_text(encoding="utf-8")) if record.exists() else {}
    end = time.monotonic() + options.seconds
    written = time.monotonic()
    for name in options.files:
        file = f"model/{name}.py"
        mutants = mutants_of(file)
        order = random.Random(f"{options.seed} {file}").sample(mutants, len(mutants))
        wanted = order[: options.sample or len(order)]
        if options.again:
            on_record = told.get(file, {}).get("results", {})
            wanted += [mutant for mutant in order[len(wanted) :] if mutant.name in on_record]
        known = told.setdefault(file, {"mutants": len(mutants), "results": {}})
        known["mutants"] = len(mutants)
        sound = {one.name: hashlib.sha256(one.source.encode()).hexdigest()[:16] for one in mutants}
        results = {key: one for key, one in known["results"].items() if sound.get(key) == one["hash"]}
        known["results"] = results
        for one in results.values():
            runner.note_catch(file, one)
        for mutant in wanted:
            before = results.get(mutant.name)
            again = options.again and before and before["status"] in (SURVIVED, UNREACHED)
            if (before and not again) or time.monotonic() > end:
                continue
            results[mutant.name] = {**_judged(runner, mutant), "hash": sound[mutant.name]}
            runner.note_catch(file, results[mutant.name])
            # A record of thousands takes as long to write as a mutant does to try.
            if time.monotonic() > written + WRITE_EVERY_S:
                record.write_text(json.dumps(told, ensure_ascii=False, indent=1), encoding="utf-8")
                written = time.monotonic()
        told[file] = known
        record.write_text(json.dumps(told, ensure_ascii=False, indent=1), encoding="utf-8")
        count = Counter(one["status"] for one in results.values())
        dead, seconds = count[KILLED] + count[TIMEOUT], sum(one["seconds"] for one in results.values())
        tried = sum(count.values()) - count[INVALID]
        print(f"{file}: {len(mutants)} mutants, {tried} tried, {dead / max(tried, 1):.1%} killed, {dict(count)}, "
              f"{seconds:.0f} s", flush=True)  # fmt: skip


def _judged(runner: Runner, mutant: Mutant) -> dict[str, Any]:
    """Run the tests against one mutant."""
    items, expected = runner.tests_for(mutant)
    start = time.monotonic()
    killer: str | None = None
    if items:
        code, killer = _in_fork(lambda: _first_failure(runner, mutant, items), 5.0 + 6.0 * expected)
        if code == OUR_FAULT:
            raise RuntimeError(f"{mutant.file} {mutant.name}: the runner itself failed")
        status = TIMEOUT if code in (-signal.SIGXCPU, -signal.SIGALRM, -signal.SIGKILL) else KILLED
        if code == 0:
            status = INVALID if killer == "" else KILLED if killer else SURVIVED
    else:
        status = UNREACHED
    return {
        "status": status, "function": mutant.function, "line": mutant.lines.start, "text": mutant.text,
        "change": mutant.change(), "tests": len(items), "by": killer, "seconds": round(time.monotonic() - start, 2),
    }  # fmt: skip


def _first_failure(runner: Runner, mutant: Mutant, items: Sequence[pytest.Item]) -> str | None:
    """Name the first test that fails; None when all pass, empty when Python refuses the mutant."""
    try:
        mutant.take_effect()
    except SyntaxError:
        return ""
    runner.failed.clear()
    for item, following in zip(items, [*items[1:], None], strict=True):
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if runner.failed:
            return runner.failed[0]
    return None


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the mutants that the command line names."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="+", help="files of model, without .py")
    parser.add_argument("--sample", type=int, default=0, help="mutants per file, drawn by the seed (default: all)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--again", action="store_true", help="try the survivors on record once more")
    parser.add_argument("--record", default="mutation_record.json", help="results; a further run adds to it")
    parser.add_argument("--budget", type=float, default=6.0, help="CPU seconds of tests per mutant")
    parser.add_argument("--seconds", type=float, default=1e9, help="stop after this long")
    parser.add_argument("--measure-seconds", type=float, default=300.0, help="CPU seconds to measure one file of tests")
    parser.add_argument("--tests", nargs="+", default=list(TESTS), help="files or folders of tests")
    parser.add_argument("--memory", default=str(Path(tempfile.gettempdir()) / "washcase-mutation"))
    options = parser.parse_args(arguments)
    # Worker processes would compute without the fault.
    os.cpu_count = lambda: 1  # type: ignore[assignment]
    os.chdir(ROOT)
    without = [part for name in ("xdist", "rerunfailures", "cacheprovider") for part in ("-p", f"no:{name}")]
    return int(pytest.main([*without, "-q", "-s", "--tb=no", "--no-header", *options.tests], plugins=[Runner(options)]))


if __name__ == "__main__":
    raise SystemExit(main())
