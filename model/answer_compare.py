"""Two evaluations side by side: which answers changed."""

from __future__ import annotations

from dataclasses import dataclass

from model.evaluate import Evaluation
from model.requirements import Result


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerChange:
    """One machine whose answer differs."""

    machine_id: str
    """The machine."""
    name: str
    """Its name."""
    before: Result | None
    """Earlier result, None when it was not there."""
    after: Result | None
    """Later result, None when it is gone."""
    probability_before: float | None
    """Earlier probability of meeting everything."""
    probability_after: float | None
    """Later probability of meeting everything."""
    sentence: str
    """What changed, in one sentence."""


def compare_answers(earlier: Evaluation, later: Evaluation, least_change: float = 0.01) -> tuple[AnswerChange, ...]:
    """List machines whose result or probability changed.

    Parameters
    ----------
    earlier, later : Evaluation
    least_change : float
        Change of probability below which nothing is said.

    Returns
    -------
    tuple of AnswerChange
    """
    before = {outcome.machine.id: outcome for outcome in earlier.machines}
    after = {outcome.machine.id: outcome for outcome in later.machines}
    changes = []
    for machine_id in dict.fromkeys([*before, *after]):
        old, new = before.get(machine_id), after.get(machine_id)
        if old is not None and new is not None:
            if old.result == new.result and abs(old.probability - new.probability) < least_change:
                continue
            sentence = (
                f"{new.machine.name}: {old.result} ({old.probability:.0%}) became {new.result} ({new.probability:.0%})."
            )
        elif new is not None:
            sentence = f"{new.machine.name} is new: {new.result} ({new.probability:.0%})."
        else:
            assert old is not None  # one of the two is there
            sentence = f"{old.machine.name} is no longer looked at; it was {old.result} ({old.probability:.0%})."
        shown = new or old
        assert shown is not None
        changes.append(
            AnswerChange(
                machine_id=machine_id, name=shown.machine.name, before=old.result if old else None,
                after=new.result if new else None, probability_before=old.probability if old else None,
                probability_after=new.probability if new else None, sentence=sentence,
            )
        )  # fmt: skip
    return tuple(changes)
