"""Cost of washing by hand: each line is a short sum of loads, hours, litres and prices written beside it."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from model.cost_ledger import CostLedger
from model.cost_running import (
    add_bought_service,
    add_field_failures,
    add_running,
    residue_per_board_kg,
    washed_boards,
)
from tests.conftest import changed_record
from tests.model.cost_by_hand import (
    AREA_M2,
    DRAWS,
    RESIDUE_KG,
    capacity_by_hand,
    case_by_hand,
    check_words,
    context_by_hand,
    cycle_by_hand,
    each,
    ledger_by_hand,
    money,
    moving,
    outcome_by_hand,
    quantities,
    rinse_by_hand,
)
from tests.model.records import board, machine


def run(ledger: CostLedger, *outcomes: Any, **capacity: Any) -> CostLedger:
    stage = capacity_by_hand(**capacity)
    add_running(ledger, washed_boards(ledger.context, outcomes or (outcome_by_hand(),), stage), stage)
    check_words(ledger)
    return ledger


def test_each_board_type_takes_machine_time_by_its_loads_times_the_time_a_load_keeps_the_machine() -> None:
    # 100 loads × 40 min and 50 loads × 20 min: four fifths and one fifth.
    outcomes = (outcome_by_hand(), outcome_by_hand("power", cycle=cycle_by_hand(occupied_s=1200.0)))
    washed = washed_boards(context_by_hand(machine()), outcomes, capacity_by_hand(control=100.0, power=50.0))
    assert [one.machine_share[0] for one in washed] == pytest.approx([0.8, 0.2])
    assert [one.boards_per_year[0] for one in washed] == pytest.approx([1000.0, 3000.0])
    assert [one.board.id for one in washed] == ["control", "power"]


def test_board_types_without_loads_share_the_machine_time_evenly() -> None:
    outcomes = (outcome_by_hand(), outcome_by_hand("power"))
    washed = washed_boards(context_by_hand(machine()), outcomes, capacity_by_hand(control=0.0, power=0.0))
    assert [one.machine_share[0] for one in washed] == [0.5, 0.5]


def test_board_types_without_a_cycle_or_a_machine_without_a_volume_are_not_washed() -> None:
    context = context_by_hand(machine())
    outcomes = (outcome_by_hand(), outcome_by_hand("power", cycle=None))
    assert [one.board.id for one in washed_boards(context, outcomes, capacity_by_hand())] == ["control"]
    assert washed_boards(context, outcomes, None) == ()


def test_people_are_paid_for_loading_and_for_the_share_of_the_rest_that_they_attend() -> None:
    # 100 loads × 3 min = 5 h. Of 1000 running hours 995 remain; a fifth of them is 199 h.
    ledger = run(ledger_by_hand(machine(running={"operator_share": "20 %"})))
    assert quantities(ledger)["handling|control"] == pytest.approx(5.0)
    assert quantities(ledger)["operators"] == pytest.approx(199.0)
    assert money(ledger)["handling|control"] == pytest.approx(5.0 * 36.0)
    assert money(ledger)["operators"] == pytest.approx(199.0 * 36.0)


def test_loading_of_all_board_types_is_taken_off_the_attended_time() -> None:
    # 5 h and 50 × 3 min = 2.5 h leave 992.5 h.
    outcomes = (outcome_by_hand(), outcome_by_hand("power"))
    ledger = run(ledger_by_hand(machine(running={"operator_share": "20 %"})), *outcomes, control=100.0, power=50.0)
    assert quantities(ledger)["operators"] == pytest.approx(0.2 * 992.5)


def test_a_belt_runs_on_while_it_is_loaded_so_attending_counts_all_running_hours() -> None:
    ledger = run(ledger_by_hand(moving(machine(running={"operator_share": "20 %"}), "inline")))
    assert quantities(ledger)["operators"] == pytest.approx(200.0)


def test_more_loading_than_running_is_not_paid_back() -> None:
    ledger = run(ledger_by_hand(machine(running={"operator_share": "20 %"})), run_hours=3.0)
    assert quantities(ledger)["operators"] == 0.0


def test_drag_out_rinse_water_drain_and_resin_are_amount_per_board_times_boards_times_price() -> None:
    # 1000 boards × 2 mL at 2 EUR/L; 1000 × 10 L at 2 and 3 EUR/m³; 1000 × 0.5 L of resin at 10 EUR/L.
    outcome = outcome_by_hand(rinse=rinse_by_hand(water_m3=0.01, resin_m3=0.5e-3, drag_out_m3=2e-6))
    ledger = run(ledger_by_hand(machine()), outcome)
    paid = money(ledger)
    assert quantities(ledger)["wash-fluid|control|cleaner"] == pytest.approx(2.0)
    assert paid["wash-fluid|control|cleaner"] == pytest.approx(4.0)
    assert paid["rinse-water|control"] == pytest.approx(20.0)
    assert paid["drain|control"] == pytest.approx(30.0)
    assert quantities(ledger)["resin|control"] == pytest.approx(500.0)
    assert paid["resin|control"] == pytest.approx(5000.0)


def test_a_tenth_of_a_cubic_metre_of_water_a_year_is_paid() -> None:
    ledger = run(ledger_by_hand(machine()), outcome_by_hand(rinse=rinse_by_hand(water_m3=1e-4)))
    assert quantities(ledger)["rinse-water|control"] == pytest.approx(0.1)


def test_each_rinse_driver_says_its_unit_and_where_its_price_stands() -> None:
    outcome = outcome_by_hand(rinse=rinse_by_hand(resin_m3=0.5e-3))
    ledger = run(ledger_by_hand(machine()), outcome)
    said = {one.line_id: (one.quantity_unit, one.price_unit, one.price_path) for one in ledger.drivers}
    assert said["wash-fluid"] == ("L/year", "money/L", "fluids[cleaner].bath_price")
    assert said["rinse-water"] == ("m³/year", "money/m³", "plant.tariffs.water")
    assert said["drain"] == ("m³/year", "money/m³", "plant.tariffs.drain")
    assert said["resin"] == ("L/year", "money/L", "plant.tariffs.resin")
    assert said["handling"] == ("h/year", "money/h", "plant.tariffs.labour")


def test_a_rinse_fed_with_deionised_water_pays_its_price_and_says_so() -> None:
    ledger = run(ledger_by_hand(machine(rinse={"feed_resistivity": "5 Mohm*cm"})))
    paid = next(one for one in ledger.drivers if one.line_id == "rinse-water")
    assert float(paid.amount[0]) == pytest.approx(10.0 * 20.0)
    assert paid.price_path == "plant.tariffs.deionised_water"
    assert paid.how == "Deionised rinse water per board × boards."


def test_no_water_no_resin_and_no_rinse_make_no_lines() -> None:
    dry_rinse = run(ledger_by_hand(machine()), outcome_by_hand(rinse=rinse_by_hand(water_m3=0.0)))
    assert not {"rinse-water", "drain", "resin"} & {one.line_id for one in dry_rinse.drivers}
    assert "wash-fluid" in {one.line_id for one in dry_rinse.drivers}
    without = run(ledger_by_hand(machine()), outcome_by_hand(rinse=None), outcome_by_hand("power"),
                  control=100.0, power=50.0)  # fmt: skip
    assert {one.id for one in without.drivers if one.line_id == "wash-fluid"} == {"wash-fluid|power|cleaner"}


def test_residue_of_a_board_lies_on_its_soldered_face_and_under_its_components() -> None:
    # 10 g/m² × 0.016 m² on one face; 4 × (10 mm)² × 50 µm × 1 kg/L under the parts, where the gap is 100 µm.
    context = context_by_hand(machine())
    found = residue_per_board_kg(context, context.case.board_types[0])
    assert found == pytest.approx(each(0.16e-3 + 0.02e-3))
    assert {one.basis for one in context.inputs.book.inputs() if ".residue_" in one.path} == {"engineering estimate"}
    both_faces = board(components=[{"kind": "chip", "count": 4}], populated_sides=2, id="both")
    assert residue_per_board_kg(context, both_faces) == pytest.approx(each(0.32e-3 + 0.02e-3))


def test_residue_thicker_than_the_gap_fills_the_gap_and_no_more() -> None:
    # As above, but 30 µm under the parts: the gap, below the 50 µm of the residue.
    context = context_by_hand(machine())
    low = changed_record(context.library.component_kinds[0], {"gap": "30 µm"})
    flat = replace(context, library=context.library.model_copy(update={"component_kinds": (low,)}))
    found = residue_per_board_kg(flat, flat.case.board_types[0])
    assert found == pytest.approx(each(0.16e-3 + 4 * 30e-6 * 0.01**2 * 1000.0), rel=1e-12)


def test_machines_share_the_residue_of_a_board_and_each_notes_what_it_follows_from() -> None:
    first = context_by_hand(machine())
    second = replace(context_by_hand(machine()), of_boards=first.of_boards)
    boards = first.case.board_types[:1]
    found = [residue_per_board_kg(at, one) for at in (first, second) for one in boards * 2]
    assert all(one is found[0] for one in found)
    assert second.inputs.book.inputs() == first.inputs.book.inputs()
    assert {one.path.rpartition(".")[2] for one in second.inputs.book.inputs()} == {
        "residue_per_area", "residue_thickness", "residue_density", "gap", "body_length", "length", "width",
    }  # fmt: skip


def test_a_bath_is_changed_when_the_residue_brought_reaches_its_limit() -> None:
    # 1000 boards bring 0.18 kg; at 10 g/L that is 18 L. By age: 1000 h ÷ 500 h × 5 L = 10 L, less.
    assert RESIDUE_KG == pytest.approx(0.18e-3)
    assert AREA_M2 == pytest.approx(2 * 0.16 * 0.1)
    ledger = run(ledger_by_hand(machine(wash={"tank_volume": "5 L"})))
    assert quantities(ledger)["bath-changes|cleaner"] == pytest.approx(18.0)
    assert money(ledger)["bath-changes|cleaner"] == pytest.approx(36.0)
    assert quantities(ledger)["fluid-disposal|cleaner"] == pytest.approx(18.0)
    assert money(ledger)["fluid-disposal|cleaner"] == pytest.approx(9.0)
    paths = {one.line_id: one.price_path for one in ledger.drivers}
    assert paths["bath-changes"] == "fluids[cleaner].bath_price"
    assert paths["fluid-disposal"] == "fluids[cleaner].disposal_price"


def test_a_bath_is_changed_by_age_where_that_comes_first() -> None:
    # 1000 h ÷ 500 h × 100 L.
    ledger = run(ledger_by_hand(machine(wash={"tank_volume": "100 L"})))
    assert quantities(ledger)["bath-changes|cleaner"] == pytest.approx(200.0)


def test_two_fluids_share_the_running_time_and_keep_their_own_prices() -> None:
    # Four fifths and one fifth of 200 L a year; the other fluid costs 4 EUR/L.
    outcomes = (outcome_by_hand(), outcome_by_hand("power", fluid_id="other", cycle=cycle_by_hand(occupied_s=1200.0)))
    ledger = run(ledger_by_hand(machine(wash={"tank_volume": "100 L"})), *outcomes, control=100.0, power=50.0)
    assert quantities(ledger)["bath-changes|cleaner"] == pytest.approx(160.0)
    # 3000 boards × 0.18 g ÷ 10 g/L = 54 L, above 40 L by age.
    assert quantities(ledger)["bath-changes|other"] == pytest.approx(54.0)
    assert money(ledger)["bath-changes|other"] == pytest.approx(216.0)
    assert money(ledger)["fluid-disposal|other"] == pytest.approx(54.0)


def test_board_types_in_one_fluid_bring_their_residue_together() -> None:
    ledger = run(ledger_by_hand(machine(wash={"tank_volume": "5 L"})), outcome_by_hand(), outcome_by_hand("power"),
                 control=100.0, power=50.0)  # fmt: skip
    assert quantities(ledger)["bath-changes|cleaner"] == pytest.approx(4 * 18.0)


def test_what_evaporates_from_a_water_bath_is_topped_up_with_water_in_every_machine() -> None:
    # 100 L × 5 % a day × 250 days × 2 machines = 2.5 m³ at 2 EUR/m³.
    ledger = run(ledger_by_hand(machine(wash={"tank_volume": "100 L", "evaporation_share": "5 %"})))
    assert quantities(ledger)["evaporation|cleaner"] == pytest.approx(2.5)
    assert money(ledger)["evaporation|cleaner"] == pytest.approx(5.0)
    one = next(one for one in ledger.drivers if one.line_id == "evaporation")
    assert (one.quantity_unit, one.price_unit) == ("m³/year", "money/m³")
    assert one.how.endswith("topped up with water.")


def test_two_fluids_evaporate_for_their_share_of_the_running_time() -> None:
    # Four fifths and one fifth of 2.5 m³.
    outcomes = (outcome_by_hand(), outcome_by_hand("power", fluid_id="other", cycle=cycle_by_hand(occupied_s=1200.0)))
    ledger = run(ledger_by_hand(machine(wash={"tank_volume": "100 L", "evaporation_share": "5 %"})), *outcomes,
                 control=100.0, power=50.0)  # fmt: skip
    assert quantities(ledger)["evaporation|cleaner"] == pytest.approx(2.0)
    assert quantities(ledger)["evaporation|other"] == pytest.approx(0.5)


def test_a_bath_that_bears_little_or_lasts_half_an_hour_is_changed_as_often() -> None:
    # 0.18 kg at 0.5 g/L; 1000 h ÷ 0.5 h × 1 L.
    weak = run(ledger_by_hand(machine(wash={"tank_volume": "1 L"}), bath_load_limit="0.5 g/L"))
    assert quantities(weak)["bath-changes|cleaner"] == pytest.approx(360.0)
    ledger = ledger_by_hand(machine(wash={"tank_volume": "1 L"}))
    constants = changed_record(ledger.context.library.constants, {"bath_life_max": "0.5 h"})
    library = ledger.context.library.model_copy(update={"constants": constants})
    short = run(replace(ledger, context=replace(ledger.context, library=library)))
    assert quantities(short)["bath-changes|cleaner"] == pytest.approx(2000.0)


def test_what_evaporates_from_a_solvent_is_topped_up_with_solvent() -> None:
    equipment = machine(wash={"tank_volume": "100 L", "evaporation_share": "5 %"})
    ledger = run(ledger_by_hand(equipment, water_based=False))
    assert quantities(ledger)["evaporation|cleaner"] == pytest.approx(2500.0)
    assert money(ledger)["evaporation|cleaner"] == pytest.approx(5000.0)
    one = next(one for one in ledger.drivers if one.line_id == "evaporation")
    assert (one.quantity_unit, one.price_unit, one.price_path) == ("L/year", "money/L", "fluids[cleaner].bath_price")


def test_an_unknown_tank_or_evaporation_leaves_its_lines_out_and_says_why() -> None:
    without_tank = run(ledger_by_hand(machine()))
    for name in ("Wash fluid for bath changes", "Disposal of spent wash fluid", "Fluid or water evaporated"):
        assert without_tank.missing[name] == f"{name} is left out: the tank volume is not known; ask the supplier."
    steady = run(ledger_by_hand(machine(wash={"tank_volume": "100 L"})), outcome_by_hand(),
                 outcome_by_hand("power", fluid_id="other"), control=100.0, power=50.0)  # fmt: skip
    assert "how much evaporates is not known" in steady.missing["Fluid or water evaporated"]
    # The second fluid's bath changes are still counted.
    assert {"bath-changes|cleaner", "bath-changes|other"} <= set(quantities(steady))


def test_electricity_is_mean_power_times_hours_at_the_price_of_a_kilowatt_hour() -> None:
    # 5 kW × 1000 h × 0.2 EUR/kWh.
    ledger = run(ledger_by_hand(machine(site={"heat_power": "5 kW"})))
    assert quantities(ledger)["electricity"] == pytest.approx(5000.0)
    assert money(ledger)["electricity"] == pytest.approx(1000.0)


PUMPED = SimpleNamespace(pump=SimpleNamespace(clean=SimpleNamespace(shaft_power_W=each(3000.0))))


def test_without_a_mean_power_pump_and_dryer_are_counted_for_their_times() -> None:
    # Per load 3 kW × 600 s + 6 kW × 1200 s = 9 MJ = 2.5 kWh; 100 loads.
    ledger = run(ledger_by_hand(machine(dry={"heater_power": "6 kW"})), outcome_by_hand(wash=PUMPED))
    assert quantities(ledger)["electricity"] == pytest.approx(250.0)
    pump_only = run(ledger_by_hand(machine()), outcome_by_hand(wash=PUMPED))
    assert quantities(pump_only)["electricity"] == pytest.approx(50.0)
    dryer_only = run(ledger_by_hand(machine(dry={"heater_power": "6 kW"})))
    assert quantities(dryer_only)["electricity"] == pytest.approx(200.0)


def test_pump_and_dryer_of_all_board_types_add_up() -> None:
    outcomes = (outcome_by_hand(wash=PUMPED), outcome_by_hand("power", wash=PUMPED))
    ledger = run(ledger_by_hand(machine(dry={"heater_power": "6 kW"})), *outcomes, control=100.0, power=50.0)
    assert quantities(ledger)["electricity"] == pytest.approx(1.5 * 250.0)


def test_rows_on_a_belt_share_pump_and_heater_by_the_time_they_keep_the_belt() -> None:
    # A row keeps the belt for 210 s of the 2100 s that it is on it: a tenth of 250 kWh.
    outcome = outcome_by_hand(wash=PUMPED, cycle=cycle_by_hand(occupied_s=210.0))
    ledger = run(ledger_by_hand(moving(machine(dry={"heater_power": "6 kW"}), "inline")), outcome)
    assert quantities(ledger)["electricity"] == pytest.approx(25.0)


def test_neither_power_nor_pump_nor_dryer_leaves_electricity_out() -> None:
    ledger = run(ledger_by_hand(machine()), outcome_by_hand(wash=SimpleNamespace(pump=None)))
    assert "neither its mean power nor pump and dryer are known" in ledger.missing["Electricity"]


def test_compressed_and_exhausted_air_are_flow_times_running_hours() -> None:
    # 30 m³/h and 500 m³/h for 1000 h at 0.03 and 0.001 EUR/m³.
    ledger = run(ledger_by_hand(machine(site={"compressed_air": "30 m^3/h", "exhaust_flow": "500 m^3/h"})))
    assert quantities(ledger)["compressed-air"] == pytest.approx(30_000.0)
    assert money(ledger)["compressed-air"] == pytest.approx(900.0)
    assert quantities(ledger)["exhaust-air"] == pytest.approx(500_000.0)
    assert money(ledger)["exhaust-air"] == pytest.approx(500.0)


def test_no_air_makes_no_line_and_an_unknown_flow_is_named() -> None:
    ledger = run(ledger_by_hand(machine(site={"compressed_air": "0 m^3/h"})))
    assert "Compressed air" not in ledger.missing
    assert "compressed-air" not in quantities(ledger)
    assert ledger.missing["Replacing exhaust air"] == (
        "Replacing exhaust air is left out: its flow is not known; ask the supplier."
    )


FAILING = {"time_between_failures": "200 h", "repair_time": "8 h"}


def test_downtime_is_repair_time_over_time_between_failures_times_running_hours() -> None:
    # Works 80 % of the time: a quarter of an hour down for each hour run; 250 h at 50 EUR.
    ledger = run(ledger_by_hand(machine(running=FAILING)), availability=0.8)
    assert quantities(ledger)["downtime"] == pytest.approx(250.0)
    assert money(ledger)["downtime"] == pytest.approx(12_500.0)


@pytest.mark.parametrize("silent", sorted(FAILING))
def test_downtime_is_left_out_where_one_of_its_times_is_not_known(silent: str) -> None:
    known = {name: value for name, value in FAILING.items() if name != silent}
    ledger = run(ledger_by_hand(machine(running=known)))
    assert "time between failures or the repair time is not known" in ledger.missing["Downtime"]


def test_a_bought_service_costs_boards_times_price_and_the_handling_of_each_lot() -> None:
    # 1000 and 3000 boards at 1.5 EUR; 50 and 60 lots × 12 min at 36 EUR/h.
    equipment = machine("service", prices={"price_per_board": "1.5 EUR"}, running={"load_unload_time": "12 min"})
    ledger = ledger_by_hand(equipment, machines=0.0)
    add_bought_service(ledger)
    paid = money(ledger)
    assert paid["bought-service|control"] == pytest.approx(1500.0)
    assert paid["bought-service|power"] == pytest.approx(4500.0)
    assert quantities(ledger)["handling|control"] == pytest.approx(10.0)
    assert paid["handling|power"] == pytest.approx(12.0 * 36.0)
    one = next(one for one in ledger.drivers if one.line_id == "bought-service")
    assert (one.quantity_unit, one.price_unit) == ("boards/year", "money/board")
    assert one.price_path == "candidates[washer].prices.price_per_board"


def test_lots_of_a_single_board_are_handled_one_by_one() -> None:
    case = case_by_hand()
    boards = tuple(changed_record(one, {"lot_size": "1"}) for one in case.board_types)
    ledger = ledger_by_hand(machine("service", running={"load_unload_time": "12 min"}), machines=0.0,
                            case=case.model_copy(update={"board_types": boards}))  # fmt: skip
    add_bought_service(ledger)
    assert quantities(ledger)["handling|control"] == pytest.approx(1000.0 * 0.2)


def test_a_service_without_a_price_is_named_and_its_handling_still_counted() -> None:
    ledger = ledger_by_hand(machine("service", running={"load_unload_time": "12 min"}), machines=0.0)
    add_bought_service(ledger)
    assert {one.line_id for one in ledger.drivers} == {"handling"}
    assert "price per board is not known" in ledger.missing["Cleaning bought per board"]
    silent = ledger_by_hand(machine("service", prices={"price_per_board": "1.5 EUR"}), machines=0.0)
    add_bought_service(silent)
    assert {one.line_id for one in silent.drivers} == {"bought-service"}


def must(stage: str, *met: bool) -> SimpleNamespace:
    return SimpleNamespace(requirement=SimpleNamespace(stage=stage, result="unknown"), met=np.array(met))


@pytest.mark.parametrize("stage", ["fit", "wash", "rinse"])
def test_field_failures_are_boards_times_share_failing_times_probability_not_clean(stage: str) -> None:
    # Not clean in one draw of three: 1000 × 3 % × 1/3 = 10 failures at 150 EUR.
    case = case_by_hand(field_failures={"failures_per_board_if_not_clean": "3 %", "cost_per_failure": "150 EUR"})
    ledger = ledger_by_hand(machine(), case=case)
    add_field_failures(ledger, (outcome_by_hand(judged=(must(stage, True, True, False),)),))
    assert quantities(ledger) == {"field-failures|control": pytest.approx(10.0)}
    assert money(ledger)["field-failures|control"] == pytest.approx(1500.0)
    assert ledger.drivers[0].price_path == "plant.field_failures.cost_per_failure"


def test_what_has_nothing_to_do_with_cleaning_causes_no_field_failure() -> None:
    case = case_by_hand(field_failures={"failures_per_board_if_not_clean": "3 %", "cost_per_failure": "150 EUR"})
    ledger = ledger_by_hand(machine(), case=case)
    add_field_failures(ledger, (outcome_by_hand(judged=(must("dry", False, False, False),)),))
    assert quantities(ledger) == {"field-failures|control": 0.0}
    assert DRAWS == 3
    plain = ledger_by_hand(machine())
    add_field_failures(plain, (outcome_by_hand(judged=(must("wash", False, False, False),)),))
    assert plain.drivers == []


def test_a_quantity_without_end_is_left_out_with_the_way_it_was_counted() -> None:
    ledger = ledger_by_hand(machine())
    ledger.add("field-failures", np.array([1.0, np.inf, 1.0]), "failures/year", np.ones(DRAWS), "money/failure",
               "plant.x", "Boards × share that fails.")  # fmt: skip
    assert ledger.drivers == []
    (sentence,) = ledger.missing.values()
    assert sentence.endswith(
        " is left out: its quantity has no end in some draws (Boards × share that fails)."
    )
