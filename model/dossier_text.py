"""Numbers, names and probabilities as they are printed in the dossier."""

from __future__ import annotations

import math
import re

from catalog_schema.inert_text import visible_text
from catalog_schema.quantity import Quantity
from model import result_text
from model.money_format import format_amount

RESULT_MARKS = {"meets": "✓ meets", "unknown": "? open", "falls short": "✕ falls short"}
"""A sign and a word for each result: printed in black and white, neither needs a colour."""

MOST_LETTERS = 40
"""Letters of a name in a chart; longer ones would leave no room for the picture."""
_POWER = re.compile(r"(?<!\w)(?<!\d\.)(-?\d+(?:\.\d+)?)e([+-]?\d{1,3})(?!\w)")
_RAISED = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")
_NO_DECIMALS = re.compile(r"\.0+$")
_WITHOUT_END = re.compile(r"−?∞(?: (?:min|h|s|d|years?|%|bar|psi)(?![\w/]))?")


def clear_text(text: str) -> str:
    """Write what has no end in a word, and powers of ten as they are printed.

    >>> clear_text("Needs 68 min (24 min to ∞ min)."), clear_text("at most 1e+09 Ω")
    ('Needs 68 min (24 min to no end).', 'at most 10⁹ Ω')
    """
    return _POWER.sub(_power, _WITHOUT_END.sub("no end", text)).replace(" %", "\N{NO-BREAK SPACE}%")


def _power(match: re.Match[str]) -> str:
    exponent = str(int(match.group(2))).translate(_RAISED)
    return f"10{exponent}" if match.group(1) == "1" else f"{match.group(1)}·10{exponent}"


def span(low: float, likely: float, high: float, dimension: str, system: str, currency: str = "") -> str:
    """Write a likely value with its range as it is printed."""
    return clear_text(result_text.span(low, likely, high, dimension, system, currency))


def amount_of(quantity: Quantity | None, system: str, absent: str = "not given") -> str:
    """Write a quantity of the case, or say that it is not given."""
    if quantity is None:
        return absent
    low, likely, high = quantity.si()
    return span(low, likely, high, quantity.dimension, system, quantity.currency or "")


def percent(share: float | None) -> str:
    """Write a probability so that a line does not end before its sign."""
    return result_text.percent(share).replace(" %", "\N{NO-BREAK SPACE}%")


def money(amount: float, currency: str) -> str:
    """Write an estimated amount of money to three significant digits, or say that there is none.

    >>> money(104_321.0, "EUR"), money(467.98, "EUR"), money(0.714, "EUR"), money(math.inf, "EUR")
    ('€104K', '€468', '€0.71', 'not computed')
    """
    if not math.isfinite(amount):
        return "not computed"
    rounded = float(f"{amount:.3g}")
    # A currency's decimals after a rounded whole amount would claim what nobody knows.
    return _NO_DECIMALS.sub("", format_amount(rounded, currency, compact=True))


def money_span(points: tuple[float, float, float], currency: str) -> str:
    """Write the middle of an amount with the 5 and 95 % points behind it."""
    low, middle, high = points
    if low == high or not (math.isfinite(low) and math.isfinite(high)):
        return money(middle, currency)
    return f"{money(middle, currency)} ({money(low, currency)} to {money(high, currency)})"


def joined(names: list[str]) -> str:
    """Write names as a list in words.

    >>> joined(["a", "b", "c"])
    'a, b and c'
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else ""


def counted(count: int, one: str, more: str) -> str:
    """Write a count with its noun.

    >>> counted(1, "offer", "offers"), counted(3, "offer", "offers")
    ('1 offer', '3 offers')
    """
    return f"{count} {one if count == 1 else more}"


def short_names(names: list[str]) -> list[str]:
    """Cut long names for a chart and keep them apart: a chart joins rows of the same name.

    >>> short_names(["washer", "washer"])
    ['washer', 'washer (2)']
    """
    seen: dict[str, int] = {}
    found = []
    for name in names:
        shown = visible_text(name, one_line=True)
        short = shown if len(shown) <= MOST_LETTERS else f"{shown[: MOST_LETTERS - 1]}…"
        seen[short] = seen.get(short, 0) + 1
        found.append(short if seen[short] == 1 else f"{short} ({seen[short]})")
    return found
