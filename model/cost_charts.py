"""Charts of the cost as pure functions of plain tables; amounts in the plant's currency."""

from __future__ import annotations

from typing import Any

import altair as alt
import pandas as pd

from model.charts import Sheet, numbers_told, row_step, rows_of, told_apart
from model.cost_pictures import PARTS

DASHES = ([1, 0], [8, 4], [2, 3], [10, 3, 2, 3], [5, 2])
MONEY_FORMAT = ",.0f"
MONEY_TICKS = 5
"""Few ticks: whole amounts of money are long."""


def _money_axis() -> alt.Axis:
    return alt.Axis(format=MONEY_FORMAT, tickCount=MONEY_TICKS)


COLUMNS = "max(1, floor(width / 220))"
"""As many columns of the legend as the plot is wide."""


def _legend_below() -> alt.Legend:
    return alt.Legend(orient="bottom", columns=alt.ExprRef(COLUMNS), symbolStrokeWidth=1)


def cash_flow_chart(rows: pd.DataFrame, sheet: Sheet, *, currency: str) -> Any:
    """Draw the money of each year, paid upwards and received downwards, with the year's total as a point.

    Parameters
    ----------
    rows : DataFrame
        As given by `cash_flow_rows`.
    sheet : Sheet
    currency : str
        ISO code, for the axis.

    Returns
    -------
    altair chart
    """
    palette, shown = sheet.palette, rows[rows["amount"] != 0.0]
    colours = [palette.ramp[5], palette.ramp[3], palette.ramp[1], palette.plain]
    base = alt.Chart(shown)
    x = alt.X("year:O", title="Year", axis=alt.Axis(labelAngle=0))
    title = f"Nominal money [{currency}]"
    bars = base.mark_bar(stroke=palette.ink, strokeWidth=0.6).encode(
        x=x, y=alt.Y("amount:Q", title=title, axis=_money_axis()),
        color=alt.Color("part:N", title=None, scale=alt.Scale(domain=list(PARTS), range=colours),
                        legend=_legend_below()),
        tooltip=[alt.Tooltip("year:O"), alt.Tooltip("part:N"), *numbers_told(("amount", "total"), MONEY_FORMAT)],
    )  # fmt: skip
    points = alt.Chart(rows.drop_duplicates("year")).mark_point(
        color=palette.limit, filled=True, shape="diamond", size=70, opacity=1
    ).encode(x=x, y=alt.Y("total:Q", title=title),
             tooltip=[alt.Tooltip("year:O"), alt.Tooltip("total:Q", format=MONEY_FORMAT)])  # fmt: skip
    zero = alt.Chart(pd.DataFrame({"at": [0.0]})).mark_rule(color=palette.ink).encode(y=alt.Y("at:Q"))
    return sheet.finished(alt.layer(bars, zero, points), 300)


def lines_chart(rows: pd.DataFrame, sheet: Sheet, *, currency: str) -> Any:
    """Draw each machine's yearly cost stacked by group, as given by `group_rows`; least first."""
    palette = sheet.palette
    names = list(rows.groupby("name")["amount"].sum().sort_values().index)
    groups = list(rows.sort_values("order")["group"].drop_duplicates())
    ramp = [*palette.ramp[1:], palette.plain]
    colours = ramp[-len(groups):] if len(groups) <= len(ramp) else (ramp * len(groups))[: len(groups)]
    chart = alt.Chart(rows).mark_bar(stroke=palette.ink, strokeWidth=0.6).encode(
        x=alt.X("amount:Q", title=f"Equivalent annual cost [{currency} a year]", axis=_money_axis()),
        y=rows_of("name", names),
        color=alt.Color("group:N", title=None, scale=alt.Scale(domain=groups, range=colours), legend=_legend_below()),
        order=alt.Order("order:Q"),
        tooltip=[alt.Tooltip("name:N"), alt.Tooltip("group:N"), alt.Tooltip("amount:Q", format=MONEY_FORMAT)],
    )  # fmt: skip
    return sheet.finished(chart, alt.Step(row_step(names, 26)))


def range_chart(rows: pd.DataFrame, sheet: Sheet, *, currency: str) -> Any:
    """Draw the range of each machine's yearly cost, 5 to 95 % of the draws, with its middle."""
    palette, names = sheet.palette, list(rows.sort_values("middle")["name"])
    base, y = alt.Chart(rows), rows_of("name", names)
    title = f"Equivalent annual cost [{currency} a year]"
    scale = alt.Scale(zero=True)
    bar = base.mark_rule(color=palette.line, strokeWidth=4).encode(
        x=alt.X("low:Q", title=title, scale=scale, axis=_money_axis()), x2=alt.X2("high:Q"), y=y
    )
    middle = base.mark_point(color=palette.line, fill=palette.paper, size=80, opacity=1).encode(
        x=alt.X("middle:Q", title=title, scale=scale), y=y,
        tooltip=[alt.Tooltip("name:N"), *numbers_told(("low", "middle", "high"), MONEY_FORMAT)],
    )  # fmt: skip
    return sheet.finished(bar + middle, alt.Step(row_step(names, 26)))


def tornado_chart(rows: pd.DataFrame, sheet: Sheet, *, currency: str) -> Any:
    """Draw how far each input moves the yearly cost from its low end to its high end.

    Parameters
    ----------
    rows : DataFrame
        Columns name, at_low, at_high; largest swing first.
    sheet, currency
        As in `cash_flow_chart`.

    Returns
    -------
    altair chart
    """
    palette, names = sheet.palette, list(rows["name"])
    ends = rows.melt(id_vars="name", value_vars=["at_low", "at_high"], var_name="end", value_name="cost")
    words = {"at_low": "input low", "at_high": "input high"}
    ends = ends.assign(end=[words[end] for end in ends["end"]])
    y = rows_of("name", names)
    looks = {"input low": (palette.line, "circle"), "input high": (palette.limit, "diamond")}
    scale, title = alt.Scale(zero=False), f"Mean equivalent annual cost [{currency} a year]"
    bar = alt.Chart(rows).mark_rule(color=palette.plain, strokeWidth=6, opacity=0.6).encode(
        x=alt.X("at_low:Q", scale=scale, title=title, axis=_money_axis()), x2=alt.X2("at_high:Q"), y=y
    )  # fmt: skip
    points = alt.Chart(ends).mark_point(filled=True, size=90, opacity=1).encode(
        x=alt.X("cost:Q", scale=scale, title=title), y=y, **told_apart("end", looks),
        tooltip=[alt.Tooltip("name:N"), alt.Tooltip("end:N"), alt.Tooltip("cost:Q", format=MONEY_FORMAT)],
    )  # fmt: skip
    return sheet.finished(bar + points, alt.Step(row_step(names, 26)))


def volume_chart(
    curves: pd.DataFrame, sheet: Sheet, *, planned: float, crossings: tuple[float, ...], currency: str,
) -> Any:  # fmt: skip
    """Draw yearly cost over yearly volume, a band and a line per machine, with the plan and the break-even volumes.

    Parameters
    ----------
    curves : DataFrame
        As given by `volume_curves`; at most five machines stay apart.
    planned : float
        Boards per year of the plan.
    crossings : tuple of float
        Break-even volumes, boards per year.
    sheet, currency
        As in `cash_flow_chart`.

    Returns
    -------
    altair chart
    """
    palette, names = sheet.palette, list(curves["name"].drop_duplicates())
    own = [palette.line, palette.limit, palette.plain, palette.ramp[3], palette.ramp[5]]
    colours = (own * len(names))[: len(names)]
    # A line as symbol, so that the dash tells the machines apart in the legend too.
    legend = alt.Legend(orient="bottom", columns=alt.ExprRef(COLUMNS), symbolType="stroke", symbolStrokeWidth=2.5,
                        symbolOpacity=1, symbolSize=600)  # fmt: skip
    colour = alt.Color("name:N", title=None, scale=alt.Scale(domain=names, range=colours), legend=legend)
    dash = alt.StrokeDash("name:N", title=None, legend=legend,
                          scale=alt.Scale(domain=names, range=(list(DASHES) * len(names))[: len(names)]))  # fmt: skip
    x = alt.X("boards:Q", title="Boards per year, mix as planned", scale=alt.Scale(zero=True),
              axis=alt.Axis(format=MONEY_FORMAT, tickCount=MONEY_TICKS))  # fmt: skip
    title = f"Equivalent annual cost [{currency} a year]"
    axis = _money_axis()
    base = alt.Chart(curves[curves["copes"]])
    band = base.mark_area(opacity=0.15).encode(
        x=x, y=alt.Y("low:Q", title=title, axis=axis), y2=alt.Y2("high:Q"), color=colour
    )
    line = base.mark_line(strokeWidth=2.5).encode(
        x=x, y=alt.Y("middle:Q", title=title, axis=axis), color=colour, strokeDash=dash,
        tooltip=[alt.Tooltip("name:N"), alt.Tooltip("boards:Q", format=MONEY_FORMAT),
                 *numbers_told(("low", "middle", "high"), MONEY_FORMAT)],
    )  # fmt: skip
    marks = pd.DataFrame({
        "boards": [planned, *crossings], "what": ["plan", *("break-even" for _ in crossings)],
    })  # fmt: skip
    marks = marks[marks["boards"] <= float(curves["boards"].max())] if len(curves) else marks
    rules = alt.Chart(marks).mark_rule(color=palette.ink, strokeDash=[3, 3]).encode(x=alt.X("boards:Q"))
    labels = alt.Chart(marks).mark_text(color=palette.ink, align="left", baseline="top", y=0, dx=4, dy=2,
                                         fontSize=12)
    labels = labels.encode(x=alt.X("boards:Q"), text=alt.Text("what:N"))
    return sheet.finished(alt.layer(band, line, rules, labels), 320)
