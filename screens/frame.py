"""What stands beside every screen: the open case, opening and saving, undo, units."""

from __future__ import annotations

import streamlit as st

from screens import case_state
from screens.parts import plain

SYSTEMS = ("metric", "US")
DRAWS = (128, 512, 2048)


STYLE = """<style>
.stMainBlockContainer { padding: 2.5rem clamp(1rem, 3vw, 4rem) 4rem; max-width: 1300px; }
.st-key-written-verdicts td *, .st-key-written-musts td * { max-width: none !important; }
.st-key-written-verdicts td:first-child { width: 22%; }
.st-key-written-verdicts td:last-child { width: 60%; }
.st-key-written-musts td:last-child { width: 55%; }
</style>"""
"""Uses the window's width, of which the framework leaves half empty, and gives findings most of a table's."""


def sidebar() -> None:
    """Draw the side panel."""
    st.html(STYLE)
    case = case_state.current_case()
    with st.sidebar:
        mark = " · :orange-badge[● not saved]" if case_state.is_unsaved() else ""
        st.markdown(f"**{plain(case.name)}**{mark}")
        with st.container(horizontal=True):
            st.button("Undo", on_click=case_state.step, args=(-1,), disabled=not case_state.can_step(-1),
                      help="Back to the case before the last change or opening.")  # fmt: skip
            st.button("Redo", on_click=case_state.step, args=(1,), disabled=not case_state.can_step(1))
            st.download_button("Save", case_state.text_to_save, file_name=f"{file_stem(case.name)}.yaml",
                               mime="application/yaml", on_click=case_state.mark_saved,
                               help="Save the case as a file that can be sent and opened again.")  # fmt: skip
        with st.expander("Open another case"):
            _opening()
        _setting("Units", "system", SYSTEMS, case_state.unit_system(), "Every number is shown in these units.")
        _setting("Draws", "draws", DRAWS, case_state.draws(),
                 "How often uncertain numbers are drawn. More steady the probabilities and take longer.")  # fmt: skip


def _opening() -> None:
    for name in case_state.DEMOS:
        st.button(f"Demo: {name}", on_click=case_state.open_demo, args=(name,), width="stretch")
    key = f"upload-{case_state.revision()}"
    st.file_uploader("Own case file", type=["yaml", "yml"], key=key, on_change=case_state.open_upload, args=(key,),
                     max_upload_size=2, help="What is open stays one Undo away.")  # fmt: skip


def _setting(label: str, name: str, options: tuple[object, ...], now: object, help: str) -> None:
    key = f"setting-{name}"
    st.segmented_control(label, options, default=now, required=True, key=key, help=help,
                         on_change=case_state.set_from_widget, args=(name, key))  # fmt: skip


def file_stem(name: str) -> str:
    """Turn a case's name into a file name that every system takes."""
    letters = "".join(letter if letter.isalnum() else "-" for letter in name.lower())
    return "-".join(part for part in letters.split("-") if part)[:60] or "case"
