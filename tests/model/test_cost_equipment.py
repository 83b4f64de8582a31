"""Cost of having the machines by hand: prices once and per machine, upgrades, seals by life, floor, tests."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from model.cost_equipment import add_keeping, add_purchase, add_tests, add_upgrades
from tests.model.cost_by_hand import capacity_by_hand, each, ledger_by_hand, money, outcome_by_hand, quantities
from tests.model.records import machine

HOUR_S = 3600.0
ONCE = {"purchase": "50000 EUR", "freight": "800 EUR", "installation": "2000 EUR", "qualification": "3000 EUR",
        "training": "900 EUR"}  # fmt: skip


def materials(price: float | None = None, *, upgrade: bool = True, life_h: float | None = None,
              life_with_upgrade_h: float | None = None) -> Any:  # fmt: skip
    def measure(hours: float | None) -> Any:
        return SimpleNamespace(first_replacement_s=None if hours is None else each(hours * HOUR_S))

    return SimpleNamespace(
        upgrade=SimpleNamespace(price=None if price is None else each(price)) if upgrade else None,
        measure=measure(life_h),
        measure_with_upgrade=None if life_with_upgrade_h is None else measure(life_with_upgrade_h),
    )  # fmt: skip


def test_what_is_paid_at_the_start_is_per_machine_but_training_is_paid_once() -> None:
    ledger = ledger_by_hand(machine(prices=ONCE), machines=2.0)
    add_purchase(ledger)
    assert quantities(ledger) == {"purchase": 2, "freight": 2, "installation": 2, "qualification": 2, "training": 1}
    assert money(ledger) == {
        "purchase": 100_000, "freight": 1600, "installation": 4000, "qualification": 6000, "training": 900,
    }  # fmt: skip
    for one in ledger.drivers:
        once = one.line_id == "training"
        assert (one.quantity_unit, one.price_unit) == ("times" if once else "machines", "money")
        assert one.how == ("Once for all machines." if once else "Per machine.")
    assert ledger.drivers[0].price_path == "candidates[washer].prices.purchase"


def test_a_price_that_an_offer_does_not_give_is_named_but_a_service_need_not_give_it() -> None:
    ledger = ledger_by_hand(machine())
    add_purchase(ledger)
    assert set(ledger.missing) == {"Purchase price", "Freight", "Installation", "Qualification", "Training"}
    assert ledger.missing["Freight"] == "Freight is left out: its price is not known; ask the supplier."
    service = ledger_by_hand(machine("service"))
    add_purchase(service)
    assert service.missing == {}
    assert service.drivers == []


def test_the_dearest_set_of_seals_is_bought_for_each_machine() -> None:
    ledger = ledger_by_hand(machine(), machines=2.0)
    boards = (outcome_by_hand(materials=materials(300.0)),
              outcome_by_hand("power", fluid_id="other", materials=materials(500.0)))  # fmt: skip
    add_upgrades(ledger, boards, None)
    assert quantities(ledger) == {"seal-upgrade": 2}
    assert money(ledger) == {"seal-upgrade": 1000}
    assert ledger.missing == {}
    assert ledger.drivers[0].price_path == ""
    assert (ledger.drivers[0].quantity_unit, ledger.drivers[0].price_unit) == ("machines", "money")


def test_the_dearest_upgrade_is_found_in_each_draw_for_itself() -> None:
    ledger = ledger_by_hand(machine(), machines=1.0)
    boards = []
    for board_id, fluid_id, prices in (("control", "cleaner", [300.0, 400.0, 500.0]),
                                       ("power", "other", [500.0, 400.0, 350.0])):  # fmt: skip
        outcome = outcome_by_hand(board_id, fluid_id=fluid_id, materials=materials(1.0))
        outcome.chosen.materials.upgrade.price = np.array(prices)
        outcome.esd = SimpleNamespace(upgrade_price=np.array(prices) / 10.0)
        boards.append(outcome)
    add_upgrades(ledger, tuple(boards), None)
    assert {one.line_id: one.amount.tolist() for one in ledger.drivers} == {
        "seal-upgrade": [500.0, 400.0, 500.0], "holder-upgrade": [50.0, 40.0, 50.0],
    }  # fmt: skip
    assert [one.how for one in ledger.drivers] == [
        "Parts that do not stand the chosen fluid, replaced in each machine.",
        "Holders that make the rack dissipative, for each machine.",
    ]


def test_seals_without_a_price_are_named_and_the_priced_ones_still_counted() -> None:
    ledger = ledger_by_hand(machine(), machines=1.0)
    boards = (outcome_by_hand(materials=materials(None)),
              outcome_by_hand("power", fluid_id="other", materials=materials(500.0)))  # fmt: skip
    add_upgrades(ledger, boards, None)
    assert money(ledger) == {"seal-upgrade": 500}
    assert ledger.missing["Seals replaced by resistant ones"].endswith(
        "left out: the price of a resistant seal is not known; ask the supplier."
    )


def test_no_upgrade_needed_costs_nothing_and_nothing_is_missing() -> None:
    ledger = ledger_by_hand(machine())
    add_upgrades(
        ledger, (outcome_by_hand(materials=materials(upgrade=False)), outcome_by_hand("power", fluid_id="other")),
        SimpleNamespace(option_needed=False, option_price=each(7000.0)),
    )  # fmt: skip
    assert ledger.drivers == []
    assert ledger.missing == {}


def test_a_traceability_option_is_paid_for_each_machine_only_where_it_is_needed() -> None:
    ledger = ledger_by_hand(machine(), machines=2.0)
    add_upgrades(ledger, (), SimpleNamespace(option_needed=True, option_price=each(7000.0)))
    assert money(ledger) == {"traceability-option": 14_000}
    assert ledger.drivers[0].price_path == "candidates[washer].traceability_option_price"
    assert (ledger.drivers[0].quantity_unit, ledger.drivers[0].price_unit) == ("machines", "money")
    unknown = ledger_by_hand(machine())
    add_upgrades(unknown, (), SimpleNamespace(option_needed=True, option_price=None))
    assert unknown.missing == {
        "Traceability option": "Traceability option is left out: its price is not known; ask the supplier."
    }


def test_the_dearest_holders_that_a_board_type_asks_for_are_bought_for_each_machine() -> None:
    ledger = ledger_by_hand(machine(), machines=3.0)
    boards = []
    for board_id, price in (("control", each(200.0)), ("power", each(450.0)), ("third", None)):
        outcome = outcome_by_hand(board_id)
        outcome.esd = SimpleNamespace(upgrade_price=price)
        boards.append(outcome)
    add_upgrades(ledger, (*boards, outcome_by_hand("fourth")), None)
    assert money(ledger) == {"holder-upgrade": 1350}
    assert ledger.drivers[0].price_path == "candidates[washer].rack.dissipative_holders_price"
    assert (ledger.drivers[0].quantity_unit, ledger.drivers[0].price_unit) == ("machines", "money")


YEARLY = {"service_per_year": "1200 EUR/year", "spare_parts_per_year": "300 EUR/year",
          "filters_per_year": "250 EUR/year", "seals_per_year": "150 EUR/year"}  # fmt: skip


def test_what_keeps_machines_going_is_paid_each_year_for_each_machine() -> None:
    ledger = ledger_by_hand(machine(prices=YEARLY, site={"floor_area": "4 m^2"}), machines=2.0)
    add_keeping(ledger, (), None)
    assert money(ledger) == pytest.approx({
        "service": 2400, "spare-parts": 600, "filters": 500, "seals": 300, "floor": 4 * 2 * 100, "tests": 900,
    })  # fmt: skip
    assert {one.price_unit for one in ledger.drivers if one.line_id in ("service", "seals")} == {"money/year"}
    floor = next(one for one in ledger.drivers if one.line_id == "floor")
    assert (float(floor.quantity[0]), floor.quantity_unit, floor.price_unit) == (8.0, "m²", "money/(m²·year)")
    assert floor.price_path == "plant.tariffs.floor"
    assert ledger.missing == {}


def test_an_unknown_floor_area_is_named() -> None:
    ledger = ledger_by_hand(machine(prices=YEARLY))
    add_keeping(ledger, (), None)
    assert ledger.missing == {
        "Floor space": "Floor space is left out: the floor area of the machine is not known; ask the supplier."
    }


def test_cleanliness_tests_are_paid_once_for_the_plant_whoever_washes() -> None:
    ledger = ledger_by_hand(machine("service"), machines=0.0)
    add_tests(ledger)
    assert quantities(ledger) == {"tests": 1}
    assert money(ledger)["tests"] == pytest.approx(900.0)
    assert (ledger.drivers[0].quantity_unit, ledger.drivers[0].price_unit) == ("plant", "money/year")


PARTS = [{"part": "pump seal", "material": "EPDM", "replacement_price": "80 EUR"},
         {"part": "tank", "material": "PTFE"},
         {"part": "hose", "material": "EPDM", "replacement_price": "40 EUR"}]  # fmt: skip


def seals(boards: tuple[Any, ...], **equipment: Any) -> Any:
    prices = {name: value for name, value in YEARLY.items() if name != "seals_per_year"}
    ledger = ledger_by_hand(machine(prices=prices, **({"wetted_parts": PARTS} | equipment)))
    add_keeping(ledger, boards, capacity_by_hand(run_hours=6000.0))
    return ledger


def test_without_a_price_per_year_all_priced_seals_are_replaced_when_the_first_is_due() -> None:
    # 6000 h ÷ 1500 h = 4 sets a year of 80 + 40 EUR.
    ledger = seals((outcome_by_hand(materials=materials(life_h=1500.0)),
                    outcome_by_hand("power", fluid_id="other", materials=materials(life_h=2000.0))))  # fmt: skip
    assert quantities(ledger)["seals-by-life"] == pytest.approx(4.0)
    assert money(ledger)["seals-by-life"] == pytest.approx(480.0)
    one = next(one for one in ledger.drivers if one.line_id == "seals-by-life")
    assert (one.quantity_unit, one.price_unit, one.price_path) == ("sets/year", "money/set", "")
    paths = [record.path for record in ledger.context.inputs.book.inputs()]
    assert "candidates[washer].wetted_parts[1].replacement_price" in paths
    assert "candidates[washer].wetted_parts[3].replacement_price" in paths


def test_seals_replaced_by_resistant_ones_count_with_their_longer_life() -> None:
    ledger = seals((outcome_by_hand(materials=materials(10.0, life_h=100.0, life_with_upgrade_h=3000.0)),))
    assert quantities(ledger)["seals-by-life"] == pytest.approx(2.0)


def test_seals_that_last_minutes_are_replaced_as_often() -> None:
    ledger = seals((outcome_by_hand(materials=materials(life_h=0.5)),))
    assert quantities(ledger)["seals-by-life"] == pytest.approx(12_000.0)


def test_seals_without_end_of_life_cost_nothing() -> None:
    ledger = seals((outcome_by_hand(materials=materials(life_h=float("inf"))),))
    assert quantities(ledger)["seals-by-life"] == 0.0


@pytest.mark.parametrize(
    ("boards", "equipment"),
    [((), {}), ((outcome_by_hand(materials=materials(life_h=None)),), {}),
     ((outcome_by_hand(materials=materials(life_h=100.0)),), {"wetted_parts": PARTS[1:2]}),
     ((outcome_by_hand(materials=materials(life_h=100.0)),), {"wetted_parts": None})],
)  # fmt: skip
def test_seals_are_left_out_where_neither_price_nor_life_is_known(boards: Any, equipment: dict[str, Any]) -> None:
    ledger = seals(boards, **equipment)
    assert "seals-by-life" not in quantities(ledger)
    assert "neither a price per year nor the life and price of the parts" in ledger.missing[
        "Seals, by the life of their material"
    ]


def test_seals_by_life_need_running_hours() -> None:
    ledger = ledger_by_hand(machine(wetted_parts=PARTS))
    add_keeping(ledger, (outcome_by_hand(materials=materials(life_h=100.0)),), None)
    assert "Seals, by the life of their material" in ledger.missing


@pytest.mark.parametrize(("candidate", "stated", "basis", "counts_as_stated"), [
    (True, True, "stated", True), (True, False, "engineering estimate", False),
    (False, False, "engineering estimate", True),
])  # fmt: skip
def test_prices_of_parts_keep_who_said_them(
    candidate: bool, stated: bool, basis: str, counts_as_stated: bool
) -> None:
    equipment = replace(machine(wetted_parts=PARTS), is_candidate=candidate,
                        stated=frozenset({"wetted_parts"} if stated else ()))  # fmt: skip
    ledger = ledger_by_hand(equipment)
    add_keeping(ledger, (outcome_by_hand(materials=materials(life_h=100.0)),), capacity_by_hand())
    record = next(one for one in ledger.context.inputs.book.inputs() if "replacement_price" in one.path)
    assert (record.basis, record.stated) == (basis, counts_as_stated)
    assert np.isfinite(record.likely)
