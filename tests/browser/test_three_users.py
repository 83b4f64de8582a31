"""Engineer, manager and controller do their jobs in the browser from start to end, without help."""

from __future__ import annotations

import io
import re

import pytest

from tests.browser.driving import (
    COMPUTED_MS,
    choose,
    open_table,
    press,
    rows_of,
    saved,
    settle,
    start_empty,
    type_into_cell,
)
from tests.browser.driving import go_to as open_screen

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
openpyxl = pytest.importorskip("openpyxl")

pytestmark = pytest.mark.browser

SCREENS = {
    "Quick answer": "Quick answer", "Plant & boards": "Plant and boards", "Machines": "Machines",
    "Edit board types": "Edit board types", "Edit offers": "Edit offers", "Edit the plant": "Edit the plant",
    "Edit the library": "Edit the library", "Edit priorities": "Edit priorities",
    "Versions": "Versions", "Ruled out": "Ruled out", "What our boards demand": "What our boards demand",
    "Way through the machine": "Way through the machine", "Finance": "Finance", "Ranking": "Ranking",
    "What if": "What if", "Certainty": "Certainty", "Questions & trials": "Questions & trials", "Dossier": "Dossier",
    "How it computes": "How it computes",
}  # fmt: skip
"""Link of every screen and the title it must show."""


def go_to(page, name: str) -> None:
    open_screen(page, name, SCREENS[name])


# ---- the engineer ---------------------------------------------------------------------------------------------------


def test_engineer_goes_from_a_quick_answer_to_own_boards_reasons_and_sources(browser_page) -> None:
    page = browser_page
    go_to(page, "Quick answer")
    choose(page, "Kind of machine", "Batch spray-in-air, diffused nozzles")
    page.get_by_role("heading", name=re.compile("Batch spray-in-air, diffused nozzles (can|may|cannot)")).wait_for()
    page.get_by_role("button", name="Make this my case").click(delay=100)
    page.get_by_text("not saved").wait_for()
    go_to(page, "Edit board types")
    page.get_by_text("Add a board type", exact=True).click()
    page.get_by_role("textbox", name="Name of the board type").fill("Own gateway")
    choose(page, "Solder alloy", "lead-free")
    choose(page, "Flux of the residue", "Rosin, low activity, no halide (ROL0)")
    choose(page, "Tightest component kind", "QFN 7 × 7 mm")
    page.get_by_role("textbox", name="Reflow peak").fill("245 degC")
    page.get_by_role("button", name="Add board type").click(delay=100)
    settle(page)
    go_to(page, "Plant & boards")
    page.get_by_role("table").first.get_by_text("Own gateway").wait_for()
    go_to(page, "Ruled out")
    page.get_by_role("heading", name="Why", exact=True).wait_for(timeout=COMPUTED_MS)
    choose(page, "Musts on", "Own gateway")
    page.get_by_text("under QFN 7 × 7 mm").first.wait_for()
    page.get_by_role("button", name="Sources", exact=True).first.click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_text("numbers were read for it").wait_for()
    sources = rows_of(page, within=dialog)
    assert len(sources) > 10
    assert {"Basis", "Source"} <= set(sources[0])


def test_engineer_reads_what_a_must_means_with_equation_and_source(browser_page) -> None:
    page = browser_page
    go_to(page, "Ruled out")
    page.get_by_role("heading", name="Why", exact=True).wait_for(timeout=COMPUTED_MS)
    settle(page)
    musts = page.get_by_role("button", name="What is this?")
    assert musts.count() == page.get_by_role("button", name="Sources", exact=True).count() > 5
    musts.nth(1).click()
    page.get_by_role("button", name="Equation and source").click()
    dialog = page.get_by_role("dialog").filter(has_text="How this is computed")
    dialog.get_by_text("Computed by").first.wait_for()


# ---- the manager ----------------------------------------------------------------------------------------------------


def test_manager_goes_from_ranking_to_a_dossier_with_the_fingerprint_of_the_case(browser_page) -> None:
    page = browser_page
    go_to(page, "Ranking")
    page.get_by_text("comes first with").first.wait_for(timeout=COMPUTED_MS)
    page.get_by_role("button", name="Spray reach", exact=True).click()
    page.get_by_text("How much deeper than needed the wash clears").first.wait_for()
    page.keyboard.press("Escape")
    go_to(page, "Certainty")
    page.get_by_text(re.compile(r"leads with \d+ % certainty")).first.wait_for(timeout=COMPUTED_MS)
    go_to(page, "Questions & trials")
    page.get_by_text(re.compile("Ask .* first about this")).first.wait_for(timeout=COMPUTED_MS)
    assert "wash: max time" not in page.locator("[data-testid=stMain]").inner_text()
    go_to(page, "Dossier")
    shown = page.frame_locator("iframe").first.get_by_text(re.compile(r"case [0-9a-f]{12}")).first
    fingerprint = re.search(r"case ([0-9a-f]{12})", shown.inner_text(timeout=COMPUTED_MS))
    name, content = saved(page, "Dossier as HTML")
    assert name == "mixed-plant-with-six-board-types-dossier.html"
    assert fingerprint is not None
    html = content.decode("utf-8")
    assert len(html) > 100_000
    assert fingerprint[1] in html
    assert html.count("<svg") >= 3
    assert "Offer A: batch spray washer comes first" in html


def test_manager_moves_a_weight_and_sees_what_it_changes(browser_page) -> None:
    page = browser_page
    go_to(page, "What if")
    before = rows_of(page)
    slider = page.get_by_role("slider", name=re.compile("Cost of ownership"))
    first = int(slider.input_value())
    slider.focus()
    # Once per drawing, then faster than the page can draw: the slider keeps the keyboard and loses no step.
    for _ in range(2):
        page.keyboard.press("ArrowRight")
        settle(page)
    for _ in range(5):
        page.keyboard.press("ArrowRight", delay=20)
    settle(page)
    assert int(slider.input_value()) == first + 7
    assert slider.evaluate("slider => slider === document.activeElement")
    page.get_by_text("Cost of ownership · moved").wait_for()
    assert rows_of(page) != before
    press(page, "Back to the start")
    page.get_by_text("Cost of ownership · moved").wait_for(state="detached")
    assert int(slider.input_value()) == first
    assert rows_of(page) == before


def test_manager_moves_several_weights_and_none_runs_away(browser_page) -> None:
    page = browser_page
    go_to(page, "What if")
    sliders = page.get_by_role("slider")
    for number in (0, 1):
        sliders.nth(number).focus()
        page.keyboard.press("End")
        settle(page)
    shown = [int(one.input_value()) for one in sliders.all()]
    assert shown[1] == 100
    assert sum(shown) == 100
    for _ in range(4):
        page.keyboard.press("ArrowLeft")
        settle(page)
    shown = [int(one.input_value()) for one in sliders.all()]
    assert shown[1] == 96
    assert sum(shown) == 100


# ---- the controller -------------------------------------------------------------------------------------------------


def test_controller_changes_an_assumption_and_takes_a_workbook_that_opens(browser_page, tmp_path) -> None:
    page = browser_page
    go_to(page, "Finance")
    page.get_by_role("heading", name="Totals", exact=True).wait_for(timeout=COMPUTED_MS)
    before = rows_of(page)
    open_table(page, holding="Discount rate")
    page.keyboard.press("ArrowRight")
    type_into_cell(page, column=1, row=0, text="20 %")
    page.get_by_text("not saved").wait_for()
    settle(page)
    after = rows_of(page)
    assert after
    assert after != before
    name, content = saved(page, "Workbook with live formulas")
    assert name.endswith("-cost.xlsx")
    book = openpyxl.load_workbook(io.BytesIO(content))
    formulas = sum(str(cell.value).startswith("=") for sheet in book for row in sheet.iter_rows() for cell in row)
    assert formulas > 100
    press(page, "Undo")
    assert rows_of(page) == before


# ---- all of them ----------------------------------------------------------------------------------------------------


def test_every_screen_says_what_is_missing_on_an_empty_case(browser_page) -> None:
    page = browser_page
    start_empty(page)
    for name in SCREENS:
        go_to(page, name)
        assert page.get_by_test_id("stException").count() == 0, name
    for name in ("Ruled out", "Finance", "Ranking", "What if", "Certainty", "Questions & trials", "Dossier"):
        go_to(page, name)
        page.get_by_role("alert").filter(has_text="This case has no board types yet").wait_for()


@pytest.mark.parametrize(("link", "views"), [
    ("Certainty", ("Ranks", "Weights one by one", "Smallest change", "What drives the gap", "Drift")),
    ("Quick answer", ("Time under any stream", "Time under a direct stream", "Stream pressure across a gap")),
])  # fmt: skip
def test_every_view_draws_its_chart_and_gives_its_table(browser_page, link: str, views: tuple[str, ...]) -> None:
    page = browser_page
    go_to(page, link)
    for view in views:
        page.get_by_role("radio", name=view).or_(page.get_by_role("button", name=view, exact=True)).first.click()
        settle(page)
        charts = page.get_by_test_id("stVegaLiteChart")
        charts.last.locator("svg.marks").wait_for()
        for chart in charts.all():
            assert chart.locator("svg.marks [role=graphics-symbol], svg.marks .mark-rect path").count() > 0, view
    assert page.get_by_role("button", name="Chart as SVG").count() >= charts.count() / 2
    page.get_by_text("Table", exact=True).last.click()
    settle(page)
    assert page.get_by_test_id("stDataFrame").last.get_by_test_id("data-grid-canvas").count() > 0


@pytest.mark.parametrize("content", [b"", b"\x00\xff\xfe binary", b"washcase_case: 1\nname: [", b"- a\n- list\n"])
def test_a_file_that_is_no_case_keeps_what_was_open_and_says_why(browser_page, tmp_path, content: bytes) -> None:
    page = browser_page
    bad = tmp_path / "bad.yaml"
    bad.write_bytes(content)
    page.get_by_text("Open another case").click()
    page.locator("input[type=file]").set_input_files(bad)
    page.get_by_text("bad.yaml was refused; what you had open is unchanged.").wait_for()
    page.get_by_text("Mixed plant with six board types").first.wait_for()
    go_to(page, "Machines")
    page.get_by_role("table").first.get_by_text("Offer A: batch spray washer").first.wait_for()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_screen_is_wider_than_a_window_of_900_pixels(browser_page, scheme: str) -> None:
    page = browser_page
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": 900, "height": 900})
    too_wide = {}
    for name in SCREENS:
        go_to(page, name)
        assert page.get_by_test_id("stException").count() == 0, name
        over = page.evaluate(
            """() => {
                const main = document.querySelector('[data-testid=stMain]');
                return Math.max(document.documentElement.scrollWidth - innerWidth, main.scrollWidth - main.clientWidth);
            }"""
        )
        if over > 0:
            too_wide[name] = over
    assert too_wide == {}


def test_text_stays_readable_on_dark_paper_on_every_screen(browser_page) -> None:
    page = browser_page
    page.emulate_media(color_scheme="dark")
    for name in SCREENS:
        go_to(page, name)
        assert page.evaluate(FAINT_TEXT) == [], name


FAINT_TEXT = """() => {
    const parts = text => text.match(/[\\d.]+/g).map(Number);
    const light = text => {
        const [r, g, b] = parts(text).map(v => (v /= 255) <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
        return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const behind = element => {
        for (let e = element; e; e = e.parentElement) {
            const colour = getComputedStyle(e).backgroundColor;
            const found = parts(colour);
            if (found.length < 4 || found[3] > 0.9) return colour;
        }
        return 'rgb(22, 29, 34)';
    };
    return [...document.querySelectorAll('[data-testid=stMain] :is(h1, h2, h3, p, li, td, th)')]
        .filter(e => e.offsetParent && e.textContent.trim())
        .filter(e => !e.closest('button[disabled], [aria-disabled=true], [data-testid=stSliderThumbValue]'))
        .filter(e => !e.closest('[data-testid=stSlider]') || e.closest('label'))
        .map(e => {
            const [a, b] = [light(getComputedStyle(e).color), light(behind(e))].sort((x, y) => y - x);
            return [(a + 0.05) / (b + 0.05), e.textContent.slice(0, 40)];
        })
        .filter(([contrast]) => contrast < 4.5);
}"""
"""Texts whose contrast to what stands behind them is below 4.5 to 1 (WCAG 2.1, criterion 1.4.3).

A slider's number is a child of its thumb but stands above it, on the page, so its parents tell nothing of it."""
