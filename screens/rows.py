"""Numbers, inputs and records written as text in the reader's units; no Streamlit, nothing computed."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd
from pydantic import BaseModel

from catalog_schema.quantity import Quantity
from model.evaluate import Evaluation
from model.provenance import origin, record_of
from model.result_text import GROUPS, amount, percent, record_names, span, unit_of, words
from model.uncertainty import Input

__all__ = ["GROUPS", "amount", "percent", "record_names", "span", "unit_of", "words"]
"""Passed on to the screens, which write as the dossier does."""

def number(quantity: Quantity, system: str) -> str:
    """Write a quantity as likely value and range in the reader's units."""
    low, likely, high = quantity.si()
    return span(low, likely, high, quantity.dimension, system, quantity.currency or "")


def quantity_rows(records: Iterable[tuple[str, BaseModel, str]], system: str) -> pd.DataFrame:
    """List every quantity of some records, each given as its heading, the record and the basis where none is named."""
    found = []
    for heading, record, basis in records:
        for name in type(record).model_fields:
            value = getattr(record, name)
            if isinstance(value, Quantity):
                found.append((heading, words(name), number(value, system), value.basis or basis,
                              value.source or "none named", value.text(), value.note))  # fmt: skip
    return pd.DataFrame(found, columns=["Of", "What", "Value (range)", "Basis", "Source", "As given", "Note"])


def input_rows(evaluation: Evaluation, inputs: Iterable[Input], system: str) -> pd.DataFrame:
    """List the inputs of an evaluation with where each stands, what it is and what it rests on."""
    case, currency = evaluation.case, evaluation.case.plant.currency
    names = record_names(case, evaluation.library)
    found = []
    for record in inputs:
        group, identifier, name = record_of(record.path)
        place = names.get((group, identifier), identifier) or GROUPS.get(group, words(group))
        value = span(record.low, record.likely, record.high, record.dimension, system, currency)
        kind = GROUPS.get(group, words(group))
        found.append((words(name), value, record.basis, record.source or "none named", origin(record, case), kind,
                      place, record.given, record.note, record.path))  # fmt: skip
    columns = ["What", "Value (range)", "Basis", "Source", "Stands in", "Kind", "Of", "As given", "Note", "Path"]
    return pd.DataFrame(found, columns=columns)
