"""Assumptions of the cost on the screen: what is typed reaches the case, what is no quantity is refused."""

from __future__ import annotations

from importlib.resources import files

import numpy as np
import pandas as pd
import pytest

from catalog_schema.case import Case
from catalog_schema.files import case_text, parse_case
from catalog_schema.plant import Plant
from screens.finance_rows import offer_rows, plant_rows, price_rows, with_edits, with_rows


@pytest.fixture
def case() -> Case:
    return parse_case(files("demo_catalog").joinpath("mixed_plant.yaml").read_bytes(), "mixed_plant.yaml")


def typed(frame: pd.DataFrame, path: str, value: str) -> pd.DataFrame:
    edited = frame.copy()
    edited.loc[path, "Value"] = value
    return edited


def test_what_is_shown_reads_back_to_the_same_quantity(case: Case) -> None:
    rows = plant_rows(case)
    again = with_rows(case.plant, rows, list(rows.index))
    assert isinstance(again, Plant)
    for name in type(case.plant.tariffs).model_fields:
        assert getattr(again.tariffs, name).si() == pytest.approx(getattr(case.plant.tariffs, name).si())
    assert again.finance.discount_rate.si() == pytest.approx(case.plant.finance.discount_rate.si())


def test_typed_cells_reach_the_case_and_its_file_and_a_bad_one_does_not_hold_up_the_others(case: Case) -> None:
    rows = plant_rows(case)
    place = {path: number for number, path in enumerate(rows.index)}
    plant, refused = with_edits(case.plant, rows, {
        place["tariffs.labour"]: {"Value": "45 EUR/h", "Source": "wage agreement"},
        place["tariffs.electricity"]: {"Value": "much"},
        place["finance.inflation_per_line.labour"]: {"Value": "5 %"},
    })  # fmt: skip
    assert isinstance(plant, Plant)
    again = parse_case(case_text(case.model_copy(update={"plant": plant})).encode(), "case.yaml")
    assert again.plant.tariffs.labour.text() == "45 EUR/h"
    assert again.plant.tariffs.labour.source == "wage agreement"
    assert again.plant.finance.inflation_per_line["labour"].si()[1] == pytest.approx(0.05)
    assert again.plant.tariffs.electricity == case.plant.tariffs.electricity
    assert len(refused) == 1
    assert "much" in refused[0]
    assert with_edits(case.plant, rows, {}) == (case.plant, [])


@pytest.mark.parametrize("text", ["", "much", "5 kg", "-3 EUR/h"])
def test_what_is_no_price_is_refused_with_a_sentence(case: Case, text: str) -> None:
    edited = typed(plant_rows(case), "tariffs.labour", text)
    with pytest.raises(ValueError, match="or example 38 EUR/h"):
        with_rows(case.plant, edited, ["tariffs.labour"])


def test_an_emptied_price_makes_the_offer_silent(case: Case) -> None:
    offer = case.candidates[0]
    edited = typed(offer_rows(case, offer.id), "prices.purchase", "")
    changed = with_rows(offer, edited, ["prices.purchase"])
    assert changed.prices.purchase is None  # type: ignore[attr-defined]
    assert offer_rows(case, "contract-service").empty


def test_where_no_price_makes_a_machine_level_none_is_written() -> None:
    prices = pd.DataFrame([
        {"rival": "a", "name": "A", "low": np.nan, "middle": np.nan, "high": np.nan, "offered": 1000.0,
         "sentence": "There is none."},
        {"rival": "b", "name": "B", "low": 900.0, "middle": 1000.0, "high": 1100.0, "offered": np.nan,
         "sentence": "Below."},
    ])  # fmt: skip
    shown = price_rows(prices, "EUR")
    assert shown["Price per machine"].tolist()[0] == "none"
    assert shown["5 to 95 %"].tolist()[0] == "none"
    assert " to " in shown["5 to 95 %"].tolist()[1]
    assert shown["Price offered"].tolist()[1] == "not known"
    assert shown["What it says"].tolist() == ["There is none.", "Below."]
