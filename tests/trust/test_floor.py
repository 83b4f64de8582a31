"""The lowest versions that `.ci/floor` proves are the ones that pyproject.toml promises."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_the_versions_proved_are_the_lowest_ones_promised() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    promised = {}
    for requirement in project["dependencies"]:
        found = re.match(r"([\w.-]+)>=([\d.]+)", requirement)
        assert found is not None, f"{requirement}: no lowest version"
        promised[found.group(1)] = _plain(found.group(2))
    text = (ROOT / ".ci" / "floor-constraints.txt").read_text(encoding="utf-8")
    proved = dict(line.split("==") for line in text.splitlines() if line and not line.startswith("#"))
    assert {name: _plain(version) for name, version in proved.items()} == promised


def _plain(version: str) -> tuple[int, ...]:
    """Read a version; a trailing zero says nothing."""
    parts = [int(part) for part in version.split(".")]
    while parts and parts[-1] == 0:
        parts.pop()
    return tuple(parts)


def test_the_continuous_check_runs_it() -> None:
    assert re.search(r"^\.ci/floor$", (ROOT / ".ci" / "run").read_text(encoding="utf-8"), re.MULTILINE)
