"""An evaluation as plain JSON: stable keys, documented by a schema of its own, no infinities."""

from __future__ import annotations

import math
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from model.evaluate import Evaluation
from model.requirements import Requirement


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid")


class RequirementOutput(_Shape):
    """One must."""

    machine: str
    board_type: str = Field(description="Empty when it concerns the machine as a whole.")
    fluid: str
    stage: str
    requirement: str
    title: str
    low: float | None = Field(description="5 % point in SI; null where infinite or not a number.")
    middle: float | None
    high: float | None
    limit: float | None
    dimension: str
    direction: Literal["at most", "at least", "must hold"]
    margin_ratio: float | None = Field(description="Above 1 is better than the limit.")
    probability: float | None = Field(description="Share of draws that meet it; null when it cannot be computed.")
    result: Literal["meets", "falls short", "unknown"]
    sentence: str


class VerdictOutput(_Shape):
    """One machine over the whole board mix."""

    machine: str
    name: str
    machine_class: str
    is_candidate: bool
    result: Literal["meets", "falls short", "unknown"]
    probability: float
    deciding_board_type: str
    deciding_requirement: str
    sentence: str


class InputOutput(_Shape):
    """One number that reached a result."""

    path: str
    low: float
    likely: float
    high: float
    dimension: str
    given: str
    basis: str
    source: str
    note: str
    stated: bool = Field(description="False when an offer is silent and its class's range stands in.")


class EvaluationOutput(_Shape):
    """The document that `washcase evaluate --json` writes."""

    washcase_evaluation: Literal[1] = Field(description="Version of this format; keys are added, never renamed.")
    case: str
    fingerprint: str
    invented: bool
    currency: str
    draws: int
    seed: int
    rays: int
    verdicts: list[VerdictOutput]
    requirements: list[RequirementOutput]
    inputs: list[InputOutput]
    caution: str


CAUTION = (
    "Advice, not approval. Hot and alkaline fluids, solvents, pressure and electrical work follow local codes, the "
    "safety data sheet and licensed practice."
)


def finite(value: float | None) -> float | None:
    """Give a number that JSON can hold, or None.

    >>> finite(math.inf) is None
    True
    """
    return None if value is None or not math.isfinite(value) else float(value)


def _requirement(must: Requirement) -> RequirementOutput:
    low, middle, high = must.measure or (None, None, None)
    return RequirementOutput(
        machine=must.machine_id, board_type=must.board_id, fluid=must.fluid_id, stage=must.stage,
        requirement=must.key, title=must.title, low=finite(low), middle=finite(middle), high=finite(high),
        limit=finite(must.limit), dimension=must.dimension, direction=must.direction,
        margin_ratio=finite(must.margin_ratio), probability=finite(must.probability), result=must.result,
        sentence=must.sentence.text(),
    )  # fmt: skip


def evaluation_output(evaluation: Evaluation) -> EvaluationOutput:
    """Turn an evaluation into its documented output shape."""
    verdicts = [
        VerdictOutput(
            machine=row["machine"], name=row["name"], machine_class=row["machine_class"],
            is_candidate=bool(row["is_candidate"]), result=row["result"], probability=float(row["probability"]),
            deciding_board_type=row["deciding_board_type"], deciding_requirement=row["deciding_requirement"],
            sentence=row["sentence"],
        )
        for row in evaluation.verdicts.to_dict("records")
    ]  # fmt: skip
    requirements = [_requirement(one.requirement) for outcome in evaluation.machines for one in outcome.all_judged()]
    inputs = [
        InputOutput(
            path=record.path, low=record.low, likely=record.likely, high=record.high, dimension=record.dimension,
            given=record.given, basis=record.basis, source=record.source, note=record.note, stated=record.stated,
        )
        for record in evaluation.inputs
    ]  # fmt: skip
    return EvaluationOutput(
        washcase_evaluation=1, case=evaluation.case.name, fingerprint=evaluation.fingerprint,
        invented=evaluation.case.invented, currency=evaluation.case.plant.currency, draws=evaluation.draws,
        seed=evaluation.seed, rays=evaluation.rays, verdicts=verdicts, requirements=requirements, inputs=inputs,
        caution=CAUTION,
    )  # fmt: skip


def evaluation_json(evaluation: Evaluation) -> str:
    """Write an evaluation as JSON text."""
    return evaluation_output(evaluation).model_dump_json(indent=2)


def documents_schema() -> dict[str, Any]:
    """Give the JSON Schema of every document: case, library and evaluation."""
    from catalog_schema.case import Case, Library

    return {
        "case": Case.model_json_schema(),
        "library": Library.model_json_schema(),
        "evaluation": EvaluationOutput.model_json_schema(),
    }
