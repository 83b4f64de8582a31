"""Rack and board against ESD limits: the plant's own, the standard's, what is not known, the want."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog_schema.machines import Principle
from catalog_schema.plant import Requirements
from model.esd_requirements import EsdOutcome, RackOutcome, esd_limits, esd_requirements, harmless_decay_s, rack_outcome
from model.machine_inputs import MachineInputs
from model.requirements import Thresholds
from model.uncertainty import InputBook
from tests.model.records import board, machine

DRAWS = 100
THRESHOLDS = Thresholds(meets_from=0.9, misses_to=0.1)
GOOD: dict[str, Any] = {"point_to_point": "1e7 ohm", "to_ground": "1e7 ohm"}


def judge(
    rack: dict[str, Any], *, own: dict[str, Any] | None = None, charging_V: float | None = 1000.0,
    principle: Principle = "spray in air", max_decay_s: float = 2.0, book: InputBook | None = None,
    **board_changes: Any,
) -> EsdOutcome:  # fmt: skip
    return esd_requirements(
        MachineInputs(machine(principle, rack=rack), book or InputBook(DRAWS, 1)), board(**board_changes),
        Requirements.model_validate(own or {}), rack_capacitance_F=np.full(DRAWS, 30e-12),
        max_decay_s=np.full(DRAWS, max_decay_s), charging_V=None if charging_V is None else np.full(DRAWS, charging_V),
        thresholds=THRESHOLDS,
    )  # fmt: skip


def of_rack(rack: dict[str, Any], charging_V: float | None = 1000.0) -> RackOutcome:
    return rack_outcome(
        MachineInputs(machine(rack=rack), InputBook(DRAWS, 1)), Requirements.model_validate({}),
        rack_capacitance_F=np.full(DRAWS, 30e-12), max_decay_s=np.full(DRAWS, 2.0),
        charging_V=None if charging_V is None else np.full(DRAWS, charging_V), thresholds=THRESHOLDS,
    )  # fmt: skip


def results(outcome: EsdOutcome) -> dict[str, str]:
    return {one.requirement.key: one.requirement.result for one in outcome.judged}


def test_a_dissipative_grounded_rack_meets_everything() -> None:
    outcome = judge(GOOD)
    assert results(outcome) == {
        "rack resistance low": "meets", "rack resistance high": "meets", "rack to ground": "meets",
        "charge decay": "meets",
    }  # fmt: skip
    assert outcome.margin_decades is not None
    # To ground is the weakest link: 1e9 over 1e7 is two decades, point to point has three and more.
    np.testing.assert_allclose(outcome.margin_decades, 2.0)
    said = [one.requirement for one in outcome.judged]
    assert [(one.title, one.stage, one.direction, one.dimension) for one in said] == [
        ("Rack not too conductive", "esd", "at least", "resistance"),
        ("Rack not insulating", "esd", "at most", "resistance"), ("Rack to ground", "esd", "at most", "resistance"),
        ("Charge decay", "esd", "at most", "time"),
    ]  # fmt: skip
    # Without figures of the board's own a charge on the rack's 30 pF falls to a tenth: R C ln 10.
    assert outcome.decay_time_s is not None
    np.testing.assert_allclose(outcome.decay_time_s, 1e7 * 30e-12 * np.log(10.0))


@pytest.mark.parametrize(
    ("rack", "missed"),
    [({**GOOD, "point_to_point": "5e3 ohm"}, "rack resistance low"),
     ({**GOOD, "point_to_point": "1e11 ohm"}, "rack resistance high"),
     ({**GOOD, "to_ground": "1e9 ohm"}, "rack to ground"),
     ({**GOOD, "to_ground": "1e12 ohm"}, "charge decay")],
)  # fmt: skip
def test_each_limit_of_the_standard_is_missed_by_itself(rack: dict[str, Any], missed: str) -> None:
    outcome = judge(rack)
    assert results(outcome)[missed] == "falls short"
    assert outcome.margin_decades is not None
    assert outcome.margin_decades.max() <= 0.0


def test_the_plants_own_limits_replace_the_standards() -> None:
    own = {"rack_resistance_min": "1e6 ohm", "rack_resistance_max": "1e8 ohm", "ground_resistance_max": "1e6 ohm"}
    assert results(judge(GOOD))["rack to ground"] == "meets"
    assert results(judge(GOOD, own=own))["rack to ground"] == "falls short"
    limits = esd_limits(Requirements.model_validate({"rack_resistance_min": "1e6 ohm"}), InputBook(DRAWS, 1))
    assert limits.own == {"rack_resistance_min"}
    assert limits.point_to_point_min_ohm[0] == 1e6
    assert limits.to_ground_max_ohm[0] < 1e9


def test_the_standards_limits_are_from_ten_kilohm_and_below_the_two_upper_ones() -> None:
    limits = esd_limits(Requirements.model_validate({}), InputBook(DRAWS, 1))
    np.testing.assert_array_equal(limits.point_to_point_min_ohm, 1e4)
    for found, bound in ((limits.point_to_point_max_ohm, 1e11), (limits.to_ground_max_ohm, 1e9)):
        assert np.all(found < bound)
        np.testing.assert_allclose(found, bound, rtol=1e-15)
    assert limits.own == frozenset()


def test_what_is_read_of_plant_and_board_is_noted_where_it_stands() -> None:
    book = InputBook(DRAWS, 1)
    own = {"rack_resistance_min": "1e6 ohm", "ground_resistance_max": "1e8 ohm"}
    judge(GOOD, own=own, book=book, withstand_voltage="250 V", capacitance="100 pF")
    assert {one.path: one.basis for one in book.inputs() if not one.path.startswith("candidates")} == {
        "plant.requirements.rack_resistance_min": "stated", "plant.requirements.ground_resistance_max": "stated",
        "board_types[control].withstand_voltage": "measured", "board_types[control].capacitance": "measured",
    }  # fmt: skip


def test_what_is_not_known_is_unknown_and_has_no_measure() -> None:
    outcome = judge({})
    assert results(outcome) == {"rack resistance": "unknown", "rack to ground": "unknown"}
    assert outcome.margin_decades is None
    assert outcome.decay_time_s is None
    # One resistance without the other has no measure either.
    assert judge({"point_to_point": "1e7 ohm"}).margin_decades is None
    assert judge({"to_ground": "1e7 ohm"}).margin_decades is None


def test_a_rack_has_margins_of_what_is_known_up_to_three_decades() -> None:
    rack = of_rack({"point_to_point": "3e7 ohm", "to_ground": "1e4 ohm"})
    np.testing.assert_allclose(rack.margins, 3.0)
    ungrounded = of_rack({"point_to_point": "3e7 ohm"})
    assert (ungrounded.decay_to_tenth_s, ungrounded.decay_judged, ungrounded.decay_margin) == (None, None, None)
    assert not ungrounded.complete
    # A charging voltage of nothing leaves nothing to judge a rack by.
    assert of_rack(GOOD, charging_V=0.0).judged == ()


def test_a_wide_range_gives_a_probability() -> None:
    outcome = judge({**GOOD, "to_ground": "1e7..1e11 ohm"})
    found = next(one.requirement for one in outcome.judged if one.requirement.key == "rack to ground")
    assert found.probability == pytest.approx(0.5)
    assert found.result == "unknown"


def test_decay_runs_down_to_what_the_most_sensitive_part_withstands() -> None:
    ground, capacitance = np.full(2, 1e11), np.full(2, 20e-12)
    volts = np.array([100.0, 2000.0])
    np.testing.assert_allclose(
        harmless_decay_s(ground, capacitance, volts, np.full(2, 1000.0)), [2.0 * np.log(10.0), 0.0]
    )
    np.testing.assert_allclose(harmless_decay_s(ground, capacitance, None, np.full(2, 500.0)), 2.0 * np.log(10.0))
    np.testing.assert_allclose(harmless_decay_s(ground, capacitance, volts, None), 2.0 * np.log(10.0))


def test_the_boards_own_capacitance_and_voltage_are_used_and_named() -> None:
    outcome = judge({**GOOD, "to_ground": "1e10 ohm"}, withstand_voltage="250 V", capacitance="100 pF")
    assert outcome.decay_time_s is not None
    np.testing.assert_allclose(outcome.decay_time_s, np.log(4.0))
    decay = next(one.requirement for one in outcome.judged if one.requirement.key == "charge decay")
    assert decay.sentence.text() == (
        "Control board, charged to 1 000 V, falls in 1.39 s to the 250 V that its most sensitive part withstands; "
        "2 s is allowed."
    )


def test_a_board_may_state_one_of_capacitance_and_voltage_alone() -> None:
    rack = {**GOOD, "to_ground": "1e8 ohm"}
    heavier, tougher = judge(rack, capacitance="90 pF"), judge(rack, withstand_voltage="250 V")
    for outcome, expected in ((heavier, 1e8 * 90e-12 * np.log(10.0)), (tougher, 1e8 * 30e-12 * np.log(4.0))):
        assert outcome.decay_time_s is not None
        np.testing.assert_allclose(outcome.decay_time_s, expected)
        assert len([one for one in outcome.judged if one.requirement.key == "charge decay"]) == 1


def test_a_part_below_the_standards_scope_asks_for_an_additional_measure_and_never_rules_out() -> None:
    assert results(judge(GOOD, withstand_voltage="50 V"))["esd additional measure"] == "unknown"
    helped = judge({**GOOD, "ioniser": True, "dosed_rinse": True}, withstand_voltage="50 V")
    assert results(helped)["esd additional measure"] == "meets"
    assert helped.aids == ("ioniser", "dosed rinse")
    text = helped.judged[-1].requirement.sentence.text()
    assert "withstands only 50 V, below the 100 V" in text
    assert "ioniser and dosed rinse" in text
    assert "esd additional measure" not in results(judge(GOOD, withstand_voltage="100 V"))
    # The likely value decides.
    assert results(judge(GOOD, withstand_voltage="50..90..150 V"))["esd additional measure"] == "unknown"


def test_doing_nothing_has_no_rack_to_judge() -> None:
    nothing = judge(GOOD, principle="none")
    assert (nothing.judged, nothing.aids, nothing.margin_decades) == ((), (), None)


@settings(deadline=None, max_examples=50)
@given(exponent=st.floats(5, 13), more=st.floats(0, 4))
def test_more_resistance_to_ground_is_never_better(exponent: float, more: float) -> None:
    low, high = (judge({**GOOD, "to_ground": {"likely": 10.0**value, "unit": "ohm"}}).margin_decades
                 for value in (exponent, exponent + more))  # fmt: skip
    assert low is not None
    assert high is not None
    assert np.all(high <= low + 1e-12)


def sentences(outcome: EsdOutcome) -> dict[str, str]:
    return {one.requirement.key: one.requirement.sentence.text(currency="EUR") for one in outcome.judged}


def test_every_finding_is_said_whole() -> None:
    said = sentences(judge({"point_to_point": "1e6 ohm", "to_ground": "1e7 ohm"}))
    assert said == {
        "rack resistance low":
            "The rack has 1 000 000 Ω from point to point (dissipative); at least 10 000 Ω keeps a discharge slow.",
        "rack resistance high":
            "The rack has 1 000 000 Ω from point to point (dissipative); at most 10¹¹ Ω lets charge flow off.",
        "rack to ground": "The rack has 10⁷ Ω to ground; at most 10⁹ Ω is allowed.",
        "charge decay": "A charge on Control board falls to a tenth in 6.91·10⁻⁴ s; 2 s is allowed.",
    }  # fmt: skip
    unknown = judge({})
    assert sentences(unknown) == {
        "rack resistance":
            "Rack, point to point: the resistance in Washer is not known. Ask the supplier or measure it.",
        "rack to ground": "Rack to ground: the resistance in Washer is not known. Ask the supplier or measure it.",
    }  # fmt: skip
    assert [one.requirement.title for one in unknown.judged] == ["Rack, point to point", "Rack to ground"]
    for one in (*judge(GOOD).judged, *unknown.judged):
        assert (one.requirement.machine_id, one.requirement.board_id, one.requirement.stage) == (
            "washer", "control", "esd",
        )  # fmt: skip


def test_without_a_charging_voltage_the_fall_to_a_tenth_is_judged() -> None:
    outcome = judge({**GOOD, "to_ground": "1e9 ohm"}, charging_V=None, withstand_voltage="250 V")
    assert outcome.decay_time_s is not None
    np.testing.assert_allclose(outcome.decay_time_s, 1e9 * 30e-12 * np.log(10.0))
    assert sentences(outcome)["charge decay"].startswith("A charge on Control board falls to a tenth in 0.0691 s;")


@pytest.mark.parametrize(
    ("rack", "own", "board", "charging", "sentence"),
    [
        (GOOD, {"rack_resistance_min": "0 ohm"}, {}, 1000.0,
         "plant.requirements.rack_resistance_min is 0 Ω. Give a value above 0, or leave it out for the limit of the "
         "standard."),
        (GOOD, {"rack_resistance_max": "0 ohm"}, {}, 1000.0,
         "plant.requirements.rack_resistance_max is 0 Ω. Give a value above 0, or leave it out for the limit of the "
         "standard."),
        (GOOD, {"ground_resistance_max": "0 ohm"}, {}, 1000.0,
         "plant.requirements.ground_resistance_max is 0 Ω. Give a value above 0, or leave it out for the limit of the "
         "standard."),
        (GOOD, {}, {"withstand_voltage": "0 V"}, 1000.0,
         "The withstand voltage of Control board is 0 V. Give a value above 0, or leave it out."),
        (GOOD, {}, {}, 0.0, "The constant charging_voltage is 0 V. Give a value above 0."),
        (GOOD, {}, {"withstand_voltage": "0 V"}, 0.0,
         "The withstand voltage of Control board is 0 V. Give a value above 0, or leave it out. "
         "The constant charging_voltage is 0 V. Give a value above 0."),
    ],
)  # fmt: skip
def test_a_limit_of_nothing_is_said_and_judges_no_more(
    rack: dict[str, Any], own: dict[str, Any], board: dict[str, Any], charging: float, sentence: str
) -> None:
    outcome = judge(rack, own=own, charging_V=charging, **board)
    assert sentences(outcome) == {"esd inputs": sentence}
    only = outcome.judged[0].requirement
    assert (only.title, only.stage, only.result) == ("ESD inputs suffice", "esd", "unknown")
    assert (outcome.decay_time_s, outcome.margin_decades, outcome.aids) == (None, None, ())


def test_no_time_to_decay_in_is_said_and_anything_above_nothing_is_judged() -> None:
    assert sentences(judge(GOOD, max_decay_s=0.0)) == {
        "esd inputs": "The constant max_decay_time is 0 s. Give a value above 0."
    }
    small = judge(GOOD, own={"rack_resistance_min": "0.5 ohm", "ground_resistance_max": "0.5 ohm"}, max_decay_s=0.5,
                  charging_V=0.5, withstand_voltage="0.5 V")  # fmt: skip
    assert results(small) == {
        "rack resistance low": "meets", "rack resistance high": "meets", "rack to ground": "falls short",
        "charge decay": "meets", "esd additional measure": "unknown",
    }  # fmt: skip


def test_holders_bring_a_conductive_rack_into_range_for_their_price() -> None:
    bare = {"point_to_point": "100 ohm", "to_ground": "1e6 ohm"}
    outcome = judge({**bare, "dissipative_holders_price": "900 EUR"})
    assert sentences(outcome)["rack resistance low"] == (
        "The bare rack has 100 Ω (conductive); dissipative board holders for 900 EUR bring it into range and are "
        "priced in."
    )
    assert results(outcome)["rack resistance low"] == "meets"
    assert [one.requirement.key for one in outcome.judged] == [
        "rack resistance low", "rack resistance high", "rack to ground", "charge decay",
    ]  # fmt: skip
    first = outcome.judged[0].requirement
    assert (first.title, first.stage) == ("Rack not too conductive", "esd")
    assert outcome.upgrade_price is not None
    np.testing.assert_allclose(outcome.upgrade_price, 900.0)
    # Inside the range by nobody knows how much: no margin, where the bare rack has two decades too few.
    assert outcome.margin_decades is not None
    np.testing.assert_allclose(outcome.margin_decades, 0.0)
    without = judge(bare)
    assert without.upgrade_price is None
    assert results(without)["rack resistance low"] == "falls short"
    assert without.margin_decades is not None
    np.testing.assert_allclose(without.margin_decades, -2.0)
    fine = judge({**GOOD, "dissipative_holders_price": "900 EUR"})
    assert fine.upgrade_price is None
    # Of a rack that varies a middle draw is said.
    wide = {"point_to_point": "100..200..300 ohm", "to_ground": "1e6 ohm", "dissipative_holders_price": "900 EUR"}
    assert sentences(judge(wide))["rack resistance low"].startswith("The bare rack has 200 Ω (conductive);")


def test_an_additional_measure_is_asked_for_or_named_whole() -> None:
    opening = "Control board has a part that withstands only 50 V, below the 100 V that ANSI/ESD S20.20 covers. "
    asked = sentences(judge(GOOD, withstand_voltage="50 V"))["esd additional measure"]
    assert asked == (
        f"{opening}Agree with your ESD officer on an additional measure, such as an ioniser or a dosed rinse."
    )
    helped = judge({**GOOD, "dosed_rinse": True}, withstand_voltage="50 V")
    assert sentences(helped)["esd additional measure"] == (
        f"{opening}The machine has dosed rinse: agree with your ESD officer that it is enough."
    )
    assert (helped.judged[-1].requirement.title, helped.judged[-1].requirement.stage) == (
        "Additional ESD measure", "esd",
    )  # fmt: skip


@pytest.mark.parametrize(("cap", "expected"), [(3.0, 3.0), (1.0, 1.0)])
def test_margins_end_at_the_cap(cap: float, expected: float) -> None:
    rack = {"point_to_point": "3e7 ohm", "to_ground": "1e4 ohm"}
    assert judge(rack).margin_decades == pytest.approx(3.0)
    outcome = esd_requirements(
        MachineInputs(machine(rack=rack), InputBook(DRAWS, 1)), board(),
        Requirements.model_validate({}), rack_capacitance_F=np.full(DRAWS, 30e-12), max_decay_s=np.full(DRAWS, 2.0),
        charging_V=None, thresholds=THRESHOLDS, cap_decades=cap,
    )  # fmt: skip
    assert outcome.margin_decades is not None
    np.testing.assert_allclose(outcome.margin_decades, expected)
