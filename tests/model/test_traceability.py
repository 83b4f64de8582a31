"""Traceability functions: present, option, absent, not known; the price of an option; the weighted share."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from catalog_schema.machines import Availability, TraceFunction
from model.machine_inputs import MachineInputs
from model.traceability import (
    FUNCTIONS,
    HOW_TO_ADD,
    TraceabilityOutcome,
    function_states,
    traceability_requirement,
    traceability_share,
)
from model.uncertainty import InputBook
from tests.model.records import machine

DRAWS = 100
ALL_ABSENT: dict[TraceFunction, Availability] = dict.fromkeys(FUNCTIONS, "absent")
NEEDED: tuple[TraceFunction, ...] = ("cycle log", "sensor log")


def judge(changes: dict[TraceFunction, Availability], required: tuple[TraceFunction, ...] = NEEDED,
          price: str | None = None) -> TraceabilityOutcome:  # fmt: skip
    equipment: dict[str, Any] = {"traceability": {**ALL_ABSENT, **changes}}
    if price is not None:
        equipment["traceability_option_price"] = price
    inputs = MachineInputs(machine(**equipment), InputBook(DRAWS, 1, {"EUR": 1.0}))
    return traceability_requirement(inputs, required)


def test_all_required_present_meets() -> None:
    outcome = judge({"cycle log": "present", "sensor log": "present"})
    assert outcome.judged.requirement.result == "meets"
    assert not outcome.option_needed
    assert len(outcome.lacking) == len(FUNCTIONS) - 2


def test_one_required_function_absent_falls_short_and_says_how_to_add_it() -> None:
    outcome = judge({"cycle log": "present"})
    assert outcome.judged.requirement.result == "falls short"
    text = outcome.judged.requirement.sentence.text()
    assert text == f"Washer lacks: sensor log. To add: {HOW_TO_ADD['sensor log']}"
    assert (outcome.lacking[0].function, outcome.lacking[0].required) == ("sensor log", True)
    assert not any(one.required for one in outcome.lacking[1:])


def test_an_option_meets_at_its_price_and_then_counts_as_present() -> None:
    outcome = judge({"cycle log": "present", "sensor log": "option"}, price="4000..6000 EUR")
    assert outcome.judged.requirement.result == "meets"
    assert outcome.option_needed
    assert outcome.option_price is not None
    assert outcome.option_price.mean() == pytest.approx(5000.0)
    assert "with the option for 5 000 EUR (sensor log)" in outcome.judged.requirement.sentence.text(currency="EUR")
    np.testing.assert_allclose(outcome.share, 4 / 12)


def test_an_option_without_a_price_meets_counts_half_and_asks() -> None:
    outcome = judge({"cycle log": "present", "sensor log": "option"})
    assert outcome.judged.requirement.result == "meets"
    assert outcome.option_price is None
    assert "Ask its price" in outcome.judged.requirement.sentence.text()
    np.testing.assert_allclose(outcome.share, 3 / 12)


def test_an_option_that_nobody_requires_is_not_priced_in() -> None:
    outcome = judge({"cycle log": "present", "sensor log": "present", "control charts": "option"}, price="900 EUR")
    assert outcome.option_price is None
    np.testing.assert_allclose(outcome.share, 4.5 / 12)


def test_not_known_is_unknown_absent_beats_it_and_the_share_spreads() -> None:
    equipment: dict[str, Any] = {"traceability": {"cycle log": "present"}}
    inputs = MachineInputs(machine(**equipment), InputBook(DRAWS, 1))
    assert function_states(inputs)["sensor log"] == "not known"
    outcome = traceability_requirement(inputs, NEEDED)
    assert (outcome.judged.requirement.result, outcome.judged.met) == ("unknown", None)
    assert outcome.share.min() >= 2 / 12
    assert outcome.share.max() > outcome.share.min()
    assert "candidates[washer].traceability[sensor log]" in inputs.book.uncertain_columns()
    mixed = MachineInputs(machine(traceability={"cycle log": "absent"}), InputBook(DRAWS, 1))
    assert traceability_requirement(mixed, NEEDED).judged.requirement.result == "falls short"


def test_doing_nothing_has_nothing_to_record() -> None:
    outcome = traceability_requirement(MachineInputs(machine("none"), InputBook(DRAWS, 1)), NEEDED)
    assert outcome.judged.requirement.result == "meets"
    assert outcome.states == ALL_ABSENT
    assert outcome.share.max() == 0.0


def test_nothing_said_and_nothing_required() -> None:
    outcome = traceability_requirement(MachineInputs(machine(), InputBook(DRAWS, 1)), ())
    assert outcome.judged.requirement.result == "meets"
    assert outcome.share.mean() == pytest.approx(0.5, abs=0.05)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_having_a_function_counts_twice_when_it_is_required(function: TraceFunction) -> None:
    inputs = MachineInputs(machine(), InputBook(4, 1))
    states = {name: "present" if name == function else "absent" for name in FUNCTIONS}
    required = traceability_share(inputs, states, (function,), frozenset())  # type: ignore[arg-type]
    useful = traceability_share(inputs, states, (), frozenset())  # type: ignore[arg-type]
    np.testing.assert_allclose(required, 2 / 11)
    np.testing.assert_allclose(useful, 1 / 10)
    assert HOW_TO_ADD[function].endswith(".")


def test_senseless_weights_are_refused() -> None:
    inputs = MachineInputs(machine(), InputBook(4, 1))
    with pytest.raises(ValueError, match="required weight: 0 is not allowed"):
        traceability_share(inputs, function_states(inputs), (), frozenset(), required_weight=0.0)
    with pytest.raises(ValueError, match="option credit: 2 is not allowed"):
        traceability_share(inputs, function_states(inputs), (), frozenset(), option_credit=2.0)


@pytest.mark.parametrize(
    ("changes", "required", "price", "sentence"),
    [
        ({"cycle log": "present", "sensor log": "present"}, NEEDED, None, "Washer has every required function (2)."),
        ({"cycle log": "present", "sensor log": "option"}, NEEDED, "900 EUR",
         "Washer has every required function (2) with the option for 900 EUR (sensor log)."),
        ({"cycle log": "option", "sensor log": "option"}, NEEDED, None,
         "Washer has every required function (2) with an option (cycle log, sensor log). Ask its price."),
        ({"cycle log": "absent", "sensor log": "present"}, NEEDED, None,
         f"Washer lacks: cycle log. To add: {HOW_TO_ADD['cycle log']}"),
        ({"cycle log": "absent", "sensor log": "absent"}, NEEDED, None,
         f"Washer lacks: cycle log, sensor log. To add: {HOW_TO_ADD['cycle log']} {HOW_TO_ADD['sensor log']}"),
        ({}, (), None, "The plant requires no traceability function."),
    ],
)  # fmt: skip
def test_what_is_found_is_said_whole(
    changes: dict[TraceFunction, Availability], required: tuple[TraceFunction, ...], price: str | None, sentence: str
) -> None:
    requirement = judge(changes, required, price).judged.requirement
    assert requirement.sentence.text(currency="EUR") == sentence
    assert (requirement.key, requirement.title, requirement.stage, requirement.machine_id) == (
        "traceability", "Traceability", "traceability", "washer",
    )  # fmt: skip


def test_what_nobody_states_is_asked_for_and_doing_nothing_records_nothing() -> None:
    book = InputBook(DRAWS, 1)
    outcome = traceability_requirement(MachineInputs(machine(), book), NEEDED)
    assert outcome.judged.requirement.sentence.text() == (
        "Whether Washer has these is not known: cycle log, sensor log. Ask the supplier."
    )
    asked = {one.path: one for one in book.inputs()}
    question = asked["candidates[washer].traceability[cycle log]"]
    assert (question.basis, question.note, question.stated) == (
        "engineering estimate", "Nobody has said whether it has it.", False,
    )  # fmt: skip
    assert (question.low, question.high) == (0.0, 1.0)
    how = {one.function: one.how_to_add for one in outcome.lacking}
    known = HOW_TO_ADD["cycle log"]
    assert how["cycle log"] == f"Ask the supplier. If it is missing: {known[0].lower()}{known[1:]}"
    option = judge({"cycle log": "option"})
    assert {one.function: one.how_to_add for one in option.lacking}["cycle log"] == "The maker offers it as an option."
    nothing = traceability_requirement(MachineInputs(machine("none"), InputBook(DRAWS, 1)), NEEDED)
    assert nothing.judged.requirement.sentence.text() == "Washer: there is no wash to record."
    assert nothing.judged.requirement.result == "meets"
    np.testing.assert_array_equal(nothing.share, 0.0)


def test_required_functions_weigh_double_and_an_option_counts_half() -> None:
    inputs = MachineInputs(machine(), InputBook(DRAWS, 1))
    states = dict.fromkeys(FUNCTIONS, "absent")
    states |= {"cycle log": "present", "sensor log": "option", "change log": "option"}
    weights = len(FUNCTIONS) + 2  # two required functions weigh one more each
    share = traceability_share(inputs, states, NEEDED, frozenset())
    np.testing.assert_allclose(share, (2.0 + 2.0 * 0.5 + 0.5) / weights)
    bought = traceability_share(inputs, states, NEEDED, frozenset({"sensor log"}))
    np.testing.assert_allclose(bought, (2.0 + 2.0 + 0.5) / weights)
    own = traceability_share(inputs, states, NEEDED, frozenset(), required_weight=3.0, option_credit=0.0)
    np.testing.assert_allclose(own, 3.0 / (weights + 2))
    for bad in (0.0, -1.0, np.inf, np.nan):
        told = rf"^required weight: {bad:g} is not allowed\. Give a finite value above 0\.$"
        with pytest.raises(ValueError, match=told):
            traceability_share(inputs, states, NEEDED, frozenset(), required_weight=bad)
    for bad in (-0.1, 1.1):
        with pytest.raises(ValueError, match=rf"^option credit: {bad:g} is not allowed\. Give a value from 0 to 1\.$"):
            traceability_share(inputs, states, NEEDED, frozenset(), option_credit=bad)


def test_the_states_are_kept_and_a_weight_of_one_and_a_full_credit_are_allowed() -> None:
    outcome = judge({"cycle log": "present", "sensor log": "option"})
    assert outcome.states == {**ALL_ABSENT, "cycle log": "present", "sensor log": "option"}
    states = {one.function: one.state for one in outcome.lacking}
    assert states == {name: state for name, state in outcome.states.items() if state != "present"}
    inputs = MachineInputs(machine(), InputBook(4, 1))
    share = traceability_share(inputs, outcome.states, NEEDED, frozenset(), required_weight=1.0, option_credit=1.0)
    np.testing.assert_allclose(share, 2 / 10)
