"""Which boards to try before signing: machine, fluid, minutes, component to lift, what to look for, what it decides."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from model.decision import Decision
from model.evaluate import Evaluation
from model.outcomes import BoardOutcome, MachineOutcome
from model.phrase import Phrase, phrase
from model.questions import knowing, price_of_score, turning_point
from model.trials import cleared_share_needed, residue_left_share
from model.uncertainty import FloatArray

SURE = 0.02
"""A must that holds, or fails, in all but this share of the draws needs no trial."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialStep:
    """One trial board."""

    number: int
    """Place in the order, from 1."""
    machine_id: str
    """Machine to try on."""
    machine_name: str
    """Name shown to people."""
    board_id: str
    """Board type."""
    board_name: str
    """Name shown to people."""
    fluid_id: str
    """Wash fluid."""
    fluid_name: str
    """Name shown to people."""
    minutes: float
    """Wash time."""
    component_id: str
    """Component kind to lift."""
    component_name: str
    """Name shown to people."""
    expected: tuple[float, float, float]
    """5 %, 50 % and 95 % point of the residue share expected under it."""
    probability_clean: float
    """Probability that it comes out clean enough."""
    look_for: Phrase
    """What to look for."""
    decides: Phrase
    """Which result would change what."""
    worth: float | None
    """Expected gain from knowing the result, plant currency per year; None without a price."""
    score_worth: float
    """The same in points of score, 0-1."""
    change_share: float
    """Probability that the result changes the choice."""

    def sentence(self, system: str = "metric", currency: str = "") -> str:
        """Write the trial in one line."""
        return (f"Wash {self.board_name} in {self.machine_name} with {self.fluid_name} for {self.minutes:.0f} min, "
                f"then lift {self.component_name}. {self.look_for.text(system, currency)} "
                f"{self.decides.text(system, currency)}")  # fmt: skip


def trial_plan(evaluation: Evaluation, decision: Decision, *, most: int = 8) -> tuple[TrialStep, ...]:
    """Plan the trials that tell most.

    Parameters
    ----------
    evaluation : Evaluation
        The one that the decision was made from.
    decision : Decision
    most : int
        Trials listed at most.

    Returns
    -------
    tuple of TrialStep
        The worthiest first, then those whose outcome is least certain; never two of one machine and board type.

    Notes
    -----
    For every offer that is left and every board type on which it is uncertain whether the wash ends in time: the
    longest wash the machine allows, and the component kind that needs longest. The expected residue share is computed
    like that of an entered trial (`model.trials.residue_left_share`); its worth is the partial EVPI of that share.
    """
    found: list[TrialStep] = []
    shares: list[FloatArray] = []
    for row in decision.ranking.order:
        outcome = evaluation.machine(decision.table.machine_ids[row])
        if not outcome.machine.is_candidate:
            continue
        for board in outcome.boards:
            step = _step(evaluation, outcome, board)
            if step is not None:
                found.append(step[0])
                shares.append(step[1])
    if not found:
        return ()
    known = knowing(decision, np.column_stack(shares))
    price = price_of_score(decision)
    if known is not None:
        found = [
            replace(
                step, score_worth=float(known.partial[k]), change_share=float(known.change_share[k]),
                worth=None if price is None else float(known.partial[k]) * price,
                decides=_decides(decision, shares[k], float(known.partial[k])),
            )
            for k, step in enumerate(found)
        ]  # fmt: skip
    found.sort(key=lambda one: (-one.score_worth, abs(one.probability_clean - 0.5), one.machine_id, one.board_id))
    return tuple(replace(step, number=number) for number, step in enumerate(found[:most], start=1))


def _step(evaluation: Evaluation, outcome: MachineOutcome,
          board: BoardOutcome) -> tuple[TrialStep, FloatArray] | None:  # fmt: skip
    chosen = board.chosen
    wash = chosen.wash
    if wash is None or wash.outcome is None or wash.max_time_s is None:
        return None
    clean = float(np.mean(wash.outcome.needed_time_s <= wash.max_time_s))
    if not SURE < clean < 1.0 - SURE:
        return None
    kind = wash.outcome.kinds[0]
    record = next(one for one in evaluation.case.board_types if one.id == board.board_id)
    fluid = next(one for one in evaluation.library.fluids if one.id == chosen.fluid_id)
    time_s = float(np.median(wash.max_time_s))
    share = residue_left_share(kind, time_s, cleared_share_needed(evaluation, outcome, record))
    low, middle, high = (float(point) for point in np.quantile(share, [0.05, 0.5, 0.95]))
    step = TrialStep(
        number=0, machine_id=outcome.machine.id, machine_name=outcome.machine.name, board_id=record.id,
        board_name=record.name, fluid_id=fluid.id, fluid_name=fluid.name, minutes=time_s / 60.0,
        component_id=kind.kind.id, component_name=kind.kind.name, expected=(low, middle, high), probability_clean=clean,
        look_for=phrase(
            "Choose the part in the worst place for the streams and look for residue from the middle outwards; "
            "{middle} of it left is expected ({low} to {high}).", middle=(middle, "share"), low=(low, "share"),
            high=(high, "share"),
        ),
        decides=_decides(None, share, 0.0), worth=None, score_worth=0.0, change_share=0.0,
    )  # fmt: skip
    return step, share


def _decides(decision: Decision | None, share: FloatArray, worth: float) -> Phrase:
    must = "If residue is still left there after this time, the machine falls short on this board type."
    turning = None if decision is None or worth <= 0.0 else turning_point(share, decision.scores)
    if turning is None or decision is None:
        return phrase(must)
    side, value, rival = turning
    return phrase(
        "{side} {value} of the residue left, {rival} would come first. " + must, side=side.capitalize(),
        value=(value, "share"), rival=decision.table.machine_names[rival],
    )  # fmt: skip
