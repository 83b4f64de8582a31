"""The model's constants: what each is, its range and basis, and the case's own value in its place."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from catalog_schema.constants import Constants
from catalog_schema.library import library_for, load_library
from model.provenance import first_stage
from screens import candidate_form, case_state, field_form, parts, rows, tables
from screens.field_shapes import field_label

STAGES = {"wash": "Wash", "rinse": "Rinse and baths", "dry": "Drying", "esd": "Static charge",
          "capacity": "Capacity", "": "Trials"}  # fmt: skip


def form() -> None:
    """Draw the constants of the open case."""
    case, system = case_state.current_case(), case_state.unit_system()
    shipped, used = load_library().constants, library_for(case).constants
    own = [name for name in Constants.model_fields if getattr(case.constants, name) is not None]
    st.markdown(f"The library gives **{len(Constants.model_fields)}** constants, most of them estimates with a wide "
                f"range; this case sets **{len(own)}** of its own. Each counts for every machine and board type, so "
                "a change computes all of them anew.")  # fmt: skip
    frame = pd.DataFrame(
        {"Constant": field_label(f"constants.{name}"), "Value (range)": rows.number(quantity, system),
         "Basis": quantity.basis or "engineering estimate", "From": "this case" if name in own else "library",
         "Source": quantity.source or "none named", "Note": quantity.note}
        for name in Constants.model_fields if (quantity := getattr(used, name)) is not None
    )  # fmt: skip
    tables.grid(frame, name="constants", height=280)
    st.header("Set your own")
    stage = parts.choose("Used in", list(STAGES), "constants-stage", shown=STAGES.__getitem__, buttons=True)
    shown = [name for name in Constants.model_fields if first_stage(f"constants.{name}") == stage]
    parts.note("Clear an entry to take the library's again. Say below where your number comes from.")
    field_form.form(case.constants, "constants", only=shown,
                    beside=lambda name: candidate_form.base_says("library", getattr(shipped, name), {}))  # fmt: skip
    field_form.basis_form(case.constants, "constants")
