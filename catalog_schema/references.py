"""Checks across records: names that must exist, names that must be unique, money that must convert."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from typing import Protocol

from pydantic import BaseModel

from catalog_schema.case import Case, Library
from catalog_schema.errors import Problem, nearest_name_hint
from catalog_schema.machines import Candidate, MachineClass
from catalog_schema.parsing import MAX_PROBLEMS
from catalog_schema.priorities import CRITERIA
from catalog_schema.quantity import Quantity

LIBRARY_CURRENCY = "EUR"
"""The shipped library's prices are rough euros; another plant currency needs an exchange rate for it."""


def walk_quantities(record: object, path: str = "") -> Iterator[tuple[str, Quantity]]:
    """Yield every quantity inside a record with its path."""
    if isinstance(record, Quantity):
        yield path, record
    elif isinstance(record, BaseModel):
        for name in type(record).model_fields:
            yield from walk_quantities(getattr(record, name), f"{path}.{name}" if path else name)
    elif isinstance(record, (tuple, list)):
        for position, item in enumerate(record):
            yield from walk_quantities(item, f"{path}[{getattr(item, 'id', None) or position + 1}]")
    elif isinstance(record, dict):
        for name, item in record.items():
            yield from walk_quantities(item, f"{path}.{name}")


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


Found = Iterator[tuple[str, str]]
"""Path and message of each problem, made only as far as it is asked for."""


def _missing(path: str, name: str, allowed: Collection[str], what: str) -> Found:
    if name not in allowed:
        yield path, f"{name!r} is not a known {what}. {nearest_name_hint(name, allowed)}"


def _duplicates(path: str, names: Iterable[str]) -> Found:
    for name, count in Counter(names).items():
        if count > 1:
            yield path, f"the id {name!r} is used {count} times. Ids must differ."


def _ids(records: Iterable[_HasId]) -> dict[str, None]:
    """Give the ids in their order, quick to look up."""
    return dict.fromkeys(record.id for record in records)


def find_reference_problems(case: Case, library: Library, file: str) -> list[Problem]:
    """List dangling references, duplicate ids, unknown criteria and money without an exchange rate.

    Parameters
    ----------
    case : Case
    library : Library
        Already merged with the case's own records.
    file : str
        Name used in problems.

    Returns
    -------
    list of Problem
        Empty when all is well; MAX_PROBLEMS at most.

    """
    found = itertools.chain(_reference_problems(case, library), _money_problems(case))
    return [Problem(file=file, path=path, message=message) for path, message in itertools.islice(found, MAX_PROBLEMS)]


def _reference_problems(case: Case, library: Library) -> Found:
    classes = _ids(library.machine_classes)
    kinds = _ids(library.component_kinds)
    fluxes = _ids(library.flux_kinds)
    parts = _ids(library.board_parts)
    fluids = _ids(library.fluids)
    materials = _ids(library.wetted_materials)
    candidates = _ids(case.candidates)
    boards = _ids(case.board_types)
    criterion_names = [*CRITERIA, *(criterion.id for criterion in case.priorities.own_criteria)]
    criteria = dict.fromkeys(criterion_names)
    machine_names = candidates | classes

    for field in ("board_types", "candidates", "trials", "component_kinds", "flux_kinds", "board_parts", "fluids",
                  "wetted_materials", "machine_classes"):  # fmt: skip
        yield from _duplicates(field, (record.id for record in getattr(case, field)))
    yield from _duplicates("priorities.own_criteria", criterion_names)
    yield from _duplicates("priorities.stakeholders", (voice.id for voice in case.priorities.stakeholders))
    for name in candidates:
        if name in classes:
            yield f"candidates[{name}].id", f"{name!r} is also a machine class. Choose another id."
    yield from _duplicates("compare_classes", case.compare_classes or ())
    for class_id in case.compare_classes or ():
        yield from _missing("compare_classes", class_id, classes, "machine class")
    for board in case.board_types:
        path = f"board_types[{board.id}]"
        yield from _missing(f"{path}.flux", board.flux, fluxes, "flux kind")
        for component in board.components:
            yield from _missing(f"{path}.components", component.kind, kinds, "component kind")
        for part in board.parts:
            yield from _missing(f"{path}.parts", part, parts, "board part")
        yield from _duplicates(f"{path}.components", (component.kind for component in board.components))
    for kind in library.component_kinds:
        for part in kind.parts:
            yield from _missing(f"component_kinds[{kind.id}].parts", part, parts, "board part")
    machines: list[MachineClass | Candidate] = [*library.machine_classes, *case.candidates]
    for machine in machines:
        field = "candidates" if machine.id in candidates else "machine_classes"
        path = f"{field}[{machine.id}]"
        for fluid in machine.wash.fluids or ():
            yield from _missing(f"{path}.wash.fluids", fluid, fluids, "fluid")
        for wetted in machine.wetted_parts or ():
            yield from _missing(f"{path}.wetted_parts", wetted.material, materials, "wetted material")
            if wetted.replacement_material is not None:
                yield from _missing(f"{path}.wetted_parts", wetted.replacement_material, materials, "wetted material")
    for candidate in case.candidates:
        path = f"candidates[{candidate.id}].machine_class"
        yield from _missing(path, candidate.machine_class, classes, "machine class")
    for material in library.wetted_materials:
        for rule in material.rules:
            if rule.fluid is not None:
                yield from _missing(f"wetted_materials[{material.id}].rules", rule.fluid, fluids, "fluid")
    if case.plant.finance.reference is not None:
        reference = case.plant.finance.reference
        yield from _missing("plant.finance.reference", reference, machine_names, "candidate or class")
    for trial in case.trials:
        path = f"trials[{trial.id}]"
        yield from _missing(f"{path}.board_type", trial.board_type, boards, "board type")
        yield from _missing(f"{path}.component", trial.component, kinds, "component kind")
        yield from _missing(f"{path}.machine", trial.machine, machine_names, "candidate or class")
        yield from _missing(f"{path}.fluid", trial.fluid, fluids, "fluid")
    for voice in case.priorities.stakeholders:
        path = f"priorities.stakeholders[{voice.id}]"
        named = [*voice.swing, *voice.order, *voice.direct]
        named += [name for judgement in voice.pairwise for name in (judgement.first, judgement.second)]
        for name in dict.fromkeys(named):
            yield from _missing(path, name, criteria, "criterion")
        yield from _duplicates(f"{path}.order", voice.order)
    for name in [*case.priorities.value_functions, *case.priorities.weight_ranges]:
        yield from _missing("priorities", name, criteria, "criterion")
    for criterion in case.priorities.own_criteria:
        for name in criterion.ratings:
            path = f"priorities.own_criteria[{criterion.id}].ratings"
            yield from _missing(path, name, machine_names, "candidate or class")


def _money_problems(case: Case) -> Found:
    for code, rate in case.plant.exchange_rates.items():
        if rate.si()[0] <= 0.0:
            yield f"plant.exchange_rates.{code}", f"{rate.text()} is not above 0. Give for example 1.1."
    convertible = {case.plant.currency, *case.plant.exchange_rates}
    for path, quantity in walk_quantities(case):
        if quantity.currency is not None and quantity.currency not in convertible:
            yield path, (
                f"{quantity.currency} has no exchange rate to {case.plant.currency}. Add it under "
                f"plant.exchange_rates or give the amount in {case.plant.currency}."
            )
        if "money" in quantity.dimension and quantity.currency is None:
            yield path, f"names no currency. Give for example {quantity.example()}."
    if LIBRARY_CURRENCY not in convertible:
        yield "plant.exchange_rates", (
            f"prices of the generic library are in {LIBRARY_CURRENCY}. Add how many {case.plant.currency} one "
            f"{LIBRARY_CURRENCY} is, for example {LIBRARY_CURRENCY}: 1.1."
        )
