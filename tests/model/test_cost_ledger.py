"""Where drivers are gathered: what has no end is named instead of added, what is missing is named once."""

from __future__ import annotations

import numpy as np
import pytest

from tests.model.cost_by_hand import TARIFFS, each, ledger_by_hand
from tests.model.records import machine


def test_a_quantity_or_a_price_without_end_is_named_as_missing() -> None:
    ledger = ledger_by_hand(machine())
    endless = np.array([1.0, np.inf, 2.0])
    ledger.add("downtime", endless, "h/year", each(1.0), "money/h", "", "Hours down.")
    ledger.add("service", 1.0, "machines", np.array([1.0, np.nan, 1.0]), "money/year", "", "Per machine.")
    assert ledger.drivers == []
    assert ledger.missing == {
        "Downtime": "Downtime is left out: its quantity has no end in some draws (Hours down).",
        "Service contract": "Service contract is left out: its quantity has no end in some draws (Per machine).",
    }


def test_a_quantity_for_all_draws_becomes_one_for_each() -> None:
    ledger = ledger_by_hand(machine())
    ledger.add("tests", 2.0, "plant", each(5.0), "money/year", "somewhere", "Twice.", board_id="b", fluid_id="f")
    one = ledger.drivers[0]
    assert one.quantity.tolist() == [2.0, 2.0, 2.0]
    assert one.amount.tolist() == [10.0, 10.0, 10.0]
    assert (one.board_id, one.fluid_id, one.price_path, one.how) == ("b", "f", "somewhere", "Twice.")
    assert one.id == "tests|b|f"


def test_the_first_reason_for_leaving_a_line_out_is_kept() -> None:
    ledger = ledger_by_hand(machine())
    ledger.leave_out("floor", "nobody measured")
    ledger.leave_out("floor", "it rained")
    assert ledger.missing == {"Floor space": "Floor space is left out: nobody measured."}


# The prices as the plant writes them; the ledger reads them in SI and must give them back in the same unit.
@pytest.mark.parametrize(
    ("name", "unit", "price"),
    [("labour", "money/h", 36.0), ("electricity", "money/kWh", 0.2), ("water", "money/m³", 2.0),
     ("resin", "money/L", 10.0), ("floor", "money/(m²·year)", 100.0), ("cleanliness_tests", "money/year", 900.0)],
)  # fmt: skip
def test_a_tariff_comes_back_in_the_unit_in_which_the_plant_wrote_it(name: str, unit: str, price: float) -> None:
    assert TARIFFS[name].startswith(f"{price:g} EUR")
    found, said, path = ledger_by_hand(machine()).tariff(name, unit)
    assert found == pytest.approx(each(price), rel=1e-12)
    assert (said, path) == (unit, f"plant.tariffs.{name}")


def test_a_price_in_another_currency_is_paid_at_the_plants_rate() -> None:
    ledger = ledger_by_hand(machine(prices={"service_per_year": "1000 USD/year"}), machines=1.0)
    ledger.machine_price("service", "service_per_year")
    assert ledger.drivers[0].amount == pytest.approx(each(500.0), rel=1e-12)


def test_a_price_that_is_not_given_is_named_unless_it_may_be_absent() -> None:
    ledger = ledger_by_hand(machine())
    ledger.machine_price("filters", "filters_per_year", optional=True)
    assert ledger.missing == {}
    ledger.machine_price("filters", "filters_per_year")
    assert ledger.missing == {"Filters": "Filters is left out: its price is not known; ask the supplier."}


def test_a_price_per_machine_counts_machines_and_one_for_all_counts_times() -> None:
    ledger = ledger_by_hand(machine(prices={"freight": "800 EUR", "training": "900 EUR"}), machines=3.0)
    ledger.machine_price("freight", "freight")
    ledger.machine_price("training", "training")
    assert [(one.quantity_unit, float(one.quantity[0]), one.how) for one in ledger.drivers] == [
        ("machines", 3.0, "Per machine."), ("times", 1.0, "Once for all machines."),
    ]  # fmt: skip


def test_a_price_that_several_lines_pay_is_kept_once_and_another_one_beside_it() -> None:
    ledger = ledger_by_hand(machine())
    for price in (each(5.0), each(5.0), each(6.0)):
        ledger.add("labour", 1.0, "h/year", price, "money/h", "tariffs.labour", "Hours.")
    ledger.add("electricity", 1.0, "kWh/year", each(7.0), "money/kWh", "tariffs.electricity", "Energy.")
    first, second, dearer, other = (one.price for one in ledger.drivers)
    assert second is first
    assert (first[0], dearer[0], other[0]) == (5.0, 6.0, 7.0)
    assert set(ledger.prices) == {("tariffs.labour", "money/h"), ("tariffs.electricity", "money/kWh")}


def test_a_price_that_a_line_pays_already_is_handed_out_as_it_is_kept() -> None:
    ledger = ledger_by_hand(machine())
    other = next(one for one in ledger.context.library.fluids if one.id == "other")
    # 2 EUR/m³ of water and 4 EUR/L of bath in `cost_by_hand`.
    for ask, price in (
        (lambda: ledger.tariff("water", "money/m³"), 2.0), (lambda: ledger.fluid_price(other, "bath_price"), 4.0)
    ):  # fmt: skip
        asked, unit, path = ask()
        assert asked == pytest.approx(each(price), rel=1e-12)
        assert ledger.prices.get((path, unit)) is None
        ledger.add("rinse-water", 1.0, "m³/year", asked, unit, path, "Once.")
        assert ask()[0] is asked
        assert ask()[1:] == (unit, path)
    # What is kept answers for its own path alone.
    assert ledger.tariff("drain", "money/m³")[0] == pytest.approx(each(3.0), rel=1e-12)
    disposal, unit, path = ledger.fluid_price(other, "disposal_price")
    assert disposal == pytest.approx(each(1.0), rel=1e-12)
    assert (unit, path) == ("money/L", "fluids[other].disposal_price")
