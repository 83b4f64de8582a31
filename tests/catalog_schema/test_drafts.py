"""Drafts: what is open survives; private, limited in number, each session its own, damage is said."""

from __future__ import annotations

import json
import os
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from catalog_schema import CaseError, load_case
from catalog_schema import drafts as drafts_module
from catalog_schema.case import Case
from catalog_schema.drafts import (
    MOST_DRAFTS,
    delete_draft,
    draft_folder,
    list_drafts,
    new_session,
    restore_draft,
    save_draft,
)
from catalog_schema.files import file_fingerprint, save_case

DEMO = Path(__file__).parents[2] / "demo_catalog" / "through_hole_plant.yaml"
CASE = load_case(DEMO)
POSIX = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such permissions")


def _named(name: str) -> Case:
    return CASE.model_copy(update={"name": name})


def test_draft_is_restored_equal(tmp_path: Path) -> None:
    save_draft(CASE, "session-1", tmp_path, file="plant.yaml", expected="abc")
    assert restore_draft("session-1", tmp_path) == CASE
    (draft,) = list_drafts(tmp_path)
    assert (draft.session, draft.case_name, draft.file, draft.expected) == ("session-1", CASE.name, "plant.yaml", "abc")
    assert draft.readable
    assert abs(datetime.now(UTC) - draft.saved_at) < timedelta(minutes=1)


def test_a_session_keeps_one_draft_and_others_keep_theirs(tmp_path: Path) -> None:
    for name in ("first", "second"):
        save_draft(_named(name), "session-1", tmp_path)
    save_draft(_named("other"), "session-2", tmp_path)
    assert restore_draft("session-1", tmp_path).name == "second"
    assert restore_draft("session-2", tmp_path).name == "other"
    assert [draft.case_name for draft in list_drafts(tmp_path)] == ["other", "second"]


def test_sessions_have_names_that_nobody_guesses() -> None:
    names = {new_session() for _ in range(100)}
    assert len(names) == 100
    assert all(len(name) == 32 for name in names)


def test_users_have_folders_of_their_own_whatever_they_are_called(tmp_path: Path) -> None:
    users = ["", "anna@example.invalid", "../../etc", "own", "C:\\", "\ud800", "a" * 10_000, "Anna@example.invalid"]
    folders = {draft_folder(user, tmp_path) for user in users}
    assert len(folders) == len(users)
    assert {folder.parent for folder in folders} == {tmp_path}
    save_draft(CASE, "session-1", draft_folder("anna@example.invalid", tmp_path))
    assert list_drafts(draft_folder("", tmp_path)) == ()
    assert len(list_drafts(draft_folder("anna@example.invalid", tmp_path))) == 1


def test_drafts_lie_in_the_state_folder_of_the_account(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(drafts_module, "user_state_path", lambda *_, **__: tmp_path / "washcase")
    assert draft_folder() == tmp_path / "washcase" / "drafts" / "own"


@POSIX
def test_only_the_owner_can_read_drafts(tmp_path: Path) -> None:
    folder = draft_folder("", tmp_path / "state" / "drafts")
    before = os.umask(0)
    try:
        save_draft(CASE, "session-1", folder)
        save_draft(_named("again"), "session-1", folder)
    finally:
        os.umask(before)
    assert folder.stat().st_mode & 0o777 == 0o700
    assert folder.parent.stat().st_mode & 0o777 == 0o700
    assert (folder / "session-1.draft.json").stat().st_mode & 0o777 == 0o600


def test_number_of_drafts_is_limited_and_the_oldest_go(tmp_path: Path) -> None:
    for number in range(MOST_DRAFTS + 5):
        save_draft(_named(f"case {number}"), f"session-{number:03}", tmp_path)
    names = [draft.case_name for draft in list_drafts(tmp_path)]
    assert names == [f"case {number}" for number in reversed(range(5, MOST_DRAFTS + 5))]


def test_deleting_removes_one_draft_and_may_be_repeated(tmp_path: Path) -> None:
    for session in ("session-1", "session-2"):
        save_draft(CASE, session, tmp_path)
    delete_draft("session-1", tmp_path)
    delete_draft("session-1", tmp_path)
    assert [draft.session for draft in list_drafts(tmp_path)] == ["session-2"]
    with pytest.raises(CaseError, match="cannot be read"):
        restore_draft("session-1", tmp_path)


@pytest.mark.parametrize(
    "session", ["../escape", "a/b", "", "short", "x" * 65, "a b c d e", "session-1\n", "ab\0cdefgh"]
)
def test_names_that_are_no_session_reach_no_file(session: str, tmp_path: Path) -> None:
    for act in (
        lambda: save_draft(CASE, session, tmp_path / "in"),
        lambda: restore_draft(session, tmp_path / "in"),
        lambda: delete_draft(session, tmp_path / "in"),
    ):
        with pytest.raises(CaseError, match="is not the name of a session"):
            act()
    assert list(tmp_path.iterdir()) == []


def _document(**changes: object) -> bytes:
    whole: dict[str, object] = {
        "washcase_draft": 1, "saved_at": "2026-01-01T00:00:00+00:00", "file": "", "expected": "", "case": {"name": "x"},
    }  # fmt: skip
    return json.dumps(whole | changes).encode()


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[]", b"null", b"\xff\xfe", b"[" * 100_000, b"1" * 5_000, b"{}", b"\0" * 100, b"x" * 2_000_001,
     _document(washcase_draft=2), _document(saved_at=5), _document(saved_at="soon"), _document(case=[]),
     _document(file=None), _document(expected=1)],
    ids=range(16),
)  # fmt: skip
def test_damaged_draft_is_listed_as_such_said_and_can_be_deleted(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "session-1.draft.json").write_bytes(content)
    save_draft(CASE, "session-2", tmp_path)
    shown = {draft.session: draft.readable for draft in list_drafts(tmp_path)}
    assert shown == {"session-1": False, "session-2": True}
    with pytest.raises(CaseError, match=r"draft: is damaged\. Delete it\."):
        restore_draft("session-1", tmp_path)
    delete_draft("session-1", tmp_path)
    assert len(list_drafts(tmp_path)) == 1


def test_draft_whose_case_is_no_longer_accepted_says_why(tmp_path: Path) -> None:
    (tmp_path / "session-1.draft.json").write_bytes(_document())
    (draft,) = list_drafts(tmp_path)
    assert draft.readable
    with pytest.raises(CaseError, match=r"draft: plant: is missing"):
        restore_draft("session-1", tmp_path)


def test_restored_draft_cannot_silently_overwrite_what_others_saved(tmp_path: Path) -> None:
    target = tmp_path / "plant.yaml"
    opened = save_case(CASE, target)
    save_draft(_named("mine"), "session-1", tmp_path / "drafts", file=target.name, expected=opened)
    save_case(_named("theirs"), target)
    (draft,) = list_drafts(tmp_path / "drafts")
    with pytest.raises(CaseError, match="someone else"):
        save_case(restore_draft("session-1", tmp_path / "drafts"), target, expected=draft.expected)
    assert file_fingerprint(target) != opened


def test_names_of_cases_and_files_cannot_spoil_the_list(tmp_path: Path) -> None:
    save_draft(_named("a\u202eb\nc"), "session-1", tmp_path, file="x\ud800.yaml")
    (draft,) = list_drafts(tmp_path)
    assert draft.case_name == "a⟨U+202E⟩b⟨U+000A⟩c"
    assert restore_draft("session-1", tmp_path).name == "a\u202eb\nc"


def test_folder_that_cannot_be_made_gives_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "state").write_text("a file stands in the way")
    with pytest.raises(CaseError, match=r"draft: cannot be saved: .*\. Save the case as a file\."):
        save_draft(CASE, "session-1", tmp_path / "state" / "drafts")
    assert list_drafts(tmp_path / "state" / "drafts") == ()


def test_leftovers_of_long_dead_sessions_are_swept(tmp_path: Path) -> None:
    old = tmp_path / ".session-0.draft.json.abcd1234.part"
    fresh = tmp_path / ".session-9.draft.json.abcd1234.part"
    lock = tmp_path / ".session-0.draft.json.lock"
    for path in (old, fresh, lock):
        path.write_bytes(b"x")
    for path in (old, lock):
        os.utime(path, (0, 0))
    save_draft(CASE, "session-1", tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == [fresh.name, "session-1.draft.json"]
