"""Every dependency is there, free, and listed with its licence for those who must approve it."""

from __future__ import annotations

import importlib
import importlib.metadata
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]

IMPORT_NAMES = {
    "pyyaml": "yaml", "vl-convert-python": "vl_convert", "pytest-xdist": "xdist",
    "pytest-rerunfailures": "pytest_rerunfailures",
    "pandas-stubs": None,
    "types-PyYAML": None, "types-openpyxl": None, "scipy-stubs": None, "scikit-criteria": "skcriteria",
    "numpy-financial": "numpy_financial", "ruff": None, "pydantic": "pydantic",
}  # fmt: skip
"""Names to import where they differ; None for what is a program or a set of types."""

PERMISSIVE = re.compile(r"\b(MIT|BSD|0BSD|Apache|ISC|Zlib|PSF|Python Software Foundation|CC0)\b")
ALSO_IN_TESTS = re.compile(r"\b(MPL|GPLv3|gpl v3|GPL-3\.0)\b")
"""Free as well; good for tools of the tests, which are not handed on with the program."""


def _name(requirement: str) -> str:
    return re.split(r"[<>=~!\[; ]", requirement, maxsplit=1)[0]


RUN_TIME: list[str] = PROJECT["dependencies"]
OF_TESTS: list[str] = PROJECT["optional-dependencies"]["test"]
BY_HAND: list[str] = PROJECT["optional-dependencies"]["mutation"]
"""Not installed with the tests."""


def _licence_texts(name: str) -> str:
    """Join what a package's metadata says of its licence: expression, classifiers, licence field or file."""
    found = importlib.metadata.metadata(name)
    classifiers = [text for text in found.get_all("Classifier") or [] if text.startswith("License")]
    told = [found.get("License-Expression") or "", *classifiers, (found.get("License") or "")[:400]]
    if not any(told):
        files = importlib.metadata.files(name) or []
        told += [file.read_text(encoding="utf-8")[:400] for file in files if file.name.upper().startswith("LICENSE")]
    return "\n".join(told)


@pytest.mark.parametrize("requirement", [*RUN_TIME, *OF_TESTS])
def test_dependency_is_importable(requirement: str) -> None:
    name = _name(requirement)
    module = IMPORT_NAMES.get(name, name)
    importlib.metadata.version(name)
    if module is not None:
        importlib.import_module(module)


@pytest.mark.parametrize("requirement", RUN_TIME)
def test_what_the_program_needs_has_a_permissive_licence(requirement: str) -> None:
    text = _licence_texts(_name(requirement))
    assert PERMISSIVE.search(text) or "Redistribution and use in source and binary forms" in text, text
    assert not re.search(r"\bA?GPL|GNU Affero|GNU General Public License v[23]", text.split("\n")[0]), text[:200]


@pytest.mark.parametrize("requirement", OF_TESTS)
def test_what_the_tests_need_has_a_free_licence(requirement: str) -> None:
    text = _licence_texts(_name(requirement))
    free = PERMISSIVE.search(text) or ALSO_IN_TESTS.search(text) or "Redistribution and use in source" in text
    assert free, f"{requirement}: {text[:300]}"


@pytest.mark.parametrize("requirement", RUN_TIME)
def test_run_time_dependency_has_a_floor_and_a_ceiling(requirement: str) -> None:
    assert re.search(r">=\d", requirement), requirement
    assert re.search(r"<\d", requirement), requirement


def test_licences_of_all_dependencies_are_listed_for_developers() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    if "## Licences" not in text:
        pytest.skip("DEVELOPERS.md has no section on licences yet")
    section = text.split("## Licences", 1)[1].split("\n## ", 1)[0]
    rows = {cells[1].strip() for line in section.splitlines() if len(cells := line.split("|")) >= 4}
    missing = [_name(requirement) for requirement in [*RUN_TIME, *OF_TESTS, *BY_HAND] if _name(requirement) not in rows]
    assert missing == []
