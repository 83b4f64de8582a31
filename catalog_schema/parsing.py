"""Safe reading: bytes become plain data, plain data becomes a record, and all problems are listed at once."""

from __future__ import annotations

import types
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, Union, get_args, get_origin

import yaml
from pydantic import BaseModel, ValidationError

from catalog_schema.errors import CaseError, Problem, nearest_name_hint

MAX_BYTES = 2_000_000
MAX_DEPTH = 30
MAX_NODES = 100_000
MAX_ENTRIES = 2_000
"""In one list or group; no plant has more boards, offers or trials."""
MAX_PROBLEMS = 200

_PLAIN_TAGS = frozenset(
    ["!", *(f"tag:yaml.org,2002:{kind}" for kind in ("map", "seq", "str", "int", "float", "bool", "null"))]
)
"""Tags of plain data; binary, set, timestamp and the tags of a programming language are refused."""

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

M = TypeVar("M", bound=BaseModel)


class _PlacedError(Exception):
    """A problem with its path in the file."""

    def __init__(self, path: str, message: str) -> None:
        self.path = path
        super().__init__(message)


class _StrictLoader(_Loader):  # type: ignore[misc]  # the C loader has no type information
    """Safe loader that refuses duplicate keys and reads no dates or sexagesimal numbers."""


_StrictLoader.yaml_implicit_resolvers = {
    first: [
        (tag, pattern)
        for tag, pattern in resolvers
        if tag not in ("tag:yaml.org,2002:timestamp", "tag:yaml.org,2002:merge")
    ]
    for first, resolvers in _Loader.yaml_implicit_resolvers.items()
}


def _construct_mapping(loader: Any, node: yaml.MappingNode) -> dict[str, Any]:
    result: dict[str, Any] = {}
    for key_node, value_node in node.value:
        line = key_node.start_mark.line + 1
        if not isinstance(key_node, yaml.ScalarNode):
            raise ValueError(f"line {line}: a key must be plain text.")
        key = str(key_node.value)
        if key in result:
            raise ValueError(f"line {line}: the key {key[:60]!r} stands twice. Keep one.")
        result[key] = loader.construct_object(value_node, deep=True)
    return result


def _construct_integer(loader: Any, node: yaml.ScalarNode) -> int | str:
    # A clock-like or underscore number is text to us; plain decimal digits only.
    text = str(node.value)
    if text.lstrip("+-").isdigit() and text.isascii() and len(text) <= 30:
        return int(text)
    return text


_StrictLoader.add_constructor("tag:yaml.org,2002:map", _construct_mapping)
_StrictLoader.add_constructor("tag:yaml.org,2002:int", _construct_integer)


def _line(event: Any) -> int:
    return int(event.start_mark.line) + 1


@dataclass(slots=True)
class _Group:
    """A list or group of keys that is being read."""

    is_list: bool
    entries: int = 0
    key: str | None = None
    """Key whose value comes next; None when a key comes next."""


def _place(groups: Sequence[_Group]) -> str:
    """Write the path of the innermost group."""
    text = ""
    for group in groups[:-1]:
        if group.is_list:
            text += f"[{group.entries}]"
        else:
            key = (group.key or "")[:64]
            text += f".{key}" if text else key
    return text


def _check_events(text: str) -> None:
    """Refuse aliases, own tags, too deep, too wide or too large documents before anything is built."""
    nodes = documents = 0
    groups: list[_Group] = []
    for event in yaml.parse(text, Loader=_Loader):
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            raise ValueError(
                f"line {_line(event)}: anchors and aliases (& and *) are not used here. Write the value out."
            )
        tag = getattr(event, "tag", None)
        if tag is not None and tag not in _PLAIN_TAGS:
            raise ValueError(f"line {_line(event)}: the tag {tag[:40]!r} is not allowed. Remove it.")
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                raise ValueError("the file holds more than one document (---). Keep one per file.")
        if groups and isinstance(event, yaml.NodeEvent):
            _count(groups, event)
        if isinstance(event, yaml.CollectionStartEvent):
            groups.append(_Group(isinstance(event, yaml.SequenceStartEvent)))
            if len(groups) > MAX_DEPTH:
                raise ValueError(f"line {_line(event)}: nested deeper than {MAX_DEPTH} levels.")
        elif isinstance(event, yaml.CollectionEndEvent):
            groups.pop()
            if groups:
                groups[-1].key = None
        nodes += 1
        if nodes > MAX_NODES:
            raise ValueError(f"more than {MAX_NODES} entries. Split the case.")


def _count(groups: Sequence[_Group], event: Any) -> None:
    """Count an entry of the innermost group, or note its key."""
    group = groups[-1]
    if not group.is_list and group.key is None:
        group.key = str(getattr(event, "value", ""))
        return
    group.entries += 1
    if group.entries > MAX_ENTRIES:
        raise _PlacedError(
            _place(groups), f"line {_line(event)}: more than {MAX_ENTRIES} entries in one list or group. Split it."
        )
    if not group.is_list and isinstance(event, yaml.ScalarEvent):
        group.key = None


def read_yaml(content: bytes | str, file: str) -> Any:
    """Read YAML (or JSON, which is YAML) into plain dicts, lists, texts and numbers.

    Parameters
    ----------
    content : bytes or str
        UTF-8, with or without byte-order mark.
    file : str
        Name used in problems.

    Returns
    -------
    object

    Raises
    ------
    CaseError
        For anything that is not one plain, small, alias-free document without duplicate keys.

    """
    if len(content) > MAX_BYTES:
        raise CaseError([Problem(file=file, path="", message=f"{len(content)} bytes is over {MAX_BYTES}. Split it.")])
    try:
        text = content.decode("utf-8-sig") if isinstance(content, bytes) else content.lstrip("\ufeff")
    except UnicodeDecodeError as problem:
        message = f"byte {problem.start} is not UTF-8 text. Save the file as UTF-8."
        raise CaseError([Problem(file=file, path="", message=message)]) from None
    try:
        _check_events(text)
        return yaml.load(text, Loader=_StrictLoader)  # derived from the safe loader
    except yaml.MarkedYAMLError as problem:
        mark = problem.problem_mark
        place = f"line {mark.line + 1}, column {mark.column + 1}: " if mark else ""
        message = f"{place}{problem.problem or 'not readable as YAML'}."
        raise CaseError([Problem(file=file, path="", message=message)]) from None
    except _PlacedError as problem:
        raise CaseError([Problem(file=file, path=problem.path, message=str(problem))]) from None
    except (yaml.YAMLError, ValueError, RecursionError, OverflowError) as problem:
        raise CaseError([Problem(file=file, path="", message=str(problem).splitlines()[0][:300])]) from None


def _members(annotation: Any) -> Iterator[Any]:
    """Yield the types inside Optional and Annotated."""
    if get_origin(annotation) in (Union, types.UnionType):
        for member in get_args(annotation):
            yield from _members(member)
    elif hasattr(annotation, "__metadata__"):
        yield from _members(annotation.__origin__)
    else:
        yield annotation


def _step(annotation: Any, part: str | int) -> Any:
    """Follow one step of an error's location through the types."""
    for member in _members(annotation):
        origin, arguments = get_origin(member), get_args(member)
        if isinstance(part, int) and origin in (tuple, list) and arguments:
            return arguments[0]
        if isinstance(part, str) and origin is dict:
            return arguments[1]
        if isinstance(member, type) and issubclass(member, BaseModel) and part in member.model_fields:
            return member.model_fields[str(part)].annotation
    return None


def _allowed_keys(model: type[BaseModel], location: Sequence[str | int]) -> list[str]:
    annotation: Any = model
    for part in location:
        annotation = _step(annotation, part)
    for member in _members(annotation):
        if isinstance(member, type) and issubclass(member, BaseModel):
            return list(member.model_fields)
    return []


def _path_text(location: Sequence[str | int], content: Any) -> str:
    """Write a location with ids instead of positions where records have an id."""
    text = ""
    here = content
    for part in location:
        if isinstance(part, int):
            inside = isinstance(here, Sequence) and not isinstance(here, str) and part < len(here)
            here = here[part] if inside else None
            name = here.get("id") if isinstance(here, Mapping) else None
            text += f"[{str(name)[:64] if name else part + 1}]"
        elif part != "[key]":
            here = here.get(part) if isinstance(here, Mapping) else None
            text += f".{str(part)[:64]}" if text else str(part)[:64]
    return text


def _value_text(value: Any) -> str:
    text = repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _message(model: type[BaseModel], error: Any, location: Sequence[str | int]) -> str:
    kind = error["type"]
    if kind == "extra_forbidden":
        key = str(location[-1])
        return f"unknown key {key[:60]!r}. {nearest_name_hint(key, _allowed_keys(model, location[:-1]))}"
    if kind == "missing":
        return "is missing. Add it."
    if kind == "literal_error":
        allowed = [text.strip("' ") for text in error["ctx"]["expected"].replace(" or ", ", ").split("', '")]
        given = error["input"]
        return f"{_value_text(given)} is not allowed. {nearest_name_hint(str(given), allowed, 12)}"
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return f"{_value_text(error['input'])} is not a group of keys. Give key: value lines below it."
    if kind in ("tuple_type", "list_type"):
        return f"{_value_text(error['input'])} is not a list. Give lines that start with a dash."
    if kind == "quantity":
        return str(error["msg"])
    if kind == "finite_number":
        return f"{_value_text(error['input'])} is not a finite number. Give a plain number."
    if kind == "string_pattern_mismatch":
        return (
            f"{_value_text(error['input'])} cannot be used as a short name. Use letters, digits, '-', '_' and '.', "
            "64 at most, starting with a letter or digit."
        )
    return f"{error['msg']}; given {_value_text(error['input'])}."


def validate(model: type[M], content: Any, file: str) -> M:
    """Turn plain data into a record, or list everything that is wrong with it.

    Parameters
    ----------
    model : type
        A pydantic model.
    content : object
        Plain data as read from YAML.
    file : str
        Name used in problems.

    Returns
    -------
    record of type `model`

    Raises
    ------
    CaseError
        With one problem per fault, up to MAX_PROBLEMS.

    """
    if not isinstance(content, Mapping):
        expected = ", ".join(list(model.model_fields)[:4])
        message = f"the document is {_value_text(content)}, not a group of keys. Start with {expected}."
        raise CaseError([Problem(file=file, path="", message=message)])
    try:
        return model.model_validate(content)
    except ValidationError as refused:
        problems = []
        for error in refused.errors(include_url=False)[:MAX_PROBLEMS]:
            location = error["loc"]
            problems.append(
                Problem(file=file, path=_path_text(location, content), message=_message(model, error, location))
            )
        raise CaseError(problems) from None
    except RecursionError:
        raise CaseError([Problem(file=file, path="", message="nested too deeply. Flatten it.")]) from None
