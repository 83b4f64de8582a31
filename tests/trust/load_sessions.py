"""Many sessions that edit and evaluate at once: errors, waiting times and memory of one server.

    .venv/bin/python -m tests.trust.load_sessions --sessions 20 --minutes 10

Each session is a websocket client of the real server (see `session_client`): nothing is drawn by a browser, as people's
browsers run on machines of their own. A session moves weights on the "What if" screen, with pauses like a person's;
after every few of them it renames its first offer, which is a change that only this session has, evaluates its case
anew, and now and then visits other screens. Warm-up is the time until every session has evaluated its own case once and
one tenth of the run has passed; memory is compared after it, by the median of the first and of the last fifth of the
readings that follow.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import random
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.trust.running_app import RunningApp, running_app
from tests.trust.session_client import Run, SessionClient

WEIGHTS_PER_EDIT = 8
OTHER_SCREENS = ("Ruled out", "Finance", "Ranking", "Certainty", "Way through the machine", "Plant & boards")
READ_EVERY_S = 1.0


@dataclass(slots=True)
class Load:
    """What was measured."""

    weight_changes_s: list[float] = field(default_factory=list)
    """After warm-up, from the request to the last message of the answer."""
    evaluations_s: list[float] = field(default_factory=list)
    """After warm-up: an offer was changed and the decision screen is drawn again."""
    visits_s: list[float] = field(default_factory=list)
    """After warm-up: other screens."""
    errors: list[str] = field(default_factory=list)
    """Everything that went wrong."""
    memory: list[tuple[float, int]] = field(default_factory=list)
    """Seconds since the start, bytes the server holds."""
    warm: int = 0
    """Sessions that have evaluated their own case."""
    warm_s: float = float("nan")
    """When the warm-up ended, since the start."""

    processor_s: float = 0.0
    """Processor time of the server over the whole run."""
    load_average: tuple[float, ...] = ()
    """Of the machine at the end, over 1, 5 and 15 minutes: more than its processors means that others worked too."""

    def growth(self) -> float:
        """Give the share by which memory grew after the warm-up."""
        after = [size for moment, size in self.memory if moment >= self.warm_s]
        part = max(1, len(after) // 5)
        return statistics.median(after[-part:]) / statistics.median(after[:part]) - 1.0

    def each_minute(self) -> list[float]:
        """Give the middle of the readings of every minute, bytes: a leak goes on rising, a full store does not."""
        minutes: dict[int, list[int]] = {}
        for moment, size in self.memory:
            minutes.setdefault(int(moment // 60.0), []).append(size)
        return [statistics.median(sizes) for _, sizes in sorted(minutes.items())]


def percentile_95(seconds: list[float]) -> float:
    """Give the time that 95 % keep."""
    return sorted(seconds)[max(0, -(-95 * len(seconds) // 100) - 1)]


def run_load(app: RunningApp, *, sessions: int, seconds: float, pause_s: float, seed: int = 1) -> Load:
    """Let sessions work until the time is up; `pause_s` is the mean pause between two actions of one session."""
    load = Load()
    asyncio.run(_all_sessions(app, load, sessions, seconds, pause_s, seed))
    load.errors += app.errors()
    load.processor_s, load.load_average = app.processor_s(), os.getloadavg()
    return load


async def _all_sessions(app: RunningApp, load: Load, sessions: int, seconds: float, pause_s: float, seed: int) -> None:
    started = time.monotonic()
    watch = asyncio.create_task(_watch(app, load, started, sessions, seconds))
    people = [_person(app, load, number, started + seconds, pause_s, random.Random(seed + number))
              for number in range(sessions)]  # fmt: skip
    for outcome in await asyncio.gather(*people, return_exceptions=True):
        if isinstance(outcome, BaseException):
            load.errors.append(f"{type(outcome).__name__}: {outcome}")
    watch.cancel()


async def _watch(app: RunningApp, load: Load, started: float, sessions: int, seconds: float) -> None:
    while True:
        now = time.monotonic() - started
        load.memory.append((now, app.resident_bytes()))
        if load.warm_s != load.warm_s and load.warm >= sessions and now > 0.1 * seconds:
            load.warm_s = now
        await asyncio.sleep(READ_EVERY_S)


def _checked(load: Load, run: Run) -> Run:
    load.errors += run.exceptions()
    return run


def _field(run: Run, ending: str) -> Any:
    return next(one for one in run.of_kind("text_input") if ending in one.id)


async def _person(app: RunningApp, load: Load, number: int, end: float, pause_s: float, chance: random.Random) -> None:
    client = await SessionClient.open(app.stream)
    try:
        # People do not arrive in the same second.
        await asyncio.sleep(chance.uniform(0.0, pause_s))
        _checked(load, await client.visit(timeout_s=600.0))
        count = 0
        while time.monotonic() < end:
            count += 1
            name = f"Offer of session {number}, version {count}"
            edited = _checked(load, await client.visit("Edit offers", timeout_s=600.0))
            _checked(load, await client.write(_field(edited, "].name-").id, name))
            began = time.perf_counter()
            run = _checked(load, await client.visit("What if", timeout_s=600.0))
            warm = load.warm_s == load.warm_s
            if warm:
                load.evaluations_s.append(time.perf_counter() - began)
            if name not in run.text():
                load.errors.append(f"session {number} does not see its own change {count}")
            if count == 1:
                load.warm += 1
            await _weights(load, client, run, end, pause_s, chance)
            if count % 2 == 0 and time.monotonic() < end:
                visit = _checked(load, await client.visit(chance.choice(OTHER_SCREENS), timeout_s=600.0))
                if warm:
                    load.visits_s.append(visit.seconds)
                await asyncio.sleep(chance.uniform(0.5, 1.5) * pause_s)
    finally:
        await client.close()


async def _weights(
    load: Load, client: SessionClient, run: Run, end: float, pause_s: float, chance: random.Random
) -> None:
    for _ in range(WEIGHTS_PER_EDIT):
        await asyncio.sleep(chance.uniform(0.5, 1.5) * pause_s)
        if time.monotonic() >= end:
            return
        sliders = run.of_kind("slider")
        if not sliders:
            load.errors.append("no slider on the screen")
            return
        # Four of the criteria at 20 % at most leave room for the others, so that each shows what was asked for.
        moved = chance.randrange(min(4, len(sliders)))
        now = round(client.shown(sliders[moved]))
        wanted = chance.choice([share for share in range(1, 21) if share != now])
        run = _checked(load, await client.slide(sliders[moved].id, wanted))
        # A slider that was pushed is set to its place: one that shows something else was not taken over.
        shown = [round(client.shown(one)) for one in run.of_kind("slider")]
        if not shown or shown[moved] != wanted:
            load.errors.append(f"a weight of {wanted} % was asked for and {shown} is shown")
        if load.warm_s == load.warm_s:
            load.weight_changes_s.append(run.seconds)


def report(load: Load) -> str:
    """Write what was measured in words."""

    def times(label: str, seconds: list[float]) -> str:
        if not seconds:
            return f"{label}: none after the warm-up"
        return (f"{label}: {len(seconds)}, median {statistics.median(seconds):.2f} s, 95 % within "
                f"{percentile_95(seconds):.2f} s, longest {max(seconds):.2f} s")  # fmt: skip

    after = [size for moment, size in load.memory if moment >= load.warm_s]
    memory = "memory: no warm-up reached"
    if after:
        memory = (f"memory: {after[0] / 2**20:.0f} MiB after the warm-up, {after[-1] / 2**20:.0f} MiB at the end, "
                  f"grown by {load.growth():.1%}, most {max(after) / 2**20:.0f} MiB; each minute "
                  + " ".join(f"{size / 2**20:.0f}" for size in load.each_minute()))  # fmt: skip
    return "\n".join([
        f"warm-up: {load.warm_s:.0f} s", times("weight changes", load.weight_changes_s),
        times("evaluations after an edit", load.evaluations_s), times("other screens", load.visits_s), memory,
        f"processor time of the server: {load.processor_s:.0f} s; load of the machine at the end: "
        + ", ".join(f"{one:.1f}" for one in load.load_average),
        f"errors: {len(load.errors)}", *load.errors[:20],
    ])  # fmt: skip


def main() -> int:
    """Run the load and judge it by the limits of the project: no error, 10 % of memory, 1 s."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--sessions", type=int, default=20)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--pause", type=float, default=6.0, help="mean seconds between two actions of a session")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, running_app(Path(folder)) as app:
        load = run_load(app, sessions=asked.sessions, seconds=60.0 * asked.minutes, pause_s=asked.pause)
    print(report(load))
    good = not load.errors and bool(load.weight_changes_s) and percentile_95(load.weight_changes_s) <= 1.0
    return 0 if good and load.growth() <= 0.1 else 1


if __name__ == "__main__":
    sys.exit(main())
