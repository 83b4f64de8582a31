"""Knowledge runs one way: catalog_schema ← model ← screens ← app.py."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MAY_IMPORT = {
    "catalog_schema": {"catalog_schema"},
    "demo_catalog": set(),
    "model": {"catalog_schema", "model"},
    "screens": {"catalog_schema", "model", "screens"},
    "app": {"screens"},
}
LONGEST_APP = 40


def layer_files(layer: str) -> list[Path]:
    return [ROOT / "app.py"] if layer == "app" else sorted((ROOT / layer).rglob("*.py"))


def imported_packages(tree: ast.AST) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide the layer"
            names.add((node.module or "").partition(".")[0])
    return names


ALL_FILES = [(layer, path) for layer in MAY_IMPORT for path in layer_files(layer)]


@pytest.mark.parametrize(("layer", "path"), ALL_FILES, ids=lambda value: getattr(value, "name", value))
def test_a_file_imports_only_from_its_own_layer_or_below(layer: str, path: Path) -> None:
    ours = imported_packages(ast.parse(path.read_text(encoding="utf-8"))) & set(MAY_IMPORT)
    assert ours <= MAY_IMPORT[layer]


@pytest.mark.parametrize("layer", ["catalog_schema", "demo_catalog", "model"])
def test_only_screens_and_app_know_streamlit(layer: str) -> None:
    users = [path.name for path in layer_files(layer)
             if "streamlit" in imported_packages(ast.parse(path.read_text(encoding="utf-8")))]  # fmt: skip
    assert users == []


def test_only_case_state_touches_the_session_state() -> None:
    users = []
    for path in [*layer_files("screens"), *layer_files("app")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            attribute = isinstance(node, ast.Attribute) and node.attr == "session_state"
            imported = isinstance(node, ast.ImportFrom) and any(name.name == "session_state" for name in node.names)
            if attribute or imported:
                users.append(path.name)
    assert set(users) == {"case_state.py"}


def test_app_is_short_and_defines_no_class() -> None:
    text = (ROOT / "app.py").read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LONGEST_APP
    assert not any(isinstance(node, ast.ClassDef) for node in ast.walk(ast.parse(text)))


def test_screens_hold_no_formula_library() -> None:
    for path in layer_files("screens"):
        read = imported_packages(ast.parse(path.read_text(encoding="utf-8")))
        assert not read & {"scipy", "math"}, path.name
