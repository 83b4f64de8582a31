"""The dossier as PDF, printed by a Chromium that is installed on this machine; nothing leaves it."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Literal

Paper = Literal["A4", "Letter"]
PAPERS: tuple[Paper, ...] = ("A4", "Letter")

BROWSERS = ("chromium", "chromium-browser", "chrome")
"""Names under which the browser may be installed."""
BROWSER_VARIABLE = "WASHCASE_CHROMIUM"
"""Environment variable that names the browser's program where it has another name or place."""

NO_BROWSER = (
    "No Chromium was found on this machine, so no PDF can be made. Write the HTML dossier and print it to PDF from any "
    f"browser, or install Chromium, or name its program in {BROWSER_VARIABLE}."
)

WAITING_STEP_S = 0.25

_FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--no-default-browser-check",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-extensions",
    "--disable-dev-shm-usage", "--host-resolver-rules=MAP * ~NOTFOUND", "--no-pdf-header-footer",
)  # fmt: skip


class PdfError(RuntimeError):
    """The PDF cannot be made; the message says why and what to do instead."""


def find_browser() -> str | None:
    """Give the path of a Chromium that can print, or None when none is found."""
    named = os.environ.get(BROWSER_VARIABLE)
    if named:
        return shutil.which(named)
    return next((found for name in BROWSERS if (found := shutil.which(name))), None)


def dossier_pdf(html: str, *, paper: Paper = "A4", browser: str | None = None, timeout_s: float = 180.0,
                waiting: Callable[[float], None] | None = None) -> bytes:  # fmt: skip
    """Print a dossier as PDF.

    Parameters
    ----------
    html : str
        Document from `model.dossier.dossier_html`: it loads nothing and runs no script.
    paper : "A4" or "Letter"
    browser : str, optional
        Path of the browser; looked for when absent.
    timeout_s : float
        s, after which printing is given up.
    waiting : callable, optional
        Told several times a second how many seconds it has been printing; may raise to stop.

    Returns
    -------
    bytes
        The PDF.

    Raises
    ------
    PdfError
        When no Chromium is found, or it does not deliver.
    ValueError
        When the paper is neither.

    Notes
    -----
    The browser runs without a window in a profile folder of its own that is deleted afterwards, may resolve no host
    name, and reads only the one file. Its own sandbox is off, because it cannot run inside most containers; the
    document carries a policy that forbids scripts and every request.
    """
    if paper not in PAPERS:
        raise ValueError(f"{paper} is not a paper size known here. Give A4 or Letter.")
    program = browser or find_browser()
    if program is None:
        raise PdfError(NO_BROWSER)
    sized = html.replace("</head>", f"<style>@page {{ size: {paper}; }}</style></head>", 1)
    with tempfile.TemporaryDirectory(prefix="washcase-pdf-", ignore_cleanup_errors=True) as folder:
        page, target = Path(folder) / "dossier.html", Path(folder) / "dossier.pdf"
        page.write_text(sized, encoding="utf-8")
        command = [program, *_FLAGS, f"--user-data-dir={Path(folder) / 'profile'}", f"--print-to-pdf={target}",
                   page.as_uri()]  # fmt: skip
        said = _run(command, timeout_s, waiting)
        content = target.read_bytes() if target.is_file() else b""
    if not content.startswith(b"%PDF-"):
        last = said.strip().splitlines()[-1][:200] if said.strip() else "it said nothing"
        raise PdfError(f"Chromium wrote no PDF ({last}). Save the HTML dossier and print it from a browser instead.")
    return content


def _run(command: list[str], timeout_s: float, waiting: Callable[[float], None] | None) -> str:
    """Run the browser to its end and give what it said; stop it with all its children when it takes too long."""
    try:
        process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
            errors="replace", start_new_session=True,
        )  # fmt: skip
    except OSError as problem:
        raise PdfError(f"Chromium cannot be started: {problem.strerror or problem}.") from None
    started = time.monotonic()
    try:
        while (spent := time.monotonic() - started) < timeout_s:
            try:
                return process.communicate(timeout=min(WAITING_STEP_S, timeout_s - spent))[1]
            except subprocess.TimeoutExpired:
                if waiting is not None:
                    waiting(time.monotonic() - started)
        raise PdfError(f"Chromium did not finish the PDF within {timeout_s:.0f} s. Save the HTML instead.")
    finally:
        if process.poll() is None:
            _kill(process)


def _kill(process: subprocess.Popen[str]) -> None:
    with contextlib.suppress(OSError):
        if hasattr(os, "killpg"):
            # Only this browser: it was started in a session, and so a process group, of its own.
            os.killpg(process.pid, signal.SIGKILL)
        else:
            process.kill()
    process.communicate()
