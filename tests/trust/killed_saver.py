"""Saves in a loop and is killed: run as a program by test_saving.py, prints what was found as JSON."""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from catalog_schema import atomic_write
from catalog_schema.case import Case
from catalog_schema.drafts import restore_draft, save_draft
from catalog_schema.files import load_case, save_case


def _versions(demo: Path) -> list[Case]:
    # Sizes differ, so that a mixture of two versions could not be mistaken for one of them.
    case = load_case(demo)
    return [case.model_copy(update={"name": name, "note": name * 40}) for name in ("old", "newer case", "newest case")]


def _killed(act: Callable[[], None], wait_s: float | None) -> bool:
    """Run something in a child; kill it after a while, or wait until it has killed itself. Tells whether it was."""
    child = os.fork()
    if child == 0:
        try:
            act()
        finally:
            os._exit(0)
    if wait_s is not None:
        time.sleep(wait_s)
        os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


def _die_at_line(number: int) -> Callable[[Any, str, Any], Any]:
    """Give a trace function that kills its own process at the n-th line executed in atomic_write.py."""
    lines = 0

    def trace(frame: Any, event: str, _: Any) -> Any:
        nonlocal lines
        if frame.f_code.co_filename != atomic_write.__file__:
            return None
        if event == "line":
            lines += 1
            if lines == number:
                os.kill(os.getpid(), signal.SIGKILL)
        return trace

    return trace


def kills_at_every_line(folder: Path, cases: list[Case]) -> dict[str, object]:
    """Kill one save at its first, second, third … line of code until a save gets through."""
    target = folder / "plant.yaml"
    found: Counter[str] = Counter()
    line = 0
    while True:
        line += 1
        for path in folder.iterdir():
            path.unlink()
        save_case(cases[0], target)
        save_case(cases[1], target)

        def act(at: int = line) -> None:
            sys.settrace(_die_at_line(at))
            save_case(cases[2], target)

        if not _killed(act, None):
            break
        found[load_case(target).name] += 1
        previous = load_case(folder / "plant.yaml.previous").name
        assert previous in ("old", "newer case"), previous
        assert (load_case(target).name, previous) != ("newest case", "old")
        save_case(cases[0], target)
        assert sorted(path.name for path in folder.iterdir()) == ["plant.yaml", "plant.yaml.previous"]
    return {"kills": line - 1, "found": dict(found)}


def kills_at_random(folder: Path, cases: list[Case], kills: int) -> dict[str, object]:
    """Kill a loop of saves at seeded moments, never cleaning up in between."""
    target = folder / "plant.yaml"
    moments = random.Random(7)
    names = {case.name for case in cases}
    found: Counter[str] = Counter()
    leftovers = 0
    contents = [atomic_content(case) for case in cases]
    save_case(cases[0], target)
    save_case(cases[1], target)

    def act() -> None:
        while True:
            for content in contents:
                atomic_write.write_atomically(target, content, keep_previous=True)

    def act_whole() -> None:
        while True:
            for case in cases:
                save_case(case, target)

    for number in range(kills):
        # Rendering the text takes far longer than writing it: mostly the writing is what is killed. Some get longer, so
        # that the loop comes round on a busy machine too.
        longest_s = 0.3 if number % 5 == 4 else 0.02
        assert _killed(act_whole if number % 10 == 0 else act, moments.uniform(0.0005, longest_s))
        leftovers += sum(path.name.endswith(".part") for path in folder.iterdir())
        found[load_case(target).name] += 1
        assert load_case(folder / "plant.yaml.previous").name in names
    save_case(cases[0].model_copy(update={"name": "last"}), target)
    rest = sorted(path.name for path in folder.iterdir())
    return {"kills": kills, "found": dict(found), "leftovers": leftovers, "rest": rest}


def kills_of_autosave(folder: Path, cases: list[Case], kills: int) -> dict[str, object]:
    """Kill a loop of autosaves at seeded moments."""
    moments = random.Random(8)
    found: Counter[str] = Counter()
    save_draft(cases[0], "session-1", folder)

    def act() -> None:
        while True:
            for case in cases:
                save_draft(case, "session-1", folder)

    for _ in range(kills):
        assert _killed(act, moments.uniform(0.0005, 0.05))
        found[restore_draft("session-1", folder).name] += 1
    save_draft(cases[0], "session-1", folder)
    return {"kills": kills, "found": dict(found), "rest": sorted(path.name for path in folder.iterdir())}


def atomic_content(case: Case) -> bytes:
    """Give the bytes that saving a case writes."""
    from catalog_schema.files import case_text

    return case_text(case).encode("utf-8")


def main() -> None:
    """Run the three kinds of killing in folders below the one named."""
    root, demo, at_random, of_drafts = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4])
    cases = _versions(demo)
    report: dict[str, object] = {}
    for name in ("lines", "random", "drafts"):
        (root / name).mkdir()
    report["lines"] = kills_at_every_line(root / "lines", cases)
    report["random"] = kills_at_random(root / "random", cases, at_random)
    report["drafts"] = kills_of_autosave(root / "drafts", cases, of_drafts)
    print(json.dumps(report))


if __name__ == "__main__":
    main()
