"""Washcase in the browser: opens the case and leads to the screens. Run with `streamlit run app.py`."""

from __future__ import annotations

import streamlit as st

from screens import (
    certainty,
    demands,
    dossier,
    finance,
    frame,
    guide,
    icon,
    machines,
    plant_and_boards,
    questions,
    quick,
    ranking,
    ruled_out,
    timeline,
    what_if,
)

st.set_page_config(page_title="Washcase", page_icon=icon.page_icon(), layout="wide")

page = st.navigation(
    {
        "Start": [st.Page(quick.page, title="Quick answer", url_path="quick-answer", default=True)],
        "The case": [
            st.Page(plant_and_boards.page, title="Plant & boards", url_path="plant-and-boards"),
            st.Page(machines.page, title="Machines", url_path="machines"),
        ],
        "Can it do the job": [
            st.Page(ruled_out.page, title="Ruled out", url_path="ruled-out"),
            st.Page(demands.page, title="What our boards demand", url_path="demands"),
            st.Page(timeline.page, title="Way through the machine", url_path="timeline"),
        ],
        "Which one": [
            st.Page(finance.page, title="Finance", url_path="finance"),
            st.Page(ranking.page, title="Ranking", url_path="ranking"),
            st.Page(what_if.page, title="What if", url_path="what-if"),
            st.Page(certainty.page, title="Certainty", url_path="certainty"),
            st.Page(questions.page, title="Questions & trials", url_path="questions"),
        ],
        "Hand over": [
            st.Page(dossier.page, title="Dossier", url_path="dossier"),
            st.Page(guide.page, title="How it computes", url_path="how-it-computes"),
        ],
    }
)
frame.sidebar()
page.run()
