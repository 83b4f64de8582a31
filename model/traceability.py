"""Functions that record and control what was washed how: what the plant requires against what a machine has."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from catalog_schema.machines import TraceFunction
from catalog_schema.quantity import Share
from model.machine_inputs import MachineInputs
from model.phrase import Phrase, phrase
from model.requirements import Judged, Subject, judge_fact
from model.uncertainty import FloatArray

FUNCTIONS: tuple[TraceFunction, ...] = get_args(TraceFunction)
"""All functions looked at."""
State = Literal["present", "option", "absent", "not known"]

HOW_TO_ADD: dict[TraceFunction, str] = {
    "scan each board": "A fixed or hand scanner at loading that ties every board's code to its load.",
    "lock recipe to product": "A scan at loading that selects the recipe from the plant's own list and locks the rest.",
    "user access levels": "A controls update with log-in, or a locked cabinet and a written list of who may change.",
    "cycle log": "A data logger on the controls, or the controls' own log exported after each shift.",
    "sensor log": "Own sensors for temperature, pressure, resistivity and concentration, with a logger.",
    "change log": "A controls update, or a signed change sheet checked against the recipe's print-out.",
    "line messaging": "A gateway between the controls and the plant's system, over a documented interface.",
    "control charts": "Charts in the plant's own quality software, fed from the cycle and sensor logs.",
    "reject wrong load": "A scan that blocks the start while a board does not belong to the chosen recipe.",
    "cleanliness test built in": "A bench tester for extract conductivity beside the machine, sampled per lot.",
}
"""How each function can be had without the maker. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingFunction:
    """A function that a machine lacks, or may lack, or offers at a price."""

    function: TraceFunction
    """The function."""
    required: bool
    """True when the plant requires it."""
    state: State
    """Option, absent or not known."""
    how_to_add: str
    """One plain sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceabilityOutcome:
    """Traceability of one machine."""

    judged: Judged
    """All required functions are present, or can be had as an option."""
    states: dict[TraceFunction, State]
    """State of every function."""
    lacking: tuple[MissingFunction, ...]
    """Functions not present, required ones first."""
    option_needed: bool
    """True when a required function is met only by buying the option."""
    option_price: FloatArray | None
    """Price to add when the option is needed, in the plant's currency, shape (draws,); None when none is needed or its
    price is not known."""
    share: FloatArray
    """Measure of the criterion traceability: weighted share of functions present [1], shape (draws,)."""


def function_states(inputs: MachineInputs) -> dict[TraceFunction, State]:
    """Give the state of every function; what nobody states is not known, and absent where there is no machine."""
    stated = inputs.machine.equipment.traceability or {}
    silent: State = "absent" if inputs.machine.principle == "none" else "not known"
    return {function: stated.get(function, silent) for function in FUNCTIONS}


def traceability_share(
    inputs: MachineInputs, states: dict[TraceFunction, State], required: tuple[TraceFunction, ...],
    priced_in: frozenset[TraceFunction], *, required_weight: float = 2.0, option_credit: float = 0.5,
) -> FloatArray:  # fmt: skip
    """Weighted share of the functions that a machine has.

    Parameters
    ----------
    inputs : MachineInputs
    states : dict of function to state
        All functions.
    required : tuple of function
        What the plant requires; the others are useful.
    priced_in : frozenset of function
        Options that the cost already holds; they count as present.
    required_weight : float
        Weight of a required function, a useful one weighs 1.
    option_credit : float
        What an option counts that is not priced in, 0 to 1.

    Returns
    -------
    ndarray (draws,)
        0 to 1.

    Errors
    ------
    ValueError if the weight is not above 0 or the credit not within 0 and 1.

    Notes
    -----
    share = Σ w s/Σ w with s = 1 present, option_credit option, 0 absent. A function that is not known takes a value
    drawn evenly between 0 and 1, noted in the book, so that asking has a computable value. Weights and credit are the
    rule of this criterion, not a measurement.
    """
    if not (np.isfinite(required_weight) and required_weight > 0.0):
        raise ValueError(f"required weight: {required_weight:g} is not allowed. Give a finite value above 0.")
    if not 0.0 <= option_credit <= 1.0:
        raise ValueError(f"option credit: {option_credit:g} is not allowed. Give a value from 0 to 1.")
    total, weights = np.zeros(inputs.book.draws), 0.0
    for function, state in states.items():
        weight = required_weight if function in required else 1.0
        weights += weight
        if state == "present" or (state == "option" and function in priced_in):
            total += weight
        elif state == "option":
            total += weight * option_credit
        elif state == "not known":
            path = inputs.full_path(f"traceability[{function}]")
            question = Share(low=0.0, high=1.0, basis="engineering estimate", note="Nobody has said whether it has it.")
            total += weight * inputs.book.take(question, path, "engineering estimate", stated=False)
    return np.asarray(total / weights)


def traceability_requirement(inputs: MachineInputs, required: tuple[TraceFunction, ...]) -> TraceabilityOutcome:
    """Judge a machine's traceability functions against what the plant requires.

    Parameters
    ----------
    inputs : MachineInputs
    required : tuple of function
        May be empty; then the must is met and only the measure tells machines apart.

    Returns
    -------
    TraceabilityOutcome
        Falls short when a required function is absent, unknown when one is not known, else meets, if need be with
        the option bought.

    Notes
    -----
    One price covers all functions offered as option, so buying it for one required function makes all of them
    present in the measure. When its price is not known the must is met all the same and the sentence says so. Doing
    nothing has no wash to record: it meets, and the measure counts what it does not have as absent.
    """
    book, machine = inputs.book, inputs.machine
    states = function_states(inputs)
    wanted = tuple(dict.fromkeys(required))
    absent = [function for function in wanted if states[function] == "absent"]
    unknown = [function for function in wanted if states[function] == "not known"]
    options = [function for function in wanted if states[function] == "option"]
    price = inputs.draws("traceability_option_price") if options else None
    if machine.principle == "none":
        holds: bool | None = True
        sentence = phrase("{machine}: there is no wash to record.", machine=machine.name)
    else:
        holds = False if absent else None if unknown else True
        sentence = _sentence(machine.name, len(wanted), absent, unknown, options, price)
    judged = judge_fact(Subject(machine_id=machine.id), "traceability", "Traceability", "traceability", holds=holds,
                        draws=book.draws, sentence=sentence)  # fmt: skip
    lacking = sorted(
        (
            MissingFunction(function=function, required=function in wanted, state=state,
                            how_to_add=_how_to_add(function, state))
            for function, state in states.items() if state != "present"
        ),
        key=lambda one: not one.required,
    )  # fmt: skip
    bought = frozenset(function for function, state in states.items() if state == "option") if options else frozenset()
    return TraceabilityOutcome(
        judged=judged, states=states, lacking=tuple(lacking), option_needed=bool(options), option_price=price,
        share=traceability_share(inputs, states, wanted, bought if price is not None else frozenset()),
    )  # fmt: skip


def _how_to_add(function: TraceFunction, state: State) -> str:
    if state == "option":
        return "The maker offers it as an option."
    if state == "not known":
        return f"Ask the supplier. If it is missing: {HOW_TO_ADD[function][:1].lower()}{HOW_TO_ADD[function][1:]}"
    return HOW_TO_ADD[function]


def _sentence(
    machine: str, wanted: int, absent: list[TraceFunction], unknown: list[TraceFunction],
    options: list[TraceFunction], price: FloatArray | None,
) -> Phrase:  # fmt: skip
    if not wanted:
        return phrase("The plant requires no traceability function.")
    if absent:
        return phrase("{machine} lacks: {functions}. To add: {how}", machine=machine, functions=", ".join(absent),
                      how=" ".join(HOW_TO_ADD[function] for function in absent))  # fmt: skip
    if unknown:
        return phrase("Whether {machine} has these is not known: {functions}. Ask the supplier.", machine=machine,
                      functions=", ".join(unknown))  # fmt: skip
    if options and price is not None:
        return phrase("{machine} has every required function ({count}) with the option for {price} ({functions}).",
                      machine=machine, count=wanted, price=(float(np.median(price)), "money"),
                      functions=", ".join(options))  # fmt: skip
    if options:
        return phrase("{machine} has every required function ({count}) with an option ({functions}). Ask its price.",
                      machine=machine, count=wanted, functions=", ".join(options))  # fmt: skip
    return phrase("{machine} has every required function ({count}).", machine=machine, count=wanted)
