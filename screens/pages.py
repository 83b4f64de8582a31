"""The screens, in the order of the job: what have we, what can do it, which one, hand it over."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st
from streamlit.navigation.page import StreamlitPage

from screens import (
    certainty,
    demands,
    dossier,
    edit_boards,
    edit_candidates,
    edit_library,
    edit_plant,
    edit_priorities,
    finance,
    guide,
    machines,
    plant_and_boards,
    questions,
    quick,
    ranking,
    ruled_out,
    timeline,
    versions,
    what_if,
)


def _page(draw: Callable[[], None], title: str, *, first: bool = False) -> StreamlitPage:
    address = "-".join("".join(letter if letter.isalnum() else " " for letter in title.lower()).split())
    return st.Page(draw, title=title, url_path=address, default=first)


def all_pages() -> dict[str, list[StreamlitPage]]:
    """Give every screen by group."""
    return {
        "Start": [_page(quick.page, "Quick answer", first=True)],
        "The case": [_page(plant_and_boards.page, "Plant & boards"), _page(machines.page, "Machines")],
        "Edit": [
            _page(edit_boards.page, "Edit board types"),
            _page(edit_candidates.page, "Edit offers"),
            _page(edit_plant.page, "Edit the plant"),
            _page(edit_priorities.page, "Edit priorities"),
            _page(edit_library.page, "Edit the library"),
            _page(versions.page, "Versions"),
        ],
        "Can it do the job": [
            _page(ruled_out.page, "Ruled out"),
            _page(demands.page, "What our boards demand"),
            _page(timeline.page, "Way through the machine"),
        ],
        "Which one": [
            _page(finance.page, "Finance"),
            _page(ranking.page, "Ranking"),
            _page(what_if.page, "What if"),
            _page(certainty.page, "Certainty"),
            _page(questions.page, "Questions & trials"),
        ],
        "Hand over": [_page(dossier.page, "Dossier"), _page(guide.page, "How it computes")],
    }
