"""What a board type asks of rinse and drying: limits, minutes under the tightest gap, minutes in hot air, bake."""

from __future__ import annotations

from collections import Counter

import numpy as np

from catalog_schema.boards import BoardType, FluxKind
from model.air_transfer import stream_transfer_m_s
from model.demand_records import Asking, Conditions, Demand, asked_of
from model.demand_solving import least_that_serves
from model.demand_wash import RouteWash
from model.dry_course import board_laminate, laminate_start_share, open_sides, slowest_to_dry
from model.drying import DryingLoad, HotAirDryer, dry_time_needed
from model.drying_fluid import water_for_drying
from model.gap import gap_velocity_m_s
from model.laminate import drying_time_s
from model.moist_air import humidity_ratio
from model.phrase import phrase
from model.rinse import gap_exchange_share
from model.rinse_course import board_area_m2, carried_concentration_kg_m3, gap_volume_m3, residue_limit_kg_m2
from model.uncertainty import FloatArray

LEAST_TIME_s = 0.1
GREATEST_TIME_s = 7.0 * 24.0 * 3600.0
"""Where a week of rinsing is not enough the answer is infinite."""

LIMITS = {
    "film": "the film on open surfaces", "gap": "water under the slowest component", "humidity": "the air's humidity",
    "heat": "the heater", "laminate": "the laminate",
}  # fmt: skip


def rinse_demands(asked: Asking, flux: FluxKind, wash: RouteWash | None,
                  conditions: Conditions) -> tuple[Demand, ...]:
    """Work out what a board type asks of the rinse.

    Parameters
    ----------
    asked : Asking
        With a board type and a fresh book.
    flux : FluxKind
    wash : RouteWash or None
        Fluid rinsed with water, its tightest component and mean pressure; None where no such fluid may be used.
    conditions : Conditions

    Returns
    -------
    tuple of Demand

    Notes
    -----
    Every liquid that the board carries out of the wash, film and gap alike, must be thinned N times to come down to
    the ionic limit; under the tightest component that is an exchange of 1 − 1/N of the gap water with clean water
    (`gap_exchange_share`). Flow under it is that of the time-mean pressure which the hardest board type asks of the
    wash, in water at the plant's air temperature; soaking is the same without flow. Clean rinse water all the time is
    assumed, the best that any number of rinses can do.
    """
    board, context = asked.board, asked.context
    assert board is not None  # asked per board type only
    demands: list[Demand] = []
    limit = residue_limit_kg_m2(context, board)
    nothing_left = limit is not None and bool(np.any(limit <= 0.0))
    if limit is not None:
        demands.append(
            asked.number(
                "ionic residue", "Rinse", phrase("Ionic residue left"), "at most", limit, "mass per area",
                phrase("At most {limit} of NaCl equivalent per board area, both faces; the limit is the plant's own."
                       + (" No rinse leaves nothing: give a limit above 0, or none." if nothing_left else ""),
                       limit=(float(np.median(limit)), "mass per area")),
            )
        )  # fmt: skip
    last = asked.fresh()
    wanted = last.context.of_plant("requirements.rinse_resistivity")
    if wanted is not None:
        demands.append(
            last.number(
                "rinse resistivity", "Rinse", phrase("Resistivity of the last rinse, at 25 °C"), "at least", wanted,
                "resistivity", phrase("The water of the last rinse must have at least {wanted} when it leaves the "
                                      "boards.", wanted=(float(np.median(wanted)), "resistivity")),
            )
        )  # fmt: skip
    if limit is not None and not nothing_left and wash is not None:
        demands += _exchange(asked, board, flux, wash, conditions, limit)
    return tuple(demands)


def _exchange(asked: Asking, board: BoardType, flux: FluxKind, wash: RouteWash, conditions: Conditions,
              limit: FloatArray) -> list[Demand]:  # fmt: skip
    context, fluid, kind = asked.context, wash.fluid, wash.hardest.kind
    area = board_area_m2(context, board)
    held = conditions.drained_film_m + context.constant("idle_hold_up")
    carried_m = held + gap_volume_m3(context, board) / area
    thinning = np.maximum(carried_concentration_kg_m3(context, fluid, flux) * carried_m / limit, 1.0)
    gap, path = context.of_kind(kind, "gap"), context.of_kind(kind, "flux_path")
    ions = context.constant("ion_diffusivity")
    speed = np.asarray(
        gap_velocity_m_s(wash.mean_pressure_Pa * context.of_kind(kind, "open_edge_share"), gap,
                         context.of_kind(kind, "body_length"), context.rinse_viscosity_Pa_s())
    )  # fmt: skip

    def time_s(share: float, velocity: FloatArray) -> float:
        def margin(trial_s: float) -> FloatArray:
            left = 1.0 - np.asarray(gap_exchange_share(trial_s, gap, path, ions, velocity))
            with np.errstate(divide="ignore"):
                return np.asarray(-np.log(left) - np.log(thinning))

        return least_that_serves(margin, share, LEAST_TIME_s, GREATEST_TIME_s)

    def times(velocity: FloatArray) -> tuple[float, tuple[float, float, float]]:
        return time_s(asked.share, velocity), (time_s(0.05, velocity), time_s(0.5, velocity), time_s(0.95, velocity))

    flow_s, soak_s = times(speed), times(np.zeros_like(speed))
    flows = wash.mean_pressure_Pa > 0.0
    mean = (wash.mean_pressure_Pa, "low pressure")
    return [
        asked.number(
            "thinning", "Rinse", phrase("Thinning of the liquid carried out of the wash"), "at least", thinning,
            "number",
            phrase("Boards leave the wash with {film} of {fluid} on them and more under the parts; it must be thinned "
                   "this many times to come down to the ionic limit, by any number of rinses.",
                   film=(conditions.drained_film_m, "volume per area"), fluid=fluid.name),
        ),
        *(
            (
                asked.banded(
                    "rinse flow", "Rinse", phrase("Rinse with flow through the tightest gap"), "at least", *flow_s,
                    "time",
                    phrase("Clean water, pushed through the gap under {kind} as hard as the hardest board type "
                           "needs in the wash (time-mean {mean}), takes this long to bring what is under it down to "
                           "the ionic limit.", kind=kind.name, mean=mean),
                ),
            )
            if flows
            else ()
        ),
        asked.banded(
            "rinse soak", "Rinse", phrase("Rinse by soaking alone, for comparison"), "at least", *soak_s, "time",
            phrase("The same without flow under {kind}: diffusion alone.", kind=kind.name),
        ),
    ]  # fmt: skip


def dry_demands(asked: Asking, conditions: Conditions) -> tuple[Demand, ...]:
    """Work out what a board type asks of the drying after a water rinse.

    Parameters
    ----------
    asked : Asking
        With a board type and a fresh book.
    conditions : Conditions

    Returns
    -------
    tuple of Demand

    Notes
    -----
    One board in an open stream of hot air (`dry_time_needed`): the vapour is carried away and the heater never
    limits, so a real dryer needs more. No blow-off is counted. A bake follows where the board type limits laminate
    moisture: Crank's plane sheet at the hottest of the air temperatures that the board may see, in dry air.
    """
    board, context = asked.board, asked.context
    assert board is not None  # asked per board type only
    limit_K = context.of_board(board, "max_temperature")
    demands = [
        asked.number(
            "board temperature", "Drying", phrase("Board temperature, in wash and drying"), "at most", limit_K,
            "temperature", phrase("The assembly may see {limit}.", limit=(float(np.median(limit_K)), "temperature")),
        )
    ]  # fmt: skip
    demands += [_dry(asked, board, conditions, air_K, limit_K) for air_K in conditions.air_temperatures_K]
    if board.moisture_limit is not None:
        demands.append(_bake(asked, board, np.minimum(max(conditions.air_temperatures_K), limit_K)))
    return tuple(demands)


def _dry(asked: Asking, board: BoardType, conditions: Conditions, wished_K: float, limit_K: FloatArray) -> Demand:
    context = asked.context
    air_K = np.minimum(wished_K, limit_K)
    water, kind = water_for_drying(), slowest_to_dry(context, board)
    area, room_K = board_area_m2(context, board), context.from_plant("air_temperature")
    pressure_Pa, humidity = context.from_plant("air_pressure"), context.from_plant("relative_humidity")
    mass = area / 2.0 * context.of_board(board, "thickness") * context.constant("board_density")
    way = context.of_kind(kind, "body_length") * context.constant("gap_drying_path_share")
    load = DryingLoad(
        wet_area_m2=area, film_before_drain_m=conditions.drained_film_m, film_drained_m=conditions.drained_film_m,
        blow_off_share_left=1.0, gap_volume_m3=gap_volume_m3(context, board), body_length_m=way, body_width_m=way,
        open_sides=float(open_sides(kind)), heat_capacity_J_K=mass * context.constant("board_heat_capacity"),
        temperature_K=room_K,
    )  # fmt: skip
    transfer = stream_transfer_m_s(water, conditions.air_speed_m_s, context.of_board(board, "length"), air_K,
                                   pressure_Pa=pressure_Pa)  # fmt: skip
    dryer = HotAirDryer(
        air_temperature_K=air_K, transfer_m_s=np.asarray(transfer) * context.constant("heat_transfer_share"),
        inlet_humidity_ratio=humidity_ratio(room_K, humidity, pressure_Pa), inlet_temperature_K=room_K,
        exhaust_dry_air_kg_s=np.inf, pressure_Pa=pressure_Pa,
    )  # fmt: skip
    result = dry_time_needed(load, dryer, water)
    time_s = np.broadcast_to(np.asarray(result.total_time_s, dtype=np.float64), (context.draws,))
    used_K = float(np.median(air_K))
    template = "Until all is dry under {kind}, in air of {air} at {speed}; limited by {limit}."
    if used_K < wished_K:
        template = "Air of {wished} must be turned down to the {air} that this board may see. " + template
    return asked.number(
        f"dry {wished_K:g}", "Drying", phrase("Drying time to be available in air of {air}",
                                              air=(wished_K, "temperature")),
        "at least", time_s, "time",
        phrase(template, kind=kind.name, air=(used_K, "temperature"),
               speed=(conditions.air_speed_m_s, "stream speed"),
               wished=(wished_K, "temperature"), limit=_limit(result.limited_by, context.draws)),
    )  # fmt: skip


def _limit(words: np.ndarray[tuple[int, ...], np.dtype[np.str_]], draws: int) -> str:
    counted = Counter(str(word) for word in np.broadcast_to(words, (draws,)))
    return LIMITS[counted.most_common(1)[0][0]]


def _bake(asked: Asking, board: BoardType, air_K: FloatArray) -> Demand:
    context = asked.context
    laminate, wet = board_laminate(context, board), laminate_start_share(context)
    limit = context.of_board(board, "moisture_limit")
    time_s = np.asarray(drying_time_s(laminate, wet, limit, np.zeros(context.draws), air_K))
    longest_s = asked_of(time_s, "at least", asked.share)
    return asked.number(
        "bake", "Drying", phrase("Bake for the laminate, where no oven stands ready"), "at least", time_s, "long time",
        phrase("To bring the laminate from {wet} to {limit} of moisture takes up to {time} at {air}."
               if np.isfinite(longest_s) else
               "No bake at {air} brings the laminate from {wet} to {limit} of moisture. Give a higher limit.",
               wet=(asked_of(wet, "at least", asked.share), "share"), limit=(float(np.median(limit)), "share"),
               time=(longest_s, "long time"),
               air=(float(np.median(air_K)), "temperature")),
    )  # fmt: skip
