"""Dossier: what the boards and the plant demand of any machine, ready to be sent to suppliers."""

from __future__ import annotations

from catalog_schema.units import show
from model.demand_records import GROUPS, Demand, Demands
from model.demands import demands_of
from model.dossier_blocks import Block, Part, Section, Table, Words
from model.dossier_text import clear_text, joined, percent
from model.evaluate import Evaluation
from model.result_text import record_names


def demands_section(evaluation: Evaluation, demands: Demands | None, system: str) -> Section:
    """Print the demands of the whole board mix, the board type that sets each, and the fluids that may be used."""
    title = "What the boards demand of any machine"
    if not evaluation.case.board_types:
        said = "Not worked out: the case has no board types."
        return Section(key="demands", title=title, blocks=(Words(text=said, tone="notice"),))
    try:
        found = demands or demands_of(evaluation.case, draws=evaluation.draws, seed=evaluation.seed)
    except ValueError as problem:
        return Section(key="demands", title=title, blocks=(
            Words(text=f"Not worked out: {problem}", tone="notice"),))  # fmt: skip
    conditions = found.conditions
    air = joined([show(one, "temperature", system) for one in conditions.air_temperatures_K])
    blocks: list[Block] = [
        Words(text="A specification that can go to suppliers: each line is set by the board type that asks for most "
                   f"and is enough in {percent(found.share)} of the draws. No machine was looked at for it."),
        Words(text=f"It holds for a wash of {show(conditions.wash_time_s, 'time', system)}; drying air of {air} at "
                   f"{show(conditions.air_speed_m_s, 'stream speed', system)}; boards drained to a film of "
                   f"{show(conditions.drained_film_m, 'gap', system)}.", tone="small"),
    ]  # fmt: skip
    names = record_names(evaluation.case, evaluation.library)
    for group in GROUPS:
        asked = [demand for demand in found.overall if demand.group == group]
        rows = tuple(_row(demand, len(found.boards), names, system) for demand in asked)
        if rows:
            columns = ("Demand", "Asked", "Range of the need", "Set by", "Why")
            blocks.append(Part(title=group, blocks=(Table(columns=columns, rows=rows, widths=(19, 13, 13, 14, 41)),)))
    blocks.append(Part(title="Fluids that dissolve the residue and may be used", blocks=(_fluids(found, names),)))
    return Section(key="demands", title=title, blocks=tuple(blocks))


def _row(demand: Demand, boards: int, names: dict[tuple[str, str], str], system: str) -> tuple[str, ...]:
    setting = [names.get(("board_types", one), one) for one in demand.board_ids]
    by = "every board type" if len(setting) == boards > 1 else joined(setting) or "the plant"
    return (
        demand.title.text(system), clear_text(demand.asked_text(system)), clear_text(demand.band_text(system)) or "–",
        by, clear_text(demand.sentence.text(system)),
    )  # fmt: skip


def _fluids(found: Demands, names: dict[tuple[str, str], str]) -> Table:
    rows = []
    for board in found.boards:
        usable = [names.get(("fluids", one.fluid_id), one.fluid_id) for one in board.fluids if one.usable]
        reference = [f"{names.get(('fluids', fluid), fluid)} ({route})"
                     for route, fluid in board.reference_fluids.items()]  # fmt: skip
        rows.append((names.get(("board_types", board.board_id), board.board_id),
                     joined(usable) or "no fluid of the library", joined(reference) or "–"))  # fmt: skip
    return Table(columns=("Board type", "Usable fluids", "Numbers worked out with"), rows=tuple(rows),
                 widths=(24, 46, 30))  # fmt: skip
