"""Screen: which machines can clean every board type, which cannot, and why."""

from __future__ import annotations

import streamlit as st

from model.evaluate import Evaluation, MachineOutcome
from model.range_charts import probability_chart
from model.requirements import Requirement
from model.result_text import joint_probability, verdict_sentence
from screens import case_state, clearing, computing, explaining, parts, rows, tables, verdict_rows

EVERY = "All board types at once"
WHOLE = ""
"""Stands for the machine as a whole, as in the musts themselves."""


def page() -> None:
    """Draw the screen."""
    parts.header("Ruled out", "Each machine against every must of every board type. A machine is ruled out when it "
                 "falls short on one of them, however good it is on the rest.")  # fmt: skip
    if not case_state.current_case().board_types:
        parts.no_boards("no machine can be judged")
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
    frame = verdict_rows.verdict_rows(evaluation, case_state.unit_system())
    meets_from, misses_to = verdict_rows.thresholds(evaluation)
    drawn = verdict_rows.probabilities(evaluation)
    boards = len(evaluation.case.board_types)
    sentence = f"{verdict_sentence(evaluation)} Judged over {boards} board type{'s' if boards > 1 else ''}."
    tables.picture(
        sentence,
        lambda sheet: [probability_chart(drawn, sheet, meets_from=meets_from, misses_to=misses_to)],
        frame, name="verdicts", alt="Verdict on every machine", first="Table",
        written=parts.verdict_table(frame),
    )  # fmt: skip
    parts.note(f"Meets: probability {rows.percent(meets_from)} or more. Falls short: {rows.percent(misses_to)} or "
               "less. Between them, or where something cannot be computed: unknown. The plant sets both.")  # fmt: skip


def _machine(evaluation: Evaluation, outcome: MachineOutcome) -> None:
    st.markdown(f"{parts.badge(outcome.result)} **{parts.plain(outcome.machine.name)}**, probability "
                f"{joint_probability(outcome)} that every must holds on every board type.")  # fmt: skip
    names = rows.record_names(evaluation.case, evaluation.library) | {("board_types", WHOLE): "The machine as a whole"}
    boards = [board.board_id for board in outcome.boards]
    decided = outcome.deciding.requirement.board_id if outcome.deciding else boards[0]
    board_id = parts.choose("Musts on", [*boards, WHOLE, EVERY], f"musts-of-{outcome.machine.id}", default=decided,
                            shown=lambda one: names.get(("board_types", one), one))  # fmt: skip
    if board_id == EVERY:
        _all_musts(evaluation, outcome, [*boards, WHOLE])
        return
    musts = verdict_rows.musts_of(outcome, board_id)
    if board_id != WHOLE and (fluid := names.get(("fluids", outcome.board(board_id).chosen.fluid_id))):
        tried = len(outcome.board(board_id).fluids)
        st.markdown(f"Judged with **{parts.plain(fluid)}**: of {tried} tried, the cheapest that meets all, or else the "
                    "one that comes nearest.")  # fmt: skip
    _musts(evaluation, outcome, musts)
    tables.download(verdict_rows.requirement_rows(evaluation, musts, case_state.unit_system()), "musts")
    parts.caution()
    if board_id != WHOLE:
        clearing.section(evaluation, outcome, outcome.board(board_id))


def _musts(evaluation: Evaluation, outcome: MachineOutcome, musts: list[Requirement]) -> None:
    system, currency = case_state.unit_system(), evaluation.case.plant.currency
    with st.container(border=True, gap="small"):
        for number, must in enumerate(musts):
            badge, finding, buttons = parts.finding_row()
            badge.markdown(parts.badge(must.result))
            sentence = must.sentence.text(system, currency)
            finding.markdown(f"**{parts.plain(must.title)}**  \n{parts.plain(sentence)}  \n"
                             f":small[{parts.plain(verdict_rows.figures_line(must, system, currency))}]")  # fmt: skip
            with buttons:
                parts.sources_button(evaluation, outcome, sentence, f"{number}-{must.key}", board_id=must.board_id,
                                     fluid_id=must.fluid_id, stage=must.stage)  # fmt: skip
                explaining.what_is(explaining.MUSTS, must.key, must.title, f"{number}")


def _all_musts(evaluation: Evaluation, outcome: MachineOutcome, boards: list[str]) -> None:
    musts = [must for board_id in boards for must in verdict_rows.musts_of(outcome, board_id)]
    frame = verdict_rows.requirement_rows(evaluation, musts, case_state.unit_system())
    with st.container(key="written-musts"):
        st.table(parts.must_table(frame), hide_index=True, border="horizontal", alt="All musts")
    parts.sources_button(evaluation, outcome, f"All musts of {outcome.machine.name}", "all")
    tables.download(frame, "musts")
    parts.caution()
