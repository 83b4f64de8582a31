"""Section of a screen: the pressure that each board type asks for."""

from __future__ import annotations

from catalog_schema.units import number_text
from model.demand_records import Demands
from model.demand_solving import LEAST_PRESSURE_Pa
from model.range_charts import ranges_chart
from screens import demand_rows, parts, rows, tables
from screens.rows import unit_of


def pressure_picture(demands: Demands, system: str) -> None:
    """Draw the pressure across the tightest gap of every board type, at a duty that the reader chooses."""
    duties = demands.conditions.duties
    duty = parts.choose("Acting this share of the wash", duties, "demand-duty", default=duties[len(duties) // 2],
                        shown=lambda one: f"{one:.0%}".replace("%", " %"), buttons=True)  # fmt: skip
    frame = demand_rows.pressure_rows(demands, duty, system)
    if frame.empty:
        parts.note("Nothing to draw: no fluid may be used, or no pressure within reach is enough.")
        return
    left_out = demand_rows.out_of_reach(demands, duty)
    if left_out:
        parts.note(parts.plain(f"Not drawn, because in some draws no pressure within reach is enough: {left_out}."))
    panel = str(frame["panel"].iloc[0])
    water = frame[frame["mark"] == demand_rows.fluid_mark("water")]
    hardest = (water if not water.empty else frame).sort_values("likely").iloc[-1]
    unit = unit_of("low pressure", system)
    sentence = (f"In the middle of the draws {hardest['name']} needs most: {hardest['likely']:.3g} {unit} "
                f"(5 to 95 %: {hardest['low']:.2g} to {hardest['high']:.3g}) with a {hardest['mark']}.")  # fmt: skip
    least = rows.amount(LEAST_PRESSURE_Pa, "low pressure", system)
    if hardest["likely"] <= least:
        sentence = f"In the middle of the draws no board type drawn needs any pressure with a {hardest['mark']}."
    if (frame["low"] <= least).any():
        sentence += f" Needs of nothing are drawn at {number_text(least)} {unit}."
    marks = list(frame["mark"].drop_duplicates())
    tables.picture(
        sentence,
        lambda sheet: [
            ranges_chart(frame[frame["mark"] == mark], sheet.described(f"{sentence} Drawn: {mark}."), panels=(panel,),
                         reach=(float(frame["low"].min()), float(frame["high"].max())))
            for mark in marks
        ],
        frame.rename(columns={"name": "Board type", "low": "5 %", "likely": "Middle", "high": "95 %", "mark": "Fluid",
                              "panel": "Measure"}),
        name="demand-pressure", alt="Pressure across the tightest gap of every board type",
        stacked=True,
    )  # fmt: skip
