"""The form of a trial that was entered before: choose it, change it, duplicate it or delete it."""

from __future__ import annotations

import streamlit as st

from catalog_schema.case import Case, Library
from catalog_schema.priorities import Trial
from screens import case_state, field_form, parts, record_actions, rows


def form(library: Library) -> None:
    """Draw the trials of the open case; nothing where there are none."""
    case = case_state.current_case()
    if not case.trials:
        return
    st.subheader("Change a trial")
    parts.note("What is typed is taken over at once; Undo takes it back.")
    by_id = {trial.id: trial for trial in case.trials}
    names = rows.record_names(case, library)
    labels = {trial.id: _label(trial, names) for trial in case.trials}
    trial = by_id[record_actions.choose_record("trials", labels, "Trial")]
    field_form.form(trial, f"trials[{trial.id}]", names=_names(case, library, trial))
    field_form.basis_form(trial, f"trials[{trial.id}]")


def _label(trial: Trial, names: dict[tuple[str, str], str]) -> str:
    board = names.get(("board_types", trial.board_type), trial.board_type)
    machine = names.get(("candidates", trial.machine)) or names.get(("machine_classes", trial.machine), trial.machine)
    return f"{trial.id}: {board} in {machine}, {trial.wash_time.text()}"


def _names(case: Case, library: Library, trial: Trial) -> dict[str, dict[str, str]]:
    board = next((one for one in case.board_types if one.id == trial.board_type), None)
    present = {trial.component} | {component.kind for component in board.components} if board else {trial.component}
    return {
        "board_type": {one.id: one.name for one in case.board_types},
        "component": {one.id: one.name for one in library.component_kinds if one.id in present},
        "machine": {one.id: one.name for one in (*case.candidates, *library.machine_classes)},
        "fluid": {one.id: one.name for one in library.fluids},
    }
