"""Screen: the plant, its board mix, and what sits tightest on each board."""

from __future__ import annotations

import streamlit as st

from catalog_schema.library import library_for
from model.pictures import tightest_kind
from model.range_charts import ranges_chart
from screens import board_rows, case_state, parts, rows, tables


def page() -> None:
    """Draw the screen."""
    parts.header("Plant and boards", "What the plant builds and how it works. A machine has to clean under the "
                 "tightest component of every board type below.")  # fmt: skip
    case, system = case_state.current_case(), case_state.unit_system()
    library = library_for(case)
    if not case.board_types:
        parts.no_boards("there is nothing to clean")
        return
    st.header("Board mix")
    mix = board_rows.board_mix(case, library, system)
    st.markdown(f"{len(case.board_types)} board types. Gap: what is left between component and board; flux path: from "
                "the open edge to the innermost residue; tightest: the longest flux path for its gap.")  # fmt: skip
    st.table(board_rows.written_mix(mix.map(parts.plain)), hide_index=True, border="horizontal", alt="Board mix")
    tables.download(mix, "board-mix")

    st.header("One board type")
    board = parts.choose("Board type", case.board_types, "board", shown=lambda record: record.name,
                         default=case.board_types[0])  # fmt: skip
    if board.note:
        st.markdown(parts.plain(board.note))
    tight = tightest_kind(board, library)
    frame = board_rows.component_ranges(board, library, system)
    sentence = (f"Tightest is {tight.name}: a gap of {rows.number(tight.gap, system)} with residue "
                f"{rows.number(tight.flux_path, system)} in from the open edge.")  # fmt: skip
    tables.picture(
        sentence,
        lambda sheet: [
            ranges_chart(part, sheet, panels=(str(panel),))
            for panel, part in frame.groupby("panel", sort=False)
        ],
        board_rows.component_rows(board, library, system), name="components", stacked=True,
        alt=f"Gap and flux path of the component kinds on {board.name}",
    )  # fmt: skip
    flux = next(record for record in library.flux_kinds if record.id == board.flux)
    kinds = {kind.id: kind for kind in library.component_kinds}
    st.subheader("Its numbers, with basis and source")
    records = [(board.name, board, "measured"), (flux.name, flux, "engineering estimate")]
    records += [(kinds[part.kind].name, kinds[part.kind], "engineering estimate") for part in board.components]
    tables.grid(rows.quantity_rows(records, system), name="board-numbers", height=360)

    st.header("Plant")
    plant = case.plant
    st.markdown(parts.plain(f"{plant.name}. {plant.note}"))
    sections = [("Plant", plant), ("Tariffs", plant.tariffs), ("Finance", plant.finance), ("Site limit", plant.site),
                ("Own must", plant.requirements)]  # fmt: skip
    tables.grid(rows.quantity_rows([(name, record, "stated") for name, record in sections], system), name="plant",
                height=360)  # fmt: skip
