"""Board parts under ultrasound, fluid and heat: not allowed, test first, nothing known; the board's own limit."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog_schema.boards import BoardPart, ComponentKind
from catalog_schema.fluids import Fluid
from catalog_schema.machines import Principle
from model.board_harm import (
    HarmOutcome,
    board_harm_requirement,
    board_temperature_requirement,
    process_agents,
    sensitive_parts,
)
from model.requirements import Thresholds
from model.uncertainty import FloatArray, InputBook
from tests.model.records import board, fluid, machine

DRAWS = 100
THRESHOLDS = Thresholds(meets_from=0.9, misses_to=0.1)


def kind(name: str, *parts: str) -> ComponentKind:
    return ComponentKind.model_validate(
        {"id": name, "name": name.capitalize(), "gap": "100 µm", "body_length": "5 mm", "flux_path": "2 mm",
         "open_edge_share": 1, "height": "2 mm", "parts": parts}
    )  # fmt: skip


def part(name: str, *rules: dict[str, Any]) -> BoardPart:
    filled = [{"basis": "common practice", "why": f"{name} is harmed.", **rule} for rule in rules]
    return BoardPart.model_validate({"id": name, "name": name.capitalize(), "rules": filled})


KINDS = {"can": kind("can", "crystal"), "chip": kind("chip")}
PARTS = {
    "crystal": part("crystal", {"agent": "ultrasound", "result": "not allowed"},
                    {"agent": "centrifugal", "result": "test first"}),
    "relay": part("relay", {"agent": "immersion", "result": "not allowed"},
                  {"agent": "solvent", "result": "not allowed"}),
    "aluminium": part("aluminium", {"agent": "alkaline", "above": 8.5, "result": "test first"},
                      {"agent": "alkaline", "above": 11.5, "result": "not allowed"},
                      {"agent": "acidic", "above": 4, "result": "test first"}),
    "battery": part("battery", {"agent": "temperature", "above_temperature": "60 degC", "result": "not allowed"}),
    "lens": part("lens", {"agent": "vacuum", "above_temperature": "80 degC", "result": "test first"},
                 {"agent": "spray", "above_temperature": "80 degC", "result": "test first"}),
}  # fmt: skip


def celsius(value: float) -> FloatArray:
    return np.full(DRAWS, value + 273.15)


def judge(
    principle: Principle, *, own: tuple[str, ...] = (), of_kind: str = "chip", cleaner: Fluid | None = None,
    wash: float | None = 50.0, dry: float | None = 50.0,
) -> HarmOutcome:  # fmt: skip
    subject = board(parts=own, components=[{"kind": of_kind, "count": 1}])
    return board_harm_requirement(
        subject, machine(principle), fluid(ph=7) if cleaner is None else cleaner,
        None if wash is None else celsius(wash), None if dry is None else celsius(dry), KINDS, PARTS,
        InputBook(DRAWS, 1), THRESHOLDS,
    )  # fmt: skip


def judge_with_vacuum_dryer(wash: float, dry: float) -> HarmOutcome:
    return board_harm_requirement(
        board(parts=["lens"], components=[{"kind": "chip", "count": 1}]), machine(dry={"kind": "vacuum"}),
        fluid(ph=7), celsius(wash), celsius(dry), KINDS, PARTS, InputBook(DRAWS, 1), THRESHOLDS,
    )  # fmt: skip


def test_ultrasonics_is_flagged_on_boards_with_unsealed_crystals() -> None:
    outcome = judge("ultrasonic", of_kind="can")
    assert outcome.judged.requirement.result == "falls short"
    assert outcome.judged.requirement.sentence.text() == (
        "Washer: ultrasound is not allowed on Control board because of crystal on Can. crystal is harmed."
    )
    assert [(one.part_id, one.agent, one.where) for one in outcome.findings] == [("crystal", "ultrasound", ("Can",))]


def test_the_same_board_may_be_sprayed_and_a_board_without_crystals_may_have_ultrasound() -> None:
    assert judge("spray in air", of_kind="can").judged.requirement.result == "meets"
    assert judge("ultrasonic", of_kind="chip").judged.requirement.result == "meets"


def test_test_first_is_unknown_and_named() -> None:
    outcome = judge("centrifugal", of_kind="can")
    requirement = outcome.judged.requirement
    assert (requirement.result, requirement.probability) == ("unknown", None)
    assert "test Control board first because of crystal (spinning under fluid)" in requirement.sentence.text()


def test_a_part_of_the_board_itself_counts_like_one_of_a_component_kind() -> None:
    assert sensitive_parts(board(parts=["crystal", "relay"]), KINDS) == {"crystal": ("Can",), "relay": ()}
    assert judge("spray under immersion", own=("relay",)).judged.requirement.result == "falls short"


@pytest.mark.parametrize(("ph", "result"), [(7, "meets"), (10, "unknown"), (12, "falls short"), (3, "unknown")])
def test_bare_aluminium_follows_the_ph(ph: float, result: str) -> None:
    outcome = judge("spray in air", own=("aluminium",), cleaner=fluid(ph=ph))
    assert outcome.judged.requirement.result == result


def test_an_uncertain_ph_gives_a_probability() -> None:
    outcome = judge("spray in air", own=("aluminium",), cleaner=fluid(ph={"low": 11, "high": 12}))
    assert outcome.judged.requirement.result == "unknown"
    assert outcome.judged.requirement.probability == pytest.approx(0.5)


def test_a_missing_ph_is_unknown_in_water_and_no_matter_in_a_solvent() -> None:
    assert judge("spray in air", own=("aluminium",), cleaner=fluid(ph=None)).judged.requirement.result == "unknown"
    solvent = fluid(ph=None, water_based=False, family="solvent")
    assert judge("vapour", own=("aluminium",), cleaner=solvent).judged.requirement.result == "meets"
    assert judge("vapour", own=("relay",), cleaner=solvent).judged.requirement.result == "falls short"


@pytest.mark.parametrize(
    ("wash", "dry", "result"), [(55, 55, "meets"), (55, 80, "falls short"), (70, None, "falls short")]
)
def test_heat_is_the_hottest_of_wash_and_drying(wash: float, dry: float | None, result: str) -> None:
    assert judge("spray in air", own=("battery",), wash=wash, dry=dry).judged.requirement.result == result


def test_a_spray_rule_looks_at_the_wash_and_a_vacuum_rule_at_the_drying_too() -> None:
    assert judge("spray in air", own=("lens",), wash=60, dry=90).judged.requirement.result == "meets"
    assert judge("spray in air", own=("lens",), wash=90, dry=60).judged.requirement.result == "unknown"
    vacuum_dryer = judge_with_vacuum_dryer(wash=60, dry=90)
    assert [one.agent for one in vacuum_dryer.findings] == ["vacuum"]
    assert vacuum_dryer.judged.requirement.result == "unknown"
    assert judge_with_vacuum_dryer(wash=60, dry=70).findings == ()


def test_dryer_and_rinse_add_what_they_do() -> None:
    assert process_agents("spray in air", None, "vacuum", "fill and drain") == {"spray", "vacuum"}
    assert process_agents("spray under immersion", None, "hot air", "spray") == {"immersion", "spray"}
    assert "solvent" in process_agents("vapour", fluid(family="solvent"))
    assert process_agents("none", fluid(family="solvent"), "vacuum", "spray") == frozenset()


def test_a_service_whose_process_is_not_known_asks_for_a_test() -> None:
    outcome = judge("service", of_kind="can")
    assert outcome.judged.requirement.result == "unknown"
    assert "What Washer uses is not known" in outcome.judged.requirement.sentence.text()


def test_doing_nothing_harms_nothing() -> None:
    outcome = judge("none", of_kind="can", own=("battery", "relay"), wash=90)
    assert outcome.judged.requirement.result == "meets"
    assert outcome.findings == ()


def test_board_temperature_is_judged_against_its_own_limit_and_names_the_stage() -> None:
    book = InputBook(DRAWS, 1)
    hot = board_temperature_requirement(board(), machine(), fluid(), celsius(60), celsius(95), book, THRESHOLDS)
    assert hot is not None
    assert hot.requirement.result == "falls short"
    assert hot.requirement.sentence.text() == (
        "Control board gets up to 95 °C in drying; its assembly may see 85 °C."
    )
    assert hot.requirement.margin_ratio == pytest.approx(358.15 / 368.15)
    cool = board_temperature_requirement(board(), machine(), fluid(), celsius(60), None, book, THRESHOLDS)
    assert cool is not None
    assert cool.requirement.result == "meets"
    assert "in the wash" in cool.requirement.sentence.text()
    assert board_temperature_requirement(board(), machine(), None, None, None, book, THRESHOLDS) is None


@settings(deadline=None, max_examples=50)
@given(low=st.floats(20, 100), rise=st.floats(0, 50))
def test_more_heat_is_never_less_harm(low: float, rise: float) -> None:
    order = {"meets": 0, "unknown": 1, "falls short": 2}
    cool, hot = (judge("spray in air", own=("battery",), wash=20, dry=value) for value in (low, low + rise))
    assert order[hot.judged.requirement.result] >= order[cool.judged.requirement.result]


@pytest.mark.parametrize(
    ("outcome", "sentence"),
    [
        (lambda: judge("centrifugal", of_kind="can"),
         "Washer: test Control board first because of crystal (spinning under fluid). crystal is harmed."),
        (lambda: judge("service", of_kind="can"),
         "What Washer uses is not known. Agree on it and test Control board first: crystal (ultrasound), "
         "crystal (spinning under fluid). crystal is harmed."),
        (lambda: judge("spray in air", of_kind="chip"),
         "Nothing in Washer is known to harm a part of Control board."),
        (lambda: judge("spray under immersion", own=("relay",)),
         "Washer: immersion is not allowed on Control board because of relay. relay is harmed."),
    ],
)  # fmt: skip
def test_what_may_be_harmed_is_said_whole(outcome: Any, sentence: str) -> None:
    requirement = outcome().judged.requirement
    assert requirement.sentence.text() == sentence
    assert (requirement.key, requirement.title, requirement.stage) == (
        "board parts", "Parts of the board unharmed", "boards",
    )  # fmt: skip
    assert (requirement.machine_id, requirement.board_id) == ("washer", "control")


def test_without_a_fluid_no_fluid_is_named() -> None:
    book = InputBook(DRAWS, 1)
    plain = board_temperature_requirement(board(), machine(), None, celsius(60), celsius(60), book, THRESHOLDS)
    assert plain is not None
    assert plain.requirement.fluid_id == ""
    assert plain.requirement.sentence.text() == "Control board gets up to 60 °C in drying; its assembly may see 85 °C."
    named = board_temperature_requirement(board(), machine(), fluid(), celsius(60), None, book, THRESHOLDS)
    assert named is not None
    assert named.requirement.fluid_id == "cleaner"
    assert (named.requirement.key, named.requirement.title) == ("board temperature", "Board temperature")
    assert {one.path: one.basis for one in book.inputs()} == {"board_types[control].max_temperature": "measured"}


# ---- What is read, kept and put first --------------------------------------------------------------------------------


def harm(parts: dict[str, BoardPart], *, cleaner: Fluid | None, principle: Principle = "spray in air",
         wash: FloatArray | float = 50.0, book: InputBook | None = None, **equipment: Any) -> HarmOutcome:  # fmt: skip
    hot = celsius(wash) if isinstance(wash, float) else wash
    return board_harm_requirement(
        board(parts=list(parts), components=[{"kind": "chip", "count": 1}]), machine(principle, **equipment), cleaner,
        hot, None, KINDS, parts, InputBook(DRAWS, 1) if book is None else book, THRESHOLDS,
    )  # fmt: skip


def test_what_a_rule_reads_is_noted_under_its_number_with_its_basis() -> None:
    book = InputBook(DRAWS, 1)
    rules = ({"agent": "solvent", "result": "test first"},
             {"agent": "alkaline", "above": 8.5, "above_temperature": "40 degC", "result": "test first",
              "basis": "published", "source": "Handbook"})  # fmt: skip
    outcome = harm({"foil": part("foil", *rules)}, cleaner=fluid(ph=10), book=book)
    path = "board_parts[foil].rules[2]"
    assert {one.path: one.basis for one in book.inputs()} == {
        "fluids[cleaner].ph": "engineering estimate", f"{path}.above": "published",
        f"{path}.above_temperature": "published",
    }  # fmt: skip
    found, = outcome.findings
    assert (found.basis, found.source) == ("published", "Handbook")
    assert (found.why, found.part_name) == ("foil is harmed.", "Foil")
    assert (outcome.judged.requirement.machine_id, outcome.judged.requirement.fluid_id) == ("washer", "cleaner")
    assert (outcome.judged.requirement.board_id, outcome.judged.requirement.stage) == ("control", "boards")


@pytest.mark.parametrize(
    ("rule", "ph", "wash", "applies"),
    [({"agent": "alkaline"}, 7.5, 50.0, True), ({"agent": "alkaline"}, 7, 50.0, False),
     ({"agent": "acidic"}, 6.5, 50.0, True), ({"agent": "acidic"}, 7, 50.0, False),
     ({"agent": "alkaline", "above": 9}, 9, 50.0, False), ({"agent": "alkaline", "above": 9}, 10, 50.0, True),
     ({"agent": "alkaline", "above": 9, "above_temperature": "40 degC"}, 8, 50.0, False),
     ({"agent": "alkaline", "above": 9, "above_temperature": "50 degC"}, 10, 50.0, False),
     ({"agent": "alkaline", "above": 9, "above_temperature": "40 degC"}, 10, 50.0, True)],
)  # fmt: skip
def test_a_rule_concerns_what_lies_beyond_its_bounds_and_not_on_them(
    rule: dict[str, Any], ph: float, wash: float, applies: bool
) -> None:
    outcome = harm({"foil": part("foil", {**rule, "result": "not allowed"})}, cleaner=fluid(ph=ph), wash=wash)
    assert bool(outcome.findings) is applies


def test_draws_that_any_rule_forbids_are_missed_and_the_likeliest_harm_is_named_first() -> None:
    hot = np.linspace(40.0, 60.0, DRAWS) + 273.15
    parts = {
        name: part(name, {"agent": "temperature", "above_temperature": f"{limit} degC", "result": result})
        for name, limit, result in (
            ("gel", 42, "test first"), ("wax", 56, "not allowed"), ("tape", 48, "not allowed"),
            ("foam", 59, "not allowed"),
        )
    }  # fmt: skip
    outcome = harm(parts, cleaner=None, wash=hot)
    assert [one.part_id for one in outcome.findings] == ["tape", "wax", "foam", "gel"]
    assert outcome.judged.met is not None
    np.testing.assert_array_equal(outcome.judged.met, hot <= 48.0 + 273.15)
    assert outcome.judged.requirement.fluid_id == ""
    assert outcome.judged.requirement.sentence.text() == (
        "Washer: heat is not allowed on Control board because of tape. tape is harmed. Also: foam, wax."
    )


def test_doubt_in_different_draws_adds_up() -> None:
    hot = np.linspace(40.0, 60.0, DRAWS) + 273.15
    heat = {"agent": "temperature", "result": "test first"}
    rules = [heat | {"above_temperature": limit} for limit in ("59 degC", "57 degC")]
    outcome = harm({"gel": part("gel", *rules)}, cleaner=None, wash=hot)
    assert outcome.judged.requirement.result == "unknown"
    reversed_rules = harm({"gel": part("gel", *reversed(rules))}, cleaner=None, wash=hot)
    assert reversed_rules.judged.requirement.result == "unknown"


def test_a_ban_in_few_draws_is_forgiven_and_the_sentence_then_speaks_of_what_is_to_be_tested() -> None:
    hot = np.linspace(40.0, 60.0, DRAWS) + 273.15
    heat = {"agent": "temperature"}
    parts = {"wax": part("wax", heat | {"above_temperature": "59 degC", "result": "not allowed"}),
             "gel": part("gel", heat | {"above_temperature": "42 degC", "result": "test first"})}  # fmt: skip
    told = harm(parts, cleaner=None, wash=hot).judged.requirement.sentence.text()
    assert told == "Washer: test Control board first because of gel (heat). gel is harmed."
    # One draw in ten is just what is forgiven, two are not.
    for few, opening in ((10, "Washer: test Control board first because of gel"), (20, "Washer: heat is not allowed")):
        hot = np.where(np.arange(DRAWS) < few, 60.0, 50.0) + 273.15
        assert harm(parts, cleaner=None, wash=hot).judged.requirement.sentence.text().startswith(opening)


def test_a_spray_rinse_counts_for_what_is_sprayed_and_abbreviations_keep_their_capitals() -> None:
    lamp = BoardPart.model_validate({"id": "led", "name": "LED dome", "rules": [
        {"agent": "spray", "result": "not allowed", "basis": "common practice", "why": "It is soft."}]})  # fmt: skip
    assert harm({"led": lamp}, cleaner=None, principle="ultrasonic").judged.requirement.result == "meets"
    sprayed = harm({"led": lamp}, cleaner=None, principle="ultrasonic", rinse={"kind": "spray"})
    assert sprayed.judged.requirement.sentence.text() == (
        "Washer: spray is not allowed on Control board because of LED dome. It is soft."
    )
    plural = harm({"led": lamp.model_copy(update={"name": "ICs without lid"})}, cleaner=None)
    assert "because of ICs without lid." in plural.judged.requirement.sentence.text()
    two = board(components=[{"kind": "can", "count": 1}, {"kind": "second", "count": 1}])
    kinds = KINDS | {"second": kind("second", "crystal")}
    said = board_harm_requirement(two, machine("ultrasonic"), None, celsius(50), None, kinds, PARTS,
                                  InputBook(DRAWS, 1), THRESHOLDS)  # fmt: skip
    assert "because of crystal on Can, Second." in said.judged.requirement.sentence.text()


def test_the_boards_own_temperature_requirement_is_about_this_machine_board_and_fluid() -> None:
    for cleaner, named in ((fluid(), "cleaner"), (None, "")):
        judged = board_temperature_requirement(board(), machine(), cleaner, celsius(50), None, InputBook(DRAWS, 1),
                                               THRESHOLDS)  # fmt: skip
        assert judged is not None
        said = judged.requirement
        assert (said.machine_id, said.board_id, said.fluid_id) == ("washer", "control", named)
        assert (said.key, said.title, said.stage, said.dimension) == (
            "board temperature", "Board temperature", "boards", "temperature",
        )  # fmt: skip
