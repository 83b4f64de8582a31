"""Tables and charts as they stand on a screen: one sentence, chart or table, and downloads."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, cast

import pandas as pd
import streamlit as st

from model.charts import DARK, LIGHT, Palette, Sheet, chart_png, chart_svg, side_by_side
from screens import case_state
from screens.plain_text import plain

Draw = Callable[[Sheet], Sequence[Any]]
"""Makes charts on a sheet."""

PAPER_WIDTH = 420
WIDE_COLUMNS = ("Value (range)", "As given", "Offer states", "Class range", "Used, as given")
WIDE_PIXELS = 190
BASIS_PIXELS = 160
"""As wide as the longest word for what a number rests on."""


def csv_of(frame: pd.DataFrame) -> bytes:
    """Write a table as CSV that spreadsheets open with the right letters; no cell can start a formula there."""
    return frame.map(_harmless).to_csv(index=False).encode("utf-8-sig")


def _harmless(cell: object) -> object:
    if not isinstance(cell, str) or cell[:1] not in ("=", "+", "-", "@", "\t"):
        return cell
    signed_number = cell[0] in "+-" and cell[1:2].isdigit()
    return cell if signed_number else f"'{cell}"


def download(frame: pd.DataFrame, name: str) -> None:
    """Give a button that saves a table as CSV."""
    st.download_button("Table as CSV", lambda: csv_of(frame), file_name=f"{name}.csv", mime="text/csv",
                       key=f"csv-{name}", on_click="ignore")  # fmt: skip


def grid(frame: pd.DataFrame, *, name: str, height: int | None = None) -> None:
    """Show a long table that can be sorted and searched, with its download."""
    wide = {column: st.column_config.TextColumn(width=WIDE_PIXELS) for column in WIDE_COLUMNS if column in frame}
    if "Basis" in frame:
        wide["Basis"] = st.column_config.TextColumn(width=BASIS_PIXELS)
    st.dataframe(frame, hide_index=True, height=height or "auto", column_config=wide,
                 alt=f"Table {name.replace('-', ' ')}")  # fmt: skip
    download(frame, name)


def picture(
    sentence: str, draw: Draw, frame: pd.DataFrame, *, name: str, alt: str, first: str = "Chart",
    written: pd.DataFrame | None = None, stacked: bool = False,
) -> None:  # fmt: skip
    """Show one computed sentence, then its chart or the table behind it, with downloads of both.

    `draw` makes the charts, laid side by side or stacked; downloads are always drawn in light colours, for paper.
    `written` is the table as markdown, where its cells hold sentences that must wrap.
    """
    st.markdown(plain(sentence))
    key = f"view-{name}"
    view = st.segmented_control(
        "Show as", ("Chart", "Table"), default=case_state.choice(key, ("Chart", "Table"), first), required=True,
        key=f"{key}-widget", label_visibility="collapsed", on_change=case_state.set_from_widget,
        args=(key, f"{key}-widget"),
    )  # fmt: skip
    if view == "Chart":
        _charts(draw(Sheet(palette=_palette(), description=sentence, width="container")), stacked=stacked)
    elif written is not None:
        with st.container(key=f"written-{name}"):
            st.table(written, hide_index=True, border="horizontal", alt=alt)
    else:
        st.dataframe(frame, hide_index=True, alt=alt)
    with st.container(horizontal=True):
        download(frame, name)
        st.download_button("Chart as SVG", lambda: chart_svg(_one(draw, sentence)), file_name=f"{name}.svg",
                           mime="image/svg+xml", key=f"svg-{name}", on_click="ignore")  # fmt: skip
        st.download_button("Chart as PNG", lambda: chart_png(_one(draw, sentence)), file_name=f"{name}.png",
                           mime="image/png", key=f"png-{name}", on_click="ignore")  # fmt: skip


def _palette() -> Palette:
    return DARK if st.context.theme.type == "dark" else LIGHT


def _charts(charts: Sequence[Any], *, stacked: bool) -> None:
    places = [st.container() for _ in charts] if stacked else st.columns(len(charts))
    for column, chart in zip(places, charts, strict=True):
        # The chart's own description is its accessible name.
        column.altair_chart(cast("Any", _Unchecked(chart)), theme=None, width="stretch")


class _Unchecked:
    """A chart that is written without being checked against the whole schema of charts.

    The check takes half the time of a moved slider, and all sessions wait for one another while it lasts. Charts are
    the program's own: the tests check each of them.
    """

    def __init__(self, chart: Any) -> None:
        self._chart = chart

    def to_dict(self) -> dict[str, Any]:
        """Write the chart; called by the framework."""
        return cast("dict[str, Any]", self._chart.to_dict(validate=False))


def _one(draw: Draw, sentence: str) -> Any:
    sheet = Sheet(palette=LIGHT, description=sentence, width=PAPER_WIDTH)
    charts = draw(sheet)
    return charts[0] if len(charts) == 1 else side_by_side(charts, sheet)
