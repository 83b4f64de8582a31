"""What one browser session keeps, and what a new one starts with; where it is kept is the business of case_state."""

from __future__ import annotations

from dataclasses import dataclass, field
from importlib.resources import files

from catalog_schema import Case, CaseError, Problem, case_fingerprint, parse_case
from catalog_schema.drafts import Draft
from model.evaluate import DEFAULT_DRAWS, Evaluation
from screens import draft_keeping
from screens.draft_keeping import Origin

DEMOS = {"Mixed plant": "mixed_plant.yaml", "Through-hole plant": "through_hole_plant.yaml"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """An entry that was not taken over."""

    given: object
    """What was entered, as the widget gave it."""
    messages: tuple[str, ...]
    """Why not, and what would be."""


@dataclass(slots=True)
class Version:
    """One step of the history."""

    case: Case
    origin: Origin
    fingerprint: str = ""

    def known_by(self) -> str:
        """Give its fingerprint, worked out once."""
        self.fingerprint = self.fingerprint or case_fingerprint(self.case)
        return self.fingerprint


@dataclass(slots=True)
class Session:
    """What one browser session keeps. Cases are frozen: an edit adds a new one to the history."""

    history: list[Version]
    position: int = 0
    revision: int = 0
    evaluation: Evaluation | None = None
    derived: dict[str, object] = field(default_factory=dict)
    derived_from: Evaluation | None = None
    stopped: set[str] = field(default_factory=set)
    system: str = "metric"
    draws: int = DEFAULT_DRAWS
    problems: tuple[Problem, ...] = ()
    refused: str = ""
    refused_fields: dict[str, Refused] = field(default_factory=dict)
    drafts: tuple[Draft, ...] = ()
    draft_trouble: str = ""
    choices: dict[str, object] = field(default_factory=dict)


def first_session() -> Session:
    """Open the case that the command line names, else the first demo; a refused case is said, never raised."""
    asked = draft_keeping.started_with()
    problems: tuple[Problem, ...] = ()
    case = demo_case(next(iter(DEMOS)))
    origin = Origin(saved=case)
    if asked is not None:
        try:
            case, origin = draft_keeping.open_file(asked)
        except CaseError as refusal_met:
            problems = refusal_met.problems
    session = Session(history=[Version(case, origin)], drafts=draft_keeping.offered())
    if asked is not None and problems:
        session.problems, session.refused = problems, asked.name
    return session


def demo_case(name: str) -> Case:
    """Read a shipped demo."""
    return parse_case(files("demo_catalog").joinpath(DEMOS[name]).read_bytes(), DEMOS[name])
