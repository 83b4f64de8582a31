"""The rules of a material or of a board part: choose one, change it, remove it, add another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import streamlit as st
from pydantic import BaseModel

from catalog_schema import Case
from catalog_schema.case_edits import record_content, set_value
from screens import case_state, field_form, needed_form, parts

Said = Callable[[Any], str]


def rules_form(rules: Sequence[BaseModel], record: type[BaseModel], path: str, said: Said, *,
               names: field_form.Names | None = None) -> None:  # fmt: skip
    """Draw the rules of one record.

    Parameters
    ----------
    rules : sequence of BaseModel
    record : type
        Class of a rule.
    path : str
        Of the list in the case, such as `wetted_materials[FKM].rules`.
    said : callable
        Says a rule in a few words.
    names : mapping, optional
        Names shown to people, by id, for fields that name another record.
    """
    st.subheader("Rules")
    parts.note("The worst rule that applies decides. Where none applies, the result is not known.")
    if rules:
        number = parts.choose("Rule", range(len(rules)), f"rule-of-{path}",
                              shown=lambda one: f"{one + 1}. {said(rules[one])}")  # fmt: skip
        field_form.form(rules[number], f"{path}[{number + 1}]", names=names)
        st.button("Remove this rule", on_click=_remove, args=(rules, number, path))
    st.markdown("**Add a rule**")
    needed_form.needed_form(record, f"{path}[new]", lambda case, content: _with(case, path, content),
                            button="Add rule", names=names)  # fmt: skip


def _with(case: Case, path: str, content: dict[str, Any]) -> Case:
    field, _, rest = path.partition("[")
    owner = next(one for one in getattr(case, field) if one.id == rest.partition("]")[0])
    return set_value(case, path, [*(record_content(rule) for rule in owner.rules), content])


def _remove(rules: Sequence[BaseModel], number: int, path: str) -> None:
    left = [record_content(rule) for position, rule in enumerate(rules) if position != number]
    if case_state.edit(lambda case: set_value(case, path, left), path):
        case_state.forget_refused_in(f"{path}[")
        case_state.reseed()
