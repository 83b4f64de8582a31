"""Rinse, drying, materials, harm and contradictory inputs at the level of the whole road."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog_schema.case import Case
from catalog_schema.library import library_for
from model.context import Context
from model.dry_course import WetBoards, dry_boards, drying_liquid, hot_air, wet_load
from model.drying import dry_outcome
from model.evaluate import Evaluation, evaluate
from model.machine_inputs import MachineInputs
from model.outcomes import FluidOutcome, MachineOutcome
from model.passive_drying import StandingChamber, passive_dry_outcome
from model.requirements import Requirement, Thresholds
from model.uncertainty import InputBook

SPRAY_OFFER, INLINE_OFFER, DENSE = "offer-a-batch-spray", "offer-b-inline", "dense-controller"
DRAWS = 64


def small_evaluation(case: Case, draws: int = DRAWS) -> Evaluation:
    return evaluate(case, draws=draws, rays=8192)


def context_of(evaluation: Evaluation, machine: str) -> Context:
    """Rebuild what the stages of one machine read, to follow its liquids step by step."""
    book = InputBook(evaluation.draws, evaluation.seed,
                     {code: rate.si()[1] for code, rate in evaluation.case.plant.exchange_rates.items()})  # fmt: skip
    return Context(
        case=evaluation.case, library=evaluation.library,
        inputs=MachineInputs(evaluation.machine(machine).machine, book),
        thresholds=Thresholds(meets_from=0.9, misses_to=0.1), trace_of=evaluation.traces.__getitem__, fields={},
        materials={},
    )  # fmt: skip


def outcome_of(evaluation: Evaluation, machine: str, board: str, fluid: str | None = None) -> FluidOutcome:
    found = evaluation.machine(machine).board(board)
    return next((one for one in found.fluids if one.fluid_id == fluid), found.chosen)


def requirement(outcome: FluidOutcome, key: str) -> Requirement:
    return next(one.requirement for one in outcome.judged if one.requirement.key == key)


# ---- What comes in goes out or stays ---------------------------------------------------------------------------------


@pytest.mark.parametrize("machine", [SPRAY_OFFER, INLINE_OFFER, "offer-c-ultrasonic", "household-dishwasher"])
def test_residue_in_is_residue_out_plus_residue_left(demo_evaluation: Evaluation, machine: str) -> None:
    checked = 0
    for board in demo_evaluation.machine(machine).boards:
        for outcome in board.fluids:
            if outcome.rinse is None or outcome.rinse.result is None:
                continue
            balance = outcome.rinse.result
            out_and_left = np.asarray(balance.residue_out_kg) + np.asarray(balance.residue_left_kg)
            np.testing.assert_allclose(out_and_left, balance.residue_in_kg, rtol=1e-9)
            assert np.all(np.asarray(balance.residue_in_kg) > 0.0)
            np.testing.assert_allclose(balance.drain_m3, balance.water_m3, rtol=1e-9)
            np.testing.assert_allclose(
                outcome.rinse.residue_left_kg_m2, np.asarray(balance.residue_left_kg_m2), rtol=1e-12
            )
            checked += 1
    assert checked >= 5


@pytest.mark.parametrize("minutes", [0.5, 5.0, 60.0])
@pytest.mark.parametrize("machine", [SPRAY_OFFER, "offer-c-ultrasonic", "household-dishwasher"])
def test_water_in_is_water_drained_plus_evaporated_plus_left(
    demo_evaluation: Evaluation, machine: str, minutes: float
) -> None:
    """The load that the road hands to the dryer, followed for a time."""
    context = context_of(demo_evaluation, machine)
    outcome = outcome_of(demo_evaluation, machine, DENSE)
    board = next(one for one in context.case.board_types if one.id == DENSE)
    fluid = next(one for one in context.library.fluids if one.id == outcome.fluid_id)
    assert outcome.rinse is not None
    assert outcome.dry is not None
    wet = [WetBoards(board=board, fluid=fluid, rinse=outcome.rinse, boards=np.full(context.draws, 12.0))]
    load = wet_load(context, wet, blow_off=False)
    liquid = drying_liquid(context, fluid)
    time = np.full(context.draws, 60.0 * minutes)
    if context.inputs.word("dry.kind") == "passive":
        chamber = StandingChamber(
            wall_temperature_K=context.from_plant("air_temperature"), saturation_share=np.ones(context.draws),
            heat_transfer_W_m2_K=context.constant("natural_convection"),
            pressure_Pa=context.from_plant("air_pressure"),
        )  # fmt: skip
        water = passive_dry_outcome(load, chamber, liquid, time)
    else:
        water = dry_outcome(load, hot_air(context, wet, liquid, outcome.dry.air_temperature_K), liquid, time)
    found = sum(np.asarray(part) for part in (water.drained_kg, water.evaporated_kg, water.surface_left_kg,
                                              water.gap_left_kg))  # fmt: skip
    np.testing.assert_allclose(found, water.water_in_kg, rtol=1e-9)
    assert np.all(np.asarray(water.water_in_kg) > 0.0)
    film_and_gaps_m3 = np.asarray(load.wet_area_m2) * np.asarray(load.film_drained_m) + np.asarray(load.gap_volume_m3)
    np.testing.assert_allclose(
        np.asarray(water.water_in_kg) - np.asarray(water.drained_kg),
        film_and_gaps_m3 * liquid.liquid_density_kg_m3, rtol=1e-9,
    )  # fmt: skip


# ---- Drying ----------------------------------------------------------------------------------------------------------


def test_a_dishwasher_leaves_water_under_a_qfn_that_forced_hot_air_dries_in_tens_of_minutes(
    demo_evaluation: Evaluation,
) -> None:
    standing = outcome_of(demo_evaluation, "household-dishwasher", DENSE)
    forced = outcome_of(demo_evaluation, SPRAY_OFFER, DENSE)
    assert standing.dry is not None
    assert forced.dry is not None
    assert "qfn" in standing.dry.slowest.id
    assert "qfn" in forced.dry.slowest.id
    assert float(np.mean(np.isinf(standing.dry.needed_time_s))) > 0.95
    left_wet = requirement(standing, "dry")
    assert left_wet.result == "falls short"
    assert "Water stays under QFN" in left_wet.sentence.text()
    assert 10 * 60 < float(np.median(forced.dry.needed_time_s)) < 60 * 60
    assert requirement(forced, "dry").result == "meets"


@pytest.mark.parametrize("machine", [SPRAY_OFFER, "offer-c-ultrasonic", "household-dishwasher", "vacuum-solvent"])
def test_board_types_dry_together_as_each_does_alone(demo_evaluation: Evaluation, machine: str) -> None:
    context = context_of(demo_evaluation, machine)
    fluids = {fluid.id: fluid for fluid in context.library.fluids}
    wet = {}
    for number, board in enumerate(context.case.board_types, start=1):
        chosen = demo_evaluation.machine(machine).board(board.id).chosen
        if chosen.rinse is not None:
            together = np.full(context.draws, 3.0 * number)
            load = WetBoards(board=board, fluid=fluids[chosen.fluid_id], rinse=chosen.rinse, boards=together)
            wet[load.key] = load
    assert len(wet) > 1
    together_dried = dry_boards(context, wet)
    for key, load in wet.items():
        alone = dry_boards(context, {key: load})[key]
        np.testing.assert_array_equal(together_dried[key].needed_time_s, alone.needed_time_s)
        assert together_dried[key].limited_by == alone.limited_by


@pytest.mark.parametrize("machine", [SPRAY_OFFER, INLINE_OFFER, "offer-c-ultrasonic", "offer-d-vacuum-solvent"])
def test_board_types_fare_together_as_each_does_alone(demo_case: Case, small_case: Any, machine: str) -> None:
    """Wash, rinse and drying of all board types are computed in rows: no row may look at another."""
    ids = tuple(board.id for board in demo_case.board_types)
    together = small_evaluation(small_case(demo_case, (machine,), ids), 32)
    compared = 0
    for board_id in ids:
        alone = small_evaluation(small_case(demo_case, (machine,), (board_id,)), 32).machine(machine).board(board_id)
        board = together.machine(machine).board(board_id)
        assert board.chosen.fluid_id == alone.chosen.fluid_id
        for mine, its in zip(board.fluids, alone.fluids, strict=True):
            np.testing.assert_array_equal(mine.met, its.met)
            assert [one.requirement for one in mine.judged] == [one.requirement for one in its.judged]
            if mine.dry is None or its.dry is None or mine.wash is None or its.wash is None:
                continue
            compared += 1
            assert mine.wash.outcome is not None
            assert its.wash.outcome is not None
            assert mine.rinse is not None
            assert its.rinse is not None
            for found, expected in (
                (mine.wash.outcome.needed_time_s, its.wash.outcome.needed_time_s),
                (mine.wash.reach_ratio, its.wash.reach_ratio), (mine.rinse.rinses, its.rinse.rinses),
                (mine.rinse.residue_left_kg_m2, its.rinse.residue_left_kg_m2),
                (mine.rinse.water_m3, its.rinse.water_m3), (mine.rinse.drag_out_m3, its.rinse.drag_out_m3),
                (mine.dry.needed_time_s, its.dry.needed_time_s),
            ):  # fmt: skip
                np.testing.assert_array_equal(found, expected)
    assert compared >= len(ids)


def test_a_flux_without_sense_ends_the_wash_of_its_own_boards_only(demo_case: Case, small_case: Any) -> None:
    """A residue of no thickness is said for the board types that carry it; others are washed as before."""
    case = small_case(demo_case, (SPRAY_OFFER,), (DENSE, "power-supply"))
    dense, other = case.board_types
    assert dense.flux != other.flux
    library = library_for(case)
    of_nothing = tuple(
        flux.model_copy(update={"residue_thickness": flux.residue_thickness.model_copy(
            update={"low": 0.0, "likely": 0.0, "high": 0.0})}) if flux.id == dense.flux else flux
        for flux in library.flux_kinds
    )  # fmt: skip
    broken = library.model_copy(update={"flux_kinds": of_nothing})
    before = small_evaluation(case)
    after = evaluate(case, draws=DRAWS, rays=8192, library=broken)
    assert outcome_of(after, SPRAY_OFFER, dense.id).wash is None
    assert "residue thickness" in requirement(outcome_of(after, SPRAY_OFFER, dense.id), "inputs").sentence.text()
    mine, whole = outcome_of(after, SPRAY_OFFER, other.id), outcome_of(before, SPRAY_OFFER, other.id)
    assert mine.wash is not None
    assert mine.wash.outcome is not None
    assert whole.wash is not None
    assert whole.wash.outcome is not None
    np.testing.assert_array_equal(mine.wash.outcome.needed_time_s, whole.wash.outcome.needed_time_s)
    assert mine.result == whole.result


def test_a_board_type_without_sense_ends_its_own_drying_only(demo_case: Case, small_case: Any) -> None:
    """A board of no mass has no heat to dry by: it is said for that board type; another one dries as before."""
    case = small_case(demo_case, ("offer-a-batch-spray",), (DENSE, "power-supply"))
    weightless = case.board_types[0].thickness.model_copy(update={"low": 0.0, "likely": 0.0, "high": 0.0})
    broken = case.model_copy(
        update={"board_types": (case.board_types[0].model_copy(update={"thickness": weightless}), case.board_types[1])}
    )
    before, after = small_evaluation(case), small_evaluation(broken)
    assert outcome_of(after, "offer-a-batch-spray", case.board_types[0].id).dry is None
    said = requirement(outcome_of(after, "offer-a-batch-spray", case.board_types[0].id), "inputs")
    assert "heat capacity" in said.sentence.text()
    mine = outcome_of(after, "offer-a-batch-spray", case.board_types[1].id).dry
    whole = outcome_of(before, "offer-a-batch-spray", case.board_types[1].id).dry
    assert mine is not None
    assert whole is not None
    np.testing.assert_array_equal(mine.needed_time_s, whole.needed_time_s)


def test_a_short_blow_off_on_a_belt_dries_the_surface_and_not_the_gap(demo_case: Case, small_case: Any) -> None:
    """One minute of blow-off: next to nothing is left of the film, most of the water under the QFN is still there."""
    evaluation = small_evaluation(small_case(demo_case, (INLINE_OFFER,), (DENSE,)))
    outcome = outcome_of(evaluation, INLINE_OFFER, DENSE)
    context = context_of(evaluation, INLINE_OFFER)
    board = context.case.board_types[0]
    fluid = next(one for one in context.library.fluids if one.id == outcome.fluid_id)
    assert outcome.rinse is not None
    assert outcome.dry is not None
    wet = [WetBoards(board=board, fluid=fluid, rinse=outcome.rinse, boards=np.ones(context.draws))]
    load = wet_load(context, wet, blow_off=True)
    liquid = drying_liquid(context, fluid)
    # Air at room temperature, without the heated zone: the blow-off alone.
    dryer = hot_air(context, wet, liquid, context.from_plant("air_temperature"))
    after = dry_outcome(load, dryer, liquid, np.full(context.draws, 60.0))
    film_in = np.asarray(outcome.rinse.film_m) * np.asarray(load.wet_area_m2) * liquid.liquid_density_kg_m3
    assert float(np.median(np.asarray(after.surface_left_kg) / film_in)) < 0.1
    assert float(np.median(np.asarray(after.gap_wet_share))) > 0.5
    assert np.all(np.asarray(after.gap_left_kg) > 0.0)


def test_a_belt_too_fast_for_the_gap_falls_short_by_the_gap(demo_case: Case, small_case: Any) -> None:
    fast = {"chamber.belt_min_speed": "6 ft/min", "chamber.belt_max_speed": "12 ft/min"}
    dry = requirement(
        outcome_of(small_evaluation(small_case(demo_case, (INLINE_OFFER,), (DENSE,), fast)), INLINE_OFFER, DENSE), "dry"
    )
    assert dry.result == "falls short"
    assert "limited by gap" in dry.sentence.text()


# ---- Wetted parts and sensitive parts --------------------------------------------------------------------------------


def seal(machine: MachineOutcome) -> Requirement:
    return next(one.requirement for one in machine.all_judged() if one.requirement.key == "wetted materials")


def test_one_part_that_is_not_resistant_rules_a_machine_out_and_a_replacement_brings_it_back_at_a_price(
    demo_case: Case, small_case: Any
) -> None:
    offer = next(one for one in demo_case.candidates if one.id == SPRAY_OFFER)
    assert offer.wetted_parts is not None
    as_standard = tuple(
        part.model_copy(update={"replacement_material": None, "replacement_price": None}) for part in offer.wetted_parts
    )
    washed = {"wash.fluids": ["saponified-water"]}
    base = small_case(demo_case, (SPRAY_OFFER,), ("power-supply",), washed)
    without = base.model_copy(
        update={"candidates": (base.candidates[0].model_copy(update={"wetted_parts": as_standard}),)}
    )
    bare, upgraded = (small_evaluation(case).machine(SPRAY_OFFER) for case in (without, base))
    assert bare.result == "falls short"
    assert (seal(bare).result, seal(bare).probability) == ("falls short", 0.0)
    assert "does not stand" in seal(bare).sentence.text()
    materials = bare.boards[0].chosen.materials
    assert materials is not None
    # One part of five is the reason.
    assert [finding.part for finding in materials.findings if finding.result == "not resistant"] == ["Pump shaft seal"]
    assert materials.upgrade is None
    assert upgraded.result != "falls short"
    assert seal(upgraded).result == "meets"
    again = upgraded.boards[0].chosen.materials
    assert again is not None
    assert again.upgrade is not None
    assert again.upgrade.parts == (("Pump shaft seal", "FKM", "EPDM"),)
    assert again.upgrade.price is not None
    np.testing.assert_allclose(again.upgrade.price, 380.0)
    assert again.judged.requirement.result == "falls short"  # as offered it still does


def test_a_replacement_without_a_price_says_to_ask_for_it(demo_case: Case, small_case: Any) -> None:
    base = small_case(demo_case, (SPRAY_OFFER,), ("power-supply",), {"wash.fluids": ["saponified-water"]})
    parts = tuple(part.model_copy(update={"replacement_price": None}) for part in base.candidates[0].wetted_parts)
    case = base.model_copy(update={"candidates": (base.candidates[0].model_copy(update={"wetted_parts": parts}),)})
    materials = small_evaluation(case).machine(SPRAY_OFFER).boards[0].chosen.materials
    assert materials is not None
    assert materials.upgrade is not None
    assert materials.upgrade.price is None
    assert "ask for the price of: Pump shaft seal" in materials.upgrade.sentence.text()


@pytest.mark.parametrize("machine", ["offer-c-ultrasonic", "ultrasonic-immersion"])
def test_ultrasonics_are_flagged_on_boards_with_crystals_and_only_there(
    demo_evaluation: Evaluation, machine: str
) -> None:
    flagged = requirement(outcome_of(demo_evaluation, machine, "sensor-recorder"), "board parts")
    assert flagged.result == "falls short"
    assert "crystal" in flagged.sentence.text()
    assert "ultrasound" in flagged.sentence.text()
    assert requirement(outcome_of(demo_evaluation, machine, DENSE), "board parts").result == "meets"
    # Spray leaves the same crystals alone.
    assert requirement(outcome_of(demo_evaluation, SPRAY_OFFER, "sensor-recorder"), "board parts").result == "meets"


# ---- Contradictory inputs --------------------------------------------------------------------------------------------

NUMERIC = ["low", "middle", "high", "limit", "probability", "margin_ratio"]


def assert_no_nan(evaluation: Evaluation) -> None:
    """A number that does not exist is None, never NaN, and no sentence shows one."""
    for outcome in evaluation.machines:
        assert not np.isnan(outcome.probability)
        for one in outcome.all_judged():
            must = one.requirement
            numbers = [*(must.measure or ()), must.limit, must.margin_ratio, must.probability]
            assert not any(number is not None and np.isnan(number) for number in numbers), must.key
            text = must.sentence.text()
            assert " nan" not in f" {text.lower()}"
            assert "not defined" not in text
            assert "fault of the program" not in text
            assert "{" not in text


CONTRADICTIONS = [
    ("no pump flow", SPRAY_OFFER, {"spray.nozzle_pressure": None, "spray.max_flow": "0 L/min"}, {}, {},
     "pump maximum flow: 0 m³/s is not allowed. Give a finite value above 0."),
    ("no pump pressure", SPRAY_OFFER, {"spray.nozzle_pressure": None, "spray.shutoff_pressure": "0 bar"}, {}, {},
     "pump shut-off pressure: 0 Pa is not allowed. Give a finite value above 0."),
    ("no nozzle pressure", SPRAY_OFFER, {"spray.nozzle_pressure": "0 bar"}, {}, {},
     "spray: the nozzle pressure is 0, so nothing comes out of the nozzles. Give for example 3 bar, or leave it out."),
    ("a pressure without flow", SPRAY_OFFER, {"spray.max_flow": "0 L/min"}, {}, {},
     "spray: the greatest flow of the pump is 0, so nothing comes out of the nozzles."),
    ("no rinse volume", SPRAY_OFFER, {"rinse.volume_per_rinse": "0 L"}, {}, {},
     "rinse volume: 0 m³ is not allowed. Give a finite value above 0."),
    ("no rinse flow", INLINE_OFFER, {"rinse.flow": "0 gpm"}, {}, {}, "leave"),
    ("no rinses", SPRAY_OFFER, {"rinse.max_rinses": 0}, {}, {}, "leave"),
    ("no spray levels", SPRAY_OFFER, {"spray.levels_below": 0, "spray.levels_above": 0}, {}, {}, "at least one"),
    ("rack smaller than board", SPRAY_OFFER, {"chamber.rack_length": "90 mm", "chamber.rack_width": "80 mm"}, {}, {},
     "The room for boards is 90 × 80 × 280 mm on each of 2 levels, too small for the board of 160 × 100 mm."),
    ("belt narrower than board", INLINE_OFFER, {"chamber.belt_width": "90 mm"}, {}, {},
     "The belt is 90 mm wide, narrower than the board of 160 × 100 mm."),
    ("belt that stands", INLINE_OFFER, {"chamber.belt_min_speed": "0 m/min", "chamber.belt_max_speed": "0 m/min"}, {},
     {}, "the belt's lowest speed is 0. Give a speed above 0."),
    ("zone shorter than a board", INLINE_OFFER, {"chamber.wash_zone_length": "1 mm"}, {}, {}, "shorter than"),
    ("no wash time", SPRAY_OFFER, {"wash.max_time": "0 min"}, {}, {}, "allows 0 min"),
    ("no drying time", SPRAY_OFFER, {"dry.max_time": "0 min"}, {}, {}, "the machine allows 0 min"),
    ("no air", SPRAY_OFFER, {"dry.air_flow": "0 m^3/h", "dry.exhaust_flow": "0 m^3/h"}, {}, {}, "limited by humidity"),
    ("no air speed", SPRAY_OFFER, {"dry.air_speed": "0 m/min"}, {}, {}, "limited by film"),
    ("no heater", SPRAY_OFFER, {"dry.heater_power": "0 kW"}, {}, {}, "limited by heat"),
    ("fails at once", SPRAY_OFFER, {"running.time_between_failures": "0 h"}, {}, {},
     "time between failures is 0 h, so it never runs. Give for example 500 h."),
    ("no working days", SPRAY_OFFER, {}, {}, {"working_days": "0"}, "plant.working_days is 0 days"),
    ("no working hours", SPRAY_OFFER, {}, {}, {"hours_per_day": "0"}, "plant.hours_per_day is 0 hours"),
    ("no utilisation", SPRAY_OFFER, {}, {}, {"requirements.max_utilisation": "0 %"},
     "plant.requirements.max_utilisation is 0 %, so no machine may run."),
    ("no residue allowed", SPRAY_OFFER, {}, {}, {"requirements.ionic_limit": "0 µg/cm^2"},
     "residue limit: 0 kg/m² is not allowed"),
    ("no rack resistance allowed", SPRAY_OFFER, {}, {}, {"requirements.rack_resistance_max": "0 ohm"},
     "plant.requirements.rack_resistance_max is 0 Ω."),
    ("part that withstands nothing", SPRAY_OFFER, {}, {"withstand_voltage": "0 V"}, {},
     "The withstand voltage of Dense controller, lead-free, with QFN is 0 V."),
    ("board of five metres", SPRAY_OFFER, {}, {"length": "5 m"}, {}, "too small for the board of 5000 × 100 mm."),
    ("board that stands no heat", SPRAY_OFFER, {}, {"max_temperature": "10 degC"}, {}, "it needs at least 45 °C"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("machine", "values", "board", "plant", "said"), [row[1:] for row in CONTRADICTIONS],
    ids=[row[0] for row in CONTRADICTIONS],
)  # fmt: skip
def test_a_contradictory_input_gives_a_clear_sentence_and_never_nan(
    demo_case: Case, small_case: Any, machine: str, values: Any, board: Any, plant: Any, said: str
) -> None:
    evaluation = small_evaluation(small_case(demo_case, (machine,), (DENSE,), values, board, plant), draws=16)
    assert_no_nan(evaluation)
    outcome = evaluation.machine(machine)
    failing = [one.requirement for one in outcome.all_judged() if one.requirement.result != "meets"]
    texts = [must.sentence.text() for must in failing]
    assert any(said in text for text in texts), texts
    assert outcome.result in ("falls short", "unknown")


@pytest.mark.parametrize(
    ("machine", "values", "board"),
    [
        (SPRAY_OFFER, {"wash.drag_out": "0 mL/m^2"}, {}),
        (INLINE_OFFER, {"wash.drag_out": "0 mL/m^2"}, {}),
        (SPRAY_OFFER, {}, {"volume": "0 boards/year"}),
        (INLINE_OFFER, {}, {"volume": "0 boards/year"}),
        (SPRAY_OFFER, {"wash.tank_volume": "0 L"}, {}),
        (SPRAY_OFFER, {}, {"wait_before_wash": "0 h"}),
        (SPRAY_OFFER, {"rinse.time_per_rinse": "0 min"}, {}),
        ("offer-c-ultrasonic", {"immersion.ultrasonic_power": "0 W/L"}, {}),
        ("offer-d-vacuum-solvent", {"dry.vacuum_pump_speed": "0 m^3/h"}, {}),
    ],
    ids=str,
)
def test_an_input_of_nothing_that_is_possible_is_computed_without_nan(
    demo_case: Case, small_case: Any, machine: str, values: Any, board: Any
) -> None:
    evaluation = small_evaluation(small_case(demo_case, (machine,), (DENSE,), values, board), draws=16)
    assert_no_nan(evaluation)
    # It is computed, not put off: no sentence asks for another input.
    assert not [one for one in evaluation.machine(machine).all_judged() if one.requirement.key == "inputs"]


@pytest.mark.parametrize(("name", "value"), [("max_decay_time", "0 s"), ("charging_voltage", "0 V")])
def test_a_constant_of_nothing_gives_a_clear_sentence(
    demo_case: Case, small_case: Any, change: Any, name: str, value: str
) -> None:
    case = change(small_case(demo_case, (SPRAY_OFFER,), (DENSE,)), {f"constants.{name}": value})
    evaluation = small_evaluation(case, draws=16)
    assert_no_nan(evaluation)
    said = [one.requirement.sentence.text() for one in evaluation.machine(SPRAY_OFFER).all_judged()]
    assert f"The constant {name} is {value}. Give a value above 0." in said


def test_without_drag_out_only_what_the_gaps_hold_is_rinsed(demo_case: Case, small_case: Any) -> None:
    case = small_case(demo_case, (SPRAY_OFFER,), (DENSE,), {"wash.drag_out": "0 mL/m^2"})
    rinse = outcome_of(small_evaluation(case), SPRAY_OFFER, DENSE).rinse
    assert rinse is not None
    np.testing.assert_allclose(rinse.film_m, 0.0)
    assert np.all(rinse.gap_volume_m3 > 0.0)
    assert np.all(np.isfinite(rinse.residue_left_kg_m2))


def test_boards_that_nobody_builds_ask_for_no_machine_time(demo_case: Case, small_case: Any) -> None:
    case = small_case(demo_case, (SPRAY_OFFER,), (DENSE,), {}, {"volume": "0 boards/year"})
    capacity = small_evaluation(case).machine(SPRAY_OFFER).capacity
    assert capacity is not None
    np.testing.assert_allclose(capacity.utilisation, 0.0)
    np.testing.assert_allclose(capacity.waiting_s, 0.0)
    assert capacity.machines == 1


@given(
    flow=st.sampled_from(["0 L/min", "1e-6 L/min", "1e4 L/min"]), volume=st.sampled_from(["0 L", "1e-6 L", "1e4 L"]),
    pitch=st.sampled_from(["0.1 mm", "25 mm", "2 m"]), air=st.sampled_from(["0 m^3/h", "1e5 m^3/h"]),
    pressure=st.sampled_from(["0 bar", "1e-6 bar", "400 bar"]),
)
@settings(deadline=None, max_examples=20)
def test_no_mix_of_extreme_inputs_gives_nan_or_an_exception(
    demo_case: Case, small_case: Any, flow: str, volume: str, pitch: str, air: str, pressure: str
) -> None:
    values = {
        "spray.max_flow": flow, "spray.nozzle_pressure": None, "spray.shutoff_pressure": pressure,
        "rinse.volume_per_rinse": volume, "chamber.board_pitch": pitch, "dry.air_flow": air,
    }  # fmt: skip
    assert_no_nan(evaluate(small_case(demo_case, (SPRAY_OFFER,), (DENSE,), values), draws=8, rays=2048))
