"""Demands of the boards as rows, sentences and files, in the reader's units."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from model.demand_records import Demand, Demands
from model.supplier_specification import set_by
from screens.parts import plain
from screens.rows import amount, unit_of

HEADLINES = (
    ("water pressure", "Wash, fluid rinsed with water"), ("solvent pressure", "Wash, fluid not rinsed with water"),
    ("rinse flow", "Rinse"), ("dry", "Drying"), ("charge", "Rack"), ("throughput", "Volume"),
)  # fmt: skip
"""Keys of the demands told first, with the words before them."""


def headlines(demands: Demands, system: str) -> list[str]:
    """Write the demands that decide most, one line each as markdown: who sets it, how much, why."""
    middle_duty = demands.conditions.duties[len(demands.conditions.duties) // 2]
    middle_air = demands.conditions.air_temperatures_K[len(demands.conditions.air_temperatures_K) // 2]
    exact = {f"{route} pressure": f"{route} pressure {middle_duty:g}" for route in ("water", "solvent")}
    exact["dry"] = f"dry {middle_air:g}"
    by_key = {demand.key: demand for demand in demands.overall}
    lines = []
    for key, words in HEADLINES:
        demand = by_key.get(exact.get(key, key))
        if demand is not None:
            who = "" if not demand.board_ids else f", set by {plain(set_by(demands, demand))}"
            lines.append(f"**{words}: {plain(demand.asked_text(system))}**{who}. {plain(demand.sentence.text(system))}")
    records = sum(1 for demand in demands.overall if demand.group == "Records")
    banned = [demand for demand in demands.overall if demand.key.startswith("part not allowed")]
    if banned:
        listed = dict.fromkeys(f"{demand.title.text(system)} on {set_by(demands, demand)}" for demand in banned)
        lines.append(f"**Not allowed.** {plain('; '.join(listed))}.")
    if records:
        lines.append(f"**Records:** {records} functions that the plant must have.")
    return lines


def hardest_boards(demands: Demands) -> str:
    """Name the board types that set most of the numbers, with how many each sets."""
    names = {board.id: board.name for board in demands.case.board_types}
    counts = {board_id: 0 for board_id in names}
    numbers = [one for one in demands.overall if one.asked is not None and 0 < len(one.board_ids) < max(2, len(names))]
    for demand in numbers:
        for board_id in demand.board_ids:
            counts[board_id] += 1
    ranked = sorted((count, board_id) for board_id, count in counts.items() if count)[::-1]
    if not ranked:
        return "All board types ask for the same."
    said = ", ".join(f"{names[board_id]} ({count})" for count, board_id in ranked)
    return f"{len(numbers)} of the numbers below are set by single board types: {said}."


def demand_table(demands: Demands, shown: Iterable[Demand], system: str) -> pd.DataFrame:
    """Write demands as markdown in four columns."""
    found = list(shown)
    return pd.DataFrame({
        "Demand": [f"**{plain(one.title.text(system))}**" for one in found],
        "Asked": [plain(one.asked_text(system)) for one in found],
        "Range of the need": [plain(one.band_text(system)) for one in found],
        "Why": [plain(one.sentence.text(system)) for one in found],
    })  # fmt: skip


def pressure_rows(demands: Demands, duty: float, system: str) -> pd.DataFrame:
    """Give the pressure that every board type asks for, for drawing; what is out of reach is left out."""
    panel = f"Pressure across the tightest gap [{unit_of('low pressure', system)}]"
    names = {board.id: board.name for board in demands.case.board_types}
    found = []
    for route in ("water", "solvent"):
        for board in demands.boards:
            demand = next((one for one in board.demands if one.key == f"{route} pressure {duty:g}"), None)
            if demand is None or demand.band is None or not np.isfinite(demand.band[2]):
                continue
            low, middle, high = (amount(max(point, 1.0), "low pressure", system) for point in demand.band)
            words = "fluid rinsed with water" if route == "water" else "fluid not rinsed with water"
            found.append((panel, names[board.board_id], low, middle, high, words))
    return pd.DataFrame(found, columns=["panel", "name", "low", "likely", "high", "mark"])
