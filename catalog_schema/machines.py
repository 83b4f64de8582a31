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
    nozzle_half_angle: Angle | None = None
    nozzle_thin_half_angle: Angle | None = None
    discharge_coefficient: Share | None = None
    velocity_coefficient: Share | None = None
    drop_diameter: Length | None = None
    shutoff_pressure: Pressure | None = None
    max_flow: Flow | None = None
    nozzle_pressure: Pressure | None = None
    piping_loss_share: Share | None = None
    loaded_filter_loss: Pressure | None = None
    pump_efficiency: Share | None = None
    suction_head: Distance | None = None
    npsh_required: Distance | None = None
    levels_below: int | None = Field(default=None, ge=0, le=10)
    levels_above: int | None = Field(default=None, ge=0, le=10)
    nozzles_per_level: int | None = Field(default=None, ge=1, le=500)
    arm_radius: Length | None = None
    arm_tilt: Angle | None = None
    clearance: Length | None = None
    rotation_speed: RotationSpeed | None = None
    manifold_rows: int | None = Field(default=None, ge=1, le=100)
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
    drive_pressure: LowPressure | None = None
    duty_share: Share | None = None


class Chamber(Record):
    """Room for boards."""

    length: Length | None = None
    width: Length | None = None
    height: Length | None = None
    levels: int | None = Field(default=None, ge=1, le=20)
    board_pitch: Length | None = None
    boards_lie_flat: bool | None = None
    rack_length: Length | None = None
    rack_width: Length | None = None
    rack_height: Length | None = None
    max_load: Count | None = None
    belt_width: Length | None = None
    belt_min_speed: Speed | None = None
    belt_max_speed: Speed | None = None
    wash_zone_length: Length | None = None
    rinse_zone_length: Length | None = None
    dry_zone_length: Length | None = None


class Wash(Record):
    """Wash stage."""

    fluids: tuple[Identifier, ...] | None = None
    temperature: Temperature | None = None
    max_time: Duration | None = None
    tank_volume: Volume | None = None
    fill_and_heat_time: Duration | None = None
    drag_out: VolumePerArea | None = None
    evaporation_share: Share | None = None


class Rinse(Record):
    """Rinse stage."""

    kind: Literal["none", "fill and drain", "spray", "counterflow", "own vapour"] | None = None
    max_rinses: int | None = Field(default=None, ge=0, le=50)
    volume_per_rinse: Volume | None = None
    time_per_rinse: Duration | None = None
    flow: Flow | None = None
    temperature: Temperature | None = None
    feed_resistivity: Resistivity | None = None
    closed_loop: bool | None = None
    resin_volume: Volume | None = None
    resistivity_end_point: bool | None = None


class Dry(Record):
    """Drying stage."""

    kind: DryerKind | None = None
    air_temperature: Temperature | None = None
    air_flow: AirFlow | None = None
    exhaust_flow: AirFlow | None = None
    air_speed: Speed | None = None
    blow_off_left_share: Share | None = None
    vacuum_pressure: LowPressure | None = None
    vacuum_pump_speed: AirFlow | None = None
    pump_down_time: Duration | None = None
    heater_power: Power | None = None
    max_time: Duration | None = None


class WettedPart(Record):
    """One part that the fluid touches."""

    part: Title
    material: Identifier
    resistance_stated: Resistance | None = None
    replacement_material: Identifier | None = None
    replacement_price: Money | None = None


class Rack(Record):
    """Electrostatic properties of rack and process."""

    point_to_point: ElectricalResistance | None = None
    to_ground: ElectricalResistance | None = None
    dissipative_holders_price: Money | None = None
    ioniser: bool | None = None
    dosed_rinse: bool | None = None


class Running(Record):
    """Time and people around a cycle."""

    load_unload_time: Duration | None = None
    operator_share: Share | None = None
    time_between_failures: LongDuration | None = None
    repair_time: LongDuration | None = None
    changeover_time: Duration | None = None


class Site(Record):
    """What the machine asks of the building."""

    connected_power: Power | None = None
    heat_power: Power | None = None
    water_flow: Flow | None = None
    compressed_air: AirFlow | None = None
    exhaust_flow: AirFlow | None = None
    drain_needed: bool | None = None
    floor_area: Area | None = None
    flammable_volume: Volume | None = None


class Prices(Record):
    """What it costs to have and keep."""

    purchase: Money | None = None
    freight: Money | None = None
    installation: Money | None = None
    qualification: Money | None = None
    training: Money | None = None
    service_per_year: MoneyPerYear | None = None
    spare_parts_per_year: MoneyPerYear | None = None
    filters_per_year: MoneyPerYear | None = None
    seals_per_year: MoneyPerYear | None = None
    life: Years | None = None
    residual_share: Share | None = None
    price_per_board: Money | None = None
    turnaround: LongDuration | None = None


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
    traceability_option_price: Money | None = None
    running: Running = Running()
    site: Site = Site()
    prices: Prices = Prices()


class MachineClass(Equipment):
    """A generic kind of machine, with wide ranges and no maker."""

    id: Identifier
    name: Title
    principle: Principle
    moving: Literal["batch", "inline", "manual", "outside", "none"]
    summary: str
    note: str = ""


class Candidate(Equipment):
    """One machine on the table: a class and what the offer states."""

    id: Identifier
    name: Title
    machine_class: Identifier
    supplier: str = Field(default="", max_length=120)
    offer_date: str = Field(default="", max_length=40)
    count: int | None = Field(default=None, ge=1, le=100)
    note: str = ""
