"""The demos' main results stay what they were, on any machine and number of threads; renewed by `demo_results`.

The same code with the same versions of numpy and scipy gives the same bits. Other versions and processors sum and round
in another order, which moves a result by some 1e-12 of itself, and in three ways by more: a draw that lies on a limit
may change sides, an order statistic may jump to the neighbouring draw, and a ranking probability counts drawn weights.
Tolerances leave room for that and for nothing else: a mended formula, another constant or another seed exceeds them.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.trust.demo_results import DEMOS, RESULTS, ROOT, results_of

STORED: dict[str, Any] = json.loads(RESULTS.read_text(encoding="utf-8"))

PROBABILITY = 2.0 / 512.0
"""Two draws of 512 may change sides."""
MIDDLE = 1e-3
"""Relative: half a step to the neighbouring draw, in the middle of 512 draws of a range within a factor of two."""
TAIL = 5e-3
"""Relative: one such step at the 5 % and 95 % points, where draws lie further apart."""
SCORE = 1e-3
"""Absolute, of a score from 0 to 1: weights times values at middle measures."""
FIRST = 0.01
"""Absolute: a share over drawn weights and draws, whose own standard error is about as large."""


@pytest.fixture(scope="module", params=DEMOS)
def demo(request: pytest.FixtureRequest) -> tuple[dict[str, Any], dict[str, Any]]:
    """Stored results and those of today."""
    return STORED[request.param], results_of(request.param)


def near(value: Any, tolerance: float, *, relative: bool) -> Any:
    if value is None or isinstance(value, str):
        return value
    return pytest.approx(value, rel=tolerance, abs=1e-12) if relative else pytest.approx(value, abs=tolerance)


def test_the_stored_results_are_of_todays_settings_and_machines(demo: tuple[dict[str, Any], dict[str, Any]]) -> None:
    stored, found = demo
    assert found["settings"] == stored["settings"]
    assert list(found["machines"]) == list(stored["machines"])


def test_verdicts_stay(demo: tuple[dict[str, Any], dict[str, Any]]) -> None:
    stored, found = demo
    for machine, was in stored["machines"].items():
        now = found["machines"][machine]
        assert (now["result"], now["fluid"]) == (was["result"], was["fluid"]), machine
        assert now["probability"] == near(was["probability"], PROBABILITY, relative=False), machine
        if was["probability"] not in (0.0, 1.0):
            assert now["deciding must"] == was["deciding must"], machine


def test_needed_times_and_machines_stay(demo: tuple[dict[str, Any], dict[str, Any]]) -> None:
    stored, found = demo
    for machine, was in stored["machines"].items():
        now = found["machines"][machine]
        assert now["machines needed"] == was["machines needed"], machine
        for stage in ("needed wash [s]", "needed dry [s]"):
            wanted = {board: near(time, MIDDLE, relative=True) for board, time in was[stage].items()}
            assert now[stage] == wanted, machine


def test_costs_stay(demo: tuple[dict[str, Any], dict[str, Any]]) -> None:
    stored, found = demo
    for machine, was in stored["machines"].items():
        cost, now = was["equivalent annual cost"], found["machines"][machine]["equivalent annual cost"]
        if cost is None:
            assert now is None, machine
        else:
            wanted = [near(one, limit, relative=True) for one, limit in zip(cost, (TAIL, MIDDLE, TAIL), strict=True)]
            assert now == wanted, machine


def test_the_ranking_stays(demo: tuple[dict[str, Any], dict[str, Any]]) -> None:
    stored, found = demo
    assert [one["machine"] for one in found["ranking"]] == [one["machine"] for one in stored["ranking"]]
    assert [one["score"] for one in found["ranking"]] == [
        near(one["score"], SCORE, relative=False) for one in stored["ranking"]
    ]
    assert found["weights"] == {name: near(weight, 1e-9, relative=False) for name, weight in stored["weights"].items()}
    first = "leader first with probability"
    assert found[first] == near(stored[first], FIRST, relative=False)


def test_the_stored_results_tell_something() -> None:
    for name in DEMOS:
        results = {one["result"] for one in STORED[name]["machines"].values()}
        assert len(results) > 1, "a demo in which all machines do alike would hide a change"
        assert any(one["equivalent annual cost"] for one in STORED[name]["machines"].values())


def evaluated(folder: Path, threads: int) -> bytes:
    written = folder / f"{threads}.json"
    number = str(threads)
    environment = os.environ | {"OMP_NUM_THREADS": number, "OPENBLAS_NUM_THREADS": number, "PYTHONIOENCODING": "utf-8"}
    answer = subprocess.run(
        [sys.executable, "-m", "model", "evaluate", "demo_catalog/through_hole_plant.yaml", "--draws", "64", "--json",
         str(written)], cwd=ROOT, env=environment, capture_output=True, encoding="utf-8", check=False, timeout=300,
    )  # fmt: skip
    assert answer.returncode == 0, answer.stderr[-2000:]
    return written.read_bytes()


def test_one_and_two_threads_of_the_numeric_libraries_give_the_same_bytes(tmp_path: Path) -> None:
    """Verdicts, costs, ranking, certainty and questions; the model's own threads and workers are tested with it."""
    assert evaluated(tmp_path, 1) == evaluated(tmp_path, 2)
