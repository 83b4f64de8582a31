"""How the browser tests work the screens: each step waits until what it caused has been drawn to its end."""

from __future__ import annotations

import csv
import io
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

import pytest

TimeoutError = pytest.importorskip("playwright.sync_api", reason="playwright is not installed").TimeoutError

COMPUTED_MS = 90_000
"""Generous: an evaluation runs on whatever cores are left."""
QUIET_S = 0.4
"""Longer than a slider (0.2 s) or a table (0.15 s) waits before it tells the server of a change."""
LOOK_MS = 50


@dataclass(slots=True)
class Traffic:
    """When a page last told its server something, and last heard from it; seconds of the monotonic clock."""

    sent: float = 0.0
    heard: float = 0.0


_TRAFFIC: WeakKeyDictionary[Any, Traffic] = WeakKeyDictionary()


def listen(page: Any) -> None:
    """Note the traffic of a page from now on; to be called before it opens its first address."""
    traffic = _TRAFFIC.setdefault(page, Traffic())

    def opened(socket: Any) -> None:
        socket.on("framesent", lambda _: setattr(traffic, "sent", time.monotonic()))
        socket.on("framereceived", lambda _: setattr(traffic, "heard", time.monotonic()))

    page.on("websocket", opened)


def settle(page: Any) -> None:
    """Wait until the server has answered the last step and the page has drawn the answer to its end.

    The page's own mark of a running script is no proof: between a click and the beginning of the script it still shows
    the end of the one before, and whatever a test does then is drawn over.
    """
    traffic, started = _TRAFFIC[page], time.monotonic()
    while time.monotonic() < started + COMPUTED_MS / 1000.0:
        page.wait_for_timeout(LOOK_MS)
        quiet = time.monotonic() - max(traffic.sent, traffic.heard, started) >= QUIET_S
        if quiet and traffic.heard >= traffic.sent and page.evaluate(IS_DRAWN):
            return
    raise AssertionError(f"The page was not drawn to its end within {COMPUTED_MS / 1000.0:.0f} s.")


IS_DRAWN = """() => document.querySelector('[data-testid=stApp]')?.dataset.testScriptState === 'notRunning'
    && !document.querySelector('[data-testid=stMain] [data-stale=true]')"""


def go_to(page: Any, link: str, heading: str = "") -> None:
    """Open a screen by its link and wait for its heading, which is the link's own words if not told otherwise."""
    page.get_by_role("link", name=link, exact=True).click()
    page.get_by_role("heading", name=heading or link, exact=True).first.wait_for(timeout=COMPUTED_MS)
    settle(page)


def choose(page: Any, label: str, option: str) -> None:
    """Choose from a list by its label."""
    settle(page)
    page.get_by_role("combobox", name=label).first.click(delay=50)
    # Long lists draw only what is in sight: typing brings the wanted one there.
    page.keyboard.type(option)
    page.get_by_role("option", name=option, exact=True).click()
    settle(page)


def enter(page: Any, label: str, text: str) -> None:
    """Type into a field and take it over."""
    box = page.get_by_role("textbox", name=label, exact=True).first
    box.fill(text)
    box.press("Enter")
    settle(page)


def press(page: Any, button: str) -> None:
    """Press a button and wait for what it does."""
    page.get_by_role("button", name=button).first.click(delay=100)
    settle(page)


def start_empty(page: Any) -> None:
    """Open the case to start from."""
    settle(page)
    page.get_by_text("Open another case").click()
    press(page, "Start empty")
    page.get_by_text("Mixed plant with six board types", exact=True).wait_for(state="detached")


def saved(page: Any, button: str, within: Any = None) -> tuple[str, bytes]:
    """Click the first download of that name and give its file name and content."""
    with page.expect_download(timeout=COMPUTED_MS) as started:
        (within or page).get_by_role("button", name=button).first.click(delay=100)
    return started.value.suggested_filename, Path(started.value.path()).read_bytes()


def rows_of(page: Any, within: Any = None) -> list[dict[str, str]]:
    """Download the first table and read it."""
    _, content = saved(page, "Table as CSV", within)
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"))))


CELL_TRIES = 10


def wait_for_cell(page: Any, column: int, row: int, timeout_ms: float = 30_000) -> None:
    """Wait until a cell of a table has the keyboard.

    A table moves it there some tenths of a second after a click or an Enter, and loses every key until then.
    """
    has_keyboard = f"() => document.activeElement?.dataset.testid === 'glide-cell-{column}-{row}'"
    page.wait_for_function(has_keyboard, timeout=timeout_ms)


def open_table(page: Any, holding: str) -> None:
    """Click the first cell of the table that holds some words, until it has the keyboard."""
    canvas = page.get_by_test_id("stDataFrame").filter(has_text=holding).first.get_by_test_id("data-grid-canvas").first
    canvas.wait_for(timeout=COMPUTED_MS)
    for tries_left in reversed(range(CELL_TRIES)):
        canvas.scroll_into_view_if_needed()
        place = canvas.bounding_box()
        page.mouse.move(place["x"] + 40, place["y"] + 53)
        page.mouse.click(place["x"] + 40, place["y"] + 53)
        try:
            wait_for_cell(page, 0, 0, timeout_ms=3_000)
            return
        except TimeoutError:
            # Charts above it were still being drawn and have pushed it down between the look and the click.
            if not tries_left:
                raise


def type_into_cell(page: Any, column: int, row: int, text: str) -> None:
    """Type into the cell that has the keyboard; the table then moves on to the one below."""
    wait_for_cell(page, column, row)
    page.keyboard.press("Enter")
    cell = page.locator("#portal textarea, #portal input").first
    cell.wait_for()
    cell.fill(text)
    cell.press("Enter")
    cell.wait_for(state="detached")
