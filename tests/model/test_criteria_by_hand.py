"""The criterion table from measures put together by hand: who has a row, what stands in for what nobody knows."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from catalog_schema.priorities import CRITERIA, OwnCriterion, Priorities, ValuePoint
from catalog_schema.quantity import Share
from model import criteria
from model.criteria import COST, DEFAULT_VALUE_FUNCTIONS, _worst_board, considered, criterion_table
from model.decision import decide
from model.measures import Measures
from model.phrase import phrase
from model.uncertainty import stratified_ranks
from model.value import ValueFunction
from tests.model.cost_by_hand import case_by_hand

DRAWS = 5
PLACE = {name: number for number, name in enumerate(CRITERIA)}


def outcome(name: str, *, result: str = "meets", is_candidate: bool = True, cost: float | None = 100.0,
            deciding: str | None = None, probability: float = 0.75) -> Any:  # fmt: skip
    sentence = None if deciding is None else SimpleNamespace(requirement=SimpleNamespace(sentence=phrase(deciding)))
    money = None if cost is None else SimpleNamespace(equivalent_annual_cost=np.full(DRAWS, cost))
    return SimpleNamespace(machine=SimpleNamespace(id=name, name=name.capitalize(), is_candidate=is_candidate),
                           result=result, cost=money, deciding=sentence, probability=probability)  # fmt: skip


def evaluation(*outcomes: Any, reference: str | None = "today", **priorities: Any) -> Any:
    case = case_by_hand(finance={"reference": reference})
    case = case.model_copy(update={"priorities": Priorities(**priorities)})
    return SimpleNamespace(case=case, machines=outcomes, draws=DRAWS, seed=3,
                           library=SimpleNamespace(machine_classes=()))  # fmt: skip


@pytest.fixture
def measured(monkeypatch: pytest.MonkeyPatch) -> dict[tuple[str, str], Any]:
    """Give measures by machine and criterion, one a board type; 1 where a test says nothing."""
    said: dict[tuple[str, str], Any] = {}

    def measures_of(evaluation: Any, machines: Any) -> Measures:
        table = np.ones((DRAWS, len(machines), len(CRITERIA), 2))
        for row, one in enumerate(machines):
            for name, place in PLACE.items():
                table[:, row, place, :] = said.get((one.machine.id, name), 1.0)
        return Measures(
            machine_ids=tuple(one.machine.id for one in machines), board_ids=("control", "power"),
            board_share=np.array([0.25, 0.75]), by_board=table, inputs=((),) * len(machines),
            columns=tuple({f"suction of {one.machine.id}": np.arange(DRAWS)} for one in machines),
        )  # fmt: skip

    monkeypatch.setattr(criteria, "measures_of", measures_of)
    return said


def test_offers_and_the_reference_stand_and_classes_only_when_asked() -> None:
    machines = (outcome("offer"), outcome("today", is_candidate=False), outcome("class", is_candidate=False))
    whole = evaluation(*machines)
    assert [one.machine.id for one in considered(whole, False)] == ["offer", "today"]
    assert [one.machine.id for one in considered(whole, True)] == ["offer", "today", "class"]
    assert [one.machine.id for one in considered(evaluation(*machines, reference=None), False)] == ["offer"]


def test_what_falls_short_has_no_row_but_a_reason(measured: Any) -> None:
    table = criterion_table(evaluation(
        outcome("a", result="unknown", probability=0.4), outcome("b", result="falls short", deciding="Too small."),
        outcome("c", result="falls short"), outcome("d"),
    ))  # fmt: skip
    assert table.machine_ids == ("a", "d")
    assert table.machine_names == ("A", "D")
    assert (table.results, table.probabilities) == (("unknown", "meets"), (0.4, 0.75))
    assert [(one.machine_id, one.name, one.reason.text()) for one in table.ruled_out] == [
        ("b", "B", "Too small."), ("c", "C", "It misses a must."),
    ]  # fmt: skip


def test_measures_become_values_by_the_mix_and_the_hardest_board_type_is_named(measured: Any) -> None:
    measured["a", "drying"] = [1.0, 2.0]
    measured["a", "pump_reserve"] = [2.0, 1.0]
    measured["a", "traceability"] = [0.2, 0.2]
    table = criterion_table(evaluation(outcome("a"), outcome("b")))
    assert table.criteria == tuple(CRITERIA)
    assert table.criterion_names == tuple(CRITERIA.values())
    drying, pump = PLACE["drying"], PLACE["pump_reserve"]
    assert table.measures[:, 0, drying] == pytest.approx(np.full(DRAWS, 1.75))
    # 0.4 at 1 and 0.9 at 2.
    assert table.values[:, 0, drying] == pytest.approx(np.full(DRAWS, 0.4 + 0.75 * 0.5))
    assert table.measures[:, 0, pump] == pytest.approx(np.full(DRAWS, 1.0))
    assert (table.worst_board[0][drying], table.worst_board[0][pump]) == ("control", "power")
    assert table.worst_board[0][PLACE["traceability"]] == ""
    assert set(table.worst_board[1]) == {""}
    assert not table.unknown.any()
    assert table.raw.board_ids == ("control", "power")
    assert [set(one) for one in table.open_columns] == [{"suction of a"}, {"suction of b"}]


def test_what_nobody_knows_takes_every_value_and_is_noted(measured: Any) -> None:
    measured["b", "drying"] = [np.nan, 2.0]
    measured["b", "traceability"] = [np.nan, np.nan]
    table = criterion_table(evaluation(outcome("a"), outcome("b")))
    drying, traced = PLACE["drying"], PLACE["traceability"]
    assert np.argwhere(table.unknown).tolist() == [[1, drying], [1, traced]]
    for name in ("drying", "traceability"):
        wanted = stratified_ranks(f"criteria[b].{name}", DRAWS, 3)
        assert table.open_columns[1][f"criteria[b].{name}"] == pytest.approx(wanted)
    assert set(table.open_columns[0]) == {"suction of a"}
    # Both board types stand where the value is the draw's own, so the mix does.
    assert table.values[:, 1, traced] == pytest.approx(stratified_ranks("criteria[b].traceability", DRAWS, 3))
    # One board type known: it alone can be the worst.
    assert (table.worst_board[1][drying], table.worst_board[1][traced]) == ("power", "")
    assert table.notes[-1] == (
        f"B: not known, so any value from 0 to 1 is taken as equally likely: {CRITERIA['drying']}, "
        f"{CRITERIA['traceability']}."
    )
    assert len(table.notes) == 2


def test_own_criteria_are_rated_by_the_plant_or_unknown(measured: Any) -> None:
    ratings = {"a": Share(likely=0.9), "b": Share(low=0.1, likely=0.2, high=0.6)}
    own = OwnCriterion(id="near", name="Service nearby", ratings=ratings)
    table = criterion_table(evaluation(outcome("a"), outcome("b"), outcome("c"), own_criteria=(own,)))
    assert (table.criteria[-1], table.criterion_names[-1]) == ("near", "Service nearby")
    assert table.values[:, 0, -1] == pytest.approx(np.full(DRAWS, 0.9))
    assert 0.1 <= table.values[:, 1, -1].min() < table.values[:, 1, -1].max() <= 0.6
    assert table.values[:, 2, -1] == pytest.approx(stratified_ranks("criteria[c].near", DRAWS, 3))
    assert table.unknown[:, -1].tolist() == [False, False, True]
    assert [one[-1] for one in table.worst_board] == ["", "", ""]
    # What varies is kept, known or not.
    assert ["criteria[a].near" in table.open_columns[0], "criteria[b].near" in table.open_columns[1],
            "criteria[c].near" in table.open_columns[2]] == [False, True, True]  # fmt: skip
    assert table.notes[-1].startswith("C: not known")
    assert table.notes[-1].endswith(": Service nearby.")


def test_value_functions_of_the_case_are_used_and_impossible_ones_named(measured: Any) -> None:
    falling = (ValuePoint(measure=2.0, value=0.0), ValuePoint(measure=0.0, value=1.0))
    bent = (ValuePoint(measure=1.0, value=0.0), ValuePoint(measure=2.0, value=1.0), ValuePoint(measure=3.0, value=0.5))
    measured["a", "esd_racking"] = [0.5, 1.5]
    whole = evaluation(outcome("a"), value_functions={"esd_racking": falling, "pump_reserve": bent, COST: falling})
    table = criterion_table(whole)
    assert table.value_functions[PLACE["esd_racking"]].points == ((0.0, 1.0), (2.0, 0.0))
    assert table.values[:, 0, PLACE["esd_racking"]] == pytest.approx(np.full(DRAWS, 1.0 - 1.25 / 2.0))
    # Where less is better the larger measure is the worst.
    assert table.worst_board[0][PLACE["esd_racking"]] == "power"
    assert table.value_functions[PLACE["pump_reserve"]] == DEFAULT_VALUE_FUNCTIONS["pump_reserve"]
    assert table.value_functions[PLACE[COST]].points == ((0.0, 1.0), (2.0, 0.0))
    assert table.notes == (
        "The value function of pump reserve is not used: A value function must rise all the way or fall all the way; "
        "these points do both.",
    )
    other = criterion_table(whole, priorities=Priorities())
    assert other.value_functions[PLACE["esd_racking"]] == DEFAULT_VALUE_FUNCTIONS["esd_racking"]


def test_cost_is_valued_from_the_reference_and_said_first(measured: Any) -> None:
    measured["offer", COST] = [50.0, 50.0]
    table = criterion_table(evaluation(outcome("offer"), outcome("today", is_candidate=False)))
    assert table.value_functions[PLACE[COST]].points == ((0.0, 1.0), (200.0, 0.0))
    assert table.values[:, 0, PLACE[COST]] == pytest.approx(np.full(DRAWS, 0.75))
    assert table.notes[0].startswith("Cost is worth 1 at nothing, 0.5 at 100 and 0 at 200 EUR per year, after")


def test_middle_values_are_medians_and_an_empty_table_has_none(measured: Any) -> None:
    measured["a", "traceability"] = np.array([0.1, 0.9, 0.3, 0.2, 0.8])[:, None]
    table = criterion_table(evaluation(outcome("a")))
    assert table.middle_values()[0, PLACE["traceability"]] == pytest.approx(0.3)
    empty = criterion_table(evaluation(outcome("a", result="falls short")))
    assert empty.middle_values().shape == (0, 7)
    assert empty.machine_ids == ()


def test_a_decision_takes_the_cases_priorities_unless_others_are_given(measured: Any) -> None:
    own = OwnCriterion(id="near", name="Service nearby", ratings={"a": Share(likely=0.9)})
    whole = evaluation(outcome("a"), outcome("class", is_candidate=False), own_criteria=(own,))
    assert decide(whole).table.criteria[-1] == "near"
    assert decide(whole).priorities == whole.case.priorities
    assert decide(whole).table.machine_ids == ("a",)
    assert decide(whole, include_classes=True).table.machine_ids == ("a", "class")
    assert decide(whole, priorities=Priorities()).table.criteria[-1] == COST


def test_classes_have_no_row_unless_asked_for(measured: Any) -> None:
    machines = (outcome("offer"), outcome("class", is_candidate=False))
    assert criterion_table(evaluation(*machines)).machine_ids == ("offer",)


def test_with_a_single_board_type_all_measures_are_known_and_it_is_the_worst(
    measured: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    measured["a", "drying"] = [2.0, 0.0]
    measured["a", "traceability"] = [np.nan, 0.0]
    both = criteria.measures_of

    def one_of_both(evaluation: Any, machines: Any) -> Measures:
        found = both(evaluation, machines)
        return replace(found, board_ids=("control",), board_share=np.ones(1), by_board=found.by_board[..., :1])

    monkeypatch.setattr(criteria, "measures_of", one_of_both)
    table = criterion_table(evaluation(outcome("a")))
    assert np.flatnonzero(table.unknown[0]).tolist() == [PLACE["traceability"]]
    assert table.measures[:, 0, PLACE["drying"]] == pytest.approx(np.full(DRAWS, 2.0))
    assert (table.worst_board[0][PLACE["drying"]], table.worst_board[0][PLACE["traceability"]]) == ("control", "")


@pytest.mark.parametrize(("points", "worst"), [(((0.0, 0.0), (1.0, 1.0)), "low"), (((0.0, 1.0), (1.0, 0.0)), "high")])
def test_of_board_types_of_equal_value_the_one_further_out_is_the_worst(points: Any, worst: str) -> None:
    boards: Any = SimpleNamespace(board_ids=("low", "high"))
    # Beyond the end of the value function both are worth nothing.
    known = np.array([[-3.0, -2.0]]) if worst == "low" else np.array([[2.0, 3.0]])
    assert _worst_board(known, boards, ValueFunction(points=points)) == worst


def test_no_board_type_is_the_worst_where_each_is_partly_unknown() -> None:
    boards: Any = SimpleNamespace(board_ids=("control", "power"))
    known = np.array([[np.nan, 1.0], [2.0, np.nan]])
    assert _worst_board(known, boards, DEFAULT_VALUE_FUNCTIONS["drying"]) == ""
