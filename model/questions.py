"""What is worth finding out before signing: questions to suppliers, in order, with what an answer would change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from catalog_schema.priorities import CRITERIA
from catalog_schema.units import show
from model.criteria import COST
from model.decision import Decision
from model.drivers import LEAST_DRAWS, OpenColumns, open_columns
from model.evaluate import Evaluation
from model.field_names import field_words
from model.outcomes import MachineOutcome
from model.phrase import Phrase, phrase
from model.provenance import record_of
from model.uncertainty import BoolArray, FloatArray
from model.value_of_information import ValueOfInformation, money_per_value_unit, value_of_information

MUST_EVIDENCE = 3.0
"""Standard errors by which an answer must move the probability of the musts to count as more than chance."""

LEAST_CHANGE_SHARE = 0.005
"""Knowing something that changes the choice less often than this is worth nothing that the draws could show."""

TURNING_BINS = 16
"""Classes of equal count in which the lead is looked at along one quantity."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question to one supplier."""

    number: int
    """Place in the order of worth, from 1."""
    machine_id: str
    """Machine asked about."""
    machine_name: str
    """Name shown to people."""
    supplier: str
    """Who is asked; the machine's name where the offer names nobody."""
    path: str
    """Where the quantity stands."""
    quantity: str
    """What is asked, in words."""
    assumed: Phrase
    """The range assumed until it is answered."""
    would_change: Phrase
    """What an answer would change."""
    worth: float | None
    """Expected gain from knowing it, plant currency per year; None where value has no price."""
    score_worth: float
    """The same in points of score, 0-1."""
    change_share: float
    """Probability that knowing it changes the choice; 0 where the draws cannot show it (`LEAST_CHANGE_SHARE`)."""
    must_change: float
    """Change of the probability that all musts hold between its low and its high third, signed."""

    def sentence(self, system: str = "metric", currency: str = "") -> str:
        """Write the question in one line."""
        return (f"Ask {self.supplier}: {self.quantity}? {self.assumed.text(system, currency)} "
                f"{self.would_change.text(system, currency)}")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """Value of finding out, for all open quantities of the machines that are ranked."""

    questions: tuple[Question, ...]
    """Most worth first; what cannot be computed until it is answered comes before all."""
    perfect: float | None
    """Expected gain from knowing everything, plant currency per year: the most an enquiry is worth; or None."""
    perfect_score: float
    """The same in points of score, 0-1."""
    perfect_change_share: float
    """Probability that knowing everything changes the choice."""
    money_per_point: float | None
    """Plant currency per year that one whole point of score is worth; None where cost has no weight."""
    headline: str
    """What to ask first, in one sentence."""


def price_of_score(decision: Decision) -> float | None:
    """Money per year that one unit of overall score is worth, at the leader's middle cost; None without a price."""
    leader = decision.leader
    if leader is None:
        return None
    place = decision.table.criteria.index(COST)
    function = decision.table.value_functions[place]
    points = np.asarray(function.points)
    cost = float(np.clip(np.median(decision.table.measures[:, leader, place]), points[0, 0], points[-1, 0]))
    piece = int(np.clip(np.searchsorted(points[:, 0], cost) - 1, 0, len(points) - 2))
    slope = (points[piece + 1, 1] - points[piece, 1]) / (points[piece + 1, 0] - points[piece, 0])
    try:
        return money_per_value_unit(decision.weights[place], float(slope))
    except ValueError:
        return None


def knowing(decision: Decision, columns: FloatArray) -> ValueOfInformation | None:
    """Give the worth of knowing each column, in points of score; None where the draws do not suffice."""
    if len(decision.ranking.order) == 0 or decision.scores.shape[0] < LEAST_DRAWS:
        return None
    return value_of_information(decision.scores, columns)


def worth_finding_out(evaluation: Evaluation, decision: Decision, *, most: int = 30) -> Worth:
    """Order the questions to the suppliers by what their answers are worth.

    Parameters as in `model.drivers.drivers`; at most `most` questions are listed.

    Notes
    -----
    For every quantity that an offer does not state: expected gain from knowing it before deciding (partial EVPI by
    regression on the draws, `model.value_of_information`), in points of score and, through weight and slope of the
    cost criterion, in money per year. A must that cannot be judged until a question is answered comes first, whatever
    its worth, because nobody can compute it. Quantities that only decide whether a machine meets its musts come after
    those that change the choice; those that do neither are left out. Gains are counted from the machine that is best on
    average over the draws.
    """
    rows = tuple(row for row in decision.ranking.order if _is_offer(evaluation, decision, row))
    price = price_of_score(decision)
    asked: list[Question] = []
    for row in rows:
        asked += _unjudged(evaluation, decision, row)
    columns = open_columns(evaluation, decision, rows)
    chosen = [k for k, path in enumerate(columns.paths) if _is_silent(columns, k, path)]
    known = knowing(decision, columns.draws[:, chosen])
    found: list[Question] = []
    if known is not None:
        for place, k in enumerate(chosen):
            question = _question(evaluation, decision, columns, k, price, known, place)
            if question is not None:
                found.append(question)
    found.sort(key=lambda one: (-one.score_worth, -abs(one.must_change), one.path))
    ordered = tuple(_numbered(one, number) for number, one in enumerate([*asked, *found][:most], start=1))
    perfect = 0.0 if known is None else known.perfect
    return Worth(
        questions=ordered, perfect=None if price is None else perfect * price, perfect_score=perfect,
        perfect_change_share=0.0 if known is None else known.perfect_change_share, money_per_point=price,
        headline=_headline(evaluation, decision, ordered, known),
    )  # fmt: skip


def _is_offer(evaluation: Evaluation, decision: Decision, row: int) -> bool:
    return evaluation.machine(decision.table.machine_ids[row]).machine.is_candidate


def _is_silent(columns: OpenColumns, k: int, path: str) -> bool:
    record = columns.records[k]
    group = record_of(path)[0]
    return group == "criteria" or (group == "candidates" and record is not None and not record.stated)


def _supplier(outcome: MachineOutcome) -> str:
    return outcome.machine.supplier or f"the supplier of {outcome.machine.name}"


def _numbered(one: Question, number: int) -> Question:
    return Question(
        number=number, machine_id=one.machine_id, machine_name=one.machine_name, supplier=one.supplier, path=one.path,
        quantity=one.quantity, assumed=one.assumed, would_change=one.would_change, worth=one.worth,
        score_worth=one.score_worth, change_share=one.change_share, must_change=one.must_change,
    )  # fmt: skip


def _unjudged(evaluation: Evaluation, decision: Decision, row: int) -> list[Question]:
    """Ask for what leaves a must without any judgement: a missing time, material, or function."""
    outcome = evaluation.machine(decision.table.machine_ids[row])
    found = []
    seen: set[str] = set()
    for one in outcome.all_judged():
        must = one.requirement
        # Sensitive board parts are the plant's to test, not the supplier's to answer: they stand in the trial plan.
        if must.result != "unknown" or one.met is not None or must.stage == "boards":
            continue
        if must.title in seen:
            continue
        seen.add(must.title)
        found.append(
            Question(
                number=0, machine_id=outcome.machine.id, machine_name=outcome.machine.name, supplier=_supplier(outcome),
                path=f"musts[{outcome.machine.id}].{must.key}", quantity=f"how is this met: {must.title.lower()}",
                assumed=must.sentence,
                would_change=phrase("Without an answer this must stays open, and so does the machine."), worth=None,
                score_worth=0.0, change_share=0.0, must_change=0.0,
            )
        )  # fmt: skip
    return found


def _question(
    evaluation: Evaluation, decision: Decision, columns: OpenColumns, k: int, price: float | None,
    known: ValueOfInformation, place: int,
) -> Question | None:  # fmt: skip
    path = columns.paths[k]
    _, machine_id, field = record_of(path)
    outcome = evaluation.machine(machine_id)
    worth, share = float(known.partial[place]), float(known.change_share[place])
    if share < LEAST_CHANGE_SHARE:
        worth = share = 0.0
    must = must_change(columns.draws[:, k], outcome.met)
    if worth <= 0.0 and must == 0.0:
        return None
    record = columns.records[k]
    if record is None:
        own = {one.id: one.name for one in decision.priorities.own_criteria}
        quantity = f"{CRITERIA.get(field) or own.get(field, field)}"
        assumed = phrase("Nobody knows it, so everything from worthless to perfect is taken as equally likely.")
        dimension = ""
    else:
        quantity = field_words(field)
        dimension = record.dimension
        assumed = phrase("Not stated; we assume {low} to {high} (range of its class).",
                         low=(record.low, dimension), high=(record.high, dimension))  # fmt: skip
    return Question(
        number=0, machine_id=machine_id, machine_name=outcome.machine.name, supplier=_supplier(outcome), path=path,
        quantity=quantity, assumed=assumed, worth=None if price is None else worth * price, score_worth=worth,
        change_share=share, must_change=must,
        would_change=_would_change(decision, outcome, columns.draws[:, k], dimension, worth, must),
    )  # fmt: skip


def must_change(column: FloatArray, met: BoolArray) -> float:
    """Change of the probability that all musts hold from the low to the high third of a quantity; 0 within chance."""
    low_end, high_end = np.quantile(column, [1.0 / 3.0, 2.0 / 3.0])
    low, high = met[column <= low_end], met[column >= high_end]
    overall = float(met.mean())
    chance = np.sqrt(max(overall * (1.0 - overall), 0.0) * (1.0 / max(low.size, 1) + 1.0 / max(high.size, 1)))
    change = float(high.mean() - low.mean())
    return change if chance > 0.0 and abs(change) > MUST_EVIDENCE * float(chance) else 0.0


def turning_point(column: FloatArray, scores: FloatArray) -> tuple[str, float, int] | None:
    """Find where along a quantity another machine has the better mean score than the one that leads overall.

    Parameters
    ----------
    column : ndarray (draws,)
    scores : ndarray (draws, machines)

    Returns
    -------
    side, value, rival : str, float, int
        "above" or "below" that value the rival is the best on average; None where that happens at neither end.

    Notes
    -----
    Means over 16 classes of equal count, smoothed by a parabola in the rank, so that one odd class does not decide.
    """
    leader = int(np.argmax(scores.mean(axis=0)))
    order = np.argsort(column, kind="stable")
    place = (np.arange(column.size) + 0.5) / column.size
    classes = np.array_split(order, min(TURNING_BINS, column.size))
    centres = (np.arange(len(classes)) + 0.5) / len(classes)
    leads = np.array([(scores[part] - scores[part][:, [leader]]).mean(axis=0) for part in classes])
    degree = min(2, len(classes) - 1)
    fitted = np.stack([np.polyval(np.polyfit(centres, lead, degree), place) for lead in leads.T], axis=1)
    fitted[:, leader] = 0.0
    best = fitted.argmax(axis=1)
    ordered = column[order]
    for side, ends in (("above", slice(None, None, -1)), ("below", slice(None))):
        walk = best[ends]
        rival = int(walk[0])
        if rival != leader:
            # Up to where any other one takes over: that need not be the leader.
            return side, float(ordered[ends][int(np.argmax(walk != rival))]), rival
    return None


def _would_change(decision: Decision, outcome: MachineOutcome, column: FloatArray, dimension: str, worth: float,
                  must: float) -> Phrase:  # fmt: skip
    figures: dict[str, str | int | tuple[float, str]] = {}
    parts: list[str] = []
    turning = turning_point(column, decision.scores) if worth > 0.0 else None
    if turning is not None:
        side, value, rival = turning
        figures |= {"rival": decision.table.machine_names[rival], "side": side,
                    "value": (value, dimension) if dimension else f"{value:.2f} of 1"}  # fmt: skip
        parts.append("An answer {side} {value} would put {rival} first.")
    elif worth > 0.0:
        parts.append("An answer can change the choice together with others.")
    if must != 0.0:
        figures |= {"machine": outcome.machine.name, "more": "raises" if must > 0 else "lowers",
                    "by": f"{100.0 * abs(must):.0f}"}  # fmt: skip
        parts.append("A high rather than a low answer {more} the probability that {machine} meets every must by "
                     "{by} points of 100.")
    return phrase(" ".join(parts), **figures)


def _headline(evaluation: Evaluation, decision: Decision, questions: Sequence[Question],
              known: ValueOfInformation | None) -> str:  # fmt: skip
    if not decision.ranking.order:
        return "No machine is left, so there is nothing to ask about yet."
    if known is None:
        return f"{decision.scores.shape[0]} draws are too few to weigh questions; use at least {LEAST_DRAWS}."
    if not questions:
        return "No answer from a supplier would change the choice or the musts."
    first = questions[0]
    currency = evaluation.case.plant.currency
    text = f"Ask {first.supplier} first about this: {first.quantity}."
    if first.score_worth == 0.0:
        text += f" It decides whether {first.machine_name} meets every must, more than it moves the ranking."
    elif first.worth:
        text += f" Knowing it is worth about {show(first.worth, 'money', 'metric', currency, digits=2)} a year:"
        cases = max(1.0, 100.0 * first.change_share)
        text += f" in about {cases:.0f} of 100 cases the answer puts another machine first."
    return text
