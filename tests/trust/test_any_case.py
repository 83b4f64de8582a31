"""Any valid case evaluates to finite results or a stated reason, also at the edges of what the schema allows."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from catalog_schema import Case, CaseError, load_library
from catalog_schema.files import check_case
from catalog_schema.parsing import validate
from model.evaluate import Evaluation, evaluate
from model.json_output import evaluation_json
from tests.trust.any_case import ABSENT, Change, Steps, base_case, changes_of, with_changes

# Numbers such as 1e30 overflow on the way to an infinite or refused result: that is no fault in itself.
pytestmark = pytest.mark.filterwarnings("ignore::RuntimeWarning")

CLASSES = [record.id for record in load_library().machine_classes]
DRAWS, RAYS = 16, 300
SINGLE_CHANGES = 20
"""Per machine class, in a run of the suite; every change at once takes an hour."""


def faults(evaluation: Evaluation) -> Iterator[str]:
    """List what a user must never see."""
    evaluation_json(evaluation)
    for outcome in evaluation.machines:
        if not 0.0 <= outcome.probability <= 1.0:
            yield f"{outcome.machine.id}: probability {outcome.probability}"
        for judged in outcome.all_judged():
            must = judged.requirement
            here = f"{outcome.machine.id} {must.board_id} {must.key}"
            numbers = [*(must.measure or ()), must.limit, must.margin_ratio, must.probability]
            if any(number is not None and math.isnan(number) for number in numbers):
                yield f"{here}: not a number in {numbers}"
            if must.probability is not None and not 0.0 <= must.probability <= 1.0:
                yield f"{here}: probability {must.probability}"
            if must.result not in ("meets", "falls short", "unknown"):
                yield f"{here}: result {must.result}"
            for system in ("metric", "US"):
                text = must.sentence.text(system, "EUR")
                if not text.strip() or "{" in text or "not defined" in text or "nan" in text.lower().split():
                    yield f"{here}: sentence {text!r}"
                if "fault of the program" in text:
                    yield f"{here}: {text}"
    for row in evaluation.verdicts.to_dict("records"):
        if not str(row["sentence"]).strip():
            yield f"{row['machine']}: a verdict without a sentence"


@cache
def _base(machine_class: str) -> tuple[dict[str, Any], tuple[Change, ...], Evaluation]:
    plain = base_case(machine_class)
    case = check_case(validate(Case, plain, "base"), "base")
    return plain, tuple(changes_of(Case, plain)), evaluate(case, draws=DRAWS, rays=RAYS, threads=1)


def _told(changes: list[Change]) -> str:
    return "; ".join(f"{steps} = {'absent' if value is ABSENT else value}" for steps, value in changes)


def _check(machine_class: str, changes: list[Change]) -> bool:
    """Evaluate the base of a class with changes; tells whether that is a valid case."""
    plain, _, base = _base(machine_class)
    try:
        case = check_case(validate(Case, with_changes(plain, changes), "changed"), "changed")
    except CaseError:
        return False
    try:
        found = list(faults(evaluate(case, draws=DRAWS, rays=RAYS, threads=1, previous=base)))
    except Exception as fault:
        raise AssertionError(f"{machine_class}: {_told(changes)}: {type(fault).__name__}: {fault}") from fault
    assert found == [], f"{machine_class}: {_told(changes)}: {found[:3]}"
    return True


@pytest.mark.parametrize("machine_class", CLASSES)
def test_the_smallest_case_of_each_class_evaluates(machine_class: str) -> None:
    plain, changes, evaluation = _base(machine_class)
    assert plain["candidates"][0]["machine_class"] == machine_class
    assert list(faults(evaluation)) == []
    assert len(evaluation.machines) == 1
    assert len(changes) > 1000


@pytest.mark.parametrize("machine_class", CLASSES)
def test_one_extreme_value_anywhere_gives_a_result_or_a_reason(machine_class: str) -> None:
    changes = _base(machine_class)[1]
    chosen = random.Random(f"extremes of {machine_class}").sample(changes, SINGLE_CHANGES)
    valid = sum(_check(machine_class, [change]) for change in chosen)
    assert valid > SINGLE_CHANGES / 2


@settings(deadline=None, max_examples=60, derandomize=True, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_several_extreme_values_at_once_give_a_result_or_a_reason(data: st.DataObject) -> None:
    machine_class = data.draw(st.sampled_from(CLASSES), label="machine class")
    changes = _base(machine_class)[1]
    positions = data.draw(st.lists(st.integers(0, len(changes) - 1), min_size=2, max_size=6), label="changes")
    assume(_check(machine_class, [changes[position] for position in positions]))


KNOWN_EDGES: list[tuple[str, Change]] = [
    # Each of these once crashed, hung or gave no number.
    ("labware-washer", (("constants", "charging_voltage"), "0 V")),
    ("contract-service", (("plant", "finance", "depreciation_life"), "1e30 s")),
    ("household-dishwasher", (("board_types", 0, "clear_distance"), "1e30 m")),
    ("household-dishwasher", (("board_types", 0, "clear_distance"), "100 m")),
    ("parts-washer-cabinet", (("constants", "worst_cell_drop_share"), "100 %")),
]


@pytest.mark.parametrize(
    ("steps", "value", "allowed"),
    [
        (("plant", "air_pressure"), "0 Pa", "below 20000 Pa"),
        (("fluids", 0, "reference_temperature"), "1e-9 K", "below 100 K"),
        (("board_types", 0, "max_temperature"), "1e6 K", "above 1500 K"),
    ],
)
def test_values_that_no_plant_can_mean_are_refused_with_the_limit(steps: Steps, value: str, allowed: str) -> None:
    plain = with_changes(_base("vapour-solvent")[0], [(steps, value)])
    with pytest.raises(CaseError) as caught:
        validate(Case, plain, "plant.yaml")
    assert allowed.split()[0] in str(caught.value)
    assert allowed.split()[1] in str(caught.value).replace(" ", "").replace(" ", "")


@pytest.mark.parametrize(("machine_class", "change"), KNOWN_EDGES, ids=range(len(KNOWN_EDGES)))
def test_values_that_once_failed_give_a_result_or_a_reason(machine_class: str, change: Change) -> None:
    assert _check(machine_class, [change])
