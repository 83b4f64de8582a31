"""A wash fluid at the temperature it has in a machine: how it flows, wets and carries residue."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType, FluxKind, ResidueFamily
from catalog_schema.fluids import Fluid
from model.clearing import ResidueState, capacity_kg_m3, hardening_factor
from model.fluids import scale_diffusivity_m2_s
from model.uncertainty import FloatArray, InputBook


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidState:
    """Properties at wash temperature, one value per draw."""

    fluid: Fluid
    """The fluid itself."""
    temperature_K: FloatArray
    """K, shape (draws,)"""
    density_kg_m3: FloatArray
    """kg/m³, shape (draws,)"""
    viscosity_Pa_s: FloatArray
    """Pa·s, shape (draws,)"""
    surface_tension_N_m: FloatArray
    """N/m, shape (draws,)"""
    contact_angle_component_rad: FloatArray
    """rad, shape (draws,)"""
    contact_angle_board_rad: FloatArray
    """rad, shape (draws,)"""
    diffusivity_m2_s: FloatArray
    """m²/s, shape (draws,)"""


def fluid_path(fluid: Fluid, field: str) -> str:
    """Path under which a fluid's quantity is noted."""
    return f"fluids[{fluid.id}].{field}"


def fluid_state(fluid: Fluid, temperature_K: FloatArray, book: InputBook) -> FluidState:
    """Bring a fluid's properties to a temperature.

    Parameters
    ----------
    fluid : Fluid
    temperature_K : ndarray (draws,)
        Wash temperature, K.
    book : InputBook

    Returns
    -------
    FluidState

    Notes
    -----
    Viscosity µ = µ_ref exp(−a (T − T_ref)), diffusivity by Stokes-Einstein D ∝ T/µ. Density and wetting are taken at
    the reference temperature: they change by a few percent, their ranges by more (engineering estimate).
    """

    def take(field: str) -> FloatArray:
        return book.take(getattr(fluid, field), fluid_path(fluid, field), "engineering estimate")

    reference_K = take("reference_temperature")
    viscosity_reference = take("viscosity")
    viscosity = viscosity_reference * np.exp(-take("viscosity_loss_per_kelvin") * (temperature_K - reference_K))
    diffusivity = scale_diffusivity_m2_s(
        take("diffusivity"), reference_K, temperature_K, viscosity_reference, viscosity
    )
    return FluidState(
        fluid=fluid, temperature_K=temperature_K, density_kg_m3=take("density"), viscosity_Pa_s=viscosity,
        surface_tension_N_m=take("surface_tension"), contact_angle_component_rad=take("contact_angle_component"),
        contact_angle_board_rad=take("contact_angle_board"),
        diffusivity_m2_s=np.asarray(diffusivity, dtype=np.float64),
    )  # fmt: skip


def dissolves(fluid: Fluid, family: ResidueFamily) -> bool:
    """Tell whether the fluid dissolves a residue family at all.

    Notes
    -----
    True where the fluid states a capacity above 0 for the family.
    """
    capacity = fluid.capacity.get(family)
    return capacity is not None and capacity.si()[2] > 0


def hardened_share(
    flux: FluxKind, board: BoardType, hardening_time_scale_s: FloatArray, book: InputBook
) -> FloatArray:
    """Share of its capacity that any fluid keeps for a residue hardened by a board's soldering and wait, (draws,).

    Parameters as in `residue_state`. Notes: `hardening_factor`; the wait exponent is the loss per hour × time scale, so
    that the first hours lose what is stated.
    """

    def of_flux(field: str) -> FloatArray:
        return book.take(getattr(flux, field), f"flux_kinds[{flux.id}].{field}", "engineering estimate")

    def of_board(field: str) -> FloatArray:
        return book.take(getattr(board, field), f"board_types[{board.id}].{field}", "measured")

    scale_h = hardening_time_scale_s / 3600.0
    return np.asarray(
        hardening_factor(
            peak_reflow_K=of_board("peak_reflow_temperature"), reference_peak_K=of_flux("reference_peak_temperature"),
            wait_h=of_board("wait_before_wash") / 3600.0, wait_scale_h=scale_h,
            sensitivity_per_K=of_flux("hardening_per_kelvin"),
            wait_exponent=of_flux("hardening_per_hour") * 3600.0 * scale_h,
        )
    )  # fmt: skip


def residue_state(
    state: FluidState, flux: FluxKind, board: BoardType, hardening_time_scale_s: FloatArray, book: InputBook,
    hardening: FloatArray | None = None,
) -> ResidueState:  # fmt: skip
    """Say how much of a board's residue the fluid takes up, hardened as that board's soldering leaves it.

    Parameters
    ----------
    state : FluidState
    flux : FluxKind
    board : BoardType
        Gives the reflow peak and the wait before the wash.
    hardening_time_scale_s : ndarray (draws,)
    book : InputBook
    hardening : ndarray (draws,), optional
        `hardened_share` of the same, where it is known already.

    Returns
    -------
    ResidueState
        Capacity zero where the fluid does not dissolve the family.

    Notes
    -----
    C_s = capacity of the fluid for the family × temperature gain × hardening (`capacity_kg_m3`, `hardened_share`).
    """

    def of_flux(field: str) -> FloatArray:
        return book.take(getattr(flux, field), f"flux_kinds[{flux.id}].{field}", "engineering estimate")

    draws = state.temperature_K.size
    quantity = state.fluid.capacity.get(flux.family)
    if quantity is None:
        reference = np.zeros(draws)
    else:
        path = fluid_path(state.fluid, f"capacity.{flux.family}")
        reference = book.take(quantity, path, "engineering estimate")
    if hardening is None:
        hardening = hardened_share(flux, board, hardening_time_scale_s, book)
    gain = book.take(
        state.fluid.capacity_gain_per_kelvin,
        fluid_path(state.fluid, "capacity_gain_per_kelvin"),
        "engineering estimate",
    )
    reference_K = book.take(
        state.fluid.reference_temperature, fluid_path(state.fluid, "reference_temperature"), "engineering estimate"
    )
    return ResidueState(
        capacity_kg_m3=capacity_kg_m3(reference, gain, state.temperature_K, reference_K, hardening),
        residue_density_kg_m3=of_flux("residue_density"), residue_thickness_m=of_flux("residue_thickness"),
    )  # fmt: skip
