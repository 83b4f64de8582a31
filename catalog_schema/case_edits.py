"""Changing a case: every edit gives a new, checked case and leaves the old one as it was."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel

from catalog_schema.case import Case
from catalog_schema.errors import CaseError, Problem, nearest_name_hint
from catalog_schema.files import case_content, check_case
from catalog_schema.library import library_for
from catalog_schema.parsing import validate

LISTS = {
    "board_types": "board type", "candidates": "offer", "trials": "trial", "component_kinds": "component kind",
    "flux_kinds": "flux kind", "board_parts": "board part", "fluids": "fluid", "wetted_materials": "wetted material",
    "machine_classes": "machine class",
}  # fmt: skip
"""Lists of records with an id that a person edits, and the word for one of them."""


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
    if record_id.isdigit() and 0 < int(record_id) <= len(records) and not any("id" in record for record in records):
        return int(record_id) - 1
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


def taken_ids(case: Case, field: str) -> list[str]:
    """List the ids that a new record of a list may not take, those of the library included."""
    # An offer and a class may not share an id, so each list counts for the other.
    fields = ("candidates", "machine_classes") if field in ("candidates", "machine_classes") else (field,)
    library = library_for(case)
    lists = [getattr(holder, name, ()) for name in fields for holder in (library, case)]
    return list(dict.fromkeys(record.id for records in lists for record in records))


def copy_from_library(case: Case, field: str, record_id: str, new_name: str = "") -> tuple[Case, str]:
    """Copy a record that the case works with, shipped or own, into the case, to be changed there.

    Parameters
    ----------
    case : Case
    field : str
        One of the lists that the library has too.
    record_id : str
    new_name : str
        Name of the copy, which then gets an id of its own; empty puts the copy in place of the shipped record.

    Returns
    -------
    (Case, str)
        The new case and the id of the copy.

    Raises
    ------
    CaseError
        When there is no such record, or the case already has its own in place of it.
    """
    content = [record_content(record) for record in getattr(library_for(case), field)]
    copy = content[_position(content, record_id, field)]
    if new_name:
        copy |= {"id": free_id(new_name, taken_ids(case, field)), "name": new_name}
    elif any(record.id == record_id for record in getattr(case, field)):
        message = f"{copy['name']} is this case's own already. Change that one, or copy it under a new name."
        raise CaseError([Problem(file="edit", path=field, message=message)])
    return add_record(case, field, copy), str(copy["id"])


def duplicate_record(case: Case, field: str, record_id: str) -> tuple[Case, str]:
    """Copy a record under a new id and name; give the new case and the new id."""
    content = case_content(case)
    records = _records(content, field)
    position = _position(records, record_id, field)
    copy = dict(records[position])
    copy["id"] = free_id(record_id, taken_ids(case, field))
    if "name" in copy:
        copy["name"] = f"{copy['name']} (copy)"[:120]
    records.insert(position + 1, copy)
    return _checked(content, "edit"), str(copy["id"])


def remove_record(case: Case, field: str, record_id: str) -> Case:
    """Remove a record; refused, naming the users, when other records still need it.

    An own record in place of a shipped one may always go: the shipped one is then used again.
    """
    content = case_content(case)
    records = _records(content, field)
    gone = records.pop(_position(records, record_id, field))
    try:
        return _checked(content, "edit")
    except CaseError as refused:
        # The case was whole before, so whatever is wrong now needs what has gone.
        users = dict.fromkeys(_user_words(case, problem.path) for problem in refused.problems)
        shown = ", ".join(list(users)[:6]) + (f" and {len(users) - 6} more" if len(users) > 6 else "")
        message = f"{str(gone.get('name', record_id))!r} is still used by {shown}. Change that first."
        raise CaseError([Problem(file="edit", path=field, message=message)]) from None


def _user_words(case: Case, path: str) -> str:
    """Name the record at a problem's path as people know it: "board type Power supply"."""
    found = re.match(r"(\w+)\[([^\]]+)\]", path)
    if found is None or found[1] not in LISTS:
        return path.replace("_", " ").replace(".", ": ")
    names = {record.id: getattr(record, "name", record.id) for record in getattr(case, found[1])}
    return f"{LISTS[found[1]]} {names.get(found[2], found[2])}"


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
        Such as `plant.tariffs.labour` or `candidates[offer-a].spray.nozzle_pressure`; a key that is no plain word
        stands in brackets too: `priorities.own_criteria[service].ratings[offer-a]`.
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
        at = _position(here, record_id, path) if isinstance(here, list) else name or record_id
        if last and value is not None:
            here[at] = value
        elif last and isinstance(here, list):
            del here[at]
        elif last:
            here.pop(at, None)
        elif record_id:
            here = here[at] if isinstance(here, list) else here.setdefault(at, {})
        else:
            following = steps[number + 1]
            here = here.setdefault(name, [] if following[1] else {})
    return _checked(content, "edit")
