"""Opening and saving a case: all problems at once on the way in, nothing lost on the way out."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import yaml

from catalog_schema.atomic_write import write_atomically
from catalog_schema.case import Case
from catalog_schema.collector import collector_at_rest
from catalog_schema.errors import CaseError, Problem
from catalog_schema.library import LIBRARY_FOLDER, library_for
from catalog_schema.parsing import MAX_BYTES, read_yaml, validate
from catalog_schema.references import find_reference_problems


def load_case(path_or_text: Path | str) -> Case:
    """Load a case from a file, or from text when it is a str with a line break.

    Parameters
    ----------
    path_or_text : Path or str

    Returns
    -------
    Case

    Raises
    ------
    CaseError
        With every problem found, never only the first.

    """
    if isinstance(path_or_text, str) and "\n" in path_or_text:
        return parse_case(path_or_text, "text")
    path = Path(path_or_text)
    try:
        with path.open("rb") as stream:
            # One byte over the limit is enough to know; a device or a huge file is never read whole.
            content = stream.read(MAX_BYTES + 1)
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise CaseError([Problem(file=path.name[:100], path="", message=f"cannot be read: {reason}.")]) from None
    return parse_case(content, path.name)


def parse_case(content: bytes | str, file: str) -> Case:
    """Parse the content of a case file; see `load_case`."""
    with collector_at_rest():
        return _parsed(content, file)


def _parsed(content: bytes | str, file: str) -> Case:
    plain = read_yaml(content, file)
    if isinstance(plain, dict) and "washcase_case" in plain and plain["washcase_case"] != 1:
        message = f"{str(plain['washcase_case'])[:40]!r} is not a format version known here. Allowed: 1."
        raise CaseError([Problem(file=file, path="washcase_case", message=message)])
    case = validate(Case, plain, file)
    problems = find_reference_problems(case, library_for(case), file)
    if problems:
        raise CaseError(problems)
    return case


def starter_case() -> Case:
    """Give a case to start from: a plant whose numbers are marked as estimates to be replaced, and nothing else."""
    path = LIBRARY_FOLDER / "starter_case.yaml"
    return parse_case(path.read_bytes(), path.name)


def starter_board() -> dict[str, Any]:
    """Give plain data of a board type to start from; alloy, flux, reflow peak and components are the user's to add."""
    path = LIBRARY_FOLDER / "starter_board.yaml"
    content: dict[str, Any] = read_yaml(path.read_bytes(), path.name)
    return content


def starter_peak(alloy: str) -> dict[str, Any]:
    """Give plain data of the usual reflow peak of an alloy's family; KeyError when there is no such family."""
    path = LIBRARY_FOLDER / "starter_peaks.yaml"
    content: dict[str, dict[str, Any]] = read_yaml(path.read_bytes(), path.name)
    return content[alloy]


def check_case(case: Case, file: str = "case") -> Case:
    """Check a case that was changed in memory for what crosses records; return it unchanged."""
    problems = find_reference_problems(case, library_for(case), file)
    if problems:
        raise CaseError(problems)
    return case


def case_content(case: Case) -> dict[str, Any]:
    """Give the plain data of a case: what was set, without defaults."""
    content: dict[str, Any] = case.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    return {"washcase_case": 1} | content


def case_text(case: Case) -> str:
    """Write a case as YAML text that `load_case` reads back to an equal case."""
    return yaml.safe_dump(case_content(case), sort_keys=False, allow_unicode=True, width=110)


def case_fingerprint(case: Case) -> str:
    """Identify the content of a case by twelve hexadecimal digits of its SHA-256."""
    canonical = json.dumps(case.model_dump(mode="json"), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(canonical.encode("utf-8")).hexdigest()[:12]


def file_fingerprint(path: Path) -> str | None:
    """Identify a file's present bytes, or None when there is no file; used to notice another's save."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return None


def save_case(case: Case, path: Path | str, *, expected: str | None = None) -> str:
    """Save a case so that a reader sees the old or the new file whole; keep the old one as `<name>.previous`.

    Parameters
    ----------
    case : Case
    path : Path or str
    expected : str, optional
        `file_fingerprint` from when the file was opened, or "" when there was no file; when the file differs now,
        saving is refused. Check and replacement are one step for all sessions of this program.

    Returns
    -------
    str
        `file_fingerprint` of what was saved.

    Raises
    ------
    CaseError
        When the folder cannot be written, the disk is full or someone else saved in between.

    Notes
    -----
    A file that already holds this very content is left alone, so that `<name>.previous` stays the version before.

    """
    target = Path(path)
    content = case_text(case).encode("utf-8")
    wanted = hashlib.sha256(content).hexdigest()
    if len(content) > MAX_BYTES:
        message = f"cannot be saved: {len(content)} bytes is over {MAX_BYTES} and could not be opened again. Split it."
        raise CaseError([Problem(file=target.name, path="", message=message)])

    def refuse_if_changed(file: Path) -> None:
        found = file_fingerprint(file) or ""
        if expected is not None and found not in (expected, wanted):
            message = "was saved by someone else since you opened it. Save under another name, or open it again."
            raise CaseError([Problem(file=target.name, path="", message=message)])
        if found == wanted:
            raise _AlreadySaved

    try:
        write_atomically(target, content, keep_previous=True, check=refuse_if_changed)
    except _AlreadySaved:
        pass
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        message = f"cannot be saved: {reason}. The earlier file is untouched. Choose another folder."
        raise CaseError([Problem(file=target.name[:100], path="", message=message)]) from None
    return wanted


class _AlreadySaved(Exception):
    """The file holds the wanted content already."""
