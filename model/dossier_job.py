"""Dossier: the job, the plant's own musts, and the board mix."""

from __future__ import annotations

from catalog_schema.boards import BoardType
from catalog_schema.quantity import Quantity
from catalog_schema.units import number_text, show
from model.criteria import boards_per_year
from model.dossier_blocks import Part, Section, Table, Words
from model.dossier_text import amount_of, clear_text, counted, joined, span
from model.evaluate import Evaluation
from model.pictures import tightest_kind


def job_section(evaluation: Evaluation, system: str) -> Section:
    """Describe what the machine is bought for: plant, limits of the site, musts, and every board type."""
    case = evaluation.case
    blocks: list[Words | Part] = []
    if case.note:
        blocks.append(Words(text=case.note))
    blocks.append(Part(title="The plant", blocks=(_plant(evaluation, system),)))
    blocks.append(
        Part(title="What the plant requires", blocks=(
            Words(text="The limits are the plant's own. A figure from an old standard is no accept or reject limit for "
                  "today's boards; cleanliness is shown on the plant's own product.", tone="small"),
            _musts(evaluation, system),
        ))
    )  # fmt: skip
    boards = case.board_types
    mix = tuple(_board(evaluation, board, system) for board in boards)
    if boards:
        said = clear_text(number_text(round(boards_per_year(boards))))
        intro = Words(text=f"{counted(len(boards), 'board type', 'board types')}, together {said} boards a year.")
        blocks.append(
            Part(title="The board mix", blocks=(intro, Table(
                columns=("Board type", "Size", "Volume, lot", "Solder, flux", "Tightest component", "Treatment"),
                rows=mix, widths=(20, 13, 15, 19, 19, 14),
            )))
        )  # fmt: skip
    else:
        blocks.append(Words(text="The case has no board types yet, so no machine can be judged.", tone="notice"))
    return Section(key="job", title="The job and the board mix", blocks=tuple(blocks))


def _plant(evaluation: Evaluation, system: str) -> Table:
    plant = evaluation.case.plant
    finance, site = plant.finance, plant.site

    def limit(quantity: Quantity | None) -> str:
        return amount_of(quantity, system, "no limit given")

    reference = finance.reference
    names = {one.machine.id: one.machine.name for one in evaluation.machines}
    rows = [
        ("Plant", plant.name),
        ("Working time", f"{amount_of(plant.working_days, system)} days a year, "
                         f"{amount_of(plant.hours_per_day, system)} hours a day"),
        ("Air", f"{amount_of(plant.air_temperature, system)}, {amount_of(plant.relative_humidity, system)} humidity, "
                f"{amount_of(plant.air_pressure, system)}"),
        ("Money", f"{plant.currency}; discount rate {amount_of(finance.discount_rate, system)}, inflation "
                  f"{amount_of(finance.inflation, system)}, tax {amount_of(finance.tax_rate, system)}, horizon "
                  f"{amount_of(finance.horizon, system)}, depreciation {finance.depreciation}"),
        ("Compared with", names.get(reference, reference) if reference else "no reference named"),
        ("Site", f"power {limit(site.power)}; water {limit(site.water_flow)}; compressed air "
                 f"{limit(site.compressed_air)}; exhaust {limit(site.exhaust_flow)}; floor {limit(site.floor_area)}; "
                 f"flammable liquids {limit(site.flammable_volume)}; drain "
                 f"{'allowed' if site.drain_allowed else 'not allowed'}"),
    ]  # fmt: skip
    if plant.note:
        rows.append(("Note", plant.note))
    return Table(columns=(), rows=tuple(rows), widths=(20, 80))


def _musts(evaluation: Evaluation, system: str) -> Table:
    musts = evaluation.case.plant.requirements
    rows = [
        ("Ionic residue", f"at most {amount_of(musts.ionic_limit, system)} NaCl equivalent" if musts.ionic_limit
         else "no limit given"),
        ("Last rinse", f"at least {amount_of(musts.rinse_resistivity, system)}" if musts.rinse_resistivity
         else "no limit given"),
        ("Racks and holders", _between(amount_of(musts.rack_resistance_min, system, ""),
                                       amount_of(musts.rack_resistance_max, system, ""),
                                       amount_of(musts.ground_resistance_max, system, ""))),
        ("Records", joined(list(musts.traceability)) or "no function required"),
        ("Volume", f"machines busy at most {amount_of(musts.max_utilisation, system)} of the time; waiting "
                   f"{'at most ' + amount_of(musts.max_waiting, system) if musts.max_waiting else 'not limited'}; "
                   f"board types {'may' if musts.mixed_loads else 'may not'} share a load"),
        ("Budget", f"at most {amount_of(musts.max_budget, system)}" if musts.max_budget else "no limit given"),
        ("When a must counts", f"as met from a probability of {amount_of(musts.probability, system)}, as missed up to "
                               f"{amount_of(musts.rule_out_below, system)}, as open between"),
    ]  # fmt: skip
    return Table(columns=(), rows=tuple(rows), widths=(20, 80))


def _between(low: str, high: str, to_ground: str) -> str:
    said = [f"at least {low}"] if low else []
    said += [f"at most {high}"] if high else []
    said += [f"to ground at most {to_ground}"] if to_ground else []
    return ", ".join(said) or "no limit given"


def _board(evaluation: Evaluation, board: BoardType, system: str) -> tuple[str, ...]:
    flux = next(record for record in evaluation.library.flux_kinds if record.id == board.flux)
    tight = tightest_kind(board, evaluation.library)
    size = " × ".join(show(edge.si()[1], "length", system) for edge in (board.length, board.width))
    low, likely, high = board.volume.si()
    volume = span(low, likely, high, "rate", system).replace("1/year", "a year")
    kinds = counted(len(board.components), "component kind", "component kinds")
    treatment = [f"up to {amount_of(board.max_temperature, system)}",
                 "may stay uncleaned" if board.uncleaned_allowed else "must be cleaned"]  # fmt: skip
    treatment += ["coated after the wash"] if board.coated else []
    treatment += [f"ionic residue at most {amount_of(board.ionic_limit, system)}"] if board.ionic_limit else []
    return (
        board.name, f"{size}, {kinds}", f"{volume}; lot of {amount_of(board.lot_size, system)}",
        f"{board.alloy}, {flux.name}; peak {amount_of(board.peak_reflow_temperature, system)}",
        f"{tight.name}: gap {amount_of(tight.gap, system)}, flux path {amount_of(tight.flux_path, system)}",
        "; ".join(treatment),
    )  # fmt: skip
