"""The cycle by itself, from stage times made up so that the answer is known."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from model.cycle import FREE_SHARE_ON_BELT, BoardCycle, belt_pitch_m, board_cycle, boards_together
from model.machine_inputs import MachineInputs, MissingInputError
from model.uncertainty import InputBook
from tests.model.records import board, machine

DRAWS = 4
FIT: Any = SimpleNamespace(boards_per_load=6)
ZONES = {"wash_zone_length": "1 m", "rinse_zone_length": "0.5 m", "dry_zone_length": "2 m",
         "belt_min_speed": "4 mm/s", "belt_max_speed": "30 mm/s"}  # fmt: skip


def context(moving: str = "batch", **equipment: Any) -> Any:
    washer = machine("spray in air", **equipment)
    moved = SimpleNamespace(moving=moving)
    return SimpleNamespace(
        inputs=MachineInputs(washer, InputBook(DRAWS, 1)), machine=moved, draws=DRAWS,
        of_board=lambda one, name: np.full(DRAWS, getattr(one, name).si()[1]), full=lambda value: np.full(DRAWS, value),
    )  # fmt: skip


def run(where: Any, wash: Any, dry: Any, *, rinse: Any = 60.0, rinses: Any = 3.0, wash_limit: Any = 900.0,
        dry_limit: Any = 1800.0) -> BoardCycle:  # fmt: skip
    def each(values: Any) -> Any:
        return None if values is None else np.broadcast_to(np.asarray(values, dtype=np.float64), (DRAWS,))

    stages: tuple[Any, Any, Any] = (
        SimpleNamespace(outcome=SimpleNamespace(needed_time_s=each(wash)), max_time_s=each(wash_limit)),
        SimpleNamespace(rinses=each(rinses), time_s=each(rinse)),
        SimpleNamespace(needed_time_s=each(dry), max_time_s=each(dry_limit)),
    )  # fmt: skip
    return board_cycle(where, board(), FIT, *stages)


def test_a_batch_runs_each_stage_as_long_as_needed_and_no_longer_than_allowed() -> None:
    where = context(wash={"fill_and_heat_time": "120 s"}, running={"load_unload_time": "90 s"})
    assert run(where, 1.0, [1800.0, 1801.0, np.inf, 0.0]).dry_s.tolist() == [1800.0, 1800.0, 1800.0, 0.0]
    assert run(where, 1.0, [1800.0, 1801.0, np.inf, 0.0]).exists.tolist() == [True, False, False, True]
    found = run(where, [600.0, 900.0, 901.0, np.inf], [1800.0, 10.0, 1.0, 2.0], rinses=[1.0, np.inf, 1.0, 1.0])
    assert found.wash_s.tolist() == [600.0, 900.0, 900.0, 900.0]
    assert found.dry_s.tolist() == [1800.0, 10.0, 1.0, 2.0]
    assert found.rinse_s.tolist() == [60.0] * 4
    assert (found.fill_s.tolist(), found.handling_s.tolist()) == ([120.0] * 4, [90.0] * 4)
    assert found.total_s.tolist() == found.occupied_s.tolist() == [2670.0, 1180.0, 1171.0, 1172.0]
    # Fits where wash, drying and rinse all do.
    assert found.exists.tolist() == [True, False, False, False]
    assert found.boards_per_load.tolist() == [6.0] * 4
    assert (found.boards_that_fit, found.belt_speed_m_s) == (6, None)


def test_without_a_limit_a_stage_runs_as_long_as_it_needs_and_not_at_all_where_it_never_ends() -> None:
    found = run(context(), [600.0, np.inf, 1.0, 2.0], [np.inf, 1.0, 2.0, 3.0], wash_limit=None, dry_limit=None)
    assert found.wash_s.tolist() == [600.0, 0.0, 1.0, 2.0]
    assert found.dry_s.tolist() == [0.0, 1.0, 2.0, 3.0]
    assert found.exists.tolist() == [False, False, True, True]
    assert (found.fill_s.tolist(), found.handling_s.tolist()) == ([0.0] * 4, [0.0] * 4)


@pytest.mark.parametrize("rinse", [0.0, 0.5, 1.0, 1.5, 3.0])
def test_a_machine_is_busy_for_a_second_at_least(rinse: float) -> None:
    found = run(context(), 0.0, 0.0, rinse=rinse)
    assert found.total_s.tolist() == [rinse] * 4
    assert found.occupied_s.tolist() == [max(rinse, 1.0)] * 4
    mixed = run(context(), [0.25, 5.0, 1.5, 1.0], 0.0, rinse=0.0)
    assert mixed.occupied_s.tolist() == [1.0, 5.0, 1.5, 1.0]


@pytest.mark.parametrize(
    ("wash", "dry", "rinses", "stage"),
    [([901.0, 901.0, 901.0, 1.0], 1800.0, 3.0, "wash"), (1.0, [1801.0] * 3 + [1.0], 3.0, "dry"),
     (800.0, 1.0, [np.inf] * 3 + [1.0], "rinse"), (100.0, 10.0, 3.0, "wash"), (10.0, 100.0, 3.0, "dry"),
     (10.0, 20.0, 3.0, "rinse"),
     # Half of the draws fit: the longest stage limits, not the one that fits worse.
     ([901.0, 901.0, 1.0, 1.0], 1000.0, 3.0, "dry")],
)  # fmt: skip
def test_the_stage_that_mostly_does_not_fit_limits_or_else_the_longest(
    wash: Any, dry: Any, rinses: Any, stage: str
) -> None:
    assert run(context(), wash, dry, rinses=rinses).limiting == stage


def belt(**changes: Any) -> Any:
    chamber = {name: value for name, value in (ZONES | changes).items() if value is not None}
    return context("inline", chamber=chamber, running={"load_unload_time": "5 s"})


def test_the_slowest_zone_sets_the_belt() -> None:
    # 1 m in 50 s, 0.5 m in 60 s, 2 m in 200 s: 20, 8.3 and 10 mm/s.
    found = run(belt(), 50.0, 200.0)
    speed = 0.5 / 60.0
    np.testing.assert_allclose(found.belt_speed_m_s, speed)  # type: ignore[arg-type]
    for one, zone in ((found.wash_s, 1.0), (found.rinse_s, 0.5), (found.dry_s, 2.0)):
        np.testing.assert_allclose(one, zone / speed)
    np.testing.assert_allclose(found.total_s, 3.5 / speed + 5.0)
    assert (found.fill_s.tolist(), found.handling_s.tolist()) == ([0.0] * 4, [5.0] * 4)
    # Rows of boards follow one another at the pitch of the longer edge.
    np.testing.assert_allclose(found.occupied_s, FREE_SHARE_ON_BELT * 0.160 / speed)
    assert found.boards_per_load.tolist() == [6.0] * 4
    assert found.boards_that_fit == 6
    assert (found.exists.tolist(), found.limiting) == ([True] * 4, "dry")
    short = run(belt(), [901.0, 901.0, 901.0, 1.0], 200.0)
    assert (short.exists.tolist(), short.limiting) == ([False] * 3 + [True], "wash")
    np.testing.assert_allclose(run(belt(), 200.0, 200.0).belt_speed_m_s, 5e-3)  # type: ignore[arg-type]
    np.testing.assert_allclose(run(belt(), 50.0, 400.0).belt_speed_m_s, 5e-3)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changes", "wash", "rinse", "dry", "speed"),
    [({}, 10.0, 5.0, 10.0, 0.030), ({}, 900.0, 60.0, 10.0, 0.004), ({"belt_max_speed": None}, 0.5, 0.0, 0.0, 2.0),
     ({"belt_max_speed": None}, 0.0, 0.25, 0.25, 2.0), ({"belt_max_speed": None}, 0.0, 0.0, 0.0, 500.0),
     ({"belt_max_speed": None, "rinse_zone_length": None}, 0.0, 60.0, 0.5, 4.0),
     ({"belt_max_speed": None, "rinse_zone_length": None, "dry_zone_length": None}, 0.5, 60.0, 60.0, 2.0)],
)  # fmt: skip
def test_a_belt_keeps_within_its_own_speeds_and_follows_the_zones_it_has(
    changes: dict[str, Any], wash: float, rinse: float, dry: float, speed: float
) -> None:
    found = run(belt(**changes), wash, dry, rinse=rinse)
    np.testing.assert_allclose(found.belt_speed_m_s, speed)  # type: ignore[arg-type]
    if changes.get("rinse_zone_length", "") is None:
        assert found.rinse_s.tolist() == [0.0] * 4


@pytest.mark.parametrize("lacking", ["wash_zone_length", "belt_min_speed"])
def test_a_belt_without_its_wash_zone_or_slowest_speed_is_asked_for_it(lacking: str) -> None:
    with pytest.raises(MissingInputError, match=lacking.replace("_", " ")):
        run(belt(**{lacking: None}), 10.0, 10.0)


def test_boards_together_fill_a_load_a_lot_or_a_zone() -> None:
    small, large = board(lot_size=4), board(lot_size=20)
    for zone in ("wash", "dry"):
        assert boards_together(context(), small, FIT, zone).tolist() == [4.0] * 4
        assert boards_together(context(), large, FIT, zone).tolist() == [6.0] * 4
    where, pitch = belt(), FREE_SHARE_ON_BELT * 0.160
    np.testing.assert_allclose(belt_pitch_m(where, large), pitch)
    np.testing.assert_allclose(belt_pitch_m(where, board(length="80 mm", width="90 mm")), FREE_SHARE_ON_BELT * 0.090)
    for zone, length in (("wash", 1.0), ("rinse", 0.5), ("dry", 2.0)):
        np.testing.assert_allclose(boards_together(where, large, FIT, zone), 6.0 * length / pitch)
    short = belt(wash_zone_length="10 mm", dry_zone_length=None)
    np.testing.assert_allclose(boards_together(short, large, FIT, "wash"), 1.0)
    assert boards_together(short, large, FIT, "dry").tolist() == [6.0] * 4
