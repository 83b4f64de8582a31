"""Cases and evaluations that several test modules share, and ways to change a case in a line."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel, TypeAdapter

from catalog_schema.case import Case
from catalog_schema.files import load_case
from model.evaluate import Evaluation, evaluate

DEMO_FOLDER = Path(__file__).resolve().parent.parent / "demo_catalog"
DRAWS = 256

Change = Callable[[Any, Mapping[str, object]], Any]
SmallCase = Callable[..., Case]


def changed_record(record: Any, values: Mapping[str, object]) -> Any:
    """Copy a record with values set by path ("chamber.belt_width"), each read as its field would be in a file."""
    for path, value in values.items():
        name, _, rest = path.partition(".")
        if rest:
            new = changed_record(getattr(record, name), {rest: value})
        elif value is None or isinstance(value, BaseModel):
            new = value
        else:
            new = TypeAdapter(type(record).model_fields[name].annotation).validate_python(value)
        record = record.model_copy(update={name: new})
    return record


def narrowed_case(
    case: Case, machines: tuple[str, ...], boards: tuple[str, ...], machine: Mapping[str, object] | None = None,
    board: Mapping[str, object] | None = None, plant: Mapping[str, object] | None = None,
) -> Case:  # fmt: skip
    """Keep only these machines (candidates or classes) and board types, changed as said."""
    candidates = [one for one in case.candidates if one.id in machines]
    classes = tuple(name for name in machines if name not in {one.id for one in candidates})
    board_types = [one for one in case.board_types if one.id in boards]
    return case.model_copy(
        update={
            "candidates": tuple(changed_record(one, machine or {}) for one in candidates),
            "compare_classes": classes,
            "board_types": tuple(changed_record(one, board or {}) for one in board_types),
            "plant": changed_record(case.plant, plant or {}),
        }
    )


@pytest.fixture(scope="session")
def change() -> Change:
    return changed_record


@pytest.fixture(scope="session")
def small_case() -> SmallCase:
    return narrowed_case


@pytest.fixture(scope="session")
def demo_case() -> Case:
    return load_case(DEMO_FOLDER / "mixed_plant.yaml")


@pytest.fixture(scope="session")
def through_hole_case() -> Case:
    return load_case(DEMO_FOLDER / "through_hole_plant.yaml")


@pytest.fixture(scope="session")
def demo_evaluation(demo_case: Case) -> Evaluation:
    return evaluate(demo_case, draws=DRAWS)


@pytest.fixture(scope="session")
def through_hole_evaluation(through_hole_case: Case) -> Evaluation:
    return evaluate(through_hole_case, draws=DRAWS)
