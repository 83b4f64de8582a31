"""The main results of the shipped demos, as people see them with the default draws and rays; renewed by

    .venv/bin/python -m tests.trust.demo_results

Renew only when a change of the model or of a demo is meant to change them, and read the differences before committing.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np

from catalog_schema.files import load_case
from model.certainty import certainty
from model.decision import decide
from model.evaluate import Evaluation, MachineOutcome, evaluate

ROOT = Path(__file__).parents[2]
RESULTS = Path(__file__).with_name("demo_results.json")
DEMOS = ("mixed_plant", "through_hole_plant")


def results_of(name: str) -> dict[str, Any]:
    """Evaluate a demo and give its main results."""
    evaluation = evaluate(load_case(ROOT / "demo_catalog" / f"{name}.yaml"))
    decision = decide(evaluation)
    sure = certainty(decision) if decision.ranking.order else None
    return {
        "settings": {"draws": evaluation.draws, "seed": evaluation.seed, "rays": evaluation.rays},
        "machines": {outcome.machine.id: _machine(evaluation, outcome) for outcome in evaluation.machines},
        "ranking": [
            {"machine": decision.table.machine_ids[row], "score": _number(decision.ranking.scores[place])}
            for place, row in enumerate(decision.ranking.order)
        ],
        "weights": {
            name: _number(weight) for name, weight in zip(decision.table.criteria, decision.weights, strict=True)
        },
        "leader first with probability": None if sure is None else _number(sure.first_share),
    }  # fmt: skip


def _machine(evaluation: Evaluation, outcome: MachineOutcome) -> dict[str, Any]:
    deciding = outcome.deciding
    return {
        "result": outcome.result,
        "probability": _number(outcome.probability),
        "deciding must": "" if deciding is None else deciding.requirement.key,
        "machines needed": None if outcome.capacity is None else _middle(outcome.capacity.machines),
        "equivalent annual cost": None if outcome.cost is None else _points(outcome.cost.equivalent_annual_cost),
        "needed wash [s]": {
            board.board_id: _middle(board.chosen.wash.outcome.needed_time_s)
            for board in outcome.boards if board.chosen.wash is not None and board.chosen.wash.outcome is not None
        },
        "needed dry [s]": {
            board.board_id: _middle(board.chosen.dry.needed_time_s)
            for board in outcome.boards if board.chosen.dry is not None
        },
        "fluid": {board.board_id: board.chosen.fluid_id for board in outcome.boards},
    }  # fmt: skip


def _number(value: float | None) -> float | str | None:
    if value is None:
        return None
    # JSON knows no infinity; ten digits are far more than any tolerance looks at.
    return float(f"{value:.10g}") if math.isfinite(value) else str(float(value))


def _middle(values: Any) -> float | str | None:
    # The middle draw itself: a mean with an infinite neighbour would be infinite or not a number.
    return _number(float(np.quantile(np.asarray(values, dtype=float), 0.5, method="lower")))


def _points(values: Any) -> list[float | str | None]:
    wanted = np.asarray(values, dtype=float)
    return [_number(float(np.quantile(wanted, share, method="lower"))) for share in (0.05, 0.5, 0.95)]


def main() -> None:
    """Write the results of today."""
    found = {name: results_of(name) for name in DEMOS}
    RESULTS.write_text(json.dumps(found, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    counts = ", ".join(str(len(one["machines"])) for one in found.values())
    print(f"{RESULTS.name}: {counts} machines.")


if __name__ == "__main__":
    main()
