"""Records that several test modules build on: one fluid, one machine, one board type, each changed in a word."""

from __future__ import annotations

from typing import Any

from catalog_schema.boards import BoardType
from catalog_schema.fluids import Fluid
from catalog_schema.machine import Machine
from catalog_schema.machines import Equipment, Principle


def fluid(**changes: Any) -> Fluid:
    base: dict[str, Any] = {
        "id": "cleaner", "name": "Cleaner", "family": "alkaline", "water_based": True, "ph": 11,
        "density": "1000 kg/m^3", "viscosity": "0.5 mPa*s", "viscosity_loss_per_kelvin": "0.02 1/K",
        "surface_tension": "30 mN/m", "contact_angle_component": "30 deg", "contact_angle_board": "30 deg",
        "reference_temperature": "60 degC", "min_temperature": "40 degC", "max_temperature": "80 degC",
        "diffusivity": "5e-10 m^2/s", "capacity": {"rosin": "100 g/L"}, "capacity_gain_per_kelvin": "0.02 1/K",
        "vapour_pressure": "20 kPa", "latent_heat": "2350 kJ/kg", "molar_mass": "18 g/mol",
        "boiling_temperature": "100 degC", "rinse_with": "water", "bath_load_limit": "10 g/L",
        "conductive_share": "5 %", "bath_price": "1 EUR/L", "disposal_price": "1 EUR/L",
    }  # fmt: skip
    return Fluid.model_validate({**base, **changes})


def machine(principle: Principle = "spray in air", **equipment: Any) -> Machine:
    return Machine(
        id="washer", name="Washer", class_id="washers", class_name="Washers", principle=principle, moving="batch",
        is_candidate=True, equipment=Equipment.model_validate(equipment), stated=frozenset(equipment), count=None,
        supplier="", note="",
    )  # fmt: skip


def board(**changes: Any) -> BoardType:
    base: dict[str, Any] = {
        "id": "control", "name": "Control board", "length": "160 mm", "width": "100 mm", "thickness": "1.6 mm",
        "volume": "1000 1/year", "lot_size": 20, "alloy": "lead-free", "flux": "ROL0",
        "peak_reflow_temperature": "245 degC", "wait_before_wash": "4 h",
        "components": [{"kind": "can", "count": 2}], "clear_distance": "5 mm", "max_temperature": "85 degC",
    }  # fmt: skip
    return BoardType.model_validate({**base, **changes})
