"""The lists of what mutation testing left alive add up, give a reason for each, and speak of functions that exist."""

from __future__ import annotations

import ast
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
import yaml

ROOT = Path(__file__).parents[2]
LISTS = sorted(Path(__file__).parent.glob("mutation_survivors*.yaml"))
LEAST_SHARE = 0.85


def read(path: Path) -> dict[str, Any]:
    return yaml.safe_load(path.read_text(encoding="utf-8"))


def functions_of(file: str) -> set[str]:
    tree = ast.parse((ROOT / "model" / f"{file}.py").read_text(encoding="utf-8"))
    found = set()
    for node in tree.body:
        if isinstance(node, ast.FunctionDef):
            found.add(node.name)
        elif isinstance(node, ast.ClassDef):
            found |= {f"{node.name}.{one.name}" for one in node.body if isinstance(one, ast.FunctionDef)}
    return found


def test_there_is_a_list() -> None:
    assert LISTS


@pytest.mark.parametrize("path", LISTS, ids=lambda path: path.stem)
def test_counts_add_up_and_every_survivor_is_listed_with_a_reason(path: Path) -> None:
    record = read(path)
    listed: Counter[str] = Counter()
    for group in record["survivors"]:
        assert len(group["reason"]) > 20
        listed.update(one["file"] for one in group["mutants"])
        for one in group["mutants"]:
            assert one["change"]
    assert set(listed) <= set(record["files"])
    for file, count in record["files"].items():
        assert count["killed"] + count["timeout"] + count["survived"] == count["tried"] <= count["mutants"], file
        assert listed[file] == count["survived"], file


@pytest.mark.parametrize("path", LISTS, ids=lambda path: path.stem)
def test_the_share_killed_is_what_is_promised(path: Path) -> None:
    # Each file stands for all its mutants, whether all were tried or a random part of them.
    weighted = [
        (count["mutants"], (count["killed"] + count["timeout"]) / count["tried"])
        for count in read(path)["files"].values()
        if count["tried"]
    ]
    share = sum(mutants * killed for mutants, killed in weighted) / sum(mutants for mutants, _ in weighted)
    assert share >= LEAST_SHARE


@pytest.mark.parametrize("path", LISTS, ids=lambda path: path.stem)
def test_the_functions_named_exist(path: Path) -> None:
    for group in read(path)["survivors"]:
        for one in group["mutants"]:
            name = one["mutant"].rpartition(":")[0]
            assert name in functions_of(one["file"]), f"{one['file']}: {name}. Renew the list."
