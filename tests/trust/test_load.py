"""A few sessions at once for a short time; the full load is `python -m tests.trust.load_sessions`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.trust.load_sessions import Load, percentile_95, report, run_load
from tests.trust.running_app import running_app

SESSIONS = 3
SECONDS = 20.0
MOST_WAITING_S = 10.0
"""Far above the project's second: other tests run beside this one, and here only a hang or an error shall fail."""


def test_three_sessions_edit_and_weigh_at_once_without_error(tmp_path: Path) -> None:
    with running_app(tmp_path) as app:
        load = run_load(app, sessions=SESSIONS, seconds=SECONDS, pause_s=0.5)
    print(report(load))
    assert load.errors == []
    assert load.warm == SESSIONS
    assert all(size > 0 for _, size in load.memory)
    if load.weight_changes_s:  # a slow machine may spend all its time on warming up
        assert percentile_95(load.weight_changes_s) < MOST_WAITING_S


@pytest.mark.parametrize(("count", "expected"), [(1, 1.0), (20, 19.0), (100, 95.0)])
def test_95_percent_keep_the_95th_percentile(count: int, expected: float) -> None:
    assert percentile_95([float(number) for number in range(count, 0, -1)]) == expected


def test_growth_compares_the_start_after_the_warm_up_with_the_end() -> None:
    load = Load(warm_s=10.0, memory=[(float(second), 100 if second < 60 else 120) for second in range(110)])
    load.memory[0] = (0.0, 1)
    assert load.growth() == pytest.approx(0.2)
