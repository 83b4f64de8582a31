"""How soon screens show after navigation and answer a slider, as ratios to an empty page of the same framework."""

from __future__ import annotations

import statistics
import time
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

EMPTY = "import streamlit as st\nst.title('Empty')\n"
SCREENS = ("quick", "plant_and_boards", "machines", "ruled_out", "demands", "timeline", "finance", "ranking", "what_if",
           "certainty", "questions", "guide")  # fmt: skip
APP = Path(__file__).resolve().parents[2] / "app.py"


def _median_run_s(app: AppTest, runs: int = 3) -> float:
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        app.run()
        times.append(time.perf_counter() - start)
        assert not app.exception
    return statistics.median(times)


@pytest.mark.benchmark
def test_warm_screens_beside_an_empty_page() -> None:
    """Script time of a warm screen without the browser's own drawing; printed, not asserted against a clock."""
    empty = _median_run_s(AppTest.from_string(EMPTY, default_timeout=120).run())
    print(f"\nempty page {empty * 1e3:.0f} ms")
    for name in SCREENS:
        app = AppTest.from_string(f"from screens import {name}\n{name}.page()\n", default_timeout=180).run()
        taken = _median_run_s(app)
        print(f"{name:18} {taken * 1e3:6.0f} ms, {taken / empty:5.1f} × the empty page")
        assert app.title, name


@pytest.mark.benchmark
def test_a_weight_slider_beside_an_empty_page() -> None:
    empty = _median_run_s(AppTest.from_string(EMPTY, default_timeout=120).run())
    app = AppTest.from_string("from screens import what_if\nwhat_if.page()\n", default_timeout=180).run()
    times = []
    for value in (30, 40, 20):
        start = time.perf_counter()
        app.slider[0].set_value(value).run()
        times.append(time.perf_counter() - start)
        assert not app.exception
    taken = statistics.median(times)
    print(f"\nslider answer {taken * 1e3:.0f} ms, {taken / empty:.1f} × the empty page")
    assert taken > 0
