"""The decision as plain JSON shapes: ranking, certainty, and what to find out before signing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from model.certainty import Certainty, certainty
from model.decision import Decision, decide
from model.evaluate import Evaluation
from model.questions import Worth, worth_finding_out
from model.trial_plan import TrialStep, trial_plan
from model.trials import weigh_trials, with_trials


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid")


class RankedOutput(_Shape):
    """One machine that is left."""

    rank: int = Field(description="From 1; ties share a rank.")
    machine: str
    score: float = Field(description="0..1 under the common weights, at the middle of the draws.")
    score_low: float = Field(description="5 % point over the draws.")
    score_high: float
    measures: dict[str, float] = Field(description="Per criterion in its unit, middle of the draws.")
    values: dict[str, float] = Field(description="0..1 per criterion, at the middle of the draws.")
    not_known: list[str] = Field(description="Criteria that nobody knows: every value counts as equally likely.")
    rank_probabilities: list[float] = Field(description="Of rank 1, 2, ... over uncertain quantities and weights.")


class RankingOutput(_Shape):
    """The ranking under the common weights."""

    headline: str
    weights: dict[str, float] = Field(description="Common weights, per criterion.")
    stakeholders: dict[str, dict[str, float]] = Field(description="Weights of each, per criterion.")
    ranked: list[RankedOutput]
    ruled_out: dict[str, str] = Field(description="Machine and reason; never ranked.")
    second_opinions: list[str]
    trials: str = Field(description="What the trials of the case changed.")
    notes: list[str]


class CertaintyOutput(_Shape):
    """How sure the ranking is."""

    headline: str
    weights_known: str
    first_share: float | None = Field(description="Probability that the leader is first; null without a leader.")
    weight_intervals: dict[str, tuple[float, float]] = Field(description="In which the leader stays, per criterion.")
    moved_share_to_be_first: dict[str, float | None] = Field(
        description="Share of all weight that must move until the machine is first; null where no weights do it."
    )
    sentences: list[str]


class QuestionOutput(_Shape):
    """One question to a supplier."""

    number: int
    machine: str
    supplier: str
    path: str
    question: str
    worth_per_year: float | None = Field(description="Expected gain from knowing it; null where it has no price.")
    change_share: float = Field(description="Probability that knowing it changes the choice.")


class TrialStepOutput(_Shape):
    """One trial board."""

    number: int
    machine: str
    board_type: str
    fluid: str
    component: str
    minutes: float
    trial: str
    worth_per_year: float | None


class QuestionsOutput(_Shape):
    """What is worth finding out before signing."""

    headline: str
    questions: list[QuestionOutput]
    trials: list[TrialStepOutput]


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionOutput:
    """The three parts together."""

    ranking: RankingOutput
    """Who is best."""
    certainty: CertaintyOutput
    """How sure."""
    questions: QuestionsOutput
    """What to find out."""


def decision_output(evaluation: Evaluation) -> DecisionOutput:
    """Decide from an evaluation, its trials counted, and write the answer in its output shapes."""
    trials = weigh_trials(evaluation)
    after = with_trials(evaluation, trials)
    decision = decide(after)
    sure = certainty(decision)
    return DecisionOutput(
        ranking=_ranking(decision, sure, trials.headline), certainty=_certainty(decision, sure),
        questions=_questions(worth_finding_out(after, decision), trial_plan(after, decision),
                             evaluation.case.plant.currency),
    )  # fmt: skip


def _ranking(decision: Decision, sure: Certainty, trials: str) -> RankingOutput:
    table = decision.table
    middle = np.median(table.measures, axis=0) if table.machine_ids else np.zeros((0, len(table.criteria)))

    def by_criterion(numbers: object) -> dict[str, float]:
        return dict(zip(table.criteria, np.asarray(numbers, dtype=np.float64).tolist(), strict=True))

    return RankingOutput(
        headline=decision.headline, weights=by_criterion(decision.weights),
        stakeholders={voice.id: by_criterion(voice.weights) for voice in decision.voices if voice.id},
        ranked=[
            RankedOutput(
                rank=rank, machine=table.machine_ids[row], score=score, score_low=float(decision.score_range[row, 0]),
                score_high=float(decision.score_range[row, 1]), measures=by_criterion(middle[row]),
                values=by_criterion(decision.middle_values[row]),
                not_known=[table.criteria[k] for k in np.flatnonzero(table.unknown[row])],
                rank_probabilities=sure.acceptability.rank_share[row].tolist(),
            )
            for row, rank, score in zip(
                decision.ranking.order, decision.ranking.ranks, decision.ranking.scores, strict=True
            )
        ],
        ruled_out={one.machine_id: one.reason.text() for one in table.ruled_out},
        second_opinions=list(decision.second_opinions), trials=trials,
        notes=[*table.notes, *([decision.average_sentence] if decision.average_sentence else [])],
    )  # fmt: skip


def _certainty(decision: Decision, sure: Certainty) -> CertaintyOutput:
    ends = zip(decision.table.criteria, sure.intervals.low.tolist(), sure.intervals.high.tolist(), strict=True)
    return CertaintyOutput(
        headline=sure.headline, weights_known=sure.knowledge, first_share=sure.first_share,
        weight_intervals={criterion: (low, high) for criterion, low, high in ends},
        moved_share_to_be_first={
            machine: float(sure.be_first.moved_share[row]) if sure.be_first.possible[row] else None
            for row, machine in enumerate(decision.table.machine_ids)
        },
        sentences=[sure.rank_sentence, sure.interval_sentence, sure.change_sentence, sure.dominance_sentence],
    )  # fmt: skip


def _questions(worth: Worth, steps: tuple[TrialStep, ...], currency: str) -> QuestionsOutput:
    return QuestionsOutput(
        headline=worth.headline,
        questions=[
            QuestionOutput(
                number=one.number, machine=one.machine_id, supplier=one.supplier, path=one.path,
                question=one.sentence("metric", currency), worth_per_year=one.worth, change_share=one.change_share,
            )
            for one in worth.questions
        ],
        trials=[
            TrialStepOutput(
                number=one.number, machine=one.machine_id, board_type=one.board_id, fluid=one.fluid_id,
                component=one.component_id, minutes=one.minutes, trial=one.sentence("metric", currency),
                worth_per_year=one.worth,
            )
            for one in steps
        ],
    )  # fmt: skip
