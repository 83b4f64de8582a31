"""What an evaluation consists of: frozen records per fluid, board type and machine."""

from __future__ import annotations

from dataclasses import dataclass

from catalog_schema.machine import Machine
from model.board_harm import HarmOutcome
from model.capacity_stage import CapacityStage
from model.cost_totals import CostStage
from model.cycle import BoardCycle
from model.dry_stage import DryStage
from model.esd_requirements import EsdOutcome
from model.requirements import Judged, Result
from model.rinse_stage import RinseStage
from model.spray_drive import LoadFit
from model.stages import WashStage
from model.traceability import TraceabilityOutcome
from model.uncertainty import BoolArray, FloatArray, Input
from model.wetted_parts import MaterialOutcome


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidOutcome:
    """One board type in one machine with one fluid."""

    fluid_id: str
    """The fluid, or empty where none is used."""
    judged: tuple[Judged, ...]
    """Its musts."""
    result: Result
    """All of them together."""
    probability: float
    """Share of the draws in which all that can be computed hold."""
    met: BoolArray
    """Outcome per draw."""
    wash: WashStage | None = None
    """The wash, or None when it was not computed."""
    rinse: RinseStage | None = None
    """The rinse, or None."""
    dry: DryStage | None = None
    """The drying, or None."""
    cycle: BoardCycle | None = None
    """The cycle, or None."""
    materials: MaterialOutcome | None = None
    """Wetted parts against this fluid, or None."""
    harm: HarmOutcome | None = None
    """Sensitive parts of the board against this process, or None."""
    running_cost_per_board: FloatArray | None = None
    """Fluid, water and resin per board in the plant's currency, shape (draws,); decides between fluids that meet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardOutcome:
    """One board type in one machine, with the fluid that does best."""

    board_id: str
    """The board type."""
    fit: LoadFit | None
    """Boards per load."""
    fluids: tuple[FluidOutcome, ...]
    """Every fluid tried."""
    chosen: FluidOutcome
    """The cheapest fluid that meets all, else the one that comes nearest."""
    esd: EsdOutcome | None
    """Rack against this board's most sensitive part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineOutcome:
    """One machine over the whole board mix."""

    machine: Machine
    """The machine."""
    boards: tuple[BoardOutcome, ...]
    """Every board type."""
    judged: tuple[Judged, ...]
    """Musts of the machine as a whole: records, volume, site."""
    capacity: CapacityStage | None
    """Machines, utilisation and waiting, or None where no board type has a cycle."""
    traceability: TraceabilityOutcome | None
    """Functions present, optional and lacking."""
    cost: CostStage | None
    """What it costs over the plant's horizon, or None where an input makes no sense."""
    result: Result
    """Falls short when one board type cannot be cleaned or one must of the machine is missed."""
    probability: float
    """Share of the draws in which all musts hold together."""
    met: BoolArray
    """Outcome per draw."""
    deciding: Judged | None
    """The must that decides: the one least likely to be met."""
    inputs: tuple[Input, ...]
    """Every quantity that was read."""
    columns: dict[str, FloatArray]
    """Draws of the inputs that vary, by path."""
    fingerprint: str
    """Identifies all that the outcome depends on."""

    def all_judged(self) -> tuple[Judged, ...]:
        """Give every must once: those of the chosen fluids, of racks, and of the machine as a whole."""
        seen: dict[tuple[str, str, str], Judged] = {}
        for board in self.boards:
            for one in (*board.chosen.judged, *(board.esd.judged if board.esd else ())):
                must = one.requirement
                # A wetted part meets the same fluid under every board type: shown once.
                seen.setdefault((must.key, must.board_id, must.fluid_id), one)
        for one in self.judged:
            seen.setdefault((one.requirement.key, "", ""), one)
        return tuple(seen.values())

    def board(self, board_id: str) -> BoardOutcome:
        """Give the outcome of a board type by id; raises KeyError when there is none."""
        for outcome in self.boards:
            if outcome.board_id == board_id:
                return outcome
        raise KeyError(board_id)
