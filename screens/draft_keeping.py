"""Where this server keeps drafts, which of them a new session is offered, and the one file a session may save to."""

from __future__ import annotations

import contextlib
import ipaddress
import os
from dataclasses import dataclass, field
from pathlib import Path

import streamlit as st

from catalog_schema import Case, CaseError, case_fingerprint, load_case
from catalog_schema.drafts import Draft, delete_draft, draft_folder, list_drafts, new_session, restore_draft, save_draft
from catalog_schema.files import file_fingerprint, save_case
from screens import login

OPEN_VARIABLE = "WASHCASE_OPEN"


@dataclass(slots=True)
class Origin:
    """What a case was opened from; every version edited from it shares this."""

    saved: Case | None = None
    """Case as opened or saved last; None when it never was, as with a restored draft."""
    file: Path | None = None
    """File on this machine that saving goes to; None: only downloads."""
    expected: str = ""
    """Fingerprint of that file when it was opened or saved last."""
    draft: str = field(default_factory=new_session)
    """Name under which its draft is kept."""

    def holds(self, fingerprint: str) -> bool:
        """Tell whether a case with this fingerprint is what was opened or saved last."""
        return self.saved is not None and case_fingerprint(self.saved) == fingerprint

    def previous_file(self) -> Path | None:
        """Name the version before the last save, if there is one."""
        if self.file is None:
            return None
        previous = self.file.with_name(f"{self.file.name}.previous")
        return previous if previous.is_file() else None


def started_with() -> Path | None:
    """Give the file that the command line names, if any."""
    asked = os.environ.get(OPEN_VARIABLE, "")
    return Path(asked) if asked else None


def open_file(path: Path) -> tuple[Case, Origin]:
    """Open a file of this machine, to be saved there again; raise CaseError with all its problems."""
    # Taken before reading: a save in between is then noticed instead of overwritten.
    try:
        expected = file_fingerprint(path) or ""
    except OSError:
        expected = ""
    case = load_case(path)
    return case, Origin(saved=case, file=path, expected=expected)


def save_to_file(case: Case, origin: Origin) -> None:
    """Save to the file a case was opened from; raise CaseError when someone else saved there in between."""
    assert origin.file is not None  # the button is only there with a file
    origin.expected = save_case(case, origin.file, expected=origin.expected)
    origin.saved = case


def keep(case: Case, origin: Origin, unsaved: bool) -> str:
    """Save or drop the draft of what is open; give a sentence when that failed."""
    try:
        if unsaved:
            save_draft(case, origin.draft, _folder(), file=str(origin.file or ""), expected=origin.expected)
        else:
            delete_draft(origin.draft, _folder())
    except CaseError as refusal:
        return refusal.problems[0].message
    return ""


def _folder() -> Path:
    return draft_folder(login.user())


def offered() -> tuple[Draft, ...]:
    """List the drafts to offer, newest first: one's own behind a log-in, else where only this machine is served."""
    if login.is_required():
        return list_drafts(_folder()) if login.user() else ()
    return list_drafts(_folder()) if _serves_this_machine_only() else ()


def _serves_this_machine_only() -> bool:
    # Without a log-in users cannot be told apart, so a server that others reach must not show anybody's drafts. Behind
    # a proxy the address alone says nothing: the names under which the server may be called tell.
    names = st.get_option("server.allowedHosts") or ["*"]
    return all(_is_loopback(str(name)) for name in (st.get_option("server.address") or "", *names))


def _is_loopback(name: str) -> bool:
    if name == "localhost":
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def restore(draft: Draft) -> tuple[Case, Origin]:
    """Read a draft back as unsaved work; it may be saved to its file only if this server was started with that file."""
    case = restore_draft(draft.session, _folder())
    same_file = draft.file and draft.file == str(started_with() or "")
    return case, Origin(file=Path(draft.file) if same_file else None, expected=draft.expected if same_file else "")


def discard(draft: Draft) -> None:
    """Delete a draft; one that cannot be deleted is offered again next time."""
    with contextlib.suppress(CaseError):
        delete_draft(draft.session, _folder())
