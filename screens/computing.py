"""The evaluation of the open case, with progress, time left and a stop button when it takes long."""

from __future__ import annotations

import time

import streamlit as st

from model.evaluate import Evaluation, evaluate
from screens import case_state

QUIET_S = 0.6
"""Below this no progress is shown: it would only flicker."""


def current_evaluation() -> Evaluation:
    """Give the evaluation of the open case; compute it where it is not known, or end the page when stopped."""
    known = case_state.known_evaluation()
    if known is not None:
        return known
    if case_state.is_stopped():
        st.warning("The computation was stopped. The case is unchanged.")
        st.button("Compute now", on_click=case_state.resume_computing, type="primary")
        st.stop()
    place = st.empty()
    started = time.monotonic()
    drawn: dict[str, st.delta_generator.DeltaGenerator] = {}
    if case_state.last_evaluation() is None:
        drawn["bar"] = _progress_with_stop(place, "Tracing sprays and clearing gaps")

    def waiting() -> None:
        if "bar" not in drawn:
            drawn["bar"] = _progress_with_stop(place, "")
        drawn["bar"].progress(0.0, text="Another session is computing; this one is next")

    def progress(done: int, total: int, name: str) -> None:
        spent = time.monotonic() - started
        if "bar" not in drawn and spent > QUIET_S:
            drawn["bar"] = _progress_with_stop(place, "")
        if "bar" in drawn:
            left = spent / done * (total - done)
            # Drawing raises when a stop was asked for; the evaluation passes that on.
            drawn["bar"].progress(done / total, text=f"{done} of {total} machines, about {left:.0f} s left")

    with case_state.first_evaluation_turn(waiting):
        # Whoever had the turn before may have computed this very case.
        evaluation = case_state.known_evaluation() or evaluate(
            case_state.current_case(), draws=case_state.draws(), previous=case_state.last_evaluation(),
            progress=progress,
        )  # fmt: skip
        case_state.keep_evaluation(evaluation)
    place.empty()
    return evaluation


def _progress_with_stop(place: st.delta_generator.DeltaGenerator, text: str) -> st.delta_generator.DeltaGenerator:
    with place.container():
        bar = st.progress(0.0, text=text)
        st.button("Stop computing", on_click=case_state.stop_computing)
    return bar
