"""The generic library shipped with Washcase, and how a case's own records override it."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import Protocol, TypeVar

from catalog_schema.case import Case, Library
from catalog_schema.constants import Constants
from catalog_schema.parsing import read_yaml, validate

LIBRARY_FOLDER = Path(__file__).parent / "library"


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


R = TypeVar("R", bound=_HasId)


@lru_cache(maxsize=1)
def load_library() -> Library:
    """Load the shipped library: one YAML file per field of `Library`.

    Returns
    -------
    Library
        Machine classes, component kinds, flux kinds, board parts, fluids, wetted materials, constants.

    Raises
    ------
    CaseError
        When a shipped file is damaged; lists every problem with its place.

    """
    content = {
        field: read_yaml((LIBRARY_FOLDER / f"{field}.yaml").read_bytes(), f"library/{field}.yaml")
        for field in Library.model_fields
    }
    return validate(Library, content, "library")


def override(base: Iterable[R], own: Iterable[R]) -> tuple[R, ...]:
    """Replace records of `base` by those of `own` with the same id, and append the rest."""
    merged = {record.id: record for record in base}
    merged.update({record.id: record for record in own})
    return tuple(merged.values())


def library_for(case: Case, library: Library | None = None) -> Library:
    """Merge a case's own records over the shipped library.

    Parameters
    ----------
    case : Case
    library : Library, optional
        Base library; the shipped one when absent.

    Returns
    -------
    Library

    """
    base = load_library() if library is None else library
    return Library(
        machine_classes=override(base.machine_classes, case.machine_classes),
        component_kinds=override(base.component_kinds, case.component_kinds),
        flux_kinds=override(base.flux_kinds, case.flux_kinds),
        board_parts=override(base.board_parts, case.board_parts),
        fluids=override(base.fluids, case.fluids),
        wetted_materials=override(base.wetted_materials, case.wetted_materials),
        constants=base.constants.model_copy(
            update={
                name: value for name in Constants.model_fields if (value := getattr(case.constants, name)) is not None
            }
        ),
    )
