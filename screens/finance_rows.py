"""Assumptions of the cost as editable rows, and a case with one of them changed; nothing of Streamlit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, get_args

import pandas as pd
from pydantic import BaseModel, ValidationError

from catalog_schema.case import Case
from catalog_schema.quantity import Quantity
from catalog_schema.units import number_text
from model.cost_comparison import CostComparison
from model.cost_totals import CostStage
from model.evaluate import Evaluation
from model.explanations import explain_input
from model.field_names import field_words
from model.money_format import format_amount
from model.provenance import record_of
from model.uncertainty import FloatArray, low_middle_high
from screens.rows import GROUPS, record_names, words

Shown = Callable[[str], str]
"""Writes an id as people read it."""

FINANCE_FIELDS = ("discount_rate", "inflation", "tax_rate", "horizon", "depreciation_life")
COLUMNS = ["Assumption", "Value", "Basis", "Source"]
MEANING = "What it is"
"""Column beside them, for reading only."""


def plant_rows(case: Case) -> pd.DataFrame:
    """List rates and tariffs of the plant; the index is the path inside the plant."""
    plant = case.plant
    found: dict[str, Quantity | None] = {f"finance.{name}": getattr(plant.finance, name) for name in FINANCE_FIELDS}
    found |= {f"finance.inflation_per_line.{name}": rate for name, rate in plant.finance.inflation_per_line.items()}
    found |= {f"tariffs.{name}": getattr(plant.tariffs, name) for name in type(plant.tariffs).model_fields}
    meanings = {f"{part}.{name}": _meaning(getattr(plant, part), name)
                for part in ("finance", "tariffs") for name in type(getattr(plant, part)).model_fields}  # fmt: skip
    return _rows(found, "measured", meanings)


def offer_rows(case: Case, candidate_id: str) -> pd.DataFrame:
    """List the prices of an offer, empty where it states none; the index is the path inside the offer."""
    candidate = next((one for one in case.candidates if one.id == candidate_id), None)
    if candidate is None:
        return _rows({}, "stated", {})
    prices = {f"prices.{name}": getattr(candidate.prices, name) for name in type(candidate.prices).model_fields}
    meanings = {path: _meaning(candidate.prices, path.partition(".")[2]) for path in prices}
    return _rows(prices, "stated", meanings)


def _meaning(record: BaseModel, name: str) -> str:
    found = explain_input(type(record), name)
    # A cell of the table holds one sentence: what it is, without what it does.
    return "" if found is None else f"{found.sentences.partition('. ')[0]}."


def _rows(found: dict[str, Quantity | None], basis: str, meanings: dict[str, str]) -> pd.DataFrame:
    rows = [
        (words(path).replace("Finance: inflation per line: ", "Inflation: "), _as_typed(value),
         "" if value is None else value.basis or basis, "" if value is None else value.source,
         meanings.get(path, "How these prices rise a year, instead of the general inflation."))
        for path, value in found.items()
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=[*COLUMNS, MEANING], index=list(found))


def _as_typed(value: Quantity | None) -> str:
    """Write a quantity so that reading it gives the same again."""
    if value is None:
        return ""
    numbers = [f"{one:.12g}" for one in (value.low, value.likely, value.high) if one is not None]
    return f"{'..'.join(numbers)} {value.unit}".strip()


def with_edits(record: BaseModel, base: pd.DataFrame, edited: Mapping[int, Mapping[str, Any]]
               ) -> tuple[BaseModel, list[str]]:  # fmt: skip
    """Give a record with the cells of its table as typed; what is refused leaves its quantity as it was.

    Parameters
    ----------
    record : BaseModel
    base : DataFrame
        The table as first drawn; its index is the path inside the record.
    edited : mapping
        Row number to column to new value, as the table reports it: all edits since then.

    Returns
    -------
    (BaseModel, list of str)
        The record with all rows that were accepted, and a sentence for each of the others.
    """
    refused = []
    for row, cells in edited.items():
        path = str(base.index[int(row)])
        typed = base.loc[[path]].assign(**{column: [value] for column, value in cells.items()})
        try:
            record = with_rows(record, typed, [path])
        except ValueError as problem:
            refused.append(f"{typed['Assumption'].iloc[0]}: {problem}")
    return record, refused


def with_rows(record: BaseModel, edited: pd.DataFrame, paths: list[str]) -> BaseModel:
    """Give a record with the quantities at some paths as typed.

    Raises
    ------
    ValueError
        With a sentence, when a text is no such quantity.
    """
    for path in paths:
        row = edited.loc[path]
        record = _put(record, path.split("."), str(row["Value"] or "").strip(), str(row["Basis"] or ""),
                      str(row["Source"] or ""))  # fmt: skip
    return record


def _put(record: BaseModel, path: list[str], text: str, basis: str, source: str) -> BaseModel:
    name, rest = path[0], path[1:]
    inner: Any = getattr(record, name)
    if isinstance(inner, dict):
        old = inner[rest[0]]
        return record.model_copy(update={name: inner | {rest[0]: _read(type(old), text, basis, source, old)}})
    if rest:
        return record.model_copy(update={name: _put(inner, rest, text, basis, source)})
    annotation = type(record).model_fields[name].annotation
    options = get_args(annotation) or (annotation,)
    kind = next(one for one in options if isinstance(one, type) and issubclass(one, Quantity))
    if not text and type(None) in options:
        return record.model_copy(update={name: None})
    return record.model_copy(update={name: _read(kind, text, basis, source, inner)})


def _read(kind: type[Quantity], text: str, basis: str, source: str, before: Quantity | None) -> Quantity:
    try:
        found = kind.model_validate(text)
        given = found.model_dump(exclude_none=True) | {"source": source, "note": before.note if before else ""}
        return kind.model_validate(given | ({"basis": basis} if basis else {}))
    except ValidationError as refused:
        raise ValueError(refused.errors()[0]["msg"]) from None


def comparison_rows(compared: CostComparison, currency: str) -> pd.DataFrame:
    """Write every machine's cost as text: middle with its range."""

    def span(points: tuple[float, float, float] | None, *, money: bool = True) -> str:
        if points is None:
            return "not counted"
        shown = [format_amount(one, currency, compact=True) if money else f"{one:.1f}" if one < 1e6 else "never"
                 for one in points]  # fmt: skip
        return f"{shown[1]} ({shown[0]} to {shown[2]})"

    rows = [
        (one.name, "offer" if one.is_candidate else "class", one.result, span(one.equivalent_annual_cost),
         span(one.cost_per_board),
         span(one.initial_cost), span(one.saving_present), span(one.payback_years, money=False),
         span(one.discounted_payback_years, money=False),
         "" if one.internal_rate is None else one.internal_rate.statement, " ".join((*one.missing, *one.remarks)))
        for one in compared.machines
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=[
        "Machine", "Kind", "Does the job", "Yearly cost", "Cost per board", "Paid at start, before tax",
        "Saving, present value",
        "Payback, years", "Discounted payback, years", "Internal rate of savings", "Left out, and remarks",
    ])  # fmt: skip


def driver_rows(evaluation: Evaluation, stage: CostStage) -> pd.DataFrame:
    """Write every part of every line as quantity × price = amount, each the middle of the draws."""
    currency = evaluation.case.plant.currency
    boards = {board.id: board.name for board in evaluation.case.board_types}
    found = [
        (driver.name, driver.group, boards.get(driver.board_id, "all"),
         f"{number_text(middle(driver.quantity))} {driver.quantity_unit}",
         f"{number_text(middle(driver.price))} {driver.price_unit.replace('money', currency)}",
         format_amount(middle(driver.amount), currency), driver.kind.timing, driver.how)
        for driver in stage.drivers
    ]  # fmt: skip
    return pd.DataFrame(found, columns=["Line", "Group", "Board type", "Quantity", "Price", "Amount", "Paid",
                                        "Where the quantity comes from"])  # fmt: skip


def middle(values: FloatArray) -> float:
    """Give the 50 % point over the draws."""
    return low_middle_high(values)[1]


def price_rows(prices: pd.DataFrame, currency: str) -> pd.DataFrame:
    """Write break-even prices as text."""

    def money(amount: float) -> str:
        return "not known" if pd.isna(amount) else format_amount(amount, currency, compact=True)

    found = []
    for row in prices.to_dict("records"):
        level = ("none", "none")
        if not pd.isna(row["middle"]):
            level = money(row["middle"]), f"{money(row['low'])} to {money(row['high'])}"
        found.append((row["name"], *level, money(row["offered"]), row["sentence"]))
    return pd.DataFrame(found, columns=["Rival", "Price per machine", "5 to 95 %", "Price offered", "What it says"])


def tornado_rows(evaluation: Evaluation, moved: pd.DataFrame) -> pd.DataFrame:
    """Name the inputs of a tornado and write both ends as money."""
    names, currency = record_names(evaluation.case, evaluation.library), evaluation.case.plant.currency
    shown = []
    for path in moved["path"]:
        group, identifier, field = record_of(path)
        owner = names.get((group, identifier), identifier) or GROUPS.get(group, words(group))
        shown.append(f"{owner}: {field_words(field)}")
    return moved.assign(
        name=shown, low=[format_amount(one, currency, compact=True) for one in moved["at_low"]],
        high=[format_amount(one, currency, compact=True) for one in moved["at_high"]],
    )  # fmt: skip
