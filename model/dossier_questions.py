"""Dossier: what to ask the suppliers and which boards to try before signing, and what trials have shown."""

from __future__ import annotations

from catalog_schema.units import show
from model.decision import Decision
from model.dossier_blocks import Block, Part, Section, Table, Words
from model.dossier_text import amount_of, clear_text, money, percent
from model.evaluate import Evaluation
from model.questions import Question, Worth
from model.result_text import record_names, sentence_case
from model.trial_plan import TrialStep
from model.trials import weigh_trials

NOT_WEIGHED = (
    "Not computed: questions and trials are ordered by what their answers are worth for the ranking, and the ranking "
    "was not computed for this document. What is open stands with each machine on the shortlist."
)


def questions_section(
    evaluation: Evaluation, decision: Decision | None, worth: Worth | None, steps: tuple[TrialStep, ...], system: str
) -> Section:
    """Print the questions by supplier, the trial plan with room for what was found, and the trials entered."""
    currency = evaluation.case.plant.currency
    blocks: list[Block] = []
    if decision is None or worth is None:
        blocks.append(Words(text=NOT_WEIGHED, tone="notice"))
    else:
        blocks.append(Words(text=worth.headline, tone="lead"))
        if worth.perfect is not None and worth.perfect_score > 0.0:
            amount = money(worth.perfect, currency)
            blocks.append(Words(text=f"Knowing everything before deciding would be worth {amount} a year on average: "
                                     "no enquiry is worth more.", tone="small"))  # fmt: skip
        suppliers = dict.fromkeys(one.supplier for one in worth.questions)
        for supplier in suppliers:
            asked = [one for one in worth.questions if one.supplier == supplier]
            blocks.append(Part(title=f"To ask: {supplier}", blocks=(_question_table(asked, system, currency),)))
        blocks.append(Part(title="Trial plan", blocks=_plan(steps, system, currency)))
    if evaluation.case.trials:
        blocks.append(Part(title="Trials already made", blocks=_made(evaluation, system)))
    return Section(key="questions", title="Open questions and trial plan", blocks=tuple(blocks))


def _question_table(asked: list[Question], system: str, currency: str) -> Table:
    rows = tuple(
        (str(one.number), f"{one.machine_name}: {one.quantity}", clear_text(one.assumed.text(system, currency)),
         clear_text(one.would_change.text(system, currency)), _worth(one.worth, one.change_share, currency))
        for one in asked
    )  # fmt: skip
    columns = ("No.", "Question", "Until it is answered", "What an answer changes", "Worth a year")
    return Table(columns=columns, rows=rows, widths=(5, 26, 26, 27, 16))


def _worth(worth: float | None, change_share: float, currency: str) -> str:
    if not worth:
        return "decides a must" if worth == 0.0 or worth is None else "–"
    return f"{money(worth, currency)}; changes the choice: {percent(change_share)}"


def _plan(steps: tuple[TrialStep, ...], system: str, currency: str) -> tuple[Words | Table, ...]:
    if not steps:
        return (Words(text="No wash of an offer on the shortlist is uncertain enough to need a trial."),)
    rows = tuple(
        (
            str(one.number), f"{one.board_name} in {one.machine_name}",
            f"{one.fluid_name}, {one.minutes:.0f} min; then lift {one.component_name}",
            sentence_case(clear_text(f"{one.look_for.text(system, currency)} {one.decides.text(system, currency)}")),
            percent(one.probability_clean), "",
        )
        for one in steps
    )  # fmt: skip
    columns = ("No.", "Board and machine", "How", "What to look for, and what it decides", "Expected clean",
               "Found, date")  # fmt: skip
    return (
        Words(text="The trials that tell most come first. Write what was found into the case: it then replaces the "
                   "estimates.", tone="small"),
        Table(columns=columns, rows=rows, widths=(5, 21, 21, 32, 9, 12)),
    )  # fmt: skip


def _made(evaluation: Evaluation, system: str) -> tuple[Words | Table, ...]:
    names = record_names(evaluation.case, evaluation.library)
    used = any("-after-trials-" in one.fingerprint for one in evaluation.machines)
    blocks: list[Words | Table] = []
    if used:
        blocks.append(Words(text="The results of this document rest on these trials as well as on the estimates."))
    else:
        summary = weigh_trials(evaluation)
        blocks.append(Words(text=f"This document does not use them yet. {summary.headline}", tone="notice"))
        blocks += [Words(text=warning, tone="notice") for warning in summary.warnings]
    rows = tuple(
        (
            one.date or "not dated", names.get(("board_types", one.board_type), one.board_type),
            names.get(("candidates", one.machine), names.get(("machine_classes", one.machine), one.machine)),
            f"{names.get(('fluids', one.fluid), one.fluid)}, {show(one.wash_time.si()[1], 'time', system)}",
            names.get(("component_kinds", one.component), one.component),
            f"{amount_of(one.residue_left, system)} left, give or take {amount_of(one.measurement_error, system)}",
        )
        for one in evaluation.case.trials
    )  # fmt: skip
    columns = ("Date", "Board type", "Machine", "Fluid, time", "Lifted", "Found")
    blocks.append(Table(columns=columns, rows=rows, widths=(10, 19, 20, 18, 16, 17)))
    return tuple(blocks)
