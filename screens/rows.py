"""Numbers, inputs and records written as text in the reader's units; no Streamlit, nothing computed."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd
from pydantic import BaseModel

from catalog_schema.case import Case, Library
from catalog_schema.quantity import Quantity
from catalog_schema.units import DIMENSIONS, convert, readable_unit, show_span
from model.evaluate import Evaluation
from model.field_names import field_words
from model.provenance import origin, record_of
from model.uncertainty import Input

GROUPS = {
    "candidates": "Offer", "machine_classes": "Machine class", "board_types": "Board type", "fluids": "Fluid",
    "component_kinds": "Component kind", "flux_kinds": "Flux", "constants": "Model constant", "plant": "Plant",
    "wetted_materials": "Wetted material", "board_parts": "Board part",
}  # fmt: skip


def words(name: str) -> str:
    """Turn a field's path into plain words: "spray.nozzle_diameter" becomes "Bore of the spray nozzles"."""
    text = field_words(name)
    return text[:1].upper() + text[1:]


def unit_of(dimension: str, system: str) -> str:
    """Name the unit that a dimension is shown in."""
    shape = DIMENSIONS[dimension]
    return readable_unit(shape.metric_unit if system == "metric" else shape.us_unit)


def amount(value_si: float, dimension: str, system: str) -> float:
    """Turn an SI value into the reader's unit."""
    shape = DIMENSIONS[dimension]
    return convert(float(value_si), shape.si_unit, shape.metric_unit if system == "metric" else shape.us_unit)


def number(quantity: Quantity, system: str) -> str:
    """Write a quantity as likely value and range in the reader's units."""
    low, likely, high = quantity.si()
    return span(low, likely, high, quantity.dimension, system, quantity.currency or "")


def span(low: float, likely: float, high: float, dimension: str, system: str, currency: str = "") -> str:
    """Write a likely value with its range behind it."""
    return show_span(low, likely, high, dimension, system, currency).replace("1/year", "per year")


def percent(share: float | None) -> str:
    """Write a probability without claiming more than the draws can tell."""
    if share is None:
        return "not computed"
    if 0 < share < 0.01:
        return "below 1 %"
    return "above 99 %" if 0.99 < share < 1 else f"{share:.0%}".replace("%", " %")


def record_names(case: Case, library: Library) -> dict[tuple[str, str], str]:
    """Give the name shown to people of every record, by group and id."""
    groups = ("machine_classes", "component_kinds", "flux_kinds", "board_parts", "fluids", "wetted_materials")
    named = {(group, record.id): record.name for group in groups for record in getattr(library, group)}
    for group in ("candidates", "board_types"):
        named |= {(group, record.id): record.name for record in getattr(case, group)}
    return named


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
