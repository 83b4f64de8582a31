"""Drive pressure at the edge of a component where no spray reaches it: submerged, spun, insonated, in vapour, brushed.

Every machine kind is reduced to the same record, `Drive`: one pressure, the share of time it acts on a place
it reaches, and the share of the board it reaches. Everything downstream treats that as a single duty bin.
Sizes marked "engineering estimate" are parameters that come from the library with a wide range.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.fluids import Values, require_above_zero, require_not_negative, require_within
from model.input_errors import UnphysicalInputError

STANDARD_GRAVITY_m_s2 = 9.80665
"""m/s², standard acceleration of gravity (CGPM 1901)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """What pushes fluid through the gaps in a machine without spray; all fields over the same draws."""

    pressure_Pa: NDArray[np.float64]
    """Pa, pressure difference over the component while it acts, shape (draws,)"""
    duty_share: NDArray[np.float64]
    """0 to 1, share of wash time during which it acts on a place it reaches, shape (draws,)"""
    covered_share: NDArray[np.float64]
    """0 to 1, share of the board area that it reaches at all, shape (draws,)"""


def make_drive(pressure_Pa: Values, duty_share: Values, covered_share: Values = 1.0) -> Drive:
    """Check and broadcast pressure (Pa), duty and covered share into a `Drive` over draws.

    Errors: ValueError for negative pressure or a share outside 0 to 1.
    """
    require_not_negative("drive pressure", pressure_Pa, "Pa")
    require_within("duty share", duty_share, 0.0, 1.0, "")
    require_within("covered share", covered_share, 0.0, 1.0, "")
    arrays = np.broadcast_arrays(np.atleast_1d(pressure_Pa), duty_share, covered_share)
    pressure, duty, covered = (np.array(array, dtype=np.float64) for array in arrays)
    return Drive(pressure_Pa=pressure, duty_share=duty, covered_share=covered)


def submerged_jet_speed_m_s(
    exit_speed_m_s: Values, nozzle_diameter_m: Values, distance_m: Values, decay_constant: Values
) -> Values:
    """Centre-line speed of a round jet in the same fluid: u = u0·min(1, B d/x).

    Parameters: speed at the nozzle (m/s), its diameter (m), distance (m, at least 0), B (-, about 6).
    Returns: speed (m/s). Errors: ValueError for diameter or B not above 0, speed or distance below 0.

    Notes: turbulent free round jet, core of B diameters, then 1/x decay. B about 6.1 (textbook range 5.8 to
    6.2, from memory). Walls, neighbouring jets and cross-flow are neglected.

    >>> round(float(submerged_jet_speed_m_s(10.0, 2e-3, 61e-3, 6.1)), 6)
    2.0
    """
    require_not_negative("exit speed", exit_speed_m_s, "m/s")
    require_above_zero("nozzle diameter", nozzle_diameter_m, "m")
    require_not_negative("distance", distance_m, "m")
    require_above_zero("decay constant", decay_constant, "")
    core_m = decay_constant * nozzle_diameter_m
    return exit_speed_m_s * core_m / np.maximum(core_m, distance_m)


def submerged_jet_drive(
    *,
    exit_speed_m_s: Values,
    nozzle_diameter_m: Values,
    distance_m: Values,
    decay_constant: Values,
    half_width_growth: Values,
    nozzle_count: Values,
    nozzle_pitch_m: Values,
    board_stroke_m: Values,
    board_area_m2: Values,
    density_kg_m3: Values,
    coupling_share: Values,
) -> Drive:
    """Drive of a bank of nozzles under the fluid level, boards at rest or oscillating.

    Parameters: as `submerged_jet_speed_m_s`; growth of the half width per distance (-, about 0.1); nozzles
    aimed at one board side (count), their pitch across the motion (m), stroke of the board (m, 0 = at rest),
    area of that side (m²), fluid density (kg/m³), share κ of the speed that arrives at the gap edge (0-1,
    engineering estimate).
    Returns: `Drive`. Errors: ValueError for what is negative, zero lengths and areas, κ outside 0 to 1.

    Notes: p = ½ρ(κu)²; each jet covers a disc of radius d/2 + growth·x, so a place sees a jet during the
    share N π r²/A of the time, averaged over the board. Motion spreads that over the covered share min(1, (2r
    + stroke)/pitch) or, if larger, the discs' own area; places outside never see a jet. The centre-line speed
    is used over the whole disc; for a Gaussian profile this overstates the mean of p^⅓ by about a quarter:
    let κ's range carry it.
    """
    speed_m_s = submerged_jet_speed_m_s(exit_speed_m_s, nozzle_diameter_m, distance_m, decay_constant)
    require_not_negative("half width growth", half_width_growth, "")
    require_not_negative("nozzle count", nozzle_count, "")
    require_above_zero("nozzle pitch", nozzle_pitch_m, "m")
    require_not_negative("board stroke", board_stroke_m, "m")
    require_above_zero("board area", board_area_m2, "m²")
    require_above_zero("fluid density", density_kg_m3, "kg/m³")
    require_within("coupling share", coupling_share, 0.0, 1.0, "")
    radius_m = np.asarray(nozzle_diameter_m) / 2.0 + np.asarray(half_width_growth) * distance_m
    mean_duty = np.minimum(1.0, nozzle_count * np.pi * np.square(radius_m) / board_area_m2)
    reach = np.minimum(1.0, (2.0 * radius_m + board_stroke_m) / nozzle_pitch_m)
    covered = np.where(mean_duty > 0.0, np.maximum(reach, mean_duty), 0.0)
    duty = np.where(covered > 0.0, mean_duty / np.where(covered > 0.0, covered, 1.0), 0.0)
    return make_drive(
        0.5 * density_kg_m3 * np.square(coupling_share * speed_m_s), np.minimum(1.0, duty), covered
    )


def centrifugal_drive(
    *,
    rotation_rad_s: Values,
    radius_m: Values,
    radial_extent_m: Values,
    density_kg_m3: Values,
    unbalanced_share: Values,
    spinning_share: Values,
) -> Drive:
    """Drive of boards spun under the fluid level: p = unbalanced share · ρω²R ΔR.

    Parameters: angular speed (rad/s), radius of the component (m), its radial extent ΔR (m), fluid density
    (kg/m³), share of the head that drives flow (0-1, engineering estimate), share of wash time spinning
    (0-1).
    Returns: `Drive`, covering the whole board. Errors: ValueError for negative values, density not above 0,
    bad shares.

    Notes: fluid that turns with the board carries the same pressure gradient outside the gap as inside and
    drives nothing; only slip between bath and board (starting, stopping, reversing, draining gaps) leaves
    part of it.
    """
    require_not_negative("angular speed", rotation_rad_s, "rad/s")
    require_not_negative("radius", radius_m, "m")
    require_not_negative("radial extent", radial_extent_m, "m")
    require_above_zero("fluid density", density_kg_m3, "kg/m³")
    require_within("unbalanced share", unbalanced_share, 0.0, 1.0, "")
    head_Pa = density_kg_m3 * np.square(rotation_rad_s) * radius_m * radial_extent_m
    return make_drive(unbalanced_share * head_Pa, spinning_share)


def ultrasonic_drive(
    *,
    power_density_W_m3: Values,
    depth_m: Values,
    sound_speed_m_s: Values,
    enhancement: Values,
    active_share: Values,
) -> Drive:
    """Drive of an ultrasonic tank: radiation pressure I/c as the floor, times an enhancement for bubbles.

    Parameters: acoustic power per fluid volume (W/m³; 10 W/L is 1e4), fluid depth over the radiating bottom
    (m), speed of sound (m/s), enhancement (at least 1, engineering estimate, range of decades), share of time
    and place with sound (0-1, engineering estimate: standing-wave nodes, shading by neighbours, degassing
    pauses).
    Returns: `Drive`, covering the whole board. Errors: ValueError for values out of range.

    Notes: I = power density × depth; p = enhancement·I/c. I/c is the momentum flux of a fully absorbed plane
    wave, a few pascal; steady streaming around collapsing bubbles is far stronger and not computed: the
    enhancement stands for it.
    """
    require_not_negative("power density", power_density_W_m3, "W/m³")
    require_above_zero("fluid depth", depth_m, "m")
    require_above_zero("speed of sound", sound_speed_m_s, "m/s")
    if not np.all(np.asarray(enhancement) >= 1.0):
        raise UnphysicalInputError(f"enhancement must be at least 1; got {np.min(enhancement)}.")
    return make_drive(enhancement * np.asarray(power_density_W_m3) * depth_m / sound_speed_m_s, active_share)
