"""Screen: the open case beside an earlier version of it, in its inputs and in its answer."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from catalog_schema import Case, CaseError, case_fingerprint, load_case, parse_case
from catalog_schema.case_compare import compare_cases
from model.answer_compare import compare_answers
from model.evaluate import Evaluation, evaluate
from screens import case_state, computing, field_form, parts, rows, tables
from screens.progress import watched

LAST = "as opened or saved last"
PREVIOUS = "file before the last save"
UPLOAD = "another file"


def page() -> None:
    """Draw the screen."""
    parts.header("Versions", "What changed from an earlier version of the case: in its inputs, and in the answer.")
    offered = [UPLOAD]
    if case_state.previous_file() is not None:
        offered.insert(0, PREVIOUS)
    if case_state.saved_case() is not None:
        offered.insert(0, LAST)
    earlier = _earlier(parts.choose("Earlier version", offered, "earlier-version", buttons=True))
    if earlier is None:
        return
    later = case_state.current_case()
    _inputs(earlier, later)
    if case_fingerprint(earlier) != case_fingerprint(later):
        st.header("What changed in the answer")
        _answers(earlier, later)


def _earlier(which: str) -> Case | None:
    try:
        if which == LAST:
            return case_state.saved_case()
        if which == PREVIOUS:
            previous = case_state.previous_file()
            return None if previous is None else load_case(previous)
        upload = st.file_uploader("Earlier case file", type=["yaml", "yml", "previous"], max_upload_size=2)
        return None if upload is None else parse_case(upload.getvalue(), upload.name)
    except CaseError as refusal:
        field_form.problem(case_state.Refused(given="", messages=tuple(str(one) for one in refusal.problems[:20])))
        return None


def _inputs(earlier: Case, later: Case) -> None:
    changes = compare_cases(earlier, later)
    st.header("What changed in the inputs")
    if not changes:
        st.markdown("Nothing: both say the same.")
        return
    counts = {kind: sum(one.kind == kind for one in changes) for kind in ("added", "removed", "changed")}
    st.markdown(f"**{counts['changed']}** changed, **{counts['added']}** added, **{counts['removed']}** removed.")
    frame = pd.DataFrame([(rows.words(one.path), one.kind, one.before, one.after) for one in changes],
                         columns=["Where", "What", "Earlier", "Now"])  # fmt: skip
    if len(frame) <= 40:
        st.table(frame.map(parts.plain), hide_index=True, border="horizontal", alt="Changed inputs")
        tables.download(frame, "changed-inputs")
    else:
        tables.grid(frame, name="changed-inputs", height=480)


def _answers(earlier: Case, later: Case) -> None:
    if not earlier.board_types or not later.board_types:
        st.markdown("One of the two has no board types, so it has no answer yet.")
        return
    now = computing.current_evaluation()
    changes = compare_answers(_evaluation_of(earlier, now), now)
    if not changes:
        st.markdown("Nothing: every machine has the same result, and its probability moved by less than 1 %.")
        return
    turned = sum(one.before != one.after for one in changes)
    st.markdown(f"**{turned}** machines have another result; {len(changes) - turned} only another probability.")
    frame = pd.DataFrame([
        (one.name, one.before or "not there", rows.percent(one.probability_before), one.after or "not there",
         rows.percent(one.probability_after))
        for one in sorted(changes, key=lambda one: one.before == one.after)
    ], columns=["Machine", "Earlier", "Earlier probability", "Now", "Probability now"])  # fmt: skip
    st.table(frame.map(parts.plain), hide_index=True, border="horizontal", alt="Changed answers")
    tables.download(frame, "changed-answers")


def _evaluation_of(case: Case, now: Evaluation) -> Evaluation:
    known = case_state.known_evaluation_of(case)
    if known is not None:
        return known
    with watched("earlier version", "machines of the earlier version") as watch:
        found = evaluate(case, draws=case_state.draws(), previous=now, progress=watch)
    case_state.share_evaluation(found)
    return found
