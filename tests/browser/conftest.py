"""Starts the app on a free port and drives it with Chromium; nothing may leave this machine, no error may be logged."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator

import pytest

from tests.browser.driving import listen, settle
from tests.trust.running_app import running_app

CHROMIUM_ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                      "--disable-background-networking", "--disable-component-update", "--disable-sync"]  # fmt: skip
FIRST_PAINT_MS = 240_000
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


@pytest.fixture(scope="session")
def app_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    chromium_path()
    with running_app(tmp_path_factory.mktemp("app")) as app:
        yield app.address


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
    listen(page)
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
    settle(page)
    yield page
    context.close()
    assert outside == [], "a request left this machine"
    assert errors == [], "the browser logged errors"
