"""Quantities as people write them: text forms, ranges, units of both systems, and what is refused with which words."""

from __future__ import annotations

import math
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from catalog_schema.quantity import (
    AirFlow,
    Count,
    Flow,
    GapHeight,
    Length,
    Money,
    MoneyPerVolume,
    Number,
    PerKelvin,
    Pressure,
    Quantity,
    Ratio,
    Resistance,
    Share,
    Temperature,
    TemperatureDifference,
    VolumePerArea,
)
from catalog_schema.units import DIMENSIONS, convert, readable_unit, show


def si(kind: type[Quantity], given: object) -> tuple[float, float, float]:
    return kind.model_validate(given).si()


def refusal(kind: type[Quantity], given: object) -> str:
    """Give the one message with which a quantity is refused."""
    with pytest.raises(ValidationError) as caught:
        kind.model_validate(given)
    messages = [error["msg"] for error in caught.value.errors()]
    assert len(messages) == 1
    return messages[0]


@pytest.mark.parametrize(
    ("text", "expected_bar"),
    [
        ("3.5 bar", (3.5, 3.5, 3.5)),
        ("3.5bar", (3.5, 3.5, 3.5)),
        (".5 bar", (0.5, 0.5, 0.5)),
        ("  +3 bar\n", (3, 3, 3)),
        ("2..3..5 bar", (2, 3, 5)),
        ("2 to 3 to 5 bar", (2, 3, 5)),
        ("2–3–5 bar", (2, 3, 5)),
        ("2 .. 3 .. 5 bar", (2, 3, 5)),
        ("3e5 Pa", (3, 3, 3)),
        ("300 000 Pa", (3, 3, 3)),
        ("300_000 Pa", (3, 3, 3)),
        ("300 kPa", (3, 3, 3)),
        ({"low": 2, "likely": 3, "high": 5, "unit": "bar"}, (2, 3, 5)),
        ({"likely": "3", "unit": "bar", "basis": "stated", "note": "page 4"}, (3, 3, 3)),
    ],
)
def test_text_and_mapping_forms_are_read(text: object, expected_bar: tuple[float, float, float]) -> None:
    assert si(Pressure, text) == pytest.approx([value * 1e5 for value in expected_bar], rel=1e-12)


def test_range_without_likely_takes_its_middle_and_says_that_none_was_given() -> None:
    quantity = Pressure.model_validate("2..5 bar")
    assert quantity.si() == pytest.approx((2e5, 3.5e5, 5e5))
    assert not quantity.has_likely
    assert Pressure.model_validate("2..3..5 bar").has_likely


@pytest.mark.parametrize(
    ("kind", "us", "metric"),
    [
        # Exact by definition: 1 in = 25.4 mm, 1 US gal = 3.785411784 L, 1 ft = 0.3048 m, 0 °C = 32 °F.
        (Length, "4 in", "101.6 mm"),
        (GapHeight, "2 mil", "50.8 µm"),
        (Flow, "12 gpm", "45.424941408 L/min"),
        (AirFlow, "100 cfm", "169.90107955 m^3/h"),
        (Temperature, "140 degF", "60 degC"),
        (Temperature, "140..158..176 °F", "60..70..80 °C"),
        (TemperatureDifference, "18 degF", "10 degC"),
        (TemperatureDifference, "18 delta_degF", "10 K"),
        # 1 psi = 6894.757293168 Pa (0.45359237 kg · 9.80665 m/s² per square inch).
        (Pressure, "40 psi", "275790.29172672 Pa"),
        (PerKelvin, "0.01 1/delta_degF", "0.018 1/K"),
        (MoneyPerVolume, "3.785411784 USD/gal", "1 USD/L"),
    ],
)
def test_us_and_metric_inputs_are_equal(kind: type[Quantity], us: str, metric: str) -> None:
    assert si(kind, us) == pytest.approx(si(kind, metric), rel=1e-9)


@pytest.mark.parametrize("name", sorted(DIMENSIONS))
def test_every_dimension_converts_to_its_metric_and_us_unit_and_back(name: str) -> None:
    shape = DIMENSIONS[name]
    for unit in (shape.metric_unit, shape.us_unit):
        assert convert(convert(7.0, unit, shape.si_unit), shape.si_unit, unit) == pytest.approx(7.0, rel=1e-12)


@pytest.mark.parametrize("kind", Quantity.__subclasses__(), ids=lambda kind: kind.__name__)
def test_example_given_in_messages_is_accepted_by_its_own_kind(kind: type[Quantity]) -> None:
    assert all(math.isfinite(value) for value in si(kind, kind.example()))


def test_micro_sign_and_greek_mu_are_the_same() -> None:
    assert si(GapHeight, "50 \u00b5m") == si(GapHeight, "50 \u03bcm") == pytest.approx((5e-5,) * 3)


def test_percent_and_plain_share_are_the_same() -> None:
    assert si(Share, "80 %") == pytest.approx(si(Share, 0.8))
    assert si(Ratio, "-5 %") == pytest.approx((-0.05,) * 3)


def test_currency_is_read_from_the_unit() -> None:
    assert Money.model_validate("12 000 EUR").currency == "EUR"
    assert MoneyPerVolume.model_validate("9 USD/L").currency == "USD"
    assert Length.model_validate("9 mm").currency is None


@settings(deadline=None, max_examples=50)
@given(values=st.lists(st.floats(1e-3, 1e6), min_size=3, max_size=3))
def test_any_rising_range_is_kept_in_order(values: list[float]) -> None:
    low, likely, high = sorted(values)
    result = si(Pressure, {"low": low, "likely": likely, "high": high, "unit": "psi"})
    assert result[0] <= result[1] <= result[2]
    assert result[1] == pytest.approx(likely * 6894.757293168, rel=1e-9)


def test_wrong_dimension_names_the_unit_met_and_an_example() -> None:
    assert refusal(Pressure, "12 gpm") == "Given in gpm, which does not measure pressure. Give for example 3.5 bar."
    assert refusal(Length, "5 mm EUR").endswith("does not measure length. Give for example 120 mm.")
    assert refusal(Temperature, "60 C").startswith("Given in C, which does not measure temperature.")


def test_number_without_unit_is_refused_where_a_unit_is_needed() -> None:
    assert refusal(Pressure, 3) == "A number without unit does not measure pressure. Give for example 3.5 bar."
    assert si(Number, 3) == (3, 3, 3)


def test_falling_range_is_refused_with_its_numbers() -> None:
    assert refusal(Pressure, "3..2..5 bar").startswith("Low, likely, high are 3, 2, 5: they must not fall.")
    assert refusal(Pressure, "6..5 bar").startswith("Low, likely, high are 6, 5: they must not fall.")


def test_half_a_range_and_no_number_are_refused() -> None:
    assert refusal(Pressure, {"low": 1, "unit": "bar"}).startswith("A range needs both low and high.")
    assert refusal(Pressure, {"unit": "bar"}).startswith("No number is given.")


def test_limits_are_refused_with_value_and_limit_in_the_unit_given() -> None:
    assert refusal(Flow, "-3 L/min") == "-3 L/min is below 0 L/min. Give for example 120 L/min."
    assert refusal(Pressure, {"low": -1, "likely": 1, "high": 2, "unit": "bar"}).startswith("-1 bar is below 0 bar.")
    assert refusal(Length, "0 in").startswith("0 in is not above 0 in.")
    assert refusal(Count, 0) == "0 is below 1. Give for example 12."
    assert refusal(Share, "120 %").startswith("120 % is above 100 %.")
    assert refusal(Temperature, "-300 degC").startswith("-300 °C is below -173 °C.")


@pytest.mark.parametrize("text", ["3,5 bar", "1,000 Pa", "2,5..3 bar"])
def test_comma_in_a_number_is_refused_not_guessed(text: str) -> None:
    message = refusal(Pressure, text)
    assert repr(text) in message
    assert "has a comma in the number. Write 1.5 with a point, thousands without a mark." in message


@pytest.mark.parametrize("text", ["nan bar", "inf bar", "NaN", "", "bar", "about 3 bar", "4 bar " * 80])
def test_text_that_is_no_number_is_refused(text: str) -> None:
    assert "does not start with a number. Write for example 3.5 bar or 2..5 bar." in refusal(Pressure, text)


@pytest.mark.parametrize(
    "value",
    [math.nan, math.inf, -math.inf, 10**400, "1e400 bar", {"likely": math.nan, "unit": "bar"},
     {"likely": math.inf, "unit": "bar"}],
    ids=["nan", "inf", "-inf", "huge whole number", "text over range", "nan in mapping", "inf in mapping"],
)  # fmt: skip
def test_number_that_is_not_finite_is_refused(value: object) -> None:
    assert "finite number" in refusal(Pressure, value)


def test_number_that_overflows_in_si_is_refused() -> None:
    assert refusal(Pressure, "1e308 MPa") == "10³⁰⁸ MPa is too large. Give for example 3.5 bar."


@pytest.mark.parametrize("value", [True, False])
def test_yes_and_no_are_not_numbers(value: bool) -> None:
    assert refusal(Pressure, value) == f"{value} is not a quantity. Give for example 3.5 bar."
    message = refusal(Pressure, {"likely": value, "unit": "bar"})
    assert message == f"Likely is {value}, not a number. Give for example 3.5 bar."


@pytest.mark.parametrize("value", [None, [], [3], b"3 bar"])
def test_other_kinds_of_data_are_not_quantities(value: object) -> None:
    assert refusal(Pressure, value) == f"{value} is not a quantity. Give for example 3.5 bar."


def test_unknown_unit_gets_the_nearest_name() -> None:
    assert refusal(Pressure, "3 barr").startswith("'barr' is not a unit known here. Did you mean \"bar\"?")
    assert "Did you mean \"EUR\"?" in refusal(Money, "5 eur")
    assert "'XYZ' is not a unit known here. Allowed: " in refusal(Money, "5 XYZ")


@pytest.mark.parametrize(
    "unit",
    ["bar**9**9**9", "bar^9^9^9", "9**9**9", "Pa*9^99^99", "(9^99)^99*Pa", "((Pa^9)^9)^9", "bar²³", "Pa^(9^9)",
     "cubed cubed cubed cubed m", "Pa^99", "10^1000*Pa", "Pa^999999", "Pa*111111111111111111", "((((((((((Pa",
     "/", "Pa/0", "__import__('os')", "lambda: 3", "Pa;Pa", "\x00", "４²"],
)  # fmt: skip
def test_unit_bombs_are_refused_at_once(unit: str) -> None:
    start = time.perf_counter()
    message = refusal(Pressure, {"likely": 3, "unit": unit})
    assert "is not a unit" in message
    # Computing any of these towers would take far longer than this, if it ended at all.
    assert time.perf_counter() - start < 2.0


def test_overlong_unit_is_refused_with_the_limit() -> None:
    assert "at most 40 characters" in refusal(Pressure, "3 " + "Pa*" * 50 + "Pa")


def test_powers_in_common_use_stay_allowed() -> None:
    for text in ("2 m^2", "2 m**2", "2 m²"):
        assert convert(2.0, text[2:], "m**2") == 2.0
    assert convert(1.0, "bar/(L/min)^2", "Pa*s**2/m**6") == pytest.approx(1e5 * 60000.0**2)
    assert convert(4.0, "MPa^0.5", "Pa**0.5") == pytest.approx(4000.0)


def test_unit_is_shown_as_people_write_it() -> None:
    assert readable_unit("money/(m**2*year)", "EUR") == "EUR/(m²·year)"
    assert readable_unit("delta_degF") == "°F"
    assert readable_unit("MPa**0.5") == "MPa^½"
    assert show(350000.0, "pressure", "US") == "50.8 psi"
    assert show(50.8e-6, "gap", "US") == "2 mil"
    assert show(0.0, "volume per area", "US") == "0 floz/ft²"


def test_written_text_is_read_back_to_the_same_value() -> None:
    written: list[tuple[type[Quantity], str]] = [
        (Pressure, "2..3..5 bar"),
        (Length, "12 000 mm"),
        (Share, "80 %"),
        (Resistance, "1e6 ohm"),
        (Temperature, "140 °F"),
        (VolumePerArea, "80 mL/m²"),
        (TemperatureDifference, "18 °F"),
    ]
    for kind, text in written:
        quantity = kind.model_validate(text)
        assert kind.model_validate(quantity.text()).si() == pytest.approx(quantity.si(), rel=1e-9)
