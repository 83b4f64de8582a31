"""Screen: what to ask the suppliers and which boards to try before signing; results of trials are entered here."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from catalog_schema.boards import BoardType
from catalog_schema.priorities import Trial
from catalog_schema.quantity import Duration, Share
from catalog_schema.units import show
from model.decision_charts import trial_chart
from model.decision_rows import trial_rows as finding_rows
from model.plan_text import as_csv, question_rows, questions_markdown, trial_rows, trials_markdown
from model.questions import worth_finding_out
from model.trial_plan import trial_plan
from screens import case_state, deciding, explaining, parts, rows, tables, trial_form
from screens.deciding import Decided

VIEWS = ("Questions", "Trial plan", "Trial results")


def page() -> None:
    """Draw the screen."""
    parts.header("Questions & trials", "What is worth finding out before signing, in order of what an answer is worth, "
                 "and what your own trial boards already say.")  # fmt: skip
    found = deciding.decided()
    if found is None:
        return
    view = parts.choose("Look at", VIEWS, "questions-view", buttons=True)
    if view == "Questions":
        _questions(found)
    elif view == "Trial plan":
        _plan(found)
    else:
        _results(found)
    parts.caution()


def _questions(found: Decided) -> None:
    system, currency = case_state.unit_system(), found.after.case.plant.currency
    worth = deciding.kept(found, "worth", lambda: worth_finding_out(found.after, found.decision))
    st.markdown(f"**{parts.plain(worth.headline)}**")
    if worth.perfect is not None and worth.perfect_score > 0.0:
        amount = parts.plain(show(worth.perfect, "money", system, currency, digits=2))
        share = rows.percent(worth.perfect_change_share)
        parts.note(f"Knowing everything before deciding would be worth {amount} a year: no enquiry is worth more. In "
                   f"{share} of the draws another machine would then be chosen.")  # fmt: skip
    if not worth.questions:
        return
    frame = question_rows(worth.questions, system, currency)
    with st.container(key="written-questions"):
        st.table(_written_questions(frame), hide_index=True, border="horizontal", alt="Questions")
    _downloads("questions", as_csv(frame), questions_markdown(worth.questions, system, currency))


def _plan(found: Decided) -> None:
    system, currency = case_state.unit_system(), found.after.case.plant.currency
    steps = deciding.kept(found, "trial plan", lambda: trial_plan(found.after, found.decision))
    if not steps:
        st.markdown("**No trial is needed:** on no board type is it uncertain whether an offer's wash ends in time.")
        return
    first = steps[0]
    st.markdown(f"**{parts.plain(f'Try {first.board_name} in {first.machine_name} first')}:** it comes out clean with "
                f"{rows.percent(first.probability_clean)} probability.")  # fmt: skip
    frame = trial_rows(steps, system, currency)
    with st.container(key="written-trials"):
        st.table(_written_trials(frame), hide_index=True, border="horizontal", alt="Trial plan")
    _downloads("trial-plan", as_csv(frame), trials_markdown(steps, system, currency))


def _written_questions(frame: pd.DataFrame) -> pd.DataFrame:
    """Draw the questions together into three columns of markdown, for narrow windows."""
    found = frame.map(lambda cell: parts.plain(str(cell))).to_dict("records")
    return pd.DataFrame([
        (f"**{row['No.']} {row['Ask']}**  \n{row['Machine']}", f"**{row['What']}**  \n{row['Until then']}",
         f"{row['What an answer changes']}  \n:small[Worth {row['Worth a year']} a year; changes the choice in "
         f"{row['Changes the choice in']}]")
        for row in found
    ], columns=["Ask", "What, and what is assumed until then", "What an answer changes"])  # fmt: skip


def _written_trials(frame: pd.DataFrame) -> pd.DataFrame:
    """Draw the trial plan together into three columns of markdown, for narrow windows."""
    found = frame.map(lambda cell: parts.plain(str(cell))).to_dict("records")
    return pd.DataFrame([
        (f"**{row['No.']} {row['Board type']}**  \n{row['Machine']}, {row['Minutes']} min in {row['Fluid']}; lift "
         f"{row['Lift']}", row["Look for"],
         f"{row['What it decides']}  \n:small[Expected clean: {row['Expected clean']}; worth {row['Worth a year']} a "
         "year]")
        for row in found
    ], columns=["Try", "Look for", "What it decides"])  # fmt: skip


def _downloads(name: str, csv: str, markdown: str) -> None:
    with st.container(horizontal=True):
        st.download_button("As CSV", csv.encode("utf-8-sig"), file_name=f"{name}.csv", mime="text/csv",
                           key=f"{name}-csv", on_click="ignore")  # fmt: skip
        st.download_button("As text", markdown, file_name=f"{name}.md", mime="text/markdown", key=f"{name}-md",
                           on_click="ignore")  # fmt: skip


def _results(found: Decided) -> None:
    summary = found.trials
    st.markdown(f"**{parts.plain(summary.headline)}**")
    for warning in summary.warnings:
        st.warning(parts.plain(warning))
    frame = finding_rows(summary)
    if len(frame):
        share = summary.effective_sample_size / summary.draws
        sentence = (f"Effective sample size {summary.effective_sample_size:.0f} of {summary.draws} draws "
                    f"({rows.percent(share)}).")  # fmt: skip
        tables.picture(
            sentence, lambda sheet: [trial_chart(frame, sheet)],
            frame.rename(columns={"trial": "Trial", "when": "Expected", "low": "5 %", "middle": "Middle",
                                  "high": "95 %", "found": "Found"}),
            name="trials", alt="Residue expected before and after the trials, and found",
        )  # fmt: skip
    trial_form.form(found.before.library)
    st.subheader("Enter a trial")
    _enter(found)


def _enter(found: Decided) -> None:
    names = rows.record_names(found.before.case, found.before.library)
    machines = {one.machine.id: one for one in found.before.machines
                if any(fluid.wash is not None for board in one.boards for fluid in board.fluids)}  # fmt: skip
    if not machines:
        st.info("No machine of this case washes in a way that is computed, so no trial can be compared with it.")
        return
    boards = {board.id: board for board in found.before.case.board_types}
    machine = parts.choose("Machine", list(machines), "trial-machine", shown=lambda one: machines[one].machine.name,
                           help=explaining.entry(Trial, "machine"))  # fmt: skip
    board = parts.choose("Board type", list(boards), "trial-board", shown=lambda one: boards[one].name,
                         help=explaining.entry(Trial, "board_type"))  # fmt: skip
    fluids = [one.fluid_id for one in machines[machine].board(board).fluids if one.fluid_id]
    if not fluids:
        st.info("This machine is not computed on this board type.")
        return
    fluid = parts.choose("Fluid", fluids, "trial-fluid", shown=lambda one: names[("fluids", one)],
                         help=explaining.entry(Trial, "fluid"))  # fmt: skip
    kinds = [component.kind for component in boards[board].components]
    component = parts.choose("Component lifted", kinds, "trial-component",
                             shown=lambda one: names[("component_kinds", one)],
                             help=explaining.entry(Trial, "component"))  # fmt: skip
    with st.form(f"trial-{case_state.revision()}-{len(found.before.case.trials)}", border=False):
        minutes = st.number_input("Minutes of wash", 0.1, 10_000.0, value=None,
                                  help=explaining.entry(Trial, "wash_time"))  # fmt: skip
        left = st.number_input("Residue left under the part [%]", 0.0, 100.0, value=None,
                               help=explaining.entry(Trial, "residue_left"))  # fmt: skip
        error = st.number_input("How far that reading may be off [%]", 0.0, 100.0, value=10.0,
                                help=explaining.entry(Trial, "measurement_error"))  # fmt: skip
        note = st.text_input("Note", max_chars=500)
        if not st.form_submit_button("Enter trial", type="primary"):
            return
    if minutes is None or left is None or error is None:
        st.error("Give the minutes, the residue left and how far that reading may be off.")
        return
    _add(boards[board], component, machine, fluid, (minutes, left, error), note)


def _add(board: BoardType, component: str, machine: str, fluid: str, numbers: tuple[float, float, float],
         note: str) -> None:  # fmt: skip
    case = case_state.current_case()
    taken = {trial.id for trial in case.trials}
    number = next(n for n in range(1, len(taken) + 2) if f"trial-{n}" not in taken)
    minutes, left, error = numbers
    trial = Trial(
        id=f"trial-{number}", board_type=board.id, component=component, machine=machine, fluid=fluid, note=note,
        wash_time=Duration(likely=minutes, unit="min", basis="measured"),
        residue_left=Share(likely=left / 100.0, basis="measured"),
        measurement_error=Share(likely=error / 100.0, basis="engineering estimate"),
    )  # fmt: skip
    case_state.change(trials=(*case.trials, trial))
    st.rerun()
