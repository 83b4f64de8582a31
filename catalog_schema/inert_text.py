"""Text from a file made harmless where others read it: no formula in a spreadsheet, no hidden character on a page."""

from __future__ import annotations

import unicodedata

_FORMULA_STARTS = frozenset("=+-@\t\r\n＝＋－＠")
"""First characters by which spreadsheet programs take a text for a formula, wide forms included."""
_INVISIBLE_CATEGORIES = frozenset(["Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"])
_BLANK_LETTERS = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u180b\u180c\u180d\u180f\u2800\u3164\uffa0")
"""Characters counted as letters or marks that show nothing."""


def _is_invisible(character: str) -> bool:
    code = ord(character)
    if 0xFE00 <= code <= 0xFE0F or 0xE0100 <= code <= 0xE01EF:
        return True  # variation selectors
    return character in _BLANK_LETTERS or unicodedata.category(character) in _INVISIBLE_CATEGORIES


def visible_text(text: str, *, one_line: bool = False) -> str:
    """Show characters that could hide or reorder text, as their code points.

    Parameters
    ----------
    text : str
    one_line : bool
        Show line breaks and tabs as code points too, instead of keeping them.

    Returns
    -------
    str
        Encodable as UTF-8 and free of control, bidirectional and blank characters.

    Notes
    -----
    Joiners are shown as well, though some scripts use them properly: in a short name a hidden difference does more
    harm than a visible code. Letters written from right to left are kept as they are. Characters that merely look
    alike (Latin a, Cyrillic а) are not told apart.

    >>> visible_text("fan\u202egnp.exe")
    'fan⟨U+202E⟩gnp.exe'
    """
    kept = "" if one_line else "\n\t"
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        f"⟨U+{ord(character):04X}⟩" if character not in kept and _is_invisible(character) else character
        for character in text
    )


def spreadsheet_safe(text: str) -> str:
    """Mark a text that a spreadsheet program would compute as a formula, so that it stays text.

    Parameters
    ----------
    text : str
        For text cells only; numbers are written as numbers and need no mark.

    Returns
    -------
    str
        With an apostrophe before it where the first character, blanks skipped, starts a formula; else unchanged.

    Notes
    -----
    Signs as listed in common guidance on CSV injection (from memory). The apostrophe stays visible in the cell of
    programs that do not use it as a text mark: harmless, and better than a formula.

    >>> spreadsheet_safe("=1+1"), spreadsheet_safe("batch washer")
    ("'=1+1", 'batch washer')
    """
    beginning = text[: len(text) - len(text.lstrip()) + 1]
    return f"'{text}" if any(character in _FORMULA_STARTS for character in beginning) else text
