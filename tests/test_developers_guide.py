"""The steps in DEVELOPERS.md work: each piece is taken out of the guide and used as it says."""

from __future__ import annotations

import re
from pathlib import Path

import yaml
from streamlit.testing.v1 import AppTest

from catalog_schema import Case, parse_case
from catalog_schema.files import case_content
from catalog_schema.library import LIBRARY_FOLDER
from catalog_schema.machines import Chamber
from model.decision import decide
from model.evaluate import Evaluation, evaluate
from model.explanations import explain_input
from model.json_output import documents_schema

GUIDE = Path(__file__).resolve().parent.parent / "DEVELOPERS.md"


def piece(name: str) -> str:
    """Take the fenced block that follows a marker in the guide."""
    found = re.search(rf"<!-- piece: {name} -->\n```\w+\n(.*?)```", GUIDE.read_text(encoding="utf-8"), re.DOTALL)
    assert found is not None, name
    return found[1]


def with_piece(case: Case, **changes: object) -> Case:
    """Read the demo again with records added, as from a file."""
    return parse_case(yaml.safe_dump(case_content(case) | changes, allow_unicode=True).encode(), "guide.yaml")


def test_a_fluid_from_the_guide_washes_boards(demo_case: Case) -> None:
    fluid = yaml.safe_load(piece("fluid"))
    offer = case_content(demo_case)["candidates"][0]
    offer["wash"]["fluids"] = [fluid["id"]]
    case = with_piece(demo_case, fluids=[fluid], candidates=[offer], compare_classes=[])
    evaluation = evaluate(case, draws=16, rays=2048)
    dense = evaluation.machines[0].board("dense-controller")
    assert dense.chosen.fluid_id == "trial-saponifier"
    assert any(one.requirement.key == "clear" for one in dense.chosen.judged)


def test_a_machine_class_from_the_guide_is_judged(demo_case: Case) -> None:
    record = yaml.safe_load(piece("machine class"))
    case = with_piece(demo_case, machine_classes=[record], candidates=[], compare_classes=[record["id"]])
    outcome = evaluate(case, draws=16).machine("trial-jet-tank")
    cleared = [one.requirement for one in outcome.all_judged() if one.requirement.key == "clear"]
    assert len(cleared) == len(case.board_types)
    assert all(must.probability is not None for must in cleared)


def test_an_own_criterion_from_the_guide_takes_part_in_the_ranking(demo_evaluation: Evaluation) -> None:
    priorities = case_content(demo_evaluation.case)["priorities"]
    priorities["own_criteria"] = [yaml.safe_load(piece("own criterion"))]
    changed = with_piece(demo_evaluation.case, priorities=priorities)
    decision = decide(demo_evaluation, priorities=changed.priorities)
    assert "local-service" in decision.table.criteria


def test_an_entry_from_the_guide_stands_in_the_library_as_written() -> None:
    content = yaml.safe_load((LIBRARY_FOLDER / "input_explanations.yaml").read_text(encoding="utf-8"))
    ((group, entries),) = yaml.safe_load(piece("entry")).items()
    ((field, entry),) = entries.items()
    assert content[group][field] == entry
    found = explain_input(Chamber, field)
    assert found is not None
    assert found.sentences == entry["sentences"]
    assert Case.model_fields["board_types"].description is None
    assert documents_schema()["case"]["$defs"]["Chamber"]["properties"][field]["description"] == entry["sentences"]


def test_a_screen_from_the_guide_is_drawn() -> None:
    app = AppTest.from_string(piece("screen") + "\n\npage()\n", default_timeout=120).run()
    assert not app.exception
    assert app.title[0].value == "Probabilities"
