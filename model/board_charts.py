"""Charts of how a wash reaches a board: depth cleared over time, and the streams over both faces."""

from __future__ import annotations

from typing import Any

import altair as alt
import pandas as pd

from model.charts import INK_UPON_FILL, Sheet, is_dark_fill


def depth_chart(
    curve: pd.DataFrame, sheet: Sheet, *, needed: tuple[float, float, float],
    limit: tuple[float, float, float] | None, time_unit: str, depth_unit: str,
) -> Any:  # fmt: skip
    """Draw clearing depth against wash time with its band, the depth needed and the longest wash.

    Parameters
    ----------
    curve : DataFrame
        Columns time, low, middle, high in the units named.
    sheet : Sheet
    needed : tuple
        5 %, 50 % and 95 % point of the depth needed, in depth_unit.
    limit : tuple or None
        The same of the machine's longest wash, in time_unit; said in words where it lies beyond the curve.
    time_unit, depth_unit : str

    Returns
    -------
    altair chart
    """
    palette = sheet.palette
    # A deep surplus would press the part that matters to the floor.
    top = max(needed[2] * 1.6, min(float(curve["high"].max()), needed[2] * 2.5))
    span = float(curve["time"].max())
    depth_scale, time_scale = alt.Scale(domain=[0, top], nice=False), alt.Scale(domain=[0, span], nice=False)
    time = alt.X("time:Q", title=f"Wash time [{time_unit}]", scale=time_scale, axis=alt.Axis(tickCount=10))
    base = alt.Chart(curve)
    depth_title = f"Depth cleared at the worst place [{depth_unit}]"
    band = base.mark_area(color=palette.line, opacity=0.25, clip=True).encode(
        x=time, y=alt.Y("low:Q", title=depth_title, scale=depth_scale), y2=alt.Y2("high:Q")
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
            y=alt.Y("low:Q", scale=depth_scale, title=depth_title), y2=alt.Y2("high:Q")
        )
    )  # fmt: skip
    marks.append(
        alt.Chart(goal).mark_rule(color=palette.limit, strokeWidth=2, strokeDash=[7, 4]).encode(y=alt.Y("middle:Q"))
    )
    marks.append(
        alt.Chart(goal).mark_text(color=palette.limit, align="left", baseline="bottom", x=0, dx=6, dy=-3, fontSize=12)
        .encode(y=alt.Y("middle:Q"), text=alt.Text("text:N"))
    )  # fmt: skip
    if limit is not None and limit[1] > span:
        far = pd.DataFrame({"text": [f"longest wash: {limit[1]:.3g} {time_unit} →"]})
        marks.append(
            alt.Chart(far).mark_text(
                color=palette.plain, align="right", baseline="top", x="width", y=0, dx=-6, dy=4, fontSize=12
            ).encode(text=alt.Text("text:N"))
        )  # fmt: skip
    elif limit is not None:
        end = pd.DataFrame({"low": [limit[0]], "middle": [limit[1]], "high": [limit[2]], "text": ["longest wash"]})
        marks.append(
            alt.Chart(end).mark_rect(color=palette.plain, opacity=0.15, clip=True).encode(
                x=alt.X("low:Q", scale=time_scale, title=f"Wash time [{time_unit}]"), x2=alt.X2("high:Q")
            )
        )  # fmt: skip
        marks.append(
            alt.Chart(end).mark_rule(color=palette.plain, strokeWidth=2, strokeDash=[2, 3]).encode(x=alt.X("middle:Q"))
        )
        late = limit[1] > 0.7 * span
        marks.append(
            alt.Chart(end).mark_text(
                color=palette.plain, align="right" if late else "left", baseline="top", y=0, dx=-6 if late else 6, dy=4,
                fontSize=12,
            )
            .encode(x=alt.X("middle:Q"), text=alt.Text("text:N"))
        )  # fmt: skip
    return sheet.finished(alt.layer(*marks), 300)


def board_chart(
    cells: pd.DataFrame, sheet: Sheet, *, value: str, value_title: str, value_format: str, length_unit: str,
    standing: bool, greatest: float, room: int = 300, legend: bool = True,
) -> Any:  # fmt: skip
    """Draw a value over one face of a board, each cell with its number, the weakest place marked.

    Parameters
    ----------
    cells : DataFrame
        Columns side, left, right, bottom, top (in length_unit), weakest, and the value; one row a cell, of one side.
    sheet : Sheet
    value, value_title, value_format : str
        Column drawn, its title, and the d3 number format of the cells.
    length_unit : str
    standing : bool
        True when up in the picture is up in the machine.
    greatest : float
        End of the colour scale, which starts at 0; the same for pictures that are to be compared.
    room : int
        Pixels of width from which the numbers have room in their cells.
    legend : bool
        False where the numbers are all that is needed.

    Returns
    -------
    altair chart
    """
    palette, width = sheet.palette, sheet.width
    end = greatest if greatest > 0 else 1.0
    colour = alt.Color(
        f"{value}:Q", title=value_title,
        legend=alt.Legend(format=".0%" if value_format.endswith("%") else value_format, gradientLength=220,
                          values=[0.0, end / 2, end]) if legend else None,
        scale=alt.Scale(range=list(palette.ramp), domain=[0.0, end]),
    )  # fmt: skip
    placed = cells.assign(
        across=(cells["left"] + cells["right"]) / 2, upward=(cells["bottom"] + cells["top"]) / 2,
        dark=is_dark_fill(palette, cells[value] / end),
    )  # fmt: skip
    far, high = float(cells["right"].max()), float(cells["top"].max())
    height = int(min(max((width if isinstance(width, int) else 330) * high / far, 140), 340))
    up = f"Width [{length_unit}]" + (", upwards in the rack" if standing else "")
    base = alt.Chart(placed)
    bare = alt.Axis(grid=False)
    x = alt.X("left:Q", title=f"Length [{length_unit}]", axis=bare, scale=alt.Scale(domain=[0, far], nice=False))
    y = alt.Y("bottom:Q", title=up, axis=bare, scale=alt.Scale(domain=[0, high], nice=False))
    tiles = base.mark_rect(stroke=palette.faint, strokeWidth=1, aria=False).encode(
        x=x, x2=alt.X2("right:Q"), y=y, y2=alt.Y2("top:Q"), color=colour,
        tooltip=[alt.Tooltip(f"{value}:Q", format=value_format, title=value_title)],
    )  # fmt: skip
    # The sentence and the table speak for the picture: 64 cells read out one by one would not.
    # Where the cells are too narrow for their numbers, colour, tooltip and table tell them.
    numbers = base.mark_text(fontSize=alt.ExprRef(f"width < {room} ? 0 : 9"), color=INK_UPON_FILL, aria=False).encode(
        x=alt.X("across:Q"), y=alt.Y("upward:Q"), text=alt.Text(f"{value}:Q", format=value_format),
    )  # fmt: skip
    ring = base.transform_filter("datum.weakest").mark_rect(
        filled=False, stroke=palette.limit, strokeWidth=3, strokeDash=[5, 3], aria=False
    )
    ring = ring.encode(x=alt.X("left:Q"), x2=alt.X2("right:Q"), y=alt.Y("bottom:Q"), y2=alt.Y2("top:Q"))
    return sheet.finished(alt.layer(tiles, numbers, ring).properties(title=str(cells["side"].iloc[0])), height)
