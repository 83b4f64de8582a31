"""The self-check: many values with sources, all agreeing here, and a wrong one is never passed off as right."""

from __future__ import annotations

import dataclasses
import os
import subprocess
import sys
from pathlib import Path

import pytest

from model import __main__ as command_line
from model import fluids, self_check
from model.self_check import Check, all_checks, run_check, run_self_check, self_check_text

ROOT = Path(__file__).parents[2]


def test_every_value_agrees_on_this_machine() -> None:
    results = run_self_check()
    assert [result for result in results if not result.passed] == []


def test_there_are_many_values_over_all_parts_each_with_its_source() -> None:
    checks = all_checks()
    assert len(checks) >= 40
    topics = {check.topic for check in checks}
    assert topics >= {"water", "nozzles", "pump", "gap", "rinse", "drying", "laminate", "charge", "solvents", "money",
                      "weights", "TOPSIS", "queue", "information"}  # fmt: skip
    assert all(check.source and check.what for check in checks)
    assert len({(check.topic, check.what) for check in checks}) == len(checks)


@pytest.mark.parametrize("check", all_checks(), ids=lambda check: f"{check.topic}: {check.what}")
def test_a_wrong_expectation_fails(check: Check) -> None:
    # Off by twenty tolerances (5 % at least where the tolerance is tiny): the check must notice.
    span = check.tolerance if check.absolute else check.tolerance * abs(check.expected)
    off = max(20.0 * span, 0.05 * abs(check.expected))
    result = run_check(check)
    for wrong in (check.expected + off, check.expected - off):
        spoiled = dataclasses.replace(check, expected=wrong, compute=lambda got=result.got: got)
        assert not run_check(spoiled).passed


def test_a_wrong_formula_is_found_and_the_command_ends_with_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    right = fluids.water_density_kg_m3
    monkeypatch.setattr(fluids, "water_density_kg_m3", lambda temperature_K: right(temperature_K) * 1.001)
    assert command_line.run(["selfcheck"]) == 1
    shown = capsys.readouterr().out
    lines = [line for line in shown.splitlines() if line.startswith("water  ") and "density" in line]
    assert len(lines) == 2
    assert all("FAIL" in line for line in lines)
    assert "DO NOT AGREE: do not rely on results from this machine." in shown


def test_a_computation_that_raises_or_gives_no_number_fails_without_stopping_the_rest() -> None:
    def broken() -> float:
        raise ZeroDivisionError("by zero")

    good = Check(topic="t", what="w", source="s", expected=1.0, tolerance=0.1, compute=lambda: 1.05)
    results = run_self_check(
        [
            dataclasses.replace(good, compute=broken),
            dataclasses.replace(good, compute=lambda: float("nan")),
            dataclasses.replace(good, compute=lambda: float("inf")),
            good,
        ]
    )
    assert [result.passed for result in results] == [False, False, False, True]
    assert results[0].fault == "ZeroDivisionError: by zero"
    text = self_check_text(results)
    assert text.count("FAIL") == 3
    assert "4 checks, 3 DO NOT AGREE" in text


def test_command_prints_the_table_with_sources_and_ends_with_zero() -> None:
    answer = subprocess.run(
        [sys.executable, "-m", "model", "selfcheck"], cwd=ROOT, capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"}, encoding="utf-8",
    )  # fmt: skip
    assert answer.returncode == 0, answer.stdout + answer.stderr
    lines = answer.stdout.splitlines()
    assert lines[0].split()[:5] == ["topic", "what", "expected", "got", "tolerance"]
    assert len(lines) == len(all_checks()) + 3
    assert lines[-1] == f"{len(all_checks())} checks, all agree."
    assert "IAPWS R12-08" in answer.stdout


def test_self_check_needs_no_library_of_the_tests() -> None:
    used = "import sys, model.self_check as s; s.run_self_check(); print(sorted(n.split('.')[0] for n in sys.modules))"
    answer = subprocess.run([sys.executable, "-c", used], cwd=ROOT, capture_output=True, text=True, check=True)
    for name in ("pytest", "CoolProp", "psychrolib", "pymcdm", "SALib", "numpy_financial", "iapws", "simpy"):
        assert f"'{name}'" not in answer.stdout
    assert self_check.__doc__
