"""Amounts as text: decimals of each currency, locales, short form, rounding, unknown codes."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.money_format import currency_codes, currency_decimals, format_amount


@pytest.mark.parametrize(
    ("amount", "currency", "locale", "text"),
    [
        (1234.5, "USD", "en", "$1,234.50"),
        (1234.5, "JPY", "en", "¥1,235"),
        (1234.5, "KWD", "en", "KWD\u00a01,234.500"),
        (1234.5, "CHF", "en", "CHF\u00a01,234.50"),
        (1234.5, "EUR", "de", "1.234,50\u00a0€"),
        (-1234.5, "EUR", "de", "-1.234,50\u00a0€"),
        (1234567.0, "INR", "en_IN", "₹12,34,567.00"),
    ],
)
def test_an_amount_has_the_decimals_of_its_currency_and_the_grouping_of_the_language(
    amount: float, currency: str, locale: str, text: str
) -> None:
    assert format_amount(amount, currency, locale) == text


@pytest.mark.parametrize(
    ("amount", "locale", "text"),
    [
        (999.5, "en", "€999.50"),
        (12_345, "en", "€12.3K"),
        (999_999, "en", "€1M"),
        (-1_234_500, "en", "-€1.23M"),
        (12_345, "ja", "€1.23万"),
        (12_345, "de", "12.345\u00a0€"),  # German has no short word for thousands: nothing may be rounded away
        (1_234_500, "de", "1,23\u00a0Mio.\u00a0€"),
    ],
)
def test_the_short_form_keeps_three_digits_or_whole_units(amount: float, locale: str, text: str) -> None:
    assert format_amount(amount, "EUR", locale, compact=True) == text


def test_halves_round_away_from_zero_as_typed_and_nothing_has_no_minus_sign() -> None:
    assert [format_amount(amount, "USD") for amount in (1.005, -1.005, 2.675)] == ["$1.01", "-$1.01", "$2.68"]
    assert format_amount(-0.004, "USD") == "$0.00"


def test_every_known_code_can_be_written_and_the_usual_ones_are_known() -> None:
    assert {"USD", "EUR", "JPY", "KWD", "CNY", "INR", "CHF", "GBP", "MXN", "BRL"} <= set(currency_codes())
    for code in currency_codes():
        for locale in ("en", "de", "ja"):
            assert any(sign.isdigit() for sign in format_amount(-1234567.891, code, locale))
            assert format_amount(1234567.891, code, locale, compact=True)


@settings(deadline=None, max_examples=50)
@given(amount=st.decimals(-1_000_000, 1_000_000, places=3), code=st.sampled_from(["USD", "JPY", "KWD"]))
def test_the_text_reads_back_as_the_amount_to_half_of_its_last_decimal(amount, code: str) -> None:  # type: ignore[no-untyped-def]
    text = format_amount(float(amount), code)
    number = float("".join(sign for sign in text if sign.isdigit() or sign in ".-"))
    assert abs(number - float(amount)) <= 0.5000001 * 10 ** -currency_decimals(code)


@pytest.mark.parametrize(
    ("typed", "meant"), [("EURO", "EUR"), ("eur", "EUR"), ("US$", "USD"), ("£", "GBP"), ("US dollar", "USD")]
)
def test_an_unknown_code_is_refused_with_the_nearest_one(typed: str, meant: str) -> None:
    with pytest.raises(ValueError, match=rf"not a known currency\. Did you mean {meant}\?"):
        format_amount(1.0, typed)


def test_a_code_near_nothing_is_refused_without_a_guess() -> None:
    with pytest.raises(ValueError, match=r'"123" is not a known currency\. Give a three-letter'):
        currency_decimals("123")


@pytest.mark.parametrize("amount", [math.inf, math.nan])
def test_an_amount_that_is_not_finite_is_refused(amount: float) -> None:
    with pytest.raises(ValueError, match="Only a finite amount"):
        format_amount(amount, "EUR")


@pytest.mark.parametrize("locale", ["xx", "", "not a language"])
def test_an_unknown_language_is_refused(locale: str) -> None:
    with pytest.raises(ValueError, match="is not a known language"):
        format_amount(1.0, "EUR", locale)
