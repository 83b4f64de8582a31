"""The JSON output: documented by its own schema, stable in its keys, without infinities."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from pydantic import ValidationError

from model.evaluate import Evaluation
from model.json_output import EvaluationOutput, documents_schema, evaluation_json, evaluation_output, finite

# Version 1 of the format. Keys may be added to these lists, never taken away or renamed.
FIRST_KEYS = {
    "": {"washcase_evaluation", "case", "fingerprint", "invented", "currency", "draws", "seed", "rays", "verdicts",
         "requirements", "inputs", "caution"},
    "verdicts": {"machine", "name", "machine_class", "is_candidate", "result", "probability", "deciding_board_type",
                 "deciding_requirement", "sentence"},
    "requirements": {"machine", "board_type", "fluid", "stage", "requirement", "title", "low", "middle", "high",
                     "limit", "dimension", "direction", "margin_ratio", "probability", "result", "sentence"},
    "inputs": {"path", "low", "likely", "high", "dimension", "given", "basis", "source", "note", "stated"},
}  # fmt: skip


@pytest.fixture(scope="module")
def text(demo_evaluation: Evaluation) -> str:
    return evaluation_json(demo_evaluation)


@pytest.fixture(scope="module")
def document(text: str) -> dict[str, Any]:
    def refuse(word: str) -> float:
        raise AssertionError(f"{word} is not JSON")

    parsed: dict[str, Any] = json.loads(text, parse_constant=refuse)
    return parsed


def test_the_output_is_valid_by_its_own_schema(text: str, demo_evaluation: Evaluation) -> None:
    assert EvaluationOutput.model_validate_json(text) == evaluation_output(demo_evaluation)


def test_an_unknown_key_or_a_missing_one_is_not_valid(document: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        EvaluationOutput.model_validate(document | {"extra": 1})
    with pytest.raises(ValidationError):
        EvaluationOutput.model_validate({name: value for name, value in document.items() if name != "caution"})


@pytest.mark.parametrize("part", list(FIRST_KEYS))
def test_no_key_of_the_first_version_is_gone(document: dict[str, Any], part: str) -> None:
    records = [document] if part == "" else document[part]
    assert records
    for record in records:
        assert set(record) >= FIRST_KEYS[part]


@pytest.mark.parametrize("part", list(FIRST_KEYS))
def test_the_schema_documents_every_key_that_is_written(document: dict[str, Any], part: str) -> None:
    schema = documents_schema()["evaluation"]
    if part:
        reference = schema["properties"][part]["items"]["$ref"].rsplit("/", 1)[1]
        schema, document = schema["$defs"][reference], document[part][0]
    assert set(document) == set(schema["properties"])
    assert set(schema["required"]) >= FIRST_KEYS[part]
    assert schema["additionalProperties"] is False


def test_what_is_infinite_is_null_and_everything_else_is_there(
    document: dict[str, Any], demo_evaluation: Evaluation
) -> None:
    table = demo_evaluation.requirements
    assert len(document["requirements"]) == len(table)
    infinite = 0
    for written, (_, row) in zip(document["requirements"], table.iterrows(), strict=True):
        for name in ("low", "middle", "high", "limit"):
            if math.isfinite(float(row[name])):
                assert written[name] == pytest.approx(float(row[name]), rel=1e-12)
            else:
                assert written[name] is None
                infinite += math.isinf(float(row[name]))
    assert infinite > 0  # a dishwasher that never dries is in the table


def test_the_head_says_what_was_computed(document: dict[str, Any], demo_evaluation: Evaluation) -> None:
    assert document["washcase_evaluation"] == 1
    assert (document["draws"], document["seed"], document["rays"]) == (256, 1, demo_evaluation.rays)
    assert document["invented"] is True
    assert document["fingerprint"] == demo_evaluation.fingerprint
    assert document["caution"].startswith("Advice, not approval.")


def test_every_number_that_reached_a_result_is_listed_once_with_its_basis(document: dict[str, Any]) -> None:
    paths = [record["path"] for record in document["inputs"]]
    assert len(paths) == len(set(paths)) > 300
    assert all(record["basis"] for record in document["inputs"])
    silent = next(record for record in document["inputs"]
                  if record["path"] == "candidates[offer-a-batch-spray].spray.nozzle_diameter")  # fmt: skip
    assert silent["stated"] is False


def test_verdicts_come_with_candidates_first_and_one_for_each_machine(document: dict[str, Any]) -> None:
    flags = [verdict["is_candidate"] for verdict in document["verdicts"]]
    assert flags == [True] * 5 + [False] * 14
    assert len({verdict["machine"] for verdict in document["verdicts"]}) == 19


@pytest.mark.parametrize("value", [None, math.inf, -math.inf, math.nan])
def test_what_json_cannot_hold_becomes_null(value: float | None) -> None:
    assert finite(value) is None


def test_a_schema_is_given_for_case_library_and_evaluation() -> None:
    schema = documents_schema()
    assert set(schema) >= {"case", "library", "evaluation"}
    assert set(schema["case"]["required"]) >= {"washcase_case", "name", "plant"}
    json.dumps(schema)
