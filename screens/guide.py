"""Screen: what every word, must, criterion and entry means, and how it is computed."""

from __future__ import annotations

from collections import Counter

import pandas as pd
import streamlit as st

from catalog_schema.glossary import load_glossary
from catalog_schema.library import library_for
from catalog_schema.priorities import CRITERIA
from catalog_schema.references import walk_quantities
from model.explanations import entered_records, explain_input, load_explanations, record_key
from screens import case_state, explaining, parts, rows, tables
from screens.field_shapes import field_label

CHAPTERS = ("Musts", "Criteria", "Inputs", "Words", "Library and its basis")


def page() -> None:
    """Draw the screen."""
    st.title("How it computes")
    st.markdown("Equations, validity and sources below are read from the program itself, the basis of every estimate "
                "from its library, so that this page says what is really computed.")  # fmt: skip
    chapter = parts.choose("Chapter", CHAPTERS, "guide-chapter", buttons=True)
    if chapter == "Words":
        words = pd.DataFrame(load_glossary(), columns=["Word", "Meaning"])
        st.table(words.map(parts.plain), hide_index=True, border="horizontal", alt="Glossary")
        tables.download(words, "glossary")
    elif chapter == "Library and its basis":
        _library()
    elif chapter == "Inputs":
        _inputs()
    else:
        group = "requirements" if chapter == "Musts" else "criteria"
        found = load_explanations()[group]
        titles = {key: CRITERIA.get(key, key[:1].upper() + key[1:]) for key in found}
        key = parts.choose(chapter[:-1] if chapter == "Musts" else "Criterion", list(found), f"guide-{group}",
                           shown=titles.__getitem__)  # fmt: skip
        st.header(titles[key])
        st.markdown(parts.plain(found[key].sentences))
        explaining.derivations(found[key])


def _inputs() -> None:
    records = {record_key(record): record for record in entered_records()}
    key = parts.choose("Record", list(records), "guide-record", shown=rows.words)
    found = {name: one for name in records[key].model_fields if (one := explain_input(records[key], name)) is not None}
    titles = {name: field_label(f"{key}.{name}") for name in found}
    table = pd.DataFrame({"Entry": [titles[name] for name in found],
                          "What it is, and what it does": [one.sentences for one in found.values()]})  # fmt: skip
    st.table(table.map(parts.plain), hide_index=True, border="horizontal", alt=f"Entries of: {rows.words(key)}")
    tables.download(table, f"inputs-{key}")
    computed = [name for name, one in found.items() if one.functions]
    if computed:
        st.header("Equation and source")
        name = parts.choose("Entry", computed, f"guide-entry-{key}", shown=titles.__getitem__)
        explaining.derivations(found[name])


def _library() -> None:
    library = library_for(case_state.current_case())
    found = list(walk_quantities(library))
    counts = Counter(quantity.basis or "engineering estimate" for _, quantity in found)
    total = sum(counts.values())
    most, number = counts.most_common(1)[0]
    share = rows.percent(number / total)
    st.markdown(f"The library holds **{total}** quantities; {share} of them are *{most}*. Few are published: "
                "replace what matters by your own measurements and trials.")  # fmt: skip
    summary = pd.DataFrame(counts.most_common(), columns=["Basis", "Quantities"])
    st.table(summary, hide_index=True, border="horizontal", alt="Quantities by basis")
    system = case_state.unit_system()
    frame = pd.DataFrame(
        {"Where": path, "Value": rows.number(quantity, system), "Basis": quantity.basis or "engineering estimate",
         "Source": quantity.source, "Note": quantity.note}
        for path, quantity in found
    )  # fmt: skip
    tables.grid(frame, name="library", height=480)
