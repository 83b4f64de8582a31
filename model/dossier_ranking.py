"""Dossier: the ranking of the machines that are left, and how sure it is."""

from __future__ import annotations

import math

import pandas as pd

from model.certainty import Certainty, nearest_rivals
from model.charts import Sheet
from model.decision import Decision
from model.dossier_blocks import Block, Part, Picture, Points, Section, Table, Words
from model.dossier_svg import PRINT, picture_svg
from model.dossier_text import RESULT_MARKS, percent, short_names
from model.dossier_verdicts import shortlist_blocks
from model.evaluate import Evaluation
from model.range_charts import ranges_chart

MOST_RANKS = 6
"""Ranks with a column of their own; the rest stand together in the last one."""

NOT_RANKED = (
    "The ranking was not computed for this document, so it says which machines can do the job, but not which is best."
)


def shortlist_section(evaluation: Evaluation, decision: Decision | None, system: str) -> Section:
    """Print the machines left, their scores with range, what each criterion brings, and whose weights these are."""
    blocks: list[Block] = []
    if decision is None:
        blocks.append(Words(text=NOT_RANKED, tone="notice"))
    else:
        blocks.append(Words(text=decision.headline, tone="lead"))
        if decision.ranking.order:
            blocks += [
                _scores(decision), *_score_picture(decision),
                Part(title="What each criterion brings", blocks=(_contributions(decision),)),
            ]  # fmt: skip
        blocks.append(Part(title="Whose weights these are", blocks=_weights(decision)))
        if decision.second_opinions:
            blocks.append(Part(title="Second opinions by other methods", blocks=(
                Points(entries=decision.second_opinions),)))  # fmt: skip
        if decision.table.notes:
            blocks.append(Part(title="What the ranking rests on", blocks=(Points(entries=decision.table.notes),)))
    blocks += shortlist_blocks(evaluation, system)
    return Section(key="shortlist", title="Shortlist and ranking", blocks=tuple(blocks))


def _scores(decision: Decision) -> Table:
    ranking, table = decision.ranking, decision.table
    rows = []
    for place, row in enumerate(ranking.order):
        low, high = (float(end) for end in decision.score_range[row])
        rows.append((str(ranking.ranks[place]), table.machine_names[row],
                     f"{ranking.scores[place]:.2f} ({low:.2f} to {high:.2f})", RESULT_MARKS[table.results[row]],
                     percent(table.probabilities[row])))  # fmt: skip
    columns = ("Rank", "Machine", "Score of 1 (5 to 95 %)", "Musts", "All musts hold")
    return Table(columns=columns, rows=tuple(rows), widths=(8, 38, 22, 16, 16))


def _score_picture(decision: Decision) -> tuple[Picture, ...]:
    order = decision.ranking.order
    if len(order) < 2:
        return ()
    names = short_names([decision.table.machine_names[row] for row in order])
    panel = "Score (0 to 1)"
    frame = pd.DataFrame(
        [(panel, name, float(decision.score_range[row, 0]), decision.ranking.scores[place],
          float(decision.score_range[row, 1]), "5 to 95 % of the draws, score marked")
         for place, (row, name) in enumerate(zip(order, names, strict=True))],
        columns=["panel", "name", "low", "likely", "high", "mark"],
    )  # fmt: skip
    caption = "Scores with their range under the common weights: where the bars overlap, the order is not settled."
    chart = ranges_chart(frame, Sheet(palette=PRINT, description=caption, width=380), panels=(panel,))
    return (Picture(svg=picture_svg(chart, "scores"), caption=caption),)


def _contributions(decision: Decision) -> Table:
    ranking, names = decision.ranking, decision.table.criterion_names
    places = range(min(len(ranking.order), MOST_RANKS))
    rows = [
        (name, f"{decision.weights[column]:.2f}",
         *(f"{ranking.contributions[place][column]:.3f}"
           + (" †" if decision.table.unknown[ranking.order[place], column] else "") for place in places))
        for column, name in enumerate(names)
    ]  # fmt: skip
    rows.append(("Score", "1.00", *(f"{ranking.scores[place]:.3f}" for place in places)))
    heads = tuple(decision.table.machine_names[ranking.order[place]] for place in places)
    caption = "Weight × value of each criterion; the column adds up to the score."
    if bool(decision.table.unknown.any()):
        caption += " † not known or only in part: any value is taken as equally likely there."
    if len(ranking.order) > MOST_RANKS:
        caption += f" The first {MOST_RANKS} machines are shown."
    width = 62 // len(heads)
    return Table(columns=("Criterion", "Weight", *heads), rows=tuple(rows), caption=caption,
                 widths=(90 - width * len(heads), 10, *([width] * len(heads))),
                 figures=tuple(range(1, len(heads) + 2)))  # fmt: skip


def _weights(decision: Decision) -> tuple[Words | Table | Points, ...]:
    voices = decision.voices
    rows = [(name, *(percent(voice.weights[column]) for voice in voices), percent(decision.weights[column]))
            for column, name in enumerate(decision.table.criterion_names)]  # fmt: skip
    heads = [f"{voice.name} ({voice.method})" for voice in voices]
    width = min(64 // (len(voices) + 1), 20)
    blocks: list[Words | Table | Points] = []
    if len(voices) <= MOST_RANKS:
        blocks.append(Table(columns=("Criterion", *heads, "All together"), rows=tuple(rows),
                            widths=(100 - width * (len(voices) + 1), *([width] * (len(voices) + 1))),
                            figures=tuple(range(1, len(voices) + 2))))  # fmt: skip
    else:
        blocks.append(Table(columns=("Criterion", "All together"), rows=tuple((row[0], row[-1]) for row in rows),
                            widths=(70, 30), figures=(1,)))  # fmt: skip
    notes = tuple(f"{voice.name}: {voice.note}" for voice in voices if voice.note)
    return (*blocks, Points(entries=notes)) if notes else tuple(blocks)


def certainty_section(decision: Decision | None, found: Certainty | None) -> Section:
    """Print how often each machine takes each rank, and what would change the answer."""
    title = "How sure the answer is"
    if decision is None or found is None:
        return Section(key="certainty", title=title, blocks=(Words(text=NOT_RANKED, tone="notice"),))
    if decision.leader is None:
        return Section(key="certainty", title=title, blocks=(Words(text=found.headline, tone="notice"),))
    blocks: list[Block] = [
        Words(text=found.headline, tone="lead"),
        Points(entries=(found.knowledge, found.rank_sentence, found.interval_sentence, found.dominance_sentence)),
        Part(title="How often each machine takes each rank", blocks=(_ranks(decision, found),)),
    ]
    if len(decision.ranking.order) > 1:
        blocks.append(Part(title="How far each weight may move before another machine leads",
                           blocks=(_intervals(decision, found),)))  # fmt: skip
        blocks.append(Part(title="What each rival would need", blocks=(_rivals(decision, found),)))
    return Section(key="certainty", title=title, blocks=tuple(blocks))


def _ranks(decision: Decision, found: Certainty) -> Table:
    shares, order = found.acceptability.rank_share, decision.ranking.order
    shown = min(len(order), MOST_RANKS)
    rows = []
    for row in order:
        cells = [percent(float(shares[row, rank])) for rank in range(shown)]
        if len(order) > shown:
            cells[-1] = percent(float(shares[row, shown - 1 :].sum()))
        rows.append((decision.table.machine_names[row], *cells))
    heads = [str(rank + 1) for rank in range(shown)]
    if len(order) > shown:
        heads[-1] = f"{shown} or later"
    width = min(60 // shown, 16)
    return Table(
        columns=("Machine", *(f"Rank {head}" for head in heads)), rows=tuple(rows), figures=tuple(range(1, shown + 1)),
        widths=(100 - width * shown, *([width] * shown)),
        caption=f"Share of {found.acceptability.draws:,} draws of weights and quantities together.".replace(",", " "),
    )  # fmt: skip


def _intervals(decision: Decision, found: Certainty) -> Table:
    names, intervals = decision.table.machine_names, found.intervals
    rows = []
    for column, name in enumerate(decision.table.criterion_names):
        below, above = int(intervals.takes_over_below[column]), int(intervals.takes_over_above[column])
        who = [f"below: {names[below]}"] if below >= 0 else []
        who += [f"above: {names[above]}"] if above >= 0 else []
        rows.append((name, percent(decision.weights[column]),
                     f"{percent(float(intervals.low[column]))} to {percent(float(intervals.high[column]))}",
                     "; ".join(who) or "nobody, whatever its weight"))  # fmt: skip
    return Table(columns=("Criterion", "Weight now", "Leader stays from … to", "Who takes over"), rows=tuple(rows),
                 widths=(28, 14, 22, 36))  # fmt: skip


def _rivals(decision: Decision, found: Certainty) -> Table:
    near = nearest_rivals(decision, found.be_first)
    rows = []
    for row in decision.ranking.order[1:]:
        moved = float(found.be_first.moved_share[row])
        need = f"{100 * moved:.0f} of 100 points of weight moved" if row in near and math.isfinite(moved) else "–"
        how = "possible" if row in near else "no weights put it first at the middle values"
        rows.append((decision.table.machine_names[row], how, need))
    return Table(columns=("Rival", "First place", "Smallest change of weights"), rows=tuple(rows), widths=(40, 34, 26))
