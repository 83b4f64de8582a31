"""A whole decision against a published worked example and against a general decision library."""

from __future__ import annotations

import numpy as np
import pytest
from pymcdm.methods import PROMETHEE_II, TOPSIS

from catalog_schema.priorities import CRITERIA, Priorities, Stakeholder
from model.criteria import CriterionTable
from model.decision import Decision, decide_table
from model.measures import Measures
from model.value import default_value_function


def decide_values(values: np.ndarray, voice: Stakeholder) -> Decision:
    """Decide a table of values (machines, criteria) for one stakeholder."""
    cube = np.asarray(values, dtype=np.float64)[None]
    machines, count = cube.shape[1:]
    names, criteria = tuple(f"m{row}" for row in range(machines)), tuple(CRITERIA)[:count]
    raw = Measures(machine_ids=names, board_ids=(), board_share=np.zeros(0), by_board=np.zeros((*cube.shape, 0)),
                   inputs=((),) * machines, columns=({},) * machines)  # fmt: skip
    table = CriterionTable(
        machine_ids=names, machine_names=names, results=("meets",) * machines, probabilities=(1.0,) * machines,
        criteria=criteria, criterion_names=criteria, value_functions=(default_value_function(0.0, 1.0),) * count,
        measures=cube, values=cube, unknown=np.zeros((machines, count), dtype=np.bool_),
        worst_board=(("",) * count,) * machines, ruled_out=(), open_columns=({},) * machines, raw=raw, notes=(),
    )  # fmt: skip
    return decide_table(table, Priorities(stakeholders=(voice,)))


def test_the_best_office_of_the_location_example_scores_80_through_the_whole_decision() -> None:
    # P: Goodwin & Wright, Decision Analysis for Management Judgment, chapter 3: swings 100 80 70 30 20 10, values of
    # the best office 100 60 100 75 0 90. Printed 80.8 with weights rounded to whole percent; unrounded 24950/310.
    swings = dict(zip(tuple(CRITERIA)[:6], (100, 80, 70, 30, 20, 10), strict=True))
    decision = decide_values(
        np.array([[100, 60, 100, 75, 0, 90], [0, 0, 0, 0, 0, 0]]) / 100,
        Stakeholder(id="one", name="One", method="swing", swing=swings),
    )
    assert decision.ranking.scores[0] * 100 == pytest.approx(24950 / 310, abs=1e-9)
    assert decision.ranking.scores[0] * 100 == pytest.approx(80.8, abs=0.5)
    assert [round(100 * weight) for weight in decision.weights] == [32, 26, 23, 10, 6, 3]


@pytest.mark.parametrize("seed", range(5))
def test_second_opinions_of_a_decision_agree_with_pymcdm(seed: int) -> None:
    # L: live comparison. Values are on one scale already, so TOPSIS runs without normalisation on both sides.
    generator = np.random.default_rng(seed)
    values, weights = generator.random((6, 5)), generator.dirichlet(np.ones(5))
    direct = dict(zip(tuple(CRITERIA)[:5], weights.tolist(), strict=True))
    decision = decide_values(values, Stakeholder(id="one", name="One", method="direct", direct=direct))
    kinds = np.ones(5)
    closeness = TOPSIS(normalization_function=lambda column, cost: column)(values, weights, kinds)
    flows = PROMETHEE_II("usual")(values, weights, kinds)
    assert decision.topsis.closeness == pytest.approx(closeness, abs=1e-9)
    assert decision.promethee.net_flow == pytest.approx(flows, abs=1e-9)
