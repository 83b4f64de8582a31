"""The demands as a document for suppliers: one markdown page and one table, with room for their answers."""

from __future__ import annotations

import re
from itertools import groupby

import numpy as np
import pandas as pd

from catalog_schema.units import DIMENSIONS, convert, readable_unit, show
from model.demand_records import Demand, Demands
from model.demand_wash import ROUTE_WORDS, route_of
from model.json_output import CAUTION

HEAD = ("No.", "Demand", "Asked", "Range of the need", "Set by", "Why", "Supplier states")
"""Columns of the document."""

_MARKS = re.compile(r"([\\`*_\[\]<>|#])")


def supplier_specification(demands: Demands, system: str = "metric") -> str:
    """Write the specification that goes to suppliers.

    Parameters
    ----------
    demands : Demands
    system : "metric" or "US"

    Returns
    -------
    str
        Markdown; names from the case are written so that no markup in them takes effect.
    """
    plant = demands.case.plant
    lines = [
        f"# Demands on a cleaning machine: {_plain(plant.name)}",
        "",
        "**Invented data: plant and boards of this demo case are made up.**" if demands.case.invented else "",
        "",
        "This is the plant's own demand. It is computed from the boards that the plant builds and is not a standard. "
        f"Every number is enough in {demands.share:.0%} of the draws of all that is uncertain; the range is "
        "the 5 to 95% range of the need.".replace("%", " %"),
        "",
        "Please answer every line with a number: your value, the conditions under which it holds, and how it was "
        "measured. Where you cannot meet a line, say by how much. \"Yes\" alone is no answer to a number.",
        "",
        f"Caution: {CAUTION}",
        "",
        "## Conditions",
        "",
        *(f"- {line}" for line in condition_lines(demands, system)),
        "",
        "## Boards",
        "",
        "| Board type | Size | Boards a year | Flux |",
        "| --- | --- | --- | --- |",
        *_board_lines(demands, system),
    ]  # fmt: skip
    number = 0
    for group, members in groupby(demands.overall, key=lambda demand: demand.group):
        lines += ["", f"## {group}", "", f"| {' | '.join(HEAD)} |", f"|{' --- |' * len(HEAD)}"]
        for demand in members:
            number += 1
            cells = (str(number), demand.title.text(system), demand.asked_text(system), demand.band_text(system),
                     set_by(demands, demand), demand.sentence.text(system), "")  # fmt: skip
            lines.append(f"| {' | '.join(_plain(cell) for cell in cells)} |")
    lines += ["", "## Fluids", "", *_fluid_lines(demands, system), ""]
    return "\n".join(lines)


def condition_lines(demands: Demands, system: str = "metric") -> tuple[str, ...]:
    """Say in plain lines under which conditions the numbers hold."""
    fixed = demands.conditions
    names = {fluid.id: fluid.name for fluid in demands.library.fluids}
    airs = ", ".join(show(air, "temperature", system) for air in fixed.air_temperatures_K)
    lines = [
        f"All residue under the tightest component is gone after {show(fixed.wash_time_s, 'time', system)} of wash.",
        f"Drying air of {airs}, never above what the board may see, moving at "
        f"{show(fixed.air_speed_m_s, 'stream speed', system)} along the boards.",
        f"Boards keep {show(fixed.drained_film_m, 'volume per area', system)} of liquid after draining.",
    ]
    for route, fluid_id in demands.reference_fluids.items():
        lines.append(f"Fluid {ROUTE_WORDS[route]}: worked out with {names[fluid_id]}, which asks for the least "
                     "pressure of its kind; another fluid may be offered with its own number.")  # fmt: skip
    return tuple(lines)


def set_by(demands: Demands, demand: Demand) -> str:
    """Name who sets a demand: the plant, all board types, or some."""
    names = {board.id: board.name for board in demands.case.board_types}
    if not demand.board_ids:
        return "the plant"
    if len(names) > 1 and len(demand.board_ids) == len(names):
        return "all board types"
    return "; ".join(names[board_id] for board_id in demand.board_ids)


def specification_rows(demands: Demands, system: str = "metric") -> pd.DataFrame:
    """List the overall demands, numbers as numbers in the reader's units, with an empty column for the answer."""
    return pd.DataFrame(
        [(number, *_row(demands, demand, system), "")
         for number, demand in enumerate(demands.overall, start=1)],
        columns=["No.", "Group", "Demand", "Side", "Asked", "Low", "Middle", "High", "Unit", "Set by", "Why",
                 "Supplier states"],
    )  # fmt: skip


def board_rows(demands: Demands, system: str = "metric") -> pd.DataFrame:
    """List every demand of every board type in the same form."""
    names = {board.id: board.name for board in demands.case.board_types}
    return pd.DataFrame(
        [(names[board.board_id], *_row(demands, demand, system)) for board in demands.boards
         for demand in board.demands],
        columns=["Board type", "Group", "Demand", "Side", "Asked", "Low", "Middle", "High", "Unit", "Set by", "Why"],
    ).drop(columns="Set by")  # fmt: skip


def fluid_rows(demands: Demands, system: str = "metric") -> pd.DataFrame:
    """List every fluid of the library with what it asks for on the hardest board type."""
    names = {board.id: board.name for board in demands.case.board_types}
    duty = demands.conditions.duties[len(demands.conditions.duties) // 2]
    found = []
    for fluid in demands.library.fluids:
        uses = [(board.board_id, use) for board in demands.boards for use in board.fluids if use.fluid_id == fluid.id]
        usable = [(board_id, use.asked_Pa) for board_id, use in uses if use.asked_Pa is not None]
        not_for = [names[board_id] for board_id, use in uses if not use.usable]
        blocked = next((use.blocked_by for _, use in uses if use.dissolves and use.blocked_by), "")
        asked, hardest = "not usable", ""
        if usable:
            board_id, pressure = max(usable, key=lambda pair: pair[1])
            asked = "out of reach" if np.isinf(pressure) else show(pressure, "low pressure", system)
            asked = "nothing asked" if pressure == 0.0 else asked
            hardest = names[board_id]
        highest = min((use.highest_K for _, use in uses if use.usable), default=None)
        lowest = max((use.lowest_K for _, use in uses), default=None)
        window = "" if highest is None or lowest is None else (
            f"{show(lowest, 'temperature', system)} to {show(highest, 'temperature', system)}")  # fmt: skip
        found.append((fluid.name, ROUTE_WORDS[route_of(fluid)],
                      f"{len(usable)} of {len(uses)}", window, asked, hardest,
                      _not_for(not_for, len(uses)) + (f" {blocked}" if blocked else "")))  # fmt: skip
    return pd.DataFrame(found, columns=[
        "Fluid", "Kind", "Dissolves the residue of and is allowed on", "Wash temperature",
        f"Pressure across the gap, {duty:.0%} of the time".replace("%", " %"), "Hardest on", "Remark"])  # fmt: skip


def _not_for(names: list[str], board_types: int) -> str:
    if not names:
        return ""
    return f"Not for: {'; '.join(names)}." if len(names) <= 2 else f"Not for {len(names)} of {board_types} board types."


def _row(demands: Demands, demand: Demand, system: str) -> tuple[str | float | None, ...]:
    low, middle, high = (None, None, None) if demand.band is None else (
        _amount(demand, point, system) for point in demand.band)  # fmt: skip
    asked = None if demand.asked is None else _amount(demand, demand.asked, system)
    return (demand.group, demand.title.text(system), demand.side, asked, low, middle, high, _unit(demand, system),
            set_by(demands, demand), demand.sentence.text(system))  # fmt: skip


def _shown_unit(demand: Demand, system: str) -> str:
    shape = DIMENSIONS[demand.dimension]
    return shape.metric_unit if system == "metric" else shape.us_unit


def _amount(demand: Demand, value: float, system: str) -> str | float:
    if np.isinf(value):
        return "out of reach"
    return convert(value, DIMENSIONS[demand.dimension].si_unit, _shown_unit(demand, system))


def _unit(demand: Demand, system: str) -> str:
    if not demand.dimension:
        return ""
    unit = readable_unit(_shown_unit(demand, system))
    return unit.replace("1/h", f"{demand.counted}/h") if demand.counted else unit


def _board_lines(demands: Demands, system: str) -> list[str]:
    flux = {record.id: record.name for record in demands.library.flux_kinds}
    lines = []
    for board in demands.case.board_types:
        size = " × ".join(show(edge.si()[1], "length", system) for edge in (board.length, board.width))
        cells = (board.name, size, show(board.volume.si()[1], "rate", system).replace("1/year", "boards/year"),
                 flux[board.flux])  # fmt: skip
        lines.append(f"| {' | '.join(_plain(cell) for cell in cells)} |")
    return lines


def _fluid_lines(demands: Demands, system: str) -> list[str]:
    frame = fluid_rows(demands, system)
    lines = [f"| {' | '.join(frame.columns)} |", f"|{' --- |' * len(frame.columns)}"]
    return lines + [f"| {' | '.join(_plain(str(cell)) for cell in row)} |" for row in frame.itertuples(index=False)]


def _plain(text: str) -> str:
    """Write text so that no markup in it takes effect and it stays on its line."""
    return _MARKS.sub(r"\\\1", " ".join(text.split()))
