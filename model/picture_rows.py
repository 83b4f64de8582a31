"""Exposure and clearing curves as rows in the reader's units."""

from __future__ import annotations

import pandas as pd

from catalog_schema.units import number_text, show
from model.pictures import DepthCurve, Exposure, Three
from model.result_text import amount, unit_of


def depth_rows(curve: DepthCurve, system: str) -> tuple[pd.DataFrame, Three, Three | None]:
    """Give a depth curve, the depth needed and the longest wash in the reader's units."""

    def three(values: Three, dimension: str) -> Three:
        low, middle, high = (amount(value, dimension, system) for value in values)
        return low, middle, high

    frame = pd.DataFrame(
        {name: [amount(value, dimension, system) for value in values]
         for name, values, dimension in (("time", curve.time_s, "time"), ("low", curve.low_m, "length"),
                                         ("middle", curve.middle_m, "length"), ("high", curve.high_m, "length"))}
    )  # fmt: skip
    return frame, three(curve.needed_m, "length"), None if curve.limit_s is None else three(curve.limit_s, "time")


def depth_table(frame: pd.DataFrame, time_unit: str, depth_unit: str) -> pd.DataFrame:
    """Head the columns of a depth curve for reading."""
    heads = {"time": f"Wash time [{time_unit}]", "low": f"Depth, 5 % [{depth_unit}]",
             "middle": f"Depth, middle [{depth_unit}]", "high": f"Depth, 95 % [{depth_unit}]"}  # fmt: skip
    return frame.rename(columns=heads)


def exposure_rows(shown: Exposure, value: str, title: str, system: str) -> tuple[pd.DataFrame, str, str]:
    """Give the cells of both faces in the reader's units, the title with unit, and the number format."""
    cells = shown.cells
    frame = pd.DataFrame({"side": cells["side"]})
    for edge in ("left", "right", "bottom", "top"):
        frame[edge] = [amount(edge_m, "length", system) for edge_m in cells[f"{edge}_m"]]
    if value == "pressure_Pa":
        frame[value] = [amount(pressure, "low pressure", system) for pressure in cells[value]]
        title, number_format = f"{title} [{unit_of('low pressure', system)}]", ".2~g"
    else:
        frame[value], number_format = cells[value], ".0%" if float(cells[value].max()) >= 0.1 else ".2%"
    return frame.assign(weakest=cells["weakest"]), title, number_format


HOW_DRAWN = (
    "Dashed frame: the weakest place of each face. Middle values of the draws; each number is the mean of its cell. "
    "Boards are traced at the nearest standard size and drawn at their own."
)
"""How every exposure picture is to be read."""


def exposure_note(shown: Exposure, system: str) -> str:
    """Say from what an exposure picture was made."""
    return (
        f"Traced with {number_text(shown.ray_count)} rays on {shown.boards_traced} boards; film run-out "
        f"{show(shown.run_out_m, 'length', system)}; nozzle pressure with loaded filter "
        f"{show(shown.nozzle_pressure_Pa, 'pressure', system)}."
    )
