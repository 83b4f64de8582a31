"""The command line: exit codes, problems on standard error, never a trace-back."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from catalog_schema.errors import CaseError
from model import __main__ as command
from model.json_output import EvaluationOutput

ROOT = Path(__file__).resolve().parent.parent.parent
DEMO = ROOT / "demo_catalog" / "through_hole_plant.yaml"
BROKEN = """washcase_case: 1
name: Broken
plant: {}
sprey: 3
"""


def washcase(*arguments: str, folder: Path = ROOT) -> subprocess.CompletedProcess[str]:
    environment = os.environ | {"PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1", "PYTHONIOENCODING": "utf-8"}
    return subprocess.run(
        [sys.executable, "-m", "model", *arguments], capture_output=True, text=True, encoding="utf-8", timeout=120,
        cwd=folder, env=environment, check=False,
    )  # fmt: skip


@pytest.fixture
def main(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Callable[..., tuple[int, str, str]]:
    """Run the entry point within this process: exit code, standard output, standard error."""

    def call(*arguments: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["washcase", *arguments])
        code = command.main()
        written = capsys.readouterr()
        return code, written.out, written.err

    return call


Main = Callable[..., tuple[int, str, str]]


def test_checking_a_good_case_says_so_and_exits_with_0(main: Main) -> None:
    said = "through_hole_plant.yaml: fine. 3 board types, 2 candidates, 0 trials.\n"
    assert main("check", str(DEMO)) == (0, said, "")


def assert_every_problem_is_said(code: int, out: str, err: str) -> None:
    assert (code, out) == (2, "")
    assert "Traceback" not in err
    lines = err.splitlines()
    assert len(lines) > 3
    assert all(line.startswith("broken.yaml: ") for line in lines)
    assert any("sprey" in line for line in lines)


def test_a_bad_case_lists_every_problem_on_standard_error_and_exits_with_2(tmp_path: Path, main: Main) -> None:
    path = tmp_path / "broken.yaml"
    path.write_text(BROKEN, encoding="utf-8")
    assert_every_problem_is_said(*main("evaluate", str(path)))
    done = washcase("check", str(path))
    assert_every_problem_is_said(done.returncode, done.stdout, done.stderr)


@pytest.mark.parametrize("name", ["check", "evaluate", "open"])
def test_a_file_that_is_not_there_is_a_problem_and_no_fault(name: str, tmp_path: Path, main: Main) -> None:
    said = "nothing.yaml: cannot be read: No such file or directory.\n"
    assert main(name, str(tmp_path / "nothing.yaml")) == (2, "", said)


def test_the_schema_is_printed_as_json(main: Main) -> None:
    code, out, err = main("schema")
    assert (code, err) == (0, "")
    assert set(json.loads(out)) >= {"case", "library", "evaluation"}


def test_evaluating_prints_a_verdict_per_machine_and_writes_the_documented_json(tmp_path: Path) -> None:
    target = tmp_path / "result.json"
    done = washcase("evaluate", str(DEMO), "--draws", "16", "--seed", "3", "--json", str(target), folder=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    output = EvaluationOutput.model_validate_json(target.read_text(encoding="utf-8"))
    assert (output.draws, output.seed) == (16, 3)
    lines = done.stdout.splitlines()
    assert lines[0] == f"Workshop with through-hole boards only (invented data), case {output.fingerprint}"
    assert len(lines) == len(output.verdicts) + 2
    for line, verdict in zip(lines[1:], output.verdicts, strict=False):
        assert line.strip().startswith(verdict.result)
        assert verdict.name in line
    assert lines[-1] == output.caution


def test_a_json_file_that_cannot_be_written_is_a_problem(tmp_path: Path, main: Main) -> None:
    target = tmp_path / "missing" / "out.json"
    said = "out.json: cannot be written: No such file or directory.\n"
    assert main("evaluate", str(DEMO), "--draws", "1", "--json", str(target)) == (2, "", said)


def test_running_raises_the_problems_and_only_the_main_entry_turns_them_into_a_code(tmp_path: Path) -> None:
    path = tmp_path / "broken.yaml"
    path.write_text(BROKEN, encoding="utf-8")
    with pytest.raises(CaseError):
        command.run(["check", str(path)])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "required"),
        (["evaluate"], "required"),
        (["wash"], "invalid choice"),
        (["evaluate", "x.yaml", "--draws", "0"], "0 is not between 1 and 1000000"),
        (["evaluate", "x.yaml", "--draws", "many"], "invalid"),
        (["evaluate", "x.yaml", "--seed", "-1"], "-1 is below 0"),
    ],
)
def test_wrong_words_are_refused_with_exit_code_2(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        command.run(words)
    assert stopped.value.code == 2
    assert said in capsys.readouterr().err


def test_opening_starts_the_screens_beside_the_app_with_the_case(monkeypatch: pytest.MonkeyPatch) -> None:
    started: dict[str, object] = {}

    def remember(words: list[str], *, cwd: Path, env: dict[str, str]) -> int:
        started.update(words=words, cwd=cwd, case=env.get("WASHCASE_OPEN"))
        return 0

    monkeypatch.setattr(subprocess, "call", remember)
    assert command.run(["open", str(DEMO)]) == 0
    assert started["case"] == str(DEMO)
    assert started["cwd"] == ROOT
    assert started["words"] == [sys.executable, "-m", "streamlit", "run", str(ROOT / "app.py")]
