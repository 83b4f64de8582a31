"""Screen: the board types, typed in a table or a form, pasted, imported, duplicated or deleted."""

from __future__ import annotations

import streamlit as st

from catalog_schema.boards import BoardType, ComponentOnBoard
from catalog_schema.case import Library
from catalog_schema.files import starter_board
from catalog_schema.library import library_for
from screens import (
    case_state,
    explaining,
    field_form,
    field_shapes,
    import_panel,
    list_form,
    parts,
    record_actions,
    record_grid,
)
from screens.rows import number

COLUMNS = (
    "name", "volume", "lot_size", "length", "width", "thickness", "alloy", "flux", "peak_reflow_temperature",
    "wait_before_wash", "clear_distance", "populated_sides", "max_temperature", "coated", "uncleaned_allowed",
)  # fmt: skip
ASKED = ("alloy", "flux", "peak_reflow_temperature")
"""What the board to start from leaves to the person, besides components."""


def page() -> None:
    """Draw the screen."""
    parts.header("Edit board types", "What the plant builds. What is typed is taken over at once; Undo takes it back.")
    case = case_state.current_case()
    library = library_for(case)
    names = {
        "flux": {record.id: record.name for record in library.flux_kinds},
        "parts": {record.id: record.name for record in library.board_parts},
        "kind": {record.id: record.name for record in library.component_kinds},
    }
    if case.board_types:
        record_grid.grid("board_types", case.board_types, BoardType, COLUMNS, names)
    with st.expander("Add a board type", expanded=not case.board_types):
        _adding(names)
    import_panel.panel("board_types", "board types")
    if not case.board_types:
        st.info("This case has no board types yet. Add one above.", icon="ℹ️")
        return
    st.header("One board type")
    by_id = {record.id: record for record in case.board_types}
    chosen = record_actions.choose_record("board_types", {one.id: one.name for one in case.board_types}, "Board type")
    _board(by_id[chosen], library, names)


def _board(board: BoardType, library: Library, names: dict[str, dict[str, str]]) -> None:
    path = f"board_types[{board.id}]"
    field_form.form(board, path, names=names)
    field_form.basis_form(board, path)
    st.subheader("Components")
    parts.note("The tightest decides what a machine must do, so list every kind under which residue may stay.")
    system = case_state.unit_system()
    kinds = {record.id: record for record in library.component_kinds}
    list_form.list_form(
        board.components, ComponentOnBoard, f"{path}.components", {"kind": names["kind"]},
        "component", lambda part: f"Gap {number(kinds[part.kind].gap, system)}, flux path "
                                  f"{number(kinds[part.kind].flux_path, system)}",
    )  # fmt: skip


def _adding(names: dict[str, dict[str, str]]) -> None:
    revision = case_state.revision()
    keys = {name: f"new-board-{name}-{revision}" for name in ("name", *ASKED, "kind", "count")}
    shapes = {shape.name: shape for shape in field_shapes.shapes_of(BoardType)}
    parts.note("Sizes, volume and times start from rough estimates, marked as such, to be replaced by your own below.")
    with st.form(f"new-board-{revision}", border=False):
        left, right = st.columns(2, gap="medium")
        left.text_input("Name of the board type", key=keys["name"])
        right.selectbox("Solder alloy", shapes["alloy"].options, index=None, key=keys["alloy"], placeholder="choose",
                        help=parts.plain(shapes["alloy"].help))  # fmt: skip
        left.selectbox("Flux of the residue", list(names["flux"]), index=None, key=keys["flux"], placeholder="choose",
                       format_func=names["flux"].__getitem__, help=parts.plain(shapes["flux"].help))  # fmt: skip
        right.text_input("Reflow peak", key=keys["peak_reflow_temperature"], placeholder="needed",
                         help=parts.plain(shapes["peak_reflow_temperature"].help))  # fmt: skip
        left.selectbox("Tightest component kind", list(names["kind"]), index=None, key=keys["kind"],
                       format_func=names["kind"].__getitem__, placeholder="choose",
                       help=explaining.entry(ComponentOnBoard, "kind"))  # fmt: skip
        right.text_input("How many of it on the board", value="1", key=keys["count"])
        st.form_submit_button("Add board type", type="primary", on_click=_add, args=(keys,))
        if (refused := case_state.refused_at("add-board_types")) is not None:
            field_form.problem(refused)


def _add(keys: dict[str, str]) -> None:
    given = {name: case_state.widget_value(key) for name, key in keys.items()}
    name = str(given["name"] or "").strip()
    missing = [label for label, entry in (
        ("a name", name), ("the alloy", given["alloy"]), ("the flux", given["flux"]),
        ("the reflow peak, for example 245 degC", given["peak_reflow_temperature"]),
        ("a component kind", given["kind"]),
    ) if not entry]  # fmt: skip
    if missing:
        case_state.refuse_at("add-board_types", name, [f"Still needed: {', '.join(missing)}."])
        return
    shape = next(shape for shape in field_shapes.shapes_of(ComponentOnBoard) if shape.name == "count")
    component = {"kind": given["kind"], "count": field_shapes.read_entry(shape, given["count"])}
    content = {name: entry for name, entry in starter_board().items() if name not in ("id", "name")}
    content |= {asked: given[asked] for asked in ASKED} | {"components": [component]}
    taken = [record.id for record in case_state.current_case().board_types]
    record_actions.add("board_types", name, content, taken)
