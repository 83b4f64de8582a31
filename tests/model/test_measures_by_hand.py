"""The seven measures worked out by hand from the stages of small evaluations."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from catalog_schema.priorities import CRITERIA
from model.evaluate import evaluate
from model.laminate import BakeSuggestion
from model.measures import (
    drying_ratio,
    measures_of,
    pressure_reserve,
    solvent_vapour_pressure_Pa,
    suction_reserve,
)
from model.uncertainty import InputBook
from model.wash import reach_ratios

PLACE = {criterion: place for place, criterion in enumerate(CRITERIA)}
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
    assert np.isinf(reach_ratios([[kind]], np.full(8, 60.0))[0]).all()
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
