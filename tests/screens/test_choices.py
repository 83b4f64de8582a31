"""A choice holds words and nothing else: the framework keeps the functions of every widget that a session ever had."""

from __future__ import annotations

import gc
import weakref

import pytest
import streamlit as st

from screens import case_state, parts


class Evaluated:
    """Stands for an evaluation, tens of MB, from which a choice takes its words."""

    names = {"a": "Offer A", "b": "Offer B"}  # noqa: RUF012


@pytest.mark.parametrize("widget", ["selectbox", "segmented_control"])
def test_a_choice_lets_go_of_what_its_words_were_taken_from(monkeypatch, widget):
    kept = []

    def draw(label, options, *, format_func, **settings):
        kept.append((format_func, settings))
        return options[0]

    monkeypatch.setattr(st, widget, draw)
    monkeypatch.setattr(case_state, "choice", lambda name, options, default: default)
    monkeypatch.setattr(case_state, "revision", lambda: 1)
    evaluated = Evaluated()
    seen = weakref.ref(evaluated)
    picked = parts.choose("Machine", ["a", "b"], "machine", shown=lambda one, held=evaluated: held.names[one],
                          buttons=widget == "segmented_control")  # fmt: skip
    del evaluated
    gc.collect()
    assert picked == "a"
    assert [kept[0][0](one) for one in ("a", "b")] == ["Offer A", "Offer B"]
    assert seen() is None
