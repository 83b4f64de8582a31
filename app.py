"""Washcase in the browser: opens the case and leads to the screens. Run with `streamlit run app.py`."""

from __future__ import annotations

import streamlit as st

from screens import computing, frame, icon, login, pages, server_process

st.set_page_config(page_title="Washcase", page_icon=icon.page_icon(), layout="wide")
server_process.share_processor()
login.gate()
computing.get_ready()

# All groups stay in sight: a folded menu hides the last screens from those who need them.
page = st.navigation(pages.all_pages(), expanded=True)
frame.sidebar()
page.run()
