"""Section of a screen: how the streams reach a board, and how deep the wash clears under a component."""

from __future__ import annotations

import streamlit as st

from model import picture_rows
from model.board_charts import board_chart, depth_chart
from model.evaluate import BoardOutcome, Evaluation, FluidOutcome, MachineOutcome
from model.pictures import Place, depth_curve, exposure, fluid_outcome, kind_clearing
from model.stages import WashStage
from screens import case_state, parts, rows, tables

VALUES = {
    "duty_share": "Time under any stream", "direct_share": "Time under a direct stream",
    "pressure_Pa": "Stream pressure across a gap",
}  # fmt: skip


@st.fragment
def section(evaluation: Evaluation, outcome: MachineOutcome, board: BoardOutcome) -> None:
    """Draw exposure and clearing of a board type in a machine, for a fluid that the reader may change.

    Its own choices redraw this section only, not the page around it.
    """
    tried = [fluid.fluid_id for fluid in board.fluids if fluid.wash is not None]
    if not tried:
        return
    names = rows.record_names(evaluation.case, evaluation.library)
    fluid_id = tried[0]
    st.header("How it cleans")
    if len(tried) > 1:
        default = board.chosen.fluid_id if board.chosen.fluid_id in tried else tried[0]
        fluid_id = parts.choose("Wash fluid", tried, f"fluid-{outcome.machine.id}-{board.board_id}", default=default,
                                shown=lambda one: names[("fluids", one)])  # fmt: skip
    fluid = fluid_outcome(board, fluid_id)
    assert fluid.wash is not None  # only fluids with a computed wash are offered
    st.subheader("Under the components")
    if fluid.wash.outcome is None:
        sentence = fluid.judged[-1].requirement.sentence.text(case_state.unit_system())
        st.markdown(parts.plain(f"{sentence} There is no depth to draw."))
    else:
        _depth(evaluation, outcome, board, fluid, fluid.wash)
    st.subheader("Where the streams go")
    _exposure(evaluation, outcome, board, fluid_id)


def _depth(evaluation: Evaluation, outcome: MachineOutcome, board: BoardOutcome, fluid: FluidOutcome,
           stage: WashStage) -> None:  # fmt: skip
    assert stage.outcome is not None  # checked by the caller
    system = case_state.unit_system()
    names = rows.record_names(evaluation.case, evaluation.library)
    kinds = [kind for kind, _ in stage.outcome.screening_minutes]
    kind_id = parts.choose("Component kind, the one that needs longest first", kinds, f"kind-{board.board_id}",
                           shown=lambda one: names[("component_kinds", one)])  # fmt: skip
    clearing = kind_clearing(evaluation, board.board_id, stage, kind_id)
    curve = depth_curve(clearing, stage.max_time_s, outcome.machine.name)
    sentence = curve.sentence.text(system)
    frame, needed, limit = picture_rows.depth_rows(curve, system)
    units = rows.unit_of("time", system), rows.unit_of("length", system)
    tables.picture(
        sentence,
        lambda sheet: [depth_chart(frame, sheet, needed=needed, limit=limit, time_unit=units[0], depth_unit=units[1])],
        picture_rows.depth_table(frame, *units), name="clearing",
        alt=f"Depth cleared under {curve.kind_name} over wash time",
    )  # fmt: skip
    parts.note("Line: middle of the draws; band: 5 to 95 % of them. Both limits are bands too, where they are "
               "uncertain. Worst place: the least served place of the load, the few worst left out.")  # fmt: skip
    parts.sources_button(evaluation, outcome, sentence, "clearing", board_id=board.board_id, fluid_id=fluid.fluid_id,
                         stage="wash", label="Sources of this curve")  # fmt: skip


def _exposure(evaluation: Evaluation, outcome: MachineOutcome, board: BoardOutcome, fluid_id: str) -> None:
    system = case_state.unit_system()
    places: tuple[Place, ...] = ("inner board", "outer board")
    place = parts.choose("Board in the load", places, "place", buttons=True,
                         help="Inner boards are shaded by their neighbours on both sides.")  # fmt: skip
    try:
        shown = exposure(evaluation, outcome.machine.id, board.board_id, fluid_id, place)
    except ValueError as reason:
        st.markdown(parts.plain(str(reason)))
        return
    if len(shown.places) == 1:
        parts.note("The load is one or two boards: both choices show the same.")
    value = parts.choose("Show", list(VALUES), "exposure-value", shown=VALUES.__getitem__, buttons=True)
    sentence = shown.sentence.text(system)
    frame, title, number_format = picture_rows.exposure_rows(shown, value, VALUES[value], system)
    # Time shares all run to 1, so that pictures of different machines compare at a glance.
    greatest = float(frame[value].max()) if value == "pressure_Pa" else 1.0
    tables.picture(
        sentence,
        lambda sheet: [
            board_chart(face, sheet.described(f"{side}: {sentence}"), value=value, value_title=title,
                        value_format=number_format, greatest=greatest, length_unit=rows.unit_of("length", system),
                        standing=shown.standing)
            for side, face in frame.groupby("side", sort=False)
        ],
        frame, name="exposure", alt=f"{VALUES[value]} over both faces of the {place}",
    )  # fmt: skip
    parts.note(f"{picture_rows.HOW_DRAWN} {picture_rows.exposure_note(shown, system)}")
    parts.sources_button(evaluation, outcome, sentence, "exposure", board_id=board.board_id, fluid_id=fluid_id,
                         stage="wash", label="Sources of this picture")  # fmt: skip
