"""Charts as pure functions of plain tables in the reader's units; every colour is set, so dark pages stay readable."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt
import pandas as pd
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
LETTERS_A_LINE = 36
"""Names longer than this take two lines, so that a narrow page still has room for the marks."""

RESULT_ORDER = ("meets", "unknown", "falls short")


def names_axis(letters: int = LETTERS_A_LINE) -> Any:
    """Give an axis of names that breaks long ones between words instead of cutting them."""
    pattern = f"/(.{{1,{letters}}})(\\s+|$)/g"
    return alt.Axis(labelExpr=f"split(trim(replace(datum.label, {pattern}, '$1\\n')), '\\n')", labelLimit=300)


def row_step(names: Sequence[str], least: int, letters: int = LETTERS_A_LINE) -> int:
    """Give the height of a row in pixels: enough for the lines that its longest name takes."""
    lines = max((-(-len(name) // letters) for name in names), default=1)
    return max(least, 15 * lines + 4)


def styled(chart: Any, palette: Palette, description: str, *, stretched: bool = False) -> Any:
    """Give a chart the palette's colours, no frame, and a description for those who cannot see it.

    A stretched chart takes the page's width but keeps its own height for the plot, legends and titles beyond it.
    """
    if stretched:
        chart = chart.properties(autosize=alt.AutoSizeParams(type="fit-x", contains="padding"))
    return (
        chart.properties(background=palette.paper, description=description)
        .configure(locale=alt.Locale(number=alt.NumberLocale.from_dict(NUMBERS)))
        .configure_view(stroke=None)
        .configure_axis(
            labelColor=palette.ink, titleColor=palette.ink, gridColor=palette.faint, domainColor=palette.ink,
            tickColor=palette.ink, labelFontSize=12, titleFontSize=12, labelLimit=300, titleFontWeight="normal",
        )
        .configure_legend(
            labelColor=palette.ink, titleColor=palette.ink, labelFontSize=12, titleFontSize=12, orient="bottom",
            labelLimit=300, titleLimit=400,
        )
        .configure_header(labelColor=palette.ink, titleColor=palette.ink, labelFontSize=13)
        .configure_title(color=palette.ink, fontSize=13, anchor="start", fontWeight="normal")
    )  # fmt: skip


def depth_chart(
    curve: pd.DataFrame, *, needed: tuple[float, float, float], limit: tuple[float, float, float] | None,
    time_unit: str, depth_unit: str, palette: Palette, description: str, width: int | str = 560,
) -> Any:  # fmt: skip
    """Draw clearing depth against wash time with its band, the depth needed and the longest wash.

    Parameters
    ----------
    curve : DataFrame
        Columns time, low, middle, high in the units named.
    needed : tuple
        5 %, 50 % and 95 % point of the depth needed, in depth_unit.
    limit : tuple or None
        The same of the machine's longest wash, in time_unit; said in words where it lies beyond the curve.
    time_unit, depth_unit : str
    palette : Palette
    description : str
        One sentence read to those who cannot see the chart.
    width : int or "container"
        Pixels, or as wide as the page allows.

    Returns
    -------
    altair chart
    """
    # A deep surplus would press the part that matters to the floor.
    top = max(needed[2] * 1.6, min(float(curve["high"].max()), needed[2] * 2.5))
    span = float(curve["time"].max())
    depth_scale, time_scale = alt.Scale(domain=[0, top], nice=False), alt.Scale(domain=[0, span], nice=False)
    time = alt.X("time:Q", title=f"Wash time [{time_unit}]", scale=time_scale, axis=alt.Axis(tickCount=10))
    base = alt.Chart(curve)
    depth_title = f"Depth cleared at the worst place [{depth_unit}]"
    band = base.mark_area(color=palette.line, opacity=0.25, clip=True).encode(
        x=time, y=alt.Y("low:Q", title=depth_title, scale=depth_scale), y2="high:Q"
    )
    tooltip = [
        alt.Tooltip(f"{name}:Q", format=".3g", title=title)
        for name, title in (("time", f"Time [{time_unit}]"), ("low", "5 %"), ("middle", "Middle"), ("high", "95 %"))
    ]
    middle = base.mark_line(color=palette.line, strokeWidth=2.5, clip=True).encode(
        x=time, y=alt.Y("middle:Q", title=depth_title, scale=depth_scale), tooltip=tooltip
    )
    marks = [band, middle]
    goal = pd.DataFrame({"low": [needed[0]], "middle": [needed[1]], "high": [needed[2]], "text": ["depth needed"]})
    marks.append(
        alt.Chart(goal).mark_rect(color=palette.limit, opacity=0.12).encode(
            y=alt.Y("low:Q", scale=depth_scale, title=depth_title), y2="high:Q"
        )
    )  # fmt: skip
    marks.append(
        alt.Chart(goal).mark_rule(color=palette.limit, strokeWidth=2, strokeDash=[7, 4]).encode(y="middle:Q")
    )
    marks.append(
        alt.Chart(goal).mark_text(color=palette.limit, align="left", baseline="bottom", dx=6, dy=-3, fontSize=12)
        .encode(x=alt.value(0), y="middle:Q", text="text:N")
    )  # fmt: skip
    if limit is not None and limit[1] > span:
        far = pd.DataFrame({"text": [f"longest wash: {limit[1]:.3g} {time_unit} →"]})
        marks.append(
            alt.Chart(far).mark_text(color=palette.plain, align="right", baseline="top", dx=-6, dy=4, fontSize=12)
            .encode(x=alt.value("width"), y=alt.value(0), text="text:N")
        )  # fmt: skip
    elif limit is not None:
        end = pd.DataFrame({"low": [limit[0]], "middle": [limit[1]], "high": [limit[2]], "text": ["longest wash"]})
        marks.append(
            alt.Chart(end).mark_rect(color=palette.plain, opacity=0.15, clip=True).encode(
                x=alt.X("low:Q", scale=time_scale, title=f"Wash time [{time_unit}]"), x2="high:Q"
            )
        )  # fmt: skip
        marks.append(
            alt.Chart(end).mark_rule(color=palette.plain, strokeWidth=2, strokeDash=[2, 3]).encode(x="middle:Q")
        )
        late = limit[1] > 0.7 * span
        marks.append(
            alt.Chart(end).mark_text(
                color=palette.plain, align="right" if late else "left", baseline="top", dx=-6 if late else 6, dy=4,
                fontSize=12,
            )
            .encode(x="middle:Q", y=alt.value(0), text="text:N")
        )  # fmt: skip
    layers = alt.layer(*marks).properties(width=width, height=300)
    return styled(layers, palette, description, stretched=width == "container")


def board_chart(
    cells: pd.DataFrame, *, value: str, value_title: str, value_format: str, length_unit: str, standing: bool,
    greatest: float, palette: Palette, description: str, width: int | str = 330,
) -> Any:  # fmt: skip
    """Draw a value over one face of a board, each cell with its number, the weakest place marked.

    Parameters
    ----------
    cells : DataFrame
        Columns side, left, right, bottom, top (in length_unit), weakest, and the value; one row a cell, of one side.
    value, value_title, value_format : str
        Column drawn, its title, and the d3 number format of the cells.
    length_unit : str
    standing : bool
        True when up in the picture is up in the machine.
    greatest : float
        End of the colour scale, which starts at 0; the same for pictures that are to be compared.
    palette : Palette
    description : str
    width : int or "container"
        Pixels, or as wide as the page allows.

    Returns
    -------
    altair chart
    """
    end = greatest if greatest > 0 else 1.0
    colour = alt.Color(
        f"{value}:Q", title=value_title,
        legend=alt.Legend(format=value_format, gradientLength=220, values=[0.0, end / 2, end]),
        scale=alt.Scale(range=list(palette.ramp), domain=[0.0, end]),
    )  # fmt: skip
    placed = cells.assign(
        across=(cells["left"] + cells["right"]) / 2, upward=(cells["bottom"] + cells["top"]) / 2,
        strong=cells[value] > end / 2,
    )  # fmt: skip
    far, high = float(cells["right"].max()), float(cells["top"].max())
    height = int(min(max((width if isinstance(width, int) else 330) * high / far, 140), 340))
    up = f"Width [{length_unit}]" + (", upwards in the rack" if standing else "")
    base = alt.Chart(placed)
    x = alt.X("left:Q", title=f"Length [{length_unit}]", scale=alt.Scale(domain=[0, far], nice=False))
    y = alt.Y("bottom:Q", title=up, scale=alt.Scale(domain=[0, high], nice=False))
    tiles = base.mark_rect(stroke=palette.paper, strokeWidth=1).encode(
        x=x, x2="right:Q", y=y, y2="top:Q", color=colour,
        tooltip=[alt.Tooltip(f"{value}:Q", format=value_format, title=value_title)],
    )  # fmt: skip
    # Where the cells are too narrow for their numbers, colour, tooltip and table tell them.
    numbers = base.mark_text(fontSize=alt.ExprRef("width < 300 ? 0 : 9")).encode(
        x="across:Q", y="upward:Q", text=alt.Text(f"{value}:Q", format=value_format),
        color=alt.condition("datum.strong", alt.value(palette.ramp[0]), alt.value(palette.ramp[-1])),
    )  # fmt: skip
    ring = base.transform_filter("datum.weakest").mark_rect(
        filled=False, stroke=palette.limit, strokeWidth=3, strokeDash=[5, 3]
    )
    ring = ring.encode(x="left:Q", x2="right:Q", y="bottom:Q", y2="top:Q")
    face = alt.layer(tiles, numbers, ring).properties(title=str(cells["side"].iloc[0]), width=width, height=height)
    return styled(face, palette, description, stretched=width == "container")


def side_by_side(charts: Sequence[Any], palette: Palette, description: str) -> Any:
    """Join finished charts into one picture, for saving."""
    bare = []
    for chart in charts:
        copy = chart.copy()
        copy.config, copy.background, copy.description = alt.Undefined, alt.Undefined, alt.Undefined
        bare.append(copy)
    return styled(alt.hconcat(*bare, spacing=24), palette, description)


def ranges_chart(
    frame: pd.DataFrame, *, panels: tuple[str, ...], palette: Palette, description: str,
    width: int | str = 300,
) -> Any:  # fmt: skip
    """Draw ranges side by side: a bar from low to high, a point at the likely value; filled when it is marked.

    Parameters
    ----------
    frame : DataFrame
        Columns panel, name, low, likely, high, mark (a word; the first word met is drawn filled).
    panels : tuple of str
        Panels in order, each with its unit in its name.
    palette : Palette
    description : str
    width : int or "container"
        Width of one panel in pixels; "container" only for a single panel.

    Returns
    -------
    altair chart
    """
    names = list(frame["name"].drop_duplicates())
    words = list(frame["mark"].drop_duplicates())
    colours = [palette.line, palette.plain, palette.limit]
    drawn = []
    for number, panel in enumerate(panels):
        part = frame[frame["panel"] == panel]
        wide = float(part["low"].min()) > 0 and float(part["high"].max()) > 20 * float(part["low"].min())
        scale = alt.Scale(type="log", nice=False, padding=8) if wide else alt.Scale(type="linear", zero=True)
        axis = names_axis() if number == 0 else alt.Axis(labels=False, ticks=False)
        ticks = alt.Axis(tickCount=5)
        if wide:
            ticks = alt.Axis(values=decade_steps(float(part["low"].min()), float(part["high"].max())), format="~r")
        y = alt.Y("name:N", sort=names, title=None, axis=axis)
        colour = alt.Color("mark:N", title=None, scale=alt.Scale(domain=words, range=colours[: len(words)]))
        shape = alt.Shape("mark:N", title=None, scale=alt.Scale(
            domain=words, range=["circle", "diamond", "square"][: len(words)]))  # fmt: skip
        base = alt.Chart(part)
        bar = base.mark_rule(strokeWidth=3).encode(
            x=alt.X("low:Q", title=panel, scale=scale, axis=ticks), x2="high:Q", y=y,
            color=colour,
        )  # fmt: skip
        points = base.mark_point(size=70, filled=True, opacity=1).encode(
            x=alt.X("likely:Q", title=panel, scale=scale), y=y, color=colour, shape=shape,
            tooltip=["name:N", *(alt.Tooltip(f"{end}:Q", format=".3g") for end in ("low", "likely", "high")), "mark:N"],
        )  # fmt: skip
        drawn.append((bar + points).properties(width=width, height=row_step(names, 24) * len(names)))
    whole = drawn[0] if len(drawn) == 1 else alt.hconcat(*drawn, spacing=18)
    return styled(whole, palette, description, stretched=width == "container")


def decade_steps(low: float, high: float) -> list[float]:
    """Give 1, 2 and 5 of every decade between two ends, or only the decades where they would crowd.

    >>> decade_steps(3.0, 60.0), decade_steps(0.1, 1e6)[:3]
    ([5.0, 10.0, 20.0, 50.0], [0.1, 1.0, 10.0])
    """
    first, last = math.floor(math.log10(low)), math.ceil(math.log10(high))
    heads = (1, 2, 5) if last - first <= 3 else (1,)
    steps = [float(f"{head}e{power}") for power in range(first, last + 1) for head in heads]
    return [step for step in steps if low <= step <= high]


def probability_chart(
    frame: pd.DataFrame, *, meets_from: float, misses_to: float, palette: Palette, description: str,
    width: int | str = 520,
) -> Any:  # fmt: skip
    """Draw each machine's probability of meeting every must, with the two probabilities between which it stays open.

    Parameters
    ----------
    frame : DataFrame
        Columns name, probability (0 to 1), result.
    meets_from, misses_to : float
        Shares from which a machine meets and up to which it falls short.
    palette : Palette
    description : str
    width : int or "container"
        Pixels, or as wide as the page allows.

    Returns
    -------
    altair chart
    """
    order = list(frame["name"])
    scale = alt.Scale(domain=list(RESULT_ORDER), range=[palette.line, palette.plain, palette.limit])
    shapes = alt.Scale(domain=list(RESULT_ORDER), range=["circle", "diamond", "cross"])
    y = alt.Y("name:N", sort=order, title=None, axis=names_axis())
    base = alt.Chart(frame)
    x = alt.X("probability:Q", title="Probability that every must holds on every board type",
              scale=alt.Scale(domain=[0, 1]), axis=alt.Axis(format="%", tickCount=5))  # fmt: skip
    stems = base.mark_rule(color=palette.faint, strokeWidth=2).encode(x=x, x2=alt.datum(0), y=y)
    points = base.mark_point(size=110, filled=True, opacity=1).encode(
        x=x, y=y, color=alt.Color("result:N", title=None, scale=scale),
        shape=alt.Shape("result:N", title=None, scale=shapes),
        tooltip=["name:N", "result:N", alt.Tooltip("probability:Q", format=".1%")],
    )  # fmt: skip
    bounds = pd.DataFrame({"at": [misses_to, meets_from]})
    rules = alt.Chart(bounds).mark_rule(color=palette.ink, strokeDash=[3, 3]).encode(x="at:Q")
    layers = alt.layer(stems, rules, points).properties(width=width, height=row_step(order, 26) * len(order))
    return styled(layers, palette, description, stretched=width == "container")


def chart_svg(chart: Any) -> str:
    """Write a chart as SVG text, without any network."""
    return str(vl_convert.vegalite_to_svg(chart.to_dict()))


def chart_png(chart: Any, pixels_per_point: float = 2.0) -> bytes:
    """Write a chart as PNG, without any network."""
    return bytes(vl_convert.vegalite_to_png(chart.to_dict(), scale=pixels_per_point))
