"""The engineer's first path: open the demo, see what is ruled out and why, and where the numbers come from."""

from __future__ import annotations

from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

COMPUTED_MS = 90_000


def go_to(page, name: str, heading: str) -> None:
    page.get_by_role("link", name=name, exact=True).click()
    page.get_by_role("heading", name=heading, exact=True).wait_for()


def choose(page, label: str, option: str) -> None:
    page.get_by_role("combobox", name=label).click()
    page.get_by_role("option", name=option, exact=True).click()


def open_ruled_out(page) -> None:
    go_to(page, "Ruled out", "Ruled out")
    page.get_by_role("heading", name="Why", exact=True).wait_for(timeout=COMPUTED_MS)


def test_the_engineer_sees_which_machines_are_ruled_out_and_why(browser_page) -> None:
    page = browser_page
    assert page.get_by_text("Invented data.").is_visible()
    open_ruled_out(page)
    rows = page.locator(".st-key-written-verdicts tbody tr")
    assert rows.count() > 10
    dishwasher = rows.filter(has_text="Household dishwasher")
    assert "✕ falls short" in dishwasher.inner_text()
    choose(page, "Machine", "Household dishwasher")
    page.get_by_text("Household dishwasher, probability").wait_for()
    assert page.get_by_text("✕ falls short").last.is_visible()


def test_picture_curve_and_sources_open_for_a_spraying_machine(browser_page) -> None:
    page = browser_page
    open_ruled_out(page)
    choose(page, "Machine", "Offer B: inline spray washer")
    choose(page, "Musts on", "Dense controller, lead-free, with QFN")
    page.get_by_role("heading", name="Where the streams go").wait_for()
    curve = page.get_by_role("img", name="at the worst place").first
    curve.wait_for()
    assert page.get_by_text("longest wash", exact=True).count() + page.get_by_text("longest wash:").count() >= 1
    assert page.get_by_text("depth needed", exact=True).is_visible()
    for face in ("Upper side", "Underside"):
        assert page.get_by_text(face, exact=True).first.is_visible()
    page.get_by_role("button", name="Sources", exact=True).first.click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_text("numbers were read for it").wait_for()
    assert "is silent on" in dialog.inner_text()
    assert dialog.get_by_role("button", name="Table as CSV").is_visible()


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
    assert head == "Wash time [min],Depth, 5 % [mm]".replace("Depth, 5 % [mm]", '"Depth, 5 % [mm]","Depth, middle [mm]"'
                                                             ',"Depth, 95 % [mm]"')  # fmt: skip


def test_us_units_reach_every_sentence_without_computing_again(browser_page) -> None:
    page = browser_page
    open_ruled_out(page)
    page.get_by_role("radio", name="US").or_(page.get_by_role("button", name="US", exact=True)).first.click()
    page.locator(".st-key-written-verdicts").get_by_text(" in under ").first.wait_for()


def test_a_broken_upload_lists_its_problems_and_keeps_the_open_case(browser_page, tmp_path) -> None:
    page = browser_page
    broken = tmp_path / "broken.yaml"
    broken.write_text("washcase_case: 1\nname: Broken\nplant: {name: p, currency: EURO}\nboards: []\n", encoding="utf-8")
    page.get_by_text("Open another case").click()
    page.locator("input[type=file]").set_input_files(broken)
    page.get_by_text("was refused; what you had open is unchanged").wait_for()
    text = page.get_by_role("alert").filter(has_text="was refused").inner_text()
    assert "broken.yaml" in text
    assert text.count("broken.yaml: ") >= 3
    assert page.get_by_text("Mixed plant with six board types").first.is_visible()


def test_opening_another_demo_can_be_undone(browser_page) -> None:
    page = browser_page
    page.get_by_text("Open another case").click()
    page.get_by_role("button", name="Demo: Through-hole plant").click()
    page.get_by_text("Mixed plant with six board types").wait_for(state="detached")
    page.get_by_role("button", name="Undo").click()
    page.get_by_text("Mixed plant with six board types").first.wait_for()
