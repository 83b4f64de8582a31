"""A case in which several offers survive, its decision, and tables made by hand for the decision tests."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest

from catalog_schema.case import Case
from catalog_schema.files import load_case
from catalog_schema.priorities import CRITERIA, Priorities, Stakeholder
from model.criteria import CriterionTable, RuledOut
from model.decision import Decision, decide, decide_table
from model.evaluate import Evaluation, evaluate
from model.measures import Measures
from model.phrase import phrase
from model.value import default_value_function

TableOf = Callable[..., CriterionTable]


@pytest.fixture(scope="session")
def decision_case() -> Case:
    return load_case(Path(__file__).with_name("decision_case.yaml"))


@pytest.fixture(scope="session")
def decision_evaluation(decision_case: Case) -> Evaluation:
    return evaluate(decision_case, draws=512, rays=4096)


@pytest.fixture(scope="session")
def decision(decision_evaluation: Evaluation) -> Decision:
    return decide(decision_evaluation)


def table_from(
    values: object, *, names: Sequence[str] | None = None, criteria: Sequence[str] | None = None,
    ruled_out: Sequence[str] = (),
) -> CriterionTable:  # fmt: skip
    """Make a table of values, (machines, criteria) or (draws, machines, criteria), without any machine behind it."""
    cube = np.asarray(values, dtype=np.float64)
    cube = cube[None] if cube.ndim == 2 else cube
    machines, count = cube.shape[1:]
    listed = tuple(names or (f"machine-{row}" for row in range(machines)))
    known = tuple(criteria or tuple(CRITERIA)[:count])
    raw = Measures(machine_ids=listed, board_ids=(), board_share=np.zeros(0), by_board=np.zeros((*cube.shape, 0)),
                   inputs=((),) * machines, columns=({},) * machines)  # fmt: skip
    return CriterionTable(
        machine_ids=listed, machine_names=listed, results=("meets",) * machines, probabilities=(1.0,) * machines,
        criteria=known, criterion_names=known, value_functions=(default_value_function(0.0, 1.0),) * count,
        measures=cube, values=cube, unknown=np.zeros((machines, count), dtype=np.bool_),
        worst_board=(("",) * count,) * machines, open_columns=({},) * machines, raw=raw, notes=(),
        ruled_out=tuple(RuledOut(machine_id=one, name=one, reason=phrase("It is too small.")) for one in ruled_out),
    )  # fmt: skip


def decided_with(table: CriterionTable, weights: Sequence[float] | None = None, **priorities: object) -> Decision:
    """Decide a table with one voice that gives its weights directly, or with nobody's weights."""
    voices = ()
    if weights is not None:
        direct = dict(zip(table.criteria, weights, strict=True))
        voices = (Stakeholder(id="one", name="One", method="direct", direct=direct),)
    return decide_table(table, Priorities(stakeholders=voices, **priorities))


@pytest.fixture(scope="session")
def table_of() -> TableOf:
    return table_from


@pytest.fixture(scope="session")
def decided() -> Callable[..., Decision]:
    return decided_with
