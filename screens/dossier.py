"""Screen: the printable document for the purchase request, looked at and taken away as HTML or PDF."""

from __future__ import annotations

import datetime
import hashlib
import time

import streamlit as st
import streamlit.components.v1 as components

from model.demand_records import Conditions
from model.dossier import dossier_html
from model.dossier_pdf import PAPERS, Paper, PdfError, dossier_pdf, find_browser
from screens import case_state, deciding, parts
from screens.deciding import Decided
from screens.demands import demands_under
from screens.frame import file_stem
from screens.progress import watched
from screens.shared_results import SharedResults

HOLDS = (
    "job and board mix, what the boards demand, what is ruled out and why, shortlist and ranking, how sure the answer "
    "is, cost over the life, questions and trial plan, cautions, and every assumption with its basis and source"
)
PREVIEW_HEIGHT = 900
PRINTING = "printing the dossier"
USUAL_PACE_S = 1.1e-5
"""Seconds a character takes to print before any was printed here."""


def page() -> None:
    """Draw the screen."""
    parts.header("Dossier", f"One document for the purchase request: {HOLDS}. It reads in black and white on A4 and "
                 "Letter, and needs nothing but itself.")  # fmt: skip
    found = deciding.decided()
    if found is None:
        return
    html = _html(found)
    stem = f"{file_stem(found.after.case.name)}-dossier"
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.download_button("Dossier as HTML", html.encode("utf-8"), file_name=f"{stem}.html", mime="text/html",
                           type="primary", on_click="ignore")  # fmt: skip
        if find_browser() is not None:
            paper = parts.choose("Paper", PAPERS, "dossier-paper", default=_usual_paper(), buttons=True)
            place = st.empty()
            wanted = place.button("Make the PDF", on_click=case_state.resume, args=(PRINTING,),
                                  help="Chromium on this machine prints it; that takes a few seconds.")  # fmt: skip
    if find_browser() is None:
        parts.note("No Chromium was found where Washcase runs, so there is no PDF here. Open the HTML in any browser "
                   "and print it to PDF.")  # fmt: skip
    else:
        _pdf(html, paper, f"{stem}-{paper}.pdf", place, wanted)
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


def _pdf(html: str, paper: Paper, name: str, place: st.delta_generator.DeltaGenerator, wanted: bool) -> None:
    """Offer the PDF where it is made already, or make it now, in place of the button that asks for it."""
    key = ("PDF", hashlib.blake2b(html.encode("utf-8")).hexdigest(), paper)
    content = _kept().get(key)
    if content is None and wanted:
        try:
            content = _printed(html, paper)
        except PdfError as problem:
            st.error(str(problem))
            return
        _kept().put(key, content)
    if content is not None:
        place.download_button(f"Dossier as PDF, {paper}", content, file_name=name, mime="application/pdf",
                              on_click="ignore")  # fmt: skip


def _printed(html: str, paper: Paper) -> bytes:
    expected_s = max(1.0, len(html) * (_pace().get(PRINTING) or USUAL_PACE_S))
    started = time.monotonic()
    with watched(PRINTING, "pages") as watch:
        content = dossier_pdf(html, paper=paper, waiting=lambda spent_s: watch.expect(
            expected_s - spent_s, min(spent_s / expected_s, 0.95), "Printing"))  # fmt: skip
    _pace().put(PRINTING, (time.monotonic() - started) / len(html))
    return content


@st.cache_resource(max_entries=1, show_spinner=False)
def _kept() -> SharedResults[tuple[str, ...], bytes]:
    """Keep the last documents for all sessions; keys hold all that they depend on."""
    return SharedResults(8)


@st.cache_resource(max_entries=1, show_spinner=False)
def _pace() -> SharedResults[str, float]:
    """Keep how many seconds a character of the last document took to print."""
    return SharedResults(1)


def _html(found: Decided) -> str:
    system, today = case_state.unit_system(), datetime.date.today().isoformat()
    key = (
        "HTML", str(found.after.draws), found.after.fingerprint, found.decision.priorities.model_dump_json(), system,
        today, " ".join(outcome.fingerprint for outcome in found.after.machines),
        " ".join(found.decision.table.machine_ids),
    )  # fmt: skip
    known = _kept().get(key)
    if known is None:
        try:
            demands = demands_under(found.after.case, Conditions())
        except ValueError:
            demands = None  # the dossier itself says why
        with watched("dossier", "sections of the dossier") as watch:
            known = dossier_html(found.after, decision=found.decision, system=system, today=today, demands=demands,
                                 progress=watch).encode("utf-8")  # fmt: skip
        _kept().put(key, known)
    return known.decode("utf-8")
