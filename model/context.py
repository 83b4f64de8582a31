"""What every stage of one machine reads: case, library, draws, thresholds and the traces already made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np

from catalog_schema.boards import BoardPart, BoardType, ComponentKind
from catalog_schema.case import Case, Library
from catalog_schema.fluids import Fluid
from catalog_schema.machine import Machine
from catalog_schema.quantity import Quantity
from model.fluid_state import FluidState, fluid_path
from model.fluids import water_viscosity_Pa_s
from model.input_errors import UnphysicalInputError
from model.laminate import BakeSuggestion
from model.machine_inputs import MachineInputs, constant_reader
from model.requirements import Judged, Thresholds
from model.rinse import RinseResult
from model.spray_drive import SprayGeometry, SprayPump
from model.spray_field import ExposureTrace
from model.uncertainty import FloatArray
from model.wash import BathDrive, DutyKey, RunOutDuty, SprayDrive, SprayField, WashOutcome
from model.wetted_parts import MaterialOutcome

G = TypeVar("G")

TraceOf = Callable[[SprayGeometry], ExposureTrace]


@dataclass(frozen=True, slots=True, kw_only=True)
class Washed:
    """Wash of one board type with one fluid in one machine, per draw."""

    drive: SprayDrive | BathDrive
    """What pushes the fluid under the components."""
    pump: SprayPump | None
    """Operating point of a spraying machine."""
    outcome: WashOutcome
    """Clearing."""
    reach_ratio: FloatArray | None
    """Depth cleared in the longest wash over the depth needed, None where that is not known, shape (draws,)"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rinsed:
    """The rinse of a load, per draw; the load is one belt pitch of boards on a belt."""

    rinses: FloatArray
    """Rinses or stages done, infinite where no number reaches the limit, shape (draws,)"""
    time_s: FloatArray
    """s, shape (draws,)"""
    water_m3: FloatArray
    """m³ of rinse water per board, shape (draws,)"""
    resin_m3: FloatArray
    """m³ of ion-exchange resin used up per board, shape (draws,)"""
    drag_out_m3: FloatArray
    """m³ of wash fluid carried out per board, shape (draws,)"""
    residue_left_kg_m2: FloatArray
    """kg/m² NaCl equivalent, shape (draws,)"""
    result: RinseResult | None
    """The mass balance of the load; None without a rinse, or in a large case, where it is not kept."""
    film_m: FloatArray
    """m, liquid per area left after draining, shape (draws,)"""
    gap_volume_m3: FloatArray
    """m³ of liquid under the components of one board, shape (draws,)"""


@dataclass(frozen=True, slots=True, kw_only=True)
class LaminateState:
    """Moisture of a board's laminate after the machine's own drying, per draw."""

    after_share: FloatArray
    """Water over dry mass, shape (draws,)"""
    bake: BakeSuggestion
    """Bake at the temperature of the machine's own air that would bring it to the board's limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dried:
    """Drying of one board type from one liquid in one machine, per draw; the same after every fluid that leaves it."""

    needed_time_s: FloatArray
    """s, infinite where it never gets dry, shape (draws,)"""
    limited_by: str
    """What takes longest in most draws."""
    laminate: LaminateState | None
    """Laminate, or None where the board type has no limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What every stage of one machine reads."""

    case: Case
    """The case."""
    library: Library
    """Library merged with the case's own records."""
    inputs: MachineInputs
    """The machine's quantities."""
    thresholds: Thresholds
    """When a must is met or missed."""
    trace_of: TraceOf
    """Gives the ray trace of a geometry, made once."""
    fields: dict[tuple[DutyKey, bytes], SprayField]
    """Spray fields already reduced, by what they depend on and film run-outs; filled while one machine is computed."""
    materials: dict[str, MaterialOutcome]
    """Wetted parts already judged, by fluid and temperature; filled while one machine is computed."""
    geometries: dict[tuple[float, float, int], SprayGeometry] = field(default_factory=dict)
    """What is traced, by traced length [m], width [m] and number of boards; filled while one machine is computed."""
    duties: dict[DutyKey, dict[float, RunOutDuty]] = field(default_factory=dict)
    """Duties already computed, by what they depend on, then by film run-out; filled while one machine is computed."""
    of_boards: dict[str, FloatArray] = field(default_factory=dict)
    """What follows from a board type alone, by name, per draw; machines of one evaluation may share it."""
    figures: dict[str, FloatArray] = field(default_factory=dict)
    """Figures already computed that every stage asks for again, by name; filled while one machine is computed."""
    states: dict[str, list[FluidState]] = field(default_factory=dict)
    """Fluids already brought to a temperature, by fluid; filled while one machine is computed."""
    pumps: dict[str, SprayPump] = field(default_factory=dict)
    """Operating points already found, by fluid; filled while one machine is computed."""
    judged: dict[str, Judged] = field(default_factory=dict)
    """Musts that several board types share, by name; filled while one machine is computed."""
    known_kinds: dict[str, ComponentKind] = field(default_factory=dict)
    """See `kinds`; filled when first asked for."""
    known_parts: dict[str, BoardPart] = field(default_factory=dict)
    """See `parts`; filled when first asked for."""
    slowest: dict[str, ComponentKind] = field(default_factory=dict)
    """The component kind that dries last, by board type; machines of one evaluation may share it."""
    washed: dict[tuple[str, str], Washed] = field(default_factory=dict)
    """Washes already computed, by board type and fluid; filled while one machine is computed."""
    rinsed: dict[tuple[str, str], Rinsed] = field(default_factory=dict)
    """Rinses already computed, by board type and fluid; filled while one machine is computed."""
    dried: dict[str, Dried] = field(default_factory=dict)
    """Drying already computed, by board type and liquid; filled while one machine is computed."""

    @property
    def machine(self) -> Machine:
        """The machine itself."""
        return self.inputs.machine

    @property
    def kinds(self) -> dict[str, ComponentKind]:
        """Component kinds of the library by id."""
        if not self.known_kinds:
            self.known_kinds.update({kind.id: kind for kind in self.library.component_kinds})
        return self.known_kinds

    @property
    def parts(self) -> dict[str, BoardPart]:
        """Board parts of the library by id."""
        if not self.known_parts:
            self.known_parts.update({part.id: part for part in self.library.board_parts})
        return self.known_parts

    @property
    def draws(self) -> int:
        """Number of draws."""
        return self.inputs.book.draws

    def constant(self, name: str) -> FloatArray:
        """Draw a model constant."""
        known = f"constant {name}"
        if known not in self.figures:
            self.figures[known] = constant_reader(self.library, self.inputs.book)(name)
        return self.figures[known]

    def of_board(self, board: BoardType, field: str) -> FloatArray:
        """Draw a quantity of a board type."""
        return self.inputs.book.take(getattr(board, field), f"board_types[{board.id}].{field}", "measured")

    def of_kind(self, kind: ComponentKind, field: str) -> FloatArray:
        """Draw a quantity of a component kind."""
        path = f"component_kinds[{kind.id}].{field}"
        return self.inputs.book.take(getattr(kind, field), path, "engineering estimate")

    def of_fluid(self, fluid: Fluid, field: str) -> FloatArray:
        """Draw a quantity of a fluid."""
        return self.inputs.book.take(getattr(fluid, field), fluid_path(fluid, field), "engineering estimate")

    def once(self, name: str, compute: Callable[[], FloatArray]) -> FloatArray:
        """Give what follows from a board type alone: computed once a machine, kept but once for all machines."""
        # Each machine computes it, since its book must take note of what was read for it.
        return self.once_from(name, compute, lambda computed: computed)

    def once_from(self, name: str, read: Callable[[], G], compute: Callable[[G], FloatArray]) -> FloatArray:
        """Give what follows from a board type alone, as `once`, but computed once for all machines: each only reads."""
        if name not in self.figures:
            # Each machine reads, since its book must take note of it.
            given = read()
            if name not in self.of_boards:
                self.of_boards[name] = compute(given)
            self.figures[name] = self.of_boards[name]
        return self.figures[name]

    def full(self, value: float) -> FloatArray:
        """Give one number for all draws, as an array that all who ask for it share."""
        return self.once(f"the number {value!r}", lambda: np.full(self.draws, value))

    def of_plant(self, path: str) -> FloatArray | None:
        """Draw a quantity of the plant by path, such as "tariffs.water", or None where the plant gives none."""
        found: object = self.case.plant
        for name in path.split("."):
            found = getattr(found, name)
        if not isinstance(found, Quantity):
            return None
        return self.inputs.book.take(found, f"plant.{path}", "measured")

    def from_plant(self, path: str) -> FloatArray:
        """Draw a quantity that every plant has."""
        found = self.of_plant(path)
        if found is None:
            raise UnphysicalInputError(f"plant.{path} is not given. Give it.")
        return found

    def rinse_viscosity_Pa_s(self) -> FloatArray:
        """Viscosity of rinse water at the temperature the machine rinses with, Pa·s."""
        name = "viscosity of rinse water"
        if name not in self.figures:
            warm = self.inputs.draws("rinse.temperature")
            temperature = self.from_plant("air_temperature") if warm is None else warm
            self.figures[name] = np.asarray(water_viscosity_Pa_s(np.clip(temperature, 274.0, 380.0)))
        return self.figures[name]
