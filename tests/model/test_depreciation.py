"""Depreciation schedules: shares, sums, book values, error sentences."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.depreciation import MACRS_HALF_YEAR_PERCENT, book_value_shares, macrs_shares, straight_line_shares


@pytest.mark.parametrize("class_years", sorted(MACRS_HALF_YEAR_PERCENT))
def test_every_macrs_table_sums_to_the_whole_price_in_one_year_more_than_the_class(class_years: int) -> None:
    shares = macrs_shares(class_years)
    assert shares.size == class_years + 1
    assert shares.sum() == pytest.approx(1.0, abs=1e-12)


@settings(deadline=None, max_examples=50)
@given(years=st.integers(1, 40), residual_share=st.floats(0.0, 1.0))
def test_straight_line_leaves_the_residual_share_in_the_books(years: int, residual_share: float) -> None:
    shares = straight_line_shares(years, residual_share)
    assert shares.shape == (years,)
    assert np.ptp(shares) == 0.0
    assert book_value_shares(shares)[-1] == pytest.approx(residual_share, abs=1e-12)


def test_a_price_that_stays_in_the_books_whole_is_never_written_off() -> None:
    assert book_value_shares(straight_line_shares(3, 1.0)).tolist() == [1.0, 1.0, 1.0, 1.0]


@pytest.mark.parametrize("class_years", sorted(MACRS_HALF_YEAR_PERCENT))
def test_book_value_falls_from_the_price_to_nothing(class_years: int) -> None:
    book = book_value_shares(macrs_shares(class_years))
    assert book[0] == 1.0
    assert np.all(np.diff(book) < 0)
    assert book[-1] == pytest.approx(0.0, abs=1e-12)


def test_macrs_writes_off_faster_than_a_straight_line_of_the_same_class() -> None:
    for class_years in MACRS_HALF_YEAR_PERCENT:
        fast = np.cumsum(macrs_shares(class_years))
        # From the third year on; before that the half-year convention holds the table back.
        even = np.cumsum(np.append(straight_line_shares(class_years), 0.0))
        assert np.all(fast[1 : class_years - 1] > even[1 : class_years - 1])


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: straight_line_shares(0), r"depreciation life is 0 years. Give a whole number"),
        (lambda: straight_line_shares(-3), r"depreciation life is -3 years"),
        (lambda: straight_line_shares(2.5), r"depreciation life is 2\.5 years"),  # type: ignore[arg-type]
        (lambda: straight_line_shares(5, 1.2), r"residual share of the books is 1\.2"),
        (lambda: macrs_shares(4), r"no MACRS table for a class of 4 years. Choose one of: 3, 5, 7, 10"),
        (lambda: book_value_shares(np.array([0.5, -0.1])), r"none below 0"),
        (lambda: book_value_shares(np.array([[0.5, 0.1]])), r"^The depreciation shares are \[\[0.5, 0.1\]\]. Give one"),
        (lambda: book_value_shares(np.array([0.5, np.nan])), r"none below 0"),
        (lambda: book_value_shares(np.array([0.8, 0.3])), r"sum to 1\.1"),
    ],
)
def test_what_has_no_meaning_is_refused_with_the_value(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=sentence):
        call()
