"""The engineer's first path: open the demo, see what is ruled out and why, and where the numbers come from."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.driving import COMPUTED_MS, choose, go_to, settle

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

pytestmark = pytest.mark.browser


def open_ruled_out(page) -> None:
    go_to(page, "Ruled out", "Ruled out")
    page.get_by_role("heading", name="Why", exact=True).wait_for(timeout=COMPUTED_MS)


def test_the_engineer_sees_which_machines_are_ruled_out_and_why(browser_page) -> None:
    page = browser_page
    page.get_by_text("Invented data.").wait_for()
    open_ruled_out(page)
    rows = page.locator(".st-key-written-verdicts tbody tr")
    assert rows.count() > 10
    dishwasher = rows.filter(has_text="Household dishwasher")
    assert "✕ falls short" in dishwasher.inner_text()
    choose(page, "Machine", "Household dishwasher")
    page.get_by_text("Household dishwasher, probability").wait_for()
    page.get_by_text("✕ falls short").last.wait_for()


def test_picture_curve_and_sources_open_for_a_spraying_machine(browser_page) -> None:
    page = browser_page
    open_ruled_out(page)
    choose(page, "Machine", "Offer B: inline spray washer")
    choose(page, "Musts on", "Dense controller, lead-free, with QFN")
    page.get_by_role("heading", name="Where the streams go").wait_for()
    curve = page.get_by_label("at the worst place").first
    curve.wait_for()
    curve.get_by_text("longest wash").wait_for()
    curve.get_by_text("depth needed").wait_for()
    for face in ("Upper side", "Underside"):
        page.get_by_label(f"{face}: On this board a stream acts").wait_for()
    page.get_by_role("button", name="Sources", exact=True).first.click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_text("numbers were read for it").wait_for()
    dialog.get_by_text("is silent on").wait_for()
    dialog.get_by_role("button", name="Table as CSV").wait_for()


def test_a_curve_becomes_a_table_and_downloads(browser_page) -> None:
    page = browser_page
    open_ruled_out(page)
    choose(page, "Machine", "Offer B: inline spray washer")
    choose(page, "Musts on", "Dense controller, lead-free, with QFN")
    page.get_by_role("heading", name="Where the streams go").wait_for()
    with page.expect_download() as started:
        page.get_by_role("button", name="Chart as SVG").nth(1).click(delay=100)
    assert started.value.suggested_filename == "clearing.svg"
    assert Path(started.value.path()).read_text(encoding="utf-8").startswith("<svg")
    with page.expect_download() as started:
        page.get_by_role("button", name="Table as CSV").nth(2).click(delay=100)
    head = Path(started.value.path()).read_text(encoding="utf-8-sig").splitlines()[0]
    assert head == 'Wash time [min],"Depth, 5 % [mm]","Depth, middle [mm]","Depth, 95 % [mm]"'


def test_us_units_reach_every_sentence_without_computing_again(browser_page) -> None:
    page = browser_page
    open_ruled_out(page)
    page.get_by_role("radio", name="US").or_(page.get_by_role("button", name="US", exact=True)).first.click()
    page.locator(".st-key-written-verdicts").get_by_text(" in under ").first.wait_for()


def test_a_broken_upload_lists_its_problems_and_keeps_the_open_case(browser_page, tmp_path) -> None:
    page = browser_page
    broken = tmp_path / "broken.yaml"
    broken.write_text("washcase_case: 1\nname: Broken\nplant: {name: p, currency: EURO}\nboards: []\n", "utf-8")
    page.get_by_text("Open another case").click()
    page.locator("input[type=file]").set_input_files(broken)
    page.get_by_text("was refused; what you had open is unchanged").wait_for()
    text = page.get_by_role("alert").filter(has_text="was refused").inner_text()
    assert "broken.yaml" in text
    assert text.count("broken.yaml: ") >= 3
    page.get_by_text("Mixed plant with six board types").first.wait_for()


def test_opening_another_demo_can_be_undone(browser_page) -> None:
    page = browser_page
    page.get_by_text("Open another case").click()
    page.get_by_role("button", name="Demo: Through-hole plant").click()
    page.get_by_text("Mixed plant with six board types", exact=True).wait_for(state="detached")
    page.get_by_role("button", name="Undo").click()
    page.get_by_text("Mixed plant with six board types").first.wait_for()


def test_nothing_is_cut_off_in_a_window_of_900_pixels(browser_page) -> None:
    page = browser_page
    page.set_viewport_size({"width": 900, "height": 900})
    for name, heading in (("Plant & boards", "Plant and boards"), ("Machines", "Machines"), ("Ruled out", "Ruled out")):
        go_to(page, name, heading)
        page.get_by_role("heading", name=LAST_HEADING[name], exact=True).wait_for(timeout=COMPUTED_MS)
        page.wait_for_timeout(800)
        wider = page.evaluate(
            """() => {
                const main = document.querySelector('[data-testid=stMain]');
                const right = main.getBoundingClientRect().right;
                const wide = [...main.querySelectorAll('table, svg.marks, button, h1, h2, h3, p')]
                    .filter(e => e.getBoundingClientRect().right > right + 1)
                    .map(e => e.tagName + ' ' + e.textContent.slice(0, 60));
                return [main.scrollWidth - main.clientWidth, wide];
            }"""
        )
        assert wider == [0, []], name


LAST_HEADING = {
    "Plant & boards": "Plant", "Machines": "One number across machines", "Ruled out": "Where the streams go",
}  # fmt: skip


def test_the_computation_can_be_stopped_and_taken_up_again(browser_page) -> None:
    page = browser_page
    # More draws than any other test asks for, so that nothing is known beforehand.
    page.get_by_text("2048", exact=True).click()
    page.get_by_role("link", name="Ruled out", exact=True).click()
    page.get_by_role("button", name="Stop computing").click()
    page.get_by_text("The computation was stopped. The case is unchanged.").wait_for()
    page.get_by_text("128", exact=True).click()
    page.get_by_role("heading", name="Why", exact=True).wait_for(timeout=COMPUTED_MS)


def test_working_out_the_demands_can_be_stopped_and_taken_up_again(browser_page) -> None:
    page = browser_page
    page.get_by_text("2048", exact=True).click()
    settle(page)
    page.get_by_role("link", name="What our boards demand", exact=True).click()
    page.get_by_text("steps, about").wait_for()
    page.get_by_role("button", name="Stop computing").click()
    page.get_by_text("The computation was stopped. The case is unchanged.").wait_for()
    page.get_by_role("button", name="Compute now").click()
    page.get_by_role("heading", name="Every demand").wait_for(timeout=COMPUTED_MS)


def test_a_choice_survives_a_change_of_screen(browser_page) -> None:
    page = browser_page
    go_to(page, "Machines", "Machines")
    choose(page, "Machine", "Household dishwasher")
    open_ruled_out(page)
    page.get_by_text("Household dishwasher, probability").wait_for()
