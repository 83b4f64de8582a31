"""The open case and everything a person's session keeps; the only file that touches the session state."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import TypeVar

import streamlit as st

from catalog_schema import Case, CaseError, Problem, case_fingerprint, case_text, check_case, load_case, parse_case
from model.evaluate import DEFAULT_DRAWS, DEFAULT_SEED, Evaluation

T = TypeVar("T")

DEMOS = {"Mixed plant": "mixed_plant.yaml", "Through-hole plant": "through_hole_plant.yaml"}
OPEN_VARIABLE = "WASHCASE_OPEN"
MOST_UNDO_STEPS = 50


@dataclass(slots=True)
class _Session:
    """What one browser session keeps. Cases are frozen: an edit adds a new one to the history."""

    history: list[Case]
    position: int = 0
    revision: int = 0
    saved_fingerprint: str = ""
    evaluation: Evaluation | None = None
    stopped: bool = False
    system: str = "metric"
    draws: int = DEFAULT_DRAWS
    problems: tuple[Problem, ...] = ()
    refused: str = ""
    choices: dict[str, object] = field(default_factory=dict)


def _session() -> _Session:
    if "washcase" not in st.session_state:
        st.session_state["washcase"] = _first_session()
    found: _Session = st.session_state["washcase"]
    return found


def _first_session() -> _Session:
    """Open the case that the command line names, else the first demo; a refused case is said, never raised."""
    asked = os.environ.get(OPEN_VARIABLE, "")
    session = None
    if asked:
        try:
            session = _Session(history=[load_case(Path(asked))])
        except CaseError as refusal:
            session = _Session(history=[_demo_case(next(iter(DEMOS)))])
            session.problems, session.refused = refusal.problems, Path(asked).name
    session = session or _Session(history=[_demo_case(next(iter(DEMOS)))])
    session.saved_fingerprint = case_fingerprint(session.history[0])
    return session


def _demo_case(name: str) -> Case:
    return parse_case(files("demo_catalog").joinpath(DEMOS[name]).read_bytes(), DEMOS[name])


def current_case() -> Case:
    """Give the open case."""
    session = _session()
    return session.history[session.position]


def revision() -> int:
    """Count of changes that reseed widgets: opening, undo and redo."""
    return _session().revision


# ---- opening, editing, saving -------------------------------------------------------------------------------------


def _put(case: Case) -> None:
    """Make a case the open one; what was open stays one undo away."""
    session = _session()
    session.history = [*session.history[: session.position + 1], case][-MOST_UNDO_STEPS:]
    session.position = len(session.history) - 1
    session.problems, session.refused, session.stopped = (), "", False


def _open(case: Case) -> None:
    _put(case)
    session = _session()
    session.revision += 1
    session.choices.clear()
    session.saved_fingerprint = case_fingerprint(case)


def adopt(case: Case) -> None:
    """Open a case that another screen has made, such as the one behind a quick answer."""
    _open(case)


def open_demo(name: str) -> None:
    """Open a shipped demo."""
    _open(_demo_case(name))


def open_upload(widget_key: str) -> None:
    """Open the file held by an uploader; when it is refused, keep the open case and note all problems."""
    upload = st.session_state.get(widget_key)
    if upload is None:
        return
    try:
        _open(parse_case(upload.getvalue(), upload.name))
    except CaseError as refusal:
        session = _session()
        session.problems, session.refused = refusal.problems, upload.name


def refusal() -> tuple[str, tuple[Problem, ...]]:
    """Name of the file last refused and its problems; empty when none was."""
    session = _session()
    return session.refused, session.problems


def forget_refusal() -> None:
    """Take the list of problems off the screen."""
    session = _session()
    session.problems, session.refused = (), ""


def change(**fields: object) -> None:
    """Change fields of the open case as one undoable step; a change that breaks the case is refused and said."""
    case = current_case().model_copy(update=fields)
    try:
        _put(check_case(case))
    except CaseError as refusal_met:
        session = _session()
        session.problems, session.refused = refusal_met.problems, "this change"


def step(by: int) -> None:
    """Undo (-1) or redo (+1)."""
    session = _session()
    session.position = min(max(session.position + by, 0), len(session.history) - 1)
    session.revision += 1
    session.stopped = False


def can_step(by: int) -> bool:
    """Tell whether there is something to undo (-1) or redo (+1)."""
    session = _session()
    return 0 <= session.position + by < len(session.history)


def is_unsaved() -> bool:
    """Tell whether the open case differs from what was opened or saved last."""
    return case_fingerprint(current_case()) != _session().saved_fingerprint


def text_to_save() -> str:
    """Write the open case as it will be saved."""
    return case_text(current_case())


def mark_saved() -> None:
    """Note that the open case was saved."""
    _session().saved_fingerprint = case_fingerprint(current_case())


# ---- evaluation ---------------------------------------------------------------------------------------------------


@st.cache_resource(max_entries=1, show_spinner=False)
def _shared() -> dict[tuple[str, int, int], Evaluation]:
    """Keep evaluations for all sessions, so that reloading the page does not compute again."""
    return {}


def known_evaluation() -> Evaluation | None:
    """Give the evaluation of exactly the open case and draws, if there is one."""
    session, case = _session(), current_case()
    last = session.evaluation
    if last is not None and last.case is case and last.draws == session.draws:
        return last
    found = _shared().get((case_fingerprint(case), session.draws, DEFAULT_SEED))
    if found is not None:
        session.evaluation = found
    return found


def last_evaluation() -> Evaluation | None:
    """Give the evaluation computed before, from which unchanged machines are taken over."""
    return _session().evaluation


def keep_evaluation(evaluation: Evaluation) -> None:
    """Keep a finished evaluation; of all sessions the last four stay."""
    _session().evaluation = evaluation
    shared = _shared()
    shared[(evaluation.fingerprint, evaluation.draws, evaluation.seed)] = evaluation
    while len(shared) > 4:
        shared.pop(next(iter(shared)))


def stop_computing() -> None:
    """Do not compute again until asked to."""
    _session().stopped = True


def resume_computing() -> None:
    """Compute again."""
    _session().stopped = False


def is_stopped() -> bool:
    """Tell whether the person stopped the computation."""
    return _session().stopped


# ---- choices of the reader ----------------------------------------------------------------------------------------


def unit_system() -> str:
    """Give "metric" or "US"."""
    return _session().system


def draws() -> int:
    """Give the number of draws."""
    return _session().draws


def set_from_widget(name: str, widget_key: str) -> None:
    """Take over a widget's value as the unit system, the draws, or a choice remembered across pages."""
    value = st.session_state.get(widget_key)
    session = _session()
    if value is None:
        return
    if name == "system":
        session.system = value
    elif name == "draws":
        session.draws, session.stopped = value, False
    else:
        session.choices[name] = value


def change_from_widget(field_name: str, widget_key: str) -> None:
    """Write a widget's list into a field of the case, as one undoable step."""
    change(**{field_name: tuple(st.session_state[widget_key])})


def choice(name: str, options: Sequence[T], default: T) -> T:
    """Give what was chosen before under a name, or the default when that is no longer offered."""
    found = _session().choices.get(name, default)
    return next((option for option in options if option == found), default)


def remember(name: str, value: object) -> None:
    """Set a choice, as a link from another screen does."""
    _session().choices[name] = value
