"""A plant with round prices, two board types and outcomes put together by hand, so that each cost is a short sum."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from importlib.resources import files
from types import SimpleNamespace
from typing import Any

import numpy as np
import yaml

from catalog_schema.case import Case, Library
from catalog_schema.library import load_library
from catalog_schema.machine import Machine
from model.capacity_stage import CapacityStage
from model.context import Context
from model.cost_drivers import CostDriver
from model.cost_finance import CostFinance
from model.cost_ledger import CostLedger
from model.cost_totals import BoardAmounts, CostStage, assemble
from model.depreciation import straight_line_shares
from model.machine_inputs import MachineInputs
from model.requirements import Thresholds
from model.uncertainty import InputBook
from tests.conftest import changed_record
from tests.model.records import board, fluid

DRAWS = 3
TARIFFS = {
    "labour": "36 EUR/h", "electricity": "0.2 EUR/kWh", "water": "2 EUR/m^3", "deionised_water": "20 EUR/m^3",
    "drain": "3 EUR/m^3", "compressed_air": "0.03 EUR/m^3", "exhaust_air": "0.001 EUR/m^3",
    "floor": "100 EUR/(m^2*year)", "resin": "10 EUR/L", "cleanliness_tests": "900 EUR/year", "downtime": "50 EUR/h",
}  # fmt: skip
FINANCE = {
    "horizon": "8 year", "discount_rate": "10 %", "inflation": "2 %", "inflation_per_line": {}, "tax_rate": "25 %",
    "depreciation": "straight line", "reference": None,
}  # fmt: skip
# 0.16 m × 0.1 m, both faces: 0.032 m². Under 4 chips of 10 mm × 10 mm: 4 · 1e-4 m² · the lesser of gap and residue.
LIBRARY_CHANGES = {"residue_per_area": "10 g/m^2", "residue_thickness": "50 µm", "residue_density": "1000 kg/m^3"}
AREA_M2 = 0.032
RESIDUE_KG = 10e-3 * AREA_M2 * 1 / 2 + 4 * 50e-6 * 0.01**2 * 1000.0


CONTENT = yaml.safe_load(files("demo_catalog").joinpath("through_hole_plant.yaml").read_text(encoding="utf-8"))


def case_by_hand(**plant: Any) -> Case:
    """Give the case of two board types, 1000 and 3000 a year, in lots of 20 and 50; sections of the plant changed."""
    section = CONTENT["plant"] | {"currency": "EUR", "working_days": 250, "exchange_rates": {"USD": 0.5}}
    section |= {"tariffs": TARIFFS, "finance": FINANCE}
    for name, values in plant.items():
        section[name] = {**section.get(name, {}), **values} if isinstance(values, dict) else values
    content = CONTENT | {"plant": section, "candidates": [], "compare_classes": [], "priorities": {}}
    case = Case.model_validate(content | {"board_types": CONTENT["board_types"][:1]})
    boards = (
        board(id="control", components=[{"kind": "chip", "count": 4}], populated_sides=1),
        board(id="power", name="Power board", components=[{"kind": "chip", "count": 4}], populated_sides=1,
              volume="3000 1/year", lot_size=50),
    )  # fmt: skip
    return case.model_copy(update={"board_types": boards})


CASE = case_by_hand()


@cache
def library_by_hand(**fluid_changes: Any) -> Library:
    """Give the library with a fluid, a flux and a component kind of round numbers."""
    library = load_library()
    flux = next(one for one in library.flux_kinds if one.id == "ROL0")
    kind = changed_record(
        library.component_kinds[0], {"id": "chip", "gap": "100 µm", "body_length": "10 mm", "flux_path": "5 mm"}
    )
    cleaner = fluid(**{"bath_price": "2 EUR/L", "disposal_price": "0.5 EUR/L"} | fluid_changes)
    other = fluid(id="other", name="Other", bath_price="4 EUR/L", disposal_price="1 EUR/L")
    return library.model_copy(update={
        "fluids": (*library.fluids, cleaner, other), "flux_kinds": (changed_record(flux, LIBRARY_CHANGES),),
        "component_kinds": (kind,), "constants": changed_record(library.constants, {"bath_life_max": "500 h"}),
    })  # fmt: skip


library_by_hand()  # made once, before the first test


def context_by_hand(machine: Machine, case: Case | None = None, **fluid_changes: Any) -> Context:
    """Give what the cost of one machine reads; nothing is traced."""

    def no_trace(geometry: object) -> Any:
        raise AssertionError(f"The cost asked for a ray trace of {geometry}.")

    return Context(
        case=case or CASE, library=library_by_hand(**fluid_changes),
        inputs=MachineInputs(machine, InputBook(DRAWS, 1, {"EUR": 1.0, "USD": 0.5})),
        thresholds=Thresholds(meets_from=0.9, misses_to=0.1), trace_of=no_trace, fields={}, materials={},
    )  # fmt: skip


def ledger_by_hand(machine: Machine, *, machines: float = 2.0, case: Case | None = None,
                   **fluid_changes: Any) -> CostLedger:  # fmt: skip
    """Give an empty ledger for some machines of one kind."""
    return CostLedger(context=context_by_hand(machine, case, **fluid_changes), machines=machines)


def moving(machine: Machine, way: Any) -> Machine:
    """Give the machine with another way for boards to pass through."""
    return replace(machine, moving=way)


def each(value: float) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Give one value for every draw."""
    return np.full(DRAWS, value)


def cycle_by_hand(**changes: float) -> SimpleNamespace:
    """Give a cycle of 10, 5 and 20 minutes with 3 minutes of handling that keeps the machine busy for 40."""
    times = {"wash_s": 600.0, "rinse_s": 300.0, "dry_s": 1200.0, "handling_s": 180.0, "occupied_s": 2400.0}
    return SimpleNamespace(**{name: each(value) for name, value in (times | changes).items()})


def rinse_by_hand(water_m3: float = 0.01, resin_m3: float = 0.0, drag_out_m3: float = 2e-6) -> SimpleNamespace:
    """Give a rinse of 10 L of water and 2 mL of wash fluid carried out per board."""
    return SimpleNamespace(water_m3=each(water_m3), resin_m3=each(resin_m3), drag_out_m3=each(drag_out_m3))


def outcome_by_hand(board_id: str = "control", **chosen: Any) -> Any:
    """Give a board type's outcome with a fluid and a cycle, as far as the cost reads it."""
    usual: dict[str, Any] = {"fluid_id": "cleaner", "cycle": cycle_by_hand(), "rinse": rinse_by_hand(), "wash": None,
                             "materials": None, "judged": ()}  # fmt: skip
    return SimpleNamespace(board_id=board_id, chosen=SimpleNamespace(**(usual | chosen)), esd=None)


def capacity_by_hand(*, machines: int = 2, run_hours: float = 1000.0, availability: float = 0.8,
                     **loads: float) -> CapacityStage:  # fmt: skip
    """Give the volume's outcome: loads per year by board type and running hours of all machines."""
    return CapacityStage(
        judged=(), machines=machines, needed=each(machines), utilisation=each(0.5), waiting_s=each(0.0),
        loads_per_year={name: each(value) for name, value in (loads or {"control": 100.0}).items()},
        run_hours_per_year=each(run_hours), availability=each(availability),
    )  # fmt: skip


UNIT_PAIRS = {
    ("h/year", "money/h"), ("L/year", "money/L"), ("m³/year", "money/m³"), ("kWh/year", "money/kWh"),
    ("boards/year", "money/board"), ("sets/year", "money/set"), ("failures/year", "money/failure"),
    ("m²", "money/(m²·year)"), ("plant", "money/year"), ("machines", "money/year"), ("machines", "money"),
    ("times", "money"),
}  # fmt: skip
"""A quantity and its price make money, or money a year."""


def check_words(ledger: CostLedger) -> None:
    """Check that every line says in a sentence how it was counted, in units that make money, and why one is missing."""
    for one in ledger.drivers:
        assert (one.quantity_unit, one.price_unit) in UNIT_PAIRS, one
        assert isinstance(one.price_path, str)
        assert re.fullmatch(r"[A-Z][a-z]+\b.*[a-z]\.", one.how), one.how
    for name, said in ledger.missing.items():
        assert re.fullmatch(rf"{re.escape(name)} is left out: [a-z].*[a-z)]\.", said), said


def quantities(ledger: CostLedger) -> dict[str, float]:
    """Give the quantity of every driver by its id, the same in every draw."""
    assert all(np.ptp(one.quantity) == 0.0 for one in ledger.drivers)
    check_words(ledger)
    return {one.id: float(one.quantity[0]) for one in ledger.drivers}


def money(ledger: CostLedger) -> dict[str, float]:
    """Give the money of every driver by its id, the same in every draw."""
    assert all(np.ptp(one.amount) == 0.0 for one in ledger.drivers)
    check_words(ledger)
    return {one.id: float(one.amount[0]) for one in ledger.drivers}


def stage_by_hand(
    amounts: dict[str, Any], *, machines: float = 1.0, draws: int = DRAWS,
    boards: dict[str, BoardAmounts] | None = None, missing: dict[str, str] | None = None, **finance: Any,
) -> CostStage:  # fmt: skip
    """Give the cost of lines, or of "line|board type", over four years at 10 % without tax or inflation."""
    usual: dict[str, Any] = {
        "horizon_years": 4, "life_years": np.full(draws, 4), "depreciation_shares": straight_line_shares(4),
        "depreciation": "", "capital_has_tax_effect": True, "tax_rate": np.zeros(draws),
        "discount_rate": np.full(draws, 0.1), "inflation": np.zeros(draws), "inflation_by_group": {},
        "residual_share": np.zeros(draws), "remarks": ("A remark.",),
    }  # fmt: skip
    drivers = []
    for name, amount in amounts.items():
        line_id, _, board_id = name.partition("|")
        count = machines if line_id == "purchase" else 1.0
        drivers.append(CostDriver(
            line_id=line_id, board_id=board_id, quantity=np.full(draws, count), quantity_unit="",
            price=np.broadcast_to(np.asarray(amount, dtype=np.float64), (draws,)), price_unit="money", price_path="",
            how="By hand.",
        ))  # fmt: skip
    return assemble(tuple(drivers), CostFinance(**(usual | finance)), machines, boards or {}, missing or {})
