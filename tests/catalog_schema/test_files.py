"""Opening and saving: nothing is lost on the way, no half-written file is ever seen, nobody's save is overwritten."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from catalog_schema import CaseError, case_fingerprint, case_text, check_case, load_case, parse_case, save_case
from catalog_schema.files import file_fingerprint, write_atomically

ROOT = Path(__file__).parents[2]
DEMOS = sorted((ROOT / "demo_catalog").glob("*.yaml"))
DEMO = ROOT / "demo_catalog" / "mixed_plant.yaml"


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demo_loads_is_marked_invented_and_needs_a_choice(path: Path) -> None:
    case = load_case(path)
    assert case.invented
    assert "(invented)" in case.plant.name
    assert all("(invented)" in candidate.supplier for candidate in case.candidates)
    assert len(case.candidates) >= 2


def test_both_demos_are_there() -> None:
    assert [path.stem for path in DEMOS] == ["mixed_plant", "through_hole_plant"]


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_saved_case_is_read_back_equal(path: Path, tmp_path: Path) -> None:
    case = load_case(path)
    target = tmp_path / "copy.yaml"
    fingerprint = save_case(case, target)
    assert load_case(target) == case
    assert fingerprint == file_fingerprint(target)
    assert target.read_text(encoding="utf-8") == case_text(load_case(target))


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_saved_text_keeps_units_as_entered_and_adds_no_defaults(path: Path) -> None:
    case = load_case(path)
    text = case_text(case)
    assert text.startswith("washcase_case: 1\n")
    assert "max_utilisation" in text
    assert "rule_out_below" not in text
    assert "µ" in text
    assert parse_case(text, "text") == case


def test_case_fingerprint_depends_on_content_alone() -> None:
    case = load_case(DEMO)
    fingerprint = case_fingerprint(case)
    assert len(fingerprint) == 12
    assert set(fingerprint) <= set("0123456789abcdef")
    assert case_fingerprint(load_case(case_text(case))) == fingerprint
    assert case_fingerprint(case.model_copy(update={"name": "Another name"})) != fingerprint


def test_case_fingerprint_is_the_same_in_another_process() -> None:
    program = f"from catalog_schema import *; print(case_fingerprint(load_case({str(DEMO)!r})))"
    environment = {**os.environ, "PYTHONHASHSEED": "12345"}
    answer = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, env=environment, capture_output=True, text=True, check=True
    )
    assert answer.stdout.strip() == case_fingerprint(load_case(DEMO))


def test_saving_keeps_the_previous_version_and_no_scraps(tmp_path: Path) -> None:
    case = load_case(DEMO)
    target = tmp_path / "plant.yaml"
    names = ["first", "second", "third"]
    for name in names:
        save_case(case.model_copy(update={"name": name}), target)
    assert load_case(target).name == "third"
    assert load_case(tmp_path / "plant.yaml.previous").name == "second"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["plant.yaml", "plant.yaml.previous"]


def test_target_is_replaced_not_rewritten(tmp_path: Path) -> None:
    target = tmp_path / "plant.yaml"
    case = load_case(DEMO)
    save_case(case, target)
    before = target.read_bytes()
    with target.open("rb") as reader:
        save_case(case.model_copy(update={"name": "changed"}), target)
        # Who had the file open still reads the old version whole.
        assert reader.read() == before


def test_interrupted_save_leaves_the_old_file_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "plant.yaml"
    case = load_case(DEMO)
    save_case(case, target)
    before = target.read_bytes()

    def disk_full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", disk_full)
    with pytest.raises(CaseError) as caught:
        save_case(case.model_copy(update={"name": "changed"}), target)
    assert str(caught.value) == (
        "plant.yaml: cannot be saved: No space left on device. The earlier file is untouched. Choose another folder."
    )
    assert target.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["plant.yaml"]


def test_previous_version_is_kept_where_hard_links_do_not_exist(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    target = tmp_path / "plant.yaml"
    write_atomically(target, b"one", keep_previous=True)
    write_atomically(target, b"two", keep_previous=True)
    assert target.read_bytes() == b"two"
    assert (tmp_path / "plant.yaml.previous").read_bytes() == b"one"


def test_permissions_of_the_file_are_kept(tmp_path: Path) -> None:
    target = tmp_path / "plant.yaml"
    write_atomically(target, b"one", keep_previous=False)
    target.chmod(0o640)
    write_atomically(target, b"two", keep_previous=False)
    assert target.stat().st_mode & 0o777 == 0o640
    assert [path.name for path in tmp_path.iterdir()] == ["plant.yaml"]


def test_save_is_refused_when_someone_else_saved_in_between(tmp_path: Path) -> None:
    target = tmp_path / "plant.yaml"
    case = load_case(DEMO)
    opened = save_case(case, target)
    save_case(case.model_copy(update={"name": "theirs"}), target)
    with pytest.raises(CaseError) as caught:
        save_case(case.model_copy(update={"name": "ours"}), target, expected=opened)
    assert str(caught.value) == (
        "plant.yaml: was saved by someone else since you opened it. Save under another name, or open it again."
    )
    assert load_case(target).name == "theirs"


def test_save_is_allowed_when_the_file_is_as_opened_or_already_as_wanted(tmp_path: Path) -> None:
    target = tmp_path / "plant.yaml"
    case = load_case(DEMO)
    opened = save_case(case, target)
    changed = case.model_copy(update={"name": "ours"})
    again = save_case(changed, target, expected=opened)
    assert save_case(changed, target, expected=opened) == again


def test_save_is_refused_when_the_opened_file_is_gone(tmp_path: Path) -> None:
    target = tmp_path / "plant.yaml"
    opened = save_case(load_case(DEMO), target)
    target.unlink()
    with pytest.raises(CaseError, match="someone else"):
        save_case(load_case(DEMO), target, expected=opened)


def test_missing_folder_gives_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(CaseError) as caught:
        save_case(load_case(DEMO), tmp_path / "absent" / "plant.yaml")
    assert str(caught.value).startswith("plant.yaml: cannot be saved: No such file or directory.")


def test_read_only_folder_gives_a_sentence(tmp_path: Path) -> None:
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(0o500)
    try:
        if os.access(folder, os.W_OK):
            pytest.skip("this user may write into read-only folders")
        with pytest.raises(CaseError, match=r"cannot be saved: Permission denied\. .*Choose another folder"):
            save_case(load_case(DEMO), folder / "plant.yaml")
    finally:
        folder.chmod(0o700)


def test_refused_write_gives_a_sentence_whoever_runs_this(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object, **__: object) -> tuple[int, str]:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(tempfile, "mkstemp", refused)
    with pytest.raises(CaseError) as caught:
        save_case(load_case(DEMO), tmp_path / "plant.yaml")
    assert str(caught.value) == (
        "plant.yaml: cannot be saved: Permission denied. The earlier file is untouched. Choose another folder."
    )
    assert list(tmp_path.iterdir()) == []


def test_folder_in_place_of_the_file_gives_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "plant.yaml").mkdir()
    with pytest.raises(CaseError, match=r"plant.yaml: cannot be saved: "):
        save_case(load_case(DEMO), tmp_path / "plant.yaml")


def test_case_changed_in_memory_is_checked_for_what_crosses_records() -> None:
    case = load_case(DEMO)
    assert check_case(case) is case
    twice = case.model_copy(update={"candidates": (*case.candidates, case.candidates[0])})
    with pytest.raises(CaseError, match="'offer-a-batch-spray' is used 2 times"):
        check_case(twice)
