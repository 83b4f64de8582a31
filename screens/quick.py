"""Screen: a quick answer from four choices, before any case exists."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from catalog_schema.boards import Alloy
from catalog_schema.library import load_library
from model.quick_answer import QuickAnswer, quick_answer
from screens import case_state, clearing, parts, rows, tables

ALLOYS: tuple[Alloy, ...] = ("lead-free", "tin-lead", "low-temperature")


@st.cache_resource(max_entries=64, show_spinner=False)
def _answer(machine_class: str, component: str, flux: str, alloy: Alloy) -> QuickAnswer:
    return quick_answer(machine_class, component, flux, alloy)


def page() -> None:
    """Draw the screen."""
    st.title("Quick answer")
    st.markdown("Can this kind of machine clean this kind of board? Four choices; everything else is a rough starter "
                "value, marked as such, until you make it your own.")  # fmt: skip
    library = load_library()
    columns = st.columns([3, 3, 2, 2])
    with columns[0]:
        classes = {one.id: one.name for one in library.machine_classes if one.principle not in ("service", "none")}
        machine = parts.choose("Kind of machine", list(classes), "quick-machine", shown=classes.__getitem__)
    with columns[1]:
        kinds = {one.id: one.name for one in library.component_kinds}
        component = parts.choose("Tightest component", list(kinds), "quick-component", default="qfn-7x7",
                                 shown=kinds.__getitem__)  # fmt: skip
    with columns[2]:
        fluxes = {one.id: one.name for one in library.flux_kinds}
        flux = parts.choose("Flux", list(fluxes), "quick-flux", shown=fluxes.__getitem__,
                            help="By its J-STD-004 designator.")  # fmt: skip
    with columns[3]:
        alloy = parts.choose("Alloy", ALLOYS, "quick-alloy")
    answer = _answer(machine, component, flux, alloy)
    _verdict(answer)
    board = answer.outcome.boards[0]
    st.button("Make this my case", type="primary", on_click=case_state.adopt, args=(answer.case,),
              help="Opens it as the case on all other screens; the starter values are yours to replace.")  # fmt: skip
    clearing.section(answer.evaluation, answer.outcome, board)
    parts.caution()


def _verdict(answer: QuickAnswer) -> None:
    system = case_state.unit_system()
    st.subheader(parts.plain(answer.headline))
    st.markdown(parts.badge(answer.outcome.result))
    musts = [one.requirement for one in answer.deciding]
    frame = pd.DataFrame({
        "Result": [f"{parts.badge(must.result)} {rows.percent(must.probability)}" for must in musts],
        "Deciding must and finding": [
            f"**{parts.plain(must.title)}**. {parts.plain(must.sentence.text(system))}" for must in musts
        ],
    })  # fmt: skip
    st.table(frame, hide_index=True, border="horizontal", alt="Deciding musts")
    plain = pd.DataFrame([
        {"Result": must.result, "Must": must.title, "Finding": must.sentence.text(system)} for must in musts
    ])  # fmt: skip
    tables.download(plain, "quick-answer")
    parts.sources_button(answer.evaluation, answer.outcome, answer.headline, "quick",
                         board_id=answer.outcome.boards[0].board_id, fluid_id=answer.outcome.boards[0].chosen.fluid_id,
                         label="Sources of these numbers")  # fmt: skip
