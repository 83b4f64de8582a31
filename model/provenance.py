"""Which numbers stand behind a result: every quantity read for it, with basis and source."""

from __future__ import annotations

import re

from catalog_schema.boards import BoardType
from catalog_schema.case import Case
from model.evaluate import Evaluation, MachineOutcome
from model.uncertainty import Input

_RECORD = re.compile(r"(\w+)\[([^\]]+)\]\.(.+)")


def record_of(path: str) -> tuple[str, str, str]:
    """Split an input's path into group, record and field.

    >>> record_of("fluids[di-water].viscosity")
    ('fluids', 'di-water', 'viscosity')
    >>> record_of("constants.restitution")
    ('constants', '', 'restitution')
    """
    found = _RECORD.fullmatch(path)
    if found:
        return found.group(1), found.group(2), found.group(3)
    group, _, name = path.partition(".")
    return group, "", name


def inputs_behind(
    evaluation: Evaluation, outcome: MachineOutcome, board_id: str = "", fluid_id: str = ""
) -> tuple[Input, ...]:
    """List the quantities behind a result: all that the machine's computation read, less what other boards need.

    Parameters
    ----------
    evaluation : Evaluation
    outcome : MachineOutcome
    board_id, fluid_id : str
        Keep what concerns this board type and this fluid; empty keeps all.

    Returns
    -------
    tuple of Input

    Notes
    -----
    The list may hold more than one requirement needs (a pump's pressure beside a drying temperature), never less.
    """
    board = next((record for record in evaluation.case.board_types if record.id == board_id), None)
    return tuple(record for record in outcome.inputs if _concerns(record.path, board, fluid_id))


def _concerns(path: str, board: BoardType | None, fluid_id: str) -> bool:
    group, record, _ = record_of(path)
    if group == "fluids" and fluid_id:
        return record == fluid_id
    if board is None:
        return True
    if group == "board_types":
        return record == board.id
    if group == "component_kinds":
        return record in {component.kind for component in board.components}
    return record == board.flux if group == "flux_kinds" else True


def origin(record: Input, case: Case) -> str:
    """Say in words where an input stands: in the offer, in its class, in the case or in the library."""
    group, identifier, name = record_of(record.path)
    if group == "candidates":
        return "stated in the offer" if record.stated else "not stated: class range"
    if group in ("board_types", "plant"):
        return "case"
    if group == "constants":
        return "case" if getattr(case.constants, name, None) is not None else "library"
    own = any(entry.id == identifier for entry in getattr(case, group, ()))
    if group == "machine_classes":
        return "class range, from the case" if own else "class range"
    return "case" if own else "library"
