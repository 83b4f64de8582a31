"""Reserve of pressure and of suction, each by itself, from figures made up so that the answer is known."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from catalog_schema.machine import Machine
from catalog_schema.quantity import AirPressure
from model.fluids import water_saturation_pressure_Pa
from model.gap import GapState, gap_exchange_m_s
from model.measures import drying_ratio, pressure_reserve, solvent_vapour_pressure_Pa, suction_reserve
from model.uncertainty import FloatArray, InputBook
from tests.model.records import fluid, machine

PRESSURE_PA, TIME_S, SOAK = 2000.0, 600.0, 2e-5
GAP = GapState(gap_m=50e-6, flow_length_m=5e-3, viscosity_Pa_s=5e-4, density_kg_m3=985.0, diffusivity_m2_s=5e-10,
               entry_pressure_Pa=0.0, end_loss_coefficient=1.5)  # fmt: skip


def reserve(needed_pressure_Pa: float | FloatArray, time_s: float = TIME_S, pressure_Pa: float = PRESSURE_PA,
            **changes: Any) -> FloatArray:  # fmt: skip
    """Reserve of a gap whose front moves like its exchange, with a depth that one pressure just clears in time."""
    here = np.asarray(gap_exchange_m_s(pressure_Pa, GAP))
    speed = np.full(1, 1e-6) * (here > 0.0)
    share = np.asarray(gap_exchange_m_s(needed_pressure_Pa, GAP)) / (here if pressure_Pa else 1.0)
    depth = np.atleast_1d(1e-6 * share * TIME_S + SOAK * TIME_S**0.5)
    kind = {"gap": GAP, "speed_m_s": speed, "soak_m_s05": np.full(1, SOAK), "depth_needed_m": depth,
            "entry_pressure_Pa": np.zeros(1), "peak_pressure_Pa": np.zeros(1)}  # fmt: skip

    def mean_pressure_Pa(gap: GapState, chosen: slice) -> FloatArray:
        assert gap is GAP
        return np.full(1, pressure_Pa)[chosen]

    wash: Any = SimpleNamespace(drive=SimpleNamespace(mean_pressure_Pa=mean_pressure_Pa))
    given: Any = SimpleNamespace(**(kind | changes))
    return pressure_reserve(wash, given, np.full(1, time_s))


@pytest.mark.parametrize("times", [0.02, 0.1, 0.7, 1.0, 1.5, 10.0, 100.0])
def test_the_reserve_is_the_pressure_over_the_one_that_just_clears_in_time(times: float) -> None:
    assert reserve(PRESSURE_PA / times)[0] == pytest.approx(times, rel=0.01)


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
