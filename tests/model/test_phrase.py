"""Sentences keep their figures in SI and show them in the reader's units."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from model.phrase import Phrase, phrase


def test_the_same_sentence_reads_in_metric_and_in_us_units() -> None:
    said = phrase("Needs {pressure} at {heat}.", pressure=(206_842.7, "pressure"), heat=(333.15, "temperature"))
    assert said.text() == "Needs 2.07 bar at 60 °C."
    assert said.text("US") == "Needs 30 psi at 140 °F."


def test_money_is_shown_in_the_plants_currency() -> None:
    said = phrase("It costs {price}.", price=(1250.0, "money"))
    assert said.text(currency="USD") == "It costs 1 250 USD."


def test_infinite_figures_have_a_sign_of_their_own() -> None:
    assert phrase("Up to {time}.", time=(float("inf"), "time")).text() == "Up to no end."


@given(st.text(max_size=60))
def test_text_put_in_for_a_figure_is_never_read_as_a_template_again(name: str) -> None:
    inserted = f"{{limit}}{name}{{kind}}"
    said = phrase("{kind} and {limit}", kind=inserted, limit=(600.0, "time"))
    assert said.text() == f"{inserted} and 10 min"


def test_a_name_without_a_figure_stays_as_it_is() -> None:
    assert phrase("{known} {unknown}", known="yes").text() == "yes {unknown}"


def test_whole_numbers_are_shown_as_given() -> None:
    assert phrase("{count} boards", count=12000).text() == "12000 boards"


def test_phrases_of_equal_content_are_equal() -> None:
    assert phrase("{a}", a="x") == Phrase("{a}", (("a", "x", ""),))
