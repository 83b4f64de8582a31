"""What stands beside every screen: the open case, opening and saving, undo, units."""

from __future__ import annotations

from datetime import UTC, datetime

import streamlit as st

from catalog_schema.drafts import Draft
from screens import case_state, draft_keeping
from screens.field_shapes import field_label
from screens.parts import plain

SYSTEMS = ("metric", "US")
DRAWS = (128, 512, 2048)


STYLE = """<style>
.stMainBlockContainer { padding: 2.5rem clamp(1rem, 3vw, 4rem) 4rem; max-width: 1300px; }
[data-testid="stSidebarHeader"] { height: 2.2rem; padding-bottom: 0; }
[data-testid="stSidebarNavLink"] { margin: 0; padding: 0 0.5rem; line-height: 1.6rem; min-height: 1.6rem; }
[data-testid="stSidebarNavItems"] li { margin: 0; }
[data-testid="stSidebarNavItems"] > div { margin-top: 0.3rem; }
[data-testid="stNavSectionHeader"] { margin: 0.2rem 0 0; padding-top: 0; }
[data-testid="stSidebarUserContent"] { padding-top: 0.8rem; }
[data-testid="stBaseButton-tertiary"] p { text-decoration: underline; text-underline-offset: 0.2em; }
.st-key-written-verdicts td *, .st-key-written-musts td * { max-width: none !important; }
.st-key-written-verdicts td:first-child { width: 22%; }
.st-key-written-verdicts td:last-child { width: 60%; }
.st-key-written-musts td:last-child { width: 55%; }
.st-key-written-demands td *, .st-key-written-prices td * { max-width: none !important; }
.st-key-written-questions td *, .st-key-written-trials td * { max-width: none !important; }
.st-key-written-demands td:last-child { width: 48%; }
.st-key-written-cycles td *, .st-key-written-timeline td * { max-width: none !important; }
.st-key-written-cycles td:last-child { width: 44%; }
.st-key-written-prices td:last-child { width: 45%; }
</style>"""
"""Uses the window's width, of which the framework leaves half empty, and gives findings most of a table's.

The menu is set close, so that the case's name and the mark of unsaved work stay in sight below it."""


DARK_STYLE = """<style>
[data-testid^="stBaseButton-primary"] p { color: #10222A; }
</style>"""
"""On dark paper the main colour is light, to be readable as text; text upon it must then be dark."""


def sidebar() -> None:
    """Draw the side panel."""
    st.html(STYLE)
    if st.context.theme.type == "dark":
        st.html(DARK_STYLE)
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
                               help="Download the case as a file that can be sent and opened again.")  # fmt: skip
        if (file := case_state.file_to_save()) is not None:
            st.button(f"Save to {plain(file.name)}", on_click=case_state.save_to_file, width="stretch",
                      disabled=not case_state.is_unsaved(),
                      help="The version before is kept beside it, its name ending in .previous.")  # fmt: skip
        _trouble()
        _drafts()
        with st.expander("Open another case"):
            _opening()
        _setting("Units", "system", SYSTEMS, case_state.unit_system(), "Every number is shown in these units.")
        _setting("Draws", "draws", DRAWS, case_state.draws(),
                 "How often uncertain numbers are drawn. More steady the probabilities and take longer.")  # fmt: skip


def _trouble() -> None:
    name, problems = case_state.refusal()
    if problems:
        st.error(f"{plain(name)}: {len(problems)} problem{'s' if len(problems) > 1 else ''}, listed on the screen. "
                 f"First: {plain(problems[0].message)}")  # fmt: skip
    refused = case_state.refused_paths()
    if refused:
        named = [field_label(path).lower() for path in refused if "." in path][:3]
        entries = "1 entry was" if len(refused) == 1 else f"{len(refused)} entries were"
        st.warning(f"{entries} not taken over{': ' if named else ''}{plain(', '.join(named))}.")
    if case_state.draft_trouble():
        st.warning(f"No draft is kept: {plain(case_state.draft_trouble())}")


def _drafts() -> None:
    """Offer what an earlier session left unsaved."""
    drafts = case_state.drafts_offered()
    if not drafts:
        return
    with st.container(border=True, key="drafts", gap="small"):
        st.markdown("**Unsaved work** of an earlier session or of another tab")
        _draft(drafts[0])
        if len(drafts) > 1:
            with st.expander(f"Older: {len(drafts) - 1}"):
                for draft in drafts[1:]:
                    _draft(draft)


def _draft(draft: Draft) -> None:
    name = plain(draft.case_name) if draft.readable else "damaged draft"
    st.markdown(f"{name}  \n:small[{_age(draft.saved_at)}]")
    with st.container(horizontal=True):
        if draft.readable:
            st.button("Continue", key=f"continue-{draft.session}", on_click=case_state.continue_draft, args=(draft,),
                      help="What is open stays one Undo away.")  # fmt: skip
        st.button("Discard", key=f"discard-{draft.session}", on_click=case_state.discard_draft, args=(draft,))


def _age(when: datetime) -> str:
    minutes = int((datetime.now(UTC) - when).total_seconds() // 60)
    for size, word in ((1440, "day"), (60, "hour"), (1, "minute")):
        if minutes >= size:
            number = minutes // size
            return f"{number} {word}{'s' if number > 1 else ''} ago"
    return "just now"


def _opening() -> None:
    st.button("Start empty", on_click=case_state.open_empty, width="stretch",
              help="A plant of rough estimates to be replaced by your own, no boards, no offers.")  # fmt: skip
    for name in case_state.DEMOS:
        st.button(f"Demo: {name}", on_click=case_state.open_demo, args=(name,), width="stretch")
    if (asked := draft_keeping.started_with()) is not None:
        st.button(f"{plain(asked.name)} as it is now", on_click=case_state.open_started_file, width="stretch")
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
