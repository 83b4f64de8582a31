"""Draws of uncertain quantities: one stratified column per quantity, found again by its path."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv

from catalog_schema.quantity import Quantity

T = TypeVar("T")

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LOG_RANGE_RATIO = 10.0
"""A bare range at least this wide, and above zero, is taken as log-uniform: its decades are equally likely."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One number that reached a result, as shown on screen and in the report."""

    path: str
    """Where it stands: document, record, field."""
    low: float
    """Lowest value in the SI unit of the dimension."""
    likely: float
    """Most likely value in the SI unit of the dimension."""
    high: float
    """Highest value in the SI unit of the dimension."""
    dimension: str
    """Dimension, a key of `catalog_schema.units.DIMENSIONS`."""
    given: str
    """The quantity as its owner wrote it."""
    basis: str
    """Where the number comes from."""
    source: str
    """Named source, or empty."""
    note: str
    """Note of its owner, or empty."""
    stated: bool
    """False when an offer is silent and its class's range stands in."""
    currency: str
    """ISO code, or empty when it is not money."""


def stratified_ranks(key: str, draws: int, seed: int) -> FloatArray:
    """Give one Latin-hypercube column for a key: the midpoints of equal strata in an order of its own.

    Parameters
    ----------
    key : str
        Path of the quantity; the same key and seed give the same column whatever else is drawn.
    draws : int
        Number of strata.
    seed : int

    Returns
    -------
    ndarray (draws,)
        Shares between 0 and 1, each stratum once.

    Notes
    -----
    Columns of different keys are independent permutations: a centred Latin hypercube (McKay, Beckman and Conover
    1979, from memory), built column by column so that editing one machine leaves the draws of all others as they were.
    """
    if draws < 1:
        raise ValueError(f"{draws} draws were asked for. At least 1 is needed.")
    digest = hashlib.blake2b(key.encode("utf-8"), digest_size=8).digest()
    generator = np.random.default_rng([seed, int.from_bytes(digest, "little")])
    return (generator.permutation(draws) + 0.5) / draws


@lru_cache(maxsize=2048)
def _pert_quantiles(mode_share: float, draws: int) -> FloatArray:
    quantiles = betaincinv(1.0 + 4.0 * mode_share, 5.0 - 4.0 * mode_share, (np.arange(draws) + 0.5) / draws)
    quantiles.setflags(write=False)
    return np.asarray(quantiles, dtype=np.float64)


def draw_range(low: float, likely: float | None, high: float, ranks: FloatArray) -> FloatArray:
    """Spread a range over ranks: PERT with a likely value, else uniform or log-uniform.

    Parameters
    ----------
    low, high : float
    likely : float or None
        Most likely value; None when only a range is known.
    ranks : ndarray (draws,)
        Midpoints of strata as given by `stratified_ranks`.

    Returns
    -------
    ndarray (draws,)

    Raises
    ------
    ValueError
        When low, likely, high are not in order.

    Notes
    -----
    PERT is the beta distribution with shape parameters 1 + 4 m and 5 − 4 m, m the mode's place in the range; its
    exact variance is (mean − low)(high − mean)/7.
    """
    if not low <= (low if likely is None else likely) <= high:
        raise ValueError(f"low {low:g}, likely {likely}, high {high:g} are not in order.")
    if low == high:
        return np.full(ranks.shape, low)
    if likely is None:
        if low > 0 and high / low >= LOG_RANGE_RATIO:
            return np.asarray(low * (high / low) ** ranks)
        return np.asarray(low + (high - low) * ranks)
    strata = np.rint(ranks * ranks.size - 0.5).astype(np.intp)
    mode_share = round((likely - low) / (high - low), 4)
    return np.asarray(low + (high - low) * _pert_quantiles(mode_share, ranks.size)[strata])


def draw_quantity(quantity: Quantity, key: str, draws: int, seed: int) -> FloatArray:
    """Draw a quantity in its SI unit.

    Parameters
    ----------
    quantity : Quantity
    key : str
        Path of the quantity.
    draws, seed : int

    Returns
    -------
    ndarray (draws,)
        In the SI unit of the quantity's dimension.
    """
    low, likely, high = quantity.si()
    if low == high:
        return np.full(draws, low)
    return draw_range(low, likely if quantity.has_likely else None, high, stratified_ranks(key, draws, seed))


Drawn = dict[tuple[str, str, bool], tuple[Input, FloatArray]]
"""Quantities already drawn, by path, default basis and whether stated: books of one evaluation may share them."""


class InputBook:
    """Draws quantities for one computation and remembers each one, so that every result can be traced.

    Parameters
    ----------
    draws, seed : int
    exchange_rates : dict, optional
        Amount of the plant's currency for one unit of each other currency; the plant's own counts 1.
    drawn : dict, optional
        Shared with other books of the same draws, seed, rates and records: what one has drawn none draws again. Each
        book still remembers only what was taken from itself.

    Notes
    -----
    An amount in another currency is multiplied by its rate: amount in the plant's currency = amount × rate.
    """

    def __init__(
        self, draws: int, seed: int, exchange_rates: dict[str, float] | None = None, drawn: Drawn | None = None
    ) -> None:
        """Start an empty book."""
        self.draws = draws
        self.seed = seed
        self._rates = exchange_rates or {}
        self._drawn: Drawn = {} if drawn is None else drawn
        self._inputs: dict[str, Input] = {}
        self._columns: dict[str, FloatArray] = {}

    def take(self, quantity: Quantity, path: str, default_basis: str, *, stated: bool = True) -> FloatArray:
        """Draw a quantity by its path and note it.

        Parameters
        ----------
        quantity : Quantity
        path : str
            Also the key of its column.
        default_basis : str
            Basis where the quantity itself names none.
        stated : bool
            False when an offer is silent and its class's range stands in.

        Returns
        -------
        ndarray (draws,)
            SI; money in the plant's currency.
        """
        found = self._columns.get(path)
        if found is not None:
            return found
        key = path, default_basis, stated
        if key not in self._drawn:
            self._drawn[key] = self._draw(quantity, path, default_basis, stated)
        self._inputs[path], self._columns[path] = self._drawn[key]
        return self._columns[path]

    def _draw(self, quantity: Quantity, path: str, default_basis: str, stated: bool) -> tuple[Input, FloatArray]:
        rate = self._rates.get(quantity.currency, 1.0) if quantity.currency else 1.0
        column = draw_quantity(quantity, path, self.draws, self.seed) * rate
        column.setflags(write=False)
        low, likely, high = (value * rate for value in quantity.si())
        record = Input(
            path=path, low=low, likely=likely, high=high, dimension=quantity.dimension, given=quantity.text(),
            basis=quantity.basis or default_basis, source=quantity.source, note=quantity.note, stated=stated,
            currency=quantity.currency or "",
        )  # fmt: skip
        return record, column

    def inputs(self) -> tuple[Input, ...]:
        """List all that was taken, in order of first use."""
        return tuple(self._inputs.values())

    def uncertain_columns(self) -> dict[str, FloatArray]:
        """Give the columns that vary over the draws, by path."""
        # Of nearly every column that varies the ends already differ.
        return {
            path: column
            for path, column in self._columns.items()
            if column.item(0) != column.item(-1) or column.min() != column.max()
        }


def share_true(outcome: BoolArray) -> float:
    """Share of the draws in which something holds."""
    return int(np.count_nonzero(outcome)) / outcome.size


def lower_of(first: FloatArray, second: FloatArray) -> FloatArray:
    """Lower of two values in each draw; where one is the lower in all draws that array itself, so that it is shared.

    >>> first = np.array([1.0, 2.0])
    >>> lower_of(first, np.array([3.0, 2.0])) is first
    True
    """
    if (first <= second).all():
        return first
    return second if (second <= first).all() else np.minimum(first, second)


def median(values: FloatArray) -> float:
    """Middle of the draws; the mean of the two middle ones where their number is even; infinite values are allowed.

    >>> median(np.array([4.0, 1.0, np.inf, 2.0]))
    3.0
    """
    return middle_of(in_order(values))


def medians(values: FloatArray) -> FloatArray:
    """Give the middle of the draws for each row, shape (rows,); as `median`.

    >>> medians(np.array([[4.0, 1.0, np.inf, 2.0], [1.0, 1.0, 2.0, 2.0]]))
    array([3. , 1.5])
    """
    ordered = np.sort(values, axis=1)
    last = ordered.shape[1] - 1
    return np.asarray(0.5 * (ordered[:, last // 2] + ordered[:, (last + 1) // 2]))


def low_middle_high(values: FloatArray) -> tuple[float, float, float]:
    """Give the 5 %, 50 % and 95 % points over the draws; infinite values stay infinite.

    >>> low_middle_high(np.array([1.0, 2.0, np.inf]))
    (1.0, 2.0, inf)
    """
    return low_middle_high_of(in_order(values))


def in_order(values: FloatArray) -> FloatArray:
    """Draws from the least to the greatest; what is not a number comes last, shape (draws,)."""
    # With what is built on it several times faster than numpy's own percentiles, which spend their time on options.
    ordered = np.array(values, dtype=np.float64)
    ordered.sort()
    return ordered


def middle_of(ordered: FloatArray) -> float:
    """Give `median` of draws that `in_order` gave."""
    return 0.5 * (ordered.item((ordered.size - 1) // 2) + ordered.item(ordered.size // 2))


def low_middle_high_of(ordered: FloatArray) -> tuple[float, float, float]:
    """Give `low_middle_high` of draws that `in_order` gave."""
    last = ordered.size - 1
    return ordered.item(round(0.05 * last)), middle_of(ordered), ordered.item(round(0.95 * last))


def part_of(kind: type[T], record: object, chosen: slice | int) -> T:
    """Take the same part, along the first axis, of every array that a record of a kind holds.

    A single row is copied, since a part of an array keeps the whole of it.
    """
    values = {one.name: np.asarray(getattr(record, one.name))[chosen] for one in fields(kind)}  # type: ignore[arg-type]
    return kind(**(values if isinstance(chosen, slice) else {name: value.copy() for name, value in values.items()}))


def merge_inputs(books: Iterable[tuple[Input, ...]]) -> tuple[Input, ...]:
    """Join inputs of several computations, each path once."""
    merged: dict[str, Input] = {}
    for inputs in books:
        for record in inputs:
            merged.setdefault(record.path, record)
    return tuple(merged.values())
