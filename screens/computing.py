"""The evaluation of the open case, with progress, time left and a stop button when it takes long."""

from __future__ import annotations

import streamlit as st

from model.evaluate import Evaluation, evaluate
from model.standing_worker import StandingWorker
from screens import case_state
from screens.progress import watched

EVALUATION = "evaluation"


@st.cache_resource(max_entries=1, show_spinner=False)
def _standing() -> StandingWorker:
    """Keep one process that computes, for all sessions."""
    return StandingWorker()


def get_ready() -> None:
    """Start the process that computes, if it is not there: it needs two seconds before its first evaluation."""
    _standing()


def current_evaluation() -> Evaluation:
    """Give the evaluation of the open case; compute it where it is not known, or end the page when stopped."""
    known = case_state.known_evaluation()
    if known is not None:
        return known
    last = case_state.last_evaluation()
    # Nothing can be taken over then, so it will take a while.
    opening = "Tracing sprays and clearing gaps" if last is None or last.draws != case_state.draws() else ""
    with watched(EVALUATION, "machines", opening=opening) as watch:

        def waiting() -> None:
            watch.say("Another session is computing; this one is next")

        with case_state.evaluation_turn(waiting):
            # Whoever had the turn before may have computed this very case.
            evaluation = case_state.known_evaluation() or evaluate(
                case_state.current_case(), draws=case_state.draws(), previous=case_state.last_evaluation(),
                progress=watch, standing=_standing(),
            )  # fmt: skip
            case_state.keep_evaluation(evaluation)
    return evaluation
