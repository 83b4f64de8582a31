"""Screen: a quick answer from four choices, before any case exists."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from catalog_schema.boards import Alloy
from catalog_schema.library import load_library
from model.quick_answer import QuickAnswer, quick_answer
from screens import case_state, clearing, explaining, parts, tables, verdict_rows

CHOICE_PIXELS = 250
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
    # They stand side by side in a wide window and two by two in a narrow one.
    with st.container(horizontal=True):
        columns = [st.container(width=CHOICE_PIXELS) for _ in range(4)]
    with columns[0]:
        classes = {one.id: one.name for one in library.machine_classes if one.principle not in ("service", "none")}
        machine = parts.choose("Kind of machine", list(classes), "quick-machine", shown=classes.__getitem__,
                               help="A generic class with wide ranges and no maker behind it.")  # fmt: skip
    with columns[1]:
        kinds = {one.id: one.name for one in library.component_kinds}
        component = parts.choose("Tightest component", list(kinds), "quick-component", default="qfn-7x7",
                                 shown=kinds.__getitem__,
                                 help="The one with the longest way for the fluid in the narrowest gap: what washes "
                                      "clean under it washes clean elsewhere.")  # fmt: skip
    with columns[2]:
        fluxes = {one.id: one.name for one in library.flux_kinds}
        flux = parts.choose("Flux", list(fluxes), "quick-flux", shown=fluxes.__getitem__,
                            help="By its J-STD-004 designator. It decides which "
                             "fluids dissolve the residue at all.")  # fmt: skip
    with columns[3]:
        alloy = parts.choose("Alloy", ALLOYS, "quick-alloy",
                             help="A hotter alloy bakes the residue harder, and it dissolves more slowly.")  # fmt: skip
    answer = _answer(machine, component, flux, alloy)
    _verdict(answer)
    board = answer.outcome.boards[0]
    clearing.section(answer.evaluation, answer.outcome, board)
    parts.caution()


def _verdict(answer: QuickAnswer) -> None:
    system = case_state.unit_system()
    st.subheader(f"{parts.plain(answer.headline)} {parts.badge(answer.outcome.result)}", anchor=False)
    musts = [one.requirement for one in answer.deciding]
    currency = answer.case.plant.currency
    with st.container(border=True, gap="small"):
        for number, must in enumerate(musts):
            badge, finding, help_place = parts.finding_row()
            badge.markdown(parts.badge(must.result))
            finding.markdown(f"**{parts.plain(must.title)}**  \n{parts.plain(must.sentence.text(system))}  \n"
                             f":small[{parts.plain(verdict_rows.figures_line(must, system, currency))}]")  # fmt: skip
            with help_place:
                explaining.what_is(explaining.MUSTS, must.key, must.title, f"quick-{number}")
    plain = pd.DataFrame([
        {"Result": must.result, "Must": must.title, "Finding": must.sentence.text(system)} for must in musts
    ])  # fmt: skip
    with st.container(horizontal=True):
        st.button("Make this my case", type="primary", on_click=case_state.adopt, args=(answer.case,),
                  help="Opens it as the case on all other screens; replace its starter values there.")  # fmt: skip
        parts.sources_button(answer.evaluation, answer.outcome, answer.headline, "quick",
                             board_id=answer.outcome.boards[0].board_id,
                             fluid_id=answer.outcome.boards[0].chosen.fluid_id,
                             label="Sources of these numbers")  # fmt: skip
        tables.download(plain, "quick-answer")
