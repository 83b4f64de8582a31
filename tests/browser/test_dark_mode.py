"""In dark mode every chart takes the dark paper and stays readable."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser


def test_charts_follow_the_dark_theme(app_address: str, chromium) -> None:
    context = chromium.new_context(viewport={"width": 1200, "height": 900}, color_scheme="dark")
    page = context.new_page()
    page.goto(app_address)
    chart = page.locator("[data-testid=stVegaLiteChart] svg.marks").first
    chart.wait_for(timeout=60_000)
    paper = chart.evaluate("svg => getComputedStyle(svg).backgroundColor")
    body = page.locator("[data-testid=stApp]").evaluate("app => getComputedStyle(app).backgroundColor")
    assert paper == body == "rgb(22, 29, 34)"
    label = chart.locator(".role-axis-label text").first
    assert label.evaluate("text => getComputedStyle(text).fill") == "rgb(233, 230, 220)"
    context.close()
