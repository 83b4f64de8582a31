"""Versions of a case that share the records in which they do not differ, so that a long history stays small."""

from __future__ import annotations

from pydantic import BaseModel

from catalog_schema.case import Case


def with_parts_of(case: Case, other: Case) -> Case:
    """Take every record that stands alike in another version from there.

    Parameters
    ----------
    case, other : Case

    Returns
    -------
    Case
        Equal to `case` and saved as the same text. Records are frozen, so sharing them is safe.
    """
    shared = {}
    # A field that was not set must stay so: it is not written when the case is saved.
    for name in case.model_fields_set & other.model_fields_set:
        now, was = getattr(case, name), getattr(other, name)
        if isinstance(now, tuple):
            before = {_content(one): one for one in was}
            shared[name] = tuple(before.get(_content(one), one) for one in now)
        else:
            shared[name] = was if _content(now) == _content(was) else now
    return case.model_copy(update=shared)


def _content(part: object) -> str:
    # What was set counts too, not only the values: a default that was written down stays written.
    return part.model_dump_json(exclude_unset=True) if isinstance(part, BaseModel) else repr(part)
