"""Charts of many things one below the other: ranges of a number, and probabilities."""

from __future__ import annotations

import math
from typing import Any

import altair as alt
import pandas as pd

from model.charts import Sheet, names_axis, numbers_told, row_step, rows_of, told_apart

RESULT_ORDER = ("meets", "unknown", "falls short")


def ranges_chart(frame: pd.DataFrame, sheet: Sheet, *, panels: tuple[str, ...],
                 reach: tuple[float, float] | None = None) -> Any:  # fmt: skip
    """Draw ranges side by side: a bar from low to high, a point at the likely value; filled when it is marked.

    Parameters
    ----------
    frame : DataFrame
        Columns panel, name, low, likely, high, mark (a word; the first word met is drawn filled).
    sheet : Sheet
        Its width is that of one panel; "container" only for a single panel.
    panels : tuple of str
        Panels in order, each with its unit in its name.
    reach : tuple of float, optional
        Lowest and highest number that the axis must hold, so that charts apart can be compared; else those drawn.

    Returns
    -------
    altair chart
    """
    names = list(frame["name"].drop_duplicates())
    palette = sheet.palette
    looks = ((palette.line, "circle"), (palette.plain, "diamond"), (palette.limit, "square"))
    apart = told_apart("mark", dict(zip(frame["mark"].drop_duplicates(), looks, strict=False)))
    height = row_step(names, 24) * len(names)
    drawn = []
    for number, panel in enumerate(panels):
        part = frame[frame["panel"] == panel]
        low, high = reach or (float(part["low"].min()), float(part["high"].max()))
        wide = low > 0 and high > 20 * low
        held: dict[str, Any] = {} if reach is None else {"domain": [low if wide else min(low, 0.0), high]}
        scale = alt.Scale(type="log", nice=False, padding=8, **held) if wide else alt.Scale(
            type="linear", zero=True, **held)  # fmt: skip
        axis = names_axis() if number == 0 else alt.Axis(labels=False, ticks=False)
        ticks = alt.Axis(tickCount=5)
        if wide:
            ticks = alt.Axis(values=decade_steps(low, high), format="~r")
        y = alt.Y("name:N", sort=names, title=None, axis=axis)
        base = alt.Chart(part)
        bar = base.mark_rule(strokeWidth=3).encode(
            x=alt.X("low:Q", title=panel, scale=scale, axis=ticks), x2=alt.X2("high:Q"), y=y,
            color=apart["color"],
        )  # fmt: skip
        points = base.mark_point(size=70, filled=True, opacity=1).encode(
            x=alt.X("likely:Q", title=panel, scale=scale), y=y, **apart,
            tooltip=[alt.Tooltip("name:N"), *numbers_told(("low", "likely", "high"), ".3g"), alt.Tooltip("mark:N")],
        )  # fmt: skip
        drawn.append(bar + points)
    if len(drawn) == 1:
        return sheet.finished(drawn[0], height)
    sized = [panel.properties(width=sheet.width, height=height) for panel in drawn]
    return sheet.coloured(alt.hconcat(*sized, spacing=18))


def decade_steps(low: float, high: float) -> list[float]:
    """Give 1, 2 and 5 of every decade between two ends, or only the decades where they would crowd.

    >>> decade_steps(3.0, 60.0), decade_steps(0.1, 1e6)[:3]
    ([5.0, 10.0, 20.0, 50.0], [0.1, 1.0, 10.0])
    """
    first, last = math.floor(math.log10(low)), math.ceil(math.log10(high))
    heads = (1, 2, 5) if last - first <= 3 else (1,)
    steps = [float(f"{head}e{power}") for power in range(first, last + 1) for head in heads]
    return [step for step in steps if low <= step <= high]


def probability_chart(frame: pd.DataFrame, sheet: Sheet, *, meets_from: float, misses_to: float) -> Any:
    """Draw each machine's probability of meeting every must, with the two probabilities between which it stays open.

    Parameters
    ----------
    frame : DataFrame
        Columns name, probability (0 to 1), result.
    sheet : Sheet
    meets_from, misses_to : float
        Shares from which a machine meets and up to which it falls short.

    Returns
    -------
    altair chart
    """
    palette, order = sheet.palette, list(frame["name"])
    looks = zip(RESULT_ORDER, ((palette.line, "circle"), (palette.plain, "diamond"), (palette.limit, "cross")),
                strict=True)  # fmt: skip
    y = rows_of("name", order)
    base = alt.Chart(frame)
    x = alt.X("probability:Q", title="Probability that every must holds on every board type",
              scale=alt.Scale(domain=[0, 1]), axis=alt.Axis(format="%", tickCount=5))  # fmt: skip
    stems = base.mark_rule(color=palette.faint, strokeWidth=2).encode(x=x, x2=alt.datum(0), y=y)
    points = base.mark_point(size=110, filled=True, opacity=1).encode(
        x=x, y=y, **told_apart("result", dict(looks)),
        tooltip=[alt.Tooltip("name:N"), alt.Tooltip("result:N"), alt.Tooltip("probability:Q", format=".1%")],
    )  # fmt: skip
    bounds = pd.DataFrame({"at": [misses_to, meets_from]})
    rules = alt.Chart(bounds).mark_rule(color=palette.ink, strokeDash=[3, 3]).encode(x=alt.X("at:Q"))
    return sheet.finished(alt.layer(stems, rules, points), row_step(order, 26) * len(order))
