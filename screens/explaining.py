"""Help in place: what a must, a criterion or an entry means in two sentences, equation and source one click further."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st
from pydantic import BaseModel

from model.explanations import Explanation, derivations_of, explain_input, load_explanations
from screens import parts

MUSTS, CRITERIA = "requirements", "criteria"


def derivations(explanation: Explanation, *, opened: bool | None = None) -> None:
    """Write equation, validity and source of everything that computes a term, as the program itself states them."""
    first = len(explanation.functions) == 1 if opened is None else opened
    for derived in derivations_of(explanation):
        with st.expander(parts.plain(derived.claim), expanded=first):
            if derived.notes:
                st.text(derived.notes)
            if derived.reference:
                st.text(f"Source: {derived.reference}")
            parts.note(f"Computed by `{derived.function.replace(':', '.')}`.")


def sentences(group: str, key: str) -> str | None:
    """Give the two sentences on a must or criterion; None for one that the users added themselves."""
    found = load_explanations()[group].get(key)
    return None if found is None else parts.plain(found.sentences)


def entry(record: type[BaseModel], field: str) -> str | None:
    """Give the two sentences on an entry, as the help beside it."""
    found = explain_input(record, field)
    return None if found is None else parts.plain(found.sentences)


def what_is(group: str, key: str, title: str, place: str, *, label: str = "What is this?") -> None:
    """Give a small button that explains a term; nothing where the users added it themselves.

    `place` keeps the button apart from others of the same term on the screen.
    """
    found = load_explanations()[group].get(key)
    if found is None:
        return
    with st.popover(label, type="tertiary"):
        st.markdown(f"**{parts.plain(title)}.** {parts.plain(found.sentences)}")
        if st.button("Equation and source", key=f"explain-{place}-{key}"):
            _show(found, title)


def criteria(keys: Sequence[str], names: Sequence[str], place: str) -> None:
    """Give one small button for each criterion, side by side."""
    with st.container(horizontal=True, gap="small"):
        for key, name in zip(keys, names, strict=True):
            what_is(CRITERIA, key, name, place, label=name)


def entries(found: Sequence[tuple[str, Explanation]], place: str) -> None:
    """Give one small button for all entries of a form, each given as its name and what explains it."""
    if found and st.button("What do these mean?", type="tertiary", key=f"meaning-{place}"):
        _show_entries(found)


@st.dialog("What these entries mean", width="large")
def _show_entries(found: Sequence[tuple[str, Explanation]]) -> None:
    for number, (name, explanation) in enumerate(found):
        said, button = st.columns([4, 1.3], vertical_alignment="center")
        said.markdown(f"**{parts.plain(name)}.** {parts.plain(explanation.sentences)}")
        if not explanation.functions:
            continue
        if button.button("Equation and source", type="tertiary", key=f"explain-entry-{number}"):
            derivations(explanation, opened=True)


@st.dialog("How this is computed", width="large")
def _show(explanation: Explanation, title: str) -> None:
    st.markdown(f"**{parts.plain(title)}.** {parts.plain(explanation.sentences)}")
    derivations(explanation)
    parts.note("All musts, criteria and words are on the screen How it computes.")
