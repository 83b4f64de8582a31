"""Dossier: which parts of the boards the streams reach, for the machines on which that matters."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from catalog_schema.inert_text import visible_text
from model.board_charts import board_chart
from model.charts import Sheet, side_by_side
from model.decision import Decision
from model.dossier_blocks import Block, Part, Picture, Section, Words
from model.dossier_svg import PRINT, picture_svg
from model.dossier_text import clear_text, joined
from model.evaluate import Evaluation
from model.outcomes import BoardOutcome, MachineOutcome
from model.picture_rows import HOW_DRAWN, exposure_note, exposure_rows
from model.pictures import Exposure, exposure
from model.requirements import Requirement
from model.result_text import record_names, unit_of

MOST_PICTURES = 4
"""Machines shown: two fit a page, and more would not change what the pictures say."""
FACE_WIDTH = 240
NUMBER_ROOM = 200
"""Pixels of a face's width from which numbers of two digits have room in its eight cells."""

HOW_TO_READ = (
    "Each square is a part of the board; its number is the share of the wash time, in percent, during which a stream "
    "acts there, and it is filled the darker the larger that is. What no stream reaches is cleared by soaking alone. "
    f"{HOW_DRAWN}"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """One machine with the board type that its wash finds hardest."""

    outcome: MachineOutcome
    board: BoardOutcome
    why: str


def exposure_section(evaluation: Evaluation, decision: Decision | None, system: str) -> Section:
    """Draw the streams over both faces of a board, for the leading machine and for those that the wash rules out.

    Parameters
    ----------
    evaluation : Evaluation
    decision : Decision or None
        Names the leading machine.
    system : str
        "metric" or "US".

    Returns
    -------
    Section
        With at most MOST_PICTURES pictures; it says in words where there is nothing to draw.
    """
    blocks: list[Block] = []
    left_out: list[str] = []
    for shown in _matters(evaluation, decision):
        name = shown.outcome.machine.name
        if sum(isinstance(block, Part) for block in blocks) == MOST_PICTURES:
            left_out.append(name)
            continue
        try:
            fluid_id = shown.board.chosen.fluid_id
            found = exposure(evaluation, shown.outcome.machine.id, shown.board.board_id, fluid_id, "inner board")
        except (KeyError, ValueError):
            # Another principle, or no wash computed: the tables say why, and there is no stream to draw.
            continue
        blocks.append(_part(evaluation, shown, found, f"exposure-{len(blocks)}", system))
    if not blocks:
        blocks.append(Words(text="Neither the leading machine nor one that its wash rules out sprays in air, so there "
                            "is no stream to draw."))  # fmt: skip
    else:
        blocks.insert(0, Words(text=HOW_TO_READ, tone="small"))
    if left_out:
        blocks.append(Words(text=f"Not drawn here, but on the screens: {joined(left_out)}.", tone="small"))
    return Section(key="exposure", title="Which parts of the boards the streams reach", blocks=tuple(blocks))


def _matters(evaluation: Evaluation, decision: Decision | None) -> list[_Shown]:
    """List the leading machine, then the machines that fall short on a must of the wash, offers first."""
    found = []
    leader = None if decision is None or decision.leader is None else decision.table.machine_ids[decision.leader]
    ordered = sorted(evaluation.machines, key=lambda one: (one.machine.id != leader, not one.machine.is_candidate))
    for outcome in ordered:
        if outcome.machine.principle != "spray in air":
            continue
        washed = [one.requirement for one in outcome.all_judged() if one.requirement.stage == "wash"]
        if outcome.machine.id == leader:
            why = "it comes first"
        elif any(must.result == "falls short" for must in washed):
            why = "its wash falls short"
        else:
            continue
        boards = [must for must in washed if must.board_id]
        if boards:
            hardest = min(boards, key=partial(_badness, outcome))
            found.append(_Shown(outcome=outcome, board=outcome.board(hardest.board_id), why=why))
    return found


def _badness(outcome: MachineOutcome, must: Requirement) -> tuple[bool, float, float]:
    """Order musts of the wash: those with a wash to draw first, then the least probable."""
    probability = 1.0 if must.probability is None else must.probability
    margin = 1e9 if must.margin_ratio is None else must.margin_ratio
    return outcome.board(must.board_id).chosen.wash is None, probability, margin


def _part(evaluation: Evaluation, shown: _Shown, found: Exposure, prefix: str, system: str) -> Part:
    machine = shown.outcome.machine.name
    board = record_names(evaluation.case, evaluation.library)[("board_types", shown.board.board_id)]
    caption = (f"{machine} on {board}, the board type that its wash finds hardest; a board in the middle of the load. "
               f"{clear_text(found.sentence.text(system))} {clear_text(exposure_note(found, system))}")  # fmt: skip
    frame, _, _ = exposure_rows(found, "duty_share", "", system)
    frame = frame.assign(percent=100.0 * frame["duty_share"])
    sheet = Sheet(palette=PRINT, description=visible_text(caption, one_line=True), width=FACE_WIDTH)
    faces = [
        board_chart(face, sheet, value="percent", value_title="Percent of the wash time", greatest=100.0,
                    value_format=".0f" if float(frame["percent"].max()) >= 10.0 else ".1f",
                    length_unit=unit_of("length", system), standing=found.standing, room=NUMBER_ROOM, legend=False)
        for _, face in frame.groupby("side", sort=False)
    ]  # fmt: skip
    return Part(title=f"{machine}: {shown.why}", blocks=(
        Picture(svg=picture_svg(side_by_side(faces, sheet), prefix), caption=caption),
    ))  # fmt: skip
