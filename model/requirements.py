"""Musts: a computed measure against a limit, judged over the draws, with margin, probability and one sentence."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import isfinite, isnan
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from model.phrase import Phrase
from model.records import changed
from model.uncertainty import FloatArray, in_order, low_middle_high_of, middle_of, share_true

Result = Literal["meets", "falls short", "unknown"]
Direction = Literal["at most", "at least", "must hold"]

STAGES = ("fit", "wash", "rinse", "dry", "materials", "boards", "esd", "traceability", "capacity", "site", "cost")
"""Stages of the job, in the order in which they are shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thresholds:
    """When a must counts as met or as missed."""

    meets_from: float
    """Probability from which a must is met."""
    misses_to: float
    """Probability up to which a must is missed."""

    def result(self, probability: float) -> Result:
        """Turn a probability into a result.

        >>> Thresholds(meets_from=0.9, misses_to=0.1).result(0.5)
        'unknown'
        """
        if probability >= self.meets_from:
            return "meets"
        return "falls short" if probability <= self.misses_to else "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """One must for one machine, perhaps one board type and one fluid."""

    key: str
    """Stable name, such as "clear"."""
    title: str
    """Name shown to people."""
    stage: str
    """One of STAGES."""
    machine_id: str
    """Candidate or machine class."""
    board_id: str
    """Board type, or empty when it concerns the machine as a whole."""
    fluid_id: str
    """Wash fluid, or empty."""
    measure: tuple[float, float, float] | None
    """5 %, 50 % and 95 % point of the measure in SI, or None when it is not a number."""
    limit: float | None
    """Limit in SI (middle draw), or None."""
    dimension: str
    """Dimension of measure and limit, or empty."""
    direction: Direction
    """Side of the limit on which the measure must be."""
    margin_ratio: float | None
    """How many times better than the limit the middle draw is; above 1 is good; None when there is no number."""
    probability: float | None
    """Share of the draws that meet it; None when it cannot be computed."""
    result: Result
    """Meets, falls short, or unknown."""
    sentence: Phrase
    """What was found, in one plain sentence with numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A requirement with its outcome in every draw, for joint probabilities."""

    requirement: Requirement
    """What is shown."""
    met: NDArray[np.bool_] | None
    """Outcome per draw, or None when it cannot be computed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What a requirement is about."""

    machine_id: str
    """Candidate or machine class."""
    board_id: str = ""
    """Board type, or empty."""
    fluid_id: str = ""
    """Wash fluid, or empty."""


def _margin(measure: float, limit: float, direction: Direction) -> float | None:
    better, worse = (limit, measure) if direction == "at most" else (measure, limit)
    if not isfinite(better) or not isfinite(worse):
        return 0.0 if not isfinite(worse) and isfinite(better) else None
    return better / worse if worse > 0 else None


@lru_cache(maxsize=8)
def _all_alike(draws: int, holds: bool) -> NDArray[np.bool_]:
    """Give the one array in which something holds in all draws, or in none: most musts are clear, and share it."""
    alike = np.full(draws, holds)
    alike.setflags(write=False)
    return alike


def _shared(met: NDArray[np.bool_]) -> tuple[NDArray[np.bool_], float]:
    """Give an outcome, the shared one where all draws are alike, and the share of draws in which it holds."""
    probability = share_true(met)
    return (_all_alike(met.size, probability == 1.0) if probability in (0.0, 1.0) else met), probability


def judge_number(
    subject: Subject, key: str, title: str, stage: str, *, measure: FloatArray, limit: FloatArray | float,
    direction: Direction, dimension: str, thresholds: Thresholds, sentence: Phrase,
) -> Judged:  # fmt: skip
    """Judge a number over the draws.

    Parameters
    ----------
    subject : Subject
    key, title, stage : str
    measure : ndarray (draws,)
        SI; infinite is allowed, NaN is not.
    limit : ndarray (draws,) or float
    direction : "at most" or "at least"
    dimension : str
    thresholds : Thresholds
    sentence : Phrase

    Returns
    -------
    Judged

    Raises
    ------
    ValueError
        When the measure or limit is not a number in some draw.

    Notes
    -----
    Probability = share of the draws in which the measure keeps its limit. At or above the plant's probability: meets;
    at or below its ruling-out probability: falls short; between them: unknown.
    """
    measured = in_order(measure)
    points = low_middle_high_of(measured)
    if isinstance(limit, np.ndarray):
        limits = in_order(limit)
        middle_limit, greatest_limit = middle_of(limits), limits[-1]
    else:
        middle_limit = greatest_limit = float(limit)
    # What is not a number comes last.
    if isnan(measured[-1]) or isnan(greatest_limit):
        raise ValueError(f"{title}: the computation gave no number. This is a fault of the program; please report it.")
    met, probability = _shared(measure <= limit if direction == "at most" else measure >= limit)
    return Judged(
        requirement=Requirement(
            key=key, title=title, stage=stage, machine_id=subject.machine_id, board_id=subject.board_id,
            fluid_id=subject.fluid_id, measure=points, limit=middle_limit, dimension=dimension, direction=direction,
            margin_ratio=_margin(points[1], middle_limit, direction), probability=probability,
            result=thresholds.result(probability), sentence=sentence,
        ),
        met=met,
    )  # fmt: skip


def judge_fact(
    subject: Subject, key: str, title: str, stage: str, *, holds: bool | None, draws: int, sentence: Phrase,
) -> Judged:  # fmt: skip
    """Judge a fact: it holds, it does not, or nobody knows (None)."""
    result: Result = "unknown" if holds is None else "meets" if holds else "falls short"
    return Judged(
        requirement=Requirement(
            key=key, title=title, stage=stage, machine_id=subject.machine_id, board_id=subject.board_id,
            fluid_id=subject.fluid_id, measure=None, limit=None, dimension="", direction="must hold",
            margin_ratio=None, probability=None if holds is None else float(holds), result=result, sentence=sentence,
        ),
        met=None if holds is None else _all_alike(draws, holds),
    )  # fmt: skip


def about(judged: Judged, subject: Subject) -> Judged:
    """Say of one subject what was judged of several at once."""
    said = changed(
        judged.requirement, machine_id=subject.machine_id, board_id=subject.board_id, fluid_id=subject.fluid_id
    )
    return Judged(requirement=said, met=judged.met)


def judge_share(
    subject: Subject, key: str, title: str, stage: str, *, met: NDArray[np.bool_], thresholds: Thresholds,
    sentence: Phrase,
) -> Judged:  # fmt: skip
    """Judge something that holds in some draws and not in others."""
    met, probability = _shared(met)
    return Judged(
        requirement=Requirement(
            key=key, title=title, stage=stage, machine_id=subject.machine_id, board_id=subject.board_id,
            fluid_id=subject.fluid_id, measure=None, limit=None, dimension="", direction="must hold",
            margin_ratio=None, probability=probability, result=thresholds.result(probability), sentence=sentence,
        ),
        met=met,
    )  # fmt: skip


def joint(judged: tuple[Judged, ...], draws: int, thresholds: Thresholds) -> tuple[Result, float, NDArray[np.bool_]]:
    """Judge several musts together.

    Returns
    -------
    result, probability, met : Result, float, ndarray (draws,)
        Falls short when any single must does; meets when all hold together with the wanted probability; else unknown.
        Many musts that are each likely may well be unlikely together: that is doubt to be cleared up, not a failure.
        The probability leaves out what cannot be computed.
    """
    met, everywhere = np.ones(draws, dtype=np.bool_), _all_alike(draws, True)
    for one in judged:
        if one.met is not None and one.met is not everywhere:
            met &= one.met
    met, probability = _shared(met)
    results = {one.requirement.result for one in judged}
    if "falls short" in results:
        return "falls short", probability, met
    certain = "unknown" not in results and probability >= thresholds.meets_from
    return "meets" if certain else "unknown", probability, met
