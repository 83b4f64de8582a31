"""Two versions of a case side by side: what was added, removed and changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from catalog_schema.case import Case
from catalog_schema.files import case_content


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One difference between two versions."""

    path: str
    """Where, such as `candidates[offer-a].spray.nozzle_pressure`."""
    kind: Literal["added", "removed", "changed"]
    """What happened from the earlier to the later version."""
    before: str
    """Earlier value as text, empty when added."""
    after: str
    """Later value as text, empty when removed."""


_QUANTITY_KEYS = {"low", "likely", "high"}


def value_text(value: Any) -> str:
    """Write plain data as short text; quantities as people write them.

    >>> value_text({"low": 2, "high": 5, "unit": "bar"})
    '2..5 bar'
    """
    if isinstance(value, dict) and _QUANTITY_KEYS & value.keys():
        numbers = "..".join(f"{value[key]:g}" for key in ("low", "likely", "high") if value.get(key) is not None)
        basis = f" ({value['basis']})" if value.get("basis") else ""
        return f"{numbers} {value.get('unit', '')}".strip() + basis
    if isinstance(value, dict):
        return ", ".join(f"{key}: {value_text(inner)}" for key, inner in list(value.items())[:6])
    if isinstance(value, list):
        shown = ", ".join(value_text(inner) for inner in value[:6])
        return f"{shown} and {len(value) - 6} more" if len(value) > 6 else shown
    return str(value)


def compare_cases(earlier: Case, later: Case) -> tuple[Change, ...]:
    """List the differences between two versions of a case, records matched by id.

    Parameters
    ----------
    earlier, later : Case

    Returns
    -------
    tuple of Change
        Empty when both say the same; a mere change of order is no change.
    """
    return tuple(_differences(case_content(earlier), case_content(later), ""))


def _by_id(records: list[Any]) -> dict[str, Any] | None:
    if records and all(isinstance(record, dict) and "id" in record for record in records):
        return {str(record["id"]): record for record in records}
    return None


def _differences(before: Any, after: Any, path: str) -> list[Change]:
    if before == after:
        return []
    if isinstance(before, list) and isinstance(after, list):
        first, second = _by_id(before), _by_id(after)
        if (first is not None or not before) and (second is not None or not after):
            return _keyed(first or {}, second or {}, path, "[{}]")
    quantity = isinstance(after, dict) and isinstance(before, dict) and _QUANTITY_KEYS & (before.keys() | after.keys())
    if isinstance(before, dict) and isinstance(after, dict) and not quantity:
        return _keyed(before, after, path, ".{}" if path else "{}")
    return [Change(path=path, kind="changed", before=value_text(before), after=value_text(after))]


def _keyed(before: dict[str, Any], after: dict[str, Any], path: str, form: str) -> list[Change]:
    found: list[Change] = []
    for key in dict.fromkeys([*before, *after]):
        here = path + form.format(key)
        if key not in after:
            found.append(Change(path=here, kind="removed", before=value_text(before[key]), after=""))
        elif key not in before:
            found.append(Change(path=here, kind="added", before="", after=value_text(after[key])))
        else:
            found += _differences(before[key], after[key], here)
    return found
