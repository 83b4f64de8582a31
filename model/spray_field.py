"""Which places on the boards the streams reach, how long and how hard: one ray trace per geometry.

The trace leaves nozzle pressure, film run-out and restitution free; `duty_map` applies them in milliseconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import ceil, pi, prod
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc

from model.film_spread import reach_on_board_m, spread_film
from model.input_errors import UnphysicalInputError
from model.spray_geometry import (
    Arrangement,
    BoardPlanes,
    Nozzle,
    NozzleBank,
    Rack,
    place_boards,
    place_nozzles,
)

FloatArray = NDArray[np.float64]
RayArray = NDArray[np.float32]
IntArray = NDArray[np.int64]

# Numerical guards only: ratios below 10^-7 share the lowest bin; no ray is taken as exactly parallel.
_RATIO_DECADES = 7.0
_PARALLEL = np.float32(1e-7)


@dataclass(frozen=True, slots=True, kw_only=True)
class ExposureTrace:
    """What the rays deposited on the cells; a class is one (bounce order, pressure-ratio bin) met."""

    cell_shape: tuple[int, int, int, int]
    """(boards, 2 sides, cells along width, cells along length); side 1 looks along the normal (flat: up)."""
    cell_size_m: tuple[float, float]
    """Cell edges along width and length, m."""
    zone_area: NDArray[np.float32]
    """M0, footprint area over a cell as a time mean, dimensionless, shape (batches, cells, classes)."""
    zone_radius_per_m: NDArray[np.float32]
    """M1, footprint perimeter/2π per cell area, 1/m, same shape."""
    zones_per_m2: NDArray[np.float32]
    """M2, streams landing per cell area, 1/m², same shape."""
    class_ratio: FloatArray
    """Drive pressure along the board over nozzle pressure before restitution, area-weighted, shape (classes,)."""
    class_order: IntArray
    """Bounces before the hit, 0 = direct, shape (classes,)."""
    force_ratio: NDArray[np.float32]
    """Time-mean pressure over nozzle pressure before restitution, shape (batches, cells, orders)."""
    stream_count: FloatArray
    """Effective number of nozzles that reach a cell (inverse Simpson index), 1 or more, shape (cells,)."""
    ray_count: int
    """Rays traced."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyMap:
    """Time share and pressure at every cell, classes ordered from the strongest to the weakest."""

    duty_share: FloatArray
    """Time share in which a class is the strongest acting, shape (cells, classes)."""
    pressure_ratio: FloatArray
    """Pressure over nozzle pressure with restitution, shape (classes,)."""
    bounce_order: IntArray
    """Bounces before the hit, shape (classes,)."""
    cell_shape: tuple[int, int, int, int]
    """(boards, sides, cells along width, cells along length)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardPicture:
    """Maps of one side of one board, ready to draw."""

    duty_share: FloatArray
    """Time share under any stream, shape (cells along width, cells along length)."""
    direct_duty_share: FloatArray
    """Time share under a direct stream, same shape."""
    pressure_ratio: FloatArray
    """Mean pressure over nozzle pressure while a stream acts (0 where none does), same shape."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorstCells:
    """The few cells among which the worst-but-for-a-share cell lies."""

    cell_index: IntArray
    """Indices into the cells, ascending, shape (kept,)."""
    order_index: int
    """Position of the wanted cell among the kept ones sorted from worst to best (0 = worst)."""


def _in_stream(nozzle: Nozzle, points: RayArray) -> tuple[RayArray, RayArray, RayArray]:
    """Parts of the rays' directions along the wide and the thin direction and forward; points: (3, …), even in 0–1."""
    if nozzle.shape == "flat fan":
        across = np.float32(nozzle.half_angle_rad) * (2 * points[1] - 1)
        along_thin = np.float32(np.sin(nozzle.thin_half_angle_rad)) * (2 * points[2] - 1)
        rest = np.sqrt(1 - along_thin * along_thin)
        return np.sin(across) * rest, along_thin, np.cos(across) * rest
    drop = points[1] * np.float32(nozzle.solid_angle_sr / (2 * pi))  # 1 − cos, without cancellation
    radial, turn = np.sqrt(drop * (2 - drop)), np.float32(2 * pi) * points[2]
    return radial * np.cos(turn), radial * np.sin(turn), 1 - drop


def _aim(bank: NozzleBank, nozzle: Nozzle, points: RayArray) -> tuple[RayArray, RayArray, RayArray]:
    """Directions of rays along x, y, z as the nozzles turn or swing; points has shape (3, nozzles, rays each)."""
    axis, wide = (a.astype(np.float32)[:, None, :] for a in (bank.axis, bank.wide))
    along_wide, along_thin, forward = _in_stream(nozzle, points)
    thin = [axis[..., i - 2] * wide[..., i - 1] - axis[..., i - 1] * wide[..., i - 2] for i in range(3)]
    dx, dy, dz = (along_wide * wide[..., i] + along_thin * thin[i] + forward * axis[..., i] for i in range(3))
    if bank.motion == "turning":
        cosine, sine = _turned(points[0])
        dx, dy = cosine * dx - sine * dy, sine * dx + cosine * dy
    elif bank.motion == "swinging" and bank.swing_half_angle_rad > 0.0:
        # turn about the pipe, which is the wide direction (y or z): only the parts along x and the axis mix
        angle = np.float32(bank.swing_half_angle_rad) * (2 * points[0] - 1)
        depth = dy * axis[..., 1] + dz * axis[..., 2]
        added = np.cos(angle) * depth - np.sin(angle) * dx - depth
        dx = np.cos(angle) * dx + np.sin(angle) * depth
        dy, dz = dy + added * axis[..., 1], dz + added * axis[..., 2]
    return dx, dy, dz


def _turned(time: RayArray) -> tuple[RayArray, RayArray]:
    """Cosine and sine of the angle of the arms at times counted in turns."""
    angle = np.float32(2 * pi) * time
    return np.cos(angle), np.sin(angle)


def _emit(
    bank: NozzleBank, planes: BoardPlanes, time: RayArray, dx: RayArray, dy: RayArray, dz: RayArray
) -> tuple[RayArray, ...]:
    """Start and direction of rays (n, u sheared, v, dn, du, dv) of times and directions (nozzles, rays each)."""
    place = bank.position_m.astype(np.float32)[:, None, :]
    x, y, z = (np.broadcast_to(place[..., i], dx.shape) for i in range(3))
    if bank.motion == "turning":
        cosine, sine = _turned(time)
        x, y = cosine * x - sine * y, sine * x + cosine * y
    elif bank.motion == "belt" and planes.belt_pitch_m:
        # the board under a landing point is at a random phase of the pitch: move the ray, keep the board
        landing_x = x - dx * z / _never_parallel(dz)
        x = x - landing_x + np.float32(planes.belt_pitch_m) * (time - np.float32(0.5))
    (n, u), (dn, du) = _on_board(planes, x, z), _on_board(planes, dx, dz)
    u = u - np.float32(planes.shear) * n if planes.shear else u
    return tuple(np.ascontiguousarray(a).ravel() for a in (n, u, y, dn, du, dy))


def _on_board(planes: BoardPlanes, along_x: RayArray, along_z: RayArray) -> tuple[RayArray, RayArray]:
    """Parts along the normal of the boards and up the boards of what has these parts along x and z."""
    if planes.orientation == "flat":
        return along_z, along_x
    if not planes.tilt_rad:
        return along_x, along_z
    upright, lean = np.float32(np.cos(planes.tilt_rad)), np.float32(np.sin(planes.tilt_rad))
    return along_x * upright - along_z * lean, along_x * lean + along_z * upright


def _nearest_board(
    planes: BoardPlanes, ray: tuple[RayArray, ...], start_plane: RayArray | None
) -> tuple[IntArray, RayArray, IntArray | int, RayArray]:
    """Rays that meet a board, and of each the distance to the first one, its block and its plane (whole, as float).

    A block is a box in the sheared coordinates, so the first plane past the entry into the box is the only one that
    can be hit: one step a ray and block instead of a test against every board. Planes are counted along the ray.
    Where there is one block only, its number 0 stands for all.
    """
    n, u, v, dn, du, dv = ray
    if planes.shear:
        du = du - np.float32(planes.shear) * dn
    half_u, half_v = planes.board_width_m / 2, planes.board_length_m / 2
    # Blocks lie in rows: those that share u or v are entered and left there at the same distance.
    within_u, within_v = _passages(planes.block_u_m, half_u, u, du), _passages(planes.block_v_m, half_v, v, dv)
    heading = np.copysign(np.float32(1), dn)
    planes_per_m = np.maximum(np.abs(dn), _PARALLEL) / np.float32(planes.plane_pitch_m)
    passed = heading * ((n - np.float32(planes.first_plane_m)) / np.float32(planes.plane_pitch_m))
    next_plane = None if start_plane is None else heading * start_plane + 1

    def met_in(block: int) -> tuple[RayArray, RayArray, NDArray[np.bool_]]:
        (enter_u, leave_u), (enter_v, leave_v) = within_u[planes.block_u_m[block]], within_v[planes.block_v_m[block]]
        span = np.float32(planes.boards_in_block[block] - 1)
        enter = np.maximum(np.maximum(enter_u, enter_v), 0)
        nearest_end = (heading - 1) * (span / 2)  # a ray still before the boards meets an end first
        plane = np.ceil(np.maximum(passed + planes_per_m * enter, nearest_end))
        if next_plane is not None:
            plane = np.maximum(plane, next_plane)
        distance = (plane - passed) / planes_per_m
        return distance, plane, (distance <= np.minimum(leave_u, leave_v)) & (plane <= nearest_end + span)

    # Rays are picked by number: numpy takes several times as long to pick by true and false.
    if len(planes.boards_in_block) == 1:
        distance, plane, met = met_in(0)
        hit = np.flatnonzero(met)
        return hit, distance[hit], 0, heading[hit] * plane[hit]
    best, best_plane = np.full(n.shape, np.inf, dtype=np.float32), np.zeros(n.shape, dtype=np.float32)
    best_block = np.zeros(n.shape, dtype=np.int64)
    for block in range(len(planes.boards_in_block)):
        distance, plane, met = met_in(block)
        nearer = np.flatnonzero(met & (distance <= best))
        best[nearer], best_plane[nearer], best_block[nearer] = distance[nearer], plane[nearer], block
    hit = np.flatnonzero(best < np.inf)
    return hit, best[hit], best_block[hit], heading[hit] * best_plane[hit]


def _never_parallel(speed: RayArray) -> RayArray:
    """Put the least speed that counts in place of smaller ones, so that it can be divided by."""
    too_small = np.abs(speed) < _PARALLEL
    return np.where(too_small, _PARALLEL, speed) if too_small.any() else speed


def _passages(
    middles_m: FloatArray, half_size_m: float, start: RayArray, speed: RayArray
) -> dict[float, tuple[RayArray, RayArray]]:
    """Distances at which rays enter and leave the strips of one width around these middles."""
    per_speed: RayArray = np.float32(1) / _never_parallel(speed)
    reach = np.abs(np.float32(half_size_m) * per_speed)
    found: dict[float, tuple[RayArray, RayArray]] = {}
    for middle in set(middles_m.tolist()):
        to_middle: RayArray = (np.float32(middle) - start) * per_speed
        found[middle] = to_middle - reach, to_middle + reach
    return found


def _follow(
    planes: BoardPlanes, nozzle: Nozzle, ray: tuple[RayArray, ...], emitter: IntArray,
    bounces: int, cells: tuple[int, int],
) -> tuple[NDArray[Any], ...]:  # fmt: skip
    """Follow rays; per hit note cell, bounces before, nozzle, footprint area [m²], drive and normal pressure ratio."""
    jet_limit = np.float32(nozzle.velocity_coefficient**2)
    thrust_area_m2 = np.float32(2 * nozzle.stream_area_m2) * jet_limit  # ρ q v0/Δp = 2 C_d C_v A
    solid, per_decay = np.float32(nozzle.solid_angle_sr), np.float32(-1.0 / nozzle.decay_length_m)
    first_board = np.concatenate([[0], np.cumsum(planes.boards_in_block)[:-1]]).astype(np.int32)
    block_u, block_v = planes.block_u_m.astype(np.float32), planes.block_v_m.astype(np.float32)
    first, pitch = np.float32(planes.first_plane_m), np.float32(planes.plane_pitch_m)
    width, length, (nu, nv) = planes.board_width_m, planes.board_length_m, cells
    path = np.zeros(emitter.shape, dtype=np.float32)
    plane: RayArray | None = None
    none, empty = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.float32)
    found: list[tuple[NDArray[Any], ...]] = [(none, none, none, empty, empty, empty)]
    # Boards that all lie in one plane send nothing to each other.
    for order in range(bounces + 1 if planes.boards_in_block.max() > 1 else 1):
        hit, distance, block, plane = _nearest_board(planes, ray, plane)
        if hit.size == 0:
            break
        path, emitter = path[hit] + distance, emitter[hit]
        u, v, dn, du, dv = (a[hit] for a in ray[1:])
        u = u + distance * (du - np.float32(planes.shear) * dn if planes.shear else du)
        v = v + distance * dv
        row = (u - block_u[block]) * np.float32(nu / width) + np.float32(nu / 2)
        column = (v - block_v[block]) * np.float32(nv / length) + np.float32(nv / 2)
        # 32 bits are worked on twice as fast as 64, and hold more cells than any memory.
        row_index, column_index = (a.clip(0, m - 1).astype(np.int32) for a, m in ((row, nu), (column, nv)))
        face = (first_board[block] + plane.astype(np.int32)) * 2 + (dn < 0)  # moving along −normal meets side 1
        cosine = np.maximum(np.abs(dn), _PARALLEL)
        across = np.maximum(path * path * solid, np.float32(nozzle.stream_area_m2))
        slowed = np.exp(path * per_decay)
        stagnation, spread = jet_limit * slowed * slowed, thrust_area_m2 * slowed / across
        ratio = np.minimum(stagnation, spread * cosine)
        normal = cosine * cosine * np.minimum(stagnation, spread)
        cell = ((face * nu + row_index) * nv + column_index).astype(np.int64)
        found.append((cell, np.full(hit.shape, order), emitter, across / cosine, ratio, normal))
        ray = (first + pitch * plane, u, v, -dn, du, dv)
    return tuple(np.concatenate(parts) for parts in zip(*found, strict=True))


def _effective_streams(cell: IntArray, emitter: IntArray, cells: int, emitters: int) -> FloatArray:
    """Inverse Simpson index Σn(Σn−1)/Σn_j(n_j−1) of the nozzles seen at each cell, from 1 up."""
    counts = np.bincount(cell * emitters + emitter, minlength=cells * emitters).reshape(cells, emitters)
    total = counts.sum(axis=1)
    pairs = np.einsum("ij,ij->i", counts, counts) - total
    return np.asarray(np.maximum(total * (total - 1) / np.maximum(pairs, 1), 1.0), dtype=np.float64)


@lru_cache(maxsize=4)
def _ray_points(seed: int, batches: int, power: int) -> tuple[RayArray, ...]:
    """Scrambled Sobol points of a seed, shape (3, 2 to a power) a batch; every geometry is traced with the same."""
    found = []
    for stream in np.random.SeedSequence(seed).spawn(batches):
        sobol = qmc.Sobol(3, seed=np.random.default_rng(stream)).random_base2(power)
        points = np.ascontiguousarray(sobol.T, dtype=np.float32)
        points.setflags(write=False)
        found.append(points)
    return tuple(found)


# Axes and motion of the nozzles do not depend on the boards: a speck of a board stands for all of them.
_SPECK = Rack(orientation="flat", board_length_m=1e-6, board_width_m=1e-6, pitch_m=1e-6, board_count=1)


@lru_cache(maxsize=1)
def _aims(
    arrangement: Arrangement, nozzle: Nozzle, seed: int, batches: int, rays_each: int
) -> tuple[tuple[RayArray, ...], ...]:
    """Aim the rays of each batch: times (0–1), directions. Kept, as one machine is traced with many boards in turn."""
    bank = place_nozzles(arrangement, place_boards(_SPECK, arrangement))
    emitters = bank.position_m.shape[0]
    found = []
    for points in _ray_points(seed, batches, max(0, (emitters * rays_each - 1).bit_length())):
        used = points[:, : emitters * rays_each].reshape(3, emitters, rays_each)
        aimed = used[0].copy(), *_aim(bank, nozzle, used)
        for part in aimed:
            part.setflags(write=False)
        found.append(aimed)
    return tuple(found)


def trace_exposure(
    arrangement: Arrangement, nozzle: Nozzle, rack: Rack, rays: int, seed: int, *, bounces: int = 3,
    cells: tuple[int, int] = (8, 8), pressure_bins: int = 14, batches: int = 4,
) -> ExposureTrace:  # fmt: skip
    """Trace a spray onto the boards once, leaving nozzle pressure, film run-out and restitution free.

    Parameters: geometry in SI; `rays` wanted (rounded up to the same number for every nozzle and batch); `seed` (same
    seed, same result bit for bit); reflections followed after the first hit; cells along width and length of a board
    side; logarithmic bins of the pressure ratio, over seven decades; independent scrambles for the sampling error.
    Raises ValueError when a count is too small, or boards do not fit.

    Notes
    -----
    A ray is one direction inside the stream at one time (arm angle, swing, belt position; nozzles independent), from
    a scrambled Sobol sequence. It meets the nearest board (thin rectangle) and leaves it as from a mirror. Chamber
    walls, wires and arms are left out: a ray that leaves the boards is lost, as if absorbed. At path s, incidence
    cosine c, solid angle Ω, stream area A_j = A C_d/C_v and speed v = v0 exp(−s/λ) the footprint is A_f = A_p/c, A_p
    = max(s² Ω, A_j). The pressure a stream can keep up is bounded by stagnation ½ρv² and by its momentum
    flow ρ q v spread over A_f; relative to nozzle pressure, and the same at every one, r = min(C_v² (v/v0)², 2 C_d C_v
    c (A/A_p) v/v0). The whole momentum counts, not its normal part: gaps open sideways, towards the flow along the
    board. `force_ratio` keeps the normal part, r_n = c² min(C_v² (v/v0)², 2 C_d C_v (A/A_p) v/v0), which is what a
    scale under the board would feel. Under the first bound (a jet still together) about half of the thrust acts
    outside the jet, in the turning film, and is not counted. The second assumes an even spread; single drops hit
    harder, for microseconds. Σ A_f per cell area is the time-mean number of footprints over the cell. Water running
    down from elsewhere, splash and loss of water at a bounce are not modelled. Basis: momentum balance, own
    derivation. 30 000 rays do for drafts only: see `sampling_error`.

    """
    if rays < 1 or bounces < 0 or min(cells) < 1 or pressure_bins < 1 or batches < 2:
        raise ValueError("Give at least 1 ray, 0 bounces, 1 cell each way, 1 pressure bin and 2 batches.")
    planes = place_boards(rack, arrangement)
    bank = place_nozzles(arrangement, planes)
    emitters = bank.position_m.shape[0]
    each = ceil(rays / (batches * emitters))
    shape = (planes.board_count, 2, *cells)
    count, orders = int(np.prod(shape)), bounces + 1
    cell_size = planes.board_width_m / cells[0], planes.board_length_m / cells[1]
    weight = bank.time_share / (each * cell_size[0] * cell_size[1])  # of one ray, per cell area
    emitter = np.repeat(np.arange(emitters), each)
    batch_hits = [
        _follow(planes, nozzle, _emit(bank, planes, *aimed), emitter, bounces, cells)
        for aimed in _aims(arrangement, nozzle, seed, batches, each)
    ]
    cell, order, hit_by, area, ratio, normal = zip(*batch_hits, strict=True)
    area = [a.astype(np.float64) for a in area]
    raw_class = [o * pressure_bins + _pressure_bin(r, pressure_bins) for o, r in zip(order, ratio, strict=True)]
    # Class numbers are small: counting finds those in use far quicker than sorting.
    class_area, class_drive = (
        np.bincount(np.concatenate(raw_class), np.concatenate(amount))
        for amount in (area, [a * r for a, r in zip(area, ratio, strict=True)])
    )
    used = np.flatnonzero(class_area)
    number_of = np.cumsum(class_area > 0.0) - 1
    zone_area, zone_radius, zones = (np.empty((batches, count, used.size), dtype=np.float32) for _ in range(3))
    force = np.empty((batches, count, orders), dtype=np.float32)
    for batch in range(batches):
        address = cell[batch] * used.size + number_of[raw_class[batch]]
        radius = nozzle.perimeter_factor * np.sqrt(area[batch] / pi)
        for moment, amount in ((zone_area, area[batch]), (zone_radius, radius), (zones, None)):
            moment[batch] = _total(address, amount, (count, used.size), weight)
        force[batch] = _total(cell[batch] * orders + order[batch], area[batch] * normal[batch], (count, orders), weight)
    streams = _effective_streams(np.concatenate(cell), np.concatenate(hit_by), count, emitters)
    return ExposureTrace(
        cell_shape=shape, cell_size_m=cell_size, zone_area=zone_area, zone_radius_per_m=zone_radius,
        zones_per_m2=zones, class_ratio=class_drive[used] / class_area[used], class_order=used // pressure_bins,
        force_ratio=force, stream_count=streams, ray_count=batches * emitters * each,
    )  # fmt: skip


def _total(address: IntArray, amount: FloatArray | None, shape: tuple[int, int], weight: float) -> FloatArray:
    """Sum of what has the same address (without amounts: how many), times the weight of one ray."""
    total = np.bincount(address, amount, minlength=shape[0] * shape[1]) * weight
    return np.asarray(total.reshape(shape), dtype=np.float64)


def _pressure_bin(ratio: RayArray, pressure_bins: int) -> IntArray:
    """Logarithmic bin of the pressure ratio, 0 from 1 down; what is weaker than all bins is in the last one."""
    decade = -np.log10(np.maximum(ratio, np.float32(10.0 ** (-_RATIO_DECADES))))
    return np.minimum(decade * np.float32(pressure_bins / _RATIO_DECADES), pressure_bins - 1).astype(np.int64)


def _union(zones: FloatArray, stream_count: FloatArray) -> FloatArray:
    """Time share free of every stream when K streams share N covers evenly: (1 − N/K)^K, → exp(−N); (…, cells)."""
    share_each = np.minimum(zones / stream_count, 1.0 - 1e-12)
    return np.exp(stream_count * np.log1p(-share_each))


def _kept(restitution: float, order: IntArray) -> FloatArray:
    """Share of the pressure left after so many bounces, e^(2k)."""
    if not 0.0 <= restitution <= 1.0:
        raise ValueError(f"Restitution is {restitution:g}. It must lie from 0 to 1.")
    return np.asarray(restitution ** (2 * order), dtype=np.float64)


def _duty(
    trace: ExposureTrace, batch: slice, run_outs_m: Sequence[float], restitution: float, sides: slice = slice(None)
) -> list[DutyMap]:
    """Duty maps from some of the batches, of some sides of the boards, one for each run-out."""
    boards, all_sides, nu, nv = trace.cell_shape
    shape = boards, len(range(all_sides)[sides]), nu, nv
    ratio = trace.class_ratio * _kept(restitution, trace.class_order)
    strongest_first = np.argsort(-ratio, kind="stable")

    # Classes first, cells last: numpy is quick along many cells and slow along few classes.
    def of_sides(cells: NDArray[Any]) -> NDArray[Any]:
        return cells.reshape(-1, boards, all_sides, nu * nv)[:, :, sides].reshape(-1, prod(shape))

    moments = (trace.zone_area[batch], trace.zone_radius_per_m[batch], trace.zones_per_m2[batch])
    means = (moment.sum(axis=0) / len(moment) for moment in moments)
    m0, m1, m2 = (of_sides(mean.T.take(strongest_first, axis=0)) for mean in means)
    stream_count = of_sides(trace.stream_count)
    maps = []
    for run_out_m in run_outs_m:
        if not run_out_m >= 0.0 or not np.isfinite(run_out_m):
            raise ValueError(f"Film run-out is {run_out_m:g} m. It must be 0 or more and finite.")
        reach_m = reach_on_board_m(run_out_m, trace.cell_shape, trace.cell_size_m)
        landing: NDArray[Any] = (2 * pi * reach_m * m1 + pi * reach_m**2 * m2).reshape(-1, *shape)
        film = spread_film(landing, reach_m, trace.cell_size_m)
        zones: FloatArray = (m0 + film.reshape(m0.shape)).astype(np.float64)
        for stronger, weaker in pairwise(zones):  # a running sum: numpy's own goes cell by cell, four times as long
            weaker += stronger
        free = _union(zones, stream_count)
        before = np.concatenate([np.ones((1, free.shape[1])), free[:-1]])
        maps.append(
            DutyMap(
                duty_share=np.ascontiguousarray((before - free).T), pressure_ratio=ratio[strongest_first],
                bounce_order=trace.class_order[strongest_first], cell_shape=shape,
            )
        )  # fmt: skip
    return maps


def duty_maps(
    trace: ExposureTrace, run_outs_m: Sequence[float], restitution: float, populated_sides: int = 2
) -> list[DutyMap]:
    """Give `duty_map` for several run-outs [m] and for the populated sides: both, or the upper (along the normal)."""
    return _duty(trace, slice(None), run_outs_m, restitution, slice(2 - populated_sides, None))


def duty_map(trace: ExposureTrace, run_out_m: float, restitution: float) -> DutyMap:
    """Time share of each pressure class at each cell, for a film run-out and a restitution.

    Parameters: trace; run-out ℓ [m] of the film beyond the footprint; speed kept at a bounce, 0–1.

    Notes
    -----
    Mean number of swept zones over a cell N = M0 + 2πℓ M1 + πℓ² M2 (area of a convex shape widened by ℓ, Steiner's
    formula). The film part is spread over the cells of the same side within ℓ, total kept: film that comes to the
    board's edge is turned back, not shed. Streams are merged strongest first: duty_b = S(N_stronger) − S(N_stronger +
    N_b), S(N) = (1 − N/K)^K with K the effective number of nozzles seen at the cell; K → ∞ is Poisson thinning, K = 1
    is a lone steady stream, which covers its footprint all the time. A bounce multiplies the pressure by e²: e for
    the speed, and about e for the water that stays behind as film (engineering estimate). Inside a cell a small
    steady footprint counts as a share of time, not of area.

    """
    return duty_maps(trace, (run_out_m,), restitution)[0]


def batch_duty_maps(trace: ExposureTrace, run_out_m: float, restitution: float) -> tuple[DutyMap, ...]:
    """Give one duty map per independent batch of rays, for `sampling_error` of any result."""
    batches = range(trace.zone_area.shape[0])
    return tuple(_duty(trace, slice(b, b + 1), (run_out_m,), restitution)[0] for b in batches)


def sampling_error(value: FloatArray | float, batch_values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Bias and standard error of a result of all rays, from the same result of each batch (axis 0).

    Notes
    -----
    Merging streams and picking worst cells are concave, so few rays give too little. With a bias that falls like
    1/rays, bias = (mean of batches − value)/(batches − 1); subtract it. Error = deviation of batches/√batches.

    """
    spread = np.std(batch_values, axis=0, ddof=1) / np.sqrt(len(batch_values))
    return (np.mean(batch_values, axis=0) - value) / (len(batch_values) - 1), np.asarray(spread)


def duty_standard_error(trace: ExposureTrace, run_out_m: float, restitution: float) -> FloatArray:
    """Estimate the sampling error, bias included, of each cell's total duty share, shape (cells,)."""
    value = duty_map(trace, run_out_m, restitution).duty_share.sum(axis=1)
    parts = [part.duty_share.sum(axis=1) for part in batch_duty_maps(trace, run_out_m, restitution)]
    bias, error = sampling_error(value, np.stack(parts))
    return np.asarray(np.hypot(bias, error), dtype=np.float64)


def _covered(duty: DutyMap, direct: bool, least_duty_share: float) -> NDArray[np.bool_]:
    """Cells whose direct (or ricochet) streams act for more than the given time share."""
    chosen = (duty.bounce_order == 0) == direct
    return np.asarray(duty.duty_share[:, chosen].sum(axis=1) > least_duty_share, dtype=np.bool_)


def direct_coverage_share(duty: DutyMap, least_duty_share: float = 0.0) -> float:
    """Share of the area, both sides, that direct streams reach for more than a given share of the time."""
    return float(_covered(duty, True, least_duty_share).mean())


def ricochet_only_share(duty: DutyMap, least_duty_share: float = 0.0) -> float:
    """Share of the board area that bounced streams reach but direct ones do not."""
    return float((~_covered(duty, True, least_duty_share) & _covered(duty, False, least_duty_share)).mean())


def pressure_map(trace: ExposureTrace, restitution: float) -> FloatArray:
    """Time-mean pressure over nozzle pressure at each cell, by momentum, shape `trace.cell_shape`."""
    kept = _kept(restitution, np.arange(trace.force_ratio.shape[2]))
    return np.asarray(trace.force_ratio.mean(axis=0, dtype=np.float64) @ kept).reshape(trace.cell_shape)


def board_picture(duty: DutyMap, board_index: int, side_index: int) -> BoardPicture:
    """Cut the maps of one side (0: against the normal, 1: along it, flat: up) of one board from a duty map.

    Raises ValueError when there is none.
    """
    boards, sides, nu, nv = duty.cell_shape
    if not 0 <= board_index < boards or not 0 <= side_index < sides:
        raise ValueError(f"No side {side_index} of board {board_index}: {boards} boards, {sides} sides.")
    chosen = duty.duty_share.reshape(boards, sides, nu, nv, -1)[board_index, side_index]
    total = chosen.sum(axis=-1)
    mean = chosen @ duty.pressure_ratio / np.where(total > 0.0, total, 1.0)
    direct = chosen[..., duty.bounce_order == 0].sum(axis=-1)
    return BoardPicture(duty_share=total, direct_duty_share=direct, pressure_ratio=mean)


def worst_cells(
    duty: DutyMap, drop_share: float = 0.02, *, entry_ratios: tuple[float, ...] = (0.0,), margin: float = 2.0
) -> WorstCells:
    """Pick the few cells that can hold the cell which is worst but for `drop_share` of the area.

    Parameters: duty map; share of cells passed over, 0 to below 1; entry pressures over nozzle pressure at which to
    look (a stream below does nothing); how many times the passed-over number to keep for each, 1 or more.

    Notes
    -----
    Cells are ranked by Σ duty·(r − r_entry)^⅓ for each entry ratio, and by plain duty; the worst `margin`·(k+1) of
    each are kept, k = floor(drop_share·cells). A later measure whose k+1 worst cells are among these has its exact
    order statistic here; one with a threshold far from those given may not: give its threshold.

    """
    if not 0.0 <= drop_share < 1.0 or margin < 1:
        raise UnphysicalInputError("The dropped share must lie from 0 to below 1 and the margin be 1 or more.")
    cells = duty.duty_share.shape[0]
    order_index = int(drop_share * cells)
    keep = min(cells, ceil(margin * (order_index + 1)))
    weights = [np.cbrt(np.maximum(duty.pressure_ratio - entry, 0.0)) for entry in entry_ratios]
    weights.append(np.ones_like(duty.pressure_ratio))
    picked = np.any([_lowest(duty.duty_share @ weight, keep) for weight in weights], axis=0)
    return WorstCells(cell_index=np.flatnonzero(picked), order_index=order_index)


def _lowest(values: FloatArray, count: int) -> NDArray[np.bool_]:
    """Mark so many of the lowest values; of equal ones the first, so that every measure keeps the same dry cells."""
    bound = np.partition(values, count - 1)[count - 1]
    lowest: NDArray[np.bool_] = values < bound
    equal = np.flatnonzero(values == bound)
    lowest[equal[: count - np.count_nonzero(lowest)]] = True
    return lowest
