"""What the plant as a whole asks of any machine: rack resistance, records, volume and the building's limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.plant import SiteLimits
from catalog_schema.quantity import Quantity
from catalog_schema.units import number_text
from model.capacity_stage import SECONDS_PER_HOUR, boards_per_day, refuse_no_working_time
from model.demand_records import Asking, Demand, asked_of
from model.esd_requirements import esd_limits
from model.phrase import phrase
from model.uncertainty import FloatArray

RECORD_WORDS = {
    "scan each board": "Every board is scanned, and its code is kept with the load it was washed in.",
    "lock recipe to product": "The product's code selects the recipe; no other can be started for it.",
    "user access levels": "Recipes and limits can be changed only by those entitled to.",
    "cycle log": "Every cycle leaves a record with recipe, times and result.",
    "sensor log": "Temperature, pressure, resistivity and concentration are recorded over every cycle.",
    "change log": "Every change of a recipe or limit is recorded with who and when.",
    "line messaging": "The machine exchanges messages with the plant's line system over a documented interface.",
    "control charts": "Measured values are charted with their control limits.",
    "reject wrong load": "A load with a board that does not belong to the recipe cannot be started.",
    "cleanliness test built in": "A cleanliness test of the boards or the last rinse is part of the machine.",
}  # fmt: skip
"""What each function means, in one plain sentence."""


def rack_demands(asked: Asking) -> tuple[Demand, ...]:
    """Ask for rack resistances and for how fast a charge must leak away."""
    limits = esd_limits(asked.context.case.plant.requirements, asked.context.inputs.book)
    crossed = bool(np.any(limits.point_to_point_min_ohm > limits.point_to_point_max_ohm))
    leak = asked.fresh()
    decay = leak.context.constant("max_decay_time")
    return (
        _rack(asked, "rack lower", "Rack or belt, point to point, lower limit", "at least",
              limits.point_to_point_min_ohm, "rack_resistance_min" in limits.own,
              below=limits.point_to_point_max_ohm if crossed else None),
        _rack(asked, "rack upper", "Rack or belt, point to point, upper limit", "at most",
              limits.point_to_point_max_ohm, "rack_resistance_max" in limits.own),
        _rack(asked, "rack ground", "Rack or belt, to ground", "at most", limits.to_ground_max_ohm,
              "ground_resistance_max" in limits.own),
        leak.number("decay", "Board and rack", phrase("Time in which a charge falls to a tenth"), "at most", decay,
                    "time", phrase("A charged board must be down to a tenth within {decay}, wet or dry.",
                                   decay=(float(np.median(decay)), "time"))),
    )  # fmt: skip


def _rack(asked: Asking, key: str, title: str, side: str, limit: FloatArray, own: bool,
          below: FloatArray | None = None) -> Demand:  # fmt: skip
    """Ask for a limit of the rack; `below`: a limit of the other side that it contradicts [Ω]."""
    origin = "the plant's own limit" if own else "the dissipative range of ANSI/ESD STM11.11 and S20.20"
    return asked.number(
        key, "Board and rack", phrase(title), "at least" if side == "at least" else "at most", limit, "resistance",
        phrase("{side} {limit}: {origin}." + ("" if below is None else " That is above the upper limit of {upper}, so "
                                              "no rack can keep both. Correct one of them."),
               side=side.capitalize(), limit=(float(np.median(limit)), "resistance"), origin=origin,
               upper=(float(np.median(limit if below is None else below)), "resistance")),
    )  # fmt: skip


def record_demands(asked: Asking) -> tuple[Demand, ...]:
    """List the functions of traceability that the plant must have."""
    return tuple(
        asked.fact(f"record {function}", "Records", phrase(function.capitalize()), phrase(RECORD_WORDS[function]))
        for function in dict.fromkeys(asked.context.case.plant.requirements.traceability)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rates:
    boards: FloatArray
    lots: FloatArray
    area: FloatArray


def volume_demands(asked: Asking) -> tuple[Demand, ...]:
    """Ask for the throughput of the whole board mix, in boards, lots and area.

    Raises
    ------
    UnphysicalInputError
        When the plant never works, or no machine may run.

    Notes
    -----
    Boards of a year over the plant's working hours, divided by the highest utilisation that the plant allows: what
    machines must do together while they run. Repair and changeover come on top and are the machine's own.
    """
    context = asked.context
    if not context.case.board_types:
        return ()
    refuse_no_working_time(context)
    hours, most = context.from_plant("hours_per_day"), context.from_plant("requirements.max_utilisation")
    zeros = np.zeros(context.draws)
    rates = _Rates(boards=zeros, lots=zeros, area=zeros)
    for board in context.case.board_types:
        per_s = boards_per_day(context, board) / (hours * SECONDS_PER_HOUR * most)
        face = context.of_board(board, "length") * context.of_board(board, "width")
        rates = _Rates(
            boards=rates.boards + per_s, lots=rates.lots + per_s / context.of_board(board, "lot_size"),
            area=rates.area + per_s * face * SECONDS_PER_HOUR,
        )  # fmt: skip
    written = number_text(asked_of(rates.boards, "at least", asked.share) * SECONDS_PER_HOUR)
    return (
        asked.number(
            "throughput", "Volume", phrase("Boards per running hour, all types together"), "at least", rates.boards,
            "per time",
            phrase("So that the year's volume fits into the working hours with utilisation at the plant's limit of "
                   "{most}. Machines that take n boards a load must start {boards} ÷ n loads an "
                   "hour together.", boards=written, most=(float(np.median(most)), "share")),
            "boards",
        ),
        asked.number(
            "lots", "Volume", phrase("Lots per running hour, all types together"), "at least", rates.lots, "per time",
            phrase("A lot of one type is not mixed with another." if not context.case.plant.requirements.mixed_loads
                   else "Types may share a load."),
            "lots",
        ),
        asked.number(
            "area", "Volume", phrase("Board area in one running hour, one face"), "at least", rates.area, "area",
            phrase("For belts: the same volume as area of boards laid side by side."),
        ),
    )  # fmt: skip


SITE_WORDS = {
    "power": "Electrical power that the building gives", "water_flow": "Water that the building gives",
    "compressed_air": "Compressed air that the building gives", "exhaust_flow": "Exhaust that the building takes",
    "floor_area": "Floor that is free", "flammable_volume": "Flammable liquid that the room may hold",
}  # fmt: skip


def site_demands(asked: Asking) -> tuple[Demand, ...]:
    """List what the building allows; fields the plant leaves out set no limit."""
    site, found = asked.context.case.plant.site, []
    for name in SiteLimits.model_fields:
        quantity = getattr(site, name)
        if isinstance(quantity, Quantity):
            one = asked.fresh()
            limit = one.context.from_plant(f"site.{name}")
            found.append(
                one.number(f"site {name}", "Site", phrase(SITE_WORDS[name]), "at most", limit, quantity.dimension,
                             phrase("At most {limit} for all machines together.",
                                    limit=(float(np.median(limit)), quantity.dimension)))
            )  # fmt: skip
    if not site.drain_allowed:
        found.append(asked.fact("site drain", "Site", phrase("No drain"), phrase("No process water may be let out.")))
    return tuple(found)
