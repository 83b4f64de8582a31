"""A quick answer: one kind of machine against one kind of board, before any case exists."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from catalog_schema.boards import Alloy
from catalog_schema.case import Case
from catalog_schema.case_edits import add_record
from catalog_schema.files import starter_board, starter_case, starter_peak
from catalog_schema.library import load_library
from model.evaluate import Evaluation, evaluate
from model.outcomes import MachineOutcome
from model.requirements import Judged

QUICK_DRAWS = 160
"""Draws of the quick answer: enough to tell likely from unlikely, quick enough to answer at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuickAnswer:
    """What one kind of machine does to one kind of board."""

    case: Case
    """The case behind the answer; it can become the user's own."""
    evaluation: Evaluation
    """Everything computed."""
    outcome: MachineOutcome
    """The machine's outcome."""
    deciding: tuple[Judged, ...]
    """Musts that are missed or in doubt, the worst first; else the tightest ones that are met."""
    headline: str
    """The verdict in one sentence."""


def quick_case(machine_class: str, component: str, flux: str, alloy: Alloy) -> Case:
    """Make a case of one board type and one machine class from four choices and starter values.

    Parameters
    ----------
    machine_class, component, flux : str
        Ids in the library.
    alloy : Alloy

    Returns
    -------
    Case

    Raises
    ------
    CaseError
        When an id is not in the library.
    """
    kind = next((record for record in load_library().component_kinds if record.id == component), None)
    name = kind.name if kind else component
    board: dict[str, Any] = starter_board() | {
        "name": f"Board with {name}"[:120], "alloy": alloy, "flux": flux,
        "peak_reflow_temperature": starter_peak(alloy), "components": [{"kind": component, "count": 4}],
    }  # fmt: skip
    case = add_record(starter_case(), "board_types", board)
    return case.model_copy(update={"name": "Quick answer", "compare_classes": (machine_class,)})


def quick_answer(machine_class: str, component: str, flux: str, alloy: Alloy, draws: int = QUICK_DRAWS) -> QuickAnswer:
    """Judge one kind of machine against one kind of board.

    Parameters
    ----------
    machine_class, component, flux : str
        Ids in the library.
    alloy : Alloy
    draws : int

    Returns
    -------
    QuickAnswer
    """
    case = quick_case(machine_class, component, flux, alloy)
    evaluation = evaluate(case, draws=draws)
    outcome = evaluation.machines[0]
    rank = {"falls short": 0, "unknown": 1, "meets": 2}
    judged = sorted(
        outcome.all_judged(), key=lambda one: (rank[one.requirement.result], one.requirement.probability or 0)
    )
    troubled = tuple(one for one in judged if one.requirement.result != "meets")
    said = {
        "meets": "can do it on what is known",
        "falls short": "cannot do it",
        "unknown": "may do it; what is known does not decide it",
    }[outcome.result]
    missed = sum(one.requirement.result == "falls short" for one in judged)
    doubtful = sum(one.requirement.result == "unknown" for one in judged)
    tail = f": of {len(judged)} musts {missed} missed, {doubtful} in doubt, {len(judged) - missed - doubtful} met."
    return QuickAnswer(
        case=case, evaluation=evaluation, outcome=outcome, deciding=(troubled or tuple(judged))[:6],
        headline=f"{outcome.machine.name} {said}{tail}",
    )  # fmt: skip
