"""Draws: stratified columns found again by their key, PERT, uniform and log-uniform ranges."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from catalog_schema.quantity import LongDuration, Money, Number, Pressure
from model.uncertainty import (
    Drawn,
    FloatArray,
    InputBook,
    draw_quantity,
    draw_range,
    low_middle_high,
    lower_of,
    median,
    medians,
    merge_inputs,
    part_of,
    stratified_ranks,
)

MANY = 20_000


@given(st.text(max_size=20), st.integers(1, 300), st.integers(0, 10_000))
@settings(deadline=None, max_examples=50)
def test_every_stratum_is_drawn_once(key: str, draws: int, seed: int) -> None:
    ranks = stratified_ranks(key, draws, seed)
    np.testing.assert_allclose(np.sort(ranks), (np.arange(draws) + 0.5) / draws)


def test_the_same_key_and_seed_give_the_same_column_whatever_else_is_drawn() -> None:
    one, other = InputBook(64, 3), InputBook(64, 3)
    for name in "abc":
        other.take(Number(low=1, high=2), name, "measured")
    pressure = Pressure.model_validate("2..3..5 bar")
    np.testing.assert_array_equal(
        one.take(pressure, "spray", "stated"), other.take(pressure, "spray", "stated")
    )
    assert not np.array_equal(stratified_ranks("a", 64, 3), stratified_ranks("a", 64, 4))


def test_columns_of_different_keys_are_independent() -> None:
    """Rank correlations of 45 pairs stay within what independent permutations give (5 standard errors)."""
    draws = 2000
    columns = np.array([stratified_ranks(f"key {place}", draws, 1) for place in range(10)])
    off = np.corrcoef(columns)[np.triu_indices(10, 1)]
    assert np.abs(off).max() < 5.0 / np.sqrt(draws)
    # And not only linearly: the joint counts of a pair fill the square evenly.
    counts = np.histogram2d(columns[0], columns[1], bins=5)[0]
    assert stats.chisquare(counts.ravel()).pvalue > 1e-4


# N: textbooks, PERT(2, 4, 9): mean 4.5 and exact variance 1.607143 = (mean − low)(high − mean)/7 of the beta
# distribution; the classic rule ((high − low)/6)² = 1.361111 is not what is drawn.
def test_pert_has_the_textbook_mean_and_the_exact_variance() -> None:
    values = draw_range(2.0, 4.0, 9.0, stratified_ranks("x", MANY, 1))
    assert values.mean() == pytest.approx(4.5, rel=1e-4)
    assert values.var() == pytest.approx(1.607143, rel=1e-3)
    assert abs(values.var() - 1.361111) > 0.2


# N: textbooks, variance of the triangular distribution (a² + b² + c² − ab − ac − bc)/18: it is not the one used.
def test_the_triangular_distribution_is_not_used() -> None:
    a, m, b = 2.0, 4.0, 9.0
    triangular = (a * a + m * m + b * b - a * m - a * b - m * b) / 18
    values = draw_range(a, m, b, stratified_ranks("x", MANY, 1))
    assert abs(values.var() - triangular) > 0.4
    assert values.mean() != pytest.approx((a + m + b) / 3, rel=0.01)


@given(st.floats(0.0, 1.0), st.floats(0.1, 50.0))
@settings(deadline=None, max_examples=50)
def test_draws_stay_within_the_range_and_keep_the_pert_mean(mode_share: float, width: float) -> None:
    low, high = 3.0, 3.0 + width
    values = draw_range(low, low + mode_share * width, high, stratified_ranks("x", 4000, 2))
    assert values.min() >= low
    assert values.max() <= high
    assert (values.mean() - low) / width == pytest.approx((1 + 4 * mode_share) / 6, abs=2e-3)


def test_a_bare_range_below_a_decade_is_uniform() -> None:
    values = np.sort(draw_range(2.0, None, 12.0, stratified_ranks("x", MANY, 1)))
    np.testing.assert_allclose(values, np.linspace(2.0, 12.0, MANY), atol=1e-3)


def test_a_bare_range_of_a_decade_or_more_has_equally_likely_decades() -> None:
    values = draw_range(1e6, None, 1e9, stratified_ranks("x", MANY, 1))
    for decade in (6, 7, 8):
        assert np.mean((values >= 10**decade) & (values < 10 ** (decade + 1))) == pytest.approx(1 / 3, abs=1e-3)
    assert np.median(values) == pytest.approx(10**7.5, rel=1e-3)
    assert np.median(draw_range(1.0, None, 10.0, stratified_ranks("x", MANY, 1))) == pytest.approx(10**0.5, rel=1e-3)


def test_a_bare_range_of_exactly_a_decade_has_its_middle_in_the_middle_of_the_decade() -> None:
    assert np.median(draw_range(1.0, None, 10.0, stratified_ranks("x", 101, 1))) == pytest.approx(10**0.5, rel=1e-12)


def test_a_range_that_starts_at_nothing_is_uniform_however_wide() -> None:
    assert np.median(draw_range(0.0, None, 1e6, stratified_ranks("x", MANY, 1))) == pytest.approx(5e5, rel=1e-3)


def test_a_single_value_does_not_vary() -> None:
    assert np.ptp(draw_quantity(Pressure.model_validate("3 bar"), "x", 50, 1)) == 0.0


def test_ranks_from_more_inputs_than_one_give_more_spread_than_either() -> None:
    one, other = (draw_range(0.0, 1.0, 2.0, stratified_ranks(key, MANY, 1)) for key in "ab")
    assert (one + other).var() == pytest.approx(one.var() + other.var(), rel=0.03)


@pytest.mark.parametrize("values", [(3.0, 2.0, 4.0), (1.0, 5.0, 4.0), (4.0, None, 1.0)])
def test_values_out_of_order_are_refused(values: tuple[float, float | None, float]) -> None:
    with pytest.raises(ValueError, match="are not in order"):
        draw_range(values[0], values[1], values[2], stratified_ranks("x", 4, 1))


def test_no_draws_are_refused() -> None:
    with pytest.raises(ValueError, match="0 draws were asked for"):
        stratified_ranks("x", 0, 1)


# ---- The book --------------------------------------------------------------------------------------------------------


def test_the_book_remembers_each_quantity_once_with_its_basis_and_source() -> None:
    book = InputBook(8, 1)
    given_ = Pressure.model_validate({"low": 2, "likely": 3, "high": 5, "unit": "bar", "source": "Data sheet 7"})
    for _ in range(2):
        book.take(given_, "spray.pressure", "stated", stated=False)
    (record,) = book.inputs()
    assert (record.path, record.basis, record.source) == ("spray.pressure", "stated", "Data sheet 7")
    assert record.stated is False
    assert (record.low, record.likely, record.high) == (2e5, 3e5, 5e5)
    assert (record.given, record.dimension) == ("2..3..5 bar", "pressure")


def test_a_basis_named_by_the_quantity_stands_before_that_of_its_document() -> None:
    book = InputBook(8, 1)
    book.take(Number(likely=1, basis="measured"), "x", "stated")
    assert book.inputs()[0].basis == "measured"


def test_only_what_varies_is_listed_as_uncertain() -> None:
    book = InputBook(8, 1)
    book.take(Number(low=1, likely=2, high=3), "wide", "stated")
    book.take(Number(likely=2), "sharp", "stated")
    assert set(book.uncertain_columns()) == {"wide"}


def test_a_column_that_starts_and_ends_alike_but_varies_between_is_uncertain() -> None:
    shared: Drawn = {}
    number = Number(low=1, likely=2, high=3)
    for path, column in (("bowed", [2.0, 1.0, 3.0, 2.0]), ("level", [2.0] * 4), ("one step", [2.0, 2.0, 2.0, 3.0])):
        InputBook(4, 1, drawn=shared).take(number, path, "stated")
        shared[path, "stated", True] = shared[path, "stated", True][0], np.array(column)
    book = InputBook(4, 1, drawn=shared)
    for path, _, _ in shared:
        book.take(number, path, "stated")
    assert list(book.uncertain_columns()) == ["bowed", "one step"]


def test_of_a_single_draw_nothing_varies() -> None:
    book = InputBook(1, 1)
    book.take(Number(low=1, likely=2, high=3), "wide", "stated")
    assert book.uncertain_columns() == {}


def test_columns_cannot_be_changed_by_who_reads_them() -> None:
    column = InputBook(8, 1).take(Number(low=1, high=2), "x", "stated")
    with pytest.raises(ValueError, match="read-only"):
        column[0] = 0.0


def test_money_is_brought_to_the_plants_currency() -> None:
    book = InputBook(8, 1, {"USD": 0.9})
    np.testing.assert_allclose(book.take(Money.model_validate("100 USD"), "a", "stated"), 90.0)
    np.testing.assert_allclose(book.take(Money.model_validate("100 EUR"), "b", "stated"), 100.0)


def test_quantities_are_drawn_in_si() -> None:
    hours = InputBook(4, 1).take(LongDuration.model_validate("2 h"), "x", "stated")
    np.testing.assert_allclose(hours, 7200.0)


def test_the_outer_points_over_draws_are_draws_and_the_middle_is_their_median_and_all_may_be_infinite() -> None:
    assert low_middle_high(np.array([3.0, np.inf, 1.0])) == (1.0, 3.0, np.inf)
    assert low_middle_high(np.arange(101.0)) == (5.0, 50.0, 95.0)
    assert low_middle_high(np.array([4.0, np.inf, 2.0, 1.0])) == (1.0, 3.0, np.inf)
    assert low_middle_high(np.array([np.inf, 1.0, np.inf, 2.0]))[1] == np.inf


def test_merged_inputs_keep_each_path_once_in_order() -> None:
    books = [InputBook(2, 1), InputBook(2, 1)]
    for book, names in zip(books, ("ab", "bc"), strict=True):
        for name in names:
            book.take(Number(likely=1), name, "stated")
    assert [record.path for record in merge_inputs(book.inputs() for book in books)] == ["a", "b", "c"]


def test_a_noted_price_is_told_in_the_plants_currency_with_all_that_its_owner_wrote() -> None:
    book = InputBook(8, 1, {"USD": 0.5})
    price = Money.model_validate(
        {"low": 100, "likely": 200, "high": 400, "unit": "USD", "source": "Offer 7", "note": "net"}
    )
    column = book.take(price, "prices.purchase", "stated", stated=False)
    (record,) = book.inputs()
    assert (record.path, record.low, record.likely, record.high) == ("prices.purchase", 50.0, 100.0, 200.0)
    assert (record.basis, record.source, record.note, record.stated) == ("stated", "Offer 7", "net", False)
    assert (record.dimension, record.currency, record.given) == ("money", "USD", price.text())
    assert column.min() > 50.0
    assert column.max() < 200.0
    assert not column.flags.writeable
    # A currency without a rate is the plant's own.
    own = InputBook(8, 1, {"USD": 0.5}).take(Money.model_validate("100 EUR"), "a", "stated")
    np.testing.assert_allclose(own, 100.0)


def test_ranks_are_the_same_on_every_machine_and_in_every_version() -> None:
    # Saved results rest on them: a permutation by PCG64 seeded with the seed and eight bytes of BLAKE2b of the path.
    digest = hashlib.blake2b(b"plant.power", digest_size=8).digest()
    order = np.random.default_rng([7, int.from_bytes(digest, "little")]).permutation(6)
    np.testing.assert_array_equal(stratified_ranks("plant.power", 6, 7), (order + 0.5) / 6.0)
    assert stratified_ranks("plant.power", 1, 7).tolist() == [0.5]


def test_higher_ranks_draw_higher_values_and_a_range_of_nothing_its_one_value() -> None:
    ranks = (np.arange(9) + 0.5) / 9.0
    for low, likely, high in ((1.0, 2.0, 9.0), (1.0, None, 9.0), (1e-3, None, 1.0), (1.0, 9.0, 9.0), (1.0, 1.0, 9.0)):
        drawn = draw_range(low, likely, high, ranks)
        assert np.all(np.diff(drawn) > 0.0)
        assert low < drawn[0] < drawn[-1] < high
    np.testing.assert_array_equal(draw_range(2.0, None, 2.0, ranks), np.full(9, 2.0))
    np.testing.assert_array_equal(draw_range(2.0, 2.0, 2.0, ranks), np.full(9, 2.0))


def test_a_bare_range_far_below_one_has_equally_likely_decades_too() -> None:
    ranks = (np.arange(9) + 0.5) / 9.0
    assert draw_range(1e-6, None, 1e-2, ranks)[4] == pytest.approx(1e-4, rel=1e-9)


def test_a_likely_value_shapes_the_draws_of_a_quantity() -> None:
    likely, bare = (draw_quantity(Number.model_validate(text), "a", 400, 1) for text in ("1..2..9", "1..9"))
    assert likely.mean() == pytest.approx((1 + 4 * 2 + 9) / 6, rel=1e-3)
    assert bare.mean() == pytest.approx(5.0, rel=1e-3)


def test_a_book_draws_a_path_once_and_books_may_share_what_they_drew() -> None:
    shared: Drawn = {}
    first, second, alone = InputBook(5, 1, drawn=shared), InputBook(5, 1, drawn=shared), InputBook(5, 1)
    quantity = Number.model_validate("1..2..9")
    column = first.take(quantity, "a", "stated")
    assert first.take(Number.model_validate("3"), "a", "stated") is column
    assert first.take(quantity, "a", "measured", stated=False) is column
    assert [(one.basis, one.stated) for one in first.inputs()] == [("stated", True)]
    assert second.take(quantity, "a", "stated") is column
    assert alone.take(quantity, "a", "stated") is not column
    assert (first.inputs()[0].stated, first.inputs()[0].currency) == (True, "")
    assert [one.path for one in second.inputs()] == ["a"]


@settings(deadline=None, max_examples=50)
@given(st.integers(1, 12), st.integers(0, 99))
def test_middles_are_those_of_numpy(size: int, seed: int) -> None:
    values = np.random.default_rng(seed).normal(size=(3, size))
    assert median(values[0]) == pytest.approx(float(np.median(values[0])), rel=1e-12)
    np.testing.assert_allclose(medians(values), np.median(values, axis=1), rtol=1e-12)


def test_the_lower_of_two_is_taken_in_each_draw() -> None:
    first, second = np.array([1.0, 5.0, 3.0]), np.array([2.0, 4.0, 3.0])
    assert lower_of(first, second).tolist() == [1.0, 4.0, 3.0]
    below = np.array([0.5, 4.0, 3.0])
    assert lower_of(first, below) is below


@dataclass(frozen=True)
class Film:
    depth_m: FloatArray
    share: FloatArray


@dataclass(frozen=True)
class NamedFilm(Film):
    name: str


def test_a_part_of_a_record_holds_the_same_part_of_each_of_its_arrays() -> None:
    whole = NamedFilm(np.array([[1.0, 2.0], [3.0, 4.0], [5.0, 6.0]]), np.array([0.1, 0.2, 0.3]), "film")
    first, last = part_of(Film, whole, slice(2)), part_of(Film, whole, -1)
    assert type(first) is type(last) is Film
    assert first.depth_m.tolist() == [[1.0, 2.0], [3.0, 4.0]]
    assert first.share.tolist() == [0.1, 0.2]
    assert last.depth_m.tolist() == [5.0, 6.0]
    assert last.share.tolist() == 0.3
    # One row of many does not keep all of them in memory; several rows are not copied.
    assert not np.shares_memory(last.depth_m, whole.depth_m)
    assert np.shares_memory(first.depth_m, whole.depth_m)
