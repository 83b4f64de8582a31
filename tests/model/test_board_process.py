"""Board types through one machine: which musts they get in which order, what ends an attempt, which fluid is chosen."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from catalog_schema.case import Case
from model.board_process import _best_fluid
from model.evaluate import Evaluation, evaluate
from model.outcomes import BoardOutcome, FluidOutcome
from model.phrase import phrase
from model.requirements import Judged, Requirement, Subject, Thresholds, joint, judge_fact, judge_share
from tests.model.by_hand import column

SPRAY, BELT, BATH, DENSE = "offer-a-batch-spray", "offer-b-inline", "offer-c-ultrasonic", "dense-controller"
DRAWS = 9
THRESHOLDS = Thresholds(meets_from=0.9, misses_to=0.1)
BEFORE_RINSE = ["fit", "temperature", "dissolve", "enter", "clear", "wetted materials"]


def run(case: Case, small_case: Any, machine: str, stated: Any = None, board: Any = None, plant: Any = None,
        boards: tuple[str, ...] = (DENSE,)) -> Evaluation:  # fmt: skip
    return evaluate(small_case(case, (machine,), boards, stated, board, plant), draws=DRAWS, rays=2048)


def only(evaluation: Evaluation) -> BoardOutcome:
    return evaluation.machines[0].boards[0]


def keys(outcome: FluidOutcome) -> list[str]:
    return [one.requirement.key for one in outcome.judged]


def must(outcome: FluidOutcome, key: str) -> Requirement:
    (found,) = [one.requirement for one in outcome.judged if one.requirement.key == key]
    return found


# ---- From fit to harm ------------------------------------------------------------------------------------------------


def test_a_fluid_goes_through_every_stage_and_one_that_dissolves_nothing_through_those_it_reaches(
    demo_case: Case, small_case: Any
) -> None:
    stated = {"wash.fluids": ["di-water", "saponified-water"], "wash.temperature": "70 degC",
              "dry.air_temperature": "90 degC"}  # fmt: skip
    evaluation = run(demo_case, small_case, SPRAY, stated)
    board = only(evaluation)
    water, soap = board.fluids
    assert (board.board_id, water.fluid_id, soap.fluid_id) == (DENSE, "di-water", "saponified-water")
    assert board.chosen is soap
    assert board.fit is not None
    assert board.fit.boards_per_load == 220
    assert keys(soap) == [*BEFORE_RINSE, "residue", "resistivity", "dry", "board parts", "board temperature"]
    assert keys(water) == ["fit", "temperature", "dissolve", "wetted materials", "board parts", "board temperature"]
    heats = [must(one, "board temperature").sentence.text() for one in (water, soap)]
    assert "gets up to 70 °C in the wash" in heats[0]
    assert "gets up to 90 °C in drying" in heats[1]
    for one in (water, soap):
        assert must(one, "board temperature").fluid_id == one.fluid_id
        assert one.wash is not None
        assert one.materials is not None
        assert one.harm is not None
        assert must(one, "board parts") == one.harm.judged.requirement
        stood = one.materials.judged_with_upgrade or one.materials.judged
        assert must(one, "wetted materials") == stood.requirement
        result, probability, met = joint(one.judged, DRAWS, THRESHOLDS)
        assert (one.result, one.probability) == (result, probability)
        np.testing.assert_array_equal(one.met, met)
    assert (water.rinse, water.dry, water.cycle, water.running_cost_per_board) == (None,) * 4
    assert soap.rinse is not None
    assert soap.dry is not None
    assert soap.cycle is not None


def test_a_machine_that_keeps_every_limit_meets(through_hole_case: Case, small_case: Any) -> None:
    case = small_case(through_hole_case, ("batch-diffused-spray",), ("relay-driver",))
    board = only(evaluate(case, draws=DRAWS, rays=2048))
    meeting = [one for one in board.fluids if one.result == "meets"]
    assert len(meeting) > 1
    assert board.chosen in meeting
    costs = {one.fluid_id: float(np.median(one.running_cost_per_board)) for one in meeting}
    assert costs[board.chosen.fluid_id] == min(costs.values())
    for one in meeting:
        assert {found.requirement.result for found in one.judged} == {"meets"}


@pytest.mark.parametrize(("wash", "air", "hot"), [("45", "90", True), ("70", "50", True), ("45", "50", False)])
def test_parts_of_the_board_meet_the_heat_of_wash_and_drying_and_the_fluid(
    demo_case: Case, small_case: Any, wash: str, air: str, hot: bool
) -> None:
    stated = {"wash.fluids": ["saponified-water", "di-water"], "wash.temperature": f"{wash} degC",
              "dry.air_temperature": f"{air} degC"}  # fmt: skip
    # The library has batteries spoiled above 60 °C and paper labels that alkali may loosen.
    board = only(run(demo_case, small_case, SPRAY, stated, {"parts": ["battery", "paper-label"]}))
    soap, water = board.fluids
    assert soap.harm is not None
    assert water.harm is not None
    found = {(one.part_id, one.agent) for one in soap.harm.findings}
    assert (("battery", "temperature") in found) is hot
    assert ("paper-label", "alkaline") in found
    # Plain water dissolves nothing and is not dried.
    found = {(one.part_id, one.agent) for one in water.harm.findings}
    assert (("battery", "temperature") in found) is (wash == "70")
    assert ("paper-label", "alkaline") not in found
    assert must(soap, "board parts").fluid_id == "saponified-water"


@pytest.mark.parametrize(
    ("feed", "loop", "tariff"),
    [("10 Mohm*cm", False, "deionised_water"), (None, False, "water"), ("10 Mohm*cm", True, "deionised_water")],
)
def test_a_board_costs_the_fluid_it_carries_out_its_rinse_water_and_its_resin(
    demo_case: Case, small_case: Any, change: Any, feed: str | None, loop: bool, tariff: str
) -> None:
    case = small_case(demo_case, ("batch-diffused-spray",), (DENSE,))
    own = next(one for one in run(demo_case, small_case, "batch-diffused-spray").library.machine_classes
               if one.id == "batch-diffused-spray")  # fmt: skip
    own = change(own, {"wash.fluids": ["saponified-water"], "rinse.feed_resistivity": feed, "rinse.closed_loop": loop})
    evaluation = evaluate(case.model_copy(update={"machine_classes": (own,)}), draws=DRAWS, rays=2048)
    outcome = only(evaluation).chosen
    rinse = outcome.rinse
    assert rinse is not None
    of = {name: column(evaluation, f"plant.tariffs.{name}") for name in (tariff, "drain", "resin")}
    assert outcome.running_cost_per_board is not None
    assert np.all(rinse.water_m3 > 0.0)
    assert np.all(rinse.resin_m3 > 0.0) == loop
    np.testing.assert_allclose(
        outcome.running_cost_per_board,
        rinse.drag_out_m3 * column(evaluation, "fluids[saponified-water].bath_price")
        + rinse.water_m3 * (of[tariff] + of["drain"]) + rinse.resin_m3 * of["resin"],
        rtol=1e-12,
    )  # fmt: skip


def test_parts_are_judged_at_the_temperature_of_each_board_types_own_wash(
    demo_case: Case, small_case: Any, change: Any
) -> None:
    stated = {"wash.fluids": ["neutral-water", "saponified-water"], "wash.temperature": "60 degC"}
    case = small_case(demo_case, (SPRAY,), (DENSE, "power-supply"), stated)
    cooler = change(case.board_types[0], {"max_temperature": "52 degC"})
    case = case.model_copy(update={"board_types": (cooler, *case.board_types[1:])})
    evaluation = evaluate(case, draws=DRAWS, rays=2048)
    names = {fluid.id: fluid.name for fluid in evaluation.library.fluids}
    for board, warm in zip(case.board_types, ("52 °C", "60 °C"), strict=True):
        for outcome in evaluation.machines[0].board(board.id).fluids:
            assert outcome.materials is not None
            said = outcome.materials.judged.requirement.sentence.text()
            assert f"{names[outcome.fluid_id]} at {warm}" in said


def test_the_rack_is_judged_with_the_constants_and_the_parts_of_each_board(demo_case: Case, small_case: Any) -> None:
    rack = {"rack.point_to_point": "1e7 ohm", "rack.to_ground": "1e8 ohm"}
    evaluation = run(demo_case, small_case, SPRAY, rack, {"withstand_voltage": "100 V", "capacitance": None})
    esd = only(evaluation).esd
    assert esd is not None
    assert esd.decay_time_s is not None
    volts = np.maximum(1.0, column(evaluation, "constants.charging_voltage") / 100.0)
    np.testing.assert_allclose(
        esd.decay_time_s, 1e8 * column(evaluation, "constants.rack_capacitance") * np.log(volts), rtol=1e-12
    )
    decay = next(one.requirement for one in esd.judged if one.requirement.key == "charge decay")
    assert decay.limit == pytest.approx(float(np.median(column(evaluation, "constants.max_decay_time"))))
    assert (decay.machine_id, decay.board_id) == (SPRAY, DENSE)


# ---- What ends an attempt --------------------------------------------------------------------------------------------


def test_a_machine_without_a_fluid_is_asked_for_one(demo_case: Case, small_case: Any) -> None:
    board = only(run(demo_case, small_case, SPRAY, {"wash.fluids": []}))
    assert keys(board.chosen) == ["fit", "inputs"]
    found = must(board.chosen, "inputs")
    assert found.sentence.text() == "Offer A: batch spray washer: wash: fluids is not known. Ask the supplier."
    assert (found.machine_id, found.board_id, found.fluid_id) == (SPRAY, DENSE, "")
    assert board.fluids == (board.chosen,)
    assert board.chosen.fluid_id == ""
    assert board.fit is not None
    assert board.esd is not None


def test_a_belt_of_unknown_width_is_asked_for_it(demo_case: Case, small_case: Any, change: Any) -> None:
    evaluation = run(demo_case, small_case, "inline-spray")
    own = next(one for one in evaluation.library.machine_classes if one.id == "inline-spray")
    case = small_case(demo_case, ("inline-spray",), (DENSE,))
    bare = case.model_copy(update={"machine_classes": (change(own, {"chamber.belt_width": None}),)})
    board = only(evaluate(bare, draws=DRAWS, rays=2048))
    assert keys(board.chosen) == ["inputs"]
    found = must(board.chosen, "inputs")
    assert "belt width" in found.sentence.text()
    assert (found.board_id, found.fluid_id, found.result) == (DENSE, "", "unknown")
    assert board.fit is None
    assert board.esd is not None


def test_a_board_that_does_not_fit_is_washed_with_nothing(demo_case: Case, small_case: Any) -> None:
    board = only(run(demo_case, small_case, SPRAY, None, {"length": "900 mm"}))
    assert keys(board.chosen) == ["fit"]
    assert board.fit is not None
    assert board.fit.boards_per_load == 0
    assert board.esd is not None
    assert (board.chosen.result, board.chosen.wash) == ("falls short", None)


@pytest.mark.parametrize(
    ("machine", "stated", "weightless", "reached", "problem"),
    [(BELT, {"chamber.wash_zone_length": "1 mm"}, False, ["fit"], "shorter than the board pitch"),
     (SPRAY, {"rinse.volume_per_rinse": "0 L"}, False, BEFORE_RINSE, "rinse volume: 0 m³ is not allowed"),
     (SPRAY, {}, True, [*BEFORE_RINSE, "residue", "resistivity"], "heat capacity of the load: 0 J/K")],
    ids=["wash", "rinse", "dry"],
)  # fmt: skip
def test_an_input_without_sense_ends_the_attempt_where_it_is_needed(
    demo_case: Case, small_case: Any, machine: str, stated: Any, weightless: bool, reached: list[str], problem: str
) -> None:
    stated = {"wash.fluids": ["saponified-water"]} | stated
    thick = next(one.thickness for one in demo_case.board_types if one.id == DENSE)
    nothing = thick.model_copy(update={"low": 0.0, "likely": 0.0, "high": 0.0})
    board = {"thickness": nothing} if weightless else {}
    outcome = only(run(demo_case, small_case, machine, stated, board)).chosen
    assert keys(outcome) == [*reached, "inputs"]
    ended = must(outcome, "inputs")
    assert (ended.machine_id, ended.board_id, ended.fluid_id) == (machine, DENSE, "saponified-water")
    assert ended.result == "unknown"
    assert problem in ended.sentence.text()
    assert (outcome.wash is not None, outcome.materials is not None) == ("clear" in reached, "clear" in reached)
    assert (outcome.rinse is not None) is ("residue" in reached)
    assert (outcome.dry, outcome.cycle, outcome.harm, outcome.running_cost_per_board) == (None,) * 4


# ---- No machine of one's own -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("allowed", "flux", "result", "sentence"),
    [("true", "ROL0", "meets", "{board} may stay uncleaned: its product class allows it and {flux} is made to stay."),
     ("true", "ORM0", "falls short", "{flux} must not stay on a board: its residue is active."),
     ("false", "ROL0", "falls short", "The product class of {board} does not allow leaving residue."),
     ("false", "ORM0", "falls short", "The product class of {board} does not allow leaving residue.")],
)  # fmt: skip
def test_residue_may_stay_where_board_and_flux_both_allow_it(
    demo_case: Case, small_case: Any, allowed: str, flux: str, result: str, sentence: str
) -> None:
    evaluation = run(demo_case, small_case, "uncleaned", None, {"uncleaned_allowed": allowed, "flux": flux})
    board = only(evaluation)
    name = next(one.name for one in evaluation.library.flux_kinds if one.id == flux)
    (one,) = board.chosen.judged
    found = one.requirement
    assert found.sentence.text() == sentence.format(board="Dense controller, lead-free, with QFN", flux=name)
    assert (found.key, found.title, found.stage, found.result) == ("uncleaned", "May stay uncleaned", "wash", result)
    assert (found.machine_id, found.board_id, found.fluid_id) == ("uncleaned", DENSE, "")
    assert (board.board_id, board.fit, board.esd) == (DENSE, None, None)
    assert (board.chosen.result, board.chosen.fluid_id) == (result, "")
    assert board.chosen.probability == (1.0 if result == "meets" else 0.0)
    # No rack, so none of its limits was read.
    assert not [one.path for one in evaluation.machines[0].inputs if "resistance" in one.path]
    assert board.chosen.met.tolist() == [result == "meets"] * DRAWS


def test_a_service_has_to_show_its_cleaning_by_a_trial(demo_case: Case, small_case: Any) -> None:
    board = only(run(demo_case, small_case, "contract-service"))
    assert keys(board.chosen) == ["evidence", "board parts"]
    found = must(board.chosen, "evidence")
    assert found.sentence.text() == (
        "Contract cleaning service uses a machine of its own choice: ask for trial boards of "
        "Dense controller, lead-free, with QFN, parts lifted."
    )
    assert (found.title, found.stage, found.result) == ("Cleaning shown by trial", "wash", "unknown")
    assert (found.machine_id, found.board_id) == ("contract-service", DENSE)
    assert board.esd is not None
    assert (board.board_id, board.fit, board.chosen.result) == (DENSE, None, "unknown")


# ---- The best fluid --------------------------------------------------------------------------------------------------


def tried(fluid_id: str, shares: tuple[float | None, ...], cost: list[float] | None = None,
          rinsed: Any = None) -> FluidOutcome:  # fmt: skip
    """Give a fluid that meets each must in a share of ten draws, None where nobody knows; the draws overlap."""
    subject, sentence = Subject(machine_id="m"), phrase("Found.")
    judged: list[Judged] = []
    for share in shares:
        if share is None:
            judged.append(judge_fact(subject, "key", "T", "wash", holds=None, draws=10, sentence=sentence))
        else:
            met = np.arange(10) < round(10 * share)
            judged.append(judge_share(subject, "key", "T", "wash", met=met, thresholds=THRESHOLDS, sentence=sentence))
    result, probability, together = joint(tuple(judged), 10, THRESHOLDS)
    return FluidOutcome(
        fluid_id=fluid_id, judged=tuple(judged), result=result, probability=probability, met=together, rinse=rinsed,
        running_cost_per_board=None if cost is None else np.array(cost),
    )  # fmt: skip


RINSED = object()
MEETS, UNKNOWN = (1.0, 1.0), (1.0, 0.5)


@pytest.mark.parametrize(
    ("best", "other"),
    [
        # Of those that meet all musts the cheapest in the middle draw, then the first by name.
        (tried("b", MEETS, [1.0, 2.0, 3.0]), tried("a", MEETS, [0.0, 4.0, 4.0])),
        (tried("a", MEETS, [1.0, 2.0, 3.0]), tried("b", MEETS, [1.0, 2.0, 3.0])),
        (tried("b", MEETS, None), tried("a", MEETS, [0.5])),
        (tried("b", MEETS, [9.0]), tried("a", UNKNOWN, [1.0], RINSED)),
        # Else the nearest: unknown before missed, then one that gets as far as the rinse, then the likeliest.
        (tried("a", UNKNOWN), tried("b", (1.0, 0.0), None, RINSED)),
        (tried("a", (None, 0.9), None, RINSED), tried("b", (None, 1.0))),
        (tried("a", (0.0, 0.0), None, RINSED), tried("b", (0.0, 1.0))),
        (tried("a", (0.8, 1.0), None, RINSED), tried("b", (0.7, 1.0), None, RINSED)),
        # Equally unlikely together: the one that misses less, added up; what nobody knows counts as no miss.
        (tried("a", (0.0, 0.9), None, RINSED), tried("b", (0.0, 0.3), None, RINSED)),
        (tried("a", (0.0, None), None, RINSED), tried("b", (0.0, 0.9), None, RINSED)),
        (tried("a", (0.0, 1.0, 1.0), None, RINSED), tried("b", (0.0, 0.9), None, RINSED)),
        (tried("b", (0.0, 0.5)), tried("a", (0.0, 0.5))),
    ],
)
def test_the_best_fluid(best: FluidOutcome, other: FluidOutcome) -> None:
    assert _best_fluid([best, other]) is best
    assert _best_fluid([other, best]) is best
