"""Cost of washing: people, fluid, water, energy, waste, downtime and failures, from each board type's own cycle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType, FluxKind
from model.capacity_stage import CapacityStage, working_days_per_year
from model.context import Context
from model.cost_drivers import JOULES_PER_KWH, LITRES_PER_M3, SECONDS_PER_HOUR, SECONDS_PER_YEAR
from model.cost_ledger import CostLedger
from model.outcomes import BoardOutcome, FluidOutcome
from model.requirements import joint
from model.rinse_course import board_area_m2
from model.uncertainty import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class WashedBoard:
    """One board type that has a cycle in the machine."""

    board: BoardType
    """The board type."""
    chosen: FluidOutcome
    """Its fluid with wash, rinse, dry and cycle."""
    boards_per_year: FloatArray
    """Boards per year, shape (draws,)."""
    machine_share: FloatArray
    """Share of the machines' running time that it takes, shape (draws,)."""


def washed_boards(
    context: Context, boards: Sequence[BoardOutcome], capacity: CapacityStage | None
) -> tuple[WashedBoard, ...]:
    """List the board types with a cycle and the share of the machine time that each takes.

    Notes
    -----
    Machine time of a type = its loads × the time a load keeps the machine busy; change-overs follow in proportion.
    """
    if capacity is None:
        return ()
    records = {board.id: board for board in context.case.board_types}
    cycles = {board.board_id: board.chosen for board in boards if board.chosen.cycle is not None}
    busy = {name: capacity.loads_per_year[name] * chosen.cycle.occupied_s for name, chosen in cycles.items()
            if chosen.cycle is not None}  # fmt: skip
    total = np.sum(list(busy.values()), axis=0)
    idle = total <= 0.0
    return tuple(
        WashedBoard(
            board=records[name], chosen=chosen,
            boards_per_year=_boards_per_year(context, records[name]),
            machine_share=np.where(idle, 1.0 / len(busy), busy[name] / np.where(idle, 1.0, total)),
        )
        for name, chosen in cycles.items()
    )  # fmt: skip


def _boards_per_year(context: Context, board: BoardType) -> FloatArray:
    return context.once(
        f"boards per year {board.id}", lambda: np.asarray(context.of_board(board, "volume") * SECONDS_PER_YEAR)
    )


def add_running(ledger: CostLedger, washed: Sequence[WashedBoard], capacity: CapacityStage) -> None:
    """Add every cost that grows with the boards washed, and what evaporates from the tanks.

    Notes
    -----
    Each line is a quantity a year × its price:
    labour: loads × loading time + share attended × the other running hours;
    wash fluid: drag-out of a board × boards, at the price of the bath;
    rinse water and drain: water fed per board × boards; in a closed loop resin that the salt of the boards uses up;
    bath changes: the larger of residue brought ÷ load limit and tank × running hours ÷ greatest bath age;
    evaporation: tank × share a day × working days × machines, topped up with water where the bath is water-based;
    electricity: mean power × running hours, else pump power × wash time + heater × dry time, bath heating left out;
    compressed and exhaust air: flow × running hours;
    downtime: running hours × repair time ÷ time between failures.
    Standby is not counted.
    """
    _labour(ledger, washed, capacity)
    for one in washed:
        _rinse_and_drag_out(ledger, one)
    _baths(ledger, washed, capacity)
    _energy(ledger, washed, capacity)
    _downtime(ledger, capacity)


def _labour(ledger: CostLedger, washed: Sequence[WashedBoard], capacity: CapacityStage) -> None:
    labour = ledger.tariff("labour", "money/h")
    handling = np.zeros(ledger.context.draws)
    for one in washed:
        assert one.chosen.cycle is not None  # only boards with a cycle are washed
        hours = capacity.loads_per_year[one.board.id] * one.chosen.cycle.handling_s / SECONDS_PER_HOUR
        handling = handling + hours
        ledger.add("handling", hours, "h/year", *labour, "Loads × time to load and unload.",
                   board_id=one.board.id)  # fmt: skip
    share = ledger.context.inputs.draws("running.operator_share")
    if share is None:
        ledger.leave_out("operators", "the share of the time that a person attends is not known; ask the supplier")
        return
    # A batch machine stands while it is loaded, so that time is in its running hours already and is not paid twice.
    inside = 0.0 if ledger.context.machine.moving == "inline" else handling
    attended = share * np.maximum(capacity.run_hours_per_year - inside, 0.0)
    ledger.add("operators", attended, "h/year", *labour,
               "Share of the running time attended × running hours, loading not counted again.")  # fmt: skip


def _rinse_and_drag_out(ledger: CostLedger, one: WashedBoard) -> None:
    context, rinse, board_id = ledger.context, one.chosen.rinse, one.board.id
    if rinse is None:
        return
    fluid = next(record for record in context.library.fluids if record.id == one.chosen.fluid_id)
    ledger.add("wash-fluid", rinse.drag_out_m3 * one.boards_per_year * LITRES_PER_M3, "L/year",
               *ledger.fluid_price(fluid, "bath_price"), "Fluid that a board carries out × boards.",
               board_id=board_id, fluid_id=fluid.id)  # fmt: skip
    water = rinse.water_m3 * one.boards_per_year
    if float(water.max()) > 0.0:
        name, words = _rinse_tariff(context)
        ledger.add("rinse-water", water, "m³/year", *ledger.tariff(name, "money/m³"), f"{words} per board × boards.",
                   board_id=board_id)  # fmt: skip
        ledger.add("drain", water, "m³/year", *ledger.tariff("drain", "money/m³"),
                   "All rinse water fed goes to the drain.", board_id=board_id)  # fmt: skip
    if float(rinse.resin_m3.max()) > 0.0:
        ledger.add("resin", rinse.resin_m3 * one.boards_per_year * LITRES_PER_M3, "L/year",
                   *ledger.tariff("resin", "money/L"), "Resin that the salt of a board uses up × boards.",
                   board_id=board_id)  # fmt: skip


def _rinse_tariff(context: Context) -> tuple[str, str]:
    """Deionised water where the machine states what its rinse is fed with, else tap water."""
    if context.inputs.draws("rinse.feed_resistivity") is not None:
        return "deionised_water", "Deionised rinse water"
    return "water", "Rinse water"


def residue_per_board_kg(context: Context, board: BoardType) -> FloatArray:
    """Flux residue that one board brings into the bath, kg: on its soldered faces and under its components.

    Notes
    -----
    m = Γ A n/2 + ρ_r Σ min(δ_r, h) L²: residue per area Γ on the soldered faces n of 2, and under each component its
    thickness δ_r, at most the gap h, over a square body of length L. Basis: engineering estimate.
    """
    flux: FluxKind = next(record for record in context.library.flux_kinds if record.id == board.flux)

    def of_flux(field: str) -> FloatArray:
        path = f"flux_kinds[{flux.id}].{field}"
        return context.inputs.book.take(getattr(flux, field), path, "engineering estimate")

    kinds = [context.kinds[component.kind] for component in board.components]

    def read() -> tuple[list[FloatArray], list[FloatArray], list[FloatArray]]:
        on_board = [of_flux(name) for name in ("residue_per_area", "residue_thickness", "residue_density")]
        gaps, lengths = ([context.of_kind(kind, name) for kind in kinds] for name in ("gap", "body_length"))
        return [*on_board, board_area_m2(context, board)], gaps, lengths

    def compute(given: tuple[list[FloatArray], list[FloatArray], list[FloatArray]]) -> FloatArray:
        (per_area, thickness, density, area), gaps, lengths = given
        under_m3 = np.zeros(context.draws)
        for component, gap, length in zip(board.components, gaps, lengths, strict=True):
            # Bodies are taken as square, as in the rinse.
            under_m3 = under_m3 + component.count * np.minimum(thickness, gap) * np.square(length)
        return np.asarray(per_area * area * board.populated_sides / 2.0 + under_m3 * density)

    return context.once_from(f"residue on {board.id}", read, compute)


def _baths(ledger: CostLedger, washed: Sequence[WashedBoard], capacity: CapacityStage) -> None:
    """Bath changes by load and by age, per fluid, and what evaporates."""
    context = ledger.context
    tank = context.inputs.draws("wash.tank_volume")
    if tank is None:
        why = "the tank volume is not known; ask the supplier"
        for line_id in ("bath-changes", "fluid-disposal", "evaporation"):
            ledger.leave_out(line_id, why)
        return
    life_h = np.maximum(context.constant("bath_life_max") / SECONDS_PER_HOUR, 1e-9)
    evaporated = context.inputs.draws("wash.evaporation_share")
    for fluid_id in dict.fromkeys(one.chosen.fluid_id for one in washed):
        with_it = [one for one in washed if one.chosen.fluid_id == fluid_id]
        fluid = next(record for record in context.library.fluids if record.id == fluid_id)
        limit = context.of_fluid(fluid, "bath_load_limit")
        brought = np.sum([residue_per_board_kg(context, one.board) * one.boards_per_year for one in with_it], axis=0)
        share = np.sum([one.machine_share for one in with_it], axis=0)
        by_age = share * capacity.run_hours_per_year / life_h * tank
        litres = np.maximum(brought / np.maximum(limit, 1e-9), by_age) * LITRES_PER_M3
        how = "The larger of residue brought ÷ bath load limit, and tank volume × running hours ÷ longest bath life."
        ledger.add("bath-changes", litres, "L/year", *ledger.fluid_price(fluid, "bath_price"), how, fluid_id=fluid_id)
        ledger.add("fluid-disposal", litres, "L/year", *ledger.fluid_price(fluid, "disposal_price"),
                   "All fluid of bath changes.", fluid_id=fluid_id)  # fmt: skip
        if evaporated is None:
            ledger.leave_out("evaporation", "how much evaporates is not known; ask the supplier")
            continue
        lost_m3 = tank * evaporated * working_days_per_year(context) * ledger.machines * share
        how = "Tank volume × share that evaporates a day × working days × machines"
        if fluid.water_based:
            # Of a water-based bath only water leaves as vapour; the concentrate stays.
            water = ledger.tariff(_rinse_tariff(context)[0], "money/m³")
            ledger.add("evaporation", lost_m3, "m³/year", *water, f"{how}, topped up with water.", fluid_id=fluid_id)
        else:
            ledger.add("evaporation", lost_m3 * LITRES_PER_M3, "L/year", *ledger.fluid_price(fluid, "bath_price"),
                       f"{how}.", fluid_id=fluid_id)  # fmt: skip


def _energy(ledger: CostLedger, washed: Sequence[WashedBoard], capacity: CapacityStage) -> None:
    inputs, hours = ledger.context.inputs, capacity.run_hours_per_year
    tariff = ledger.tariff("electricity", "money/kWh")
    power = inputs.draws("site.heat_power")
    if power is not None:
        ledger.add("electricity", power * hours / 1000.0, "kWh/year", *tariff,
                   "Mean power while running × running hours; standby is not counted.")  # fmt: skip
    else:
        joules = _pump_and_dryer_J(ledger, washed, capacity)
        if joules is None:
            ledger.leave_out("electricity", "neither its mean power nor pump and dryer are known; ask the supplier")
        else:
            ledger.add("electricity", joules / JOULES_PER_KWH, "kWh/year", *tariff,
                       "Pump power × wash time + dryer heater × dry time; bath heating is not counted.")  # fmt: skip
    for line_id, field, name in (
        ("compressed-air", "site.compressed_air", "compressed_air"), ("exhaust-air", "site.exhaust_flow", "exhaust_air")
    ):  # fmt: skip
        flow = inputs.draws(field)
        if flow is None:
            ledger.leave_out(line_id, "its flow is not known; ask the supplier")
        elif float(flow.max()) > 0.0:
            ledger.add(line_id, flow * hours * SECONDS_PER_HOUR, "m³/year", *ledger.tariff(name, "money/m³"),
                       "Flow while running × running hours.")  # fmt: skip


def _pump_and_dryer_J(
    ledger: CostLedger, washed: Sequence[WashedBoard], capacity: CapacityStage
) -> FloatArray | None:
    heater = ledger.context.inputs.draws("dry.heater_power")
    total, known = np.zeros(ledger.context.draws), False
    for one in washed:
        cycle, wash = one.chosen.cycle, one.chosen.wash
        assert cycle is not None  # only boards with a cycle are washed
        per_load = np.zeros(ledger.context.draws)
        if wash is not None and wash.pump is not None:
            per_load, known = per_load + np.asarray(wash.pump.clean.shaft_power_W) * cycle.wash_s, True
        if heater is not None:
            per_load, known = per_load + heater * cycle.dry_s, True
        if ledger.context.machine.moving == "inline":
            # On a belt many rows share pump and heater: a row's part is the time it keeps the belt.
            per_load = per_load * cycle.occupied_s / np.maximum(cycle.wash_s + cycle.rinse_s + cycle.dry_s, 1e-9)
        total = total + capacity.loads_per_year[one.board.id] * per_load
    return total if known else None


def _downtime(ledger: CostLedger, capacity: CapacityStage) -> None:
    inputs = ledger.context.inputs
    if inputs.draws("running.time_between_failures") is None or inputs.draws("running.repair_time") is None:
        ledger.leave_out("downtime", "the time between failures or the repair time is not known; ask the supplier")
        return
    works = np.maximum(capacity.availability, 1e-9)
    ledger.add("downtime", capacity.run_hours_per_year * (1.0 - works) / works, "h/year",
               *ledger.tariff("downtime", "money/h"),
               "Running hours × repair time ÷ time between failures.")  # fmt: skip


def add_bought_service(ledger: CostLedger) -> None:
    """Add a service bought per board, with the plant's own packing and receiving of each lot.

    Notes
    -----
    Boards × price per board, plus lots × time to pack and receive × price of labour. Machine and running cost do not
    arise.
    """
    context = ledger.context
    price = context.inputs.draws("prices.price_per_board")
    if price is None:
        ledger.leave_out("bought-service", "its price per board is not known; ask the supplier")
    handling = context.inputs.draws("running.load_unload_time")
    labour = ledger.tariff("labour", "money/h")
    for board in context.case.board_types:
        volume = context.of_board(board, "volume") * SECONDS_PER_YEAR
        if price is not None:
            ledger.add("bought-service", volume, "boards/year", price, "money/board",
                       context.inputs.full_path("prices.price_per_board"), "Boards per year.",
                       board_id=board.id)  # fmt: skip
        if handling is not None:
            lots = volume / np.maximum(context.of_board(board, "lot_size"), 1.0)
            ledger.add("handling", lots * handling / SECONDS_PER_HOUR, "h/year", *labour,
                       "Lots × time to pack and receive.", board_id=board.id)  # fmt: skip


def add_field_failures(ledger: CostLedger, boards: Sequence[BoardOutcome]) -> None:
    """Add failures of boards not clean, only where the plant gives its own numbers.

    Notes
    -----
    Boards × share that fails if not clean × share of the draws in which load, wash and rinse do not do their job ×
    cost of a failure. Where nobody knows whether a board gets clean (a bought service), none are counted.
    """
    context = ledger.context
    if context.case.plant.field_failures is None:
        return
    failing = context.from_plant("field_failures.failures_per_board_if_not_clean")
    price = context.from_plant("field_failures.cost_per_failure")
    records = {board.id: board for board in context.case.board_types}
    for outcome in boards:
        cleaning = tuple(one for one in outcome.chosen.judged if one.requirement.stage in ("fit", "wash", "rinse"))
        not_clean = 1.0 - joint(cleaning, context.draws, context.thresholds)[1]
        volume = context.of_board(records[outcome.board_id], "volume") * SECONDS_PER_YEAR
        ledger.add("field-failures", volume * failing * not_clean, "failures/year", price, "money/failure",
                   "plant.field_failures.cost_per_failure",
                   "Boards × share that fails if not clean × probability that they are not.",
                   board_id=outcome.board_id)  # fmt: skip
