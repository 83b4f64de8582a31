"""What a board type asks of rack, charge control and careful handling, whatever the machine."""

from __future__ import annotations

import numpy as np

from catalog_schema.units import show
from model.board_harm import NEUTRAL_PH, sensitive_parts
from model.demand_records import Asking, Demand
from model.esd import in_standard_scope
from model.phrase import phrase

HUMAN_BODY_CLASSES = (
    (50.0, "0Z"), (125.0, "0A"), (250.0, "0B"), (500.0, "1A"), (1000.0, "1B"), (2000.0, "1C"), (4000.0, "2"),
    (8000.0, "3A"), (np.inf, "3B"),
)  # fmt: skip
"""Withstand voltage below which a part has the class (ANSI/ESDA/JEDEC JS-001, from memory)."""

AGENT_WORDS = {
    "ultrasound": "ultrasound", "immersion": "immersion", "spray": "spray", "temperature": "heat",
    "alkaline": "alkaline fluid", "acidic": "acidic fluid", "solvent": "solvent", "vacuum": "vacuum",
    "centrifugal": "spinning under fluid",
}  # fmt: skip


def human_body_class(withstand_V: float) -> str:
    """Class of a part by its human-body-model withstand voltage.

    >>> human_body_class(100.0), human_body_class(125.0)
    ('0A', '0B')
    """
    return next(name for below, name in HUMAN_BODY_CLASSES if withstand_V < below)


def size_demands(asked: Asking) -> tuple[Demand, ...]:
    """Work out the room that a board type takes in rack or belt.

    Parameters
    ----------
    asked : Asking
        With a board type and a fresh book.

    Returns
    -------
    tuple of Demand

    Notes
    -----
    Pitch: laminate and the tallest part on every populated side, so that neighbours do not touch; which side carries
    it is not known, so both are taken. Room for the streams between the boards comes on top and is the supplier's.
    """
    board, context = asked.board, asked.context
    assert board is not None  # asked per board type only
    tallest = max((context.kinds[part.kind] for part in board.components), key=lambda kind: kind.height.si()[1])
    length, width = context.of_board(board, "length"), context.of_board(board, "width")
    height = context.of_kind(tallest, "height")
    pitch = context.of_board(board, "thickness") + board.populated_sides * height
    edge = (float(np.median(np.maximum(length, width))), "length")
    return (
        asked.number(
            "long edge", "Board and rack", phrase("Longer edge that must fit"), "at least", np.maximum(length, width),
            "length", phrase("The board is {edge} by {other}.", edge=edge,
                             other=(float(np.median(np.minimum(length, width))), "length")),
        ),
        asked.number(
            "short edge", "Board and rack", phrase("Shorter edge that must fit"), "at least",
            np.minimum(length, width), "length",
            phrase("The board is {edge} by {other}.", edge=edge,
                   other=(float(np.median(np.minimum(length, width))), "length")),
        ),
        asked.number(
            "pitch", "Board and rack", phrase("Pitch of standing boards, without room for the streams"), "at least",
            pitch, "length",
            phrase("Laminate and {kind} ({height} tall) on {sides} take {pitch}. Add what the streams need.",
                   kind=tallest.name, height=(float(np.median(height)), "length"),
                   sides="one side" if board.populated_sides == 1 else "two sides",
                   pitch=(float(np.median(pitch)), "length")),
        ),
        asked.number(
            "lot", "Volume", phrase("Boards that come together"), "at least", context.of_board(board, "lot_size"),
            "number", phrase("A lot is {lot} boards; say how many loads that makes.",
                             lot=(float(np.median(context.of_board(board, "lot_size"))), "number")),
        ),
    )  # fmt: skip


def charge_demands(asked: Asking) -> tuple[Demand, ...]:
    """Ask that a board is not charged beyond what its most sensitive part withstands; empty when that is not known."""
    board, context = asked.board, asked.context
    assert board is not None  # asked per board type only
    if board.withstand_voltage is None:
        return ()
    withstand = context.of_board(board, "withstand_voltage")
    middle = float(np.median(withstand))
    template = "Its most sensitive part withstands {voltage}, human-body model: class {name}."
    if not in_standard_scope(human_body_V=middle):
        template += " That is below the scope of an ordinary ESD programme; say what is done about it."
    return (
        asked.number("charge", "Board and rack", phrase("Charge on a board, at any time"), "at most", withstand,
                     "voltage", phrase(template, voltage=(middle, "voltage"), name=human_body_class(middle))),
    )  # fmt: skip


def part_demands(asked: Asking) -> tuple[Demand, ...]:
    """List what must not, or not untested, act on a board type because of its sensitive parts."""
    board, context = asked.board, asked.context
    assert board is not None  # asked per board type only
    found = []
    for part_id in sensitive_parts(board, context.kinds):
        for number, rule in enumerate(context.parts[part_id].rules, start=1):
            own, bound = asked.fresh(), ""
            if rule.agent in ("alkaline", "acidic"):
                ph = rule.above.si()[1] if rule.above is not None else NEUTRAL_PH
                bound = f" of pH {'above' if rule.agent == 'alkaline' else 'below'} {ph:g}"
            warm = ""
            if rule.above_temperature is not None:
                path = f"board_parts[{part_id}].rules[{number}].above_temperature"
                own.context.inputs.book.take(rule.above_temperature, path, rule.basis)
                warm = f" above {show(rule.above_temperature.si()[1], 'temperature')}"
            verb = "No" if rule.result == "not allowed" else "Test first:"
            found.append(
                own.fact(
                    f"part {rule.result} {rule.agent} {part_id}", "Sensitive parts",
                    phrase("{verb} {agent}{bound}{warm}", verb=verb, agent=AGENT_WORDS[rule.agent], bound=bound,
                           warm=warm),
                    phrase("{part}: {why} Basis: {basis}.", part=context.parts[part_id].name, why=rule.why,
                           basis=rule.source or rule.basis),
                )
            )  # fmt: skip
    return tuple(found)
