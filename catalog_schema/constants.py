"""Coefficients and estimates of the model itself: shown, editable, never literals in code."""

from __future__ import annotations

from pydantic import Field

from catalog_schema.quantity import (
    Capacitance,
    ChargePerVolume,
    Density,
    Diffusivity,
    Duration,
    HeatTransferCoefficient,
    LongDuration,
    Number,
    Record,
    Share,
    SpecificHeat,
    StreamSpeed,
    Temperature,
    TemperatureDifference,
    Voltage,
    VolumePerArea,
)


class Constants(Record):
    """Every constant may be absent in a case; the library gives all of them."""

    stream_pressure_conversion: Number | None = Field(
        default=None,
        description="κ: the pressure across a gap is κ² times the stream's dynamic pressure there.",
    )
    restitution: Share | None = Field(default=None, description="Share of the speed that a stream keeps in a ricochet.")
    drop_drag_coefficient: Number | None = Field(default=None, description="Air drag coefficient of spray drops.")
    useful_film_speed: StreamSpeed | None = Field(
        default=None, description="Film speed below which run-out no longer clears gaps."
    )
    worst_cell_drop_share: Share | None = Field(
        default=None, description="Share of the board's cells that may be worse than the place that counts."
    )
    jet_decay_coefficient: Number | None = Field(
        default=None, description="Submerged round jet: centre-line speed falls as B·d/x."
    )
    jet_half_width_growth: Share | None = Field(
        default=None, description="Submerged round jet: growth of its half width per distance."
    )
    gap_end_loss: Number | None = Field(
        default=None, description="Velocity heads lost at entrance and exit of a gap together."
    )
    hardening_time_scale: LongDuration | None = Field(
        default=None, description="Waiting time after which residue hardens ever more slowly."
    )
    centrifugal_unbalanced_share: Share | None = Field(
        default=None, description="Share of the centrifugal head that drives flow through a gap (slip, reversing)."
    )
    sound_speed: StreamSpeed | None = Field(default=None, description="Speed of sound in the bath.")
    ultrasonic_enhancement: Number | None = Field(
        default=None, description="Effective gap pressure of ultrasound over its radiation pressure."
    )
    idle_hold_up: VolumePerArea | None = Field(
        default=None, description="Liquid that rack and fixtures hold, per board area."
    )
    rinse_film_share: Share | None = Field(
        default=None, description="Share of the open-surface film that a rinse replaces."
    )
    resin_capacity: ChargePerVolume | None = Field(default=None, description="Usable capacity of mixed-bed resin.")
    ion_diffusivity: Diffusivity | None = Field(
        default=None, description="Of dissolved ions out of a gap into the rinse."
    )
    gap_drying_path_share: Share | None = Field(
        default=None,
        description="Share of a body's length over which the drying meniscus really recedes: films along joints "
        "carry water back to the edge.",
    )
    heat_transfer_share: Share | None = Field(
        default=None, description="Share of the ideal convective drying that crowded, shaded boards get."
    )
    film_after_blow_off: Share | None = Field(default=None, description="Used where a dryer does not state its own.")
    gap_liquid_share: Share | None = Field(
        default=None, description="Share of the gap that still holds water after blow-off."
    )
    laminate_diffusivity: Diffusivity | None = Field(
        default=None, description="Of moisture in FR-4 at its reference temperature."
    )
    laminate_reference_temperature: Temperature | None = None
    laminate_activation_temperature: TemperatureDifference | None = Field(
        default=None, description="Activation energy divided by the gas constant."
    )
    laminate_saturation: Share | None = Field(
        default=None, description="Moisture by mass of laminate kept in liquid water."
    )
    laminate_start: Share | None = Field(
        default=None, description="Moisture by mass before the wash, as share of saturation."
    )
    board_density: Density | None = Field(default=None, description="Mean density of an assembled board.")
    board_heat_capacity: SpecificHeat | None = Field(default=None, description="Of an assembled board.")
    charging_voltage: Voltage | None = Field(default=None, description="To which spray or handling charges a board.")
    rack_capacitance: Capacitance | None = Field(default=None, description="Board in rack, where the plant gives none.")
    max_decay_time: Duration | None = Field(default=None, description="Time in which a charge must fall to a tenth.")
    service_variation: Number | None = Field(
        default=None, description="Squared coefficient of variation of the time of a load."
    )
    bath_life_max: LongDuration | None = Field(
        default=None, description="Operating hours after which a bath is changed anyway."
    )
    trial_model_error: Share | None = Field(
        default=None,
        description="Standard deviation of the residue share that the model itself may be off by.",
    )
    natural_convection: HeatTransferCoefficient | None = Field(
        default=None, description="Between a standing load and still air."
    )
    solvent_vapour_diffusivity: Diffusivity | None = Field(
        default=None, description="Of a wash solvent's vapour in air at room temperature."
    )
