"""Starts the app on a free port and drives it with Chromium; nothing may leave this machine, no error may be logged."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CHROMIUM_ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                      "--disable-background-networking", "--disable-component-update", "--disable-sync"]  # fmt: skip
FIRST_PAINT_MS = 90_000
"""Generous: the first evaluation of a cold server runs on whatever cores are left."""

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")


def chromium_path() -> str:
    """Find Debian's Chromium, or skip; in CI its absence is a failure."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        reason = "No Chromium was found on the path; install Debian's chromium to run the browser tests."
        if os.environ.get("CI", "").lower() == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return found


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Try a browser test again when it fails: on a busy machine a browser may lose a key or draw late."""
    for item in items:
        if item.get_closest_marker("browser") is not None:
            item.add_marker(pytest.mark.flaky(reruns=2))


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def app_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    chromium_path()
    port = free_port()
    environment = {name: value for name, value in os.environ.items() if name != "WASHCASE_OPEN"}
    # Drafts of the tests stay out of the folder of whoever runs them.
    environment["XDG_STATE_HOME"] = str(tmp_path_factory.mktemp("state"))
    command = [sys.executable, "-m", "streamlit", "run", "app.py", "--server.headless", "true", "--server.port",
               str(port)]  # fmt: skip
    server = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        _wait_until_healthy(server, port)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(timeout=20)


def _wait_until_healthy(server: subprocess.Popen[bytes], port: int) -> None:
    for _ in range(300):
        if server.poll() is not None:
            pytest.fail(f"The app ended at once with code {server.returncode}.")
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=2):
                return
        except OSError:
            time.sleep(0.1)
    pytest.fail("The app did not answer within 30 s.")


@pytest.fixture(scope="module")
def chromium() -> Iterator[sync_api.Browser]:
    path = chromium_path()
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=CHROMIUM_ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def browser_page(app_address: str, chromium: sync_api.Browser) -> Iterator[sync_api.Page]:
    """Open the app on a fresh session; on leaving, fail for any outside request or console error."""
    context = chromium.new_context(viewport={"width": 1440, "height": 1000}, base_url=app_address)
    page = context.new_page()
    outside: list[str] = []
    errors: list[str] = []
    local = (f"{app_address}/", app_address.replace("http", "ws"), "data:", "blob:")
    page.on("request", lambda request: None if request.url.startswith(local) else outside.append(request.url))
    page.on("websocket", lambda socket: None if socket.url.startswith(local) else outside.append(socket.url))
    page.on("console", lambda message: errors.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.set_default_timeout(30_000)
    # The front door first: at a deep address the framework probes for its own root and logs the misses.
    page.goto("/")
    page.get_by_role("link", name="Plant & boards", exact=True).click(timeout=FIRST_PAINT_MS)
    page.get_by_role("heading", name="Plant and boards").wait_for(timeout=FIRST_PAINT_MS)
    yield page
    context.close()
    assert outside == [], "a request left this machine"
    assert errors == [], "the browser logged errors"
