"""One cell of a spreadsheet as what the case takes: sizes, components, and records by the names people use."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from catalog_schema.case import Library

FLAG_FIELDS = {"uncleaned_allowed", "coated"}
WHOLE_FIELDS = {"populated_sides", "count", "rinse.max_rinses"}
RECORDS = {"flux": "flux_kinds", "machine_class": "machine_classes", "wash.fluids": "fluids", "parts": "board_parts"}
"""Fields that name records of the library, one or several."""
LIST_FIELDS = {"parts", "wash.fluids"}
SHORTEST_WORD = 3
"""Letters that a word of an id needs to name its record alone."""

_FLAGS = {"yes": True, "true": True, "1": True, "y": True, "no": False, "false": False, "0": False, "n": False}
_ALLOY_WORDS = {
    "lead-free": ("leadfree", "pbfree", "sac"), "low-temperature": ("lowtemp", "snbi"),
    "tin-lead": ("tinlead", "snpb", "sn63", "sn60", "leaded"),
}  # fmt: skip
"""Beginnings of what people write for an alloy, without marks between."""
_BARE_NUMBER = re.compile(r"[-+0-9. eE]+(\s*\.\.\s*[-+0-9. eE]+)*")
_SIDE = r"(\d+(?:\.\d+)?)\s*([A-Za-zµ]*?)"
_SIZE = re.compile(rf"{_SIDE}\s*[x×*]\s*{_SIDE}(?:\s*[x×*]\s*{_SIDE})?")


def _letters(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "", text.lower().replace("×", "x"))


class NameIndex:
    """Finds the one record that a text names: by id, by name, by a word of its id, or by its id as a word of the text.

    >>> from catalog_schema.library import load_library
    >>> names = NameIndex(load_library().component_kinds)
    >>> names.find("QFN 7x7"), names.find("0402"), names.find("QFN")
    ('qfn-7x7', 'chip-0402', None)
    """

    def __init__(self, records: Iterable[Any]) -> None:
        self._ids: dict[str, set[str]] = {}
        self._called: dict[str, set[str]] = {}
        self._words: dict[str, set[str]] = {}
        self._letters: dict[str, set[str]] = {}
        for record in records:
            self._ids.setdefault(record.id, set()).add(record.id)
            self._letters.setdefault(_letters(record.id), set()).add(record.id)
            for called in (record.id, record.name):
                self._called.setdefault(_letters(called), set()).add(record.id)
            for word in re.split(r"[-_.]", record.id):
                if len(_letters(word)) >= SHORTEST_WORD:
                    self._words.setdefault(_letters(word), set()).add(record.id)

    def find(self, text: str) -> str | None:
        """Give the id of the record named, or None when none or several fit."""
        wanted = _letters(text)
        for found in (
            self._ids.get(text, set()), self._called.get(wanted, set()), self._words.get(wanted, set()),
            set().union(*(self._letters.get(_letters(word), set()) for word in re.split(r"[\s,/()]+", text))),
        ):  # fmt: skip
            if wanted and len(found) == 1:
                return next(iter(found))
        return None


Names = Mapping[str, NameIndex]


def names_of(library: Library) -> dict[str, NameIndex]:
    """Give an index of names for every list of the library that a cell may name a record of."""
    return {field: NameIndex(getattr(library, field)) for field in ("component_kinds", *RECORDS.values())}


def component_cell(text: str, names: Names) -> list[dict[str, Any]]:
    """Read components such as "qfn-7x7 x 4; chip-0402 x 120" or "QFN 7 × 7 mm"; what is not known stays as written."""
    found: list[dict[str, Any]] = []
    for part in filter(None, (part.strip() for part in re.split(r"[;|\n]", text))):
        whole = _component(part, names)
        # A name may hold a comma itself, so commas part only what is no name.
        pieces = [part] if whole is not None or "," not in part else [one.strip() for one in part.split(",")]
        found += [_component(piece, names) or _unknown(piece) for piece in pieces if piece]
    return found


def _component(text: str, names: Names) -> dict[str, Any] | None:
    after = re.fullmatch(r"(.+?)\s*[x×*:]\s*(\d{1,9})", text)
    before = re.fullmatch(r"(\d{1,9})\s*[x×*]\s*(.+)", text)
    # A count first: "qfn-7x7 x 4" names a kind too, while what is left of "QFN 7x7" without its last 7 names none.
    readings = [(after[1], after[2])] if after else []
    readings += [(before[2], before[1])] if before else []
    for name, count in [*readings, (text, "1")]:
        kind = names["component_kinds"].find(name)
        if kind is not None:
            return {"kind": kind, "count": int(count)}
    return None


def _unknown(text: str) -> dict[str, Any]:
    """Leave a kind as written, for the check of the case to name what is near."""
    counted = re.fullmatch(r"(.+?)\s+[x×*:]\s*(\d{1,9})", text)
    return {"kind": counted[1], "count": int(counted[2])} if counted else {"kind": text, "count": 1}


def size_cell(text: str, unit: str) -> dict[str, str]:
    """Read "160 x 100 mm" or "160 x 100 x 1.6 mm" as length, width and thickness; a unit holds for what has none.

    Raises
    ------
    ValueError
        With a sentence, when it is no size.

    >>> size_cell("160 x 100", "mm")
    {'length': '160 mm', 'width': '100 mm'}
    """
    found = _SIZE.fullmatch(text)
    sides = [(found[1], found[2]), (found[3], found[4]), (found[5], found[6])] if found else []
    given = [(number, its) for number, its in sides if number]
    last = next((its for _, its in reversed(given) if its), unit)
    if not given or not last:
        raise ValueError(f"{text[:60]!r} is not a size with its unit. Give for example 160 x 100 mm.")
    return {name: f"{number} {its or last}" for name, (number, its) in
            zip(("length", "width", "thickness"), given, strict=False)}  # fmt: skip


def cell_value(field: str, text: str, unit: str, names: Names) -> Any:
    """Read the cell of any other field; a unit of the heading holds for bare numbers."""
    if field in FLAG_FIELDS and text.lower() in _FLAGS:
        return _FLAGS[text.lower()]
    if field in WHOLE_FIELDS and re.fullmatch(r"\d+(\.0)?", text):
        return int(float(text))
    if field == "components":
        return component_cell(text, names)
    if field == "alloy":
        words = _letters(text)
        return next((alloy for alloy, starts in _ALLOY_WORDS.items() if words.startswith(starts)), text)
    if field in RECORDS:
        given = [part.strip() for part in re.split(r"[;,|]", text) if part.strip()] if field in LIST_FIELDS else [text]
        read = [names[RECORDS[field]].find(name) or name for name in given]
        return read if field in LIST_FIELDS else read[0]
    return f"{text} {unit}" if unit and _BARE_NUMBER.fullmatch(text) else text
