"""Pictures of a decision as pure functions of plain tables; every colour is set and none carries a meaning alone."""

from __future__ import annotations

from typing import Any

import altair as alt
import pandas as pd

from model.charts import INK_UPON_FILL, LETTERS_A_LINE, Sheet, is_dark_fill, numbers_told, row_step, rows_of, told_apart

CRITERION_COLOURS = (
    "#1D6FA8", "#C8642A", "#4F8A4B", "#8B5FA8", "#B8912B", "#2F9C95", "#9A5B4B", "#6C7A86", "#A63D62", "#5B6BC0",
)  # fmt: skip
"""Fills of stacked parts, told apart by hue and lightness; the parts are numbered too."""

LEGEND_COLUMNS = "max(1, floor(width / 230))"
"""As many columns of the legend as the plot is wide."""

NARROW_LETTERS = 18
"""Letters of a name to a line where a chart stands beside something else."""

SHARE_SCALE = alt.Scale(domain=[0, 1])


def _percent_axis() -> Any:
    return alt.Axis(format="%", tickCount=5)


def contributions_chart(parts: pd.DataFrame, ranges: pd.DataFrame, sheet: Sheet, *, legend: bool = True) -> Any:
    """Draw each machine's score as a stack of what every criterion brings, with the range of the score over it.

    Parameters
    ----------
    parts : DataFrame
        Columns name, criterion ("1 Spray reach"), mark ("1"), start, end (0 to 1).
    ranges : DataFrame
        Columns name, low, score, high (0 to 1); best first.
    sheet : Sheet
    legend : bool
        False where the numbers in the bars are explained beside the chart, which is narrow there.

    Returns
    -------
    altair chart
    """
    palette, order, criteria = sheet.palette, list(ranges["name"]), list(parts["criterion"].drop_duplicates())
    letters = LETTERS_A_LINE if legend else NARROW_LETTERS
    y = rows_of("name", order, letters)
    x = alt.X("start:Q", title="Score, 0 worst to 1 best", scale=SHARE_SCALE,
              axis=alt.Axis(format=".1f", tickCount=5))  # fmt: skip
    colours = [CRITERION_COLOURS[place % len(CRITERION_COLOURS)] for place in range(len(criteria))]
    columns = alt.Legend(columns=alt.ExprRef(LEGEND_COLUMNS))
    base = alt.Chart(parts.assign(middle=(parts["start"] + parts["end"]) / 2, size=parts["end"] - parts["start"]))
    bars = base.mark_bar(height=18, stroke=palette.paper, strokeWidth=1).encode(
        x=x, x2=alt.X2("end:Q"), y=y, color=alt.Color("criterion:N", title=None, sort=criteria, scale=alt.Scale(
            domain=criteria, range=colours), legend=columns if legend else None),
        tooltip=[alt.Tooltip("name:N"), alt.Tooltip("criterion:N"),
                 alt.Tooltip("size:Q", format=".3f", title="Part of the score")],
    )  # fmt: skip
    marks = base.transform_filter("datum.size > 0.025").mark_text(color="#FFFFFF", fontSize=11).encode(
        x=alt.X("middle:Q"), y=y, text=alt.Text("mark:N")
    )  # fmt: skip
    spread = alt.Chart(ranges)
    whisker = spread.mark_rule(color=palette.ink, strokeWidth=2, yOffset=14).encode(
        x=alt.X("low:Q"), x2=alt.X2("high:Q"), y=y
    )
    score = spread.mark_point(color=palette.ink, filled=True, size=40, shape="diamond", yOffset=14).encode(
        x=alt.X("score:Q"), y=y, tooltip=[alt.Tooltip("name:N"), *numbers_told(("low", "score", "high"), ".3f")]
    )  # fmt: skip
    return sheet.finished(alt.layer(bars, marks, whisker, score), alt.Step(row_step(order, 40, letters)))


def rank_chart(frame: pd.DataFrame, sheet: Sheet) -> Any:
    """Draw the probability of every rank of every machine, each cell with its number.

    Parameters
    ----------
    frame : DataFrame
        Columns name, rank, share (0 to 1); machines in the order to be drawn.
    sheet : Sheet

    Returns
    -------
    altair chart
    """
    palette, order = sheet.palette, list(frame["name"].drop_duplicates())
    base = alt.Chart(frame.assign(dark=is_dark_fill(palette, frame["share"])))
    x, y = alt.X("rank:O", title="Rank", axis=alt.Axis(labelAngle=0)), rows_of("name", order)
    cells = base.mark_rect(stroke=palette.paper, strokeWidth=1).encode(
        x=x, y=y, color=alt.Color("share:Q", title="Probability", legend=None, scale=alt.Scale(
            range=list(palette.ramp), domain=[0.0, 1.0])),
        tooltip=[alt.Tooltip("name:N"), alt.Tooltip("rank:O"), alt.Tooltip("share:Q", format=".1%")],
    )  # fmt: skip
    numbers = base.mark_text(fontSize=12, color=INK_UPON_FILL).encode(
        x=x, y=y, text=alt.Text("share:Q", format=".0%")
    )
    return sheet.finished(alt.layer(cells, numbers), alt.Step(row_step(order, 30)))


def intervals_chart(frame: pd.DataFrame, sheet: Sheet) -> Any:
    """Draw the interval of each weight in which the leader stays, with today's weight and who takes over.

    Parameters
    ----------
    frame : DataFrame
        Columns criterion, low, weight, high (0 to 1), below, above (names, or empty).
    sheet : Sheet

    Returns
    -------
    altair chart
    """
    palette, base, y = sheet.palette, alt.Chart(frame), rows_of("criterion", list(frame["criterion"]))
    x = alt.X("low:Q", title="Weight", scale=SHARE_SCALE, axis=_percent_axis())
    bars = base.mark_bar(color=palette.line, opacity=0.35, height=12).encode(
        x=x, x2=alt.X2("high:Q"), y=y,
        tooltip=[alt.Tooltip("criterion:N"), *numbers_told(("low", "weight", "high"), ".1%"),
                 alt.Tooltip("below:N", title="Leads below"), alt.Tooltip("above:N", title="Leads above")],
    )  # fmt: skip
    now = base.mark_point(color=palette.ink, filled=True, size=90, shape="diamond", opacity=1).encode(
        x=alt.X("weight:Q"), y=y
    )
    ends = [
        base.transform_filter(f"datum.{rival} != ''").mark_tick(color=palette.limit, thickness=3, size=18).encode(
            x=alt.X(f"{end}:Q"), y=y
        )
        for end, rival in (("low", "below"), ("high", "above"))
    ]  # fmt: skip
    return sheet.finished(alt.layer(bars, *ends, now), alt.Step(32))


def change_chart(frame: pd.DataFrame, sheet: Sheet) -> Any:
    """Draw today's weights and those at which a rival draws level.

    Parameters
    ----------
    frame : DataFrame
        Columns criterion, now, level (0 to 1). None may be called "then": the browser refuses that word as a field.
    sheet : Sheet

    Returns
    -------
    altair chart
    """
    palette, base, y = sheet.palette, alt.Chart(frame), rows_of("criterion", list(frame["criterion"]))
    top = max(0.05, float(frame[["now", "level"]].to_numpy().max()) * 1.1)
    x = alt.X("now:Q", title="Weight", axis=_percent_axis(), scale=alt.Scale(domain=[0, top]))
    link = base.mark_rule(color=palette.limit, strokeWidth=3).encode(x=x, x2=alt.X2("level:Q"), y=y)
    long = frame.melt(id_vars="criterion", value_vars=["now", "level"], var_name="when", value_name="weight")
    words = {"now": "now", "level": "when the rival draws level"}
    long["when"] = long["when"].map(words)
    looks = ((palette.ink, "diamond"), (palette.limit, "triangle-up"))
    ends = alt.Chart(long).mark_point(filled=True, size=80, opacity=1).encode(
        x=alt.X("weight:Q", title="Weight"), y=y, **told_apart("when", dict(zip(words.values(), looks, strict=True))),
        tooltip=[alt.Tooltip("criterion:N"), alt.Tooltip("when:N"), alt.Tooltip("weight:Q", format=".1%")],
    )  # fmt: skip
    return sheet.finished(alt.layer(link, ends), alt.Step(32))


def value_function_chart(points: pd.DataFrame, machines: pd.DataFrame, sheet: Sheet, *, measure_title: str) -> Any:
    """Draw a value function and where the machines stand on it.

    Parameters
    ----------
    points : DataFrame
        Columns measure, value (0 to 1).
    machines : DataFrame
        Columns name, measure, value; may be empty.
    sheet : Sheet
    measure_title : str
        Name of the measure with its unit.

    Returns
    -------
    altair chart
    """
    palette = sheet.palette
    x = alt.X("measure:Q", title=measure_title, scale=alt.Scale(zero=False, nice=False),
              axis=alt.Axis(tickCount=6))  # fmt: skip
    y = alt.Y("value:Q", title="Value", scale=SHARE_SCALE)
    line = alt.Chart(points).mark_line(color=palette.line, strokeWidth=2.5, point={"color": palette.line, "size": 60})
    layers = [line.encode(x=x, y=y, tooltip=[alt.Tooltip("measure:Q", format=".4~g"), alt.Tooltip("value:Q")])]
    if len(machines):
        where = alt.Chart(machines).mark_point(color=palette.limit, filled=True, size=80, shape="diamond", opacity=1)
        layers.append(where.encode(x=x, y=y, tooltip=[alt.Tooltip("name:N"), alt.Tooltip("measure:Q", format=".3~g"),
                                                      alt.Tooltip("value:Q", format=".2f")]))  # fmt: skip
    return sheet.finished(alt.layer(*layers), 260)


def drivers_chart(frame: pd.DataFrame, sheet: Sheet) -> Any:
    """Draw how far each quantity swings the gap between first and second.

    Parameters
    ----------
    frame : DataFrame
        Columns label, low, high (gap in score at the low and high end of the quantity), share; largest first.
    sheet : Sheet

    Returns
    -------
    altair chart
    """
    palette, labels = sheet.palette, list(frame["label"])
    y = rows_of("label", labels)
    bar = alt.Chart(frame).mark_rule(color=palette.line, strokeWidth=6, opacity=0.5).encode(
        x=alt.X("low:Q", title="Gap between first and second (below 0 the order turns)",
                axis=alt.Axis(tickCount=6)), x2=alt.X2("high:Q"), y=y
    )
    long = frame.melt(id_vars="label", value_vars=["low", "high"], var_name="end", value_name="gap")
    looks = {"low": (palette.plain, "triangle-left"), "high": (palette.line, "triangle-right")}
    ends = alt.Chart(long).mark_point(filled=True, size=70, opacity=1).encode(
        x=alt.X("gap:Q"), y=y, **told_apart("end", looks, "End of the quantity"),
        tooltip=[alt.Tooltip("label:N"), alt.Tooltip("end:N"), alt.Tooltip("gap:Q", format="+.3f")],
    )  # fmt: skip
    zero = alt.Chart(pd.DataFrame({"at": [0.0]})).mark_rule(color=palette.limit, strokeDash=[4, 3])
    return sheet.finished(alt.layer(zero.encode(x=alt.X("at:Q")), bar, ends), alt.Step(row_step(labels, 26)))


def trial_chart(frame: pd.DataFrame, sheet: Sheet) -> Any:
    """Draw the residue expected before and after the trials, and what was found.

    Parameters
    ----------
    frame : DataFrame
        Columns trial, when ("before" or "after"), low, middle, high, found (shares 0 to 1).
    sheet : Sheet

    Returns
    -------
    altair chart
    """
    palette = sheet.palette
    looks = {"before": (palette.plain, "circle"), "after": (palette.line, "square")}
    y = rows_of("trial", list(frame["trial"].drop_duplicates()))
    offset, apart = alt.YOffset("when:N", sort=list(looks)), told_apart("when", looks, "Expected")
    base = alt.Chart(frame)
    x = alt.X("low:Q", title="Residue left under the part", scale=SHARE_SCALE, axis=_percent_axis())
    bars = base.mark_rule(strokeWidth=4).encode(x=x, x2=alt.X2("high:Q"), y=y, yOffset=offset, color=apart["color"])
    middles = base.mark_point(filled=True, size=70, opacity=1).encode(
        x=alt.X("middle:Q"), y=y, yOffset=offset, **apart,
        tooltip=[alt.Tooltip("trial:N"), alt.Tooltip("when:N"), *numbers_told(("low", "middle", "high"), ".0%")],
    )  # fmt: skip
    found = base.mark_point(color=palette.limit, shape="cross", size=130, filled=True, opacity=1).encode(
        x=alt.X("found:Q"), y=y, tooltip=[alt.Tooltip("trial:N"), alt.Tooltip("found:Q", format=".0%", title="Found")]
    )  # fmt: skip
    return sheet.finished(alt.layer(bars, middles, found), alt.Step(26))


def knob_chart(frame: pd.DataFrame, sheet: Sheet, *, knob: str, present: float) -> Any:
    """Draw who leads along a knob, with the present setting.

    Parameters
    ----------
    frame : DataFrame
        Columns leader, low, high in the knob's unit.
    sheet : Sheet
    knob : str
        Name with unit.
    present : float

    Returns
    -------
    altair chart
    """
    palette, y = sheet.palette, rows_of("leader", list(frame["leader"].drop_duplicates()))
    bars = alt.Chart(frame).mark_bar(color=palette.line, height=14).encode(
        x=alt.X("low:Q", title=knob, scale=alt.Scale(zero=False, nice=False), axis=alt.Axis(tickCount=5)),
        x2=alt.X2("high:Q"), y=y,
        tooltip=[alt.Tooltip("leader:N"), alt.Tooltip("low:Q", format=",.3~r"), alt.Tooltip("high:Q", format=",.3~r")],
    )  # fmt: skip
    now = alt.Chart(pd.DataFrame({"at": [present]})).mark_rule(color=palette.limit, strokeDash=[4, 3], strokeWidth=2)
    return sheet.finished(alt.layer(bars, now.encode(x=alt.X("at:Q"))), alt.Step(32))
