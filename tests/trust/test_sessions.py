"""Sessions of one server do not see each other's case, and what they share stays small and whole."""

from __future__ import annotations

import asyncio
import re
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from screens.shared_results import SharedResults
from tests.trust.running_app import ROOT, RunningApp, running_app
from tests.trust.session_client import Run, SessionClient

CASE = ROOT / "tests" / "model" / "decision_case.yaml"
TRIAL = {
    "id": "trial-1", "board_type": "control-board", "component": "qfp-05", "machine": "offer-a-batch-spray",
    "fluid": "saponified-water", "wash_time": "30 min", "residue_left": "30 %", "measurement_error": "5 %",
}  # fmt: skip
FIRST_PAINT_MS = 90_000


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningApp]:
    with running_app(tmp_path_factory.mktemp("sessions")) as running:
        yield running


def case_of(person: str) -> bytes:
    """Write a case that differs from another person's only where no machine depends on it."""
    case = yaml.safe_load(CASE.read_text(encoding="utf-8"))
    case["name"] = f"Case of {person}"
    for voice in case["priorities"]["stakeholders"]:
        voice["name"] = f"{voice['name']} of {person}"
    case["trials"] = [TRIAL]
    return yaml.safe_dump(case, allow_unicode=True).encode("utf-8")


async def opened(app: RunningApp, person: str) -> tuple[SessionClient, Run]:
    client = await SessionClient.open(app.stream)
    run = await client.visit()
    uploader = next(one for one in run.of_kind("file_uploader") if one.label == "Own case file")
    run = await client.send_file(app.address, uploader, f"{person}.yaml", case_of(person))
    assert f"Case of {person}" in run.text()
    return client, run


def test_no_screen_shows_a_name_of_another_session_even_where_both_computed_the_same(app: RunningApp) -> None:
    async def both() -> tuple[dict[str, list[str]], dict[str, bool], list[str]]:
        first, _ = await opened(app, "Ada")
        second, _ = await opened(app, "Ben")
        seen: dict[str, list[str]] = {"Ada": [], "Ben": []}
        own = {"Ada": False, "Ben": False}
        failed = []
        try:
            # First one goes ahead, so that the second finds all that is shared; then the first once more.
            for person, other, client in (("Ada", "Ben", first), ("Ben", "Ada", second), ("Ada", "Ben", first)):
                for title in client.pages:
                    run = await client.visit(title)
                    content = b"".join(one.SerializeToString() for one in run.elements)
                    if f"of {other}".encode() in content:
                        seen[person].append(title)
                    own[person] |= title == "Dossier" and f"Case of {person}".encode() in content
                    failed += run.exceptions()
        finally:
            await first.close()
            await second.close()
        return seen, own, failed

    seen, own, failed = asyncio.run(both())
    assert failed == []
    assert seen == {"Ada": [], "Ben": []}
    assert own == {"Ada": True, "Ben": True}, "each dossier names its own case"


@pytest.mark.browser
def test_two_browsers_keep_their_own_case(app: RunningApp) -> None:
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    from tests.browser.conftest import CHROMIUM_ARGUMENTS, chromium_path

    path = chromium_path()
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=CHROMIUM_ARGUMENTS)
        pages = []
        asked: list[str] = []
        for _ in range(2):
            page = browser.new_context(base_url=app.address, viewport={"width": 1440, "height": 1000}).new_page()
            page.on("request", lambda request: asked.append(request.url))
            page.on("websocket", lambda socket: asked.append(socket.url))
            page.set_default_timeout(60_000)
            page.goto("/edit-the-plant")
            page.get_by_label("Name of the case").first.wait_for(timeout=FIRST_PAINT_MS)
            pages.append(page)
        first, second = pages
        name = first.get_by_label("Name of the case").first
        before = name.input_value()
        name.fill("Only the first browser's case")
        name.press("Enter")
        first.get_by_test_id("stSidebar").get_by_text("Only the first browser's case").wait_for()
        # The second redraws everything from its own session, on this screen and on another.
        second.get_by_role("link", name="Plant & boards", exact=True).click()
        second.get_by_role("heading", name="Plant and boards").wait_for(timeout=FIRST_PAINT_MS)
        assert before in second.get_by_test_id("stSidebar").inner_text()
        assert "Only the first" not in second.locator("body").inner_text()
        # Undo in the second finds nothing to undo; in the first it brings the old name back.
        assert second.get_by_role("button", name="Undo", exact=True).is_disabled()
        first.get_by_role("button", name="Undo", exact=True).click(delay=100)
        first.get_by_test_id("stSidebar").get_by_text(before).first.wait_for()
        browser.close()
    local = (f"{app.address}/", f"{app.address.replace('http', 'ws')}/", "data:", "blob:")
    assert len(asked) > 10
    assert [url for url in asked if not url.startswith(local)] == [], "a request left this machine"


def test_what_is_shared_forgets_what_was_not_asked_for_longest() -> None:
    shared: SharedResults[int, str] = SharedResults(2)
    shared.put(1, "one")
    shared.put(2, "two")
    assert shared.get(1) == "one"
    shared.put(3, "three")
    assert (shared.get(1), shared.get(2), shared.get(3), len(shared)) == ("one", None, "three", 2)
    assert shared.latest() == "three"
    assert SharedResults[int, str](2).latest() is None


def test_what_is_shared_stays_whole_and_small_under_many_threads() -> None:
    shared: SharedResults[int, int] = SharedResults(5)
    wrong: list[object] = []

    def use(start: int) -> None:
        try:
            for step in range(3000):
                key = (start * 7 + step) % 23
                found = shared.get(key)
                if found not in (None, key * key):
                    wrong.append((key, found))
                shared.put(key, key * key)
        except Exception as problem:
            wrong.append(problem)

    threads = [threading.Thread(target=use, args=(start,)) for start in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
    assert len(shared) == 5


def test_every_cache_of_the_screens_and_the_model_is_bounded() -> None:
    unbounded = []
    for folder in ("screens", "model", "catalog_schema"):
        for path in sorted((ROOT / folder).glob("*.py")):
            lines = [line.strip() for line in path.read_text(encoding="utf-8").splitlines()]
            for number, (code, following) in enumerate(zip(lines, [*lines[1:], ""], strict=True), start=1):
                if re.match(r"@(st\.cache_|functools\.(lru_)?cache\b|(lru_)?cache\b)", code):
                    counted = "max_entries=" in code or re.search(r"maxsize=\d", code)
                    if not counted and "()" not in following:  # without arguments there is one entry
                        unbounded.append(f"{Path(folder) / path.name}:{number}: {code}")
    assert unbounded == []
