"""From an empty case to a verdict; wrong values, bad files and a reload lose nothing."""

from __future__ import annotations

import re

import pytest

from tests.browser.driving import COMPUTED_MS, choose, enter, go_to, open_table, settle, start_empty, type_into_cell

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

sync_api.expect.set_options(timeout=20_000)
pytestmark = pytest.mark.browser

def add_board(page, name: str) -> None:
    go_to(page, "Edit board types", "Edit board types")
    page.get_by_role("textbox", name="Name of the board type").fill(name)
    choose(page, "Solder alloy", "lead-free")
    choose(page, "Flux of the residue", "Rosin, low activity, no halide (ROL0)")
    choose(page, "Tightest component kind", "QFN 7 × 7 mm")
    page.get_by_role("textbox", name="Reflow peak").fill("245 degC")
    page.get_by_role("button", name="Add board type").click(delay=100)
    page.get_by_role("heading", name="One board type").wait_for()
    settle(page)


def test_an_empty_case_grows_a_board_and_an_offer_and_gets_its_verdict(browser_page) -> None:
    page = browser_page
    start_empty(page)
    add_board(page, "Motor drive")
    go_to(page, "Edit offers", "Edit offers")
    page.get_by_role("textbox", name="Name of the offer").fill("Offer from the fair")
    choose(page, "Machine class", "Inline conveyor spray-in-air")
    page.get_by_role("button", name="Add offer").click(delay=100)
    page.get_by_role("heading", name="One offer").wait_for()
    page.get_by_role("radio", name="Spray", exact=True).or_(
        page.get_by_role("button", name="Spray", exact=True)).first.click()  # fmt: skip
    enter(page, "Pressure at the spray nozzles", "40 psi")
    page.get_by_text("= 2.76 bar").wait_for()
    page.get_by_role("link", name="Ruled out", exact=True).click()
    page.get_by_role("heading", name="Why", exact=True).wait_for(timeout=COMPUTED_MS)
    row = page.locator(".st-key-written-verdicts tbody tr").filter(has_text="Offer from the fair")
    assert re.search(r"✓ meets|✕ falls short|\? unknown", row.inner_text())


def test_a_wrong_value_is_said_at_its_field_and_undo_takes_a_right_one_back(browser_page) -> None:
    page = browser_page
    go_to(page, "Edit the plant", "Edit the plant")
    enter(page, "Working days", "lots")
    page.get_by_text("does not start with a number").wait_for()
    page.get_by_text("1 entry was not taken over").wait_for()
    enter(page, "Working days", "200")
    page.get_by_text("does not start with a number").wait_for(state="detached")
    page.get_by_text("● not saved").wait_for()
    page.get_by_role("button", name="Undo").click(delay=100)
    page.get_by_text("● not saved").wait_for(state="detached")
    settle(page)
    sync_api.expect(page.get_by_role("textbox", name="Working days")).to_have_value("225")


def test_cells_typed_into_the_table_all_reach_the_case(browser_page) -> None:
    page = browser_page
    go_to(page, "Edit board types")
    volumes = ("111", "222", "333", "444", "555")
    open_table(page, holding="Dense controller")
    page.keyboard.press("ArrowRight")
    for row, volume in enumerate(volumes):
        # One after the other, while the page may still be drawing what the one before has changed.
        type_into_cell(page, column=1, row=row, text=f"{volume} boards/year")
    settle(page)
    sync_api.expect(page.get_by_role("textbox", name="Volume", exact=True)).to_have_value("111 boards/year")
    go_to(page, "Plant & boards", "Plant and boards")
    for volume in volumes:
        page.get_by_text(f"{volume} per year", exact=True).first.wait_for()


def test_a_bad_file_keeps_what_was_open_and_is_listed(browser_page, tmp_path) -> None:
    page = browser_page
    start_empty(page)
    add_board(page, "Kept board")
    bad = tmp_path / "bad.yaml"
    bad.write_text("washcase_case: 1\nname: [\n", "utf-8")
    page.locator("section[data-testid=stSidebar] input[type=file]").set_input_files(bad)
    page.get_by_text("bad.yaml was refused; what you had open is unchanged").wait_for()
    page.get_by_role("textbox", name="Name", exact=True).wait_for()
    sync_api.expect(page.get_by_role("textbox", name="Name", exact=True)).to_have_value("Kept board")


def test_a_reload_offers_the_unsaved_work_and_continues_it(browser_page) -> None:
    page = browser_page
    go_to(page, "Edit the plant", "Edit the plant")
    enter(page, "Name of the case", "Work before the reload")
    page.get_by_text("● not saved").wait_for()
    go_to(page, "Quick answer", "Quick answer")
    page.reload()
    page.get_by_role("heading", name="Quick answer").wait_for(timeout=COMPUTED_MS)
    offer = page.locator(".st-key-drafts")
    offer.get_by_text("Work before the reload").wait_for()
    settle(page)
    offer.get_by_role("button", name="Continue").first.click(delay=100)
    page.get_by_text("● not saved").wait_for()
    go_to(page, "Edit the plant", "Edit the plant")
    sync_api.expect(page.get_by_role("textbox", name="Name of the case")).to_have_value("Work before the reload")


@pytest.mark.parametrize(
    ("link", "last"),
    [("Edit board types", "Components"), ("Edit offers", "One offer"), ("Edit the plant", "Exchange rates"),
     ("Edit the library", "Edit the library"), ("Edit priorities", "Edit priorities"),
     ("Versions", "What changed in the inputs")],
)  # fmt: skip
def test_nothing_is_cut_off_in_a_window_of_900_pixels(browser_page, link: str, last: str) -> None:
    page = browser_page
    page.set_viewport_size({"width": 900, "height": 900})
    go_to(page, link, link)
    page.get_by_role("heading", name=last, exact=True).wait_for(timeout=COMPUTED_MS)
    page.wait_for_timeout(500)
    wide = page.evaluate(
        """() => {
            const main = document.querySelector('[data-testid=stMain]');
            const right = main.getBoundingClientRect().right;
            return [...main.querySelectorAll('table, button, input, h1, h2, h3, p')]
                .filter(e => e.getBoundingClientRect().right > right + 1)
                .map(e => e.tagName + ' ' + e.textContent.slice(0, 60));
        }"""
    )
    assert wide == []


PARTS_LIST = "Name,Size (mm),Yearly volume,Tightest component,Flux\nMotor drive,160 x 100,12000,Our sensor,ROL0\n"


def test_own_records_and_a_parts_list_become_boards_with_help_at_every_entry(browser_page) -> None:
    page = browser_page
    start_empty(page)
    go_to(page, "Edit the library", "Edit the library")
    choose(page, "Component kind to copy", "QFN 7 × 7 mm")
    page.get_by_role("textbox", name="Name of the copy").fill("Our sensor")
    page.get_by_role("button", name="Copy into this case").click(delay=100)
    page.get_by_role("heading", name="One of this case").wait_for()
    settle(page)
    enter(page, "Gap", "25..30..35 um")
    page.get_by_text("= 30 µm (25 to 35)").wait_for()
    page.get_by_role("button", name="What do these mean?").click(delay=100)
    meaning = page.get_by_role("dialog")
    meaning.get_by_text("Standoff between body and board").wait_for()
    meaning.get_by_role("button", name="Equation and source").first.click(delay=100)
    meaning.get_by_text("Computed by").first.wait_for()
    page.keyboard.press("Escape")
    meaning.wait_for(state="detached")
    go_to(page, "Edit board types", "Edit board types")
    page.get_by_text("Paste or import board types from a spreadsheet").click()
    cells = page.get_by_role("textbox", name="Pasted cells")
    cells.fill(PARTS_LIST.replace("160 x 100", "wide"))
    cells.press("Control+Enter")
    page.get_by_text("row 2, column 'Size (mm)': 'wide' is not a size").wait_for()
    settle(page)
    cells.fill(PARTS_LIST)
    cells.press("Control+Enter")
    page.get_by_text("Needed and not in the table").wait_for()
    settle(page)
    page.get_by_text("Fill the gaps from the starter board").click()
    settle(page)
    choose(page, "Solder alloy of the rows without", "lead-free")
    page.get_by_role("button", name="Take over 1 row").click(delay=100)
    page.get_by_role("heading", name="One board type").wait_for()
    settle(page)
    sync_api.expect(page.get_by_role("textbox", name="Lot size", exact=True)).to_have_value("8..20..40")
    page.get_by_text("engineering estimate").first.wait_for()
    go_to(page, "Edit the library", "Edit the library")
    page.get_by_role("button", name="Delete").click(delay=100)
    page.get_by_text("is still used by board type Motor drive").wait_for()
