"""Washcase in the browser: opens the case and leads to the screens. Run with `streamlit run app.py`."""

from __future__ import annotations

import streamlit as st

from screens import frame, icon, machines, plant_and_boards, ruled_out

st.set_page_config(page_title="Washcase", page_icon=icon.page_icon(), layout="wide")

page = st.navigation(
    [
        st.Page(plant_and_boards.page, title="Plant & boards", url_path="plant-and-boards", default=True),
        st.Page(machines.page, title="Machines", url_path="machines"),
        st.Page(ruled_out.page, title="Ruled out", url_path="ruled-out"),
    ]
)
frame.sidebar()
page.run()
