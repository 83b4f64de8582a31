"""Section of a screen: the pressure that each board type asks for."""

from __future__ import annotations

from model.demand_records import Demands
from model.range_charts import ranges_chart
from screens import demand_rows, parts, tables
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
    panel = str(frame["panel"].iloc[0])
    water = frame[frame["mark"] == "fluid rinsed with water"]
    hardest = (water if not water.empty else frame).sort_values("likely").iloc[-1]
    unit = unit_of("low pressure", system)
    sentence = (f"In the middle of the draws {hardest['name']} needs most: {hardest['likely']:.3g} {unit} "
                f"(5 to 95 %: {hardest['low']:.2g} to {hardest['high']:.3g}) with a {hardest['mark']}.")  # fmt: skip
    marks = list(frame["mark"].drop_duplicates())
    tables.picture(
        sentence,
        lambda sheet: [
            ranges_chart(frame[frame["mark"] == mark], sheet.described(f"{sentence} Drawn: {mark}."), panels=(panel,))
            for mark in marks
        ],
        frame.rename(columns={"name": "Board type", "low": "5 %", "likely": "Middle", "high": "95 %", "mark": "Fluid",
                              "panel": "Measure"}),
        name="demand-pressure", alt="Pressure across the tightest gap of every board type",
        stacked=True,
    )  # fmt: skip
