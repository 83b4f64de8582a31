"""Verdicts and musts of an evaluation as rows and sentences."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from catalog_schema.units import number_text, show
from model.evaluate import Evaluation, MachineOutcome
from model.requirements import Requirement
from screens.rows import percent, record_names, span


def thresholds(evaluation: Evaluation) -> tuple[float, float]:
    """Give the probabilities from which a must is met and up to which it is missed."""
    musts = evaluation.case.plant.requirements
    return musts.probability.si()[1], musts.rule_out_below.si()[1]


def verdict_sentence(evaluation: Evaluation) -> str:
    """Say in one sentence how many offers and classes can, cannot, or may clean every board type."""
    written = []
    for word, is_candidate in (("offers", True), ("classes", False)):
        results = [one.result for one in evaluation.machines if one.machine.is_candidate == is_candidate]
        if results:
            out, still_open, fine = (results.count(result) for result in ("falls short", "unknown", "meets"))
            written.append(f"of {len(results)} {word}, ruled out: {out}, open: {still_open}, meet every must: {fine}")
    text = "; ".join(written)
    return f"{text[:1].upper()}{text[1:]}, over {len(evaluation.case.board_types)} board types."


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


def joint_probability(outcome: MachineOutcome) -> str:
    """Write the probability that all musts hold; an upper bound where some could not be computed."""
    open_ended = outcome.probability > 0 and any(one.met is None for one in outcome.all_judged())
    return f"at most {percent(outcome.probability)}" if open_ended else percent(outcome.probability)


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
         must.title, must.result, measure(must, system, currency), margin(must), percent(must.probability),
         must.sentence.text(system, currency))
        for must in musts
    ]  # fmt: skip
    columns = ["Board type", "Fluid", "Must", "Result", "Measure against limit", "Margin", "Probability", "Finding"]
    return pd.DataFrame(found, columns=columns)


def figures(must: Requirement, system: str, currency: str) -> str:
    """Write a must's probability, margin and measure in one line, as far as it has them."""
    written = [f"Probability {percent(must.probability)}"]
    if must.margin_ratio is not None:
        written.append(f"margin {margin(must)}")
    if must.measure is not None:
        written.append(measure(must, system, currency))
    return " · ".join(written)


def measure(must: Requirement, system: str, currency: str) -> str:
    """Write a must's measure with its band, and its limit."""
    if must.measure is None or must.limit is None:
        return "yes or no"
    low, middle, high = must.measure
    written = span(low, middle, high, must.dimension, system, currency)
    return f"{written}, {must.direction} {show(must.limit, must.dimension, system, currency)}"


def margin(must: Requirement) -> str:
    """Write the margin: how many times better than the limit the middle of the draws is."""
    if must.margin_ratio is None:
        return "–"
    if must.margin_ratio < 0.01:
        return "below 0.01 ×"
    return f"{number_text(must.margin_ratio, 2)} ×" if must.margin_ratio < 1000 else "over 1000 ×"
