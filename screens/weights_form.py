"""How a stakeholder gives weights: by swing, by order, by pairs or directly, each with entries of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from catalog_schema.case_edits import set_value
from catalog_schema.priorities import Judgement, Stakeholder
from screens import case_state, explaining, field_form, field_shapes, list_form, parts

FIELDS = {"swing": "swing", "rank order": "order", "pairwise": "pairwise", "direct": "direct"}
"""Field of a stakeholder that holds what each method asks for."""


def start_of(method: str, criteria: Sequence[str]) -> Any:
    """Give what a method starts from, with every criterion alike as far as the method can say so."""
    return {
        "swing": dict.fromkeys(criteria, 50), "direct": dict.fromkeys(criteria, 1), "rank order": list(criteria),
        "pairwise": [{"first": criteria[0], "second": other, "times": 1} for other in criteria[1:]],
    }[method]  # fmt: skip


def weights_form(voice: Stakeholder, path: str, names: Mapping[str, str]) -> None:
    """Draw method and weights of one stakeholder.

    Parameters
    ----------
    voice : Stakeholder
    path : str
        Where it stands in the case.
    names : mapping
        Names of the criteria by key.
    """
    key = f"method-{path}-{case_state.revision()}"
    st.segmented_control("How the weights are given", list(FIELDS), default=voice.method, required=True, key=key,
                         on_change=_change, args=(voice, path, key, list(names)),
                         help=explaining.entry(Stakeholder, "method"))  # fmt: skip
    field = FIELDS[voice.method]
    at = f"{path}.{field}"
    if voice.method == "rank order":
        shape = field_shapes.shape_of(Stakeholder, field)
        parts.note("Choose from most to least important; what is left out has no say.")
        field_form.field(shape, voice.order, at, names)
    elif voice.method == "pairwise":
        parts.note("How many times as important the first is as the second, from 1/9 to 9.")
        list_form.list_form(voice.pairwise, Judgement, at, {"first": names, "second": names}, "judgement")
    else:
        shapes = field_shapes.keyed_shapes(Stakeholder, field, names, "text")
        field_form.meanings(shapes[:1], at)
        field_form.mapping_form(shapes, getattr(voice, field), at)


def _change(voice: Stakeholder, path: str, key: str, criteria: Sequence[str]) -> None:
    method = str(case_state.widget_value(key) or voice.method)
    field = FIELDS[method]

    def act(case: Any) -> Any:
        # Two fields change together, since a method without its entries is refused.
        content = voice.model_dump(mode="json", exclude_unset=True) | {"method": method}
        if not getattr(voice, field):
            content[field] = start_of(method, criteria)
        voices = [content if one.id == voice.id else one.model_dump(mode="json", exclude_unset=True)
                  for one in case.priorities.stakeholders]  # fmt: skip
        return set_value(case, "priorities.stakeholders", voices)

    if case_state.edit(act, path):
        case_state.reseed()
