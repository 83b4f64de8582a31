"""Kinds of cost: how each is paid, taxed and grows, and the units in which prices are shown."""

from __future__ import annotations

import numpy as np
import pytest

from model.cost_drivers import (
    GROUPS,
    LINE_KINDS,
    PRICE_UNITS,
    CostDriver,
    LineKind,
    _capital,
    _running,
    with_medians,
)

# What grows with what: common practice of plant costing, no source; written down apart from the program.
FIXED = {"training", "tests"}
PER_MACHINE = {
    "purchase", "freight", "installation", "qualification", "seal-upgrade", "traceability-option", "holder-upgrade",
    "evaporation", "filters", "seals", "spare-parts", "service", "floor",
}  # fmt: skip
AT_START = {
    "purchase", "freight", "installation", "qualification", "training", "seal-upgrade", "traceability-option",
    "holder-upgrade",
}  # fmt: skip
GROUP_OF = {
    "purchase": "purchase", "freight": "purchase", "installation": "purchase", "qualification": "purchase",
    "training": "purchase", "seal-upgrade": "upgrades", "traceability-option": "upgrades",
    "holder-upgrade": "upgrades", "operators": "labour", "handling": "labour", "electricity": "energy",
    "compressed-air": "energy", "exhaust-air": "energy", "wash-fluid": "fluids", "evaporation": "fluids",
    "bath-changes": "fluids", "fluid-disposal": "waste", "rinse-water": "water", "drain": "water", "resin": "water",
    "filters": "parts", "seals": "parts", "seals-by-life": "parts", "spare-parts": "parts", "service": "service",
    "floor": "floor", "tests": "tests", "downtime": "downtime", "field-failures": "field failures",
    "bought-service": "bought service",
}  # fmt: skip


def test_every_kind_of_cost_stands_under_its_heading_and_grows_with_what_causes_it() -> None:
    assert {line_id: kind.group for line_id, kind in LINE_KINDS.items()} == GROUP_OF
    assert set(GROUP_OF.values()) == set(GROUPS)
    for line_id, kind in LINE_KINDS.items():
        scaling = "fixed" if line_id in FIXED else "per machine" if line_id in PER_MACHINE else "with volume"
        assert kind.scaling == scaling, line_id
        assert kind.timing == ("once at start" if line_id in AT_START else "every year"), line_id


def test_equipment_is_capitalised_and_renewed_while_proof_and_teaching_are_spent_at_once() -> None:
    capitalised = AT_START - {"qualification", "training"}
    assert {line_id for line_id, kind in LINE_KINDS.items() if kind.depreciable} == capitalised
    # A new machine must be qualified again; its operators know how.
    assert {line_id for line_id, kind in LINE_KINDS.items() if kind.renewed} == capitalised | {"qualification"}


def test_names_of_lines_differ() -> None:
    assert len({kind.name for kind in LINE_KINDS.values()}) == len(LINE_KINDS)


def test_price_units_are_what_one_unit_of_si_is_in_them() -> None:
    # SI is money per second, joule, m³; a year is 365.25 days (Julian year, IAU).
    assert PRICE_UNITS == pytest.approx({
        "money": 1, "money/h": 3600, "money/kWh": 3.6e6, "money/m³": 1, "money/L": 0.001, "money/year": 31_557_600,
        "money/(m²·year)": 31_557_600, "money/board": 1, "money/failure": 1, "money/set": 1,
    }, rel=1e-15)  # fmt: skip


def test_the_driver_at_medians_takes_the_median_of_quantity_and_of_price_each_for_itself() -> None:
    one = CostDriver(line_id="service", quantity=np.array([1.0, 2.0, 9.0]), quantity_unit="machines",
                     price=np.array([30.0, 10.0, 20.0]), price_unit="money/year", price_path="p", how="h")  # fmt: skip
    middle = with_medians(one)
    assert (middle.quantity.tolist(), middle.price.tolist()) == ([2.0], [20.0])
    assert middle.amount.tolist() == [40.0]
    assert (middle.id, middle.name, middle.group) == ("service", "Service contract", "service")


def test_running_and_capital_kinds_are_what_they_say() -> None:
    assert _running("Sand", "parts", "fixed") == LineKind(
        name="Sand", group="parts", scaling="fixed", timing="every year", depreciable=False, renewed=False
    )
    kept = {"scaling": "per machine", "timing": "once at start", "depreciable": True, "renewed": True}
    assert _capital("Lid") == LineKind(name="Lid", group="purchase", **kept)
    assert _capital("Lid", "upgrades") == LineKind(name="Lid", group="upgrades", **kept)
