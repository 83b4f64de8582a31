"""Time from a click to a screen drawn to its end, and of a what-if slider, against an empty page of the framework."""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import statistics
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

ROOT = Path(__file__).parents[2]
COMPUTED_MS = 120_000
MOVES = 5
SCREENS = (
    "Quick answer", "Plant & boards", "Machines", "Ruled out", "What our boards demand", "Way through the machine",
    "Finance", "Ranking", "What if", "Certainty", "Questions & trials", "Dossier", "How it computes",
)  # fmt: skip
EMPTY = """
import streamlit as st

st.navigation([st.Page(lambda: st.title("One"), title="One", url_path="one"),
               st.Page(lambda: st.title("Two"), title="Two", url_path="two")]).run()
"""
"""The least that a page of the framework can show: a title, reached by a link."""
WATCH = """name => {
    const started = performance.now();
    window.timed = {};
    const link = [...document.querySelectorAll('[data-testid=stSidebarNavLink]')]
        .find(one => one.textContent.trim() === name);
    let busy = false;
    const look = () => {
        const app = document.querySelector('[data-testid=stApp]');
        const state = app.getAttribute('data-test-script-state');
        busy = busy || state === 'running';
        const title = document.querySelector('[data-testid=stMain] h1');
        const stale = document.querySelector('[data-testid=stMain] [data-stale=true]');
        if (!window.timed.first && title && title.textContent !== before && !title.closest('[data-stale=true]'))
            window.timed.first = performance.now() - started;
        if (window.timed.first && busy && state !== 'running' && !stale)
            window.timed.whole = performance.now() - started;
        else requestAnimationFrame(look);
    };
    // The framework may reuse the element of the old title, so its text is compared.
    const before = document.querySelector('[data-testid=stMain] h1')?.textContent;
    link.click();
    look();
}"""
"""Clicks a link and notes, in the page's own clock, when the new title stands and when nothing is left to draw."""


def served(arguments: list[str], folder: Path, state: Path) -> Iterator[str]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    environment = {name: value for name, value in os.environ.items() if name != "WASHCASE_OPEN"}
    environment["XDG_STATE_HOME"] = str(state)
    server = subprocess.Popen(
        [sys.executable, "-m", "streamlit", "run", *arguments, "--server.headless", "true", "--server.port", str(port),
         "--server.address", "127.0.0.1", "--browser.gatherUsageStats", "false"],
        cwd=folder, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        for _ in range(300):
            with contextlib.suppress(OSError), urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health"):
                break
            time.sleep(0.1)
        yield f"http://127.0.0.1:{port}/"
    finally:
        server.terminate()
        server.wait(timeout=20)


@pytest.fixture(scope="module")
def chromium() -> Iterator[sync_api.Browser]:
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.skip("No Chromium was found on the path.")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


def settle(page) -> None:
    page.locator("[data-testid=stApp][data-test-script-state=notRunning]").wait_for(timeout=COMPUTED_MS)


def visit(page, name: str) -> tuple[float, float]:
    """Go to a screen; give seconds to its title and to its last element."""
    settle(page)
    page.evaluate(WATCH, name)
    page.wait_for_function("window.timed.whole", timeout=COMPUTED_MS)
    timed = page.evaluate("window.timed")
    return timed["first"] / 1000.0, timed["whole"] / 1000.0


def empty_page_s(chromium, tmp_path: Path) -> float:
    """Give the middle time to reach a page that shows a title only."""
    (tmp_path / "empty.py").write_text(EMPTY, encoding="utf-8")
    times = []
    for address in served(["empty.py"], tmp_path, tmp_path):
        page = chromium.new_page(viewport={"width": 1440, "height": 1000})
        page.goto(address)
        page.get_by_role("heading", name="One").wait_for(timeout=COMPUTED_MS)
        times = [visit(page, name)[1] for name in ("Two", "One") * MOVES]
        page.close()
    return statistics.median(times)


def slider_s(page) -> float:
    """Give the middle time from a key on a what-if slider to the page redrawn."""
    slider = page.get_by_role("slider").first
    slider.focus()
    times = []
    for _ in range(MOVES):
        before = slider.get_attribute("aria-valuetext")
        sentence = page.locator("[data-testid=stMain]").get_by_text("With these weights").first
        started = time.perf_counter()
        slider.press("ArrowRight")
        page.locator("[data-testid=stApp][data-test-script-state=running]").wait_for(timeout=5_000)
        settle(page)
        sentence.wait_for()
        times.append(time.perf_counter() - started)
        assert page.get_by_role("slider").first.get_attribute("aria-valuetext") != before
    return statistics.median(times)


@pytest.mark.benchmark
def test_screens_open_and_a_slider_answers_on_a_warm_server(chromium, tmp_path) -> None:
    empty = empty_page_s(chromium, tmp_path)
    print(f"\nempty page of the framework {1000 * empty:.0f} ms = 1")
    found: dict[str, tuple[float, float]] = {}
    for address in served(["app.py"], ROOT, tmp_path):
        page = chromium.new_page(viewport={"width": 1440, "height": 1000})
        page.goto(address)
        page.locator("h1").first.wait_for(timeout=COMPUTED_MS)
        visit(page, SCREENS[-1])
        for name in SCREENS:  # the first visit computes what the server then knows
            visit(page, name)
        for name in SCREENS:
            found[name] = visit(page, name)
            first, whole = found[name]
            print(f"{name:26} first paint {1000 * first:5.0f} ms = {first / empty:5.1f}   "
                  f"drawn to the end {1000 * whole:5.0f} ms = {whole / empty:5.1f}")  # fmt: skip
        visit(page, "What if")
        moved = slider_s(page)
        print(f"{'what-if slider':26} redrawn     {1000 * moved:5.0f} ms = {moved / empty:5.1f}")
        page.close()
    assert set(found) == set(SCREENS)
    assert all(0.0 < first <= whole for first, whole in found.values())
    assert moved > 0.0
