"""Demands of the boards as rows, sentences and files, in the reader's units."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import pandas as pd

from model.demand_records import Demand, Demands, Route, Three
from model.demand_solving import LEAST_PRESSURE_Pa
from model.demand_wash import ROUTE_WORDS
from model.supplier_specification import set_by
from screens.parts import plain
from screens.rows import amount, unit_of

NO_BREAK = "\N{NO-BREAK SPACE}"

HEADLINES = (
    ("water pressure", "Pressure under the parts, fluid rinsed with water"),
    ("solvent pressure", "Pressure under the parts, fluid not rinsed with water"),
    ("stream", "Pressure of spray at the board"), ("ionic residue", "Rinse quality"), ("rinse flow", "Rinse time"),
    ("dry", "Drying"), ("pitch", "Rack, pitch"), ("charge", "Rack, charge"), ("throughput", "Volume"),
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
    shared = any(len(one.board_ids) > 1 for one in numbers)
    for demand in numbers:
        for board_id in demand.board_ids:
            counts[board_id] += 1
    ranked = sorted((count, board_id) for board_id, count in counts.items() if count)[::-1]
    if not ranked:
        return "All board types ask for the same."
    said = ", ".join(f"{names[board_id]} ({count})" for count, board_id in ranked)
    many = "1 of the numbers below is" if len(numbers) == 1 else f"{len(numbers)} of the numbers below are"
    both = " A number that several set alike counts for each of them." if shared else ""
    return f"{many} set by some board types, not by all: {said}.{both}"


def demand_table(demands: Demands, shown: Iterable[Demand], system: str) -> pd.DataFrame:
    """Write demands as markdown in four columns."""
    found = list(shown)
    return pd.DataFrame({
        "Demand": [f"**{plain(one.title.text(system))}**" for one in found],
        "Asked": [plain(asked_words(one, system)) for one in found],
        "Range of the need": [plain(one.band_text(system)) for one in found],
        "Why": [plain(one.sentence.text(system)) for one in found],
    })  # fmt: skip


def asked_words(demand: Demand, system: str) -> str:
    """Write what is asked so that a narrow column breaks it only after "at least", never within number and unit."""
    written, side = demand.asked_text(system), f"{demand.side} "
    return side + written.removeprefix(side).replace(" ", NO_BREAK) if written.startswith(side) else written


def pressure_rows(demands: Demands, duty: float, system: str) -> pd.DataFrame:
    """Give the pressure that every board type asks for, for drawing; what is out of reach is left out."""
    panel = f"Pressure across the tightest gap [{unit_of('low pressure', system)}]"
    names = {board.id: board.name for board in demands.case.board_types}
    found = []
    for route, board_id, band_Pa in _pressure_bands(demands, duty):
        if np.isfinite(band_Pa[2]):
            points = (amount(max(point, LEAST_PRESSURE_Pa), "low pressure", system) for point in band_Pa)
            found.append((panel, names[board_id], *points, fluid_mark(route)))
    return pd.DataFrame(found, columns=["panel", "name", "low", "likely", "high", "mark"])


def out_of_reach(demands: Demands, duty: float) -> str:
    """Name the board types, with their fluid, for which some draws know no pressure that is enough."""
    names = {board.id: board.name for board in demands.case.board_types}
    return "; ".join(
        f"{names[board_id]} ({ROUTE_WORDS[route]})"
        for route, board_id, band_Pa in _pressure_bands(demands, duty)
        if np.isinf(band_Pa[2])
    )


def fluid_mark(route: Route) -> str:
    """Name the fluids of a route in the drawing."""
    return f"fluid {ROUTE_WORDS[route]}"


def _pressure_bands(demands: Demands, duty: float) -> Iterator[tuple[Route, str, Three]]:
    """Give route, board type and band of every pressure asked across the tightest gap at a duty."""
    for route in ROUTE_WORDS:
        for board in demands.boards:
            for demand in board.demands:
                if demand.key == f"{route} pressure {duty:g}" and demand.band is not None:
                    yield route, board.board_id, demand.band
