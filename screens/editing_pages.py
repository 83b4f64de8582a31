"""The pages on which a case is changed, as the navigation lists them."""

from __future__ import annotations

from typing import Any

import streamlit as st

from screens import edit_boards, edit_candidates, edit_plant, versions


def pages() -> list[Any]:
    """Give the pages in their order."""
    return [
        st.Page(edit_boards.page, title="Edit board types", url_path="edit-boards"),
        st.Page(edit_candidates.page, title="Edit offers", url_path="edit-offers"),
        st.Page(edit_plant.page, title="Edit the plant", url_path="edit-plant"),
        st.Page(versions.page, title="Versions", url_path="versions"),
    ]
