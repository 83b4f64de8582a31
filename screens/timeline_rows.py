"""Timelines and cycles as rows in the reader's units."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from catalog_schema.units import number_text, show, show_span
from model.evaluate import Evaluation
from model.timeline import CycleRow, Segment, Timeline
from screens.rows import amount, percent, record_names, span, unit_of

EXISTENCE = {"exists": "cycle exists", "open": "not sure", "none": "no cycle exists", "elsewhere": "not washed here"}
FURTHEST = 1.6
"""What is needed beyond the limit is drawn at most to this many times the longest thing that runs."""


def spread(times_s: tuple[float, float, float], system: str) -> str:
    """Write a time with its 5 to 95 % range, each in the unit that reads best."""
    return show_span(*times_s, "time", system)


def chart_rows(shown: Timeline, system: str) -> pd.DataFrame:
    """Give the steps for drawing."""
    runs = max(one.start_s + max(one.duration_s[2], one.limit_s[1] if one.limit_s else 0.0) for one in shown.segments)
    found = []
    for one in shown.segments:
        end = one.start_s + one.duration_s[1]
        missing = np.nan
        if falls_short(one):
            missing = min(one.start_s + one.needed_s[1], FURTHEST * runs)
        limit = np.nan if one.limit_s is None else one.start_s + one.limit_s[1]
        times = (one.start_s, end, one.start_s + one.duration_s[0], one.start_s + one.duration_s[2], limit, missing)
        found.append((one.title, *(amount(time, "time", system) for time in times), one.fits_share,
                      bar_label(one, system)))  # fmt: skip
    return pd.DataFrame(found, columns=["step", "start", "end", "end_low", "end_high", "limit", "missing", "fits",
                                        "label"])  # fmt: skip


def falls_short(one: Segment) -> bool:
    """Tell whether a step needs more, in the middle of the draws, than the machine allows or can bring about."""
    if one.needed_s is None:
        return False
    return np.isinf(one.needed_s[1]) or (one.limit_s is not None and one.needed_s[1] > one.limit_s[1])


def bar_label(one: Segment, system: str) -> str:
    """Write a step's time, what it would need, and its limit."""
    written = spread(one.duration_s, system)
    if one.needed_s is not None and falls_short(one):
        need = "no time is enough" if np.isinf(one.needed_s[1]) else f"needs {show(one.needed_s[1], 'time', system)}"
        written = f"runs {show(one.duration_s[1], 'time', system)}; {need}"
    if one.limit_s is not None:
        written += f"; limit {show(one.limit_s[1], 'time', system)}"
    if one.fits_share < 1.0:
        written += f"; fits in {percent(one.fits_share)}"
    return written


def step_table(shown: Timeline, system: str) -> pd.DataFrame:
    """List the steps with their times, limits and what sets them."""
    return pd.DataFrame(
        [
            (one.title, spread(one.duration_s, system),
             "" if one.needed_s is None else need_text(one.needed_s, system),
             "" if one.limit_s is None else show(one.limit_s[1], "time", system),
             "" if one.needed_s is None else percent(one.fits_share), one.limited_by.text(system))
            for one in shown.segments
        ],
        columns=["Step", "Runs (5 to 95 %)", "Needs (5 to 95 %)", "Machine's limit", "Fits in", "What sets it"],
    )  # fmt: skip


def need_text(needed_s: tuple[float, float, float], system: str) -> str:
    """Write a need whose ends may be out of any reach."""
    if np.isinf(needed_s[0]):
        return "no time is enough"
    if np.isinf(needed_s[1]):
        return f"from {show(needed_s[0], 'time', system)}; in most draws no time is enough"
    if np.isinf(needed_s[2]):
        low, middle = (show(time, "time", system) for time in needed_s[:2])
        return f"{middle} (from {low}; at times no time is enough)"
    return spread(needed_s, system)


def belt_sentence(shown: Timeline, evaluation: Evaluation, machine_id: str, system: str) -> str:
    """Say the belt's speed and the lengths of its zones."""
    if shown.belt_speed_m_s is None:
        return ""
    chamber = evaluation.machine(machine_id).machine.equipment.chamber
    zones = ", ".join(
        f"{name} {show(zone.si()[1], 'length', system)}"
        for name, zone in (("wash", chamber.wash_zone_length), ("rinse", chamber.rinse_zone_length),
                           ("dry", chamber.dry_zone_length)) if zone is not None
    )  # fmt: skip
    bounds = [show(speed.si()[1], "speed", system) if speed is not None else "not known"
              for speed in (chamber.belt_min_speed, chamber.belt_max_speed)]  # fmt: skip
    return (f"The belt runs at {span(*shown.belt_speed_m_s, 'speed', system)}, between its limits of {bounds[0]} and "
            f"{bounds[1]}; one speed serves all zones ({zones}). The times are those spent in each zone.")  # fmt: skip


def cycle_table(evaluation: Evaluation, cycles: Iterable[CycleRow], system: str) -> pd.DataFrame:
    """List the cycle of every board type on every machine."""
    names = record_names(evaluation.case, evaluation.library)
    machines = {outcome.machine.id: outcome.machine.name for outcome in evaluation.machines}
    minutes = unit_of("time", system)
    found = []
    for one in cycles:
        if one.existence == "elsewhere":
            continue
        steps = [number_text(amount(one.steps_s[step], "time", system)) if step in one.steps_s else ""
                 for step in ("fill", "wash", "rinse", "dry", "handling")]  # fmt: skip
        found.append(
            (machines[one.machine_id], names.get(("board_types", one.board_id), one.board_id),
             EXISTENCE[one.existence], percent(one.exists_share),
             "" if one.total_s is None or one.existence == "none" else spread(one.total_s, system), *steps,
             "" if one.boards_per_load is None else f"{one.boards_per_load:.0f}",
             # What no cycle brings through has no rate.
             "" if one.boards_per_s is None or one.existence == "none" else number_text(one.boards_per_s * 3600.0),
             names.get(("fluids", one.fluid_id), ""), one.reason.text(system))
        )  # fmt: skip
    heads = [f"{step} [{minutes}]" for step in ("Fill", "Wash", "Rinse", "Dry", "Handling")]
    return pd.DataFrame(found, columns=["Machine", "Board type", "Cycle", "In share of draws", "Door to door", *heads,
                                        "Boards a load", "Boards an hour", "Fluid", "What decides"])  # fmt: skip


def reason_table(evaluation: Evaluation, cycles: Iterable[CycleRow], system: str) -> pd.DataFrame:
    """Write per pair whether its cycle exists and what decides that, for columns that wrap."""
    full = cycle_table(evaluation, cycles, system)
    fits = full["Cycle"] + ": fits in " + full["In share of draws"]
    cycle = full["Cycle"].where(full["In share of draws"] == percent(None), fits)
    return full.assign(Cycle=cycle)[["Machine", "Board type", "Cycle", "Door to door", "Boards an hour",
                                     "What decides"]]  # fmt: skip


def existence_matrix(evaluation: Evaluation, cycles: Iterable[CycleRow], system: str) -> pd.DataFrame:
    """Write per machine and board type the time of the cycle, or that none exists, for reading at a glance."""
    boards = {board.id: board.name for board in evaluation.case.board_types}
    cells: dict[tuple[str, str], str] = {}
    for one in cycles:
        time = "" if one.total_s is None else show(one.total_s[1], "time", system)
        word = {"exists": f"✓ {time}", "open": f"? {time}".strip(), "none": "✕ none", "elsewhere": "–"}[one.existence]
        cells[(one.machine_id, one.board_id)] = word
    found = [
        (outcome.machine.name, *(cells[(outcome.machine.id, board_id)] for board_id in boards))
        for outcome in evaluation.machines
    ]
    return pd.DataFrame(found, columns=["Machine", *boards.values()])
