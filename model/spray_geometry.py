"""Where the boards and the spray nozzles are: rack, belt, arms and manifolds as positions and directions.

Axes: origin at the centre of the rack, z up. Board length runs along y. Standing boards have their normal
along x (leaning by the tilt); flat boards have it along z, and their width along x, the travel of a belt.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, cos, floor, inf, pi, sin, sqrt, tan
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from model.input_errors import UnphysicalInputError

FloatArray = NDArray[np.float64]
Shape = Literal["coherent jet", "flat fan", "full cone"]
Face = Literal["below", "above", "left", "right"]

_ROUNDING = 1e-9  # lets 0.3 m / 0.1 m count as 3 in spite of binary fractions


def _require(fulfilled: bool, sentence: str) -> None:
    """Raise ValueError with the sentence unless fulfilled (so that nan is refused as well)."""
    if not fulfilled:
        raise UnphysicalInputError(sentence)


def _require_positive(**sizes: float) -> None:
    """Raise when a size is not a positive finite number."""
    for name, value in sizes.items():
        _require(0.0 < value < inf, f"{name} is {value:g}. It must be above 0 and finite.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Nozzle:
    """One spray nozzle; the stream is uniform inside its shape (real cones peak or hollow out)."""

    shape: Shape
    half_angle_rad: float
    """Half angle of the cone or jet, or half of the wide angle of a fan, rad."""
    thin_half_angle_rad: float = 0.0
    """Half of the thin angle of a flat fan, rad; unused by the other shapes."""
    decay_length_m: float
    """Path over which air drag cuts the speed to 1/e, m (may be infinite)."""
    orifice_diameter_m: float
    discharge_coefficient: float
    """C_d in q = C_d A √(2Δp/ρ), dimensionless."""
    velocity_coefficient: float
    """C_v in v0 = C_v √(2Δp/ρ), dimensionless."""

    def __post_init__(self) -> None:
        """Refuse angles, sizes and coefficients outside their range."""
        wide, thin, fan = self.half_angle_rad, self.thin_half_angle_rad, self.shape == "flat fan"
        known = self.shape in ("coherent jet", "flat fan", "full cone")
        _require(known, f"Nozzle shape is {self.shape!r}. Use coherent jet, flat fan or full cone.")
        _require(0.0 < wide < pi / 2, f"Nozzle half angle is {wide:g} rad. It must lie between 0 and π/2.")
        fan_sentence = f"Thin half angle of the fan is {thin:g} rad. It must be above 0, up to the wide one."
        _require(not fan or 0.0 < thin <= wide, fan_sentence)
        decay = self.decay_length_m
        _require(decay > 0.0, f"decay_length_m is {decay:g}. It must be above 0.")
        _require_positive(orifice_diameter_m=self.orifice_diameter_m)
        coefficients = {"discharge": self.discharge_coefficient, "velocity": self.velocity_coefficient}
        for name, value in coefficients.items():
            _require(0 < value <= 1, f"The {name} coefficient is {value:g}. It must be above 0, up to 1.")

    @property
    def solid_angle_sr(self) -> float:
        """Solid angle Ω of the stream, sr: 2π(1 − cos a), for a fan 4 a sin b."""
        if self.shape == "flat fan":
            return 4.0 * self.half_angle_rad * sin(self.thin_half_angle_rad)
        return 4.0 * pi * sin(self.half_angle_rad / 2.0) ** 2  # = 2π(1 − cos a) without cancellation

    @property
    def orifice_area_m2(self) -> float:
        """Orifice area A, m²."""
        return pi * self.orifice_diameter_m**2 / 4.0

    @property
    def stream_area_m2(self) -> float:
        """Area of the undivided stream q/v0 = A C_d/C_v, m²."""
        return self.orifice_area_m2 * self.discharge_coefficient / self.velocity_coefficient

    @property
    def perimeter_factor(self) -> float:
        """Perimeter of the footprint over that of a circle of the same area, dimensionless."""
        if self.shape != "flat fan":
            return 1.0
        wide, thin = self.half_angle_rad, sin(self.thin_half_angle_rad)
        return (wide + thin) / sqrt(pi * wide * thin)


@dataclass(frozen=True, slots=True, kw_only=True)
class RotatingArms:
    """Arms under and over the rack, each a full diameter, turning about the vertical through its centre."""

    arms_below: int
    arms_above: int
    arm_radius_m: float
    nozzles_per_arm: int
    """Nozzles on one arm, alternately on its two halves, at evenly stepped radii."""
    clearance_below_m: float
    clearance_above_m: float
    """Clearances: height between the nozzles and the nearest board edge, m."""
    tilt_rad: float = 0.0
    """Lean of the nozzle axes from the vertical, rad; pairs of nozzles alternate outward and tangential."""

    def __post_init__(self) -> None:
        """Refuse arms without nozzles and sizes outside their range."""
        _require_positive(arm_radius_m=self.arm_radius_m, clearance_below_m=self.clearance_below_m)
        _require_positive(clearance_above_m=self.clearance_above_m)
        some = self.nozzles_per_arm > 0 and min(self.arms_below, self.arms_above) >= 0
        some = some and self.arms_below + self.arms_above > 0
        _require(some, "Rotating arms need at least one arm with at least one nozzle.")
        tilt = self.tilt_rad
        _require(0.0 <= tilt < pi / 2, f"Nozzle tilt is {tilt:g} rad. It must lie from 0 to below π/2.")


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedManifolds:
    """Grids of nozzles at a clearance from faces of the rack; left and right look along the boards (±y)."""

    rows: int
    """Pipes per face, spread along x."""
    columns: int
    """Nozzles per pipe, spread along y (below, above) or z (left, right)."""
    faces: tuple[Face, ...]
    clearance_m: float
    oscillation_half_angle_rad: float = 0.0
    """Half of the swing of each pipe about its own length (the axes sweep along x at even speed), rad."""
    overhang_m: float = 0.0
    """How far the grid reaches past the outline on each side (wets end boards from outside), m."""

    def __post_init__(self) -> None:
        """Refuse empty grids, unknown faces and sizes outside their range."""
        _require_positive(clearance_m=self.clearance_m)
        some = self.rows > 0 and self.columns > 0 and len(self.faces) > 0
        _require(some, "Fixed manifolds need at least one row, one column and one face.")
        once = len(set(self.faces)) == len(self.faces)
        known = once and set(self.faces) <= {"below", "above", "left", "right"}
        _require(known, f"Manifold faces are {self.faces}. Use below, above, left, right, each at most once.")
        swing, overhang = self.oscillation_half_angle_rad, self.overhang_m
        _require(0.0 <= swing < pi / 2, f"Oscillation is ±{swing:g} rad. It must lie from 0 to below π/2.")
        _require(0.0 <= overhang < inf, f"Overhang of the manifolds is {overhang:g} m. It must be 0 or more.")


@dataclass(frozen=True, slots=True, kw_only=True)
class BeltManifolds:
    """Rows of nozzles over and under the full width of an open-mesh belt, at a distance from the boards."""

    rows_above: int
    rows_below: int
    nozzles_per_row: int
    distance_above_m: float
    distance_below_m: float
    zone_length_m: float
    """Length of the spray zone, m; boards pass every place of it, duty is the mean over that time."""
    belt_width_m: float

    def __post_init__(self) -> None:
        """Refuse a zone without nozzles and sizes outside their range."""
        _require_positive(distance_above_m=self.distance_above_m, distance_below_m=self.distance_below_m)
        _require_positive(zone_length_m=self.zone_length_m, belt_width_m=self.belt_width_m)
        some = self.nozzles_per_row > 0 and min(self.rows_above, self.rows_below) >= 0
        some = some and self.rows_above + self.rows_below > 0
        _require(some, "Belt manifolds need at least one row with at least one nozzle.")


Arrangement = RotatingArms | FixedManifolds | BeltManifolds


@dataclass(frozen=True, slots=True, kw_only=True)
class Rack:
    """Boards in a rack or on a belt, side by side along x at a pitch, in a rack in as many rows as needed."""

    orientation: Literal["standing", "flat"]
    """Standing on edge (width upward) or lying flat."""
    board_length_m: float
    board_width_m: float
    """Board width (upward when standing, along x when flat), m."""
    pitch_m: float
    board_count: int
    """Boards in the rack, or abreast on a belt."""
    tilt_rad: float = 0.0
    """Lean of standing boards from the vertical, rad."""
    rack_depth_m: float | None = None
    """Room along x, m; None: one row, as deep as needed (unused on a belt)."""
    rack_width_m: float | None = None
    """Room along y, m; None: as wide as needed (unused on a belt)."""

    def __post_init__(self) -> None:
        """Refuse boards that do not fit their rack."""
        length, width, pitch = self.board_length_m, self.board_width_m, self.pitch_m
        _require_positive(board_length_m=length, board_width_m=width, pitch_m=pitch)
        flat = self.orientation == "flat"
        known = self.orientation in ("standing", "flat")
        _require(known, f"Rack orientation is {self.orientation!r}. Use standing or flat.")
        _require(self.board_count > 0, f"Board count is {self.board_count}. A rack needs at least one board.")
        lean_sentence = "Boards may lean up to 60° from the vertical when standing, and not at all when flat."
        _require(abs(self.tilt_rad) <= (0.0 if flat else pi / 3), lean_sentence)
        _require(not flat or pitch >= width, f"Flat boards {width:g} m wide overlap at pitch {pitch:g} m.")
        rack_width = inf if self.rack_width_m is None else self.rack_width_m
        wide_sentence = f"The rack is {rack_width:g} m wide, smaller than the board of {length:g} m."
        _require(rack_width >= length, wide_sentence)
        depth, need = inf if self.rack_depth_m is None else self.rack_depth_m, self.board_depth_m
        _require(depth >= need, f"The rack is {depth:g} m deep, smaller than the board's {need:g} m.")

    @property
    def board_depth_m(self) -> float:
        """Room one board takes along x, m (boards have no thickness here)."""
        return self.board_width_m * (1.0 if self.orientation == "flat" else abs(sin(self.tilt_rad)))


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardPlanes:
    """Boards as equal rectangles in parallel planes: `blocks` (rows) of boards that share one set of planes.

    In coordinates (n along the normal, u and v in the plane) the planes are n = first_plane_m +
    k·plane_pitch_m and a board covers |u − n·shear − block_u_m| ≤ width/2, |v − block_v_m| ≤ length/2;
    leaning boards need the shear.
    """

    orientation: Literal["standing", "flat"]
    """Standing or flat."""
    board_length_m: float
    """Extent along v, m."""
    board_width_m: float
    """Extent along u, m."""
    tilt_rad: float
    """Lean of standing boards, rad."""
    first_plane_m: float
    """n of plane 0, m."""
    plane_pitch_m: float
    """Distance between planes along the normal, m."""
    block_u_m: FloatArray
    """Centre of each block along u, m, shape (blocks,)."""
    block_v_m: FloatArray
    """Centre of each block along v, m, shape (blocks,)."""
    boards_in_block: NDArray[np.int64]
    """Boards in each block, shape (blocks,); they fill planes 0, 1, …"""
    half_extent_m: tuple[float, float, float]
    """Half sizes of the outline along x, y, z, m."""
    belt_pitch_m: float | None = None
    """Distance from board to board along a belt, m; None in a rack."""

    @property
    def board_count(self) -> int:
        """Number of boards told apart."""
        return int(self.boards_in_block.sum())

    @property
    def shear(self) -> float:
        """Shift along u per distance along n, dimensionless."""
        return tan(self.tilt_rad)


def _rows(rack: Rack, arrangement: Arrangement) -> tuple[int, int, float]:
    """Rows along y, boards in a full row and distance between rows, m; raises when the boards do not fit."""
    length, count = rack.board_length_m, rack.board_count
    if isinstance(arrangement, BeltManifolds):
        belt, zone = arrangement.belt_width_m, arrangement.zone_length_m
        _require(rack.orientation == "flat", "Boards on a belt lie flat. Set the orientation to flat.")
        narrow = f"The belt is {belt:g} m wide, narrower than {count} board(s) of {length:g} m abreast."
        _require(belt >= length * count * (1.0 - _ROUNDING), narrow)
        _require(rack.pitch_m <= zone, f"The spray zone of {zone:g} m is shorter than the board pitch.")
        return count, 1, belt / count
    depth = inf if rack.rack_depth_m is None else rack.rack_depth_m
    room = inf if rack.rack_width_m is None else rack.rack_width_m
    slots = min(float(count), (depth - rack.board_depth_m) / rack.pitch_m + 1.0)
    rows = ceil(count / floor(slots + _ROUNDING))
    small = f"{count} boards need {rows} rows of {length:g} m; the rack is only {room:g} m wide."
    _require(rows * length <= room * (1.0 + _ROUNDING), small)
    return rows, ceil(count / rows), length


def place_boards(rack: Rack, arrangement: Arrangement) -> BoardPlanes:
    """Place the boards of a rack or belt as rectangles in parallel planes.

    Of the arrangement only kind, belt width and zone matter. Raises ValueError when the boards do not fit the
    rack or the belt, or stand on a belt.

    Notes
    -----
    A row holds at most 1 + (depth − room of one board)/pitch boards; rows are filled evenly and touch at
    their ends. Boards have no thickness; rack wires and belt mesh are not modelled.

    """
    rows, per_row, row_pitch_m = _rows(rack, arrangement)
    standing, tilt_rad = rack.orientation == "standing", rack.tilt_rad
    filled = np.minimum(per_row, np.maximum(0, rack.board_count - per_row * np.arange(rows, dtype=np.int64)))
    rows_v = np.asarray((np.arange(rows) - (rows - 1) / 2.0) * row_pitch_m, dtype=np.float64)[filled > 0]
    filled = filled[filled > 0]
    along_x = (np.arange(per_row) - (per_row - 1) / 2.0) * rack.pitch_m
    half_x = (float(along_x[-1] - along_x[0]) + rack.board_depth_m) / 2.0
    half_y = float(np.abs(rows_v).max()) + rack.board_length_m / 2.0
    half_z = rack.board_width_m * cos(tilt_rad) / 2.0 if standing else 0.0
    if standing:
        block_u, block_v, fill = np.zeros_like(rows_v), rows_v, filled
        first_plane_m, plane_pitch_m = float(along_x[0]) * cos(tilt_rad), rack.pitch_m * cos(tilt_rad)
    else:  # each flat board is a block of its own in the one plane n = 0
        block_u = np.concatenate([along_x[:members] for members in filled])
        block_v, fill = np.repeat(rows_v, filled), np.ones(int(filled.sum()), dtype=np.int64)
        first_plane_m, plane_pitch_m = 0.0, rack.pitch_m
    return BoardPlanes(
        orientation=rack.orientation, board_length_m=rack.board_length_m, board_width_m=rack.board_width_m,
        tilt_rad=tilt_rad, first_plane_m=first_plane_m, plane_pitch_m=plane_pitch_m, block_u_m=block_u,
        block_v_m=block_v, boards_in_block=fill, half_extent_m=(half_x, half_y, half_z),
        belt_pitch_m=rack.pitch_m if isinstance(arrangement, BeltManifolds) else None,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class NozzleBank:
    """All nozzles at rest position, with the one motion they share."""

    position_m: FloatArray
    """Nozzle positions, m, shape (nozzles, 3)."""
    axis: FloatArray
    """Unit axis of each stream, shape (nozzles, 3)."""
    wide: FloatArray
    """Unit direction in which a flat fan is wide, at right angles to the axis, shape (nozzles, 3)."""
    motion: Literal["turning", "swinging", "belt"]
    """Turning about z, swinging of the axis along x, or at rest over a moving belt."""
    swing_half_angle_rad: float = 0.0
    """Half of the swing, rad (0 for the other motions)."""
    time_share: float = 1.0
    """Share of the zone that the followed pitch of belt takes: pitch/zone length on a belt, else 1."""


def _spread(count: int, half_extent_m: float) -> FloatArray:
    """Midpoints of `count` equal parts of ±half_extent, m."""
    return ((np.arange(count) + 0.5) / count * 2.0 - 1.0) * half_extent_m


def _arm_nozzles(arms: RotatingArms, half_height_m: float) -> NozzleBank:
    """Nozzles on arms at angle 0 (along x); arms of a level are stepped between the circles of the others."""
    positions, axes, wides = [], [], []
    index = np.arange(arms.nozzles_per_arm)
    half = np.where(index % 2 == 0, 1.0, -1.0)
    outward = (index // 2) % 2 == 0
    lean, upright = sin(arms.tilt_rad), cos(arms.tilt_rad)
    none = np.zeros(arms.nozzles_per_arm)
    levels = (arms.arms_below, 1.0, arms.clearance_below_m), (arms.arms_above, -1.0, arms.clearance_above_m)
    for level_count, vertical, clearance_m in levels:
        for arm in range(level_count):
            radius = arms.arm_radius_m * (index + (arm + 0.5) / level_count) / arms.nozzles_per_arm
            height = np.full_like(none, -vertical * (half_height_m + clearance_m))
            positions.append(np.stack([half * radius, none, height], axis=1))
            axis_x, axis_y = np.where(outward, half * lean, 0.0), np.where(outward, 0.0, half * lean)
            axes.append(np.stack([axis_x, axis_y, np.full_like(none, vertical * upright)], axis=1))
            # fans are wide along the arm, so that a turn of the arm wipes the widest ring
            wides.append(np.stack([np.where(outward, upright, 1.0), none, -vertical * axis_x], axis=1))
    position, axis, wide = np.concatenate(positions), np.concatenate(axes), np.concatenate(wides)
    return NozzleBank(position_m=position, axis=axis, wide=wide, motion="turning")


def _grid_nozzles(
    along_x_m: FloatArray, across_m: FloatArray, distance_m: float, face: Face
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Positions, axes and wide directions of a grid of nozzles on one face, looking at the centre plane."""
    across_axis, depth_axis = (1, 2) if face in ("below", "above") else (2, 1)
    sign = 1.0 if face in ("below", "left") else -1.0
    grid_x, grid_across = np.meshgrid(along_x_m, across_m, indexing="ij")
    position = np.zeros((grid_x.size, 3))
    position[:, 0], position[:, across_axis] = grid_x.ravel(), grid_across.ravel()
    position[:, depth_axis] = -sign * distance_m
    axis, wide = np.zeros_like(position), np.zeros_like(position)
    axis[:, depth_axis], wide[:, across_axis] = sign, 1.0
    return position, axis, wide


def place_nozzles(arrangement: Arrangement, planes: BoardPlanes) -> NozzleBank:
    """Nozzle positions and axes of an arrangement around the placed boards.

    Nozzles of a manifold sit at the midpoints of equal parts of the face. Fans are wide along an arm, along a
    pipe, or across a belt.

    """
    half_x, half_y, half_z = planes.half_extent_m
    if isinstance(arrangement, RotatingArms):
        return _arm_nozzles(arrangement, half_z)
    parts: list[tuple[FloatArray, FloatArray, FloatArray]] = []
    if isinstance(arrangement, FixedManifolds):
        for face in arrangement.faces:
            vertical = face in ("below", "above")
            across, depth = (half_y, half_z) if vertical else (half_z, half_y)
            pipes_x_m = _spread(arrangement.rows, half_x + arrangement.overhang_m)
            along_pipe_m = _spread(arrangement.columns, across + arrangement.overhang_m)
            parts.append(_grid_nozzles(pipes_x_m, along_pipe_m, depth + arrangement.clearance_m, face))
    else:
        across_m = _spread(arrangement.nozzles_per_row, arrangement.belt_width_m / 2.0)
        levels: tuple[tuple[int, float, Face], ...] = (
            (arrangement.rows_above, arrangement.distance_above_m, "above"),
            (arrangement.rows_below, arrangement.distance_below_m, "below"),
        )
        for rows, distance_m, face in levels:
            if rows:
                rows_x_m = _spread(rows, arrangement.zone_length_m / 2.0)
                parts.append(_grid_nozzles(rows_x_m, across_m, distance_m, face))
    position, axis, wide = (np.concatenate(items) for items in zip(*parts, strict=True))
    if isinstance(arrangement, FixedManifolds):
        swing_rad = arrangement.oscillation_half_angle_rad
        return NozzleBank(
            position_m=position, axis=axis, wide=wide, motion="swinging", swing_half_angle_rad=swing_rad
        )
    share = (planes.belt_pitch_m or 0.0) / arrangement.zone_length_m
    return NozzleBank(position_m=position, axis=axis, wide=wide, motion="belt", time_share=share)


def boards_that_fit(
    chamber_length_m: float, chamber_width_m: float, chamber_height_m: float,
    board_length_m: float, board_width_m: float, pitch_m: float, levels: int,
) -> int:  # fmt: skip
    """Count the standing boards that a chamber's racks hold, the better of the two ways to stand them.

    Sizes and pitch (along the chamber length) in m; levels share the height evenly. 0 when no board fits;
    raises ValueError for sizes ≤ 0. Slots floor(length/pitch) × rows floor(width/edge) × levels.

    >>> boards_that_fit(0.5, 0.5, 0.5, 0.2, 0.15, 0.025, 2)
    120

    """
    _require_positive(chamber_length_m=chamber_length_m, chamber_width_m=chamber_width_m)
    _require_positive(chamber_height_m=chamber_height_m, board_length_m=board_length_m, levels=levels)
    _require_positive(board_width_m=board_width_m, pitch_m=pitch_m)
    best = 0
    for along, upward in ((board_length_m, board_width_m), (board_width_m, board_length_m)):
        if upward <= chamber_height_m / levels * (1.0 + _ROUNDING):
            slots = floor(chamber_length_m / pitch_m + _ROUNDING)
            best = max(best, slots * floor(chamber_width_m / along + _ROUNDING) * levels)
    return best
