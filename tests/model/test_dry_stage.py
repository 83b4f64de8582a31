"""Drying of one machine followed by hand: load, dryer and laminate from the drawn quantities, and what is said."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from catalog_schema.case import Case
from catalog_schema.library import load_library
from catalog_schema.units import show
from model.air_transfer import stream_transfer_m_s
from model.dry_stage import DryStage
from model.drying import DryingLoad, HotAirDryer, dry_time_needed
from model.drying_fluid import GAS_CONSTANT_J_mol_K, solvent_for_drying, water_for_drying
from model.evaluate import Evaluation, evaluate
from model.laminate import Laminate, bake_suggestion, drying_time_s, moisture_after
from model.moist_air import humidity_ratio, moist_air_density_kg_m3
from model.outcomes import FluidOutcome
from model.passive_drying import StandingChamber, passive_dry_outcome
from model.requirements import Requirement
from model.uncertainty import FloatArray
from model.vacuum_drying import vacuum_drying
from tests.model.by_hand import column, gaps_m3

SPRAY, BELT, VACUUM, DENSE = "offer-a-batch-spray", "offer-b-inline", "offer-d-vacuum-solvent", "dense-controller"
DRAWS, LOT = 9, 12.0
AREA_M2 = 2.0 * 0.160 * 0.100
SLOWEST = "component_kinds[qfn-7x7]"


def run(case: Case, small_case: Any, machine: str, stated: Any = None, board: Any = None,
        plant: Any = None) -> tuple[Evaluation, FluidOutcome, DryStage]:  # fmt: skip
    board = {"lot_size": str(int(LOT)), "moisture_limit": "0.1 %"} | (board or {})
    evaluation = evaluate(small_case(case, (machine,), (DENSE,), stated, board, plant), draws=DRAWS, rays=2048)
    outcome = evaluation.machine(machine).board(DENSE).chosen
    assert outcome.dry is not None
    return evaluation, outcome, outcome.dry


def place(machine: str) -> str:
    return f"{'candidates' if machine.startswith('offer') else 'machine_classes'}[{machine}]"


def load(evaluation: Evaluation, machine: str, boards: float | FloatArray, warm: str, left: Any = 1.0,
         gap_left: Any = 1.0) -> DryingLoad:  # fmt: skip
    """Boards as they come out of the rinse, from the drawn quantities."""
    drag_out = column(evaluation, f"{place(machine)}.wash.drag_out")
    mass = 0.160 * 0.100 * 1.6e-3 * column(evaluation, "constants.board_density")
    length = column(evaluation, f"{SLOWEST}.body_length") * column(evaluation, "constants.gap_drying_path_share")
    return DryingLoad(
        wet_area_m2=AREA_M2 * np.ones(DRAWS) * boards, film_before_drain_m=drag_out, film_drained_m=drag_out,
        blow_off_share_left=np.ones(DRAWS) * left, gap_volume_m3=gaps_m3(evaluation) * boards * gap_left,
        # A QFN is open on a quarter to a half of its edge: two sides.
        body_length_m=length, body_width_m=length, open_sides=2.0,
        heat_capacity_J_K=mass * column(evaluation, "constants.board_heat_capacity") * boards,
        temperature_K=column(evaluation, warm),
    )  # fmt: skip


def hot_air(evaluation: Evaluation, machine: str, air_K: FloatArray, exhaust: str = "exhaust_flow") -> HotAirDryer:
    dry = f"{place(machine)}.dry"
    room, humidity = column(evaluation, "plant.air_temperature"), column(evaluation, "plant.relative_humidity")
    pressure = column(evaluation, "plant.air_pressure")
    transfer = stream_transfer_m_s(water_for_drying(), column(evaluation, f"{dry}.air_speed"), np.full(DRAWS, 0.160),
                                   air_K, pressure_Pa=pressure)  # fmt: skip
    share = column(evaluation, "constants.heat_transfer_share")
    return HotAirDryer(
        air_temperature_K=air_K, transfer_m_s=np.asarray(transfer) * share,
        inlet_humidity_ratio=humidity_ratio(room, humidity, pressure), inlet_temperature_K=room,
        exhaust_dry_air_kg_s=column(evaluation, f"{dry}.{exhaust}")
        * np.asarray(moist_air_density_kg_m3(room, humidity, pressure)),
        heater_power_W=column(evaluation, f"{dry}.heater_power") if exhaust == "exhaust_flow" else np.inf,
        pressure_Pa=pressure,
    )  # fmt: skip


def said(outcome: FluidOutcome, key: str) -> Requirement:
    return next(one.requirement for one in outcome.judged if one.requirement.key == key)


def words(of: Any) -> str:
    names, counts = np.unique(of, return_counts=True)
    return str(names[int(np.argmax(counts))])


@pytest.mark.parametrize("air", [90.0, 130.0])
def test_hot_air_dries_the_load_of_one_lot_never_hotter_than_the_board_stands(
    demo_case: Case, small_case: Any, air: float
) -> None:
    evaluation, _, dry = run(demo_case, small_case, SPRAY, {"dry.air_temperature": f"{air} degC"})
    at = np.full(DRAWS, min(air, 105.0) + 273.15)
    np.testing.assert_allclose(dry.air_temperature_K, at)
    boards = load(evaluation, SPRAY, LOT, f"candidates[{SPRAY}].rinse.temperature")
    expected = dry_time_needed(boards, hot_air(evaluation, SPRAY, at), water_for_drying())
    np.testing.assert_allclose(dry.needed_time_s, expected.total_time_s, rtol=1e-9)
    assert dry.limited_by == words(expected.limited_by)
    assert dry.slowest.id == "qfn-7x7"
    assert dry.max_time_s is not None
    np.testing.assert_allclose(dry.max_time_s, 5400.0)


def test_a_weak_heater_makes_the_load_wait_for_its_heat(demo_case: Case, small_case: Any) -> None:
    stated = {"dry.air_temperature": "90 degC", "dry.heater_power": "400 W", "dry.max_time": "10 h"}
    evaluation, _, dry = run(demo_case, small_case, SPRAY, stated)
    boards = load(evaluation, SPRAY, LOT, f"candidates[{SPRAY}].rinse.temperature")
    weak = hot_air(evaluation, SPRAY, np.full(DRAWS, 363.15))
    expected = dry_time_needed(boards, weak, water_for_drying())
    np.testing.assert_allclose(dry.needed_time_s, expected.total_time_s, rtol=1e-9)
    unlimited = dry_time_needed(boards, replace(weak, heater_power_W=np.inf), water_for_drying())
    assert np.all(dry.needed_time_s > 1.2 * np.asarray(unlimited.total_time_s))
    assert dry.limited_by == "heat"


def test_a_dryer_of_unknown_heat_and_exhaust_lacks_no_heat_and_blows_all_its_air_out(
    demo_case: Case, small_case: Any, change: Any
) -> None:
    name = "batch-diffused-spray"
    own = next(one for one in load_library().machine_classes if one.id == name)
    bare = change(own, {"dry.heater_power": None, "dry.exhaust_flow": None, "dry.air_flow": "40 m^3/h",
                        "rinse.temperature": None, "wash.fluids": ["saponified-water"]})  # fmt: skip
    case = small_case(demo_case, (name,), (DENSE,), None, {"lot_size": "12"})
    evaluation = evaluate(case.model_copy(update={"machine_classes": (bare,)}), draws=DRAWS, rays=2048)
    dry = evaluation.machine(name).board(DENSE).chosen.dry
    assert dry is not None
    # Boards rinsed with water of the room come into the dryer as warm as the room.
    boards = load(evaluation, name, LOT, "plant.air_temperature")
    dryer = hot_air(evaluation, name, dry.air_temperature_K, "air_flow")
    expected = dry_time_needed(boards, dryer, water_for_drying())
    np.testing.assert_allclose(dry.needed_time_s, expected.total_time_s, rtol=1e-9)


def test_a_dryer_that_nobody_knows_is_asked_for(demo_case: Case, small_case: Any, change: Any) -> None:
    name = "batch-diffused-spray"
    own = next(one for one in load_library().machine_classes if one.id == name)
    bare = change(own, {"dry.kind": None, "wash.fluids": ["saponified-water"]})
    case = small_case(demo_case, (name,), (DENSE,)).model_copy(update={"machine_classes": (bare,)})
    outcome = evaluate(case, draws=DRAWS, rays=2048).machine(name).board(DENSE).chosen
    assert said(outcome, "inputs").sentence.text() == f"{own.name}: dry: kind is not known. Ask the supplier."
    assert outcome.dry is None


def test_the_musts_of_drying_are_said_whole(demo_case: Case, small_case: Any) -> None:
    _, outcome, dry = run(demo_case, small_case, SPRAY)
    dries, laminate = said(outcome, "dry"), said(outcome, "laminate")
    assert [one.requirement for one in dry.judged] == [dries, laminate]
    assert (dries.title, dries.stage, dries.direction, dries.dimension) == (
        "Dry in time, gaps included", "dry", "at most", "time",
    )  # fmt: skip
    assert (laminate.title, laminate.stage, laminate.direction, laminate.dimension) == (
        "Laminate moisture within the board's limit", "dry", "at most", "share",
    )  # fmt: skip
    for one in (dries, laminate):
        assert (one.machine_id, one.board_id, one.fluid_id) == (SPRAY, DENSE, outcome.fluid_id)
    # At 9 draws the 5 % and 95 % points are the least and the greatest.
    low, middle, high = (show(float(np.sort(dry.needed_time_s)[place]), "time") for place in (0, 4, 8))
    assert dries.sentence.text() == (
        f"Needs {middle} ({low} to {high}) until QFN 7 × 7 mm is dry underneath; the machine allows 90 min; "
        f"limited by {dry.limited_by}."
    )
    assert laminate.measure is not None
    assert laminate.limit == pytest.approx(1e-3)
    assert laminate.sentence.text().startswith(
        f"The laminate keeps {show(laminate.measure[1], 'share')} of moisture by mass; the limit is 0.1 %; a bake at "
    )


def test_a_belt_blows_off_first_and_dries_in_its_zone(demo_case: Case, small_case: Any) -> None:
    stated = {"chamber.dry_zone_length": "1.68 m", "chamber.belt_min_speed": "0.2 m/min",
              "dry.exhaust_flow": "600 m^3/h"}  # fmt: skip
    evaluation, _, dry = run(demo_case, small_case, BELT, stated)
    assert dry.max_time_s is not None
    np.testing.assert_allclose(dry.max_time_s, 1.68 / 0.2 * 60.0)
    # Ten rows of 168 mm in the zone, five boards abreast.
    left = column(evaluation, f"candidates[{BELT}].dry.blow_off_left_share")
    boards = load(evaluation, BELT, 50.0, f"candidates[{BELT}].rinse.temperature", left,
                  column(evaluation, "constants.gap_liquid_share"))  # fmt: skip
    at = column(evaluation, f"candidates[{BELT}].dry.air_temperature")
    expected = dry_time_needed(boards, hot_air(evaluation, BELT, at), water_for_drying())
    np.testing.assert_allclose(dry.needed_time_s, expected.total_time_s, rtol=1e-9)


def test_a_vacuum_boils_the_solvent_off_with_the_heat_of_the_load(demo_case: Case, small_case: Any) -> None:
    evaluation, _, dry = run(demo_case, small_case, VACUUM)
    at = f"candidates[{VACUUM}].dry"
    fluid = "fluids[modified-alcohol]"
    names = ("molar_mass", "density", "latent_heat", "vapour_pressure", "reference_temperature")
    middle = {name: float(np.median(column(evaluation, f"{fluid}.{name}"))) for name in names}
    liquid = solvent_for_drying(
        molar_mass_kg_mol=middle["molar_mass"], liquid_density_kg_m3=middle["density"],
        latent_heat_J_kg=middle["latent_heat"], vapour_pressure_Pa=middle["vapour_pressure"],
        vapour_pressure_temperature_K=middle["reference_temperature"],
        diffusivity_m2_s=float(np.median(column(evaluation, "constants.solvent_vapour_diffusivity"))),
        diffusivity_temperature_K=298.15, diffusivity_exponent=1.75, coldest_K=253.15,
    )  # fmt: skip
    warm = [one.path for one in evaluation.machines[0].inputs if one.path.endswith("rinse.temperature")]
    boards = load(evaluation, VACUUM, LOT, warm[0] if warm else "plant.air_temperature")
    expected = vacuum_drying(
        boards, liquid, pressure_Pa=column(evaluation, f"{at}.vacuum_pressure"),
        heating_power_W=column(evaluation, f"{at}.heater_power"),
        pump_speed_m3_s=column(evaluation, f"{at}.vacuum_pump_speed"),
        pump_down_time_s=column(evaluation, f"{at}.pump_down_time"),
    )  # fmt: skip
    np.testing.assert_allclose(dry.needed_time_s, expected.total_time_s, rtol=1e-9)
    assert dry.limited_by == words(expected.limited_by)


@pytest.mark.parametrize(("kind", "share"), [("passive", 1.0), ("vapour", 0.0)])
def test_standing_boards_dry_into_saturated_air_or_under_condensing_vapour(
    demo_case: Case, small_case: Any, kind: str, share: float
) -> None:
    evaluation, _, dry = run(demo_case, small_case, SPRAY, {"dry.kind": kind})
    chamber = StandingChamber(
        wall_temperature_K=column(evaluation, "plant.air_temperature"), saturation_share=np.full(DRAWS, share),
        heat_transfer_W_m2_K=column(evaluation, "constants.natural_convection"),
        pressure_Pa=column(evaluation, "plant.air_pressure"),
    )  # fmt: skip
    boards = load(evaluation, SPRAY, LOT, f"candidates[{SPRAY}].rinse.temperature")
    expected = passive_dry_outcome(boards, chamber, water_for_drying(), np.full(DRAWS, 5400.0))
    np.testing.assert_allclose(dry.needed_time_s, expected.dry_at_s, rtol=1e-9)
    assert dry.limited_by == "standing"


def test_without_a_dryer_nothing_gets_dry(demo_case: Case, small_case: Any) -> None:
    _, outcome, dry = run(demo_case, small_case, SPRAY, {"dry.kind": "none"})
    assert np.all(np.isinf(dry.needed_time_s))
    assert said(outcome, "dry").sentence.text() == (
        "Water stays under QFN 7 × 7 mm when the machine's 90 min of drying are over; limited by no dryer."
    )


def test_the_laminate_dries_as_long_as_the_boards_and_a_bake_takes_the_rest(demo_case: Case, small_case: Any) -> None:
    evaluation, outcome, dry = run(demo_case, small_case, SPRAY, board={"laminate_path_factor": "1.4"})
    laminate = Laminate(
        thickness_m=1.6e-3, diffusivity_m2_s=column(evaluation, "constants.laminate_diffusivity"),
        reference_temperature_K=column(evaluation, "constants.laminate_reference_temperature"),
        activation_energy_J_mol=column(evaluation, "constants.laminate_activation_temperature") * GAS_CONSTANT_J_mol_K,
        path_factor=1.4,
    )  # fmt: skip
    soaked = column(evaluation, "constants.laminate_start") * column(evaluation, "constants.laminate_saturation")
    run_for = np.where(np.isinf(dry.needed_time_s), 0.0, np.minimum(dry.needed_time_s, 5400.0))
    after = np.asarray(moisture_after(laminate, soaked, 0.0, dry.air_temperature_K, run_for))
    must = said(outcome, "laminate")
    assert must.measure is not None
    assert must.measure[1] == pytest.approx(float(np.median(after)), rel=1e-9)
    assert dry.bake is not None
    expected = bake_suggestion(laminate, after, 1e-3, dry.air_temperature_K, 105.0 + 273.15)
    np.testing.assert_allclose(dry.bake.time_s, expected.time_s, rtol=1e-9)
    extra = float(np.median(np.asarray(drying_time_s(laminate, after, 1e-3, 0.0, dry.air_temperature_K))))
    assert must.sentence.text().endswith(f"a bake at 90 °C would take {show(extra, 'long time')} more.")
    assert _no_limit(demo_case, small_case).bake is None


def _no_limit(case: Case, small_case: Any) -> DryStage:
    found = evaluate(small_case(case, (SPRAY,), (DENSE,), board={"moisture_limit": None}), draws=4, rays=2048)
    dry = found.machine(SPRAY).board(DENSE).chosen.dry
    assert dry is not None
    return dry
