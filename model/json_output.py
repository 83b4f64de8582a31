"""An evaluation as plain JSON: stable keys, documented by a schema of its own, no infinities."""

from __future__ import annotations

import math
from typing import Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from catalog_schema.quantity import Quantity
from model.cost_comparison import MachineCost, compare_costs
from model.cost_totals import CostStage
from model.decision_output import CertaintyOutput, QuestionsOutput, RankingOutput, decision_output
from model.evaluate import Evaluation
from model.explanations import entered_records, explain_input
from model.requirements import Requirement
from model.uncertainty import FloatArray, low_middle_high


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


class RangeOutput(_Shape):
    """A number over the draws; null where infinite."""

    low: float | None = Field(description="5 % point.")
    middle: float | None
    high: float | None


class CostLineOutput(_Shape):
    """One line of the cost breakdown."""

    line: str
    name: str
    group: str
    timing: str
    amount: RangeOutput = Field(description="Money of year 0 at one payment, all machines, before tax.")
    present_cost: RangeOutput = Field(description="Money of year 0 over the horizon, after tax.")


class CostOutput(_Shape):
    """What one machine costs over the horizon, in the plant's currency, after tax where nothing else is said."""

    machine: str
    total_name: str = Field(description="Names what the total leaves out.")
    machines: float
    horizon_years: int
    initial_cost: RangeOutput = Field(description="Paid at the start, before tax.")
    present_cost: RangeOutput
    equivalent_annual_cost: RangeOutput
    cost_per_board: RangeOutput | None
    cost_per_area: RangeOutput | None = Field(description="Per m² cleaned, both faces.")
    cost_per_board_type: dict[str, RangeOutput]
    saving_present: RangeOutput | None = Field(description="Against the plant's reference; null without one.")
    internal_rate: str = Field(description="One sentence; empty without a reference.")
    payback_years: RangeOutput | None
    lines: list[CostLineOutput]
    missing: list[str]
    remarks: list[str]


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
    costs: list[CostOutput] = Field(description="Machines whose cost is known.")
    cost_reference: str = Field(description="Machine that savings are counted against; empty without one.")
    ranking: RankingOutput
    certainty: CertaintyOutput
    questions: QuestionsOutput
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


def _range(values: FloatArray) -> RangeOutput:
    low, middle, high = low_middle_high(values)
    return RangeOutput(low=finite(low), middle=finite(middle), high=finite(high))


def _cost(stage: CostStage, compared: MachineCost) -> CostOutput:
    def points(found: tuple[float, float, float] | None) -> RangeOutput | None:
        return None if found is None else _range(np.array(found))

    lines = [
        CostLineOutput(line=line.id, name=line.name, group=line.group, timing=line.timing,
                       amount=_range(np.asarray(line.amount)), present_cost=_range(present))
        for line, present in zip(stage.lines, stage.line_present_cost, strict=True)
    ]  # fmt: skip
    return CostOutput(
        machine=compared.machine_id, total_name=stage.total_name, machines=stage.machines,
        horizon_years=stage.finance.horizon_years, initial_cost=_range(stage.initial_cost),
        present_cost=_range(stage.present_cost), equivalent_annual_cost=_range(stage.equivalent_annual_cost),
        cost_per_board=points(compared.cost_per_board),
        cost_per_area=None if stage.cost_per_area is None else _range(stage.cost_per_area),
        cost_per_board_type={name: _range(values) for name, values in stage.cost_per_board_type.items()},
        saving_present=points(compared.saving_present),
        internal_rate="" if compared.internal_rate is None else compared.internal_rate.statement,
        payback_years=points(compared.payback_years), lines=lines, missing=list(stage.missing.values()),
        remarks=list(stage.remarks),
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
    decided = decision_output(evaluation)
    compared = compare_costs(evaluation)
    costs = [_cost(outcome.cost, compared.machine(outcome.machine.id)) for outcome in evaluation.machines
             if outcome.cost is not None]  # fmt: skip
    return EvaluationOutput(
        washcase_evaluation=1, case=evaluation.case.name, fingerprint=evaluation.fingerprint,
        invented=evaluation.case.invented, currency=evaluation.case.plant.currency, draws=evaluation.draws,
        seed=evaluation.seed, rays=evaluation.rays, verdicts=verdicts, requirements=requirements, inputs=inputs,
        costs=costs, cost_reference=compared.reference_id or "",
        ranking=decided.ranking, certainty=decided.certainty, questions=decided.questions, caution=CAUTION,
    )  # fmt: skip


def evaluation_json(evaluation: Evaluation) -> str:
    """Write an evaluation as JSON text."""
    return evaluation_output(evaluation).model_dump_json(indent=2)


def documents_schema() -> dict[str, Any]:
    """Give the JSON Schema of every document: case, library and evaluation."""
    from catalog_schema.case import Case, Library

    return {
        "case": _explained(Case.model_json_schema()),
        "library": _explained(Library.model_json_schema()),
        "evaluation": EvaluationOutput.model_json_schema(),
    }


def _explained(schema: dict[str, Any]) -> dict[str, Any]:
    """Write beside every entry in a schema what it means."""
    records = {record.__name__: record for record in entered_records()}
    for name, shape in [(schema["title"], schema), *schema["$defs"].items()]:
        # Whatever measures something has the fields of a quantity and is explained as one.
        record = records.get(name, Quantity if "likely" in shape.get("properties", {}) else None)
        for field, content in shape.get("properties", {}).items():
            found = None if record is None else explain_input(record, field)
            if found is not None:
                content["description"] = found.sentences
    return schema
