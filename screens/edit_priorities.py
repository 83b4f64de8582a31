"""Screen: what counts and for whom: stakeholders and their weights, criteria of one's own, what is known of weights."""

from __future__ import annotations

from typing import Any

import streamlit as st

from catalog_schema.case_edits import free_id, record_content, set_value
from catalog_schema.library import library_for
from catalog_schema.machine import machines_of
from catalog_schema.priorities import CRITERIA, OwnCriterion, Range
from catalog_schema.quantity import Share
from model.decision import stakeholder_weights
from screens import case_state, field_form, field_shapes, needed_form, parts, rows, weights_form

STAKEHOLDERS, OWN, KNOWN = "Stakeholders", "Own criteria", "How sure the weights are"
PATH = "priorities"


def page() -> None:
    """Draw the screen."""
    parts.header("Edit priorities", "What counts, and for whom. Priorities order what is left; they never rule "
                 "anything out. What a level of a measure is worth is set on the screen Ranking.")  # fmt: skip
    section = parts.choose("Section", (STAKEHOLDERS, OWN, KNOWN), "priorities-section", buttons=True)
    if section == STAKEHOLDERS:
        _stakeholders()
    elif section == OWN:
        _own_criteria()
    else:
        _known()


def criteria_names() -> dict[str, str]:
    """Give the names of all criteria, the case's own last, by key."""
    own = case_state.current_case().priorities.own_criteria
    return CRITERIA | {criterion.id: criterion.name for criterion in own}


def _stakeholders() -> None:
    voices = case_state.current_case().priorities.stakeholders
    path = f"{PATH}.stakeholders"
    st.markdown("Each stakeholder keeps weights of its own; all are shown, and the compromise beside them."
                if voices else "Nobody has stated weights yet: every criterion counts the same.")  # fmt: skip
    if voices:
        voice = _choose("Stakeholder", voices, path)
        at = f"{path}[{voice.id}]"
        field_form.form(voice, at, only=("name", "voice"))
        names = criteria_names()
        weights_form.weights_form(voice, at, names)
        shares, note = stakeholder_weights(voice, tuple(names), tuple(names.values()))
        said = ", ".join(f"{name} {rows.percent(share)}" for name, share in zip(names.values(), shares, strict=True))
        parts.note(parts.plain(f"So the weights are: {said}. {note}"))
    weights = weights_form.start_of("swing", list(criteria_names()))
    _adding("stakeholder", path, {"method": "swing", "swing": weights})


def _own_criteria() -> None:
    case = case_state.current_case()
    path = f"{PATH}.own_criteria"
    st.markdown("Criteria that no equation gives, such as service nearby; you rate each machine from 0 to 100 %.")
    if case.priorities.own_criteria:
        criterion = _choose("Criterion", case.priorities.own_criteria, path)
        at = f"{path}[{criterion.id}]"
        field_form.form(criterion, at)
        st.subheader("Rating of each machine")
        machines = {machine.id: machine.name for machine in machines_of(case, library_for(case))}
        shapes = field_shapes.keyed_shapes(OwnCriterion, "ratings", machines, "quantity", quantity=Share)
        field_form.mapping_form(shapes, criterion.ratings, f"{at}.ratings")
    _adding("criterion", path, {"ratings": {}})


def _known() -> None:
    priorities = case_state.current_case().priorities
    field_form.form(priorities, PATH, only=("weight_knowledge",))
    st.subheader("Range of each weight")
    parts.note("Used where weights are known as ranges; weights are shares of 1.")
    names = criteria_names()
    criterion = parts.choose("Criterion", list(names), "range-criterion", shown=names.__getitem__)
    at = f"{PATH}.weight_ranges.{criterion}"
    stated = priorities.weight_ranges.get(criterion)
    if stated is None:
        needed_form.needed_form(Range, at, lambda case, content: set_value(case, at, content), button="State range")
        return
    field_form.form(stated, at)
    st.button("Take the range out", on_click=_set, args=(at, None))


def _choose(label: str, records: tuple[Any, ...], path: str) -> Any:
    by_id = {record.id: record for record in records}
    chooser, remove = st.columns([4, 1.2], vertical_alignment="bottom")
    with chooser:
        chosen = parts.choose(label, list(by_id), f"edited-{path}", shown=lambda one: by_id[one].name)
    left = [record_content(record) for record in records if record.id != chosen]
    remove.button("Delete", on_click=_set, args=(path, left), width="stretch", help="Undo brings it back.")
    if (refused := case_state.refused_at(path)) is not None:
        field_form.problem(refused)
    return by_id[chosen]


def _set(path: str, value: Any) -> None:
    if case_state.edit(lambda case: set_value(case, path, value), path):
        case_state.forget_refused_in(f"{path}[")
        case_state.reseed()


def _adding(what: str, path: str, content: dict[str, Any]) -> None:
    key = f"new-{path}-{case_state.revision()}"
    with st.form(f"add-{path}-{case_state.revision()}"):
        name, button = st.columns([4, 1.4], vertical_alignment="bottom")
        name.text_input(f"Name of a new {what}", key=key, max_chars=120)
        button.form_submit_button("Add", on_click=_add, args=(path, key, content), width="stretch")
        if (refused := case_state.refused_at(f"{path}[new]")) is not None:
            field_form.problem(refused)


def _add(path: str, key: str, content: dict[str, Any]) -> None:
    name = str(case_state.widget_value(key) or "").strip()
    priorities = case_state.current_case().priorities
    records = getattr(priorities, path.partition(".")[2])
    taken = [record.id for record in records] + list(criteria_names())
    record = {"id": free_id(name, taken), "name": name} | content
    records = [*(record_content(one) for one in records), record]
    if case_state.edit(lambda case: set_value(case, path, records), f"{path}[new]", name):
        case_state.remember(f"edited-{path}", record["id"])
        case_state.reseed()
