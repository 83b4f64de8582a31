"""The open case and everything a person's session keeps; the only file that touches the session state."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import streamlit as st

from catalog_schema import Case, CaseError, Problem, case_fingerprint, case_text, check_case, parse_case
from catalog_schema.drafts import Draft
from catalog_schema.files import starter_case
from catalog_schema.shared_parts import with_parts_of
from model.evaluate import DEFAULT_SEED, Evaluation
from screens import draft_keeping
from screens.draft_keeping import Origin
from screens.server_process import give_back_memory
from screens.session import DEMOS, Refused, Session, Version, demo_case, first_session
from screens.shared_results import SharedResults

T = TypeVar("T")

MOST_UNDO_STEPS = 50
WAITING_STEP_S = 0.3
PATIENCE_S = 20.0
__all__ = ["DEMOS", "Refused"]
"""Passed on to the screens, which know this file only."""


def _session() -> Session:
    if "washcase" not in st.session_state:
        st.session_state["washcase"] = first_session()
    found: Session = st.session_state["washcase"]
    return found


def _version() -> Version:
    session = _session()
    return session.history[session.position]


def current_case() -> Case:
    """Give the open case."""
    return _version().case


def revision() -> int:
    """Count of changes that reseed widgets: opening, undo and redo."""
    return _session().revision


# ---- opening, editing, saving -------------------------------------------------------------------------------------


def _put(case: Case, origin: Origin | None = None) -> None:
    """Make a case the open one; what was open stays one undo away."""
    session = _session()
    shared = with_parts_of(case, current_case())
    version = Version(shared, _version().origin if origin is None else origin)
    session.history = [*session.history[: session.position + 1], version][-MOST_UNDO_STEPS:]
    session.position = len(session.history) - 1
    session.problems, session.refused = (), ""
    session.stopped.clear()
    _keep_draft()


def _keep_draft() -> None:
    session = _session()
    session.draft_trouble = draft_keeping.keep(current_case(), _version().origin, is_unsaved())


def _open(case: Case, origin: Origin | None = None) -> None:
    _put(case, origin or Origin(saved=case))
    session = _session()
    session.revision += 1
    session.choices.clear()
    session.refused_fields.clear()


def open_empty() -> None:
    """Open a case to start from: a plant of rough estimates and nothing else."""
    _open(starter_case())


def open_started_file() -> None:
    """Open the file the program was started with again, as it is now."""
    asked = draft_keeping.started_with()
    if asked is None:
        return
    try:
        _open(*draft_keeping.open_file(asked))
    except CaseError as refusal_met:
        _refuse(refusal_met, asked.name)


def _refuse(refusal_met: CaseError, what: str) -> None:
    session = _session()
    session.problems, session.refused = refusal_met.problems, what


def adopt(case: Case) -> None:
    """Open a case that another screen has made, such as the one behind a quick answer: nobody has saved it yet."""
    _open(case, Origin())


def open_demo(name: str) -> None:
    """Open a shipped demo."""
    _open(demo_case(name))


def open_upload(widget_key: str) -> None:
    """Open the file held by an uploader; when it is refused, keep the open case and note all problems."""
    upload = st.session_state.get(widget_key)
    if upload is None:
        return
    try:
        _open(parse_case(upload.getvalue(), upload.name))
    except CaseError as refusal_met:
        _refuse(refusal_met, upload.name)


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
        _refuse(refusal_met, "this change")


def edit(act: Callable[[Case], Case], at: str, given: object = None) -> bool:
    """Replace the open case by an edited one, as one undoable step.

    When the edit is refused the case stays, and the entry with the reason is kept under `at` for `refused_at`.
    """
    session, case = _session(), current_case()
    try:
        edited = act(case)
    except CaseError as refusal_met:
        session.refused_fields[at] = Refused(
            given=given, messages=tuple(problem.message for problem in refusal_met.problems[:10])
        )
        return False
    session.refused_fields.pop(at, None)
    if edited is not case and edited != case:
        _put(edited)
    return True


def refused_at(at: str) -> Refused | None:
    """Give the entry refused at a place, if its last one was."""
    return _session().refused_fields.get(at)


def refuse_at(at: str, given: object, messages: Sequence[str]) -> None:
    """Keep, or with no messages forget, an entry refused at a place."""
    refused = _session().refused_fields
    refused.pop(at, None)
    if messages:
        refused[at] = Refused(given=given, messages=tuple(messages))


def forget_refused_in(prefix: str) -> None:
    """Forget what was refused below a path, as when its record goes."""
    refused = _session().refused_fields
    for at in [at for at in refused if at.startswith(prefix)]:
        del refused[at]


def refused_paths() -> tuple[str, ...]:
    """List the places whose last entry was refused."""
    return tuple(_session().refused_fields)


def reseed() -> None:
    """Make every widget take its value from the case again."""
    _session().revision += 1


def widget_value(widget_key: str, default: T | None = None) -> object:
    """Give what a widget holds, inside its own callback."""
    return st.session_state.get(widget_key, default)


def show_in_widget(widget_key: str, value: object) -> None:
    """Let a widget that is about to be drawn show a value.

    One that shows it already is left alone: to set it again would take back what its owner has done meanwhile.
    """
    if st.session_state.get(widget_key) != value:
        st.session_state[widget_key] = value


def is_drawn(widget_key: str) -> bool:
    """Tell whether a widget lives: one that was not drawn in the last run has lost its value."""
    return widget_key in st.session_state


def kept(name: str, make: Callable[[], T]) -> T:
    """Give an object that a screen keeps for this session, made at the first call and gone when a case is opened."""
    choices = _session().choices
    if name not in choices:
        choices[name] = make()
    found: T = choices[name]  # type: ignore[assignment]
    return found


def step(by: int) -> None:
    """Undo (-1) or redo (+1)."""
    session = _session()
    session.position = min(max(session.position + by, 0), len(session.history) - 1)
    session.revision += 1
    session.stopped.clear()
    session.refused_fields.clear()
    _keep_draft()


def can_step(by: int) -> bool:
    """Tell whether there is something to undo (-1) or redo (+1)."""
    session = _session()
    return 0 <= session.position + by < len(session.history)


def is_unsaved() -> bool:
    """Tell whether the open case differs from what was opened or saved last."""
    version = _version()
    return not version.origin.holds(version.known_by())


def saved_case() -> Case | None:
    """Give the case as opened or saved last, if it was."""
    return _version().origin.saved


def text_to_save() -> str:
    """Write the open case as it will be saved."""
    return case_text(current_case())


def mark_saved() -> None:
    """Note that the open case was saved."""
    _version().origin.saved = current_case()
    _keep_draft()


def file_to_save() -> Path | None:
    """Give the file of this machine that the open case was opened from, if it was."""
    return _version().origin.file


def previous_file() -> Path | None:
    """Give the file with the version before the last save, if there is one."""
    return _version().origin.previous_file()


def save_to_file() -> None:
    """Save to the file the case was opened from; say so when someone else saved there in between."""
    try:
        draft_keeping.save_to_file(current_case(), _version().origin)
    except CaseError as refusal_met:
        _refuse(refusal_met, "Saving")
        return
    forget_refusal()
    _keep_draft()


# ---- drafts -------------------------------------------------------------------------------------------------------


def drafts_offered() -> tuple[Draft, ...]:
    """List the drafts of earlier sessions that this one was offered and did not answer yet."""
    return _session().drafts


def draft_trouble() -> str:
    """Say why the last draft could not be kept, or nothing."""
    return _session().draft_trouble


def continue_draft(draft: Draft) -> None:
    """Open a draft; from then on it is kept under this session's name."""
    try:
        case, origin = draft_keeping.restore(draft)
    except CaseError as refusal_met:
        _refuse(refusal_met, draft.case_name or "The draft")
        return
    _open(case, origin)
    discard_draft(draft)


def discard_draft(draft: Draft) -> None:
    """Delete a draft for good."""
    draft_keeping.discard(draft)
    session = _session()
    session.drafts = tuple(other for other in session.drafts if other.session != draft.session)


# ---- evaluation ---------------------------------------------------------------------------------------------------


@st.cache_resource(max_entries=1, show_spinner=False)
def _shared() -> SharedResults[tuple[str, int, int], Evaluation]:
    """Keep the last four evaluations for all sessions, so that reloading the page does not compute again."""
    return SharedResults(4)


def known_evaluation() -> Evaluation | None:
    """Give the evaluation of exactly the open case and draws, if there is one."""
    session, case = _session(), current_case()
    last = session.evaluation
    if last is not None and last.case is case and last.draws == session.draws:
        return last
    found = _found_shared(case)
    if found is not None:
        session.evaluation = found
    return found


def _found_shared(case: Case) -> Evaluation | None:
    found = _shared().get((case_fingerprint(case), _session().draws, DEFAULT_SEED))
    # Fingerprints are short; what another session computed counts only for a case that is the same throughout.
    return replace(found, case=case) if found is not None and found.case == case else None


def known_evaluation_of(case: Case) -> Evaluation | None:
    """Give the evaluation of another case with the same draws, if any session still has it."""
    return _found_shared(case)


def last_evaluation() -> Evaluation | None:
    """Give an evaluation computed before, from which machines that are the same throughout are taken over."""
    return _session().evaluation or _shared().latest()


@st.cache_resource(max_entries=1, show_spinner=False)
def _turns() -> dict[bool, threading.Lock]:
    """Give the locks that a session's first evaluation (True) and a later one hold, the same for all sessions."""
    return {True: threading.Lock(), False: threading.Lock()}


@contextlib.contextmanager
def evaluation_turn(waiting: Callable[[], None]) -> Iterator[None]:
    """Let sessions evaluate one after the other.

    Those that have no evaluation yet each take over what the one before has computed. Edits evaluated side by side
    would all be done as late as the last, and keep everybody's sliders waiting; none waits longer than PATIENCE_S,
    as the one at work may be a large case. `waiting` is called while others have their turn; it may raise to stop.
    """
    first = _session().evaluation is None
    turn, began = _turns()[first], time.monotonic()
    mine = turn.acquire(timeout=WAITING_STEP_S)
    while not mine and (first or time.monotonic() - began < PATIENCE_S):
        waiting()
        mine = turn.acquire(timeout=WAITING_STEP_S)
    try:
        yield
    finally:
        if mine:
            turn.release()


def keep_evaluation(evaluation: Evaluation) -> None:
    """Keep the finished evaluation of the open case; of all sessions the last four stay."""
    _session().evaluation = evaluation
    share_evaluation(evaluation)
    give_back_memory()


def share_evaluation(evaluation: Evaluation) -> None:
    """Keep the evaluation of a case that need not be the open one."""
    _shared().put((evaluation.fingerprint, evaluation.draws, evaluation.seed), evaluation)


def derived(evaluation: Evaluation, name: str, make: Callable[[], T]) -> T:
    """Give what follows from an evaluation and from nothing else but its name, made once as long as it is shown."""
    session = _session()
    if session.derived_from is not evaluation:
        session.derived_from, session.derived = evaluation, {}
    if name not in session.derived:
        session.derived[name] = make()
    found: T = session.derived[name]  # type: ignore[assignment]
    return found


def stop(work: str) -> None:
    """Do not take up some work again until asked to, or until the case changes."""
    _session().stopped.add(work)


def resume(work: str) -> None:
    """Take it up again."""
    _session().stopped.discard(work)


def is_stopped(work: str) -> bool:
    """Tell whether the person stopped some work."""
    return work in _session().stopped


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
        session.draws = value
        session.stopped.clear()
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
