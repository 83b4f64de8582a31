"""Charts hold the numbers they are given, set every colour, say what they show, and can be saved offline."""

from __future__ import annotations

import json

import pandas as pd
import pytest

from model.board_charts import board_chart, depth_chart
from model.charts import DARK, LIGHT, Palette, Sheet, chart_png, chart_svg, is_dark_fill, side_by_side
from model.dossier_svg import PRINT
from model.range_charts import RESULT_ORDER, probability_chart, ranges_chart

SENTENCE = "What the chart shows, in one sentence."


def sheet(palette: Palette = LIGHT) -> Sheet:
    return Sheet(palette=palette, description=SENTENCE, width=400)


def lightness(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.1, from memory)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    bright, dark = sorted((lightness(one), lightness(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def depth(palette: Palette = LIGHT, limit_min: float = 8.0):
    curve = pd.DataFrame(
        {"time": [0.0, 5.0, 10.0], "low": [0.0, 0.4, 0.8], "middle": [0.0, 1.0, 2.0], "high": [0.0, 2.0, 4.0]}
    )
    return depth_chart(curve, sheet(palette), needed=(1.0, 1.5, 2.0),
                       limit=(0.9 * limit_min, limit_min, 1.1 * limit_min), time_unit="min",
                       depth_unit="mm")  # fmt: skip


def face(name: str = "Face A", palette: Palette = LIGHT):
    cells = pd.DataFrame(
        {"side": name, "left": [0.0, 50.0], "right": [50.0, 100.0], "bottom": [0.0, 0.0], "top": [80.0, 80.0],
         "duty_share": [0.2, 0.9], "weakest": [True, False]}
    )  # fmt: skip
    return board_chart(cells, sheet(palette), value="duty_share", value_title="Time", value_format=".0%",
                       length_unit="mm", standing=True, greatest=1.0)  # fmt: skip


def ranges(palette: Palette = LIGHT):
    frame = pd.DataFrame(
        {"panel": ["Gap [µm]", "Gap [µm]", "Flux path [mm]", "Flux path [mm]"], "name": ["A", "B", "A", "B"],
         "low": [20.0, 40.0, 0.2, 2.0], "likely": [30.0, 50.0, 0.3, 3.0], "high": [60.0, 70.0, 0.5, 9.0],
         "mark": ["tightest", "other kinds"] * 2}
    )  # fmt: skip
    return ranges_chart(frame, sheet(palette), panels=("Gap [µm]", "Flux path [mm]"))


def probabilities(palette: Palette = LIGHT):
    frame = pd.DataFrame(
        {"name": ["M1", "M2", "M3"], "probability": [0.95, 0.5, 0.01], "result": list(RESULT_ORDER)}
    )
    return probability_chart(frame, sheet(palette), meets_from=0.9, misses_to=0.1)


CHARTS = {"depth": depth, "face": face, "ranges": ranges, "probabilities": probabilities}


@pytest.mark.parametrize("name", CHARTS)
@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_a_chart_says_what_it_shows_and_sets_its_text_colours(name: str, palette: Palette) -> None:
    spec = CHARTS[name](palette=palette).to_dict()
    assert spec["description"] == SENTENCE
    assert spec["background"] == palette.paper
    assert spec["config"]["axis"]["labelColor"] == palette.ink
    for mark in text_marks(spec):
        assert "color" in mark["mark"] or "color" in mark["encoding"]


def text_marks(spec: object) -> list[dict]:
    found: list[dict] = []
    if isinstance(spec, dict):
        mark = spec.get("mark")
        if isinstance(mark, dict) and mark.get("type") == "text":
            found.append(spec)
        for value in spec.values():
            found += text_marks(value)
    elif isinstance(spec, list):
        for value in spec:
            found += text_marks(value)
    return found


@pytest.mark.parametrize("name", CHARTS)
def test_a_chart_can_be_saved_without_network(name: str) -> None:
    chart = CHARTS[name]()
    assert chart_svg(chart).startswith("<svg")
    assert chart_png(chart, 1.0).startswith(b"\x89PNG")


def test_the_depth_chart_shows_needed_depth_and_limit_in_words() -> None:
    picture = chart_svg(depth())
    assert "depth needed" in picture
    assert "longest wash" in picture
    assert "→" not in picture


def test_a_limit_beyond_the_curve_is_said_with_its_number() -> None:
    assert "longest wash: 60 min →" in chart_svg(depth(limit_min=60.0))


def test_a_face_marks_its_weakest_cell_and_numbers_every_cell() -> None:
    picture = chart_svg(face())
    assert "20\u00a0%" in picture
    assert "90\u00a0%" in picture
    assert "stroke-dasharray" in picture
    assert "Face A" in picture


def test_two_faces_join_into_one_picture() -> None:
    joined = side_by_side([face("Face A"), face("Face B")], sheet())
    picture = chart_svg(joined)
    assert "Face A" in picture
    assert "Face B" in picture


def test_results_differ_in_shape_as_well_as_colour() -> None:
    layers = probabilities().to_dict()["layer"]
    points = next(layer for layer in layers if layer["mark"]["type"] == "point")
    assert len(set(points["encoding"]["shape"]["scale"]["range"])) == 3
    assert len(set(points["encoding"]["color"]["scale"]["range"])) == 3


def test_no_chart_names_an_outside_address_for_its_data() -> None:
    for draw in CHARTS.values():
        spec = draw().to_dict()
        spec.pop("$schema")
        assert "http" not in json.dumps(spec)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_marks_stand_out_from_the_paper(palette: Palette) -> None:
    assert contrast(palette.ink, palette.paper) >= 7.0
    for colour in (palette.line, palette.limit, palette.plain):
        assert contrast(colour, palette.paper) >= 4.5


@pytest.mark.parametrize("palette", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])
def test_numbers_can_be_read_upon_every_step_of_the_ramp(palette: Palette) -> None:
    # WCAG 2.1, criterion 1.4.3 asks for 4.5 to 1 (from memory).
    steps = [place / (len(palette.ramp) - 1) for place in range(len(palette.ramp))]
    for colour, dark in zip(palette.ramp, is_dark_fill(palette, steps), strict=True):
        assert contrast("#FFFFFF" if dark else "#000000", colour) >= 4.5


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_the_ramp_only_ever_grows_away_from_the_paper(palette: Palette) -> None:
    steps = [contrast(colour, palette.paper) for colour in palette.ramp]
    assert steps == sorted(steps)
