"""Board types and the component kinds on them, as rows for tables and charts."""

from __future__ import annotations

import pandas as pd

from catalog_schema.boards import BoardType
from catalog_schema.case import Case, Library
from catalog_schema.units import show
from model.pictures import path_per_gap, tightest_kind
from screens.rows import amount, number, unit_of


def board_mix(case: Case, library: Library, system: str) -> pd.DataFrame:
    """List the board types with what makes each easy or hard to clean."""
    flux = {record.id: record for record in library.flux_kinds}
    found = []
    for board in case.board_types:
        tight = tightest_kind(board, library)
        found.append(
            (board.name, " × ".join(show(edge.si()[1], "length", system) for edge in (board.length, board.width)),
             number(board.volume, system), board.alloy, flux[board.flux].name,
             number(board.peak_reflow_temperature, system), number(board.wait_before_wash, system), tight.name,
             number(tight.gap, system), number(tight.flux_path, system))
        )  # fmt: skip
    return pd.DataFrame(found, columns=[
        "Board type", "Size", "Volume", "Alloy", "Flux", "Reflow peak", "Wait before wash", "Tightest component", "Gap",
        "Flux path"])  # fmt: skip


def written_mix(mix: pd.DataFrame) -> pd.DataFrame:
    """Draw the board mix together into four columns of markdown, for narrow windows; takes escaped cells."""
    return pd.DataFrame([
        (f"**{row['Board type']}**  \n{row['Size']}, {row['Alloy']}", row["Volume"],
         f"{row['Flux']}  \npeak {row['Reflow peak']}, waits {row['Wait before wash']}",
         f"**{row['Tightest component']}**  \ngap {row['Gap']}, flux path {row['Flux path']}")
        for row in mix.to_dict("records")
    ], columns=["Board type", "Volume", "Flux and soldering", "Tightest component"])  # fmt: skip


def component_rows(board: BoardType, library: Library, system: str) -> pd.DataFrame:
    """List a board's component kinds, the longest flux path for its gap first, and mark that tightest one."""
    kinds = {kind.id: kind for kind in library.component_kinds}
    tightest = tightest_kind(board, library).id
    present = sorted(board.components, key=lambda part: -path_per_gap(kinds[part.kind]))
    return pd.DataFrame(
        [
            (kinds[part.kind].name, "tightest" if part.kind == tightest else "", part.count,
             number(kinds[part.kind].gap, system), number(kinds[part.kind].flux_path, system),
             f"{path_per_gap(kinds[part.kind]):.0f}", number(kinds[part.kind].open_edge_share, system),
             kinds[part.kind].note)
            for part in present
        ],
        columns=["Component kind", "Mark", "On the board", "Gap", "Flux path", "Path ÷ gap", "Open edge",
                 "Note"],
    )  # fmt: skip


def component_ranges(board: BoardType, library: Library, system: str) -> pd.DataFrame:
    """Give gap and flux path of a board's component kinds for drawing, in the reader's units."""
    kinds = {kind.id: kind for kind in library.component_kinds}
    tightest = tightest_kind(board, library).id
    present = sorted({part.kind for part in board.components}, key=lambda kind: -path_per_gap(kinds[kind]))
    found = []
    for panel, name in (
        (f"Gap [{unit_of('gap', system)}]", "gap"), (f"Flux path [{unit_of('length', system)}]", "flux_path"),
    ):
        for kind in present:
            quantity = getattr(kinds[kind], name)
            low, likely, high = (amount(value, quantity.dimension, system) for value in quantity.si())
            mark = "tightest" if kind == tightest else "other kinds"
            found.append((panel, kinds[kind].name, low, likely, high, mark))
    return pd.DataFrame(found, columns=["panel", "name", "low", "likely", "high", "mark"])
