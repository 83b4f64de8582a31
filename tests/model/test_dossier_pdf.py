"""The dossier prints as PDF on both papers through an installed Chromium; without one a sentence says so."""

from __future__ import annotations

import os
import re
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from model.decision import decide
from model.dossier import dossier_html
from model.dossier_pdf import BROWSER_VARIABLE, PdfError, dossier_pdf, find_browser
from model.evaluate import Evaluation

POINTS = {"A4": (595.0, 842.0), "Letter": (612.0, 792.0)}
"""Width and height in points (72 to the inch): 210 × 297 mm of ISO 216, and 8.5 × 11 in."""


@pytest.fixture(scope="module")
def browser() -> str:
    found = find_browser()
    if found is None:
        reason = "No Chromium was found; install Debian's chromium to print the dossier."
        if os.environ.get("CI", "").lower() == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return found


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_demo_prints_on_the_paper_asked_for_with_all_its_pages(
    browser: str, through_hole_evaluation: Evaluation, tmp_path: Path, paper: str
) -> None:
    evaluation = through_hole_evaluation
    html = dossier_html(evaluation, decision=decide(evaluation), today="2026-03-20")
    content = dossier_pdf(html, paper=paper, browser=browser)  # type: ignore[arg-type]
    assert content.startswith(b"%PDF-")
    assert content.rstrip().endswith(b"%%EOF")
    pages = len(re.findall(rb"/Type\s*/Page\b(?!s)", content))
    assert pages >= 10
    boxes = {tuple(float(one) for one in box.split()) for box in re.findall(rb"/MediaBox\s*\[([^\]]*)\]", content)}
    assert boxes
    for box in boxes:
        assert box == pytest.approx((0.0, 0.0, *POINTS[paper]), abs=1.5)
    if shutil.which("pdftotext") is None:
        return
    file = tmp_path / "dossier.pdf"
    file.write_bytes(content)
    text = subprocess.run(["pdftotext", "-layout", str(file), "-"], capture_output=True, check=True).stdout.decode()
    assert "Ruled out, and why" in text
    assert f"page {pages} of {pages}" in text
    assert evaluation.fingerprint in text
    assert "file://" not in text


def test_without_a_browser_a_sentence_says_what_to_do(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv(BROWSER_VARIABLE, raising=False)
    assert find_browser() is None
    with pytest.raises(PdfError, match="Write the HTML dossier and print it"):
        dossier_pdf("<html><head></head></html>")


def test_the_browser_may_be_named_by_the_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    program = fake_browser(tmp_path, "exit 0")
    monkeypatch.setenv(BROWSER_VARIABLE, str(program))
    assert find_browser() == str(program)


def fake_browser(folder: Path, script: str) -> Path:
    program = folder / "browser"
    program.write_text(f"#!/bin/sh\n{script}\n", encoding="utf-8")
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    return program


@pytest.mark.skipif(sys.platform == "win32", reason="the stand-in browser is a shell script")
def test_a_browser_that_writes_nothing_is_reported_with_its_last_words(tmp_path: Path) -> None:
    program = fake_browser(tmp_path, "echo it broke >&2; exit 3")
    with pytest.raises(PdfError, match=r"wrote no PDF \(it broke\)"):
        dossier_pdf("<html><head></head></html>", browser=str(program))


@pytest.mark.skipif(sys.platform == "win32", reason="the stand-in browser is a shell script")
def test_a_browser_that_hangs_is_stopped(tmp_path: Path) -> None:
    program = fake_browser(tmp_path, "sleep 60")
    with pytest.raises(PdfError, match="did not finish"):
        dossier_pdf("<html><head></head></html>", browser=str(program), timeout_s=0.5)


@pytest.mark.skipif(sys.platform == "win32", reason="the stand-in browser is a shell script")
def test_printing_can_be_stopped_and_leaves_no_browser_behind(tmp_path: Path) -> None:
    noted = tmp_path / "pid"
    program = fake_browser(tmp_path, f"echo $$ > {noted}; sleep 60")

    def stop(spent_s: float) -> None:
        if noted.is_file() and noted.read_text():
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        dossier_pdf("<html><head></head></html>", browser=str(program), waiting=stop)
    with pytest.raises(ProcessLookupError):
        os.kill(int(noted.read_text()), 0)


def test_a_browser_that_is_not_there_is_reported(tmp_path: Path) -> None:
    with pytest.raises(PdfError, match="cannot be started"):
        dossier_pdf("<html><head></head></html>", browser=str(tmp_path / "nothing"))


def test_an_unknown_paper_is_refused() -> None:
    with pytest.raises(ValueError, match="Give A4 or Letter"):
        dossier_pdf("<html></html>", paper="A5")  # type: ignore[arg-type]
