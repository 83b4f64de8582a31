"""Numbers, names and probabilities as they are printed in the dossier."""

from __future__ import annotations

import math
import re

from catalog_schema.case import Case, Library
from catalog_schema.inert_text import visible_text
from catalog_schema.quantity import Quantity
from catalog_schema.units import show, show_span
from model.field_names import field_words
from model.money_format import format_amount
from model.outcomes import MachineOutcome
from model.requirements import Requirement

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
    return _POWER.sub(_power, _WITHOUT_END.sub("no end", text))


def _power(match: re.Match[str]) -> str:
    exponent = str(int(match.group(2))).translate(_RAISED)
    return f"10{exponent}" if match.group(1) == "1" else f"{match.group(1)}·10{exponent}"


def sentence_case(text: str) -> str:
    """Begin a text with a capital letter."""
    return text[:1].upper() + text[1:]


def words(name: str) -> str:
    """Turn a field's name into words.

    >>> words("spray.nozzle_diameter")
    'Bore of the spray nozzles'
    """
    return sentence_case(field_words(name))


def span(low: float, likely: float, high: float, dimension: str, system: str, currency: str = "") -> str:
    """Write a likely value in the reader's unit, with its range behind it.

    >>> span(2e5, 3e5, 5e5, "pressure", "metric"), span(600.0, 1800.0, 18000.0, "time", "metric")
    ('3 bar (2 to 5)', '30 min (10 min to 5 h)')
    """
    return clear_text(show_span(low, likely, high, dimension, system, currency))


def amount_of(quantity: Quantity | None, system: str, absent: str = "not given") -> str:
    """Write a quantity of the case, or say that it is not given."""
    if quantity is None:
        return absent
    low, likely, high = quantity.si()
    return span(low, likely, high, quantity.dimension, system, quantity.currency or "")


def percent(share: float | None) -> str:
    r"""Write a probability without claiming more than the draws can tell.

    >>> percent(0.42), percent(0.004), percent(None)
    ('42\xa0%', 'below 1\xa0%', 'not computed')
    """
    if share is None or not math.isfinite(share):
        return "not computed"
    if 0 < share < 0.01:
        return "below 1\N{NO-BREAK SPACE}%"
    return f"{'above 99' if 0.99 < share < 1 else f'{100 * share:.0f}'}\N{NO-BREAK SPACE}%"


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


def joint_probability(outcome: MachineOutcome) -> str:
    """Write the probability that all musts hold; an upper bound where some could not be computed."""
    open_ended = outcome.probability > 0 and any(one.met is None for one in outcome.all_judged())
    return f"at most {percent(outcome.probability)}" if open_ended else percent(outcome.probability)


def measure(must: Requirement, system: str, currency: str) -> str:
    """Write a must's measure with its band against its limit; empty where it is yes or no."""
    if must.measure is None or must.limit is None:
        return ""
    written = span(*must.measure, must.dimension, system, currency)
    return f"{written}; {must.direction} {clear_text(show(must.limit, must.dimension, system, currency))}"


def margin(must: Requirement) -> str:
    """Write how many times better than the limit the middle of the draws is; a dash where there is no number."""
    if must.margin_ratio is None:
        return "–"
    if must.margin_ratio >= 1000:
        return "over 1000 ×"
    # A very small margin is written without an exponent: how far below nobody needs to know.
    return "below 0.01 ×" if 0 < must.margin_ratio < 0.01 else f"{must.margin_ratio:.2g} ×"


def record_names(case: Case, library: Library) -> dict[tuple[str, str], str]:
    """Give the name shown to people of every record, by group and id."""
    groups = ("machine_classes", "component_kinds", "flux_kinds", "board_parts", "fluids", "wetted_materials")
    named = {(group, record.id): record.name for group in groups for record in getattr(library, group)}
    for group in ("candidates", "board_types"):
        named |= {(group, record.id): record.name for record in getattr(case, group)}
    return named


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
