"""Dossier: which machines are ruled out and by what, and what is still open on those that are left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from model.charts import Sheet
from model.dossier_blocks import Block, Part, Picture, Section, Table, Words
from model.dossier_svg import PRINT, picture_svg
from model.dossier_text import RESULT_MARKS, clear_text, joined, percent, short_names
from model.evaluate import Evaluation
from model.outcomes import MachineOutcome
from model.range_charts import probability_chart
from model.requirements import STAGES, Judged, Requirement, Result
from model.result_text import figures, joint_probability, record_names, verdict_sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One kind of must on one machine: the board type on which it is judged worst, and where else it stands so."""

    worst: Requirement
    """The must with the lowest probability, then the lowest margin."""
    others: tuple[str, ...]
    """Ids of the other board types with the same result, "" for the machine as a whole."""


def split(evaluation: Evaluation) -> tuple[list[MachineOutcome], list[MachineOutcome]]:
    """Part the machines into those ruled out and those left."""
    out = [one for one in evaluation.machines if one.result == "falls short"]
    return out, [one for one in evaluation.machines if one.result != "falls short"]


def findings(outcome: MachineOutcome, result: Result) -> tuple[Finding, ...]:
    """Gather the musts with a result by their title, the deciding one first, then in the order of the job."""
    by_title: dict[str, list[Judged]] = {}
    for one in outcome.all_judged():
        if one.requirement.result == result:
            by_title.setdefault(one.requirement.title, []).append(one)
    deciding = outcome.deciding.requirement if outcome.deciding else None

    def badness(one: Judged) -> tuple[bool, float, float]:
        must = one.requirement
        return (must is not deciding, 2.0 if must.probability is None else must.probability,
                1e9 if must.margin_ratio is None else must.margin_ratio)  # fmt: skip

    found = []
    for judged in by_title.values():
        ordered = [one.requirement for one in sorted(judged, key=badness)]
        boards = dict.fromkeys(must.board_id for must in ordered[1:] if must.board_id != ordered[0].board_id)
        found.append(Finding(worst=ordered[0], others=tuple(boards)))
    return tuple(sorted(found, key=lambda one: (one.worst is not deciding, STAGES.index(one.worst.stage))))


def finding_table(evaluation: Evaluation, outcome: MachineOutcome, result: Result, system: str) -> Table:
    """Tabulate what a machine misses, or what is open on it, with sentence and numbers."""
    currency = evaluation.case.plant.currency
    names = record_names(evaluation.case, evaluation.library)

    def place(board_id: str) -> str:
        return names.get(("board_types", board_id), "the machine as a whole")

    rows = []
    for one in findings(outcome, result):
        must = one.worst
        sentence = clear_text(must.sentence.text(system, currency))
        if one.others:
            sentence += f" The same on {joined([place(board_id) for board_id in one.others])}."
        written = clear_text("; ".join(figures(must, system, currency)))
        rows.append((must.title, place(must.board_id), sentence, written))
    return Table(columns=("Must", "Worst on", "Finding", "Figures"), rows=tuple(rows), widths=(17, 15, 46, 22))


def overview_section(evaluation: Evaluation) -> Section:
    """Show every machine's verdict at one sight: table of board types against offers, and the probabilities."""
    blocks: list[Block] = [Words(text=verdict_sentence(evaluation), tone="lead")]
    musts = evaluation.case.plant.requirements
    meets_from, misses_to = musts.probability.si()[1], musts.rule_out_below.si()[1]
    offers = [one for one in evaluation.machines if one.machine.is_candidate]
    if offers and evaluation.case.board_types:
        blocks.append(_board_table(evaluation, offers))
    shown = [one for one in evaluation.machines if one.machine.is_candidate or one.result != "falls short"]
    if shown:
        drawn = pd.DataFrame({
            "name": short_names([one.machine.name for one in shown]),
            "probability": [one.probability for one in shown], "result": [one.result for one in shown],
        })  # fmt: skip
        caption = (f"Probability that every must holds on every board type. Dashed lines: from {percent(meets_from)} a "
                   f"machine meets, up to {percent(misses_to)} it falls short; a single must surely missed rules it "
                   "out too. Offers first, then the generic classes that are not ruled out.")  # fmt: skip
        sheet = Sheet(palette=PRINT, description=caption, width=330)
        chart = probability_chart(drawn, sheet, meets_from=meets_from, misses_to=misses_to)
        blocks.append(Picture(svg=picture_svg(chart, "verdicts"), caption=caption))
    if not evaluation.machines:
        blocks.append(Words(text="The case has no offers and compares with no class.", tone="notice"))
    return Section(key="verdicts", title="Which machines can do it", blocks=tuple(blocks))


def _board_table(evaluation: Evaluation, offers: Sequence[MachineOutcome]) -> Table:
    rows = []
    for outcome in offers:
        whole = {one.requirement.result for one in outcome.judged}
        result: Result = ("falls short" if "falls short" in whole else "unknown" if "unknown" in whole else "meets")
        cells = [_mark(_board_result(outcome, board.id)) for board in evaluation.case.board_types]
        rows.append((outcome.machine.name, *cells, _mark(result), _mark(outcome.result)))
    boards = tuple(board.name for board in evaluation.case.board_types)
    if len(boards) > 8:
        # More columns than a page can hold: count them instead.
        counts = [[row[1:-2].count(mark[0]) for mark in RESULT_MARKS.values()] for row in rows]
        return Table(
            columns=("Offer", "Boards met", "Boards open", "Boards missed", "Machine itself", "In all"),
            centred=(1, 2, 3, 4, 5), widths=(40, 12, 12, 12, 12, 12),
            rows=tuple((row[0], *(str(count) for count in found), row[-2], row[-1])
                       for row, found in zip(rows, counts, strict=True)),
            caption="On how many board types each offer meets every must. ✓ meets, ? open, ✕ falls short.",
        )  # fmt: skip
    width = 80 // (len(boards) + 2)
    return Table(
        columns=("Offer", *boards, "Machine itself", "In all"), rows=tuple(rows),
        centred=tuple(range(1, len(boards) + 3)),
        widths=(100 - width * (len(boards) + 2), *([width] * (len(boards) + 2))),
        caption="Offers against board types: ✓ meets every must, ? open, ✕ falls short on one.",
    )  # fmt: skip


def _board_result(outcome: MachineOutcome, board_id: str) -> Result:
    board = outcome.board(board_id)
    results = {board.chosen.result, *(one.requirement.result for one in (board.esd.judged if board.esd else ()))}
    return "falls short" if "falls short" in results else "unknown" if "unknown" in results else "meets"


def _mark(result: Result) -> str:
    return RESULT_MARKS[result][0]


def ruled_out_section(evaluation: Evaluation, system: str) -> Section:
    """Say of every machine ruled out which musts it misses, with sentence and numbers."""
    out, _ = split(evaluation)
    blocks: list[Block] = []
    if not out:
        blocks.append(Words(text="No machine is ruled out."))
    else:
        blocks.append(Words(tone="small", text="A machine is ruled out when it falls short on one must of one board "
                            "type, however good it is on the rest. The first row of each table decides. Margin: how "
                            "many times better than the limit the middle draw is; below 1 is worse."))  # fmt: skip
    for outcome in (one for one in out if one.machine.is_candidate):
        blocks.append(Part(title=outcome.machine.name, blocks=(
            _heading(outcome), finding_table(evaluation, outcome, "falls short", system))))  # fmt: skip
    classes = [one for one in out if not one.machine.is_candidate]
    if classes:
        blocks.append(Part(title="Generic classes ruled out", blocks=(_class_table(evaluation, classes, system),)))
    return Section(key="ruled-out", title="Ruled out, and why", blocks=tuple(blocks))


def _heading(outcome: MachineOutcome) -> Words:
    said = f"{RESULT_MARKS[outcome.result]}. Class: {outcome.machine.class_name}."
    if outcome.machine.supplier:
        said += f" Supplier: {outcome.machine.supplier}."
    return Words(text=f"{said} Probability that every must holds: {joint_probability(outcome)}.")


def _class_table(evaluation: Evaluation, classes: Sequence[MachineOutcome], system: str) -> Table:
    currency = evaluation.case.plant.currency
    names = record_names(evaluation.case, evaluation.library)
    rows = []
    for outcome in classes:
        found = findings(outcome, "falls short")
        must = found[0].worst
        more = [one.worst.title for one in found[1:]]
        place = names.get(("board_types", must.board_id), "the machine as a whole")
        finding = f"{must.title}, on {place}. {clear_text(must.sentence.text(system, currency))}"
        rows.append((outcome.machine.name, finding, "; ".join(more) or "nothing else"))
    return Table(columns=("Class", "Deciding must", "Also missed"), rows=tuple(rows), widths=(20, 55, 25))


def shortlist_blocks(evaluation: Evaluation, system: str) -> tuple[Block, ...]:
    """Say of every machine left what is still open on it."""
    _, left = split(evaluation)
    if not left:
        text = "No machine is left. Relax a must, change the board mix, or ask for other offers."
        return (Words(text=text, tone="notice"),)
    blocks: list[Block] = []
    for outcome in (one for one in left if one.machine.is_candidate):
        table = finding_table(evaluation, outcome, "unknown", system)
        tail = table if table.rows else Words(text=_nothing_open(outcome))
        blocks.append(Part(title=f"{outcome.machine.name}: what is still open", blocks=(_heading(outcome), tail)))
    classes = [one for one in left if not one.machine.is_candidate]
    if classes:
        rows = tuple((one.machine.name, RESULT_MARKS[one.result], joint_probability(one),
                      "; ".join(found.worst.title for found in findings(one, "unknown")) or "nothing by itself")
                     for one in classes)  # fmt: skip
        blocks.append(Part(title="Generic classes not ruled out", blocks=(
            Words(text="No offer of these kinds may be on the table yet; they are worth asking for.", tone="small"),
            Table(columns=("Class", "Result", "Probability", "Still open"), rows=rows, widths=(26, 14, 14, 46)),
        )))  # fmt: skip
    return tuple(blocks)


def _nothing_open(outcome: MachineOutcome) -> str:
    if outcome.result == "meets":
        return "Nothing is open: every must is met."
    return "Each must by itself is met; all together hold less often than the plant asks for."
