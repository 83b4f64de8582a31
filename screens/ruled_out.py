"""Screen: which machines can clean every board type, which cannot, and why."""

from __future__ import annotations

import streamlit as st

from model.charts import probability_chart
from model.evaluate import Evaluation, MachineOutcome
from screens import case_state, clearing, computing, parts, rows, tables

EVERY = "All board types"


def page() -> None:
    """Draw the screen."""
    parts.header("Ruled out", "Each machine against every must of every board type. A machine is ruled out when it falls "
                 "short on one of them, however good it is on the rest.")  # fmt: skip
    if not case_state.current_case().board_types:
        st.warning("This case has no board types yet, so no machine can be judged.")
        return
    evaluation = computing.current_evaluation()
    if not evaluation.machines:
        st.warning("This case has no offers and compares with no class. Add classes on the Machines screen.")
        return
    _verdicts(evaluation)
    st.header("Why")
    by_id = {outcome.machine.id: outcome for outcome in evaluation.machines}
    outcome = by_id[parts.choose("Machine", list(by_id), "machine", shown=lambda one: by_id[one].machine.name)]
    _machine(evaluation, outcome)


def _verdicts(evaluation: Evaluation) -> None:
    frame = rows.verdict_rows(evaluation, case_state.unit_system())
    meets_from, misses_to = rows.thresholds(evaluation)
    drawn = rows.probabilities(evaluation)
    sentence = rows.verdict_sentence(evaluation)
    tables.picture(
        sentence,
        lambda palette, width: [probability_chart(drawn, meets_from=meets_from, misses_to=misses_to, palette=palette,
                                                  description=sentence, width=width)],
        frame, name="verdicts", palette=parts.palette(), alt="Verdict on every machine", first="Table", written=parts.verdict_table(frame),
    )  # fmt: skip
    parts.note(f"Meets: probability {meets_from:.0%} or more. Falls short: {misses_to:.0%} or less. Between them, or "
               "where something cannot be computed: unknown. The plant sets both.")  # fmt: skip


def _machine(evaluation: Evaluation, outcome: MachineOutcome) -> None:
    system, currency = case_state.unit_system(), evaluation.case.plant.currency
    st.markdown(f"{parts.badge(outcome.result)} **{parts.plain(outcome.machine.name)}**, probability "
                f"{rows.joint_probability(outcome)} that every must holds on every board type.")  # fmt: skip
    boards = {board.board_id: board for board in outcome.boards}
    names = rows.record_names(evaluation.case, evaluation.library)
    worst = outcome.deciding.requirement.board_id if outcome.deciding else next(iter(boards))
    options = [*boards, EVERY]
    board_id = parts.choose("Board type", options, "board-of-machine", default=worst if worst in boards else options[0],
                            shown=lambda one: names.get(("board_types", one), one))  # fmt: skip
    chosen = list(boards.values()) if board_id == EVERY else [boards[board_id]]
    frame = rows.requirement_rows(evaluation, outcome, chosen, system)
    if board_id == EVERY:
        shown = frame.map(parts.plain)
        shown["Result"] = [parts.badge(result) for result in frame["Result"]]
        st.table(shown.drop(columns="Measure against limit"), hide_index=True, border="horizontal", alt="All musts")
        parts.sources_button(evaluation, outcome, f"All musts of {outcome.machine.name}", "all")
        tables.download(frame, "musts")
        return
    board = boards[board_id]
    fluid = names.get(("fluids", board.chosen.fluid_id), "")
    if fluid:
        st.markdown(f"Judged with **{parts.plain(fluid)}**, of {len(board.fluids)} fluids tried the cheapest that meets all, "
                    "or else the one that comes nearest.")  # fmt: skip
    for number, one in enumerate(board.chosen.judged):
        must = one.requirement
        with st.container(border=True):
            left, right = st.columns([5, 1], vertical_alignment="center")
            left.markdown(f"{parts.badge(must.result)} **{parts.plain(must.title)}**  \n"
                          f"{parts.plain(must.sentence.text(system, currency))}")  # fmt: skip
            parts.note(parts.plain(rows.figures(must, system, currency)), left)
            with right:
                parts.sources_button(evaluation, outcome, must.sentence.text(system, currency), f"{number}-{must.key}",
                                     board_id=board_id, fluid_id=must.fluid_id)  # fmt: skip
    tables.download(frame, "musts")
    parts.caution()
    clearing.section(evaluation, outcome, board)
