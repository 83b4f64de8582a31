"""Machines: generic classes with wide ranges, and candidates that state what an offer says."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from catalog_schema.boards import Identifier, Title
from catalog_schema.materials import Resistance
from catalog_schema.quantity import (
    AirFlow,
    Angle,
    Area,
    Count,
    Distance,
    Duration,
    Flow,
    Frequency,
    Length,
    LongDuration,
    LowPressure,
    Money,
    MoneyPerYear,
    Power,
    PowerPerVolume,
    Pressure,
    Record,
    Resistivity,
    RotationSpeed,
    Share,
    Speed,
    Temperature,
    Volume,
    VolumePerArea,
    Years,
)
from catalog_schema.quantity import Resistance as ElectricalResistance

Principle = Literal[
    "spray in air", "spray under immersion", "ultrasonic", "centrifugal", "vapour", "vacuum solvent", "brush",
    "service", "none",
]  # fmt: skip
Arrangement = Literal["rotating arms", "fixed manifolds", "belt manifolds"]
NozzleShape = Literal["coherent jet", "flat fan", "full cone"]
DryerKind = Literal["none", "passive", "hot air", "blow-off", "blow-off and hot air", "vacuum", "vapour"]
TraceFunction = Literal[
    "scan each board", "lock recipe to product", "user access levels", "cycle log", "sensor log", "change log",
    "line messaging", "control charts", "reject wrong load", "cleanliness test built in",
]  # fmt: skip
Availability = Literal["present", "option", "absent"]


class Spray(Record):
    """Pump, nozzles and where they stand."""

    arrangement: Arrangement | None = None
    nozzle_shape: NozzleShape | None = None
    nozzle_diameter: Length | None = None
    nozzle_half_angle: Angle | None = Field(default=None, description="Half the opening angle of the spray.")
    nozzle_thin_half_angle: Angle | None = Field(default=None, description="Across the fan, flat fan only.")
    discharge_coefficient: Share | None = None
    velocity_coefficient: Share | None = None
    drop_diameter: Length | None = Field(default=None, description="Decides how fast air slows the stream.")
    shutoff_pressure: Pressure | None = Field(default=None, description="Pump pressure at no flow.")
    max_flow: Flow | None = Field(default=None, description="Pump flow at no pressure.")
    nozzle_pressure: Pressure | None = Field(default=None, description="Where an offer states it instead of a curve.")
    piping_loss_share: Share | None = Field(default=None, description="Of pump pressure, at the operating point.")
    loaded_filter_loss: Pressure | None = Field(default=None, description="Of the filter when it is due, at max flow.")
    pump_efficiency: Share | None = None
    suction_head: Distance | None = Field(default=None, description="Liquid level above the pump inlet.")
    npsh_required: Distance | None = None
    levels_below: int | None = Field(default=None, ge=0, le=10, description="Spray levels below the boards.")
    levels_above: int | None = Field(default=None, ge=0, le=10)
    nozzles_per_level: int | None = Field(default=None, ge=1, le=500, description="Per arm, or per row of a belt.")
    arm_radius: Length | None = None
    arm_tilt: Angle | None = Field(default=None, description="Nozzle axes leaning from the vertical.")
    clearance: Length | None = Field(default=None, description="From nozzle to the nearest edge of the boards.")
    rotation_speed: RotationSpeed | None = None
    manifold_rows: int | None = Field(default=None, ge=1, le=100, description="Per face (fixed) or per zone (belt).")
    oscillation_half_angle: Angle | None = None


class Immersion(Record):
    """Drive under liquid or vapour."""

    jet_diameter: Length | None = None
    jet_count: int | None = Field(default=None, ge=1, le=1000)
    jet_pressure: Pressure | None = None
    jet_distance: Length | None = None
    pump_flow: Flow | None = None
    rotation_speed: RotationSpeed | None = None
    rotation_radius: Length | None = None
    ultrasonic_frequency: Frequency | None = None
    ultrasonic_power: PowerPerVolume | None = None
    drive_pressure: LowPressure | None = Field(
        default=None, description="Effective pressure across a gap, if estimated."
    )
    duty_share: Share | None = Field(
        default=None, description="Share of the time that the drive acts at the worst place."
    )


class Chamber(Record):
    """Room for boards."""

    length: Length | None = None
    width: Length | None = None
    height: Length | None = None
    levels: int | None = Field(default=None, ge=1, le=20, description="Rack levels one above the other.")
    board_pitch: Length | None = Field(default=None, description="Between standing boards in the rack.")
    boards_lie_flat: bool | None = None
    rack_length: Length | None = Field(default=None, description="Usable rack, where smaller than the chamber.")
    rack_width: Length | None = None
    rack_height: Length | None = Field(default=None, description="Usable height of one rack level.")
    max_load: Count | None = Field(default=None, description="Boards per load, where an offer limits it.")
    belt_width: Length | None = None
    belt_min_speed: Speed | None = None
    belt_max_speed: Speed | None = None
    wash_zone_length: Length | None = None
    rinse_zone_length: Length | None = None
    dry_zone_length: Length | None = None


class Wash(Record):
    """Wash stage."""

    fluids: tuple[Identifier, ...] | None = Field(
        default=None, description="Fluids the machine is made or offered for."
    )
    temperature: Temperature | None = Field(default=None, description="Highest wash temperature it holds.")
    max_time: Duration | None = Field(default=None, description="Longest wash the controls or the belt allow.")
    tank_volume: Volume | None = None
    fill_and_heat_time: Duration | None = Field(default=None, description="Per cycle, before washing starts.")
    drag_out: VolumePerArea | None = Field(default=None, description="Liquid left on board and rack after draining.")
    evaporation_share: Share | None = Field(default=None, description="Of the tank volume per day, replaced.")


class Rinse(Record):
    """Rinse stage."""

    kind: Literal["none", "fill and drain", "spray", "counterflow", "own vapour"] | None = None
    max_rinses: int | None = Field(default=None, ge=0, le=50)
    volume_per_rinse: Volume | None = None
    time_per_rinse: Duration | None = None
    flow: Flow | None = Field(default=None, description="Of counterflow rinse water.")
    temperature: Temperature | None = None
    feed_resistivity: Resistivity | None = Field(default=None, description="Of the rinse water fed.")
    closed_loop: bool | None = None
    resin_volume: Volume | None = None
    resistivity_end_point: bool | None = Field(default=None, description="Rinses until a set resistivity is reached.")


class Dry(Record):
    """Drying stage."""

    kind: DryerKind | None = None
    air_temperature: Temperature | None = None
    air_flow: AirFlow | None = Field(default=None, description="Air blown over the boards.")
    exhaust_flow: AirFlow | None = Field(default=None, description="Air leaving the machine; carries the vapour away.")
    air_speed: Speed | None = Field(default=None, description="At the boards.")
    blow_off_left_share: Share | None = Field(default=None, description="Share of the film that blow-off leaves.")
    vacuum_pressure: LowPressure | None = None
    vacuum_pump_speed: AirFlow | None = Field(default=None, description="At chamber pressure, condenser counted.")
    pump_down_time: Duration | None = None
    heater_power: Power | None = None
    max_time: Duration | None = None


class WettedPart(Record):
    """One part that the fluid touches."""

    part: Title
    material: Identifier
    resistance_stated: Resistance | None = Field(default=None, description="What the offer claims, shown beside ours.")
    replacement_material: Identifier | None = Field(default=None, description="Offered or obtainable instead.")
    replacement_price: Money | None = None


class Rack(Record):
    """Electrostatic properties of rack and process."""

    point_to_point: ElectricalResistance | None = None
    to_ground: ElectricalResistance | None = None
    dissipative_holders_price: Money | None = Field(
        default=None, description="Of board holders that bring a too conductive rack into range, where obtainable."
    )
    ioniser: bool | None = None
    dosed_rinse: bool | None = Field(default=None, description="Rinse water made slightly conductive.")


class Running(Record):
    """Time and people around a cycle."""

    load_unload_time: Duration | None = None
    operator_share: Share | None = Field(default=None, description="Share of the running time that a person attends.")
    time_between_failures: LongDuration | None = None
    repair_time: LongDuration | None = None
    changeover_time: Duration | None = None


class Site(Record):
    """What the machine asks of the building."""

    connected_power: Power | None = None
    heat_power: Power | None = Field(default=None, description="Mean electrical power while running.")
    water_flow: Flow | None = None
    compressed_air: AirFlow | None = None
    exhaust_flow: AirFlow | None = None
    drain_needed: bool | None = None
    floor_area: Area | None = None
    flammable_volume: Volume | None = None


class Prices(Record):
    """What it costs to have and keep."""

    purchase: Money | None = Field(default=None, description="The machine as offered, without freight or installation.")
    freight: Money | None = Field(default=None, description="Way to the plant, once for each machine.")
    installation: Money | None = Field(default=None, description="Setting up and connecting, once for each machine.")
    qualification: Money | None = Field(
        default=None, description="Proof that it cleans before production starts, once for each machine."
    )
    training: Money | None = Field(default=None, description="Teaching operators, once for all machines.")
    service_per_year: MoneyPerYear | None = Field(default=None, description="Service contract for each machine.")
    spare_parts_per_year: MoneyPerYear | None = Field(
        default=None, description="Parts beside filters and seals, for each machine."
    )
    filters_per_year: MoneyPerYear | None = Field(
        default=None, description="Filters of wash and rinse, for each machine."
    )
    seals_per_year: MoneyPerYear | None = Field(
        default=None, description="Seals and hoses that wear, for each machine."
    )
    life: Years | None = Field(default=None, description="Years until it has to be bought again.")
    residual_share: Share | None = Field(default=None, description="Of the purchase price at the end of its life.")
    price_per_board: Money | None = Field(default=None, description="Service bought per board.")
    turnaround: LongDuration | None = Field(default=None, description="Of a service bought per board.")


class Equipment(Record):
    """Everything that a class bounds and an offer may state."""

    spray: Spray = Spray()
    immersion: Immersion = Immersion()
    chamber: Chamber = Chamber()
    wash: Wash = Wash()
    rinse: Rinse = Rinse()
    dry: Dry = Dry()
    wetted_parts: tuple[WettedPart, ...] | None = None
    rack: Rack = Rack()
    traceability: dict[TraceFunction, Availability] | None = None
    traceability_option_price: Money | None = Field(default=None, description="For all functions offered as option.")
    running: Running = Running()
    site: Site = Site()
    prices: Prices = Prices()


class MachineClass(Equipment):
    """A generic kind of machine, with wide ranges and no maker."""

    id: Identifier
    name: Title
    principle: Principle
    moving: Literal["batch", "inline", "manual", "outside", "none"] = Field(description="How boards pass through.")
    summary: str = Field(description="One plain sentence: what it is.")
    note: str = ""


class Candidate(Equipment):
    """One machine on the table: a class and what the offer states."""

    id: Identifier
    name: Title
    machine_class: Identifier
    supplier: str = Field(default="", max_length=120)
    offer_date: str = Field(default="", max_length=40)
    count: int | None = Field(default=None, ge=1, le=100, description="Machines offered; absent: as many as needed.")
    note: str = ""
