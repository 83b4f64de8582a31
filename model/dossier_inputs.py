"""Dossier annexes: every number that reached a result with what it rests on, and the sources by number."""

from __future__ import annotations

import re
from collections.abc import Iterable

from model.dossier_blocks import Block, Entries, Listing, Section, Table, Words
from model.dossier_text import clear_text, counted, span
from model.evaluate import Evaluation
from model.provenance import origin, record_of
from model.result_text import GROUPS, record_names, sentence_case, words
from model.uncertainty import Input, merge_inputs

_NUMBER = re.compile(r"(?<!\^)\d+(?: \d{3})*(?:\.\d+)?(?:e[+-]?\d+)?")

BASES = {
    "published": "a source is named", "common practice": "used in the trade, no source",
    "from memory": "known but not looked up", "engineering estimate": "our own judgement, with a wide range",
    "stated": "in the supplier's offer", "measured": "by the plant", "invented": "for demonstration only",
}  # fmt: skip


def assumption_sections(evaluation: Evaluation, extra: Iterable[Input], system: str) -> tuple[Section, ...]:
    """Print every input of an evaluation, grouped by what it describes.

    Parameters
    ----------
    evaluation : Evaluation
    extra : iterable of Input
        Further quantities read for the ranking.
    system : str
        "metric" or "US".

    Returns
    -------
    tuple of Section
        The assumptions, and where any source is named, the list of sources to which they refer by number.
    """
    inputs = merge_inputs((evaluation.inputs, tuple(extra)))
    sources: dict[str, int] = {}
    blocks: list[Block] = [Words(text=_count_sentence(inputs)), _basis_table(inputs)]
    blocks.append(Listing(parts=tuple(
        _entries(evaluation, group, identifier, records, sources, system)
        for (group, identifier), records in _grouped(inputs).items()
    )))  # fmt: skip
    annexes = [Section(key="assumptions", title="All assumptions", blocks=tuple(blocks), annex=True)]
    if sources:
        listed = tuple((f"[{number}]", source) for source, number in sources.items())
        annexes.append(Section(key="sources", title="Sources", annex=True, blocks=(
            Words(text="As named by whoever gave the number: by the library, the offer or the plant.", tone="small"),
            Table(columns=(), rows=listed, widths=(7, 93), dense=True),
        )))  # fmt: skip
    return tuple(annexes)


def silent_count(inputs: Iterable[Input]) -> int:
    """Count the numbers on which an offer is silent, so that its class's range stands in."""
    return sum(1 for record in inputs if record.path.startswith("candidates[") and not record.stated)


def _count_sentence(inputs: tuple[Input, ...]) -> str:
    stated = sum(1 for record in inputs if record.path.startswith("candidates[") and record.stated)
    return (f"{counted(len(inputs), 'number', 'numbers')} reached a result. The offers state {stated} of their own; on "
            f"{silent_count(inputs)} they are silent and the range of the machine's class stands in. Each is given as "
            "likely value (lowest to highest) under what it rests on, and as its owner wrote it where that differs. "
            "Figures in square brackets refer to the list of sources.")  # fmt: skip


def _basis_table(inputs: tuple[Input, ...]) -> Table:
    counts = [(basis, why, str(sum(1 for one in inputs if one.basis == basis))) for basis, why in BASES.items()]
    return Table(columns=("Basis", "Meaning", "Numbers"), rows=tuple(row for row in counts if row[2] != "0"),
                 widths=(28, 54, 18), figures=(2,))  # fmt: skip


def _grouped(inputs: tuple[Input, ...]) -> dict[tuple[str, str], list[Input]]:
    found: dict[tuple[str, str], list[Input]] = {}
    for record in inputs:
        group, identifier, _ = record_of(record.path)
        found.setdefault((group, identifier), []).append(record)
    order = list(GROUPS)
    last = len(order)
    return dict(sorted(found.items(), key=lambda item: order.index(item[0][0]) if item[0][0] in GROUPS else last))


def _entries(
    evaluation: Evaluation, group: str, identifier: str, records: list[Input], sources: dict[str, int], system: str
) -> Entries:
    """Gather a record's numbers under what they rest on, what an offer states before what it leaves out."""
    name = record_names(evaluation.case, evaluation.library).get((group, identifier), identifier)
    head = GROUPS.get(group, words(group))
    entries: dict[str, list[tuple[str, str, str]]] = {}
    for record in sorted(records, key=lambda one: not one.stated):
        heading = sentence_case(_standing(evaluation, record))
        if record.source:
            heading += f" [{sources.setdefault(record.source, len(sources) + 1)}]"
        entries.setdefault(heading, []).append(_entry(evaluation, record, system))
    return Entries(title=f"{head}: {name}" if name else head,
                   groups=tuple((heading, tuple(found)) for heading, found in entries.items()))  # fmt: skip


def _standing(evaluation: Evaluation, record: Input) -> str:
    """Say what a number rests on, and for an offer whether it states it."""
    if record.path.startswith("candidates["):
        where = "stated in the offer" if record.stated else "not stated, range of the class"
        return where if record.basis == "stated" else f"{where}: {record.basis}"
    if record.path.startswith(("board_types[", "plant.")):
        return record.basis
    return f"{record.basis}, from the case" if origin(record, evaluation.case).endswith("case") else record.basis


def _entry(evaluation: Evaluation, record: Input, system: str) -> tuple[str, str, str]:
    currency = evaluation.case.plant.currency
    value = span(record.low, record.likely, record.high, record.dimension, system, currency)
    same = record.dimension in ("share", "number") or _says_the_same(record.given, value)
    notes = [] if same else [f"given as {clear_text(record.given)}"]
    notes += [record.note] if record.note else []
    return words(record_of(record.path)[2]), value.replace("1/year", "per year"), "; ".join(notes)


def _says_the_same(given: str, value: str) -> bool:
    """Tell whether the printed value holds every number of the given text in the same unit.

    >>> _says_the_same("2.8..3.4 bar", "3.1 bar (2.8 to 3.4)"), _says_the_same("40 psi", "2.76 bar")
    (True, False)
    """
    numbers, unit = _split(given)
    shown, shown_unit = _split(value)
    return numbers <= shown and unit == shown_unit


def _split(text: str) -> tuple[set[str], str]:
    unit = _NUMBER.sub("", text)
    for written, plain in (("^2", "²"), ("^3", "³"), ("boards", "1"), ("(", ""), (")", ""), ("to", ""), ("..", ""),
                           (" ", ""), ("*", "·")):  # fmt: skip
        unit = unit.replace(written, plain)
    return set(_NUMBER.findall(text)), unit
