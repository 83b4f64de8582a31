"""Rinse water in series and in a loop: counterflow stages, resin, and the time to reach a resistivity."""

from __future__ import annotations

import numpy as np

from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative, require_within
from model.input_errors import UnphysicalInputError
from model.ionic import MOLAR_MASS_NACL_kg_mol, resistivity_ohm_m, salt_concentration_kg_m3
from model.rinse import CarryOver, RinseResult

# Halving a bracket this often exhausts double precision; the work is the same for every draw.
_HALVINGS = 80


def counterflow_dilution(flow_ratio: Values, stages: int) -> Values:
    """Dilution C0/Cn of n rinse stages through which clean water runs against the boards.

    Parameters
    ----------
    flow_ratio : rinse flow ÷ carry-over flow [1], float or array
    stages : number of stages, 1 or more

    Returns
    -------
    C0/Cn, 1 at zero flow.

    Errors
    ------
    ValueError if the ratio is negative or there is no stage.

    Notes
    -----
    C0/Cn = Σ r^i, i = 0..n (mass balance of ideally mixed stages with equal carry-over). Plating handbooks.

    >>> round(counterflow_dilution(31.1109, 2))
    1000
    """
    ratio = require_not_negative("flow ratio", flow_ratio, "")
    _require_stage(stages)
    total = np.ones_like(ratio)
    for _ in range(stages):
        total = total * ratio + 1.0
    return plain(total)


def counterflow_flow_ratio(dilution: Values, stages: int) -> Values:
    """Rinse flow ÷ carry-over flow that n counterflow stages need for a dilution C0/Cn.

    Parameters
    ----------
    dilution : C0/Cn, 1 or more, float or array; `inf` (feed dirtier than the limit) gives `inf`
    stages : number of stages, 1 or more

    Returns
    -------
    Flow ratio [1].

    Errors
    ------
    ValueError if the dilution is below 1 or there is no stage.

    Notes
    -----
    Inverse of `counterflow_dilution`. The root lies between 0 and X^(1/n), because the series exceeds r^n;
    bisection. A printed short form X^(1/n) + 1/n oversizes: the series gives about X^(1/n) − 1/n.

    >>> round(counterflow_flow_ratio(1000.0, 3), 5)
    9.64197
    """
    wanted = require_within("dilution", dilution, 1.0, np.inf, "")
    _require_stage(stages)
    finite = np.where(np.isinf(wanted), 1.0, wanted)
    low, high = np.zeros_like(finite), finite ** (1.0 / stages)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        too_little = np.asarray(counterflow_dilution(middle, stages)) < finite
        low, high = np.where(too_little, middle, low), np.where(too_little, high, middle)
    return plain(np.where(np.isinf(wanted), np.inf, 0.5 * (low + high)))


def counterflow_rinse(
    load: CarryOver,
    residue_concentration_kg_m3: Values,
    stages: int,
    rinse_volume_m3: Values,
    exchange_share: Values,
    feed_concentration_kg_m3: Values = 0.0,
) -> RinseResult:
    """Rinse a load in n stages in series, the water running from the last stage to the first.

    Parameters
    ----------
    load : carry-over of one load (or of the boards of any fixed time)
    residue_concentration_kg_m3 : kg/m³ NaCl-equivalent in the liquid carried into the first stage
    stages : number of stages, 1 or more
    rinse_volume_m3 : m³ of fresh water fed to the last stage per such load; 0 means no rinse water
    exchange_share : share of the gap exchanged per stage, see `model.rinse.gap_exchange_share`
    feed_concentration_kg_m3 : kg/m³ NaCl-equivalent of the fresh water. All broadcast.

    Returns
    -------
    `RinseResult`; the resistivity is that of the last stage.

    Errors
    ------
    ValueError if there is no stage, no liquid at all, an input is negative, or a share is outside 0..1.

    Notes
    -----
    Steady state. Stage i, ideally mixed at C_i: V_c(C_(i−1) − C_i) + V_g(g_(i−1) − g_i) + V_r(C_(i+1) −
    C_i) = 0, with g_i = g_(i−1) + e(C_i − g_(i−1)), C_(n+1) = feed; a linear system of n unknowns per draw.
    Without gap water the result is Σ r^i. Spray that does not fall back into its own sump is neglected.
    """
    _require_stage(stages)
    start = require_not_negative("residue concentration", residue_concentration_kg_m3, "kg/m³")
    volume = require_not_negative("rinse volume", rinse_volume_m3, "m³")
    share = require_within("exchange share", exchange_share, 0.0, 1.0, "(share)")
    feed = require_not_negative("feed concentration", feed_concentration_kg_m3, "kg/m³")
    open_m3 = require_not_negative("open carry-over", load.open_m3, "m³")
    gap_m3 = require_not_negative("gap carry-over", load.gap_m3, "m³")
    area = require_above_zero("board area", load.area_m2, "m²")
    start, volume, share, feed, open_m3, gap_m3, area = np.broadcast_arrays(
        start, volume, share, feed, open_m3, gap_m3, area
    )
    if np.any(open_m3 + volume <= 0.0):
        raise UnphysicalInputError(
            "counterflow rinse: carry-over and rinse volume are both 0. Give one of them above 0."
        )
    baths, gap_after = _stage_concentrations(start, volume, share, feed, open_m3, gap_m3, stages)
    open_left, gap_left = open_m3 * baths[..., -1], gap_m3 * gap_after
    brought = volume * feed
    return RinseResult(
        rinses=plain(np.full(start.shape, float(stages))),
        residue_in_kg=plain(start * (open_m3 + gap_m3) + brought),
        residue_out_kg=plain(volume * baths[..., 0]),
        residue_left_kg=plain(open_left + gap_left),
        residue_left_kg_m2=plain((open_left + gap_left) / area),
        gap_residue_left_kg=plain(gap_left),
        last_rinse_resistivity_ohm_m=resistivity_ohm_m(baths[..., -1]),
        water_m3=plain(volume + 0.0),
        drain_m3=plain(volume + 0.0),
    )


def resin_volume_m3(
    residue_removed_kg: Values, resin_capacity_eq_m3: Values, usable_share: Values = 1.0
) -> Values:
    """Mixed-bed resin that one load exhausts in a closed rinse loop.

    Parameters
    ----------
    residue_removed_kg : kg NaCl-equivalent taken from the load, float or array
    resin_capacity_eq_m3 : eq per m³ of mixed bed (1 eq/L is 1000 eq/m³)
    usable_share : share of the capacity used before the resin is changed. All broadcast.

    Returns
    -------
    m³ of resin per load.

    Errors
    ------
    ValueError if the capacity is not above 0, the share is 0 or above 1, or the mass is negative.

    Notes
    -----
    One mole of NaCl takes one equivalent of each resin. Amines and carbon dioxide also use capacity (not
    counted); non-ionic surfactant and rosin are not removed at all and need carbon.

    >>> round(resin_volume_m3(58.443e-3, 500.0) * 1e3, 3)  # litres for one mole
    2.0
    """
    mass = require_not_negative("residue removed", residue_removed_kg, "kg")
    capacity = require_above_zero("resin capacity", resin_capacity_eq_m3, "eq/m³")
    usable = require_above_zero("usable share", require_within("usable share", usable_share, 0.0, 1.0, ""), "")
    return plain(np.asarray(mass / MOLAR_MASS_NACL_kg_mol / (capacity * usable)))


def closed_loop_time_s(
    start_concentration_kg_m3: Values,
    set_point_ohm_m: Values,
    loop_volume_m3: Values,
    loop_flow_m3_s: Values,
    resin_outlet_ohm_m: Values,
) -> Values:
    """Time until water circulated through resin reaches the set resistivity.

    Parameters
    ----------
    start_concentration_kg_m3 : kg/m³ NaCl-equivalent in the tank once the carry-over is mixed in, float or
        array
    set_point_ohm_m : Ω·m at 25 °C wanted
    loop_volume_m3 : m³ of water in tank and piping
    loop_flow_m3_s : m³/s through the resin; circulated volume = flow × time
    resin_outlet_ohm_m : Ω·m at 25 °C of the water behind the resin. All broadcast.

    Returns
    -------
    s; 0 where the water already meets it, `inf` where flow is 0 or the resin's own water does not meet the
    set point.

    Errors
    ------
    ValueError if a volume or resistivity is not above 0, a resistivity exceeds pure water's, or flow is
    negative.

    Notes
    -----
    Ideally mixed tank: C − C_r falls as exp(−t·Q/V). Late release from gaps is not in it: judge that with
    `model.rinse.gap_exchange_share` over the same time.
    """
    start = require_not_negative("start concentration", start_concentration_kg_m3, "kg/m³")
    wanted = np.asarray(salt_concentration_kg_m3(set_point_ohm_m))
    behind = np.asarray(salt_concentration_kg_m3(resin_outlet_ohm_m))
    volume = require_above_zero("loop volume", loop_volume_m3, "m³")
    flow = require_not_negative("loop flow", loop_flow_m3_s, "m³/s")
    start, wanted, behind, volume, flow = np.broadcast_arrays(start, wanted, behind, volume, flow)
    works = (flow > 0.0) & (behind < wanted) & (start > wanted)
    ratio = np.where(works, start - behind, 1.0) / np.where(works, wanted - behind, 1.0)
    time = volume / np.where(flow > 0.0, flow, 1.0) * np.log(ratio)
    return plain(np.where(works, time, np.where(start <= wanted, 0.0, np.inf)))


def _stage_concentrations(
    start: FloatArray,
    volume: FloatArray,
    share: FloatArray,
    feed: FloatArray,
    open_m3: FloatArray,
    gap_m3: FloatArray,
    stages: int,
) -> tuple[FloatArray, FloatArray]:
    """Concentration in each bath (last axis) and in the gap water leaving the last one."""
    kept = 1.0 - share
    matrix = np.zeros((*start.shape, stages, stages))
    right = np.zeros((*start.shape, stages))
    for i in range(stages):
        # Gap release in stage i is e·(C_i − g_(i−1)); g_(i−1) is a sum over the earlier baths and the start.
        matrix[..., i, i] = open_m3 + volume + gap_m3 * share
        for j in range(i):
            matrix[..., i, j] = -gap_m3 * share**2 * kept ** (i - 1 - j)
        right[..., i] = gap_m3 * share * kept**i * start
        if i > 0:
            matrix[..., i, i - 1] -= open_m3
        else:
            right[..., i] += open_m3 * start
        if i + 1 < stages:
            matrix[..., i, i + 1] -= volume
        else:
            right[..., i] += volume * feed
    baths = np.linalg.solve(matrix, right[..., np.newaxis])[..., 0]
    gap = start
    for i in range(stages):
        gap = gap + share * (baths[..., i] - gap)
    return np.asarray(baths), np.asarray(gap)


def _require_stage(stages: int) -> None:
    """Refuse a series of no stages."""
    if stages < 1:
        raise UnphysicalInputError(f"stages: {stages} is below 1. Give at least one rinse stage.")
