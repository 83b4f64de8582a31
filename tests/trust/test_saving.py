"""Saving loses nothing: killed at any moment, disk full, read-only folder, two sessions at once."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from catalog_schema import CaseError, load_case, save_case
from catalog_schema import atomic_write as atomic
from catalog_schema.case import Case
from catalog_schema.files import file_fingerprint

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_catalog" / "through_hole_plant.yaml"
HERE = Path(__file__).parent
POSIX = pytest.mark.skipif(sys.platform == "win32", reason="needs fork, SIGKILL and POSIX limits")
CASE = load_case(DEMO)


def _named(name: str) -> Case:
    return CASE.model_copy(update={"name": name})


def _python(program: str, *arguments: str, folder: Path | None = None) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        [sys.executable, "-c", program, *arguments], cwd=folder or ROOT, env=environment, capture_output=True,
        text=True, check=False, timeout=120,
    )  # fmt: skip


@POSIX
def test_killed_at_any_moment_the_old_or_the_new_case_is_whole(tmp_path: Path) -> None:
    answer = subprocess.run(
        [sys.executable, str(HERE / "killed_saver.py"), str(tmp_path), str(DEMO), "110", "40"],
        cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True, check=False, timeout=180,
    )  # fmt: skip
    assert answer.returncode == 0, answer.stderr[-3000:]
    report = json.loads(answer.stdout)
    kills = sum(part["kills"] for part in report.values())
    print(f"{kills} kills: {report}")
    assert kills >= 200
    # Each line of the writing was a moment of death, before and after the rename.
    assert report["lines"]["kills"] >= 40
    assert set(report["lines"]["found"]) == {"newer case", "newest case"}
    assert len(report["random"]["found"]) == 3
    # Half-written files were left by the killed, and the next save removed them.
    assert report["random"]["leftovers"] > 0
    assert report["random"]["rest"] == ["plant.yaml", "plant.yaml.previous"]
    assert len(report["drafts"]["found"]) >= 2
    assert report["drafts"]["rest"] == ["session-1.draft.json"]


_SAVE_ON_FULL_DISK = """
import sys
from pathlib import Path
from catalog_schema import CaseError, load_case, save_case
case = load_case(sys.argv[1])
target = Path(sys.argv[2]) / "plant.yaml"
save_case(case.model_copy(update={"name": "earlier"}), target)
big = case.model_copy(update={"note": "x" * 2000, "name": "later"})
LIMIT
try:
    save_case(big, target)
except CaseError as refused:
    print(refused)
    print(load_case(target).name)
    print(sorted(path.name for path in target.parent.iterdir()))
"""


@POSIX
def test_disk_full_gives_a_sentence_and_keeps_the_old_case(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    size = 40 * 1024
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if mounted.returncode != 0:
        pytest.skip("this user may not mount a small disk; the next test writes against a limit instead")
    try:
        fill = '(target.parent / "filler").write_bytes(b"x" * (4096 * 6 - 1))'
        answer = _python(_SAVE_ON_FULL_DISK.replace("LIMIT", fill), str(DEMO), str(disk))
    finally:
        subprocess.run(["umount", str(disk)], check=True)
    assert answer.stdout.splitlines() == [
        "plant.yaml: cannot be saved: No space left on device. The earlier file is untouched. Choose another folder.",
        "earlier",
        "['filler', 'plant.yaml']",
    ], answer.stdout + answer.stderr


@POSIX
def test_write_over_a_limit_gives_a_sentence_and_keeps_the_old_case(tmp_path: Path) -> None:
    limit = (
        "import resource, signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN); "
        "resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))"
    )
    answer = _python(_SAVE_ON_FULL_DISK.replace("LIMIT", limit), str(DEMO), str(tmp_path))
    assert answer.stdout.splitlines() == [
        "plant.yaml: cannot be saved: File too large. The earlier file is untouched. Choose another folder.",
        "earlier",
        "['plant.yaml']",
    ], answer.stdout + answer.stderr


_SAVE_AS_NOBODY = """
import os, sys, tempfile
from pathlib import Path
from catalog_schema import CaseError, load_case, save_case
from catalog_schema.files import file_fingerprint
case = load_case(sys.argv[1])
root = Path(tempfile.mkdtemp())
root.chmod(0o755)
folder = root / "locked"
folder.mkdir()
save_case(case, folder / "plant.yaml")
before = file_fingerprint(folder / "plant.yaml")
folder.chmod(0o555)
if os.geteuid() == 0:
    os.seteuid(65534)
try:
    save_case(case.model_copy(update={"name": "later"}), folder / "plant.yaml")
except CaseError as refused:
    print(refused)
if os.getuid() == 0:
    os.seteuid(0)
print(file_fingerprint(folder / "plant.yaml") == before, sorted(os.listdir(folder)))
folder.chmod(0o755)
for path in (folder / "plant.yaml", folder, root):
    path.unlink() if path.is_file() else path.rmdir()
"""


@POSIX
def test_read_only_folder_gives_a_sentence_and_keeps_the_old_case() -> None:
    answer = _python(_SAVE_AS_NOBODY, str(DEMO))
    assert answer.stdout.splitlines() == [
        "plant.yaml: cannot be saved: Permission denied. The earlier file is untouched. Choose another folder.",
        "True ['plant.yaml']",
    ], answer.stdout + answer.stderr


def test_read_only_file_is_not_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "plant.yaml"
    save_case(_named("earlier"), target)
    # The owner of the machine may write anything, so the answer of the system is set here.
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    with pytest.raises(CaseError, match=r"cannot be saved: the file is read-only\. The earlier file is untouched"):
        save_case(_named("later"), target)
    assert load_case(target).name == "earlier"


def test_of_two_sessions_that_save_at_once_exactly_one_wins_and_the_other_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "plant.yaml"
    real = os.fsync

    def slow_disk(handle: int) -> None:
        time.sleep(0.01)  # keeps the moment between check and rename open
        real(handle)

    monkeypatch.setattr(os, "fsync", slow_disk)
    save_case(_named("start"), target)
    for number in range(15):
        opened = file_fingerprint(target)
        barrier = threading.Barrier(3)
        outcomes: dict[str, str] = {}

        def session(name: str, expected: str | None = opened, start: threading.Barrier = barrier,
                    told: dict[str, str] = outcomes) -> None:  # fmt: skip
            start.wait()
            try:
                save_case(_named(name), target, expected=expected)
                told[name] = "saved"
            except CaseError as refused:
                told[name] = str(refused)

        threads = [threading.Thread(target=session, args=(f"{who} {number}",)) for who in ("a", "b", "c")]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        winners = [name for name, outcome in outcomes.items() if outcome == "saved"]
        assert len(winners) == 1, outcomes
        assert load_case(target).name == winners[0]
        assert sum("was saved by someone else" in outcome for outcome in outcomes.values()) == 2
    assert sorted(path.name for path in tmp_path.iterdir()) == ["plant.yaml", "plant.yaml.previous"]


_RIVAL = """
import sys
from catalog_schema import CaseError, load_case, save_case
case = load_case(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
try:
    save_case(case.model_copy(update={"name": sys.argv[3]}), sys.argv[2], expected=sys.argv[4])
    print("saved")
except CaseError as refused:
    print(refused)
"""


def test_of_two_processes_that_save_at_once_exactly_one_wins(tmp_path: Path) -> None:
    target = tmp_path / "plant.yaml"
    opened = save_case(_named("start"), target)
    rivals = [
        subprocess.Popen(
            [sys.executable, "-c", _RIVAL, str(DEMO), str(target), name, opened], cwd=ROOT, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )
        for name in ("a", "b")
    ]  # fmt: skip
    for rival in rivals:
        assert rival.stdout is not None
        assert rival.stdout.readline() == "ready\n"
    for rival in rivals:
        assert rival.stdin is not None
        rival.stdin.write("\n")
        rival.stdin.flush()
    answers = sorted(rival.communicate(timeout=60)[0].strip() for rival in rivals)
    assert answers[1] == "saved"
    assert "was saved by someone else since you opened it" in answers[0]


def test_file_that_came_into_being_since_is_not_overwritten(tmp_path: Path) -> None:
    target = tmp_path / "plant.yaml"
    save_case(_named("new"), target, expected="")
    with pytest.raises(CaseError, match="someone else"):
        save_case(_named("also new"), target, expected="")
    assert load_case(target).name == "new"


def test_saving_the_same_case_again_keeps_the_version_before(tmp_path: Path) -> None:
    target = tmp_path / "plant.yaml"
    for name in ("first", "second", "second"):
        save_case(_named(name), target)
    assert load_case(tmp_path / "plant.yaml.previous").name == "first"


def test_waiting_for_another_saver_ends_with_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(atomic, "LOCK_WAIT_S", 0.1)
    target = tmp_path / "plant.yaml"
    with atomic.locked_beside(target) as alone:
        assert alone
        with pytest.raises(CaseError, match="another session is saving it just now; try again in a moment"):
            save_case(CASE, target)
    save_case(CASE, target)
    assert [path.name for path in tmp_path.iterdir()] == ["plant.yaml"]


@POSIX
def test_saving_works_where_the_file_system_knows_no_locks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import fcntl

    def no_locks(*_: object) -> None:
        raise OSError(37, "No locks available")

    monkeypatch.setattr(fcntl, "flock", no_locks)
    other = tmp_path / ".plant.yaml.abcd1234.part"
    other.write_bytes(b"of a session that may be at work")
    save_case(CASE, tmp_path / "plant.yaml")
    assert load_case(tmp_path / "plant.yaml") == CASE
    assert sorted(path.name for path in tmp_path.iterdir()) == [other.name, "plant.yaml"]


def test_leftovers_of_this_file_are_removed_and_those_of_others_are_not(tmp_path: Path) -> None:
    mine = tmp_path / ".plant.yaml.abcd1234.part"
    theirs = tmp_path / ".plant.yaml.backup.yaml.abcd1234.part"
    stale_lock = tmp_path / ".plant.yaml.lock"
    for path in (mine, theirs, stale_lock):
        path.write_bytes(b"x")
    save_case(CASE, tmp_path / "plant.yaml")
    assert sorted(path.name for path in tmp_path.iterdir()) == [theirs.name, "plant.yaml"]


@POSIX
def test_symbolic_link_is_followed_not_replaced(tmp_path: Path) -> None:
    shared = tmp_path / "shared"
    shared.mkdir()
    save_case(_named("earlier"), shared / "plant.yaml")
    link = tmp_path / "link.yaml"
    link.symlink_to(shared / "plant.yaml")
    save_case(_named("later"), link)
    assert link.is_symlink()
    assert load_case(shared / "plant.yaml").name == "later"
