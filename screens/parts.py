"""Pieces that every screen shares: badge, notices, choices that last, and where numbers come from."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from typing import TypeVar

import pandas as pd
import streamlit as st

from model.evaluate import Evaluation, MachineOutcome
from model.json_output import CAUTION
from model.provenance import inputs_behind
from screens import case_state, rows, tables
from screens.plain_text import plain

T = TypeVar("T")

__all__ = ["plain"]
"""Passed on to the screens."""

BADGES = {
    "meets": ":blue-badge[✓ meets]", "falls short": ":orange-badge[✕ falls short]", "unknown": ":gray-badge[? unknown]",
}  # fmt: skip
"""Word, symbol and colour together: none of them alone carries the result."""


def badge(result: str) -> str:
    """Give a result's badge as markdown."""
    return BADGES[result]


def header(title: str, purpose: str) -> None:
    """Write a screen's title and, for demo data, the notice that it is invented."""
    st.title(title)
    case = case_state.current_case()
    if case.invented:
        st.info("**Invented data.** Plant, boards, offers and prices of this demo case are made up.", icon="ℹ️")
    name, problems = case_state.refusal()
    if problems:
        lines = "\n".join(f"- {plain(str(problem))}" for problem in problems[:50])
        more = f"\n- and {len(problems) - 50} more" if len(problems) > 50 else ""
        st.error(f"**{plain(name)} was refused; what you had open is unchanged.** To mend it:\n\n{lines}{more}")
        st.button("Hide this list", on_click=case_state.forget_refusal)
    st.markdown(purpose)


def no_boards(consequence: str) -> None:
    """Say what cannot be shown without a board type, and where to add one."""
    st.warning(f"This case has no board types yet, so {consequence}. Add one on the screen Edit board types, or open a "
               "demo at the side.")  # fmt: skip


def finding_row(right: int = 130) -> tuple[st.delta_generator.DeltaGenerator, ...]:
    """Give places for a badge, a finding and its buttons side by side; the finding takes what the window leaves."""
    with st.container(horizontal=True, gap="small"):
        badge = st.container(width=118)
        finding = st.container(width="stretch")
        return badge, finding, st.container(width=right, gap="xsmall")


def caution() -> None:
    """Write the caution that belongs wherever heat, chemistry, solvents or pressure show."""
    note(f"⚠ {CAUTION}")


def note(text: str, place: st.delta_generator.DeltaGenerator | None = None) -> None:
    """Write small text in full contrast."""
    (st if place is None else place).markdown(f":small[{text}]")


def verdict_table(frame: pd.DataFrame) -> pd.DataFrame:
    """Write the verdicts as markdown in three columns, so that the findings have room."""
    return pd.DataFrame({
        "Machine": [f"{plain(row['Machine'])}  :small[({row['Kind']})]" for row in frame.to_dict("records")],
        "Result": [f"{badge(row['Result'])} {row['Probability']}" for row in frame.to_dict("records")],
        "Deciding must and finding": [
            f"**{plain(row['Deciding must'])}** on {plain(row['Decided on'])}. {plain(row['Finding'])}"
            for row in frame.to_dict("records")
        ],
    })  # fmt: skip


def choose(label: str, options: Sequence[T], name: str, *, default: T | None = None,
           shown: Callable[[T], str] = str, buttons: bool = False, help: str | None = None) -> T:  # fmt: skip
    """Let the reader choose one option; the choice lasts across screens, as long as it is offered."""
    chosen = case_state.choice(name, options, options[0] if default is None else default)
    words = [shown(option) for option in options]
    key = f"{name}-{case_state.revision()}-{zlib.crc32(repr(words).encode())}"
    settings = {"key": key, "on_change": case_state.set_from_widget, "args": (name, key), "help": help}

    def word(option: T) -> str:
        # The framework keeps this function of every widget as long as the session lasts: it must hold no more than
        # words, least of all the evaluation that `shown` may have taken them from.
        return words[list(options).index(option)]

    if buttons:
        picked = st.segmented_control(
            label, options, default=chosen, required=True, format_func=lambda option: plain(word(option)), **settings
        )
    else:
        picked = st.selectbox(label, options, index=list(options).index(chosen), format_func=word, **settings)
    return chosen if picked is None else picked


def must_table(frame: pd.DataFrame) -> pd.DataFrame:
    """Write musts as markdown in four columns."""
    found = frame.to_dict("records")
    return pd.DataFrame({
        "Board type": [plain(row["Board type"]) for row in found],
        "Result": [f"{badge(row['Result'])} {row['Probability']}" for row in found],
        "Margin": [row["Margin"] for row in found],
        "Must and finding": [f"**{plain(row['Must'])}**. {plain(row['Finding'])}" for row in found],
    })  # fmt: skip


@st.dialog("Where these numbers come from", width="large")
def show_sources(evaluation: Evaluation, outcome: MachineOutcome, about: str, board_id: str, fluid_id: str,
                 stage: str) -> None:  # fmt: skip
    """List every quantity behind a result: value, as given, basis, source."""
    st.markdown(plain(about))
    found = inputs_behind(evaluation, outcome, board_id, fluid_id, stage)
    stated = sum(1 for record in found if record.path.startswith("candidates[") and record.stated)
    silent = sum(1 for record in found if record.path.startswith("candidates[") and not record.stated)
    st.markdown(
        f"{len(found)} numbers were read for it and for the stages before it"
        + (f"; the offer states {stated} of its own and is silent on {silent}, where its class's range stands in."
           if stated or silent else ".")
    )  # fmt: skip
    frame = rows.input_rows(evaluation, found, case_state.unit_system())
    tables.grid(frame, name="sources", height=420)
    caution()


def sources_button(evaluation: Evaluation, outcome: MachineOutcome, about: str, key: str, *, board_id: str = "",
                   fluid_id: str = "", stage: str = "", label: str = "Sources") -> None:  # fmt: skip
    """Give a button that opens the numbers behind a result."""
    help = "Every number behind this: as given, range, basis, source."
    if st.button(label, key=f"sources-{key}", help=help):
        show_sources(evaluation, outcome, about, board_id, fluid_id, stage)
