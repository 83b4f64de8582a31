"""What all machines together ask of the building against what it can give."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from catalog_schema.fluids import Fluid
from catalog_schema.plant import SiteLimits
from catalog_schema.quantity import Quantity
from model.fluids import FloatArray, require_not_negative
from model.machine_inputs import MachineInputs
from model.phrase import phrase
from model.requirements import Judged, Subject, Thresholds, judge_fact, judge_number


@dataclass(frozen=True, slots=True)
class _Limit:
    key: str
    title: str
    field: str  # of SiteLimits
    path: str  # of the machine
    dimension: str
    caution: str


_LIMITS = (
    _Limit("site power", "Electrical supply", "power", "site.connected_power", "power",
           "A licensed electrician must confirm it."),
    _Limit("site water", "Water supply", "water_flow", "site.water_flow", "flow", ""),
    _Limit("site compressed air", "Compressed air", "compressed_air", "site.compressed_air", "air flow", ""),
    _Limit("site exhaust", "Exhaust", "exhaust_flow", "site.exhaust_flow", "air flow", ""),
    _Limit("site floor", "Floor", "floor_area", "site.floor_area", "area", ""),
)  # fmt: skip

FLAMMABLE_CAUTION = (
    "What may be stored and used is for the local code, the safety data sheet and a licensed professional to say."
)
DISCHARGE_CAUTION = "What may be discharged is for the local authority to say."


def total_need(per_machine: FloatArray, machines: FloatArray) -> FloatArray:
    """Need of several machines together; infinite where no number of machines is enough, 0 where none needs any.

    Parameters
    ----------
    per_machine : ndarray (draws,)
        In SI, 0 or above.
    machines : ndarray (draws,)
        Number of machines, 0 or above, infinite where no number is enough.

    Returns
    -------
    ndarray (draws,)
        In SI.

    Errors
    ------
    ValueError if a need is negative or not finite, or a number of machines is negative or not a number.

    >>> total_need(np.array([2.0, 0.0]), np.array([3.0, np.inf])).tolist()
    [6.0, 0.0]
    """
    needs = require_not_negative("need per machine", per_machine, "")
    if np.isnan(machines).any() or np.any(machines < 0.0):
        raise ValueError("The number of machines is negative or not a number. Give 0 or above.")
    total = np.zeros(np.broadcast_shapes(needs.shape, machines.shape))
    # Multiplied only where something is needed: 0 times infinity would be no number.
    np.multiply(needs, machines, out=total, where=np.broadcast_to(needs > 0.0, total.shape))
    return total


def free_floor_m2(floor_area_m2: FloatArray, free_room_m: FloatArray) -> FloatArray:
    """Floor that a machine takes with free room on all sides.

    Parameters
    ----------
    floor_area_m2 : ndarray (draws,)
        Of the machine itself [m²].
    free_room_m : ndarray (draws,)
        Kept free on each side [m].

    Returns
    -------
    ndarray (draws,)
        m²

    Errors
    ------
    ValueError if a value is negative or not finite.

    Notes
    -----
    (√A + 2r)²: the machine is taken as a square, the smallest ring for its area; a long machine needs more.

    >>> free_floor_m2(np.array([4.0]), np.array([0.5])).tolist()
    [9.0]
    """
    area = require_not_negative("floor area", floor_area_m2, "m²")
    room = require_not_negative("free room", free_room_m, "m")
    return np.asarray(np.where(area > 0.0, (np.sqrt(area) + 2.0 * room) ** 2, 0.0))


def site_requirements(
    inputs: MachineInputs, machines: FloatArray, site: SiteLimits, fluid: Fluid | None, thresholds: Thresholds, *,
    free_room_m: FloatArray | None = None,
) -> tuple[Judged, ...]:  # fmt: skip
    """Judge what all machines together ask of the building.

    Parameters
    ----------
    inputs : MachineInputs
    machines : ndarray (draws,)
        Number of machines, infinite where no number is enough.
    site : SiteLimits
        An absent limit makes no requirement.
    fluid : Fluid or None
        Wash fluid; the limit for flammable fluids concerns only one that is flammable or combustible.
    thresholds : Thresholds
    free_room_m : ndarray (draws,), optional
        Kept free around each machine [m]; without it the floor counts the machines alone.

    Returns
    -------
    tuple of Judged
        Empty for a service and for doing nothing, which ask nothing of the building.

    Errors
    ------
    ValueError if a number of machines is negative or not a number.

    Notes
    -----
    Need = need of one machine × machines, all running at once: no diversity between machines is taken off. Where the
    volume of flammable fluid is not known, the tank stands in for it; fluid in drums comes on top.
    """
    machine = inputs.machine
    if machine.principle in ("service", "none"):
        return ()
    subject = Subject(machine_id=machine.id, fluid_id=fluid.id if fluid is not None else "")
    judged: list[Judged] = []
    for limit in _LIMITS:
        bound = _site_draws(site, limit.field, inputs)
        if bound is None:
            continue
        need = inputs.draws(limit.path)
        if need is not None and limit.field == "floor_area" and free_room_m is not None:
            need = free_floor_m2(need, free_room_m)
        judged.append(_judge(subject, limit, need, bound, machines, inputs, thresholds))
    judged += _drain(subject, site, inputs)
    judged += _flammables(subject, site, fluid, machines, inputs, thresholds)
    return tuple(judged)


def _site_draws(site: SiteLimits, field: str, inputs: MachineInputs) -> FloatArray | None:
    quantity: Quantity | None = getattr(site, field)
    return None if quantity is None else inputs.book.take(quantity, f"plant.site.{field}", "stated")


def _judge(
    subject: Subject, limit: _Limit, need: FloatArray | None, bound: FloatArray, machines: FloatArray,
    inputs: MachineInputs, thresholds: Thresholds,
) -> Judged:  # fmt: skip
    given = (float(np.median(bound)), limit.dimension)
    if need is None:
        sentence = phrase("{title}: what {machine} needs is not known; the site has {given}. Ask the supplier.",
                          title=limit.title, machine=inputs.machine.name, given=given)  # fmt: skip
        return judge_fact(subject, limit.key, limit.title, "site", holds=None, draws=inputs.book.draws,
                          sentence=sentence)  # fmt: skip
    total = total_need(need, machines)
    middle, count = float(np.median(total)), float(np.median(machines))
    if np.isfinite(middle):
        template = "{title}: {count} × {machine} need {need}; the site has {given}."
    else:
        template = "{title}: no number of {machine} is enough, so the need has no end; the site has {given}."
    sentence = phrase(f"{template} {limit.caution}".strip(), title=limit.title, machine=inputs.machine.name,
                      given=given, count=f"{count:g}", need=(middle, limit.dimension))  # fmt: skip
    return judge_number(subject, limit.key, limit.title, "site", measure=total, limit=bound, direction="at most",
                        dimension=limit.dimension, thresholds=thresholds, sentence=sentence)  # fmt: skip


def _drain(subject: Subject, site: SiteLimits, inputs: MachineInputs) -> Iterator[Judged]:
    """Judge the drain, only where the site allows none."""
    if site.drain_allowed:
        return
    needed = inputs.flag("site.drain_needed")
    template = {
        True: "{machine} needs a drain and the site allows no discharge.",
        False: "{machine} works without a drain.",
        None: "Whether {machine} needs a drain is not known and the site allows no discharge. Ask the supplier.",
    }[needed]
    yield judge_fact(
        subject, "site drain", "Drain", "site", holds=None if needed is None else not needed, draws=inputs.book.draws,
        sentence=phrase(f"{template} {DISCHARGE_CAUTION}", machine=inputs.machine.name),
    )  # fmt: skip


def _flammables(
    subject: Subject, site: SiteLimits, fluid: Fluid | None, machines: FloatArray, inputs: MachineInputs,
    thresholds: Thresholds,
) -> Iterator[Judged]:  # fmt: skip
    bound = _site_draws(site, "flammable_volume", inputs)
    if bound is None or fluid is None or not {"flammable", "combustible"} & set(fluid.hazards):
        return
    need = inputs.draws("site.flammable_volume")
    if need is None:
        need = inputs.draws("wash.tank_volume")
    limit = _Limit("site flammables", f"Flammable or combustible fluid ({fluid.name})", "flammable_volume",
                   "site.flammable_volume", "volume", FLAMMABLE_CAUTION)  # fmt: skip
    yield _judge(subject, limit, need, bound, machines, inputs, thresholds)
