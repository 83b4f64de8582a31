"""Verdicts and musts of an evaluation as rows and sentences."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from model.evaluate import Evaluation, MachineOutcome
from model.requirements import Requirement
from model.result_text import figures, joint_probability, margin, measure, percent, record_names, sentence_case


def thresholds(evaluation: Evaluation) -> tuple[float, float]:
    """Give the probabilities from which a must is met and up to which it is missed."""
    musts = evaluation.case.plant.requirements
    return musts.probability.si()[1], musts.rule_out_below.si()[1]


def probabilities(evaluation: Evaluation) -> pd.DataFrame:
    """Give each machine's result and probability for drawing."""
    found = [(outcome.machine.name, outcome.probability, outcome.result) for outcome in evaluation.machines]
    return pd.DataFrame(found, columns=["name", "probability", "result"])


def verdict_rows(evaluation: Evaluation, system: str) -> pd.DataFrame:
    """List the verdict on every machine, with the must that decides."""
    currency = evaluation.case.plant.currency
    names = record_names(evaluation.case, evaluation.library)
    found = []
    for outcome in evaluation.machines:
        must = outcome.deciding.requirement if outcome.deciding else None
        found.append(
            (outcome.machine.name, "offer" if outcome.machine.is_candidate else "class", outcome.result,
             joint_probability(outcome), names.get(("board_types", must.board_id), "the machine") if must else "",
             must.title if must else "", must.sentence.text(system, currency) if must else "")
        )  # fmt: skip
    return pd.DataFrame(found, columns=[
        "Machine", "Kind", "Result", "Probability", "Decided on", "Deciding must", "Finding"])  # fmt: skip


def musts_of(outcome: MachineOutcome, board_id: str) -> list[Requirement]:
    """List the musts on one board type ("": of the machine as a whole), those not met first."""
    rank = {"falls short": 0, "unknown": 1, "meets": 2}
    chosen = [one.requirement for one in outcome.all_judged() if one.requirement.board_id == board_id]
    return sorted(chosen, key=lambda must: rank[must.result])


def requirement_rows(evaluation: Evaluation, musts: Iterable[Requirement], system: str) -> pd.DataFrame:
    """List musts as they stand with the fluid chosen for each board type."""
    currency = evaluation.case.plant.currency
    names = record_names(evaluation.case, evaluation.library)
    found = [
        (names.get(("board_types", must.board_id), "machine as a whole"), names.get(("fluids", must.fluid_id), ""),
         must.title, must.result, measure(must, system, currency) or "yes or no", margin(must),
         percent(must.probability), must.sentence.text(system, currency))
        for must in musts
    ]  # fmt: skip
    columns = ["Board type", "Fluid", "Must", "Result", "Measure against limit", "Margin", "Probability", "Finding"]
    return pd.DataFrame(found, columns=columns)


def figures_line(must: Requirement, system: str, currency: str) -> str:
    """Write a must's probability, margin and measure in one line, as far as it has them."""
    return sentence_case(" · ".join(figures(must, system, currency)))
