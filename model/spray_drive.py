"""A machine's spray on a board type: pump and nozzles set the pressure, the trace says where and how long it acts."""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import cast

import numpy as np

from catalog_schema.boards import BoardType
from model.fluid_state import FluidState
from model.input_errors import UnphysicalInputError
from model.machine_inputs import MachineInputs, MissingInputError
from model.nozzles import drag_decay_length_m, film_run_out_radius_m, nozzle_area_m2
from model.pump import (
    OperatingPoint,
    PumpCurve,
    operating_point,
    quadratic_loss_coefficient_Pa_s2_m6,
    shaft_power_W,
)
from model.spray_field import ExposureTrace, trace_exposure
from model.spray_geometry import (
    Arrangement,
    BeltManifolds,
    Face,
    FixedManifolds,
    Nozzle,
    Rack,
    RotatingArms,
    Shape,
    boards_that_fit,
)
from model.uncertainty import FloatArray

TRACED_BOARDS = 12
"""Boards traced at most: they stand for a full rack, whose inner boards see the same neighbours."""

AIR_DENSITY_KG_M3 = 1.2
"""Air at room temperature, kg/m³ (handbook value, from memory); drag needs no better."""

PREFERRED_SIZES_M: tuple[float, ...] = tuple(round(float(10.0 ** (step / 10.0 - 2.0)), 4) for step in range(24))
"""Series R10 of ISO 3 (values from memory): boards are traced at the nearest of these sizes, 10 mm to 2 m."""


@dataclass(frozen=True, slots=True)
class SprayGeometry:
    """All that a ray trace depends on; equal geometries share one trace."""

    arrangement: Arrangement
    """Where the nozzles are and how they move."""
    nozzle: Nozzle
    """Shape of the stream."""
    rack: Rack
    """Boards in the rack or on the belt."""

    def trace(self, rays: int, seed: int) -> ExposureTrace:
        """Trace this geometry; see `trace_exposure`."""
        return trace_exposure(self.arrangement, self.nozzle, self.rack, rays, seed)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadFit:
    """How many boards of a type the machine holds."""

    boards_per_load: int
    """Boards in a full load (batch), or abreast on the belt (inline); 0 when the board does not fit."""
    sentence: str
    """What was found, with numbers."""


def traced_size_m(size_m: float) -> float:
    """Nearest preferred size, on a logarithmic scale.

    >>> traced_size_m(0.17)
    0.1585
    """
    return min(PREFERRED_SIZES_M, key=lambda preferred: abs(log(size_m / preferred)))


def usable_room_m(inputs: MachineInputs, levels: int) -> tuple[float, float, float]:
    """Length, width and height for boards on one rack level, m: the rack where stated, else the chamber's share.

    Notes
    -----
    Height without a rack's own: chamber height ÷ levels.
    """
    sizes = []
    for name, chamber_share in (("length", 1), ("width", 1), ("height", levels)):
        rack, chamber = inputs.likely(f"chamber.rack_{name}"), inputs.likely(f"chamber.{name}")
        known = [size for size in (rack, None if chamber is None else chamber / chamber_share) if size is not None]
        if not known:
            raise MissingInputError(inputs.machine.name, f"chamber.{name}")
        sizes.append(known[0])
    return sizes[0], sizes[1], sizes[2]


def load_fit(inputs: MachineInputs, board: BoardType) -> LoadFit:
    """Count the boards of a type that a load holds, or say why none fits.

    Notes
    -----
    Belt: boards abreast = floor(belt width ÷ shorter edge). Lying boards: the better of the two ways to lay them on
    each level. Standing boards: see `boards_that_fit`; in both a limit stated by the offer caps the count.
    """
    length, width = board.length.si()[1], board.width.si()[1]
    size = f"{length * 1e3:.0f} × {width * 1e3:.0f} mm"
    if inputs.machine.moving == "inline":
        belt = inputs.likely("chamber.belt_width")
        if belt is None:
            raise MissingInputError(inputs.machine.name, "chamber.belt_width")
        abreast = int(belt / min(length, width) + 1e-9)
        if abreast < 1:
            return LoadFit(
                boards_per_load=0, sentence=f"The belt is {belt * 1e3:.0f} mm wide, narrower than the board of {size}."
            )
        return LoadFit(boards_per_load=abreast, sentence=f"{abreast} boards of {size} lie abreast on the belt.")
    levels = inputs.whole("chamber.levels") or 1
    room = usable_room_m(inputs, levels)
    if inputs.flag("chamber.boards_lie_flat"):
        per_level = max(
            int(room[0] / a + 1e-9) * int(room[1] / b + 1e-9) for a, b in ((length, width), (width, length))
        )
        count = per_level * levels
    else:
        pitch = inputs.likely_or("chamber.board_pitch", 0.03)
        count = boards_that_fit(room[0], room[1], room[2] * levels, length, width, pitch, levels)
    limit = inputs.likely("chamber.max_load")
    if limit is not None:
        count = min(count, int(limit))
    shown = " × ".join(f"{side * 1e3:.0f}" for side in room)
    floors = "1 level" if levels == 1 else f"{levels} levels"
    if count < 1:
        return LoadFit(
            boards_per_load=0,
            sentence=(
                f"The room for boards is {shown} mm on {'' if levels == 1 else 'each of '}{floors}, too small for the "
                f"board of {size}."
            ),
        )
    return LoadFit(
        boards_per_load=count, sentence=f"{count} boards of {size} fit into {shown} mm on {floors}."
    )


def spray_geometry(inputs: MachineInputs, board: BoardType, fit: LoadFit, drag_coefficient: float) -> SprayGeometry:
    """Build the geometry to trace from likely values.

    Raises
    ------
    MissingInputError
        When neither offer nor class says enough.
    ValueError
        When the geometry contradicts itself.
    """

    def needed(path: str) -> float:
        found = inputs.likely(f"spray.{path}")
        if found is None:
            raise MissingInputError(inputs.machine.name, f"spray.{path}")
        return found

    def needed_whole(path: str) -> int:
        found = inputs.whole(f"spray.{path}")
        if found is None:
            raise MissingInputError(inputs.machine.name, f"spray.{path}")
        return found

    shape = inputs.word("spray.nozzle_shape")
    if shape not in ("coherent jet", "flat fan", "full cone"):
        raise MissingInputError(inputs.machine.name, "spray.nozzle_shape")
    half_angle = needed("nozzle_half_angle")
    decay_m = float(drag_decay_length_m(needed("drop_diameter"), 1000.0, AIR_DENSITY_KG_M3, drag_coefficient))
    nozzle = Nozzle(
        shape=cast(Shape, shape), half_angle_rad=half_angle,
        thin_half_angle_rad=inputs.likely_or("spray.nozzle_thin_half_angle", 0.07) if shape == "flat fan" else 0.0,
        decay_length_m=decay_m, orifice_diameter_m=needed("nozzle_diameter"),
        discharge_coefficient=needed("discharge_coefficient"), velocity_coefficient=needed("velocity_coefficient"),
    )  # fmt: skip
    length = traced_size_m(board.length.si()[1])
    width = traced_size_m(board.width.si()[1])
    clearance = needed("clearance")
    below, above = inputs.whole("spray.levels_below") or 0, inputs.whole("spray.levels_above") or 0
    arrangement_word = inputs.word("spray.arrangement")
    arrangement: Arrangement
    if arrangement_word == "belt manifolds":
        belt = inputs.likely("chamber.belt_width")
        zone = inputs.likely("chamber.wash_zone_length")
        if belt is None or zone is None:
            raise MissingInputError(
                inputs.machine.name, "chamber.belt_width" if belt is None else "chamber.wash_zone_length"
            )
        rows = inputs.whole("spray.manifold_rows") or 1
        arrangement = BeltManifolds(
            rows_above=rows if above else 0, rows_below=rows if below else 0,
            nozzles_per_row=needed_whole("nozzles_per_level"), distance_above_m=clearance, distance_below_m=clearance,
            zone_length_m=zone, belt_width_m=max(belt, length),
        )  # fmt: skip
        # The narrow edge lies across when only that one fits.
        across = length if belt >= length else width
        along = width if belt >= length else length
        abreast = max(1, min(TRACED_BOARDS, int(max(belt, across) / across + 1e-9)))
        rack = Rack(orientation="flat", board_length_m=across, board_width_m=along, pitch_m=along * 1.05,
                    board_count=abreast)  # fmt: skip
        return SprayGeometry(arrangement=arrangement, nozzle=nozzle, rack=rack)
    if arrangement_word == "fixed manifolds":
        faces: list[Face] = []
        if below:
            faces.append("below")
        if above:
            faces.append("above")
        arrangement = FixedManifolds(
            rows=inputs.whole("spray.manifold_rows") or 1, columns=needed_whole("nozzles_per_level"),
            faces=tuple(faces),
            clearance_m=clearance, oscillation_half_angle_rad=inputs.likely_or("spray.oscillation_half_angle", 0.0),
            overhang_m=clearance / 2.0,
        )  # fmt: skip
    elif arrangement_word == "rotating arms":
        arrangement = RotatingArms(
            arms_below=below, arms_above=above, arm_radius_m=needed("arm_radius"),
            nozzles_per_arm=needed_whole("nozzles_per_level"), clearance_below_m=clearance, clearance_above_m=clearance,
            tilt_rad=inputs.likely_or("spray.arm_tilt", 0.0),
        )  # fmt: skip
    else:
        raise MissingInputError(inputs.machine.name, "spray.arrangement")
    flat = bool(inputs.flag("chamber.boards_lie_flat"))
    pitch = inputs.likely_or("chamber.board_pitch", 0.03)
    count = max(1, min(TRACED_BOARDS, fit.boards_per_load))
    if flat:
        rack = Rack(orientation="flat", board_length_m=length, board_width_m=width, pitch_m=width * 1.05,
                    board_count=min(count, 4))  # fmt: skip
    else:
        rack = Rack(orientation="standing", board_length_m=length, board_width_m=width, pitch_m=pitch,
                    board_count=count)  # fmt: skip
    return SprayGeometry(arrangement=arrangement, nozzle=nozzle, rack=rack)


def nozzle_count(inputs: MachineInputs) -> int:
    """Count the nozzles that the pump feeds, from the arrangement.

    Notes
    -----
    Nozzles per level × levels below and above, × rows where manifolds stand still.
    """
    per_level = inputs.whole("spray.nozzles_per_level") or 1
    levels = (inputs.whole("spray.levels_below") or 0) + (inputs.whole("spray.levels_above") or 0)
    rows = inputs.whole("spray.manifold_rows") or 1
    by_rows = inputs.word("spray.arrangement") != "rotating arms"
    return max(1, per_level * levels * (rows if by_rows else 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class SprayPump:
    """Where pump and nozzles meet with one fluid, with clean and with loaded filter."""

    clean: OperatingPoint
    """With a clean filter."""
    loaded: OperatingPoint
    """With the filter that is due."""
    nozzles: int
    """Nozzles fed."""
    source: str
    """Whether the pressure was computed from a pump curve or stated by the offer."""


def spray_pump(inputs: MachineInputs, state: FluidState) -> SprayPump:
    """Meet pump curve and nozzle bank, or take the nozzle pressure that an offer states.

    Raises
    ------
    MissingInputError
        When neither a nozzle pressure nor a pump curve is known.
    UnphysicalInputError
        When nothing comes out of the nozzles: a pressure or a greatest flow of 0 is stated.

    Notes
    -----
    Nozzle bank: Δp = ρ q²/(2 (C_d ΣA)²); piping that takes a share s of the pressure adds s/(1 − s) of it; the filter
    adds Δp_f (q/q_max)². The curve from shut-off pressure to greatest flow is met in `operating_point`. A stated nozzle
    pressure holds with a clean filter, and the loaded filter takes its loss off it, at most nine tenths.
    """
    count = nozzle_count(inputs)
    area_m2 = nozzle_area_m2(inputs.needed("spray.nozzle_diameter")) * count
    discharge = inputs.needed("spray.discharge_coefficient")
    efficiency = inputs.needed("spray.pump_efficiency")
    loaded_loss_Pa = inputs.draws("spray.loaded_filter_loss")
    stated = inputs.draws("spray.nozzle_pressure")
    density = state.density_kg_m3
    if stated is not None:
        _refuse_still_pump(inputs, stated)
        return _stated_pump(stated, loaded_loss_Pa, np.asarray(area_m2), discharge, efficiency, density, count)
    shutoff, max_flow = inputs.needed("spray.shutoff_pressure"), inputs.needed("spray.max_flow")
    curve = PumpCurve(shutoff_pressure_Pa=shutoff, max_flow_m3_s=max_flow)
    share = inputs.draws("spray.piping_loss_share")
    piping_share = np.zeros_like(shutoff) if share is None else np.minimum(share, 0.95)
    # Piping that takes a share s of the pressure drop adds k_nozzle · s/(1 − s).
    nozzle_loss = density / (2.0 * np.square(discharge * area_m2))
    piping = nozzle_loss * piping_share / (1.0 - piping_share)
    filter_loss = (
        np.zeros_like(shutoff)
        if loaded_loss_Pa is None
        else np.asarray(quadratic_loss_coefficient_Pa_s2_m6(loaded_loss_Pa, max_flow))
    )

    def meet(filter_loss_Pa_s2_m6: FloatArray) -> OperatingPoint:
        return operating_point(
            curve, nozzle_area_m2=area_m2, discharge_coefficient=discharge, density_kg_m3=density,
            efficiency_share=efficiency, piping_loss_Pa_s2_m6=piping, filter_loss_Pa_s2_m6=filter_loss_Pa_s2_m6,
        )  # fmt: skip

    return SprayPump(clean=meet(np.zeros_like(shutoff)), loaded=meet(filter_loss), nozzles=count, source="pump curve")


def _refuse_still_pump(inputs: MachineInputs, nozzle_pressure_Pa: FloatArray) -> None:
    """Say which stated number lets nothing come out of the nozzles."""
    if np.any(nozzle_pressure_Pa <= 0.0):
        raise UnphysicalInputError(
            f"{inputs.machine.name}: spray: the nozzle pressure is 0, so nothing comes out of the nozzles. Give for "
            "example 3 bar, or leave it out."
        )
    # Beside a stated pressure the pump's curve is not used, but it must not contradict it.
    greatest = inputs.machine.equipment.spray.max_flow
    if greatest is not None and greatest.si()[2] <= 0.0:
        raise UnphysicalInputError(
            f"{inputs.machine.name}: spray: the greatest flow of the pump is 0, so nothing comes out of the nozzles. "
            "Give for example 300 L/min, or leave it out."
        )


def _stated_pump(
    pressure_Pa: FloatArray, loaded_loss_Pa: FloatArray | None, area_m2: FloatArray, discharge: FloatArray,
    efficiency: FloatArray, density: FloatArray, count: int,
) -> SprayPump:  # fmt: skip
    """Take a stated nozzle pressure as that with a clean filter; the loaded filter takes its loss off it."""

    def point(nozzle_pressure_Pa: FloatArray, filter_loss_Pa: FloatArray) -> OperatingPoint:
        flow = discharge * area_m2 * np.sqrt(2.0 * nozzle_pressure_Pa / density)
        pump_pressure = nozzle_pressure_Pa + filter_loss_Pa
        return OperatingPoint(
            flow_m3_s=flow, nozzle_pressure_Pa=nozzle_pressure_Pa, pump_pressure_Pa=pump_pressure,
            shaft_power_W=shaft_power_W(flow, pump_pressure, efficiency),
            beyond_curve=np.zeros(flow.shape, dtype=np.bool_),
        )  # fmt: skip

    none = np.zeros_like(pressure_Pa)
    loss = none if loaded_loss_Pa is None else np.minimum(loaded_loss_Pa, 0.9 * pressure_Pa)
    return SprayPump(clean=point(pressure_Pa, none), loaded=point(pressure_Pa - loss, loss), nozzles=count,
                     source="nozzle pressure stated in the offer")  # fmt: skip


def run_out_m(inputs: MachineInputs, pump: SprayPump, state: FluidState, useful_speed_m_s: FloatArray,
              clear_distance_m: FloatArray) -> FloatArray:  # fmt: skip
    """Film run-out per draw: Watson's radius at the useful speed, cut short by the components around.

    Returns
    -------
    ndarray (draws,)
        m.

    Notes
    -----
    min(r, ℓ): Watson's radius r at which the film is down to the useful speed (`film_run_out_radius_m`), and the mean
    clear distance ℓ between components, which stop a film. Computed at the pressure with a loaded filter.
    """
    pressure = np.asarray(pump.loaded.nozzle_pressure_Pa)
    speed = inputs.needed("spray.velocity_coefficient") * np.sqrt(2.0 * pressure / state.density_kg_m3)
    flow_each = np.asarray(pump.loaded.flow_m3_s) / pump.nozzles
    viscosity = state.viscosity_Pa_s / state.density_kg_m3
    radius = np.asarray(film_run_out_radius_m(flow_each, speed, viscosity, useful_speed_m_s))
    return np.asarray(np.minimum(radius, clear_distance_m), dtype=np.float64)
