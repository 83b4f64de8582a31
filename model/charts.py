"""What all charts share: colours, size, words for those who cannot see them, axes of names, and saving."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import altair as alt
import numpy as np
import vl_convert


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """Colours of one page theme; told apart by lightness too, so that no kind of colour vision loses anything."""

    ink: str
    """Text and axes."""
    faint: str
    """Grid lines."""
    paper: str
    """What stands behind the chart."""
    line: str
    """Main series."""
    limit: str
    """Limits and what falls short."""
    plain: str
    """What is not known or not stated."""
    ramp: tuple[str, ...]
    """Ordered colours from little to much."""


LIGHT = Palette(
    ink="#22303A", faint="#DAD5C7", paper="#FCFBF7", line="#1D5D9B", limit="#B4490F", plain="#5E6670",
    ramp=("#F3EEDD", "#C9D7C8", "#8DB6B9", "#4F8CA3", "#24597F", "#132F52"),
)  # fmt: skip
DARK = Palette(
    ink="#E9E6DC", faint="#38444C", paper="#161D22", line="#7FB4EA", limit="#F0925A", plain="#A7B0B7",
    ramp=("#20303A", "#24506A", "#33758E", "#5C9DA6", "#9CC6BC", "#F1EFD6"),
)  # fmt: skip

NUMBERS = {"decimal": ".", "thousands": "\u202f", "grouping": [3], "currency": ["", ""], "percent": "\u00a0%"}
"""Numbers as the sentences write them: thousands set apart by a thin space, a space before the percent sign."""
EVEN_LUMINANCE = (1.05 * 0.05) ** 0.5 - 0.05
"""Relative luminance upon which black and white have the same contrast."""
LETTERS_A_LINE = 36
"""Names longer than this take two lines, so that a narrow page still has room for the marks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What a chart is drawn on."""

    palette: Palette
    """Its colours; every one is set, so that dark pages stay readable."""
    description: str
    """One sentence read to those who cannot see the chart."""
    width: int | str
    """Pixels, or "container" for as wide as the page allows."""

    def described(self, description: str) -> Sheet:
        """Give the same sheet with another sentence."""
        return replace(self, description=description)

    def finished(self, chart: Any, height: Any) -> Any:
        """Give a chart of one plot its size, the palette's colours, no frame, and the description.

        `height` is in pixels, or an altair step for each row.
        """
        size: dict[str, Any] = {"width": self.width, "height": height}
        if self.width == "container":
            # It takes the page's width but keeps its own height for the plot, legends and titles beyond it.
            size["autosize"] = alt.AutoSizeParams(type="fit-x", contains="padding")
        return self.coloured(chart.properties(**size))

    def coloured(self, chart: Any) -> Any:
        """Give a chart that has its size the palette's colours, no frame, and the description."""
        return chart.properties(background=self.palette.paper, description=self.description,
                                config=_settings(self.palette))  # fmt: skip


@lru_cache(maxsize=4)
def _settings(palette: Palette) -> Any:
    """Give the settings of all charts in a palette, made once: each step of making them copies the whole chart."""
    words: dict[str, Any] = {"labelColor": palette.ink, "titleColor": palette.ink, "labelFontSize": 12,
                             "titleFontSize": 12, "labelLimit": 300}  # fmt: skip
    return alt.Config(
        locale=alt.Locale(number=alt.NumberLocale.from_dict(NUMBERS)),
        view=alt.ViewConfig(stroke=None),
        axis=alt.AxisConfig(**words, gridColor=palette.faint, domainColor=palette.ink, tickColor=palette.ink,
                            titleFontWeight="normal"),
        legend=alt.LegendConfig(**words, orient="bottom", titleLimit=400),
        header=alt.HeaderConfig(labelColor=palette.ink, titleColor=palette.ink, labelFontSize=13),
        title=alt.TitleConfig(color=palette.ink, fontSize=13, anchor="start", fontWeight="normal"),
    )  # fmt: skip


def side_by_side(charts: Sequence[Any], sheet: Sheet) -> Any:
    """Join finished charts into one picture, for saving."""
    bare = []
    for chart in charts:
        copy = chart.copy()
        copy.config, copy.background, copy.description = alt.Undefined, alt.Undefined, alt.Undefined
        bare.append(copy)
    return sheet.coloured(alt.hconcat(*bare, spacing=24))


def names_axis(letters: int = LETTERS_A_LINE) -> Any:
    """Give an axis of names that breaks long ones between words instead of cutting them."""
    pattern = f"/(.{{1,{letters}}})(\\s+|$)/g"
    return alt.Axis(labelExpr=f"split(trim(replace(datum.label, {pattern}, '$1\\n')), '\\n')", labelLimit=300)


def row_step(names: Sequence[str], least: int, letters: int = LETTERS_A_LINE) -> int:
    """Give the height of a row in pixels: enough for the lines that its longest name takes."""
    lines = max((-(-len(name) // letters) for name in names), default=1)
    return max(least, 15 * lines + 4)


def is_dark_fill(palette: Palette, shares: Iterable[float]) -> list[bool]:
    """Tell for cells filled from the palette's ramp whether white reads better upon them than black.

    Parameters
    ----------
    palette : Palette
    shares : iterable of float
        Place of each cell on the ramp, 0-1.

    Returns
    -------
    list of bool
        True below a relative luminance of 0.179, where both have the same contrast of 4.6 to 1; luminance and contrast
        as in WCAG 2.1.
    """
    light = [_luminance(colour) for colour in palette.ramp]
    places = [place / (len(light) - 1) for place in range(len(light))]
    return [bool(found < EVEN_LUMINANCE) for found in np.interp(list(shares), places, light)]


INK_UPON_FILL = alt.ExprRef("datum.dark ? '#FFFFFF' : '#000000'")
"""Colour of words: white upon the cells whose column `dark` is true, black upon the others."""


def _luminance(colour: str) -> float:
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def rows_of(field: str, names: Sequence[str], letters: int = LETTERS_A_LINE) -> Any:
    """Give the upright channel of a chart with one row for each name, in that order."""
    return alt.Y(f"{field}:N", sort=list(names), title=None, axis=names_axis(letters))


def told_apart(field: str, looks: Mapping[str, tuple[str, str]], title: str | None = None) -> dict[str, Any]:
    """Give the channels that tell kinds of points apart: each word with its colour and, for any eye, its shape."""
    words, colours, shapes = list(looks), *(list(one) for one in zip(*looks.values(), strict=True))
    return {
        "color": alt.Color(f"{field}:N", title=title, scale=alt.Scale(domain=words, range=colours)),
        "shape": alt.Shape(f"{field}:N", title=title, scale=alt.Scale(domain=words, range=shapes)),
    }


def numbers_told(columns: Sequence[str], number_format: str) -> list[Any]:
    """Give the part of a tooltip that tells some columns in one format."""
    return [alt.Tooltip(f"{column}:Q", format=number_format) for column in columns]


def chart_svg(chart: Any) -> str:
    """Write a chart as SVG text, without any network."""
    return str(vl_convert.vegalite_to_svg(chart.to_dict()))


def chart_png(chart: Any, pixels_per_point: float = 2.0) -> bytes:
    """Write a chart as PNG, without any network."""
    return bytes(vl_convert.vegalite_to_png(chart.to_dict(), scale=pixels_per_point))
