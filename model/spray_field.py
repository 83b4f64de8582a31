"""Which places on the boards the streams reach, how long and how hard: one ray trace per geometry.

The trace leaves nozzle pressure, film run-out and restitution free; `duty_map` applies them in milliseconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, pi
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


def _emit(bank: NozzleBank, nozzle: Nozzle, planes: BoardPlanes, points: RayArray) -> tuple[RayArray, ...]:
    """Start and direction of rays (n, u sheared, v, dn, du, dv); points has shape (3, nozzles, rays each)."""
    place, axis, wide = (a.astype(np.float32)[:, None, :] for a in (bank.position_m, bank.axis, bank.wide))
    if nozzle.shape == "flat fan":
        across = np.float32(nozzle.half_angle_rad) * (2 * points[1] - 1)
        along_thin = np.float32(np.sin(nozzle.thin_half_angle_rad)) * (2 * points[2] - 1)
        rest = np.sqrt(1 - along_thin * along_thin)
        along_wide, forward = np.sin(across) * rest, np.cos(across) * rest
    else:
        drop = points[1] * np.float32(nozzle.solid_angle_sr / (2 * pi))  # 1 − cos, without cancellation
        radial, turn = np.sqrt(drop * (2 - drop)), np.float32(2 * pi) * points[2]
        along_wide, along_thin, forward = radial * np.cos(turn), radial * np.sin(turn), 1 - drop
    thin = [axis[..., i - 2] * wide[..., i - 1] - axis[..., i - 1] * wide[..., i - 2] for i in range(3)]
    dx, dy, dz = (along_wide * wide[..., i] + along_thin * thin[i] + forward * axis[..., i] for i in range(3))
    x, y, z = (np.broadcast_to(place[..., i], dx.shape) for i in range(3))
    if bank.motion == "turning":
        angle = np.float32(2 * pi) * points[0]
        cosine, sine = np.cos(angle), np.sin(angle)
        x, y = cosine * x - sine * y, sine * x + cosine * y
        dx, dy = cosine * dx - sine * dy, sine * dx + cosine * dy
    elif bank.motion == "swinging" and bank.swing_half_angle_rad > 0.0:
        # turn about the pipe, which is the wide direction (y or z): only the parts along x and the axis mix
        angle = np.float32(bank.swing_half_angle_rad) * (2 * points[0] - 1)
        depth = dy * axis[..., 1] + dz * axis[..., 2]
        added = np.cos(angle) * depth - np.sin(angle) * dx - depth
        dx = np.cos(angle) * dx + np.sin(angle) * depth
        dy, dz = dy + added * axis[..., 1], dz + added * axis[..., 2]
    elif bank.motion == "belt" and planes.belt_pitch_m:
        # the board under a landing point is at a random phase of the pitch: move the ray, keep the board
        landing_x = x - dx * z / np.where(np.abs(dz) < _PARALLEL, _PARALLEL, dz)
        pitch = np.float32(planes.belt_pitch_m)
        x = x - landing_x + pitch * (points[0] - np.float32(0.5))
    if planes.orientation == "flat":
        n, u, dn, du = z, x, dz, dx
    else:
        upright, lean = np.float32(np.cos(planes.tilt_rad)), np.float32(np.sin(planes.tilt_rad))
        n, u = x * upright - z * lean, x * lean + z * upright
        dn, du = dx * upright - dz * lean, dx * lean + dz * upright
    shear = np.float32(planes.shear)
    return tuple(np.ascontiguousarray(a).ravel() for a in (n, u - shear * n, y, dn, du, dy))


def _nearest_board(
    planes: BoardPlanes, ray: tuple[RayArray, ...], start_plane: RayArray | None
) -> tuple[RayArray, IntArray, RayArray]:
    """Distance to the first board met (inf: none), its block and its plane (whole numbers kept as float).

    A block is a box in the sheared coordinates, so the first plane past the entry into the box is the only one that
    can be hit: one step a ray and block instead of a test against every board. Planes are counted along the ray.
    """
    n, u, v, dn, du, dv = ray
    du = du - np.float32(planes.shear) * dn
    per_u, per_v = (1 / np.where(np.abs(d) < _PARALLEL, _PARALLEL, d) for d in (du, dv))
    reach_u = np.abs(np.float32(planes.board_width_m / 2) * per_u)
    reach_v = np.abs(np.float32(planes.board_length_m / 2) * per_v)
    heading = np.copysign(np.float32(1), dn)
    planes_per_m = np.maximum(np.abs(dn), _PARALLEL) / np.float32(planes.plane_pitch_m)
    passed = heading * ((n - np.float32(planes.first_plane_m)) / np.float32(planes.plane_pitch_m))
    next_plane = None if start_plane is None else heading * start_plane + 1
    best, best_plane = np.full(n.shape, np.inf, dtype=np.float32), np.zeros(n.shape, dtype=np.float32)
    best_block = np.zeros(n.shape, dtype=np.int64)
    for block, members in enumerate(planes.boards_in_block):
        mid_u = (np.float32(planes.block_u_m[block]) - u) * per_u
        mid_v = (np.float32(planes.block_v_m[block]) - v) * per_v
        enter = np.maximum(np.maximum(mid_u - reach_u, mid_v - reach_v), 0)
        leave = np.minimum(mid_u + reach_u, mid_v + reach_v)
        nearest_end = (heading - 1) * np.float32((members - 1) / 2)  # a ray still before the boards meets an end first
        plane = np.ceil(np.maximum(passed + planes_per_m * enter, nearest_end))
        if next_plane is not None:
            plane = np.maximum(plane, next_plane)
        distance = (plane - passed) / planes_per_m
        met = (distance <= np.minimum(leave, best)) & (plane <= nearest_end + np.float32(members - 1))
        best, best_plane = np.where(met, distance, best), np.where(met, heading * plane, best_plane)
        if block:
            best_block[met] = block
    return best, best_block, best_plane


def _follow(
    planes: BoardPlanes, nozzle: Nozzle, ray: tuple[RayArray, ...], emitter: IntArray,
    bounces: int, cells: tuple[int, int],
) -> tuple[NDArray[Any], ...]:  # fmt: skip
    """Follow rays; per hit note cell, bounces before, nozzle, footprint area [m²], drive and normal pressure ratio."""
    jet_limit = np.float32(nozzle.velocity_coefficient**2)
    thrust_area_m2 = np.float32(2 * nozzle.stream_area_m2) * jet_limit  # ρ q v0/Δp = 2 C_d C_v A
    solid, per_decay = np.float32(nozzle.solid_angle_sr), np.float32(1.0 / nozzle.decay_length_m)
    first_board = np.concatenate([[0], np.cumsum(planes.boards_in_block)[:-1]])
    block_u, block_v = planes.block_u_m.astype(np.float32), planes.block_v_m.astype(np.float32)
    first, pitch = np.float32(planes.first_plane_m), np.float32(planes.plane_pitch_m)
    width, length, (nu, nv) = planes.board_width_m, planes.board_length_m, cells
    path = np.zeros(emitter.shape, dtype=np.float32)
    start_plane: RayArray | None = None
    none, empty = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.float32)
    found: list[tuple[NDArray[Any], ...]] = [(none, none, none, empty, empty, empty)]
    for order in range(bounces + 1):
        distance, block, plane = _nearest_board(planes, ray, start_plane)
        hit = np.flatnonzero(np.isfinite(distance))
        if hit.size == 0:
            break
        distance, block, start_plane = distance[hit], block[hit], plane[hit]
        path, emitter = path[hit] + distance, emitter[hit]
        n, u, v, dn, du, dv = (a[hit] for a in ray)
        u = u + distance * (du - np.float32(planes.shear) * dn)
        v = v + distance * dv
        n = first + pitch * start_plane
        row = (u - block_u[block]) * np.float32(nu / width) + np.float32(nu / 2)
        column = (v - block_v[block]) * np.float32(nv / length) + np.float32(nv / 2)
        row_index, column_index = (a.astype(np.int64).clip(0, m - 1) for a, m in ((row, nu), (column, nv)))
        face = (first_board[block] + start_plane.astype(np.int64)) * 2 + (dn < 0)  # moving along −normal meets side 1
        cosine = np.maximum(np.abs(dn), _PARALLEL)
        across = np.maximum(path * path * solid, np.float32(nozzle.stream_area_m2))
        slowed = np.exp(-path * per_decay)
        stagnation, spread = jet_limit * slowed * slowed, thrust_area_m2 * slowed / across
        ratio = np.minimum(stagnation, spread * cosine)
        normal = cosine * cosine * np.minimum(stagnation, spread)
        cell = (face * nu + row_index) * nv + column_index
        found.append((cell, np.full(hit.shape, order), emitter, across / cosine, ratio, normal))
        ray = (n, u, v, -dn, du, dv)
    return tuple(np.concatenate(parts) for parts in zip(*found, strict=True))


def _effective_streams(cell: IntArray, emitter: IntArray, cells: int, emitters: int) -> FloatArray:
    """Inverse Simpson index Σn(Σn−1)/Σn_j(n_j−1) of the nozzles seen at each cell, from 1 up."""
    counts = np.bincount(cell * emitters + emitter, minlength=cells * emitters).astype(np.float64)
    counts = counts.reshape(cells, emitters)
    total = counts.sum(axis=1)
    pairs = (counts * (counts - 1.0)).sum(axis=1)
    return np.asarray(np.maximum(total * (total - 1.0) / np.maximum(pairs, 1.0), 1.0), dtype=np.float64)


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
    deposits: list[tuple[NDArray[Any], ...]] = []
    for points in _ray_points(seed, batches, max(0, (emitters * each - 1).bit_length())):
        ray = _emit(bank, nozzle, planes, points[:, : emitters * each].reshape(3, emitters, each))
        deposits.append(_follow(planes, nozzle, ray, emitter, bounces, cells))
    batch = np.repeat(np.arange(batches), [len(hits[0]) for hits in deposits])
    cell, order, hit_by, area, ratio, normal = (np.concatenate(parts) for parts in zip(*deposits, strict=True))
    decade = -np.log10(np.maximum(ratio, np.float32(10.0 ** (-_RATIO_DECADES))))
    bin_index = np.clip(decade * np.float32(pressure_bins / _RATIO_DECADES), 0, pressure_bins - 1).astype(np.int64)
    raw_class = order * pressure_bins + bin_index
    # Class numbers are small: counting finds those in use far quicker than sorting.
    used = np.flatnonzero(np.bincount(raw_class, minlength=1))
    number_of = np.zeros(orders * pressure_bins, dtype=np.int64)
    number_of[used] = np.arange(used.size)
    class_index = number_of[raw_class]
    area, ratio, normal = (a.astype(np.float64) for a in (area, ratio, normal))
    class_ratio = np.bincount(class_index, area * ratio) / np.bincount(class_index, area)
    address = (batch * count + cell) * used.size + class_index

    def moment(amount: FloatArray | None) -> NDArray[np.float32]:
        total = np.bincount(address, amount, minlength=batches * count * used.size) * weight
        return np.asarray(total.reshape(batches, count, used.size), dtype=np.float32)

    force_address = (batch * count + cell) * orders + order
    force = np.bincount(force_address, area * normal, minlength=batches * count * orders) * weight
    return ExposureTrace(
        cell_shape=shape, cell_size_m=cell_size, zone_area=moment(area),
        zone_radius_per_m=moment(nozzle.perimeter_factor * np.sqrt(area / pi)), zones_per_m2=moment(None),
        class_ratio=class_ratio, class_order=used // pressure_bins,
        force_ratio=force.reshape(batches, count, orders).astype(np.float32),
        stream_count=_effective_streams(cell, hit_by, count, emitters), ray_count=batches * emitters * each,
    )  # fmt: skip


def _union(zones: FloatArray, stream_count: FloatArray) -> FloatArray:
    """Time share free of every stream when K streams share N covers evenly: (1 − N/K)^K, → exp(−N)."""
    share_each = np.minimum(zones / stream_count[:, None], 1.0 - 1e-12)
    return np.exp(stream_count[:, None] * np.log1p(-share_each))


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

    def of_sides(cells: NDArray[Any]) -> NDArray[Any]:
        return cells.reshape(boards, all_sides, nu * nv, -1)[:, sides].reshape(shape[0] * shape[1] * nu * nv, -1)

    moments = (trace.zone_area, trace.zone_radius_per_m, trace.zones_per_m2)
    m0, m1, m2 = (np.asarray(of_sides(moment[batch].mean(axis=0)), dtype=np.float32) for moment in moments)
    stream_count = of_sides(trace.stream_count)[:, 0]
    ratio = trace.class_ratio * _kept(restitution, trace.class_order)
    strongest_first = np.argsort(-ratio, kind="stable")
    maps = []
    for run_out_m in run_outs_m:
        if not run_out_m >= 0.0 or not np.isfinite(run_out_m):
            raise ValueError(f"Film run-out is {run_out_m:g} m. It must be 0 or more and finite.")
        reach_m = reach_on_board_m(run_out_m, trace.cell_shape, trace.cell_size_m)
        landing: RayArray = (2 * pi * reach_m * m1 + pi * reach_m**2 * m2).reshape(*shape, -1)
        film = spread_film(landing, reach_m, trace.cell_size_m)
        zones = (m0 + film.reshape(m0.shape))[:, strongest_first]
        free = _union(np.cumsum(zones, axis=1, dtype=np.float64), stream_count)
        before = np.concatenate([np.ones((free.shape[0], 1)), free[:, :-1]], axis=1)
        maps.append(
            DutyMap(
                duty_share=before - free, pressure_ratio=ratio[strongest_first],
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
    # Stable, so that of cells that no stream reaches the same few are kept by every measure.
    picked = [np.argsort(duty.duty_share @ weight, kind="stable")[:keep] for weight in weights]
    return WorstCells(cell_index=np.unique(np.concatenate(picked)), order_index=order_index)
