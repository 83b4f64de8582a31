"""What a machine's process may do to the sensitive parts of a board."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import reduce
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from catalog_schema.boards import BoardPart, BoardType, ComponentKind, PartRule
from catalog_schema.fluids import Fluid
from catalog_schema.machine import Machine
from catalog_schema.machines import DryerKind, Principle
from model.fluid_state import fluid_path
from model.phrase import Phrase, phrase
from model.requirements import Judged, Subject, Thresholds, judge_number
from model.uncertainty import FloatArray, InputBook, median, share_true
from model.wetted_parts import judge_known_and_unknown

Agent = Literal["ultrasound", "immersion", "spray", "temperature", "alkaline", "acidic", "solvent", "vacuum",
                "centrifugal"]  # fmt: skip

PRINCIPLE_AGENTS: dict[Principle, frozenset[Agent]] = {
    "spray in air": frozenset({"spray"}),
    "spray under immersion": frozenset({"immersion"}),
    "ultrasonic": frozenset({"ultrasound", "immersion"}),
    "centrifugal": frozenset({"centrifugal", "immersion"}),
    "vapour": frozenset(),
    "vacuum solvent": frozenset({"vacuum", "immersion"}),
    "brush": frozenset(),
    "service": frozenset({"ultrasound", "immersion", "spray", "solvent", "vacuum", "centrifugal"}),
    "none": frozenset(),
}
"""What a principle does to a board besides its fluid and its heat. A vapour machine acts through its solvent; who
brushes keeps the fluid off a part that must stay dry; a service may use any of them."""

NEUTRAL_PH = 7.0
"""Bound of an alkaline or acidic rule that names none."""

_WORDS: dict[Agent, str] = {
    "ultrasound": "ultrasound", "immersion": "immersion", "spray": "spray", "temperature": "heat",
    "alkaline": "alkaline fluid", "acidic": "acidic fluid", "solvent": "solvent", "vacuum": "vacuum",
    "centrifugal": "spinning under fluid",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class HarmFinding:
    """One rule about one sensitive part that the process touches."""

    part_id: str
    """Id of the board part."""
    part_name: str
    """Name shown to people."""
    where: tuple[str, ...]
    """Component kinds that have the part; empty when the board type itself names it."""
    agent: Agent
    """What does the harm."""
    result: Literal["not allowed", "test first"]
    """What the rule says; a service's unknown process turns not allowed into test first."""
    share: float
    """Share of the draws in which the rule applies."""
    why: str
    """The rule's own sentence."""
    basis: str
    """Basis of the rule."""
    source: str
    """Source of the rule, or empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HarmOutcome:
    """Sensitive parts of one board type in one machine with one fluid."""

    judged: Judged
    """No part is harmed."""
    findings: tuple[HarmFinding, ...]
    """Rules that apply in any draw, the worst first."""


def process_agents(
    principle: Principle, fluid: Fluid | None, dryer: DryerKind | None = None, rinse: str | None = None
) -> frozenset[Agent]:
    """List what acts on a board in a machine, heat and pH aside, which depend on their amount.

    Parameters
    ----------
    principle : Principle
    fluid : Fluid or None
        Wash fluid, None where nothing is washed.
    dryer : DryerKind, optional
        A vacuum dryer adds vacuum.
    rinse : str, optional
        Kind of the rinse; a spray rinse adds spray.

    Returns
    -------
    frozenset of Agent

    Notes
    -----
    Each principle brings its own agents; a solvent, a vacuum dryer and a spray rinse add theirs.

    >>> sorted(process_agents("ultrasonic", None, rinse="spray"))
    ['immersion', 'spray', 'ultrasound']
    """
    agents = set(PRINCIPLE_AGENTS[principle])
    if principle == "none":
        return frozenset()
    if fluid is not None and fluid.family == "solvent":
        agents.add("solvent")
    if dryer == "vacuum":
        agents.add("vacuum")
    if rinse == "spray":
        agents.add("spray")
    return frozenset(agents)


def sensitive_parts(board: BoardType, kinds: Mapping[str, ComponentKind]) -> dict[str, tuple[str, ...]]:
    """Give the sensitive parts of a board type, each with the names of the component kinds that have it.

    Raises KeyError when a component kind is not in the library (a case file is checked for that when it is read).
    """
    found: dict[str, list[str]] = {part: [] for part in board.parts}
    for component in board.components:
        kind = kinds[component.kind]
        for part in kind.parts:
            found.setdefault(part, []).append(kind.name)
    return {part: tuple(names) for part, names in found.items()}


@dataclass(frozen=True, slots=True)
class _Process:
    agents: frozenset[Agent]
    fluid: Fluid | None
    wash_temperature_K: FloatArray | None
    hottest_K: FloatArray | None
    guessed: bool
    book: InputBook

    def rule_applies(self, rule: PartRule, path: str) -> tuple[NDArray[np.bool_], bool] | None:
        """Draws in which a rule applies and whether that is only possible; None when it is not concerned."""
        book, only_possible = self.book, self.guessed
        applies = np.ones(book.draws, dtype=np.bool_)
        if rule.agent in ("alkaline", "acidic"):
            if self.fluid is None or (self.fluid.ph is None and not self.fluid.water_based):
                return None
            if self.fluid.ph is None:
                only_possible = True
            else:
                ph = book.take(self.fluid.ph, fluid_path(self.fluid, "ph"), "engineering estimate")
                bound = NEUTRAL_PH if rule.above is None else book.take(rule.above, f"{path}.above", rule.basis)
                applies &= ph > bound if rule.agent == "alkaline" else ph < bound
        elif rule.agent != "temperature" and rule.agent not in self.agents:
            return None
        if rule.above_temperature is not None:
            in_wash_only = rule.agent not in ("temperature", "vacuum")
            reached = self.wash_temperature_K if in_wash_only else self.hottest_K
            if reached is None:
                return None
            applies &= reached > book.take(rule.above_temperature, f"{path}.above_temperature", rule.basis)
        return applies, only_possible


def hottest_K(wash_temperature_K: FloatArray | None, dry_temperature_K: FloatArray | None) -> FloatArray | None:
    """Highest temperature [K] that a board sees in wash and drying, (draws,), or None when it sees neither."""
    known = [temperature for temperature in (wash_temperature_K, dry_temperature_K) if temperature is not None]
    return reduce(np.maximum, known) if known else None


def board_harm_requirement(
    board: BoardType, machine: Machine, fluid: Fluid | None, wash_temperature_K: FloatArray | None,
    dry_temperature_K: FloatArray | None, kinds: Mapping[str, ComponentKind], parts: Mapping[str, BoardPart],
    book: InputBook, thresholds: Thresholds,
) -> HarmOutcome:  # fmt: skip
    """Judge whether a machine's process harms a sensitive part of a board type.

    Parameters
    ----------
    board : BoardType
    machine : Machine
        Its principle, rinse and dryer say what acts on the board.
    fluid : Fluid or None
    wash_temperature_K, dry_temperature_K : ndarray (draws,) or None
        Board temperature in wash and drying [K]; None where there is no such stage.
    kinds, parts : mapping of id to record
        The library's component kinds and board parts.
    book : InputBook
    thresholds : Thresholds

    Returns
    -------
    HarmOutcome
        *Not allowed* in most draws falls short, *test first* is unknown, none of both meets.

    Errors
    ------
    KeyError if a component kind or board part is not in the library (checked when the case file is read).

    Notes
    -----
    A draw counts as missed when any rule that forbids applies in it. Heat is the hottest of wash and drying. Rules
    are facts of the trade with their own basis, not a simulation of the harm: how long a part is exposed is not in
    them. A pH rule for a water-based fluid without stated pH, and every rule for a service whose process is not
    known, count as *test first*.
    """
    equipment = machine.equipment
    process = _Process(
        agents=process_agents(machine.principle, fluid, equipment.dry.kind, equipment.rinse.kind), fluid=fluid,
        wash_temperature_K=wash_temperature_K, hottest_K=hottest_K(wash_temperature_K, dry_temperature_K),
        guessed=machine.principle == "service", book=book,
    )  # fmt: skip
    forbidden = np.zeros(book.draws, dtype=np.bool_)
    doubtful = np.zeros(book.draws, dtype=np.bool_)
    findings: list[HarmFinding] = []
    # Without a machine nothing acts on the board, whatever fluid or temperature is passed.
    sensitive = {} if machine.principle == "none" else sensitive_parts(board, kinds)
    for part_id, where in sensitive.items():
        part = parts[part_id]
        for number, rule in enumerate(part.rules, start=1):
            found = process.rule_applies(rule, f"board_parts[{part_id}].rules[{number}]")
            if found is None or not found[0].any():
                continue
            forbids = rule.result == "not allowed" and not found[1]
            if forbids:
                forbidden |= found[0]
            else:
                doubtful |= found[0]
            findings.append(
                HarmFinding(
                    part_id=part_id, part_name=part.name, where=where, agent=rule.agent,
                    result="not allowed" if forbids else "test first", share=share_true(found[0]), why=rule.why,
                    basis=rule.basis, source=rule.source,
                )
            )
    findings.sort(key=lambda one: (one.result != "not allowed", -one.share))
    judged = judge_known_and_unknown(
        Subject(machine_id=machine.id, board_id=board.id, fluid_id=fluid.id if fluid is not None else ""),
        "board parts", "Parts of the board unharmed", "boards", met=~forbidden, doubtful=doubtful,
        thresholds=thresholds, sentence=_sentence(findings, board, machine, share_true(~forbidden), thresholds),
    )  # fmt: skip
    return HarmOutcome(judged=judged, findings=tuple(findings))


def _sentence(findings: list[HarmFinding], board: BoardType, machine: Machine, met_share: float,
              thresholds: Thresholds) -> Phrase:  # fmt: skip
    banned = [one for one in findings if one.result == "not allowed"]
    tests = [one for one in findings if one.result == "test first"]
    if banned and met_share < thresholds.meets_from:
        worst = banned[0]
        others = sorted({one.part_name for one in banned[1:]} - {worst.part_name})
        return phrase(
            "{machine}: {agent} is not allowed on {board} because of {part}{where}. {why}"
            + (" Also: {others}." if others else ""),
            machine=machine.name, agent=_WORDS[worst.agent], board=board.name, part=_lowered(worst.part_name),
            where=_where(worst), why=worst.why, others=", ".join(_lowered(name) for name in others),
        )  # fmt: skip
    if tests:
        listed = dict.fromkeys(f"{_lowered(one.part_name)} ({_WORDS[one.agent]})" for one in tests)
        opening = (
            "What {machine} uses is not known. Agree on it and test {board} first: {parts}. {why}"
            if machine.principle == "service"
            else "{machine}: test {board} first because of {parts}. {why}"
        )
        return phrase(opening, machine=machine.name, board=board.name, parts=", ".join(listed), why=tests[0].why)
    return phrase("Nothing in {machine} is known to harm a part of {board}.", machine=machine.name, board=board.name)


def _lowered(name: str) -> str:
    """Lower the first letter within a sentence, except in abbreviations such as LED."""
    return name if name[1:2].isupper() else name[:1].lower() + name[1:]


def _where(finding: HarmFinding) -> str:
    return f" on {', '.join(finding.where)}" if finding.where else ""


def board_temperature_requirement(
    board: BoardType, machine: Machine, fluid: Fluid | None, wash_temperature_K: FloatArray | None,
    dry_temperature_K: FloatArray | None, book: InputBook, thresholds: Thresholds,
) -> Judged | None:  # fmt: skip
    """Judge the hottest that a board gets in wash and drying against what its assembly may see.

    Parameters
    ----------
    board : BoardType
    machine : Machine
    fluid : Fluid or None
    wash_temperature_K, dry_temperature_K : ndarray (draws,) or None
        Board temperature [K]; None where there is no such stage.
    book : InputBook
    thresholds : Thresholds

    Returns
    -------
    Judged or None
        None when the board sees neither wash nor drying.

    Notes
    -----
    The board is taken to reach the temperature of fluid and air fully, the safe side for short stages. The margin is
    a ratio of absolute temperatures; the sentence gives both in degrees.
    """
    reached = hottest_K(wash_temperature_K, dry_temperature_K)
    if reached is None:
        return None
    limit = book.take(board.max_temperature, f"board_types[{board.id}].max_temperature", "measured")
    drying = wash_temperature_K is None or (
        dry_temperature_K is not None and median(dry_temperature_K) >= median(wash_temperature_K)
    )
    return judge_number(
        Subject(machine_id=machine.id, board_id=board.id, fluid_id=fluid.id if fluid is not None else ""),
        "board temperature", "Board temperature", "boards", measure=reached, limit=limit, direction="at most",
        dimension="temperature", thresholds=thresholds,
        sentence=phrase(
            "{board} gets up to {reached} in {stage}; its assembly may see {limit}.", board=board.name,
            reached=(median(reached), "temperature"), stage="drying" if drying else "the wash",
            limit=(median(limit), "temperature"),
        ),
    )  # fmt: skip
