"""Raw measures: what each of the seven means, and how it moves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from catalog_schema.priorities import CRITERIA
from model.evaluate import Evaluation, evaluate
from model.gap import gap_exchange_m_s
from model.laminate import BakeSuggestion
from model.measures import (
    drying_ratio,
    measures_of,
    pressure_reserve,
    reach_ratio,
    solvent_vapour_pressure_Pa,
    suction_reserve,
)
from model.uncertainty import InputBook
from model.wash import BathDrive

PLACE = {criterion: place for place, criterion in enumerate(CRITERIA)}


def chosen_wash(evaluation: Evaluation, machine: str, board: str):
    return evaluation.machine(machine).board(board).chosen.wash


def test_reach_is_one_exactly_when_the_wash_takes_the_longest_time(decision_evaluation):
    kind = chosen_wash(decision_evaluation, "offer-d-vacuum-solvent", "control-board").outcome.kinds[0]
    assert reach_ratio(kind, kind.needed_time_s) == pytest.approx(np.ones(512), rel=1e-9)


@pytest.mark.parametrize("machine", ["offer-a-batch-spray", "offer-c-ultrasonic", "offer-d-vacuum-solvent"])
def test_pressure_reserve_is_above_one_exactly_where_the_wash_ends_in_time(decision_evaluation, machine):
    wash = chosen_wash(decision_evaluation, machine, "control-board")
    kind = wash.outcome.kinds[0]
    limit = kind.needed_time_s * np.exp(np.random.default_rng(2).normal(0.0, 1.0, 512))
    reserve = pressure_reserve(wash, kind, limit)
    enters = (kind.entry_pressure_Pa <= 0.0) | (kind.peak_pressure_Pa > kind.entry_pressure_Pa)
    clear = np.abs(np.log(limit / kind.needed_time_s)) > 0.02
    assert clear.sum() > 400
    assert ((reserve > 1.0) == ((limit > kind.needed_time_s) & enters))[clear].all()


def test_a_bath_at_its_pressure_over_the_reserve_just_ends_in_time(decision_evaluation):
    wash = chosen_wash(decision_evaluation, "offer-c-ultrasonic", "control-board")
    kind = wash.outcome.kinds[0]
    assert isinstance(wash.drive, BathDrive)
    limit = kind.needed_time_s * 1.5
    reserve = pressure_reserve(wash, kind, limit)
    soaked = kind.soak_m_s05 * np.sqrt(limit)
    needed_speed = np.maximum(kind.depth_needed_m - soaked, 0.0) / limit
    pressure = wash.drive.mean_pressure_Pa(kind.gap, slice(None))
    ratio = gap_exchange_m_s(pressure / reserve, kind.gap) / gap_exchange_m_s(pressure, kind.gap)
    free = (kind.entry_pressure_Pa <= 0.0) & np.isfinite(reserve)
    assert free.any()
    assert ratio[free] == pytest.approx((needed_speed / kind.speed_m_s)[free], rel=0.01)


def test_no_drive_leaves_no_reserve(decision_evaluation):
    wash = chosen_wash(decision_evaluation, "offer-c-ultrasonic", "control-board")
    kind = replace(wash.outcome.kinds[0], speed_m_s=np.zeros(512), soak_m_s05=np.zeros(512))
    assert (pressure_reserve(wash, kind, np.full(512, 600.0)) == 0.0).all()


def test_drying_ratio_counts_the_bake_that_the_laminate_still_needs(decision_evaluation):
    dry = decision_evaluation.machine("offer-a-batch-spray").board("control-board").chosen.dry
    plain = drying_ratio(replace(dry, bake=None))
    assert plain == pytest.approx(dry.max_time_s / dry.needed_time_s)
    assert drying_ratio(replace(dry, max_time_s=None)) is None


def test_solvent_vapour_pressure_meets_its_reference_and_doubles_as_clausius_and_clapeyron_say(decision_evaluation):
    fluid = next(one for one in decision_evaluation.library.fluids if one.id == "modified-alcohol")
    at = fluid.reference_temperature.si()[1]
    assert solvent_vapour_pressure_Pa(fluid, np.array([at]))[0] == pytest.approx(fluid.vapour_pressure.si()[1])
    assert solvent_vapour_pressure_Pa(fluid, np.array([at + 20.0]))[0] > fluid.vapour_pressure.si()[1]


def test_a_service_that_says_nothing_has_no_known_wash_measures(decision_evaluation):
    raw = measures_of(decision_evaluation, (decision_evaluation.machine("contract-service"),)).by_board
    assert np.isnan(raw[:, 0, PLACE["spray_reach"]]).all()
    assert np.isfinite(raw[:, 0, PLACE["cost_of_ownership"]]).all()


def test_cost_is_the_equivalent_annual_cost_of_the_machine(decision_evaluation):
    outcome = decision_evaluation.machine("offer-d-vacuum-solvent")
    raw = measures_of(decision_evaluation, (outcome,)).by_board
    assert (raw[:, 0, PLACE["cost_of_ownership"], 0] == outcome.cost.equivalent_annual_cost).all()


# ---- By hand, on small evaluations -----------------------------------------------------------------------------------

SPRAY, BATH, DENSE = "offer-a-batch-spray", "offer-c-ultrasonic", "dense-controller"


def small(demo_case, small_case, machine, stated=None, boards=(DENSE,), **changes):
    evaluation = evaluate(small_case(demo_case, (machine,), boards, stated, **changes), draws=8, rays=2048)
    return evaluation, evaluation.machine(machine), measures_of(evaluation, evaluation.machines)


def column(measures, machine, path):
    record = next(one for one in measures.inputs[0] if one.path == path)
    return measures.columns[0].get(path, np.full(8, record.likely))


def test_each_measure_of_a_spray_machine_is_what_its_stages_give(demo_case, small_case):
    stated = {"wash.fluids": ["saponified-water"], "spray.suction_head": "0.4 m", "spray.npsh_required": "2 m"}
    _, outcome, found = small(demo_case, small_case, SPRAY, stated)
    chosen = outcome.board(DENSE).chosen
    raw = {name: found.by_board[:, 0, place, 0] for name, place in PLACE.items()}
    wash, dry = chosen.wash, chosen.dry
    reached = [
        (kind.speed_m_s * wash.max_time_s + kind.soak_m_s05 * np.sqrt(wash.max_time_s)) / kind.depth_needed_m
        for kind in wash.outcome.kinds
    ]
    np.testing.assert_allclose(raw["spray_reach"], np.min(reached, axis=0), rtol=1e-12)
    # Suction: (p − p_v)/(ρ g) + 0.4 m over 2 m, water's vapour pressure at 70 °C 31.2 kPa (IAPWS SR1-86).
    pressure = column(found, outcome, "plant.air_pressure")
    head = (pressure - 31201.0) / (wash.state.density_kg_m3 * 9.80665) + 0.4
    reserve = pressure_reserve(wash, wash.outcome.kinds[0], wash.max_time_s)
    np.testing.assert_allclose(raw["pump_reserve"], np.minimum(reserve, head / 2.0), rtol=1e-4)
    np.testing.assert_allclose(suction_reserve(*(found_for(demo_case, small_case, stated))), head / 2.0, rtol=1e-4)
    materials = chosen.materials
    share = (materials.measure_with_upgrade or materials.measure).share
    np.testing.assert_array_equal(raw["material_compatibility"], share)
    np.testing.assert_allclose(raw["drying"], dry.max_time_s / dry.needed_time_s)
    np.testing.assert_array_equal(raw["esd_racking"], outcome.board(DENSE).esd.margin_decades)
    np.testing.assert_array_equal(raw["traceability"], np.full(8, outcome.traceability.share))
    np.testing.assert_array_equal(raw["cost_of_ownership"], outcome.cost.equivalent_annual_cost)
    assert (found.machine_ids, found.board_ids) == ((SPRAY,), (DENSE,))
    noted = {one.path.rpartition("].")[2]: (one.basis, one.stated) for one in found.inputs[0]}
    assert noted["spray.suction_head"] == noted["spray.npsh_required"] == ("stated", True)
    assert noted["plant.air_pressure"][0] == "measured"


def found_for(demo_case, small_case, stated):
    evaluation, outcome, _ = small(demo_case, small_case, SPRAY, stated)
    return evaluation, outcome, outcome.board(DENSE).chosen.wash, InputBook(8, evaluation.seed)


def test_suction_that_boils_has_no_reserve_and_a_pump_that_needs_none_has_endless(demo_case, small_case):
    stated = {"wash.fluids": ["saponified-water"], "spray.suction_head": "0 m", "spray.npsh_required": "2 m"}
    evaluation, outcome, wash, book = found_for(demo_case, small_case, stated)
    boiling = replace(wash, state=replace(wash.state, temperature_K=np.full(8, 378.15)))
    np.testing.assert_array_equal(suction_reserve(evaluation, outcome, boiling, book), 0.0)
    easy = stated | {"spray.npsh_required": "0 m"}
    assert np.isinf(suction_reserve(*found_for(demo_case, small_case, easy))).all()


def test_a_bath_has_no_suction_and_nothing_is_noted_for_it(demo_case, small_case):
    _, outcome, found = small(demo_case, small_case, BATH, {"wash.fluids": ["saponified-water"]})
    wash = outcome.board(DENSE).chosen.wash
    reserve = pressure_reserve(wash, wash.outcome.kinds[0], wash.max_time_s)
    np.testing.assert_array_equal(found.by_board[:, 0, PLACE["pump_reserve"], 0], reserve)
    assert found.inputs == ((),)
    assert found.columns == ({},)


def test_a_fluid_that_does_not_dissolve_reaches_nothing(demo_case, small_case):
    _, _, found = small(demo_case, small_case, SPRAY, {"wash.fluids": ["di-water"]})
    raw = found.by_board[:, 0, :, 0]
    np.testing.assert_array_equal(raw[:, PLACE["spray_reach"]], 0.0)
    np.testing.assert_array_equal(raw[:, PLACE["pump_reserve"]], 0.0)
    assert np.isnan(raw[:, PLACE["drying"]]).all()


def test_leaving_boards_uncleaned_wets_and_dries_nothing(demo_case, small_case):
    _, _, found = small(demo_case, small_case, "uncleaned", boards=("control-board",))
    raw = found.by_board[:, 0, :, 0]
    nothing = {"spray_reach": 0.0, "pump_reserve": 0.0, "material_compatibility": 1.0, "drying": np.inf}
    for name, value in nothing.items():
        np.testing.assert_array_equal(raw[:, PLACE[name]], value)


def test_board_types_count_by_their_yearly_volume(demo_case, small_case):
    boards = ("power-supply", "control-board", "dense-controller")
    _, _, found = small(demo_case, small_case, BATH, boards=boards)
    np.testing.assert_allclose(found.board_share, np.array([12.0, 40.0, 22.0]) / 74.0)
    _, _, nobody = small(demo_case, small_case, BATH, boards=boards, board={"volume": "0 boards/year"})
    np.testing.assert_allclose(nobody.board_share, 1.0 / 3.0)


def test_nothing_needed_is_endless_reach_and_endless_drying(demo_case, small_case):
    _, outcome, _ = small(demo_case, small_case, BATH, {"wash.fluids": ["saponified-water"]})
    chosen = outcome.board(DENSE).chosen
    kind = replace(chosen.wash.outcome.kinds[0], depth_needed_m=np.zeros(8))
    assert np.isinf(reach_ratio(kind, np.full(8, 60.0))).all()
    assert np.isinf(drying_ratio(replace(chosen.dry, needed_time_s=np.zeros(8), bake=None))).all()
    baked = replace(chosen.dry, bake=BakeSuggestion(temperature_K=378.0, lowered_to_limit=0.0, time_s=np.full(8, 600.0),
                                                    moisture_before_share=0.0, moisture_after_share=0.0))  # fmt: skip
    expected = chosen.dry.max_time_s / (chosen.dry.needed_time_s + 600.0)
    np.testing.assert_allclose(drying_ratio(baked), expected, rtol=1e-12)


def test_a_solvents_vapour_pressure_follows_clausius_and_clapeyron_by_hand(demo_case, small_case):
    evaluation, _, _ = small(demo_case, small_case, BATH)
    fluid = next(one for one in evaluation.library.fluids if one.id == "modified-alcohol")
    names = ("reference_temperature", "latent_heat", "molar_mass")
    at, latent, molar = (getattr(fluid, name).si()[1] for name in names)
    ratio = np.exp(latent * molar / 8.314462618 * (1.0 / at - 1.0 / (at + 15.0)))
    found = solvent_vapour_pressure_Pa(fluid, np.array([at + 15.0]))[0] / fluid.vapour_pressure.si()[1]
    assert found == pytest.approx(ratio, rel=1e-9)
