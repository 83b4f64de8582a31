"""Reserve of pressure and of suction, each by itself, from figures made up so that the answer is known."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from catalog_schema.machine import Machine
from catalog_schema.priorities import CRITERIA
from catalog_schema.quantity import AirPressure
from model.fluids import water_saturation_pressure_Pa
from model.gap import GapState, gap_exchange_m_s
from model.measures import (
    Measures,
    drying_ratio,
    measures_of,
    pressure_reserve,
    solvent_vapour_pressure_Pa,
    suction_reserve,
)
from model.uncertainty import FloatArray, InputBook
from tests.model.records import board, fluid, machine

PRESSURE_PA, TIME_S, SOAK = 2000.0, 600.0, 2e-5
GAP = GapState(gap_m=50e-6, flow_length_m=5e-3, viscosity_Pa_s=5e-4, density_kg_m3=985.0, diffusivity_m2_s=5e-10,
               entry_pressure_Pa=0.0, end_loss_coefficient=1.5)  # fmt: skip


def reserve(needed_pressure_Pa: float | FloatArray, time_s: float = TIME_S, pressure_Pa: float = PRESSURE_PA,
            state: GapState = GAP, **changes: Any) -> FloatArray:  # fmt: skip
    """Reserve of a gap whose front moves like its exchange, with a depth that one pressure just clears in time."""
    here = np.asarray(gap_exchange_m_s(pressure_Pa, state))
    speed = np.full(1, 1e-6) * (here > 0.0)
    share = np.asarray(gap_exchange_m_s(needed_pressure_Pa, state)) / (here if pressure_Pa else 1.0)
    depth = np.atleast_1d(1e-6 * share * TIME_S + SOAK * TIME_S**0.5)
    kind = {"gap": state, "speed_m_s": speed, "soak_m_s05": np.full(1, SOAK), "depth_needed_m": depth,
            "entry_pressure_Pa": np.zeros(1), "peak_pressure_Pa": np.zeros(1)}  # fmt: skip

    def mean_pressure_Pa(gap: GapState, chosen: slice) -> FloatArray:
        assert gap is state
        return np.full(1, pressure_Pa)[chosen]

    wash: Any = SimpleNamespace(drive=SimpleNamespace(mean_pressure_Pa=mean_pressure_Pa))
    given: Any = SimpleNamespace(**(kind | changes))
    return pressure_reserve(wash, given, np.full(1, time_s))


@pytest.mark.parametrize("times", [0.02, 0.1, 0.7, 1.0, 1.5, 10.0, 100.0])
def test_the_reserve_is_the_pressure_over_the_one_that_just_clears_in_time(times: float) -> None:
    assert reserve(PRESSURE_PA / times)[0] == pytest.approx(times, rel=0.01)


@pytest.mark.parametrize("times", [0.1, 0.7, 1.5, 10.0, 1000.0])
@pytest.mark.parametrize(("gap_m", "pressure_Pa"), [(5e-6, 0.5), (50e-6, 0.5), (500e-6, 0.5), (50e-6, 2e5)])
def test_the_reserve_is_found_in_tight_and_tall_gaps_under_half_a_pascal_and_two_bar(
    gap_m: float, pressure_Pa: float, times: float
) -> None:
    # The exchange follows the pressure itself in a tight gap, its cube root in a taller one, less where it chokes.
    found = reserve(pressure_Pa / times, pressure_Pa=pressure_Pa, state=replace(GAP, gap_m=gap_m))
    assert found[0] == pytest.approx(times, rel=0.01)


@pytest.mark.parametrize("flow_length_m", [1e-3, 40e-3])
@pytest.mark.parametrize("gap_m", np.geomspace(2e-6, 1e-3, 7))
def test_the_reserve_is_that_of_a_root_finder_for_any_gap_and_pressure(gap_m: float, flow_length_m: float) -> None:
    # scipy's brentq on E(p_n) = E(p)·v_n/v. The worst of 70 000 gaps, pressures and reserves was 0.06 % off.
    state = replace(GAP, gap_m=gap_m, flow_length_m=flow_length_m)
    for pressure_Pa in np.geomspace(0.1, 1e6, 8):
        for times in np.geomspace(1e-4, 1e4, 9):
            aim = float(np.asarray(gap_exchange_m_s(pressure_Pa / times, state)))

            def lacking(log_Pa: float, aim: float = aim) -> float:
                return np.log(float(np.asarray(gap_exchange_m_s(np.exp(log_Pa), state))) / aim)

            needed_Pa = np.exp(brentq(lacking, np.log(pressure_Pa) - 13.8, np.log(pressure_Pa) + 13.8, xtol=1e-9))
            found = reserve(pressure_Pa / times, pressure_Pa=pressure_Pa, state=state)
            assert found[0] == pytest.approx(pressure_Pa / needed_Pa, rel=1e-3)


def test_more_than_a_million_times_is_said_as_a_million_times() -> None:
    assert reserve(PRESSURE_PA * 1e-9)[0] == pytest.approx(np.exp(13.8), rel=1e-9)
    assert reserve(0.0, depth_needed_m=np.full(1, 1e3))[0] == pytest.approx(np.exp(-13.8), rel=1e-9)


def test_half_a_pascal_in_half_a_second_is_worked_out_like_any_other() -> None:
    depth = np.full(1, 1e-6 * 0.5 + SOAK * 0.5**0.5)  # just what the speed of 1 µm/s and the soak clear in 0.5 s
    assert reserve(1.0, 0.5, 0.5, depth_needed_m=depth)[0] == pytest.approx(1.0, rel=1e-6)


def test_soaking_alone_is_endless_reserve_and_no_time_speed_or_pressure_is_none() -> None:
    assert reserve(PRESSURE_PA, depth_needed_m=np.full(1, 0.9 * SOAK * TIME_S**0.5))[0] == np.inf
    assert reserve(PRESSURE_PA, depth_needed_m=np.full(1, SOAK * TIME_S**0.5))[0] == np.inf
    assert reserve(PRESSURE_PA, 0.0)[0] == 0.0
    assert reserve(PRESSURE_PA, speed_m_s=np.zeros(1))[0] == 0.0
    assert reserve(PRESSURE_PA, pressure_Pa=0.0)[0] == 0.0
    # Nothing is lacking, so it does not matter that nothing moves or that there is no time.
    assert reserve(PRESSURE_PA, 0.0, depth_needed_m=np.zeros(1))[0] == 0.0
    assert reserve(PRESSURE_PA, depth_needed_m=np.zeros(1), speed_m_s=np.zeros(1))[0] == np.inf


def test_where_surface_tension_bars_the_gap_the_greatest_pressure_over_the_entry_pressure_limits() -> None:
    barred = {"entry_pressure_Pa": np.full(1, 500.0), "peak_pressure_Pa": np.full(1, 1500.0)}
    assert reserve(PRESSURE_PA / 10.0, **barred)[0] == pytest.approx(3.0)
    assert reserve(PRESSURE_PA / 2.0, **barred)[0] == pytest.approx(2.0, rel=0.01)
    weak = {"entry_pressure_Pa": np.full(1, 0.5), "peak_pressure_Pa": np.full(1, 0.75)}
    assert reserve(PRESSURE_PA / 10.0, **weak)[0] == pytest.approx(1.5)


# ---- Suction ---------------------------------------------------------------------------------------------------------

SUCTION = {"suction_head": "0.5 m", "npsh_required": "2 m"}


def suction(equipment: Machine, *, pump: Any = True, **state: Any) -> tuple[FloatArray | None, dict[str, Any]]:
    book = InputBook(3, 1)
    plant = SimpleNamespace(air_pressure=AirPressure.model_validate("950 hPa"))
    hot = {"fluid": fluid(), "temperature_K": np.full(3, 343.15), "density_kg_m3": np.full(3, 970.0)} | state
    given: tuple[Any, Any, Any] = (
        SimpleNamespace(case=SimpleNamespace(plant=plant)), SimpleNamespace(machine=equipment),
        SimpleNamespace(pump=pump, state=SimpleNamespace(**hot)),
    )  # fmt: skip
    return suction_reserve(*given, book), {one.path: (one.basis, one.stated) for one in book.inputs()}


def test_suction_head_over_the_required_one_by_hand_and_noted_as_the_offers() -> None:
    offer = replace(machine(spray=SUCTION), stated=frozenset({"spray.suction_head"}))
    found, noted = suction(offer)
    # NPSH = (p − p_v)/(ρg) + z with hot water's vapour pressure.
    head = (95000.0 - float(water_saturation_pressure_Pa(343.15))) / (970.0 * 9.80665) + 0.5
    np.testing.assert_allclose(found, head / 2.0, rtol=1e-9)  # type: ignore[arg-type]
    assert noted == {
        "candidates[washer].spray.suction_head": ("stated", True),
        "candidates[washer].spray.npsh_required": ("engineering estimate", False),
        "plant.air_pressure": ("measured", True),
    }
    _, of_class = suction(replace(offer, is_candidate=False))
    assert of_class["machine_classes[washer].spray.npsh_required"] == ("stated", True)


def test_a_solvent_boils_by_its_own_vapour_pressure() -> None:
    solvent = fluid(water_based=False, family="solvent", ph=None)
    found, _ = suction(machine(spray=SUCTION), fluid=solvent)
    own = float(solvent_vapour_pressure_Pa(solvent, np.array([343.15]))[0])
    np.testing.assert_allclose(found, ((95000.0 - own) / (970.0 * 9.80665) + 0.5) / 2.0, rtol=1e-9)  # type: ignore[arg-type]
    # 20 kPa at 60 °C, 2350 kJ/kg, 18 g/mol: ln(p/p_ref) = (L·M/R)(1/T_ref − 1/T).
    expected = 20e3 * np.exp(2.35e6 * 0.018 / 8.314462618 * (1 / 333.15 - 1 / 343.15))
    assert own == pytest.approx(expected, rel=1e-9)


def test_suction_is_not_known_without_a_pump_or_without_one_of_its_two_heads() -> None:
    assert suction(machine(spray=SUCTION), pump=None)[0] is None
    for lacking in SUCTION:
        assert suction(machine(spray={name: value for name, value in SUCTION.items() if name != lacking})) == (None, {})


def test_boiling_at_the_inlet_is_no_reserve_and_a_pump_that_asks_for_little_has_much() -> None:
    boiling, _ = suction(machine(spray=SUCTION), temperature_K=np.full(3, 380.0))
    np.testing.assert_array_equal(boiling, np.zeros(3))  # type: ignore[arg-type]
    little, _ = suction(machine(spray=SUCTION | {"npsh_required": "0.5 m"}))
    usual, _ = suction(machine(spray=SUCTION))
    np.testing.assert_allclose(little, 4.0 * usual)  # type: ignore[arg-type,operator]
    none, _ = suction(machine(spray=SUCTION | {"npsh_required": "0 m"}))
    np.testing.assert_array_equal(none, np.full(3, np.inf))  # type: ignore[arg-type]


# ---- Drying ----------------------------------------------------------------------------------------------------------


def test_drying_time_allowed_over_drying_and_bake_needed() -> None:
    stage: Any = SimpleNamespace(max_time_s=np.full(3, 1200.0), needed_time_s=np.array([600.0, 0.0, 0.5]), bake=None)
    np.testing.assert_allclose(drying_ratio(stage), [2.0, np.inf, 2400.0])  # type: ignore[arg-type]
    stage.bake = SimpleNamespace(time_s=np.array([1800.0, 0.0, 0.0]))
    np.testing.assert_allclose(drying_ratio(stage), [0.5, np.inf, 2400.0])  # type: ignore[arg-type]
    stage.max_time_s = None
    assert drying_ratio(stage) is None


# ---- All seven -------------------------------------------------------------------------------------------------------

DRAWS, SEED = 5, 11
NONE: dict[str, Any] = dict.fromkeys(("wash", "materials", "dry"))


def hot_wash(hardest: float = 0.5, **changes: Any) -> Any:
    """Give a wash whose hardest kind needs a share of the pressure there is, and whose easy one soaks clear."""
    each = np.ones(DRAWS)

    def kind(share: float) -> Any:
        speed = 1e-6 * each
        ratio = np.asarray(gap_exchange_m_s(share * PRESSURE_PA, GAP)) / np.asarray(gap_exchange_m_s(PRESSURE_PA, GAP))
        depth = 1e-6 * ratio * TIME_S * each if share else 0.0 * each
        return SimpleNamespace(gap=GAP, speed_m_s=speed, soak_m_s05=0.0 * each, depth_needed_m=depth,
                               entry_pressure_Pa=0.0 * each, peak_pressure_Pa=each)  # fmt: skip

    drive = SimpleNamespace(mean_pressure_Pa=lambda gap, chosen: np.full(DRAWS, PRESSURE_PA)[chosen])
    state = SimpleNamespace(fluid=fluid(), temperature_K=np.full(DRAWS, 343.15), density_kg_m3=np.full(DRAWS, 970.0))
    usual = {"outcome": SimpleNamespace(kinds=(kind(hardest), kind(0.0))), "max_time_s": np.full(DRAWS, TIME_S),
             "reach_ratio": np.arange(DRAWS) + 1.5, "drive": drive, "pump": None, "state": state}  # fmt: skip
    return SimpleNamespace(**(usual | changes))


def seven(equipment: Machine, *, boards: Any = None, esd: Any = None, traceability: Any = None, cost: Any = None,
          **chosen: Any) -> Measures:  # fmt: skip
    """Give the measures of one machine whose board types all came out alike."""
    here = SimpleNamespace(chosen=SimpleNamespace(**(NONE | chosen)), esd=esd)
    outcome: Any = SimpleNamespace(machine=equipment, traceability=traceability, cost=cost, board=lambda name: here)
    plant = SimpleNamespace(air_pressure=AirPressure.model_validate("900..950..1000 hPa"))
    case = SimpleNamespace(board_types=tuple(boards or (board(),)), plant=plant)
    evaluation: Any = SimpleNamespace(case=case, draws=DRAWS, seed=SEED)
    return measures_of(evaluation, (outcome,))


def raw(found: Measures) -> dict[str, FloatArray]:
    assert found.by_board.shape == (DRAWS, 1, 7, 1)
    return {name: found.by_board[:, 0, place, 0] for place, name in enumerate(CRITERIA)}


def known(found: Measures) -> dict[str, list[float]]:
    return {name: list(value) for name, value in raw(found).items() if not np.all(np.isnan(value))}


def test_of_a_machine_of_which_nothing_is_known_no_measure_is() -> None:
    found = seven(machine())
    assert known(found) == {}
    assert (found.machine_ids, found.board_ids) == (("washer",), ("control",))
    assert (found.inputs, found.columns) == (((),), ({},))


def test_leaving_boards_uncleaned_reaches_nothing_and_leaves_its_esd_traceability_and_cost_open() -> None:
    assert known(seven(machine("none"))) == {
        "spray_reach": [0.0] * 5, "pump_reserve": [0.0] * 5, "material_compatibility": [1.0] * 5,
        "drying": [np.inf] * 5,
    }  # fmt: skip


def test_a_fluid_that_clears_nothing_has_no_reach_and_no_reserve() -> None:
    assert known(seven(machine(), wash=hot_wash(outcome=None))) == {
        "spray_reach": [0.0] * 5, "pump_reserve": [0.0] * 5,
    }  # fmt: skip
    # Its cost has its own place all the same.
    paid = seven(machine("none"), cost=SimpleNamespace(equivalent_annual_cost=np.full(5, 7.0)))
    assert known(paid)["cost_of_ownership"] == [7.0] * 5
    # How long it may wash is not known: nor are these two.
    assert known(seven(machine(), wash=hot_wash(max_time_s=None))) == {}


def test_reach_is_the_washs_own_and_the_reserve_that_of_the_kind_that_needs_longest() -> None:
    found = raw(seven(machine(), wash=hot_wash()))
    np.testing.assert_array_equal(found["spray_reach"], np.arange(5) + 1.5)
    np.testing.assert_allclose(found["pump_reserve"], 2.0, rtol=0.01)


def test_the_smaller_of_reserve_and_suction_counts_and_suction_is_noted_as_drawn() -> None:
    pump = machine(spray=SUCTION | {"npsh_required": "1..2..4 m"})
    book = InputBook(DRAWS, SEED)
    suction_m = book.take(pump.equipment.spray.suction_head, "candidates[washer].spray.suction_head", "")  # type: ignore[arg-type]
    required = book.take(pump.equipment.spray.npsh_required, "candidates[washer].spray.npsh_required", "")  # type: ignore[arg-type]
    air = book.take(AirPressure.model_validate("900..950..1000 hPa"), "plant.air_pressure", "")
    head = (air - float(water_saturation_pressure_Pa(343.15))) / (970.0 * 9.80665) + suction_m
    ratio = head / required
    assert np.ptp(ratio) > 1.0
    for share in (1.0 / 1.01, 0.25):
        reserve = float(pressure_reserve(hot_wash(share), hot_wash(share).outcome.kinds[0], np.full(5, TIME_S))[0])
        found = seven(pump, wash=hot_wash(share, pump=True))
        np.testing.assert_allclose(raw(found)["pump_reserve"], np.minimum(reserve, ratio), rtol=1e-9)
    assert np.any(ratio < reserve)
    assert np.any(ratio > reserve)
    assert {one.path for one in found.inputs[0]} == {
        "candidates[washer].spray.suction_head", "candidates[washer].spray.npsh_required", "plant.air_pressure",
    }  # fmt: skip
    assert set(found.columns[0]) == {"candidates[washer].spray.npsh_required", "plant.air_pressure"}
    np.testing.assert_array_equal(found.columns[0]["plant.air_pressure"], air)


def test_materials_count_with_the_replacements_that_are_priced() -> None:
    share, better = (SimpleNamespace(share=np.full(5, value)) for value in (0.25, 0.75))
    for measure, upgraded, expected in ((share, None, 0.25), (share, better, 0.75)):
        made = SimpleNamespace(measure=measure, measure_with_upgrade=upgraded)
        assert known(seven(machine(), materials=made)) == {"material_compatibility": [expected] * 5}
    assert known(seven(machine(), materials=SimpleNamespace(measure=None, measure_with_upgrade=None))) == {}


def test_drying_racking_traceability_and_cost_are_taken_over() -> None:
    dry = SimpleNamespace(max_time_s=np.full(5, 1200.0), needed_time_s=np.full(5, 600.0), bake=None)
    found = seven(machine(), dry=dry, esd=SimpleNamespace(margin_decades=np.full(5, 0.5)),
                  traceability=SimpleNamespace(share=0.8),
                  cost=SimpleNamespace(equivalent_annual_cost=np.full(5, 9e4)))  # fmt: skip
    assert known(found) == {"drying": [2.0] * 5, "esd_racking": [0.5] * 5, "traceability": [0.8] * 5,
                            "cost_of_ownership": [9e4] * 5}  # fmt: skip
    endless = seven(machine(), dry=SimpleNamespace(max_time_s=None, needed_time_s=np.full(5, 600.0), bake=None))
    assert known(endless) == {}


def test_board_types_share_by_their_yearly_volume_or_alike_where_nothing_is_made() -> None:
    two = (board(volume="1000 1/year"), board(id="power", volume="2000..3000..9000 1/year"))
    found = seven(machine(), boards=two)
    np.testing.assert_allclose(found.board_share, [0.25, 0.75], rtol=1e-12)
    assert found.board_ids == ("control", "power")
    assert found.board_share.dtype == np.float64
    still = tuple(board(id=name, volume="0 1/year") for name in ("a", "b", "c"))
    np.testing.assert_allclose(seven(machine(), boards=still).board_share, [1 / 3] * 3, rtol=1e-12)
    np.testing.assert_array_equal(seven(machine(), boards=still[:1]).board_share, [1.0])
