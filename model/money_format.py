"""Amounts of money in any ISO 4217 currency, written the way its users write it (Unicode CLDR data, through babel)."""

from __future__ import annotations

import copy
import difflib
import math
import re
import unicodedata
from decimal import ROUND_HALF_UP, Decimal
from functools import cache

from babel import Locale, UnknownLocaleError
from babel.numbers import (
    format_compact_currency,
    format_currency,
    get_currency_name,
    get_currency_precision,
    get_currency_symbol,
    list_currencies,
)


@cache
def currency_codes() -> tuple[str, ...]:
    """Return all known currency codes, sorted; withdrawn ones are included, so that old offers can be read."""
    return tuple(sorted(list_currencies()))


def currency_decimals(currency: str) -> int:
    """Return the usual number of decimals of a currency.

    Parameters
    ----------
    currency : str
        ISO 4217 code.

    Raises
    ------
    ValueError
        If the code is not known; the sentence names the nearest one.

    Notes
    -----
    Unicode CLDR supplemental data as shipped with babel. They give usage, which for a few currencies has fewer decimals
    than ISO 4217 itself.

    Examples
    --------
    >>> [currency_decimals(code) for code in ("USD", "JPY", "KWD")]
    [2, 0, 3]
    """
    _check_currency(currency)
    return int(get_currency_precision(currency))


def format_amount(amount: float, currency: str, locale: str = "en", compact: bool = False) -> str:
    r"""Return an amount as text, with the currency's symbol, decimals and the locale's grouping.

    Parameters
    ----------
    amount : float
        Money in units of the currency.
    currency : str
        ISO 4217 code, capital letters.
    locale : str
        Language, with or without country: "en", "de_CH", "ja".
    compact : bool
        True: three significant digits with the locale's word for thousand or million, for charts and tables;
        whole units where the language has no such word.

    Returns
    -------
    str
        Text with the no-break spaces the locale wants.

    Raises
    ------
    ValueError
        If the amount is not finite, or the currency or locale is not known.

    Notes
    -----
    Halves round away from zero, as on an invoice; an amount that rounds to nothing has no minus sign.

    Examples
    --------
    >>> [format_amount(1234.5, code) for code in ("USD", "JPY", "KWD")]
    ['$1,234.50', '¥1,235', 'KWD\xa01,234.500']
    >>> format_amount(1_250_000, "EUR", compact=True)
    '€1.25M'
    """
    _check_currency(currency)
    if not math.isfinite(amount):
        raise ValueError(f"The amount is {amount}. Only a finite amount can be written as money.")
    try:
        known_locale = Locale.parse(locale)
    except (UnknownLocaleError, ValueError, TypeError) as error:
        raise ValueError(f'"{locale}" is not a known language. Give a code such as "en", "de" or "pt_BR".') from error
    exact = Decimal(repr(float(amount)))  # repr: the digits the user typed, not their binary neighbours
    if compact and abs(exact) >= 1000:
        rounded = round_half_up(exact, 2 - exact.adjusted())
        text = format_compact_currency(rounded, currency, locale=known_locale, fraction_digits=2)
        if not _is_abbreviated(text, currency, known_locale):
            # Some languages have no short word for thousands: then whole units with their grouping.
            whole = copy.copy(known_locale.currency_formats["standard"])
            whole.frac_prec = (0, 0)
            units = round_half_up(exact, 0)
            text = format_currency(units, currency, format=whole, locale=known_locale, currency_digits=False)
    else:
        rounded = round_half_up(exact, currency_decimals(currency))
        text = format_currency(abs(rounded) if rounded == 0 else rounded, currency, locale=known_locale)
    return _space_letters_from_digits(text, get_currency_symbol(currency, locale=known_locale))


def _is_abbreviated(text: str, currency: str, locale: Locale) -> bool:
    """Return whether a compact amount holds a word for thousand, million, … beside the symbol."""
    return any(sign.isalpha() for sign in text.replace(get_currency_symbol(currency, locale=locale), ""))


def _space_letters_from_digits(text: str, symbol: str) -> str:
    """Put a no-break space between a digit and a currency symbol made of letters, as CLDR's currency spacing asks."""
    name = re.escape(symbol)
    if unicodedata.category(symbol[-1])[0] not in "SZ":
        text = re.sub(rf"({name})(?=\d)", "\\1\u00a0", text)
    if unicodedata.category(symbol[0])[0] not in "SZ":
        text = re.sub(rf"(?<=\d)({name})", "\u00a0\\1", text)
    return text


def round_half_up(amount: Decimal, digits: int) -> Decimal:
    """Return the amount rounded to so many decimals (negative: to tens, hundreds), halves away from zero."""
    return amount.quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_UP)


def _check_currency(currency: str) -> None:
    """Refuse an unknown code with the nearest known one, by spelling or by name."""
    if currency in currency_codes():
        return
    typed = str(currency).strip().upper()
    named = [code for code in currency_codes() if typed in _other_names(code)]
    nearest = named or difflib.get_close_matches(typed, currency_codes(), n=1, cutoff=0.6)
    hint = f" Did you mean {nearest[0]}?" if nearest else ""
    raise ValueError(f'"{currency}" is not a known currency.{hint} Give a three-letter ISO 4217 code such as EUR.')


def _other_names(code: str) -> set[str]:
    """Return what a user may type instead of the code: English name and symbols, in capitals."""
    names = {get_currency_name(code, locale="en")}
    names |= {get_currency_symbol(code, locale=locale) for locale in ("en", "en_NZ")}
    return {name.upper() for name in names}
