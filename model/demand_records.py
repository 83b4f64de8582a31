"""What a demand on any machine is: a number the boards ask for, who sets it, and the inputs behind it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from catalog_schema.boards import BoardType
from catalog_schema.case import Case, Library
from catalog_schema.machine import Machine
from catalog_schema.machines import Equipment
from catalog_schema.units import show
from model.context import Context
from model.machine_inputs import MachineInputs
from model.phrase import Phrase
from model.requirements import Thresholds
from model.spray_drive import SprayGeometry
from model.spray_field import ExposureTrace
from model.uncertainty import FloatArray, Input, InputBook, low_middle_high

Side = Literal["at least", "at most", "must"]
Route = Literal["water", "solvent"]
"""How a wash ends: fluids rinsed off with water, and those that rinse themselves or dry off."""
Three = tuple[float, float, float]

GROUPS = ("Wash", "Rinse", "Drying", "Board and rack", "Sensitive parts", "Records", "Volume", "Site")
"""Groups in the order in which they are shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What the plant fixes so that a demand has one meaning; choices of the reader, no estimates of ours."""

    wash_time_s: float = 1200.0
    """s, wash within which the tightest component must be clear."""
    duties: tuple[float, ...] = (1.0, 0.5, 0.2)
    """Shares of the wash in which the drive acts at the worst place, falling."""
    air_temperatures_K: tuple[float, ...] = (353.15, 368.15, 383.15)
    """K, of the drying air; each is capped at what the board may see."""
    air_speed_m_s: float = 3.0
    """m/s, of the drying air along the boards."""
    drained_film_m: float = 80e-6
    """m, liquid per area that drips no more; 80 mL/m² is plating practice for poor draining (Kushner, from memory)."""

    def __post_init__(self) -> None:
        """Raise ValueError for a condition without physical meaning."""
        for name, value in (("wash time", self.wash_time_s), ("air speed", self.air_speed_m_s)):
            if not (np.isfinite(value) and value > 0.0):
                raise ValueError(f"{name} is {value:g}. Give a value above 0.")
        if not (np.isfinite(self.drained_film_m) and self.drained_film_m >= 0.0):
            raise ValueError(f"drained film is {self.drained_film_m:g} m. Give 0 or more.")
        if not self.duties or any(not 0.0 < duty <= 1.0 for duty in self.duties):
            raise ValueError(f"duties are {self.duties}. Give at least one share above 0 and up to 1.")
        if not self.air_temperatures_K or any(not 253.15 < air < 473.15 for air in self.air_temperatures_K):
            raise ValueError(f"air temperatures are {self.air_temperatures_K} K. Give some between 254 and 473 K.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """One demand on any machine."""

    key: str
    """Stable name; the same demand of another board type has the same key."""
    group: str
    """One of GROUPS."""
    title: Phrase
    """Name shown to people."""
    board_ids: tuple[str, ...]
    """Board types that set it; empty when the plant does."""
    side: Side
    """Which side of `asked` a machine must be on; "must" for what is not a number."""
    asked: float | None
    """SI; meets the need in as many draws as the plant wants, on the demanding side. None for "must"; infinite where
    nothing within reach is enough."""
    band: Three | None
    """5 %, 50 % and 95 % point of the need in SI, or None."""
    dimension: str
    """Dimension of `asked`, or empty."""
    counted: str
    """What is counted per hour, such as "boards"; empty otherwise."""
    sentence: Phrase
    """What is asked and why, in plain words."""
    inputs: tuple[Input, ...]
    """Every quantity read for it."""

    def asked_text(self, system: str = "metric") -> str:
        """Write what is asked in a unit system, such as "at least 12 kPa"."""
        if self.asked is None:
            return "must"
        if np.isinf(self.asked):
            return "out of reach"
        if self.asked == 0.0 and self.side == "at least":
            return "nothing asked"
        return f"{self.side} {self.amount_text(self.asked, system)}"

    def amount_text(self, value: float, system: str = "metric") -> str:
        """Write a value of this demand in a unit system; what is infinite is out of reach."""
        if np.isinf(value):
            return "out of reach"
        written = show(value, self.dimension, system)
        return written.replace("1/h", f"{self.counted}/h") if self.counted else written

    def band_text(self, system: str = "metric") -> str:
        """Write the 5 to 95 % range of the need, empty where there is none or it is one value."""
        if self.band is None or self.band[0] == self.band[2]:
            return ""
        return f"{self.amount_text(self.band[0], system)} to {self.amount_text(self.band[2], system)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidUse:
    """One fluid of the library on one board type."""

    fluid_id: str
    """The fluid."""
    route: Route
    """How its wash ends."""
    dissolves: bool
    """Whether it dissolves this flux family at all."""
    blocked_by: str
    """Why it must not be used on this board all the same, or empty."""
    lowest_K: float
    """K, below it the fluid does not work as meant (likely value)."""
    highest_K: float
    """K, the fluid's and the board's limit, whichever is lower (likely values)."""
    asked_Pa: float | None
    """Pa across the gap at the middle duty; infinite where out of reach; None where it is not usable."""

    @property
    def usable(self) -> bool:
        """Tell whether the fluid may and can clean this board type."""
        return self.asked_Pa is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardDemands:
    """All demands of one board type."""

    board_id: str
    """The board type."""
    fluids: tuple[FluidUse, ...]
    """Every fluid of the library."""
    reference_fluids: dict[Route, str]
    """Fluid that the numbers of each route are worked out with; a route without a usable fluid is left out."""
    demands: tuple[Demand, ...]
    """Its demands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Demands:
    """What the whole board mix asks of any machine."""

    case: Case
    """The case."""
    library: Library
    """Library merged with the case's own records."""
    conditions: Conditions
    """Conditions under which the numbers hold."""
    draws: int
    """Number of draws."""
    share: float
    """Share of the draws in which each asked number is enough."""
    boards: tuple[BoardDemands, ...]
    """Per board type."""
    reference_fluids: dict[Route, str]
    """Fluid of each route that serves most board types, and of those the one that asks for the least pressure."""
    overall: tuple[Demand, ...]
    """The hardest of each demand over all board types, and the plant's own."""


@dataclass(frozen=True, slots=True)
class Asking:
    """Who asks: a board type or the plant, with the book of numbers read for its demands."""

    context: Context
    """Reads case and library; there is no machine in it."""
    board: BoardType | None
    """The board type, or None for the plant."""
    share: float
    """Share of the draws in which an asked number must be enough."""

    def fresh(self) -> Asking:
        """Give the same asker with an empty book."""
        book = self.context.inputs.book
        return asking(self.context.case, self.context.library, self.board, book.draws, book.seed)

    def number(self, key: str, group: str, title: Phrase, side: Side, need: FloatArray, dimension: str,
               sentence: Phrase, counted: str = "") -> Demand:  # fmt: skip
        """Ask for a number, from its need in every draw."""
        return self.banded(key, group, title, side, asked_of(need, side, self.share), low_middle_high(need), dimension,
                           sentence, counted)  # fmt: skip

    def banded(self, key: str, group: str, title: Phrase, side: Side, asked: float, band: Three, dimension: str,
               sentence: Phrase, counted: str = "") -> Demand:  # fmt: skip
        """Ask for a number whose points over the draws are known."""
        return Demand(
            key=key, group=group, title=title, board_ids=(self.board.id,) if self.board else (), side=side, asked=asked,
            band=band, dimension=dimension, counted=counted, sentence=sentence,
            inputs=self.context.inputs.book.inputs(),
        )  # fmt: skip

    def fact(self, key: str, group: str, title: Phrase, sentence: Phrase) -> Demand:
        """Ask for something that is not a number."""
        return Demand(
            key=key, group=group, title=title, board_ids=(self.board.id,) if self.board else (), side="must",
            asked=None, band=None, dimension="", counted="", sentence=sentence,
            inputs=self.context.inputs.book.inputs(),
        )  # fmt: skip


def asked_of(need: FloatArray, side: Side, share: float) -> float:
    """Value that is enough in a share of the draws.

    >>> asked_of(np.arange(11.0), "at least", 0.9), asked_of(np.arange(11.0), "at most", 0.9)
    (9.0, 1.0)
    """
    ordered = np.sort(np.asarray(need, dtype=np.float64))
    return float(ordered[rank_of(ordered.size, share if side == "at least" else 1.0 - share)])


def rank_of(draws: int, share: float) -> int:
    """Index of the point of sorted draws below which a share of them lies."""
    return int(np.floor(share * (draws - 1) + 0.5))


def asking(case: Case, library: Library, board: BoardType | None, draws: int, seed: int) -> Asking:
    """Open a fresh book for a board type or the plant, so that each demand shows only what was read for it."""
    nothing = Machine(
        id="none", name="no machine", class_id="none", class_name="no machine", principle="none", moving="none",
        is_candidate=False, equipment=Equipment(), stated=frozenset(), count=None, supplier="", note="",
    )  # fmt: skip
    musts = case.plant.requirements
    rates = {code: rate.si()[1] for code, rate in case.plant.exchange_rates.items()}
    context = Context(
        case=case, library=library, inputs=MachineInputs(nothing, InputBook(draws, seed, rates)),
        thresholds=Thresholds(meets_from=musts.probability.si()[1], misses_to=musts.rule_out_below.si()[1]),
        trace_of=_no_trace, fields={}, materials={},
    )  # fmt: skip
    return Asking(context, board, musts.probability.si()[1])


def _no_trace(geometry: SprayGeometry) -> ExposureTrace:
    raise ValueError(f"There is no machine to trace: {geometry}. This is a fault of the program; please report it.")
