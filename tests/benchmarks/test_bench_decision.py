"""Time of a decision over 16 machines, 7 criteria and 512 draws, against sorting its scores once per draw."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from catalog_schema.files import load_case
from model.certainty import certainty
from model.criteria import criterion_table
from model.decision import decide, decide_table
from model.drivers import drivers
from model.evaluate import evaluate
from model.questions import worth_finding_out

CASE = Path(__file__).resolve().parents[1] / "model" / "decision_case.yaml"
MACHINES = 16


def best_of(runs: int, work: Callable[[], object]) -> float:
    spent = []
    for _ in range(runs):
        started = time.process_time()
        work()
        spent.append(time.process_time() - started)
    return min(spent)


@pytest.mark.benchmark
def test_deciding_costs_no_more_than_a_few_hundred_evaluations_of_the_scores() -> None:
    case = load_case(CASE)
    left = [one for one in case.candidates if one.id != "offer-e-labware"]
    offers = [one.model_copy(update={"id": f"{one.id}-{n}", "name": f"{one.name} {n}"})
              for n in range(MACHINES // len(left)) for one in left]  # fmt: skip
    plant = case.plant.model_copy(update={"finance": case.plant.finance.model_copy(update={"reference": None})})
    case = case.model_copy(update={
        "candidates": tuple(offers), "compare_classes": (), "plant": plant,
        "priorities": case.priorities.model_copy(update={"own_criteria": ()}),
    })  # fmt: skip
    evaluation = evaluate(case, draws=512, rays=4096)
    decision = decide(evaluation)
    assert len(decision.table.machine_ids) == MACHINES
    values, weights = decision.table.values, np.asarray(decision.weights)
    peer = best_of(5, lambda: np.argsort(-(values @ weights), axis=1))
    times = {
        "criterion table": best_of(5, lambda: criterion_table(evaluation)),
        "decide": best_of(5, lambda: decide(evaluation)),
        "decide, table known": best_of(5, lambda: decide_table(decision.table, decision.priorities)),
        "certainty": best_of(3, lambda: certainty(decision)),
        "drivers": best_of(3, lambda: drivers(evaluation, decision)),
        "worth finding out": best_of(2, lambda: worth_finding_out(evaluation, decision)),
    }
    print(f"\npeer (numpy: 512 × 16 scores and argsort): {1e3 * peer:.2f} ms")
    for name, spent in times.items():
        print(f"{name}: {1e3 * spent:.1f} ms, {spent / peer:.0f} × peer")
    assert times["decide"] < 20_000 * peer
