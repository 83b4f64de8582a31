"""The self-check: published and derived values computed again on the user's own machine, source beside each."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from model.fluids import Values


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One value with its outside source and the way we compute it."""

    topic: str
    """Part of the model."""
    what: str
    """Inputs and quantity, with unit."""
    source: str
    """Where the expected value comes from; says so where it is derived or from memory."""
    expected: float
    """In the unit named in `what`."""
    tolerance: float
    """Largest allowed difference, relative to the expected value, or absolute where `absolute`."""
    compute: Callable[[], Values]
    """Gives our own value."""
    absolute: bool = False
    """True where the source prints a fixed number of decimals, or expects zero."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResult:
    """What a check gave here."""

    check: Check
    """The check."""
    got: float
    """In the unit of the check; not a number where the computation failed."""
    passed: bool
    """Whether it lies within the tolerance."""
    fault: str
    """What the computation said when it failed, else empty."""


def run_check(check: Check) -> CheckResult:
    """Compute one check; a computation that raises is a failed check, not a crash.

    >>> run_check(Check(topic="t", what="1 + 1", source="s", expected=2, tolerance=0, compute=lambda: 1 + 1.0)).passed
    True
    """
    try:
        got = float(check.compute())
    except Exception as fault:
        # Whatever goes wrong inside belongs into the table: this is the place where faults are looked for.
        return CheckResult(check=check, got=math.nan, passed=False, fault=f"{type(fault).__name__}: {fault}"[:200])
    allowed = check.tolerance if check.absolute else check.tolerance * abs(check.expected)
    return CheckResult(check=check, got=got, passed=abs(got - check.expected) <= allowed, fault="")


def all_checks() -> tuple[Check, ...]:
    """Give every check: physics first, then money, queues and decisions."""
    from model.self_check_decisions import DECISION_CHECKS
    from model.self_check_physics import PHYSICS_CHECKS

    return (*PHYSICS_CHECKS, *DECISION_CHECKS)


def run_self_check(checks: Iterable[Check] | None = None) -> tuple[CheckResult, ...]:
    """Run checks in their order.

    Parameters
    ----------
    checks : iterable of Check, optional
        All of them when absent.

    Returns
    -------
    tuple of CheckResult
    """
    return tuple(run_check(check) for check in (all_checks() if checks is None else checks))


def self_check_text(results: Iterable[CheckResult]) -> str:
    """Write results as a table of text: topic, what, expected, got, tolerance, pass, source; and a line of totals."""
    shown = tuple(results)
    heading = ("topic", "what", "expected", "got", "tolerance", "", "source")
    rows = [heading]
    for result in shown:
        check = result.check
        allowed = f"±{check.tolerance:g}" if check.absolute else f"{check.tolerance:.1g} rel."
        got = result.fault or f"{result.got:.6g}"
        word = "pass" if result.passed else "FAIL"
        rows.append((check.topic, check.what, f"{check.expected:.6g}", got, allowed, word, check.source))
    widths = [min(max(len(row[column]) for row in rows), 64) for column in range(len(heading))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    failed = sum(not result.passed for result in shown)
    lines.insert(1, "-" * min(max(map(len, lines)), 160))
    verdict = "all agree" if not failed else f"{failed} DO NOT AGREE: do not rely on results from this machine"
    return "\n".join([*lines, f"{len(shown)} checks, {verdict}."])
