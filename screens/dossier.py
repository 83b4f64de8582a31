"""Screen: the printable document for the purchase request, looked at and taken away as HTML or PDF."""

from __future__ import annotations

import datetime

import streamlit as st
import streamlit.components.v1 as components

from model.dossier import dossier_html
from model.dossier_pdf import PAPERS, Paper, PdfError, dossier_pdf, find_browser
from screens import case_state, deciding, parts
from screens.deciding import Decided
from screens.frame import file_stem

HOLDS = (
    "job and board mix, what the boards demand, what is ruled out and why, shortlist and ranking, how sure the answer "
    "is, cost over the life, questions and trial plan, cautions, and every assumption with its basis and source"
)
PREVIEW_HEIGHT = 900


def page() -> None:
    """Draw the screen."""
    parts.header("Dossier", f"One document for the purchase request: {HOLDS}. It reads in black and white on A4 and "
                 "Letter, and needs nothing but itself.")  # fmt: skip
    found = deciding.decided()
    if found is None:
        return
    html = _html(_key(found), found)
    stem = f"{file_stem(found.after.case.name)}-dossier"
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.download_button("Dossier as HTML", html.encode("utf-8"), file_name=f"{stem}.html", mime="text/html",
                           type="primary", on_click="ignore")  # fmt: skip
        if find_browser() is not None:
            paper = parts.choose("Paper", PAPERS, "dossier-paper", default=_usual_paper(), buttons=True)
            wanted = st.button("Make the PDF", help="Chromium on this machine prints it; that takes a few seconds.")
    if find_browser() is None:
        parts.note("No Chromium was found where Washcase runs, so there is no PDF here. Open the HTML in any browser "
                   "and print it to PDF.")  # fmt: skip
    elif wanted:
        _offer_pdf(html, paper, f"{stem}-{paper}.pdf")
    parts.note("It counts trials that were entered, and uses the units and draws chosen at the side.")
    st.subheader("Preview")
    _preview(html)
    parts.caution()


def _preview(html: str) -> None:
    """Show the document in a frame; its own policy forbids scripts and requests there too."""
    if hasattr(st, "iframe"):
        st.iframe(html, height=PREVIEW_HEIGHT)
    else:
        # Older versions of the framework know the frame by this name only.
        components.html(html, height=PREVIEW_HEIGHT, scrolling=True)


def _usual_paper() -> Paper:
    return "A4" if case_state.unit_system() == "metric" else "Letter"


def _offer_pdf(html: str, paper: Paper, name: str) -> None:
    try:
        with st.spinner("Printing"):
            content = _pdf(html, paper)
    except PdfError as problem:
        st.error(str(problem))
        return
    st.download_button(f"Dossier as PDF, {paper}", content, file_name=name, mime="application/pdf", on_click="ignore")


def _key(found: Decided) -> tuple[str, ...]:
    """Name all that the document depends on, so that it is written once."""
    return (
        str(found.after.draws), found.after.fingerprint, found.decision.priorities.model_dump_json(),
        case_state.unit_system(), datetime.date.today().isoformat(),
        " ".join(outcome.fingerprint for outcome in found.after.machines), " ".join(found.decision.table.machine_ids),
    )  # fmt: skip


@st.cache_data(max_entries=4, show_spinner="Writing the dossier")
def _html(key: tuple[str, ...], _found: Decided) -> str:
    return dossier_html(_found.after, decision=_found.decision, system=key[3], today=key[4])


@st.cache_data(max_entries=4, show_spinner=False)
def _pdf(html: str, paper: Paper) -> bytes:
    return dossier_pdf(html, paper=paper)
