"""The dossier: one printable document that a purchase request can rest on, made from an evaluation."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from catalog_schema.inert_text import visible_text
from model.certainty import Certainty, certainty
from model.cost_comparison import CostComparison
from model.decision import Decision
from model.demand_records import Demands
from model.dossier_blocks import Block, Points, Section, Table, Words
from model.dossier_cost import cost_of, cost_section, cost_sentence
from model.dossier_demands import demands_section
from model.dossier_exposure import exposure_section
from model.dossier_inputs import assumption_sections, silent_count
from model.dossier_job import job_section
from model.dossier_questions import questions_section
from model.dossier_ranking import certainty_section, shortlist_section
from model.dossier_text import counted
from model.dossier_verdicts import overview_section, ruled_out_section
from model.evaluate import Evaluation, Progress
from model.json_output import CAUTION
from model.questions import Worth, worth_finding_out
from model.result_text import verdict_sentence
from model.trial_plan import TrialStep, trial_plan

VERSION = "0.1.0"
"""Of the program, as in pyproject.toml; read from here because the program also runs without being installed."""
TEMPLATE = "dossier_template.html.j2"
SYSTEMS = ("metric", "US")

CAUTIONS = (
    CAUTION,
    "Hot, alkaline or acidic fluids burn skin and eyes: follow the safety data sheet of the fluid that is bought, in "
    "its revision of the day.",
    "Flammable or regulated solvents, their vapour and their waste: storage, exhaust, workplace limits and discharge "
    "follow the local code and its authority; figures here are no permit.",
    "Pressure, electrical supply, exhaust and drains are to be laid out and connected by licensed people.",
    "A computed cleanliness is no release of a product: cleaning is qualified on the plant's own boards, with parts "
    "lifted and with the tests that the product's standard and its customer ask for.",
    "Offers are taken at their word. What decides should stand in the contract, with the trial boards as acceptance.",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Findings:
    """What the sections of one dossier share."""

    decision: Decision | None
    certainty: Certainty | None
    costs: CostComparison | None
    worth: Worth | None
    steps: tuple[TrialStep, ...]
    demands: Demands | None


def dossier_html(
    evaluation: Evaluation, *, decision: Decision | None = None, system: str = "metric", today: str,
    demands: Demands | None = None, progress: Progress | None = None,
) -> str:  # fmt: skip
    """Write the dossier as one HTML document that needs nothing else and loads nothing.

    Parameters
    ----------
    evaluation : Evaluation
    decision : Decision, optional
        Made from that evaluation; without it the document says that ranking, certainty and questions are not computed.
    system : str
        "metric" or "US".
    today : str
        Date as it is to be printed; handed in, so that the same input gives the same document.
    demands : Demands, optional
        Of the same case, draws and seed, where they are known already.
    progress : callable, optional
        Told after each section; may raise to stop.

    Returns
    -------
    str
        HTML with print rules for A4 and Letter. The paper is chosen when it is printed.

    Raises
    ------
    ValueError
        When the unit system is not known.

    Notes
    -----
    Names and notes of a case are printed as text only: the template escapes every one, characters that hide or reorder
    text are shown as their code points, pictures keep nothing but shapes and text, and a policy in the head forbids
    scripts and requests.
    """
    if system not in SYSTEMS:
        raise ValueError(f"{system} is not a unit system known here. Give metric or US.")
    found = _findings(evaluation, decision, demands)
    makers = _sections(evaluation, found, system)
    sections: list[Section] = []
    for number, make in enumerate(makers, start=1):
        sections += make()
        if progress is not None:
            progress(number, len(makers), sections[-1].title)
    return _template().render(
        title=evaluation.case.name, plant=evaluation.case.plant.name, today=today, version=VERSION,
        fingerprint=evaluation.fingerprint, invented=evaluation.case.invented,
        answer=_answer(evaluation, found), sections=_numbered(sections),
    )  # fmt: skip


def _findings(evaluation: Evaluation, decision: Decision | None, demands: Demands | None) -> _Findings:
    costs = cost_of(evaluation)
    if decision is None:
        return _Findings(decision=None, certainty=None, costs=costs, worth=None, steps=(), demands=demands)
    return _Findings(
        decision=decision, certainty=certainty(decision) if decision.ranking.order else None, costs=costs,
        worth=worth_finding_out(evaluation, decision), steps=trial_plan(evaluation, decision), demands=demands,
    )  # fmt: skip


def _sections(evaluation: Evaluation, found: _Findings, system: str) -> tuple[Callable[[], tuple[Section, ...]], ...]:
    """Give what makes each section, in their order."""
    extra = () if found.decision is None else tuple(one for read in found.decision.table.raw.inputs for one in read)
    return (
        lambda: (job_section(evaluation, system),),
        lambda: (demands_section(evaluation, found.demands, system),),
        lambda: (overview_section(evaluation),),
        lambda: (ruled_out_section(evaluation, system),),
        lambda: (shortlist_section(evaluation, found.decision, system),),
        lambda: (exposure_section(evaluation, found.decision, system),),
        lambda: (certainty_section(found.decision, found.certainty),),
        lambda: (cost_section(evaluation, found.costs),),
        lambda: (questions_section(evaluation, found.decision, found.worth, found.steps, system),),
        lambda: (_cautions(), _made(evaluation)),
        lambda: assumption_sections(evaluation, extra, system),
    )


def _answer(evaluation: Evaluation, found: _Findings) -> tuple[Block, ...]:
    blocks: list[Block] = [Words(text=verdict_sentence(evaluation), tone="lead")]
    decision, currency = found.decision, evaluation.case.plant.currency
    if decision is None:
        blocks.append(Words(text="Which of the machines left is best was not computed for this document."))
        return tuple(blocks)
    said = [decision.headline, *([decision.average_sentence] if decision.average_sentence else [])]
    if found.certainty is not None and decision.leader is not None:
        said.append(found.certainty.headline)
        leader = decision.table.machine_ids[decision.leader]
        name = decision.table.machine_names[decision.leader]
        said.append(cost_sentence(found.costs, leader, name, currency))
        if decision.table.results[decision.leader] != "meets":
            said.append("The leader does not yet meet every must with the wanted probability: what is open on it "
                        "stands in the shortlist, and must be settled before signing.")  # fmt: skip
    if found.worth is not None and found.worth.questions:
        said.append(found.worth.headline)
    silent = silent_count(evaluation.inputs)
    if silent:
        said.append(f"The offers are silent on {counted(silent, 'number', 'numbers')} that reached a result; the range "
                    "of the machine's class stands in for them.")  # fmt: skip
    blocks.append(Points(entries=tuple(dict.fromkeys(said))))
    blocks.append(Words(text=CAUTION, tone="small"))
    return tuple(blocks)


def _cautions() -> Section:
    return Section(key="cautions", title="Cautions", blocks=(Points(entries=CAUTIONS),))


def _made(evaluation: Evaluation) -> Section:
    draws = f"{evaluation.draws:,}".replace(",", " ")
    rays = f"{evaluation.rays:,}".replace(",", " ")
    rows = (
        ("Program", f"Washcase {VERSION}"),
        ("Case", f"{evaluation.case.name}, fingerprint {evaluation.fingerprint}"),
        ("Draws", f"{draws} draws of every uncertain number with seed {evaluation.seed}; {rays} rays per spray trace"),
        ("Same again", "The same case file, version, draws and seed give the same figures."),
        ("Ranges", "Where a range stands behind a result, it runs from the 5 to the 95 % point of the draws."),
    )
    sign = (("Plant", "", ""), ("Engineering", "", ""), ("Finance", "", ""), ("Safety and environment", "", ""))
    return Section(key="made", title="How this document was made, and who has read it", blocks=(
        Table(columns=(), rows=rows, widths=(20, 80)),
        Table(columns=("Read by", "Name and remarks", "Date and signature"), rows=sign, widths=(24, 46, 30), tall=True),
    ))  # fmt: skip


def _numbered(sections: Sequence[Section]) -> list[tuple[str, Section]]:
    """Give the sections the numbers 1, 2, 3 and the annexes the letters A, B."""
    numbered, plain, annexes = [], 0, 0
    for section in sections:
        if section.annex:
            annexes += 1
            numbered.append((f"Annex {chr(ord('A') + annexes - 1)}", section))
        else:
            plain += 1
            numbered.append((str(plain), section))
    return numbered


def _shown(value: object) -> object:
    """Let every printed text show the characters that could hide or reorder it; cleaned pictures pass."""
    return value if isinstance(value, Markup) else visible_text(str(value))


@cache
def _template() -> Template:
    # Everything printed goes through _shown and is escaped, so no section has to think of it.
    environment = Environment(autoescape=True, undefined=StrictUndefined, finalize=_shown)
    return environment.from_string(files("model").joinpath(TEMPLATE).read_text(encoding="utf-8"))
