"""Reading a machine's and a library's quantities as draws, each noted with its path."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from catalog_schema.case import Library
from catalog_schema.machine import Machine
from catalog_schema.quantity import Quantity
from model.input_errors import UnphysicalInputError
from model.uncertainty import FloatArray, InputBook


@dataclass(frozen=True, slots=True)
class MachineInputs:
    """Reads one machine by path, such as "spray.nozzle_diameter"."""

    machine: Machine
    """The machine as stated over its class."""
    book: InputBook
    """Takes note of every quantity read."""
    drawn: dict[str, FloatArray | None] = field(default_factory=dict)
    """Paths drawn before; filled while the machine is computed."""

    def _field(self, path: str) -> object:
        section, _, name = path.partition(".")
        holder = getattr(self.machine.equipment, section)
        return getattr(holder, name) if name else holder

    def quantity(self, path: str) -> Quantity | None:
        """Give the quantity at a path, or None when neither offer nor class has it."""
        found = self._field(path)
        return found if isinstance(found, Quantity) else None

    def full_path(self, path: str) -> str:
        """Name the path with the record it belongs to, as shown to people."""
        group = "candidates" if self.machine.is_candidate else "machine_classes"
        return f"{group}[{self.machine.id}].{path}"

    def draws(self, path: str) -> FloatArray | None:
        """Draw the quantity at a path in SI, or give None when nothing is known."""
        if path not in self.drawn:
            self.drawn[path] = self._draw(path)
        return self.drawn[path]

    def _draw(self, path: str) -> FloatArray | None:
        quantity = self.quantity(path)
        if quantity is None:
            return None
        stated = self.machine.is_stated(path) or not self.machine.is_candidate
        basis = "stated" if self.machine.is_stated(path) else "engineering estimate"
        return self.book.take(quantity, self.full_path(path), basis, stated=stated)

    def needed(self, path: str) -> FloatArray:
        """Draw a quantity that the computation cannot do without; raise MissingInput when nothing is known."""
        found = self.draws(path)
        if found is None:
            raise MissingInputError(self.machine.name, path)
        return found

    def likely(self, path: str) -> float | None:
        """Give the likely value in SI, noted like a draw, or None."""
        quantity = self.quantity(path)
        if quantity is None:
            return None
        self.draws(path)
        return quantity.si()[1]

    def likely_or(self, path: str, otherwise: float) -> float:
        """Give the likely value in SI or another one when nothing is known."""
        found = self.likely(path)
        return otherwise if found is None else found

    def whole(self, path: str) -> int | None:
        """Give a whole number such as a nozzle count, or None."""
        found = self._field(path)
        return found if isinstance(found, int) and not isinstance(found, bool) else None

    def word(self, path: str) -> str | None:
        """Give a word such as a nozzle shape, or None."""
        found = self._field(path)
        return found if isinstance(found, str) else None

    def flag(self, path: str) -> bool | None:
        """Give a yes or no, or None when nothing is known."""
        found = self._field(path)
        return found if isinstance(found, bool) else None


class MissingInputError(Exception):
    """A machine lacks a quantity that its computation needs; said as a finding, not as a crash."""

    def __init__(self, machine_name: str, path: str) -> None:
        """Keep which machine and which path."""
        self.path = path
        super().__init__(f"{machine_name}: {path.replace('_', ' ').replace('.', ': ')} is not known. Ask the supplier.")


def constant_reader(library: Library, book: InputBook) -> Callable[[str], FloatArray]:
    """Give a function that draws a model constant by name, noting it."""

    def read(name: str) -> FloatArray:
        quantity = getattr(library.constants, name)
        if quantity is None:
            raise UnphysicalInputError(f"The library gives no value for the constant {name}.")
        return book.take(quantity, f"constants.{name}", "engineering estimate")

    return read
