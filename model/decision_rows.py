"""A decision and its certainty as plain tables for charts, screens and downloads."""

from __future__ import annotations

import numpy as np
import pandas as pd

from model.certainty import Certainty
from model.criteria import COST, UNITS
from model.decision import Decision
from model.drift import NOBODY
from model.drift_knobs import KnobDrift
from model.drivers import Drivers
from model.trials import TrialSummary


def contribution_rows(decision: Decision) -> pd.DataFrame:
    """List what every criterion brings to every score: name, criterion, mark, start, end."""
    names = decision.table.criterion_names
    found = []
    for row, parts in zip(decision.ranking.order, decision.ranking.contributions, strict=True):
        start = 0.0
        for number, (criterion, part) in enumerate(zip(names, parts, strict=True), start=1):
            found.append((decision.table.machine_names[row], f"{number} {criterion}", str(number), start, start + part))
            start += part
    return pd.DataFrame(found, columns=["name", "criterion", "mark", "start", "end"])


def score_rows(decision: Decision) -> pd.DataFrame:
    """List scores with their range, best first: rank, name, low, score, high."""
    ranking = decision.ranking
    found = [
        (rank, decision.table.machine_names[row], float(decision.score_range[row, 0]), score,
         float(decision.score_range[row, 1]))
        for row, rank, score in zip(ranking.order, ranking.ranks, ranking.scores, strict=True)
    ]  # fmt: skip
    return pd.DataFrame(found, columns=["rank", "name", "low", "score", "high"])


def ranking_rows(decision: Decision) -> pd.DataFrame:
    """List the ranking as people read it: rank, machine, score, range, and value per criterion."""
    table = decision.table
    found = []
    for row, rank, score in zip(decision.ranking.order, decision.ranking.ranks, decision.ranking.scores, strict=True):
        low, high = decision.score_range[row]
        values = ["not known" if table.unknown[row, k] else f"{decision.middle_values[row, k]:.2f}"
                  for k in range(len(table.criteria))]  # fmt: skip
        found.append((rank, table.machine_names[row], table.results[row], f"{score:.2f}", f"{low:.2f} to {high:.2f}",
                      *values))  # fmt: skip
    columns = ["Rank", "Machine", "Musts", "Score", "Range", *table.criterion_names]
    return pd.DataFrame(found, columns=columns)


def voice_rows(decision: Decision) -> pd.DataFrame:
    """List every stakeholder's ranks beside the common ones and those of the second opinions."""
    table = decision.table
    columns: dict[str, list[object]] = {"Machine": [table.machine_names[row] for row in decision.ranking.order]}
    for voice in decision.voices:
        columns[voice.name] = [voice.ranking.rank_of(row) for row in decision.ranking.order]
    columns["Common"] = list(decision.ranking.ranks)
    if decision.geometric_ranking is not None:
        columns["Common, geometric mean"] = [decision.geometric_ranking.rank_of(row) for row in decision.ranking.order]
    if decision.minimax is not None:
        columns["Least regret"] = [decision.minimax.ranking.rank_of(row) for row in decision.ranking.order]
    for name, opinion in (("TOPSIS", decision.topsis), ("PROMETHEE II", decision.promethee)):
        places = dict(zip(opinion.order, opinion.ranks, strict=True))
        columns[name] = [places[row] for row in decision.ranking.order]
    return pd.DataFrame(columns)


def weight_rows(decision: Decision) -> pd.DataFrame:
    """List every stakeholder's weights beside the common ones, as shares."""
    columns: dict[str, list[object]] = {"Criterion": list(decision.table.criterion_names)}
    for voice in decision.voices:
        columns[voice.name] = list(voice.weights)
    columns["Common"] = list(decision.weights)
    return pd.DataFrame(columns)


def measure_rows(decision: Decision, board_names: dict[str, str], currency: str) -> pd.DataFrame:
    """List every measure with its range, its value, and the board type that does worst."""
    table = decision.table
    found = []
    for row in decision.ranking.order:
        for k, criterion in enumerate(table.criteria):
            low, middle, high = np.quantile(table.measures[:, row, k], [0.05, 0.5, 0.95])
            unit = f"{currency} per year" if criterion == COST else UNITS.get(criterion, "rating")
            digits = ",.0f" if criterion == COST else ".2f"
            span = f"{middle:{digits}} ({low:{digits}} to {high:{digits}})".replace(",", " ")
            found.append((
                table.machine_names[row], table.criterion_names[k],
                "not known" if table.unknown[row, k] else span, unit, f"{decision.middle_values[row, k]:.2f}",
                board_names.get(table.worst_board[row][k], ""),
            ))  # fmt: skip
    return pd.DataFrame(found, columns=["Machine", "Criterion", "Measure (range)", "Unit", "Value", "Worst board type"])


def rank_rows(decision: Decision, sure: Certainty) -> pd.DataFrame:
    """List the probability of every rank: name, rank, share."""
    shares = sure.acceptability.rank_share
    return pd.DataFrame(
        [(decision.table.machine_names[row], place + 1, float(shares[row, place]))
         for row in decision.ranking.order for place in range(shares.shape[1])],
        columns=["name", "rank", "share"],
    )  # fmt: skip


def interval_rows(decision: Decision, sure: Certainty) -> pd.DataFrame:
    """List the interval of every weight: criterion, low, weight, high, below, above."""

    def name(row: int) -> str:
        return "" if row == NOBODY else decision.table.machine_names[row]

    ends = sure.intervals
    return pd.DataFrame(
        [(criterion, float(ends.low[k]), decision.weights[k], float(ends.high[k]), name(int(ends.takes_over_below[k])),
          name(int(ends.takes_over_above[k]))) for k, criterion in enumerate(decision.table.criterion_names)],
        columns=["criterion", "low", "weight", "high", "below", "above"],
    )  # fmt: skip


def change_rows(decision: Decision, sure: Certainty, row: int) -> pd.DataFrame:
    """List today's weights and the nearest ones that put a rival first: criterion, now, level (when it draws level)."""
    level = sure.be_first.weights_least_moved[row]
    return pd.DataFrame({"criterion": decision.table.criterion_names, "now": decision.weights, "level": level})


def dominance_rows(decision: Decision, sure: Certainty) -> pd.DataFrame:
    """List for every machine who dominates it, and whether some weights put it first."""
    names = decision.table.machine_names
    found = []
    for row in decision.ranking.order:
        beaten_by = [names[other] for other in decision.ranking.order if sure.dominates[other, row]]
        first = "yes" if sure.potential.potentially_first[row] else "no"
        mixture = [f"{100.0 * share:.0f} % {names[other]}"
                   for other, share in enumerate(sure.potential.blocking_mixture[row]) if share > 0.005]  # fmt: skip
        proof = "" if first == "yes" else f"beaten by a mixture of {', '.join(mixture)}"
        exact = "" if sure.exact is None else f"{100.0 * float(sure.exact.first_share[row]):.1f} %"
        found.append((names[row], ", ".join(beaten_by) or "nobody", first, proof, exact))
    return pd.DataFrame(found, columns=["Machine", "Nowhere better than", "First under some weights", "Proof",
                                        "Exact share of weights"])  # fmt: skip


def driver_rows(found: Drivers) -> pd.DataFrame:
    """List drivers: label, low, high, share, total, path."""
    return pd.DataFrame(
        [(one.label, one.gap_at_low, one.gap_at_high, one.share, one.total_share, one.path) for one in found.drivers],
        columns=["label", "low", "high", "share", "total", "path"],
    )


def knob_rows(decision: Decision, knob: KnobDrift) -> pd.DataFrame:
    """List who leads along a knob: leader, low, high."""
    found = [] if knob.drift is None else [
        ("nobody" if one.leader == NOBODY else decision.table.machine_names[one.leader], one.low, one.high)
        for one in knob.drift.intervals
    ]  # fmt: skip
    return pd.DataFrame(found, columns=["leader", "low", "high"])


def trial_rows(summary: TrialSummary) -> pd.DataFrame:
    """List the residue expected before and after the trials: trial, when, low, middle, high, found."""
    found = []
    for one in summary.findings:
        if one.prior is not None and one.posterior is not None:
            for when, points in (("before", one.prior), ("after", one.posterior)):
                found.append((one.trial.id, when, *points, one.observed))
    return pd.DataFrame(found, columns=["trial", "when", "low", "middle", "high", "found"])
