"""Drafts: what someone has open, saved by itself so that a closed tab or a killed process loses nothing."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from platformdirs import user_state_path

from catalog_schema.atomic_write import write_atomically
from catalog_schema.case import Case
from catalog_schema.errors import CaseError, Problem
from catalog_schema.files import case_content, check_case
from catalog_schema.inert_text import visible_text
from catalog_schema.parsing import MAX_BYTES, validate

MOST_DRAFTS = 20
"""Drafts kept per user; the oldest go first."""
LEFTOVER_AGE_S = 86_400.0
"""Age from which a half-written file in the folder is surely nobody's."""
_FORMAT = 1
_SESSION = re.compile(r"[A-Za-z0-9_-]{8,64}")
_ENDING = ".draft.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What a list of drafts shows of one."""

    session: str
    """Session it belongs to; also its name."""
    case_name: str
    """Name of the case, hidden characters shown."""
    saved_at: datetime
    """Time of the autosave, UTC."""
    file: str
    """File the case was opened from, or empty."""
    expected: str
    """`file_fingerprint` of that file when it was opened, for `save_case`; or empty."""
    readable: bool
    """False when the draft is damaged: it can only be deleted."""


def new_session() -> str:
    """Give a name for a new session that nobody can guess."""
    return secrets.token_hex(16)


def draft_folder(user: str = "", root: Path | None = None) -> Path:
    """Give the folder of one user's drafts; nothing is made yet.

    Parameters
    ----------
    user : str
        Who is logged in, as the log-in names him; empty for the owner of a program that only he can reach. On a server
        without log-in, where users cannot be told apart, drafts must not be listed at all: then restore by the
        session's own unguessable name only.
    root : Path, optional
        Instead of the state folder of the account that runs the program.

    Notes
    -----
    The user's name becomes a hash, so it can hold any character and cannot lead outside the folder.

    """
    base = user_state_path("washcase", appauthor=False) / "drafts" if root is None else root
    return base / (hashlib.sha256(user.encode("utf-8", "surrogatepass")).hexdigest()[:32] if user else "own")


def save_draft(case: Case, session: str, folder: Path, *, file: str = "", expected: str = "") -> None:
    """Save what a session has open, in place of its earlier draft.

    Parameters
    ----------
    case : Case
    session : str
        From `new_session`.
    folder : Path
        From `draft_folder`.
    file, expected : str
        File the case was opened from and its `file_fingerprint` then, so that a restored draft cannot silently
        overwrite what others saved since.

    Raises
    ------
    CaseError
        When the draft cannot be written; the earlier one is whole.

    """
    document = {
        "washcase_draft": _FORMAT, "saved_at": datetime.now(UTC).isoformat(), "file": file, "expected": expected,
        "case": case_content(case),
    }  # fmt: skip
    # Escapes, because a file's name may hold what UTF-8 cannot.
    content = json.dumps(document).encode("ascii")
    if len(content) > MAX_BYTES:
        raise _refusal(f"{len(content)} bytes is over {MAX_BYTES}. Save the case as a file.")
    path = _path(session, folder)
    try:
        for private in (folder.parent, folder):
            private.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder.chmod(0o700)
        # A new file is made with mode 0600 and a replaced one keeps it.
        write_atomically(path, content, keep_previous=False)
    except OSError as problem:
        raise _refusal(f"cannot be saved: {problem.strerror or problem}. Save the case as a file.") from None
    for old in [*sorted(_paths(folder), key=_modified, reverse=True)[MOST_DRAFTS:], *_leftovers(folder)]:
        with contextlib.suppress(OSError):
            old.unlink()


def list_drafts(folder: Path) -> tuple[Draft, ...]:
    """List a user's drafts, newest first; damaged ones are listed as such, never raised."""
    drafts = []
    for path in sorted(_paths(folder), key=_modified, reverse=True):
        session = path.name.removesuffix(_ENDING)
        try:
            document = _read(session, folder)
            drafts.append(
                Draft(
                    session=session, case_name=visible_text(str(document["case"].get("name", "")), one_line=True)[:200],
                    saved_at=document["saved_at"], file=document["file"], expected=document["expected"], readable=True,
                )
            )  # fmt: skip
        except CaseError:
            when = datetime.fromtimestamp(_modified(path) / 1e9, UTC)
            drafts.append(
                Draft(session=session, case_name="", saved_at=when, file="", expected="", readable=False)
            )  # fmt: skip
    return tuple(drafts)


def restore_draft(session: str, folder: Path) -> Case:
    """Read a session's draft back.

    Raises
    ------
    CaseError
        When there is none, it is damaged, or a newer version of the program no longer accepts it.

    """
    return check_case(validate(Case, _read(session, folder)["case"], "draft"), "draft")


def delete_draft(session: str, folder: Path) -> None:
    """Remove a session's draft; one that is gone already is no fault."""
    with contextlib.suppress(FileNotFoundError):
        try:
            _path(session, folder).unlink()
        except FileNotFoundError:
            raise
        except OSError as problem:
            raise _refusal(f"cannot be deleted: {problem.strerror or problem}.") from None


def _refusal(message: str) -> CaseError:
    return CaseError([Problem(file="draft", path="", message=message)])


def _path(session: str, folder: Path) -> Path:
    if not _SESSION.fullmatch(session):
        raise _refusal(f"{session[:64]!r} is not the name of a session.")
    return folder / f"{session}{_ENDING}"


def _paths(folder: Path) -> list[Path]:
    try:
        names = os.listdir(folder)
    except OSError:
        return []
    return [
        folder / name
        for name in names
        if name.endswith(_ENDING) and _SESSION.fullmatch(name.removesuffix(_ENDING))
    ]  # fmt: skip


def _leftovers(folder: Path) -> list[Path]:
    """Find what sessions killed in the middle of an autosave left: nobody will write under their names again."""
    long_ago = time.time_ns() - int(LEFTOVER_AGE_S * 1e9)
    return [
        path
        for pattern in (f".*{_ENDING}.*.part", f".*{_ENDING}.lock")
        for path in folder.glob(pattern)
        if _modified(path) < long_ago
    ]


def _modified(path: Path) -> int:
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0


def _read(session: str, folder: Path) -> dict[str, Any]:
    path = _path(session, folder)
    try:
        with path.open("rb") as stream:
            content = stream.read(MAX_BYTES + 1)
        document = json.loads(content.decode("utf-8")) if len(content) <= MAX_BYTES else None
    except OSError as problem:
        raise _refusal(f"cannot be read: {problem.strerror or problem}.") from None
    except (ValueError, RecursionError):
        document = None
    if not isinstance(document, dict) or document.get("washcase_draft") != _FORMAT:
        raise _refusal("is damaged. Delete it.")
    try:
        document["saved_at"] = datetime.fromisoformat(document["saved_at"]).astimezone(UTC)
        shapes = (("case", dict), ("file", str), ("expected", str))
        whole = all(isinstance(document[key], shape) for key, shape in shapes)
    except (KeyError, TypeError, ValueError, OverflowError):
        whole = False
    if not whole:
        raise _refusal("is damaged. Delete it.")
    return document
