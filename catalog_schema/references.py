"""Checks across records: names that must exist, names that must be unique, money that must convert."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from pydantic import BaseModel

from catalog_schema.case import Case, Library
from catalog_schema.errors import Problem, nearest_name_hint
from catalog_schema.machines import Candidate, MachineClass
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


def _missing(path: str, name: str, allowed: Iterable[str], what: str) -> list[tuple[str, str]]:
    names = list(allowed)
    return [] if name in names else [(path, f"{name!r} is not a known {what}. {nearest_name_hint(name, names)}")]


def _duplicates(path: str, names: Iterable[str]) -> list[tuple[str, str]]:
    return [(path, f"the id {name!r} is used {count} times. Ids must differ.")
            for name, count in Counter(names).items() if count > 1]  # fmt: skip


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
        Empty when all is well.

    """
    found: list[tuple[str, str]] = []
    classes = [record.id for record in library.machine_classes]
    kinds = [record.id for record in library.component_kinds]
    fluxes = [record.id for record in library.flux_kinds]
    parts = [record.id for record in library.board_parts]
    fluids = [record.id for record in library.fluids]
    materials = [record.id for record in library.wetted_materials]
    candidates = [record.id for record in case.candidates]
    boards = [record.id for record in case.board_types]
    criteria = [*CRITERIA, *(criterion.id for criterion in case.priorities.own_criteria)]

    for field in ("board_types", "candidates", "trials", "component_kinds", "flux_kinds", "board_parts", "fluids",
                  "wetted_materials", "machine_classes"):  # fmt: skip
        found += _duplicates(field, (record.id for record in getattr(case, field)))
    found += _duplicates("priorities.own_criteria", criteria)
    found += _duplicates("priorities.stakeholders", (voice.id for voice in case.priorities.stakeholders))
    for name in candidates:
        if name in classes:
            found.append((f"candidates[{name}].id", f"{name!r} is also a machine class. Choose another id."))
    for class_id in case.compare_classes or ():
        found += _missing("compare_classes", class_id, classes, "machine class")
    for board in case.board_types:
        path = f"board_types[{board.id}]"
        found += _missing(f"{path}.flux", board.flux, fluxes, "flux kind")
        for component in board.components:
            found += _missing(f"{path}.components", component.kind, kinds, "component kind")
        for part in board.parts:
            found += _missing(f"{path}.parts", part, parts, "board part")
        found += _duplicates(f"{path}.components", (component.kind for component in board.components))
    for kind in library.component_kinds:
        for part in kind.parts:
            found += _missing(f"component_kinds[{kind.id}].parts", part, parts, "board part")
    machines: list[MachineClass | Candidate] = [*library.machine_classes, *case.candidates]
    for machine in machines:
        field = "candidates" if machine.id in candidates else "machine_classes"
        path = f"{field}[{machine.id}]"
        for fluid in machine.wash.fluids or ():
            found += _missing(f"{path}.wash.fluids", fluid, fluids, "fluid")
        for wetted in machine.wetted_parts or ():
            found += _missing(f"{path}.wetted_parts", wetted.material, materials, "wetted material")
            if wetted.replacement_material is not None:
                found += _missing(f"{path}.wetted_parts", wetted.replacement_material, materials, "wetted material")
    for candidate in case.candidates:
        path = f"candidates[{candidate.id}].machine_class"
        found += _missing(path, candidate.machine_class, classes, "machine class")
    for material in library.wetted_materials:
        for rule in material.rules:
            if rule.fluid is not None:
                found += _missing(f"wetted_materials[{material.id}].rules", rule.fluid, fluids, "fluid")
    if case.plant.finance.reference is not None:
        allowed = [*candidates, *classes]
        found += _missing("plant.finance.reference", case.plant.finance.reference, allowed, "candidate or class")
    for trial in case.trials:
        path = f"trials[{trial.id}]"
        found += _missing(f"{path}.board_type", trial.board_type, boards, "board type")
        found += _missing(f"{path}.component", trial.component, kinds, "component kind")
        found += _missing(f"{path}.machine", trial.machine, [*candidates, *classes], "candidate or class")
        found += _missing(f"{path}.fluid", trial.fluid, fluids, "fluid")
    for voice in case.priorities.stakeholders:
        path = f"priorities.stakeholders[{voice.id}]"
        named = [*voice.swing, *voice.order, *voice.direct]
        named += [name for judgement in voice.pairwise for name in (judgement.first, judgement.second)]
        for name in dict.fromkeys(named):
            found += _missing(path, name, criteria, "criterion")
        found += _duplicates(f"{path}.order", voice.order)
    for name in [*case.priorities.value_functions, *case.priorities.weight_ranges]:
        found += _missing("priorities", name, criteria, "criterion")
    for criterion in case.priorities.own_criteria:
        for name in criterion.ratings:
            path = f"priorities.own_criteria[{criterion.id}].ratings"
            found += _missing(path, name, [*candidates, *classes], "candidate or class")
    found += _money_problems(case)
    return [Problem(file=file, path=path, message=message) for path, message in found]


def _money_problems(case: Case) -> list[tuple[str, str]]:
    convertible = {case.plant.currency, *case.plant.exchange_rates}
    found = [
        (path, f"{quantity.currency} has no exchange rate to {case.plant.currency}. "
               f"Add it under plant.exchange_rates or give the amount in {case.plant.currency}.")
        for path, quantity in walk_quantities(case)
        if quantity.currency is not None and quantity.currency not in convertible
    ]  # fmt: skip
    for path, quantity in walk_quantities(case):
        if "money" in quantity.dimension and quantity.currency is None:
            found.append((path, "names no currency. Give for example " + quantity.example() + "."))
    if LIBRARY_CURRENCY not in convertible:
        found.append(
            ("plant.exchange_rates", f"prices of the generic library are in {LIBRARY_CURRENCY}. Add how many "
             f"{case.plant.currency} one {LIBRARY_CURRENCY} is, for example {LIBRARY_CURRENCY}: 1.1.")
        )  # fmt: skip
    return found
