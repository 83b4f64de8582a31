"""Rack and process of a machine against the plant's ESD limits and a board's most sensitive part."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from catalog_schema.boards import BoardType
from catalog_schema.plant import Requirements
from catalog_schema.quantity import Quantity
from model.esd import (
    SCOPE_HUMAN_BODY_V,
    TENTH,
    CONDUCTIVE_BELOW_ohm,
    INSULATIVE_FROM_ohm,
    TO_GROUND_BELOW_ohm,
    decades_below,
    decay_time_s,
    in_standard_scope,
    resistance_class,
)
from model.machine_inputs import MachineInputs
from model.phrase import phrase
from model.requirements import Judged, Subject, Thresholds, about, judge_fact, judge_number
from model.uncertainty import FloatArray, InputBook, median


@dataclass(frozen=True, slots=True, kw_only=True)
class EsdLimits:
    """Limits that a rack must keep."""

    point_to_point_min_ohm: FloatArray
    """Ω, shape (draws,)"""
    point_to_point_max_ohm: FloatArray
    """Ω, shape (draws,)"""
    to_ground_max_ohm: FloatArray
    """Ω, shape (draws,)"""
    own: frozenset[str]
    """Fields of the plant's requirements that gave a limit; the rest are the standard's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EsdOutcome:
    """ESD of one machine with one board type."""

    judged: tuple[Judged, ...]
    """Musts; empty where there is no rack to judge."""
    decay_time_s: FloatArray | None
    """Time in which a charged board becomes harmless [s], shape (draws,)."""
    margin_decades: FloatArray | None
    """Measure of the criterion ESD racking [decades], shape (draws,); None when rack or limits are not known."""
    aids: tuple[str, ...]
    """What helps besides the rack: ioniser, dosed rinse."""
    upgrade_price: FloatArray | None = None
    """Price of dissipative holders where a too conductive rack needs them, in the plant's currency, shape (draws,)."""


def esd_limits(requirements: Requirements, book: InputBook) -> EsdLimits:
    """Take the plant's limits, or the dissipative range of the standard where the plant gives none.

    Parameters
    ----------
    requirements : Requirements
    book : InputBook

    Returns
    -------
    EsdLimits

    Notes
    -----
    Without own limits: point to point from 1e4 to below 1e11 Ω (ANSI/ESD STM11.11), to ground below 1e9 Ω
    (ANSI/ESD S20.20, from memory).
    """
    own: set[str] = set()

    def limit(field: str, standard_ohm: float, *, exclusive: bool = False) -> FloatArray:
        quantity: Quantity | None = getattr(requirements, field)
        if quantity is None:
            # "Below" in the standard: the limit itself is outside, so take the next smaller number.
            return np.full(book.draws, np.nextafter(standard_ohm, 0.0) if exclusive else standard_ohm)
        own.add(field)
        return book.take(quantity, f"plant.requirements.{field}", "stated")

    return EsdLimits(
        point_to_point_min_ohm=limit("rack_resistance_min", CONDUCTIVE_BELOW_ohm),
        point_to_point_max_ohm=limit("rack_resistance_max", INSULATIVE_FROM_ohm, exclusive=True),
        to_ground_max_ohm=limit("ground_resistance_max", TO_GROUND_BELOW_ohm, exclusive=True), own=frozenset(own),
    )  # fmt: skip


def harmless_decay_s(
    to_ground_ohm: FloatArray, capacitance_F: FloatArray, withstand_V: FloatArray | None,
    charging_V: FloatArray | None,
) -> FloatArray:  # fmt: skip
    """Time in which a charged board falls to what its most sensitive part withstands, or to a tenth.

    Parameters
    ----------
    to_ground_ohm, capacitance_F : ndarray (draws,)
        Of rack to ground [Ω], of the board in it [F].
    withstand_V, charging_V : ndarray (draws,) or None
        Withstand voltage of the part and voltage the process charges the board to [V].

    Returns
    -------
    ndarray (draws,)
        s; 0 where the charge never exceeds what the part withstands.

    Errors
    ------
    ValueError if a value is negative, or a voltage not above 0.

    Notes
    -----
    t = R C ln(V₀/V₁). With both voltages known V₁ is the withstand voltage; else the fall to a tenth is taken, which
    needs no voltage. Contact resistances of board and rack are part of R.
    """
    if withstand_V is None or charging_V is None:
        return np.asarray(decay_time_s(to_ground_ohm, capacitance_F, 1.0, TENTH))
    return np.asarray(decay_time_s(to_ground_ohm, capacitance_F, charging_V, withstand_V))


@dataclass(frozen=True, slots=True, kw_only=True)
class RackOutcome:
    """ESD of a machine's rack, whatever board type is in it."""

    limits: EsdLimits
    """What it must keep."""
    judged: tuple[Judged, ...]
    """Musts on its resistances, which speak of no board type yet."""
    margins: tuple[FloatArray, ...]
    """Margins of the resistances that are known [decades], each of shape (draws,)."""
    complete: bool
    """Whether both resistances are known."""
    to_ground_ohm: FloatArray | None
    """Ω, shape (draws,); None when not known."""
    decay_to_tenth_s: FloatArray | None
    """Time in which a charge falls to a tenth on a board of the rack's own capacitance [s], shape (draws,)."""
    decay_judged: Judged | None
    """That time against its limit, which speaks of no board type yet."""
    decay_margin: FloatArray | None
    """Margin of that time [decades], shape (draws,)."""
    aids: tuple[str, ...]
    """What helps besides the rack: ioniser, dosed rinse."""
    upgrade_price: FloatArray | None
    """Price of dissipative holders where a too conductive rack needs them, in the plant's currency, shape (draws,)."""


def rack_outcome(
    inputs: MachineInputs, requirements: Requirements, *, rack_capacitance_F: FloatArray, max_decay_s: FloatArray,
    charging_V: FloatArray | None, thresholds: Thresholds, cap_decades: float = 3.0,
) -> RackOutcome:  # fmt: skip
    """Judge what of a machine's rack is the same for every board type; parameters as in `esd_requirements`."""
    subject = Subject(machine_id=inputs.machine.id)
    limits = esd_limits(requirements, inputs.book)
    point, ground = inputs.draws("rack.point_to_point"), inputs.draws("rack.to_ground")
    flags = {"ioniser": inputs.flag("rack.ioniser"), "dosed rinse": inputs.flag("rack.dosed_rinse")}
    judged: list[Judged] = []
    margins: list[FloatArray] = []
    upgrade_price: FloatArray | None = None
    decay = decay_judged = decay_margin = None
    # A limit of zero has no margin in decades; `esd_requirements` says so, board type by board type.
    sound = not _zeros(None, limits, inputs.book, max_decay_s, charging_V)
    if point is None:
        judged.append(_not_known(subject, "rack resistance", "Rack, point to point", inputs))
    elif sound:
        judged += _judge_point_to_point(subject, point, limits, thresholds)
        margins += [
            -decades_below(point, limits.point_to_point_min_ohm, cap_decades),
            decades_below(point, limits.point_to_point_max_ohm, cap_decades),
        ]
        if judged[0].requirement.result != "meets":
            upgrade_price = inputs.draws("rack.dissipative_holders_price")
        if upgrade_price is not None:
            judged[0] = _with_holders(subject, judged[0], upgrade_price, inputs.book.draws)
            # Holders lie inside the range; how far, nobody has stated, so they earn no margin.
            margins[0] = np.maximum(margins[0], 0.0)
    if ground is None:
        judged.append(_not_known(subject, "rack to ground", "Rack to ground", inputs))
    elif sound:
        sentence = phrase("The rack has {value} to ground; at most {limit} is allowed.",
                          value=(median(ground), "resistance"),
                          limit=(median(limits.to_ground_max_ohm), "resistance"))  # fmt: skip
        judged.append(
            judge_number(subject, "rack to ground", "Rack to ground", "esd", measure=ground,
                         limit=limits.to_ground_max_ohm, direction="at most", dimension="resistance",
                         thresholds=thresholds, sentence=sentence)
        )  # fmt: skip
        margins.append(decades_below(ground, limits.to_ground_max_ohm, cap_decades))
        decay = harmless_decay_s(ground, rack_capacitance_F, None, charging_V)
        decay_judged = _judge_decay(subject, "", decay, max_decay_s, None, charging_V, thresholds)
        decay_margin = decades_below(decay, max_decay_s, cap_decades)
    return RackOutcome(
        limits=limits, judged=tuple(judged), margins=tuple(margins),
        complete=point is not None and ground is not None, to_ground_ohm=ground, decay_to_tenth_s=decay,
        decay_judged=decay_judged, decay_margin=decay_margin,
        aids=tuple(name for name, present in flags.items() if present), upgrade_price=upgrade_price,
    )  # fmt: skip


def esd_requirements(
    inputs: MachineInputs, board: BoardType, requirements: Requirements, *, rack_capacitance_F: FloatArray,
    max_decay_s: FloatArray, charging_V: FloatArray | None, thresholds: Thresholds, cap_decades: float = 3.0,
    rack: RackOutcome | None = None,
) -> EsdOutcome:  # fmt: skip
    """Judge a machine's rack against the plant's limits and a board's most sensitive part.

    Parameters
    ----------
    inputs : MachineInputs
    board : BoardType
        Gives withstand voltage and capacitance where stated.
    requirements : Requirements
    rack_capacitance_F : ndarray (draws,)
        Of a board in the rack [F], used where the board type states none.
    max_decay_s : ndarray (draws,)
        Time in which a charge must have fallen [s].
    charging_V : ndarray (draws,) or None
        Voltage to which the process charges a board [V], None when no estimate is at hand.
    thresholds : Thresholds
    cap_decades : float
        Decades of margin beyond which more is no better.
    rack : RackOutcome, optional
        What `rack_outcome` gives for the same arguments; other board types of the machine share it.

    Returns
    -------
    EsdOutcome

    Errors
    ------
    ValueError if a quantity is out of its range.

    Notes
    -----
    Musts: point-to-point resistance from below and from above, resistance to ground, decay time; and, where the board
    has a part below 100 V (human body), an ioniser or dosed rinse as additional measure, which is unknown rather than
    missed without, because the standard leaves the measure to the plant. Measure of the criterion: the least of the
    margins of these four numbers in decades, log₁₀(limit/value) or log₁₀(value/limit), within ± cap_decades: one weak
    link decides. An ioniser does not shorten the computed decay; it is listed beside it.
    """
    machine, book = inputs.machine, inputs.book
    if machine.principle == "none":
        return EsdOutcome(judged=(), decay_time_s=None, margin_decades=None, aids=())
    if rack is None:
        rack = rack_outcome(inputs, requirements, rack_capacitance_F=rack_capacitance_F, max_decay_s=max_decay_s,
                            charging_V=charging_V, thresholds=thresholds, cap_decades=cap_decades)  # fmt: skip
    subject = Subject(machine_id=machine.id, board_id=board.id)
    zeros = _zeros(board, rack.limits, book, max_decay_s, charging_V)
    if zeros:
        problem = judge_fact(subject, "esd inputs", "ESD inputs suffice", "esd", holds=None, draws=book.draws,
                             sentence=phrase("{problem}", problem=" ".join(zeros)))  # fmt: skip
        return EsdOutcome(judged=(problem,), decay_time_s=None, margin_decades=None, aids=())
    judged = [about(one, subject) for one in rack.judged]
    margins = list(rack.margins)
    decay: FloatArray | None = None
    if rack.to_ground_ohm is not None and rack.decay_judged is not None and rack.decay_margin is not None:
        withstand = _of_board(board, "withstand_voltage", book)
        capacitance = _of_board(board, "capacitance", book)
        if withstand is None and capacitance is None:
            decay, margin = rack.decay_to_tenth_s, rack.decay_margin
            judged.append(_of_this_board(rack.decay_judged, board))
        else:
            capacitance = rack_capacitance_F if capacitance is None else capacitance
            decay = harmless_decay_s(rack.to_ground_ohm, capacitance, withstand, charging_V)
            margin = decades_below(decay, max_decay_s, cap_decades)
            judged.append(_judge_decay(subject, board.name, decay, max_decay_s, withstand, charging_V, thresholds))
        margins.append(margin)
    beyond = _beyond_scope(subject, board, rack.aids, inputs)
    if beyond is not None:
        judged.append(beyond)
    return EsdOutcome(judged=tuple(judged), decay_time_s=decay, aids=rack.aids, upgrade_price=rack.upgrade_price,
                      margin_decades=np.minimum.reduce(margins) if rack.complete else None)  # fmt: skip


def _judge_point_to_point(subject: Subject, point: FloatArray, limits: EsdLimits,
                          thresholds: Thresholds) -> list[Judged]:  # fmt: skip
    middle = median(point)
    judged = []
    for key, title, bound, side, template in (
        ("rack resistance low", "Rack not too conductive", limits.point_to_point_min_ohm, "at least",
         "The rack has {value} from point to point ({kind}); at least {limit} keeps a discharge slow."),
        ("rack resistance high", "Rack not insulating", limits.point_to_point_max_ohm, "at most",
         "The rack has {value} from point to point ({kind}); at most {limit} lets charge flow off."),
    ):  # fmt: skip
        sentence = phrase(template, value=(middle, "resistance"), kind=resistance_class(middle),
                          limit=(median(bound), "resistance"))  # fmt: skip
        judged.append(
            judge_number(subject, key, title, "esd", measure=point, limit=bound,
                         direction="at least" if side == "at least" else "at most", dimension="resistance",
                         thresholds=thresholds, sentence=sentence)
        )  # fmt: skip
    return judged


def _of_this_board(decay: Judged, board: BoardType) -> Judged:
    """Say of a board type what was judged of the rack."""
    sentence = decay.requirement.sentence
    figures = tuple(("board", board.name, "") if one[0] == "board" else one for one in sentence.figures)
    said = replace(decay.requirement, board_id=board.id, sentence=replace(sentence, figures=figures))
    return replace(decay, requirement=said)


def _zeros(board: BoardType | None, limits: EsdLimits, book: InputBook, max_decay_s: FloatArray,
           charging_V: FloatArray | None) -> list[str]:  # fmt: skip
    """Say which limits are zero: no rack and no charge can keep one, and no margin in decades exists."""
    zeros = [
        f"plant.requirements.{field} is 0 Ω. Give a value above 0, or leave it out for the limit of the standard."
        for field, limit in (
            ("rack_resistance_min", limits.point_to_point_min_ohm),
            ("rack_resistance_max", limits.point_to_point_max_ohm),
            ("ground_resistance_max", limits.to_ground_max_ohm),
        )
        if np.any(limit <= 0.0)
    ]  # fmt: skip
    withstand = None if board is None else _of_board(board, "withstand_voltage", book)
    if board is not None and withstand is not None and np.any(withstand <= 0.0):
        zeros.append(f"The withstand voltage of {board.name} is 0 V. Give a value above 0, or leave it out.")
    if np.any(max_decay_s <= 0.0):
        zeros.append("The constant max_decay_time is 0 s. Give a value above 0.")
    if charging_V is not None and np.any(charging_V <= 0.0):
        zeros.append("The constant charging_voltage is 0 V. Give a value above 0.")
    return zeros


def _with_holders(subject: Subject, bare: Judged, price: FloatArray, draws: int) -> Judged:
    """Judge a too conductive rack as it is with dissipative holders priced in."""
    middle = bare.requirement.measure[1] if bare.requirement.measure else 0.0
    return judge_fact(
        subject, bare.requirement.key, bare.requirement.title, "esd", holds=True, draws=draws,
        sentence=phrase("The bare rack has {value} (conductive); dissipative board holders for {price} bring it into "
                        "range and are priced in.", value=(middle, "resistance"),
                        price=(median(price), "money")),
    )  # fmt: skip


def _of_board(board: BoardType, field: str, book: InputBook) -> FloatArray | None:
    quantity: Quantity | None = getattr(board, field)
    return None if quantity is None else book.take(quantity, f"board_types[{board.id}].{field}", "measured")


def _not_known(subject: Subject, key: str, title: str, inputs: MachineInputs) -> Judged:
    sentence = phrase("{title}: the resistance in {machine} is not known. Ask the supplier or measure it.",
                      title=title, machine=inputs.machine.name)  # fmt: skip
    return judge_fact(subject, key, title, "esd", holds=None, draws=inputs.book.draws, sentence=sentence)


def _judge_decay(
    subject: Subject, board_name: str, decay_s: FloatArray, max_decay_s: FloatArray, withstand_V: FloatArray | None,
    charging_V: FloatArray | None, thresholds: Thresholds,
) -> Judged:  # fmt: skip
    if withstand_V is None or charging_V is None:
        template = "A charge on {board} falls to a tenth in {value}; {limit} is allowed."
        voltages: dict[str, tuple[float, str]] = {}
    else:
        template = (
            "{board}, charged to {start}, falls in {value} to the {end} that its most sensitive part withstands; "
            "{limit} is allowed."
        )
        voltages = {
            "start": (median(charging_V), "voltage"),
            "end": (median(withstand_V), "voltage"),
        }
    # Times of seconds and less read badly in the minutes of the dimension "time", so they are written out here.
    sentence = phrase(template, board=board_name, value=(median(decay_s), "time"),
                      limit=(median(max_decay_s), "time"), **voltages)  # fmt: skip
    return judge_number(subject, "charge decay", "Charge decay", "esd", measure=decay_s, limit=max_decay_s,
                        direction="at most", dimension="time", thresholds=thresholds, sentence=sentence)  # fmt: skip


def _beyond_scope(subject: Subject, board: BoardType, aids: tuple[str, ...], inputs: MachineInputs) -> Judged | None:
    """Ask for an additional measure where the most sensitive part lies below the standard's scope."""
    if board.withstand_voltage is None:
        return None
    likely_V = board.withstand_voltage.si()[1]
    if in_standard_scope(human_body_V=likely_V):
        return None
    template = "{board} has a part that withstands only {withstand}, below the {scope} that ANSI/ESD S20.20 covers. "
    template += (
        "The machine has {aids}: agree with your ESD officer that it is enough."
        if aids
        else "Agree with your ESD officer on an additional measure, such as an ioniser or a dosed rinse."
    )
    sentence = phrase(template, board=board.name, withstand=(likely_V, "voltage"),
                      scope=(SCOPE_HUMAN_BODY_V, "voltage"), aids=" and ".join(aids))  # fmt: skip
    return judge_fact(subject, "esd additional measure", "Additional ESD measure", "esd",
                      holds=True if aids else None, draws=inputs.book.draws, sentence=sentence)  # fmt: skip
