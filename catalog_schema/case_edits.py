"""Changing a case: every edit gives a new, checked case and leaves the old one as it was."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel

from catalog_schema.case import Case
from catalog_schema.errors import CaseError, Problem, nearest_name_hint
from catalog_schema.files import case_content, check_case
from catalog_schema.parsing import validate

LISTS = ("board_types", "candidates", "trials", "component_kinds", "fluids", "wetted_materials")
"""Lists of records with an id that a person edits."""


def free_id(wanted: str, taken: list[str]) -> str:
    """Give an id like the wanted text that is not taken yet.

    >>> free_id("Offer F: belt", ["offer-f-belt"])
    'offer-f-belt-2'
    """
    base = re.sub(r"[^a-z0-9_.-]+", "-", wanted.lower()).strip("-.")[:56] or "new"
    if base not in taken:
        return base
    number = 2
    while f"{base}-{number}" in taken:
        number += 1
    return f"{base}-{number}"


def _checked(content: dict[str, Any], file: str) -> Case:
    return check_case(validate(Case, content, file), file)


def _records(content: dict[str, Any], field: str) -> list[dict[str, Any]]:
    if field not in LISTS:
        problem = Problem(
            file="case", path=field, message=f"is not a list of records. {nearest_name_hint(field, LISTS)}"
        )
        raise CaseError([problem])
    records: list[dict[str, Any]] = content.setdefault(field, [])
    return records


def _position(records: list[dict[str, Any]], record_id: str, field: str) -> int:
    for position, record in enumerate(records):
        if record.get("id") == record_id:
            return position
    names = [str(record.get("id")) for record in records]
    message = f"{record_id!r} is not there. {nearest_name_hint(record_id, names)}"
    raise CaseError([Problem(file="case", path=field, message=message)])


def record_content(record: BaseModel) -> dict[str, Any]:
    """Give the plain data of a record: what was set, without defaults."""
    content: dict[str, Any] = record.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    return content


def add_record(case: Case, field: str, record: Mapping[str, Any]) -> Case:
    """Add a record (plain data with an id) to one of the LISTS.

    Raises
    ------
    CaseError
        When the record or the case with it is not valid.
    """
    content = case_content(case)
    _records(content, field).append(dict(record))
    return _checked(content, "edit")


def duplicate_record(case: Case, field: str, record_id: str) -> tuple[Case, str]:
    """Copy a record under a new id and name; give the new case and the new id."""
    content = case_content(case)
    records = _records(content, field)
    position = _position(records, record_id, field)
    copy = dict(records[position])
    copy["id"] = free_id(record_id, [str(record["id"]) for record in records])
    if "name" in copy:
        copy["name"] = f"{copy['name']} (copy)"[:120]
    records.insert(position + 1, copy)
    return _checked(content, "edit"), str(copy["id"])


def remove_record(case: Case, field: str, record_id: str) -> Case:
    """Remove a record; refused when another record still names it."""
    content = case_content(case)
    records = _records(content, field)
    del records[_position(records, record_id, field)]
    return _checked(content, "edit")


def replace_record(case: Case, field: str, record_id: str, record: Mapping[str, Any]) -> Case:
    """Put other plain data in the place of a record."""
    content = case_content(case)
    records = _records(content, field)
    records[_position(records, record_id, field)] = dict(record)
    return _checked(content, "edit")


def set_value(case: Case, path: str, value: Any) -> Case:
    """Set one field by path; None takes it out, which means "not stated".

    Parameters
    ----------
    case : Case
    path : str
        Such as `plant.tariffs.labour` or `candidates[offer-a].spray.nozzle_pressure`.
    value : object
        Text such as "3.5 bar", plain data, or None.

    Returns
    -------
    Case

    Raises
    ------
    CaseError
        With the path of what is wrong; the given case is unchanged.
    """
    content = case_content(case)
    steps = re.findall(r"([A-Za-z_][A-Za-z0-9_ ]*)|\[([^\]]+)\]", path)
    if not steps:
        raise CaseError([Problem(file="edit", path=path, message="is not a path. Give one like plant.tariffs.labour.")])
    here: Any = content
    for number, (name, record_id) in enumerate(steps):
        last = number == len(steps) - 1
        if record_id:
            here = here[_position(here, record_id, path)] if isinstance(here, list) else here.setdefault(record_id, {})
        elif last:
            if value is None:
                here.pop(name, None)
            else:
                here[name] = value
        else:
            following = steps[number + 1]
            here = here.setdefault(name, [] if following[1] else {})
    return _checked(content, "edit")
