"""Cost of having the machines, whatever they wash: purchase, upgrades that musts force, service, parts, floor."""

from __future__ import annotations

import numpy as np

from model.capacity_stage import CapacityStage
from model.cost_drivers import SECONDS_PER_HOUR
from model.cost_ledger import CostLedger
from model.outcomes import BoardOutcome
from model.traceability import TraceabilityOutcome
from model.uncertainty import FloatArray
from model.wetted_parts import MaterialOutcome


def add_purchase(ledger: CostLedger) -> None:
    """Add what is paid once: price, freight, installation and qualification of each machine, training once.

    Notes
    -----
    Price × machines for each line, training once; all at the start, and the machine again whenever its life ends within
    the horizon.
    """
    outside = ledger.context.machine.principle == "service"
    for line_id in ("purchase", "freight", "installation", "qualification", "training"):
        ledger.machine_price(line_id, line_id, optional=outside)


def add_upgrades(
    ledger: CostLedger, boards: tuple[BoardOutcome, ...], traceability: TraceabilityOutcome | None
) -> None:
    """Add what must be bought besides so that the requirements judged "with upgrade" hold.

    Notes
    -----
    Seals: for the fluids chosen, the dearest set of replacements (a seal that stands one fluid is taken to stand the
    others). Holders: the dearest that a board type asks for. Options of the controls: once per machine.
    """
    context, inputs = ledger.context, ledger.context.inputs
    seals = [found for found in _materials(boards) if found.upgrade is not None]
    prices = [found.upgrade.price for found in seals if found.upgrade is not None and found.upgrade.price is not None]
    if len(prices) < len(seals):
        ledger.leave_out("seal-upgrade", "the price of a resistant seal is not known; ask the supplier")
    if prices:
        ledger.add("seal-upgrade", ledger.machines, "machines", np.max(prices, axis=0), "money", "",
                   "Parts that do not stand the chosen fluid, replaced in each machine.")  # fmt: skip
    if traceability is not None and traceability.option_needed:
        if traceability.option_price is None:
            ledger.leave_out("traceability-option", "its price is not known; ask the supplier")
        else:
            ledger.add("traceability-option", ledger.machines, "machines", traceability.option_price, "money",
                       inputs.full_path("traceability_option_price"),
                       "Required functions that are met only with the option, in each machine.")  # fmt: skip
    holders = [board.esd.upgrade_price for board in boards if board.esd is not None]
    priced = [np.broadcast_to(price, (context.draws,)) for price in holders if price is not None]
    if priced:
        ledger.add("holder-upgrade", ledger.machines, "machines", np.max(priced, axis=0), "money",
                   inputs.full_path("rack.dissipative_holders_price"),
                   "Holders that make the rack dissipative, for each machine.")  # fmt: skip


def _materials(boards: tuple[BoardOutcome, ...]) -> list[MaterialOutcome]:
    """Wetted parts against each chosen fluid, each fluid once."""
    found = {board.chosen.fluid_id: board.chosen.materials for board in boards}
    return [one for one in found.values() if one is not None]


def add_keeping(ledger: CostLedger, boards: tuple[BoardOutcome, ...], capacity: CapacityStage | None) -> None:
    """Add service, spare parts, filters, seals, floor space, evaporation apart, and the plant's cleanliness tests.

    Notes
    -----
    Service, spare parts, filters and seals: price a year × machines. Seals without such a price: running hours ÷ hours
    to the first expected replacement × price of all priced parts. Floor: area × machines × price of floor.
    """
    ledger.machine_price("service", "service_per_year")
    ledger.machine_price("spare-parts", "spare_parts_per_year")
    ledger.machine_price("filters", "filters_per_year")
    if ledger.context.inputs.quantity("prices.seals_per_year") is not None:
        ledger.machine_price("seals", "seals_per_year")
    else:
        _seals_by_life(ledger, boards, capacity)
    area = ledger.context.inputs.draws("site.floor_area")
    if area is None:
        ledger.leave_out("floor", "the floor area of the machine is not known; ask the supplier")
    else:
        ledger.add("floor", area * ledger.machines, "m²", *ledger.tariff("floor", "money/(m²·year)"),
                   "Floor area × machines.")  # fmt: skip
    add_tests(ledger)


def add_tests(ledger: CostLedger) -> None:
    """Add the plant's own cleanliness tests, which do not depend on who washes.

    Notes
    -----
    Once a year for the plant, whatever the number of machines.
    """
    ledger.add("tests", 1.0, "plant", *ledger.tariff("cleanliness_tests", "money/year"), "Once for the plant.")


def _seals_by_life(ledger: CostLedger, boards: tuple[BoardOutcome, ...], capacity: CapacityStage | None) -> None:
    """Replace all priced wetted parts each time the shortest-lived of them is due."""
    why = "neither a price per year nor the life and price of the parts is known; ask the supplier"
    lives: list[FloatArray] = []
    for found in _materials(boards):
        measure = found.measure_with_upgrade or found.measure
        if measure is not None and measure.first_replacement_s is not None:
            lives.append(measure.first_replacement_s)
    inputs = ledger.context.inputs
    parts = inputs.machine.equipment.wetted_parts or ()
    stated = inputs.machine.is_stated("wetted_parts")
    prices = [
        inputs.book.take(part.replacement_price, inputs.full_path(f"wetted_parts[{number}].replacement_price"),
                         "stated" if stated else "engineering estimate",
                         stated=stated or not inputs.machine.is_candidate)
        for number, part in enumerate(parts, start=1) if part.replacement_price is not None
    ]  # fmt: skip
    if capacity is None or not lives or not prices:
        ledger.leave_out("seals-by-life", why)
        return
    life_h = np.minimum.reduce(lives) / SECONDS_PER_HOUR
    # An endless life needs no replacement: the quotient is 0 there.
    sets = capacity.run_hours_per_year / np.maximum(life_h, 1e-9)
    ledger.add("seals-by-life", sets, "sets/year", np.sum(prices, axis=0), "money/set", "",
               "Running hours ÷ hours to the first expected replacement; all priced parts at once.")  # fmt: skip
