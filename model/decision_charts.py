"""Pictures of a decision as pure functions of plain tables; every colour is set and none carries a meaning alone."""

from __future__ import annotations

from typing import Any

import altair as alt
import pandas as pd

from model.charts import LETTERS_A_LINE, Palette, names_axis, row_step, styled

CRITERION_COLOURS = (
    "#1D6FA8", "#C8642A", "#4F8A4B", "#8B5FA8", "#B8912B", "#2F9C95", "#9A5B4B", "#6C7A86", "#A63D62", "#5B6BC0",
)  # fmt: skip
"""Fills of stacked parts, told apart by hue and lightness; the parts are numbered too."""

LEGEND_COLUMNS = "max(1, floor(width / 230))"
"""As many columns of the legend as the plot is wide."""

NARROW_LETTERS = 18
"""Letters of a name to a line where a chart stands beside something else."""

SHARE_SCALE = alt.Scale(domain=[0, 1])


def contributions_chart(
    parts: pd.DataFrame, ranges: pd.DataFrame, *, palette: Palette, description: str, width: int | str = 560,
    legend: bool = True,
) -> Any:
    """Draw each machine's score as a stack of what every criterion brings, with the range of the score over it.

    Parameters
    ----------
    parts : DataFrame
        Columns name, criterion ("1 Spray reach"), mark ("1"), start, end (0 to 1).
    ranges : DataFrame
        Columns name, low, score, high (0 to 1); best first.
    palette : Palette
    description : str
    width : int or "container"
    legend : bool
        False where the numbers in the bars are explained beside the chart, which is narrow there.

    Returns
    -------
    altair chart
    """
    order, criteria = list(ranges["name"]), list(parts["criterion"].drop_duplicates())
    letters = LETTERS_A_LINE if legend else NARROW_LETTERS
    y = alt.Y("name:N", sort=order, title=None, axis=names_axis(letters))
    x = alt.X("start:Q", title="Score, 0 worst to 1 best", scale=SHARE_SCALE,
              axis=alt.Axis(format=".1f", tickCount=5))  # fmt: skip
    colours = [CRITERION_COLOURS[place % len(CRITERION_COLOURS)] for place in range(len(criteria))]
    columns = alt.Legend(columns=alt.ExprRef(LEGEND_COLUMNS))
    base = alt.Chart(parts.assign(middle=(parts["start"] + parts["end"]) / 2, size=parts["end"] - parts["start"]))
    bars = base.mark_bar(height=18, stroke=palette.paper, strokeWidth=1).encode(
        x=x, x2="end:Q", y=y, color=alt.Color("criterion:N", title=None, sort=criteria, scale=alt.Scale(
            domain=criteria, range=colours), legend=columns if legend else None),
        tooltip=["name:N", "criterion:N", alt.Tooltip("size:Q", format=".3f", title="Part of the score")],
    )  # fmt: skip
    marks = base.transform_filter("datum.size > 0.025").mark_text(color="#FFFFFF", fontSize=11).encode(
        x="middle:Q", y=y, text="mark:N"
    )  # fmt: skip
    spread = alt.Chart(ranges)
    whisker = spread.mark_rule(color=palette.ink, strokeWidth=2, yOffset=14).encode(x="low:Q", x2="high:Q", y=y)
    ends = [alt.Tooltip(f"{end}:Q", format=".3f") for end in ("low", "score", "high")]
    score = spread.mark_point(color=palette.ink, filled=True, size=40, shape="diamond", yOffset=14).encode(
        x="score:Q", y=y, tooltip=["name:N", *ends]
    )  # fmt: skip
    layers = alt.layer(bars, marks, whisker, score)
    return styled(layers.properties(width=width, height=alt.Step(row_step(order, 40, letters))), palette, description)


def rank_chart(frame: pd.DataFrame, *, palette: Palette, description: str, width: int | str = 420) -> Any:
    """Draw the probability of every rank of every machine, each cell with its number.

    Parameters
    ----------
    frame : DataFrame
        Columns name, rank, share (0 to 1); machines in the order to be drawn.
    palette : Palette
    description : str
    width : int or "container"

    Returns
    -------
    altair chart
    """
    order = list(frame["name"].drop_duplicates())
    base = alt.Chart(frame.assign(strong=frame["share"] > 0.5))
    x = alt.X("rank:O", title="Rank", axis=alt.Axis(labelAngle=0))
    y = alt.Y("name:N", sort=order, title=None, axis=names_axis())
    cells = base.mark_rect(stroke=palette.paper, strokeWidth=1).encode(
        x=x, y=y, color=alt.Color("share:Q", title="Probability", legend=None, scale=alt.Scale(
            range=list(palette.ramp), domain=[0.0, 1.0])),
        tooltip=["name:N", "rank:O", alt.Tooltip("share:Q", format=".1%")],
    )  # fmt: skip
    numbers = base.mark_text(fontSize=12).encode(
        x=x, y=y, text=alt.Text("share:Q", format=".0%"),
        color=alt.condition("datum.strong", alt.value(palette.ramp[0]), alt.value(palette.ramp[-1])),
    )  # fmt: skip
    layers = alt.layer(cells, numbers).properties(width=width, height=alt.Step(row_step(order, 30)))
    return styled(layers, palette, description)


def intervals_chart(frame: pd.DataFrame, *, palette: Palette, description: str, width: int | str = 460) -> Any:
    """Draw the interval of each weight in which the leader stays, with today's weight and who takes over.

    Parameters
    ----------
    frame : DataFrame
        Columns criterion, low, weight, high (0 to 1), below, above (names, or empty).
    palette : Palette
    description : str
    width : int or "container"

    Returns
    -------
    altair chart
    """
    y = alt.Y("criterion:N", sort=list(frame["criterion"]), title=None, axis=names_axis())
    base = alt.Chart(frame)
    x = alt.X("low:Q", title="Weight", scale=SHARE_SCALE, axis=alt.Axis(format="%", tickCount=5))
    bars = base.mark_bar(color=palette.line, opacity=0.35, height=12).encode(
        x=x, x2="high:Q", y=y,
        tooltip=["criterion:N", *(alt.Tooltip(f"{end}:Q", format=".1%") for end in ("low", "weight", "high")),
                 alt.Tooltip("below:N", title="Leads below"), alt.Tooltip("above:N", title="Leads above")],
    )  # fmt: skip
    now = base.mark_point(color=palette.ink, filled=True, size=90, shape="diamond", opacity=1).encode(x="weight:Q", y=y)
    ends = [
        base.transform_filter(f"datum.{rival} != ''").mark_tick(color=palette.limit, thickness=3, size=18).encode(
            x=f"{end}:Q", y=y
        )
        for end, rival in (("low", "below"), ("high", "above"))
    ]  # fmt: skip
    return styled(alt.layer(bars, *ends, now).properties(width=width, height=alt.Step(32)), palette, description)


def change_chart(frame: pd.DataFrame, *, palette: Palette, description: str, width: int | str = 460) -> Any:
    """Draw today's weights and those at which a rival draws level.

    Parameters
    ----------
    frame : DataFrame
        Columns criterion, now, then (0 to 1).
    palette : Palette
    description : str
    width : int or "container"

    Returns
    -------
    altair chart
    """
    y = alt.Y("criterion:N", sort=list(frame["criterion"]), title=None, axis=names_axis())
    base = alt.Chart(frame)
    top = max(0.05, float(frame[["now", "then"]].to_numpy().max()) * 1.1)
    x = alt.X("now:Q", title="Weight", axis=alt.Axis(format="%", tickCount=5), scale=alt.Scale(domain=[0, top]))
    link = base.mark_rule(color=palette.limit, strokeWidth=3).encode(x=x, x2="then:Q", y=y)
    long = frame.melt(id_vars="criterion", value_vars=["now", "then"], var_name="when", value_name="weight")
    long["when"] = long["when"].map({"now": "now", "then": "when the rival draws level"})
    words = ["now", "when the rival draws level"]
    ends = alt.Chart(long).mark_point(filled=True, size=80, opacity=1).encode(
        x=alt.X("weight:Q", title="Weight"), y=y,
        color=alt.Color("when:N", title=None, scale=alt.Scale(domain=words, range=[palette.ink, palette.limit])),
        shape=alt.Shape("when:N", title=None, scale=alt.Scale(domain=words, range=["diamond", "triangle-up"])),
        tooltip=["criterion:N", "when:N", alt.Tooltip("weight:Q", format=".1%")],
    )  # fmt: skip
    return styled(alt.layer(link, ends).properties(width=width, height=alt.Step(32)), palette, description)


def value_function_chart(
    points: pd.DataFrame, machines: pd.DataFrame, *, measure_title: str, palette: Palette, description: str,
    width: int | str = 460,
) -> Any:  # fmt: skip
    """Draw a value function and where the machines stand on it.

    Parameters
    ----------
    points : DataFrame
        Columns measure, value (0 to 1).
    machines : DataFrame
        Columns name, measure, value; may be empty.
    measure_title : str
        Name of the measure with its unit.
    palette : Palette
    description : str
    width : int or "container"

    Returns
    -------
    altair chart
    """
    x = alt.X("measure:Q", title=measure_title, scale=alt.Scale(zero=False, nice=False),
              axis=alt.Axis(tickCount=6))  # fmt: skip
    y = alt.Y("value:Q", title="Value", scale=SHARE_SCALE)
    line = alt.Chart(points).mark_line(color=palette.line, strokeWidth=2.5, point={"color": palette.line, "size": 60})
    layers = [line.encode(x=x, y=y, tooltip=[alt.Tooltip("measure:Q", format=".4~g"), "value:Q"])]
    if len(machines):
        where = alt.Chart(machines).mark_point(color=palette.limit, filled=True, size=80, shape="diamond", opacity=1)
        layers.append(where.encode(x=x, y=y, tooltip=["name:N", alt.Tooltip("measure:Q", format=".3~g"),
                                                      alt.Tooltip("value:Q", format=".2f")]))  # fmt: skip
    return styled(alt.layer(*layers).properties(width=width, height=260), palette, description)


def drivers_chart(frame: pd.DataFrame, *, palette: Palette, description: str, width: int | str = 460) -> Any:
    """Draw how far each quantity swings the gap between first and second.

    Parameters
    ----------
    frame : DataFrame
        Columns label, low, high (gap in score at the low and high end of the quantity), share; largest first.
    palette : Palette
    description : str
    width : int or "container"

    Returns
    -------
    altair chart
    """
    y = alt.Y("label:N", sort=list(frame["label"]), title=None, axis=names_axis())
    base = alt.Chart(frame)
    bar = base.mark_rule(color=palette.line, strokeWidth=6, opacity=0.5).encode(
        x=alt.X("low:Q", title="Gap between first and second (below 0 the order turns)",
                axis=alt.Axis(tickCount=6)), x2="high:Q", y=y
    )
    long = frame.melt(id_vars="label", value_vars=["low", "high"], var_name="end", value_name="gap")
    words = ["low", "high"]
    ends = alt.Chart(long).mark_point(filled=True, size=70, opacity=1).encode(
        x="gap:Q", y=y,
        color=alt.Color("end:N", title="End of the quantity", scale=alt.Scale(
            domain=words, range=[palette.plain, palette.line])),
        shape=alt.Shape("end:N", title="End of the quantity", scale=alt.Scale(
            domain=words, range=["triangle-left", "triangle-right"])),
        tooltip=["label:N", "end:N", alt.Tooltip("gap:Q", format="+.3f")],
    )  # fmt: skip
    zero = alt.Chart(pd.DataFrame({"at": [0.0]})).mark_rule(color=palette.limit, strokeDash=[4, 3]).encode(x="at:Q")
    layers = alt.layer(zero, bar, ends).properties(width=width, height=alt.Step(row_step(list(frame["label"]), 26)))
    return styled(layers, palette, description)


def trial_chart(frame: pd.DataFrame, *, palette: Palette, description: str, width: int | str = 460) -> Any:
    """Draw the residue expected before and after the trials, and what was found.

    Parameters
    ----------
    frame : DataFrame
        Columns trial, when ("before" or "after"), low, middle, high, found (shares 0 to 1).
    palette : Palette
    description : str
    width : int or "container"

    Returns
    -------
    altair chart
    """
    words = ["before", "after"]
    y = alt.Y("trial:N", title=None, sort=list(frame["trial"].drop_duplicates()), axis=names_axis())
    offset = alt.YOffset("when:N", sort=words)
    colour = alt.Color("when:N", title="Expected", scale=alt.Scale(domain=words, range=[palette.plain, palette.line]))
    base = alt.Chart(frame)
    x = alt.X("low:Q", title="Residue left under the part", scale=SHARE_SCALE, axis=alt.Axis(format="%", tickCount=5))
    bars = base.mark_rule(strokeWidth=4).encode(x=x, x2="high:Q", y=y, yOffset=offset, color=colour)
    middles = base.mark_point(filled=True, size=70, opacity=1).encode(
        x="middle:Q", y=y, yOffset=offset, color=colour,
        shape=alt.Shape("when:N", title="Expected", scale=alt.Scale(domain=words, range=["circle", "square"])),
        tooltip=["trial:N", "when:N", *(alt.Tooltip(f"{end}:Q", format=".0%") for end in ("low", "middle", "high"))],
    )  # fmt: skip
    found = base.mark_point(color=palette.limit, shape="cross", size=130, filled=True, opacity=1).encode(
        x="found:Q", y=y, tooltip=["trial:N", alt.Tooltip("found:Q", format=".0%", title="Found")]
    )  # fmt: skip
    return styled(alt.layer(bars, middles, found).properties(width=width, height=alt.Step(26)), palette, description)


def knob_chart(frame: pd.DataFrame, *, knob: str, present: float, palette: Palette, description: str,
               width: int | str = 460) -> Any:  # fmt: skip
    """Draw who leads along a knob, with the present setting.

    Parameters
    ----------
    frame : DataFrame
        Columns leader, low, high in the knob's unit.
    knob : str
        Name with unit.
    present : float
    palette : Palette
    description : str
    width : int or "container"

    Returns
    -------
    altair chart
    """
    y = alt.Y("leader:N", title=None, sort=list(frame["leader"].drop_duplicates()), axis=names_axis())
    bars = alt.Chart(frame).mark_bar(color=palette.line, height=14).encode(
        x=alt.X("low:Q", title=knob, scale=alt.Scale(zero=False, nice=False), axis=alt.Axis(tickCount=5)),
        x2="high:Q", y=y,
        tooltip=["leader:N", alt.Tooltip("low:Q", format=",.3~r"), alt.Tooltip("high:Q", format=",.3~r")],
    )  # fmt: skip
    now = alt.Chart(pd.DataFrame({"at": [present]})).mark_rule(color=palette.limit, strokeDash=[4, 3], strokeWidth=2)
    return styled(alt.layer(bars, now.encode(x="at:Q")).properties(width=width, height=alt.Step(32)), palette,
                  description)  # fmt: skip
