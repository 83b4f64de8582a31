"""What a table of boards leaves out: said, and on request filled from the starter board."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

import pandas as pd
import streamlit as st

from catalog_schema.boards import Alloy, BoardType
from catalog_schema.files import starter_board
from catalog_schema.library import library_for
from screens import case_state, field_shapes, parts, rows

ASKED = {"alloy": "Solder alloy", "flux": "Flux of the residue", "components": "Tightest component kind"}
"""What nobody can guess for a board, so that one answer for all rows is asked for."""


def ask(lacking: Mapping[str, int], count: int, key: str) -> dict[str, Any] | None:
    """Say what is missing and let the person choose to fill it.

    Parameters
    ----------
    lacking : mapping of str to int
        Missing fields and the number of rows without each.
    count : int
        Rows of the table.
    key : str
        Start of the widgets' keys.

    Returns
    -------
    dict or None
        What stands in for all rows, or None as long as nothing may be filled.
    """
    named = ", ".join(f"{rows.words(name).lower()}{'' if some == count else f' ({some} of {count} rows)'}"
                      for name, some in lacking.items())  # fmt: skip
    st.warning(f"**Needed and not in the table:** {parts.plain(named)}. Name a column for each, or fill the gaps.")
    if not st.checkbox("Fill the gaps from the starter board", key=f"{key}-fill",
                       help="Rough estimates with wide ranges, marked as such on every screen and in the dossier. "
                            "Replace them by your own afterwards."):  # fmt: skip
        return None
    chosen = _chosen(lacking, key)
    usual = starter_board()
    filled = pd.DataFrame(
        {"Field": rows.words(name), "Value (range)": rows.number(quantity, case_state.unit_system()),
         "Basis": quantity.basis}
        for name in lacking if name in usual
        if (kind := field_shapes.shape_of(BoardType, name).quantity) is not None
        for quantity in [kind.model_validate(usual[name])]
    )  # fmt: skip
    if len(filled):
        st.table(filled.map(parts.plain), hide_index=True, border="horizontal", alt="Values that fill the gaps")
    if "peak_reflow_temperature" in lacking:
        parts.note("The reflow peak is the usual one of each row's alloy (common practice).")
    still = [label.lower() for name, label in ASKED.items() if name in lacking and name not in chosen]
    if still:
        st.info(f"Choose what nobody can guess: {', '.join(still)}.", icon="ℹ️")
        return None
    return chosen


def _chosen(lacking: Mapping[str, int], key: str) -> dict[str, Any]:
    library = library_for(case_state.current_case())
    options: dict[str, dict[str, str]] = {
        "alloy": {alloy: alloy for alloy in get_args(Alloy)},
        "flux": {record.id: record.name for record in library.flux_kinds},
        "components": {record.id: record.name for record in library.component_kinds},
    }
    asked = [name for name in ASKED if name in lacking]
    found: dict[str, Any] = {}
    for place, name in zip(st.columns(len(asked)) if asked else (), asked, strict=True):
        shown = options[name]
        given = place.selectbox(f"{ASKED[name]} of the rows without", list(shown), index=None, placeholder="choose",
                                format_func=shown.__getitem__, key=f"{key}-{name}")  # fmt: skip
        if given is not None:
            found[name] = [{"kind": given, "count": 1}] if name == "components" else given
    return found
