"""Screen: one board type's way through one machine, step by step, and all cycles side by side."""

from __future__ import annotations

import streamlit as st

from model.evaluate import Evaluation
from model.result_text import sentence_case
from model.timeline import cycle_rows, timeline
from model.timeline_charts import timeline_chart
from screens import case_state, computing, parts, rows, tables, timeline_rows

LONG_LIST_PIXELS = 480
SHORT_LIST = 8
"""Rows that are shown without a frame that scrolls."""


def page() -> None:
    """Draw the screen."""
    parts.header("Way through the machine", "How long one board type takes through one machine, step by step, and what "
                 "sets each time.")  # fmt: skip
    if not case_state.current_case().board_types:
        parts.no_boards("there is no way to follow")
        return
    evaluation = computing.current_evaluation()
    if not evaluation.machines:
        st.warning("This case has no offers and compares with no class. Add classes on the Machines screen.")
        return
    by_id = {outcome.machine.id: outcome for outcome in evaluation.machines}
    names = rows.record_names(evaluation.case, evaluation.library)
    left, right = st.columns(2)
    with left:
        machine_id = parts.choose("Machine", list(by_id), "machine", shown=lambda one: by_id[one].machine.name)
    outcome = by_id[machine_id]
    with right:
        board_id = parts.choose("Board type", [board.board_id for board in outcome.boards], "timeline-board",
                                shown=lambda one: names.get(("board_types", one), one))  # fmt: skip
    _one(evaluation, machine_id, board_id)
    _every(evaluation, machine_id)


def _one(evaluation: Evaluation, machine_id: str, board_id: str) -> None:
    system = case_state.unit_system()
    outcome = evaluation.machine(machine_id)
    board = outcome.board(board_id)
    names = rows.record_names(evaluation.case, evaluation.library)
    fluids = [fluid.fluid_id for fluid in board.fluids if fluid.cycle is not None]
    fluid_id = board.chosen.fluid_id
    if len(fluids) > 1:
        default = fluid_id if fluid_id in fluids else fluids[0]
        fluid_id = parts.choose("Wash fluid", fluids, f"timeline-fluid-{machine_id}-{board_id}", default=default,
                                shown=lambda one: names[("fluids", one)])  # fmt: skip
    try:
        shown = timeline(evaluation, machine_id, board_id, fluid_id if fluid_id in fluids else "")
    except ValueError as reason:
        st.markdown(f"**No cycle can be drawn.** {parts.plain(sentence_case(str(reason)))}")
        return
    sentence = shown.sentence.text(system)
    frame, table = timeline_rows.chart_rows(shown, system), timeline_rows.step_table(shown, system)
    tables.picture(
        sentence, lambda sheet: [timeline_chart(frame, sheet, time_unit=rows.unit_of("time", system))],
        table, name="timeline", alt=f"Steps of the cycle of {shown.board_name}",
        written=table.map(parts.plain),
    )  # fmt: skip
    parts.note("Bar: the time a step runs, middle of the draws; thin line: 5 to 95 % of its end; upright stroke: the "
               "machine's limit for the step, its middle where it is uncertain; dashed outline: what the boards need "
               "beyond it; fits in: share of the draws in which the need is within the limit.")  # fmt: skip
    belt = timeline_rows.belt_sentence(shown, evaluation, machine_id, system)
    if belt:
        st.markdown(parts.plain(belt))
    st.markdown("\n".join(f"- **{one.title}.** {parts.plain(one.limited_by.text(system))}" for one in shown.segments))
    parts.sources_button(evaluation, outcome, sentence, "timeline", board_id=board_id, fluid_id=shown.fluid_id,
                         label="Sources of these times")  # fmt: skip
    parts.caution()


def _every(evaluation: Evaluation, machine_id: str) -> None:
    system = case_state.unit_system()
    st.header("Every board type on every machine")
    cycles = cycle_rows(evaluation)
    counts = {word: sum(1 for one in cycles if one.existence == word) for word in ("exists", "open", "none")}
    st.markdown(f"Of {sum(counts.values())} pairs, {counts['exists']} have a cycle (✓), {counts['open']} are not sure "
                f"(?), and for {counts['none']} no cycle exists (✕). Times are door to door, middle of the draws.")
    st.table(timeline_rows.existence_matrix(evaluation, cycles, system).map(parts.plain), hide_index=True,
             border="horizontal", alt="Cycles of every board type on every machine")  # fmt: skip
    parts.note("✓: wash, rinse and drying all fit the machine's limits in as many draws as the plant wants. Other "
               "musts, such as materials or charge, are on the screen Ruled out.")  # fmt: skip
    st.subheader("With the binding reason")
    only = parts.choose("Show", ("this machine", "no cycle or not sure", "all"), "cycles-shown", buttons=True)
    shown = [one for one in cycles if only == "all" or (one.machine_id == machine_id if only == "this machine"
                                                        else one.existence in ("open", "none"))]  # fmt: skip
    written = timeline_rows.reason_table(evaluation, shown, system)
    if written.empty:
        parts.note("Nothing is washed in this machine of the plant." if only == "this machine" else "None.")
    else:
        # Sentences wrap; a long list scrolls in a frame of its own.
        with st.container(key="written-cycles", height=LONG_LIST_PIXELS if len(written) > SHORT_LIST else "content"):
            st.table(written.map(parts.plain), hide_index=True, border="horizontal", alt="What decides each cycle")
    tables.download(timeline_rows.cycle_table(evaluation, cycles, system), "cycles")
    parts.note("The file holds every pair, with the time of each step, boards a load and boards an hour.")
