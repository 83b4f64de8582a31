"""A fluid and a residue brought from what the records say to wash temperature, by hand."""

from __future__ import annotations

from math import exp, radians

import numpy as np
import pytest

from catalog_schema.boards import BoardType, FluxKind
from catalog_schema.fluids import Fluid
from catalog_schema.library import load_library
from model.fluid_state import dissolves, fluid_path, fluid_state, residue_state
from model.uncertainty import InputBook

DRAWS = 3


def fluid(**changes: object) -> Fluid:
    exact = {
        "density": "985 kg/m^3", "viscosity": "0.6 mPa*s", "viscosity_loss_per_kelvin": "0.02 1/K",
        "surface_tension": "30 mN/m", "contact_angle_component": "20 deg", "contact_angle_board": "40 deg",
        "reference_temperature": "60 degC", "diffusivity": "5e-10 m^2/s",
        "capacity": {"rosin": "80 g/L", "resin": "0 g/L"}, "capacity_gain_per_kelvin": "0.02 1/K",
    }  # fmt: skip
    known = next(one for one in load_library().fluids if one.id == "saponified-water")
    return Fluid.model_validate(known.model_dump(exclude_none=True) | exact | changes)


def board(peak: str = "245 degC", wait: str = "24 h") -> BoardType:
    return BoardType.model_validate({
        "id": "b", "name": "B", "length": "160 mm", "width": "100 mm", "thickness": "1.6 mm",
        "volume": "1000 boards/year", "lot_size": 10, "alloy": "lead-free", "flux": "ROL0",
        "peak_reflow_temperature": peak, "wait_before_wash": wait, "components": [{"kind": "dip", "count": 1}],
        "clear_distance": "2 mm", "max_temperature": "100 degC",
    })  # fmt: skip


def flux(**changes: object) -> FluxKind:
    exact = {"reference_peak_temperature": "225 degC", "hardening_per_kelvin": "0.01 1/K",
             "hardening_per_hour": "0.003 1/h", "residue_density": "1090 kg/m^3",
             "residue_thickness": "18 um"}  # fmt: skip
    known = next(one for one in load_library().flux_kinds if one.id == "ROL0")
    return FluxKind.model_validate(known.model_dump(exclude_none=True) | exact | changes)


def at(celsius: float) -> np.ndarray:
    return np.full(DRAWS, celsius + 273.15)


def test_ten_kelvin_hotter_thins_the_fluid_and_speeds_diffusion_as_stokes_and_einstein_say() -> None:
    book = InputBook(DRAWS, 1)
    state = fluid_state(fluid(), at(70), book)
    assert {one.basis for one in book.inputs()} == {"engineering estimate"}
    np.testing.assert_allclose(state.viscosity_Pa_s, 0.6e-3 * exp(-0.2), rtol=1e-12)
    np.testing.assert_allclose(state.diffusivity_m2_s, 5e-10 * (343.15 / 333.15) * exp(0.2), rtol=1e-12)
    for found, expected in (
        (state.density_kg_m3, 985.0), (state.surface_tension_N_m, 0.030),
        (state.contact_angle_component_rad, radians(20)), (state.contact_angle_board_rad, radians(40)),
        (state.temperature_K, 343.15),
    ):  # fmt: skip
        np.testing.assert_allclose(found, expected, rtol=1e-12)
    assert state.fluid == fluid()


def test_a_fluid_dissolves_only_families_for_which_it_has_room() -> None:
    assert dissolves(fluid(), "rosin")
    assert not dissolves(fluid(), "resin")  # stated as zero
    assert not dissolves(fluid(), "inorganic")  # not stated
    assert dissolves(fluid(capacity={"rosin": "0..1..2 g/L"}), "rosin")
    assert dissolves(fluid(capacity={"rosin": "0..0.2..0.5 g/L"}), "rosin")
    assert fluid_path(fluid(), "density") == "fluids[saponified-water].density"


@pytest.mark.parametrize("scale_h", [6.0, 24.0])
def test_capacity_grows_with_heat_and_shrinks_with_the_reflow_peak_and_the_wait(scale_h: float) -> None:
    state = fluid_state(fluid(), at(70), InputBook(DRAWS, 1))
    book = InputBook(DRAWS, 1)
    residue = residue_state(state, flux(), board(), np.full(DRAWS, scale_h * 3600.0), book)
    # 80 g/L · e^(0.02·10) · e^(−0.01·20) · (1 + 24/t)^(−0.003 t): the loss of the first hours is 0.3 % an hour.
    expected = 80.0 * exp(0.2) * exp(-0.2) * (1.0 + 24.0 / scale_h) ** (-0.003 * scale_h)
    np.testing.assert_allclose(residue.capacity_kg_m3, expected, rtol=1e-9)
    np.testing.assert_allclose(residue.residue_density_kg_m3, 1090.0)
    np.testing.assert_allclose(residue.residue_thickness_m, 18e-6)
    capacity = {"capacity.rosin", "capacity_gain_per_kelvin", "reference_temperature"}
    assert {one.path for one in book.inputs() if one.path.startswith("fluids")} == {
        f"fluids[saponified-water].{field}" for field in capacity
    }
    # What names no basis of its own is our estimate, or measured where it is the plant's board.
    assert {(one.path.partition("[")[0], one.basis) for one in book.inputs()} == {
        ("fluids", "engineering estimate"), ("flux_kinds", "engineering estimate"), ("board_types", "measured"),
    }  # fmt: skip


def test_a_short_wait_costs_the_stated_share_per_hour() -> None:
    state = fluid_state(fluid(), at(60), InputBook(DRAWS, 1))
    after = [
        residue_state(state, flux(), board("225 degC", wait), np.full(DRAWS, 24 * 3600.0), InputBook(DRAWS, 1))
        for wait in ("0 h", "0.1 h")
    ]
    np.testing.assert_allclose(after[0].capacity_kg_m3, 80.0, rtol=1e-12)
    np.testing.assert_allclose(1.0 - after[1].capacity_kg_m3 / after[0].capacity_kg_m3, 0.1 * 0.003, rtol=1e-2)


def test_a_family_that_the_fluid_does_not_name_has_no_capacity_in_any_draw() -> None:
    state = fluid_state(fluid(), at(60), InputBook(DRAWS, 1))
    other = residue_state(state, flux(family="inorganic"), board(), np.full(DRAWS, 3600.0), InputBook(DRAWS, 1))
    np.testing.assert_array_equal(other.capacity_kg_m3, np.zeros(DRAWS))
