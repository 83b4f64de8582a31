"""The decision in the JSON document: keys are there, agree with the decision, and hold no infinity."""

from __future__ import annotations

import json

from model.certainty import certainty
from model.json_output import EvaluationOutput, evaluation_json


def test_the_document_holds_ranking_certainty_and_questions(decision, decision_evaluation):
    text = evaluation_json(decision_evaluation)
    found = json.loads(text)
    EvaluationOutput.model_validate(found)
    assert "Infinity" not in text
    assert "NaN" not in text
    ranked = found["ranking"]["ranked"]
    assert [one["machine"] for one in ranked] == [decision.table.machine_ids[row] for row in decision.ranking.order]
    assert ranked[0]["score"] == decision.ranking.scores[0]
    assert not set(found["ranking"]["ruled_out"]) & {one["machine"] for one in ranked}
    assert found["certainty"]["headline"] == certainty(decision).headline
    assert set(found["ranking"]["weights"]) == set(decision.table.criteria)
    assert {"headline", "questions", "trials"} == set(found["questions"])
