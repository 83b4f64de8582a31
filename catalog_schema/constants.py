"""Coefficients and estimates of the model itself: shown, editable, never literals in code."""

from __future__ import annotations

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

    stream_pressure_conversion: Number | None = None
    restitution: Share | None = None
    drop_drag_coefficient: Number | None = None
    useful_film_speed: StreamSpeed | None = None
    worst_cell_drop_share: Share | None = None
    jet_decay_coefficient: Number | None = None
    jet_half_width_growth: Share | None = None
    gap_end_loss: Number | None = None
    hardening_time_scale: LongDuration | None = None
    centrifugal_unbalanced_share: Share | None = None
    sound_speed: StreamSpeed | None = None
    ultrasonic_enhancement: Number | None = None
    idle_hold_up: VolumePerArea | None = None
    rinse_film_share: Share | None = None
    resin_capacity: ChargePerVolume | None = None
    ion_diffusivity: Diffusivity | None = None
    gap_drying_path_share: Share | None = None
    heat_transfer_share: Share | None = None
    film_after_blow_off: Share | None = None
    gap_liquid_share: Share | None = None
    laminate_diffusivity: Diffusivity | None = None
    laminate_reference_temperature: Temperature | None = None
    laminate_activation_temperature: TemperatureDifference | None = None
    laminate_saturation: Share | None = None
    laminate_start: Share | None = None
    board_density: Density | None = None
    board_heat_capacity: SpecificHeat | None = None
    charging_voltage: Voltage | None = None
    rack_capacitance: Capacitance | None = None
    max_decay_time: Duration | None = None
    service_variation: Number | None = None
    bath_life_max: LongDuration | None = None
    trial_model_error: Share | None = None
    natural_convection: HeatTransferCoefficient | None = None
    solvent_vapour_diffusivity: Diffusivity | None = None
