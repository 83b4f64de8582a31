"""Takes the screenshots of the tour in the README from the demo: `python tests/browser/make_tour.py`.

Starts the app on a free port with a state folder of its own, opens each screen in Chromium at 1440 px, scrolls to what
the tour tells about, and writes PNG files with few colours and below 250 kB each to `.github/tour/`.
"""

from __future__ import annotations

import io
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from dataclasses import dataclass
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / ".github" / "tour"
WIDTH, HEIGHT = 1440, 1000
DRAWN_WIDTH = 1200
MOST_BYTES = 250_000
COMPUTED_MS = 120_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One picture of the tour."""

    file: str
    """Name of the picture."""
    screen: str
    """Link of the screen."""
    heading: str = ""
    """Heading to scroll to; empty: the top."""
    machine: str = ""
    """Machine to choose first; empty: the one shown."""
    dark: bool = False
    """True: in the dark theme."""


STOPS = (
    Stop(file="1-quick-answer.png", screen="Quick answer"),
    Stop(file="2-ruled-out.png", screen="Ruled out"),
    Stop(file="3-under-the-components.png", screen="Ruled out", heading="Under the components",
         machine="Offer B: inline spray washer"),
    Stop(file="4-what-our-boards-demand.png", screen="What our boards demand"),
    Stop(file="5-finance.png", screen="Finance", heading="Totals"),
    Stop(file="6-ranking.png", screen="Ranking", dark=True),
    Stop(file="7-certainty.png", screen="Certainty"),
    Stop(file="8-dossier.png", screen="Dossier"),
)  # fmt: skip


def settle(page: Page) -> None:
    """Wait until the page has been drawn to its end."""
    still = page.locator("[data-testid=stApp][data-test-script-state=notRunning]")
    for _ in range(2):
        still.wait_for(timeout=COMPUTED_MS)
        page.wait_for_timeout(700)


def take(page: Page, stop: Stop) -> bytes:
    """Go to a stop and give its picture as PNG."""
    page.emulate_media(color_scheme="dark" if stop.dark else "light")
    page.get_by_role("link", name=stop.screen, exact=True).click()
    page.wait_for_timeout(300)
    settle(page)
    if stop.machine:
        page.get_by_role("combobox", name="Machine").first.click(delay=50)
        page.keyboard.type(stop.machine)
        page.get_by_role("option", name=stop.machine, exact=True).click()
        settle(page)
    if stop.heading:
        heading = page.get_by_role("heading", name=stop.heading, exact=True)
        heading.evaluate("element => element.scrollIntoView({block: 'start'})")
    else:
        page.locator("[data-testid=stMain]").evaluate("main => main.scrollTo(0, 0)")
    page.wait_for_timeout(500)
    return page.screenshot()


def small(picture: bytes) -> bytes:
    """Draw a picture smaller and with as many colours as fit the size allowed."""
    full = Image.open(io.BytesIO(picture)).convert("RGB")
    drawn = full.resize((DRAWN_WIDTH, round(full.height * DRAWN_WIDTH / full.width)), Image.Resampling.LANCZOS)
    for colours in (256, 128, 64, 32):
        written = io.BytesIO()
        drawn.quantize(colours).save(written, "PNG", optimize=True)
        if written.tell() <= MOST_BYTES:
            return written.getvalue()
    raise RuntimeError(f"A picture stays above {MOST_BYTES} bytes with 32 colours. Draw it smaller.")


def main() -> None:
    """Take all pictures."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    with socket.socket() as probe, tempfile.TemporaryDirectory() as state:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
        probe.close()
        server = subprocess.Popen(
            [sys.executable, "-m", "streamlit", "run", "app.py", "--server.headless", "true", "--server.port",
             str(port)],
            cwd=ROOT, env={**os.environ, "XDG_STATE_HOME": state}, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            _wait(port)
            _take_all(f"http://127.0.0.1:{port}/")
        finally:
            server.terminate()
            server.wait(timeout=20)


def _wait(port: int) -> None:
    for _ in range(300):
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=2):
                return
        except OSError:
            time.sleep(0.1)
    raise RuntimeError("The app did not answer within 30 s.")


def _take_all(address: str) -> None:
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        raise RuntimeError("No Chromium was found on the path.")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
        page.goto(address)
        page.locator("h1").first.wait_for(timeout=COMPUTED_MS)
        settle(page)
        for stop in STOPS:
            picture = small(take(page, stop))
            (FOLDER / stop.file).write_bytes(picture)
            print(f"{stop.file}: {len(picture) / 1000:.0f} kB")
        browser.close()


if __name__ == "__main__":
    main()
