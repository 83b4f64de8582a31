"""Text, names and formats of a workbook: nothing a user typed can start a formula or break a name."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from babel.numbers import get_currency_symbol

from model.money_format import currency_decimals

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
_NOT_IN_NAME = re.compile(r"[^A-Za-z0-9]+")
_CONTROL = re.compile(r"[\x00-\x1f\x7f]+")
MOST_SHEET_LETTERS = 31


def harmless(text: str) -> str:
    """Write text so that no program takes it as a formula: control marks go, a leading sign gets an apostrophe.

    >>> harmless("=1+1"), harmless("plain")
    ("'=1+1", 'plain')
    """
    leading = text[:1] in FORMULA_STARTS
    one_line = _CONTROL.sub(" ", text).strip()
    return f"'{one_line}" if leading or one_line[:1] in FORMULA_STARTS else one_line


def sheet_name(number: int, text: str) -> str:
    """Make a sheet name of letters, digits, spaces and dashes, unique by its number."""
    words = re.sub(r"[^\w -]+", " ", text, flags=re.ASCII).replace("_", " ").split()
    return f"{number} {' '.join(words)}"[:MOST_SHEET_LETTERS].strip()


@dataclass(slots=True)
class CellNames:
    """Defined names of one workbook, each used once whatever the ids are."""

    taken: set[str] = field(default_factory=set)
    """Names given so far, in small letters."""

    def unique(self, text: str) -> str:
        """Make a name from text: letters, digits and underscores, never like a cell address."""
        plain = _NOT_IN_NAME.sub("_", text).strip("_")[:200] or "name"
        # "A1", "R1C1" and names that begin with a digit are refused by spreadsheets.
        base = plain if "_" in plain and plain[0].isalpha() else f"v_{plain}"
        name, number = base, 1
        while name.lower() in self.taken:
            number += 1
            name = f"{base}_{number}"
        self.taken.add(name.lower())
        return name


def money_format(currency: str) -> str:
    """Give the number format of an amount with the currency's symbol and decimals."""
    decimals = currency_decimals(currency)
    digits = f"#,##0.{'0' * decimals}" if decimals else "#,##0"
    symbol = get_currency_symbol(currency, locale="en")
    return f"[${symbol}] {digits};[Red]-[${symbol}] {digits}"


def formats(workbook: Any, currency: str) -> dict[str, Any]:
    """Make the cell formats: black on white, grey headings, editable cells framed as well as tinted."""
    price_digits = '#,##0.00####'
    looks: dict[str, dict[str, object]] = {
        "title": {"bold": True, "font_size": 14},
        "head": {"bold": True, "bottom": 1, "text_wrap": True, "valign": "top", "bg_color": "#E7E4DA"},
        "section": {"bold": True, "top": 1},
        "text": {"text_wrap": True, "valign": "top"},
        "plain": {},
        "number": {"num_format": "#,##0.####"},
        "edit": {"num_format": price_digits, "border": 1, "bg_color": "#FBF6DF"},
        "edit_share": {"num_format": "0.00%", "border": 1, "bg_color": "#FBF6DF"},
        "share": {"num_format": "0.00%"},
        "price": {"num_format": price_digits},
        "money": {"num_format": money_format(currency)},
        "total": {"num_format": money_format(currency), "bold": True, "top": 1},
        "year": {"num_format": "0", "bold": True, "bottom": 1, "bg_color": "#E7E4DA"},
        "count": {"num_format": "0"},
        "years": {"num_format": "0.00"},
        "bold": {"bold": True, "top": 1},
    }
    return {name: workbook.add_format(look) for name, look in looks.items()}


def print_set_up(sheet: Any, case_name: str, *, head_row: int, columns: int) -> None:
    """Set a sheet to A4 landscape, as wide as the page, with its headings on every page."""
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0, head_row)
    sheet.repeat_columns(0, columns)
    sheet.set_margins(left=0.4, right=0.4, top=0.7, bottom=0.6)
    # An ampersand starts a code in headers, so it is doubled.
    sheet.set_header(f"&L{harmless(case_name).replace('&', '&&')[:120]}&R&A")
    sheet.set_footer("&LAfter-tax amounts unless a row says otherwise&RPage &P of &N")
    sheet.freeze_panes(head_row + 1, columns + 1)
