"""The timeline as a chart: a bar a step, the range of its end, the machine's limit, and what is missing beyond it."""

from __future__ import annotations

from typing import Any

import altair as alt
import pandas as pd

from model.charts import Sheet

ROW_HEIGHT = 46
LETTER_SHARE = 0.0145
"""Width of a letter over that of the axis on the narrowest page."""


def timeline_chart(frame: pd.DataFrame, sheet: Sheet, *, time_unit: str) -> Any:
    """Draw the steps of a cycle one below the other along the time.

    Parameters
    ----------
    frame : DataFrame
        In the reader's unit of time, one row a step in order: step, start, end (at the middle time), end_low, end_high,
        limit (empty where there is none), missing (end of what is needed beyond the limit, empty where it fits; cut to
        the axis), label, fits (0 to 1).
    sheet : Sheet
    time_unit : str

    Returns
    -------
    altair chart

    Notes
    -----
    A filled bar is what runs; a dashed outline in the limit colour is what the boards need beyond it; a thin line is
    the 5 to 95 % range of the step's own end; an upright stroke is the machine's limit for that step.
    """
    palette, order = sheet.palette, list(frame["step"])
    far = float(frame[["end", "end_high", "limit", "missing"]].max().max())
    scale = alt.Scale(domain=[0.0, far * 1.04 if far > 0 else 1.0], nice=False)
    title = f"Time from the beginning [{time_unit}]"
    y = alt.Y("step:N", sort=order, title=None, axis=alt.Axis(labelFontSize=13))
    x = alt.X("start:Q", title=title, scale=scale, axis=alt.Axis(tickCount=8))
    tooltip = [alt.Tooltip("step:N", title="Step"), alt.Tooltip("label:N", title="Time"),
               alt.Tooltip("fits:Q", format=".0%", title="Fits in")]  # fmt: skip
    base = alt.Chart(frame)
    bars = base.mark_bar(color=palette.line, height=18, cornerRadius=2).encode(
        x=x, x2=alt.X2("end:Q"), y=y, tooltip=tooltip
    )
    marks = [bars]
    lacking = frame[frame["missing"].notna()]
    if not lacking.empty:
        marks.append(
            alt.Chart(lacking).mark_bar(
                height=18, filled=False, stroke=palette.limit, strokeWidth=2, strokeDash=[4, 3], cornerRadius=2
            ).encode(x=alt.X("end:Q", title=title, scale=scale), x2=alt.X2("missing:Q"), y=y, tooltip=tooltip)
        )  # fmt: skip
    marks.append(
        base.mark_rule(color=palette.ink, strokeWidth=2).encode(
            x=alt.X("end_low:Q", title=title, scale=scale), x2=alt.X2("end_high:Q"), y=y
        )
    )
    limited = frame[frame["limit"].notna()].assign(mark="machine's limit")
    if not limited.empty:
        stroke = alt.Chart(limited).mark_tick(color=palette.limit, thickness=3, size=20)
        marks.append(
            stroke.encode(
                x=alt.X("limit:Q", title=title, scale=scale), y=y,
                tooltip=[alt.Tooltip("limit:Q", format=".3g", title=f"Machine's limit [{time_unit}]")],
            )
        )  # fmt: skip
    # The words stand above the bar; where they would run over the far end of the axis they end where the row's marks
    # do, or at the far end when the row is too short for that.
    wide = frame["label"].str.len() * LETTER_SHARE * max(far, 1e-12)
    row_end = frame[["end", "end_high", "missing"]].max(axis=1)
    labels = alt.Chart(
        frame.assign(late=frame["start"] + wide > far, words_end=row_end.where(row_end >= wide, far))
    )
    early = labels.transform_filter("!datum.late").mark_text(
        color=palette.ink, align="left", baseline="bottom", dx=2, dy=-11, fontSize=11.5
    )
    late = labels.transform_filter("datum.late").mark_text(
        color=palette.ink, align="right", baseline="bottom", dy=-11, fontSize=11.5
    )
    marks.append(early.encode(x=alt.X("start:Q", title=title, scale=scale), y=y, text=alt.Text("label:N")))
    marks.append(late.encode(x=alt.X("words_end:Q", title=title, scale=scale), y=y, text=alt.Text("label:N")))
    return sheet.finished(alt.layer(*marks), ROW_HEIGHT * len(order))
