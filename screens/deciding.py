"""The decision of the open case, its trials counted; computed once and kept until something it rests on changes."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

import streamlit as st

from catalog_schema.priorities import Priorities
from model.certainty import Certainty, certainty
from model.decision import Decision, decide
from model.evaluate import Evaluation
from model.trials import TrialSummary, weigh_trials, with_trials
from screens import case_state, computing, parts
from screens.progress import watched
from screens.shared_results import SharedResults

T = TypeVar("T")

MOST_KEPT = 24
"""Decisions, weights of trials and certainties together, of all sessions: some hundred kB each."""
MOST_EVALUATIONS = 4
"""After trials: tens of MB each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """What the decision screens share."""

    before: Evaluation
    """The evaluation before any trial."""
    after: Evaluation
    """The evaluation after the trials of the case; the same one without trials."""
    trials: TrialSummary
    """What the trials say."""
    decision: Decision
    """The ranking."""


@st.cache_resource(max_entries=1, show_spinner=False)
def _kept() -> SharedResults[tuple[str, ...], object]:
    """Keep what takes long, for all sessions; keys hold all that it depends on."""
    return SharedResults(MOST_KEPT)


@st.cache_resource(max_entries=1, show_spinner=False)
def _after() -> SharedResults[str, Evaluation]:
    """Keep the last evaluations after trials, for all sessions."""
    return SharedResults(MOST_EVALUATIONS)


def _machines_key(evaluation: Evaluation) -> str:
    digest = hashlib.blake2b(digest_size=16)
    for outcome in evaluation.machines:
        digest.update(outcome.fingerprint.encode())
    for trial in evaluation.case.trials:
        digest.update(trial.model_dump_json().encode())
    return digest.hexdigest()


def _weighed(before: Evaluation) -> TrialSummary:
    if not before.case.trials:
        return weigh_trials(before)
    key = ("weights", _machines_key(before))
    known = _kept().get(key)
    if not isinstance(known, TrialSummary):
        known = weigh_trials(before)
        _kept().put(key, known)
    return known


def _after_trials(before: Evaluation, summary: TrialSummary) -> Evaluation:
    """Compute all machines again from the draws that the trials left, with progress, once per set of trials."""
    if summary.used == 0:
        return before
    key = _machines_key(before)
    known = _after().get(key)
    if known is None:
        with watched("trials", "machines counted with the trials") as watch:
            after = with_trials(before, summary, progress=watch)
        _after().put(key, after)
        return after
    # The key leaves out what no machine depends on, such as the case's name: that is this session's own.
    return replace(known, case=before.case, library=before.library, fingerprint=before.fingerprint)


def decided() -> Decided | None:
    """Give the decision of the open case; say what is missing, and give None, where there is nothing to decide."""
    case = case_state.current_case()
    if not case.board_types:
        parts.no_boards("there is nothing to decide on")
        return None
    before = computing.current_evaluation()
    if not before.machines:
        st.warning("This case has no offers and compares with no class. Add classes on the Machines screen.")
        return None
    summary = _weighed(before)
    after = _after_trials(before, summary)
    classes = case_state.choice("rank-classes", (False, True), False)
    decision = _decision(before, after, case.priorities, classes)
    return Decided(before=before, after=after, trials=summary, decision=decision)


def _decision(before: Evaluation, after: Evaluation, priorities: Priorities, classes: bool) -> Decision:
    """Rank by the priorities of the open case: an evaluation kept from before may carry older ones."""
    key = ("decision", _machines_key(before), priorities.model_dump_json(), str(classes))
    known = _kept().get(key)
    if not isinstance(known, Decision):
        known = decide(after, include_classes=classes, priorities=priorities)
        _kept().put(key, known)
    return known


def kept(found: Decided, name: str, make: Callable[[], T]) -> T:
    """Give what follows from a decision and from nothing else but its name, computed once for all sessions."""
    priorities = found.decision.priorities.model_dump_json()
    # Machines carry no names of boards and fluids in their fingerprints where no result rests on them; sentences do.
    key = (name, found.after.fingerprint, _machines_key(found.before), priorities,
           " ".join(found.decision.table.machine_ids))  # fmt: skip
    known: T | None = _kept().get(key)  # type: ignore[assignment]
    if known is None:
        known = make()
        _kept().put(key, known)
    return known


def sure(found: Decided) -> Certainty:
    """Give how sure the decision is."""
    return kept(found, "certainty", lambda: certainty(found.decision))


def classes_switch() -> None:
    """Let the reader rank generic classes beside the offers."""
    key = "rank-classes-widget"
    st.toggle("Rank machine classes beside the offers", value=case_state.choice("rank-classes", (False, True), False),
              key=key, on_change=case_state.set_from_widget, args=("rank-classes", key))  # fmt: skip


def answer(found: Decided) -> bool:
    """Write the answer in words, then what stands in its way; tell whether any machine is left."""
    st.markdown(f"**{parts.plain(found.decision.headline)}**")
    if found.decision.average_sentence:
        st.markdown(parts.plain(found.decision.average_sentence))
    if not found.decision.weights_stated:
        st.info("Nobody has given weights yet: all criteria count alike.")
    if found.trials.findings:
        parts.note(parts.plain(found.trials.headline))
    return bool(found.decision.ranking.order)


def ruled_out(found: Decided) -> None:
    """List the machines that are not ranked, grey, each with its reason."""
    listed = found.decision.table.ruled_out
    if not listed:
        return
    st.subheader("Not ranked: ruled out")
    system, currency = case_state.unit_system(), found.after.case.plant.currency
    st.markdown("\n".join(
        f"- :gray[✕ **{parts.plain(one.name)}**: {parts.plain(one.reason.text(system, currency))}]" for one in listed
    ))  # fmt: skip
