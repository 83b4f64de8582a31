"""Mutants of one file of `model`: functions with one small fault each, as mutmut makes them.

mutmut says what a fault looks like; what is ours is only how a faulty function takes the place of the sound one: its
code object goes into the function that the other modules have already imported. Nothing is written to disk.
"""

from __future__ import annotations

import difflib
import importlib
from dataclasses import dataclass
from pathlib import Path
from types import FunctionType
from typing import Any

import libcst as cst
from libcst.metadata import MetadataWrapper, PositionProvider
from mutmut.mutation.file_mutation import create_mutations, deep_replace

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """One faulty function."""

    name: str
    """Unique in its file: function and running number, as mutmut counts."""
    file: str
    function: str
    """Name, after the class and a dot for a method."""
    text: bool
    """A piece of text was changed, not the computation."""
    lines: range
    """Where the faulty statement stands in the sound file."""
    source: str
    """The faulty function, within its class."""
    sound: str
    """The sound function, within its class."""

    def change(self) -> str:
        """Tell what differs, `before → after`."""
        before, after = self.sound.splitlines(), self.source.splitlines()
        return "; ".join(
            f"{_joined(before[a:b])} → {_joined(after[c:d])}"
            for tag, a, b, c, d in difflib.SequenceMatcher(None, before, after).get_opcodes()
            if tag != "equal"
        )

    def take_effect(self) -> None:
        """Make the program compute with this fault, in this process."""
        module = importlib.import_module(self.file.removesuffix(".py").replace("/", "."))
        faulty, live = _found(_defined(self.source, module), self.function), _found(vars(module), self.function)
        if len(live.__code__.co_freevars) != len(faulty.__code__.co_freevars):
            # Without its only super() a method is no closure any more: it takes the place of the sound one whole.
            owner, _, method = self.function.rpartition(".")
            setattr(vars(module)[owner], method, faulty)
            return
        live.__code__, live.__defaults__, live.__kwdefaults__ = (
            faulty.__code__, faulty.__defaults__, faulty.__kwdefaults__,
        )  # fmt: skip


def mutants_of(file: str) -> list[Mutant]:
    """Make all mutants of a file, named from the top folder (model/gap.py)."""
    module, mutations, _, _ = create_mutations(file, (ROOT / file).read_text(encoding="utf-8"))
    places = MetadataWrapper(module, unsafe_skip_copy=True).resolve(PositionProvider)
    owners = {
        method: statement.name.value
        for statement in module.body
        if isinstance(statement, cst.ClassDef)
        for method in statement.body.body
        if isinstance(method, cst.FunctionDef)
    }
    lines: dict[cst.CSTNode, range] = {}
    for statement in (*module.body, *owners):
        if isinstance(statement, cst.FunctionDef):
            whole = range(places[statement].start.line + 1, places[statement].end.line + 1)
            _note_lines(statement, whole, places, lines)
    made: list[Mutant] = []
    count: dict[str, int] = {}
    for mutation in mutations:
        function = mutation.contained_by_top_level_function
        if not isinstance(function, cst.FunctionDef):
            continue
        owner = owners.get(function)
        name = f"{owner}.{function.name.value}" if owner else function.name.value
        count[name] = count.get(name, 0) + 1
        faulty = deep_replace(function, mutation.original_node, mutation.mutated_node)
        assert isinstance(faulty, cst.FunctionDef)
        made.append(
            Mutant(
                name=f"{name}:{count[name]}", file=file, function=name, lines=lines[mutation.original_node],
                text=isinstance(mutation.original_node, cst.BaseString), source=_code(faulty, owner),
                sound=_code(function, owner),
            )
        )  # fmt: skip
    return made


def _note_lines(node: cst.CSTNode, here: range, places: Any, lines: dict[cst.CSTNode, range]) -> None:
    """Give each node the lines of its statement; of a statement with a body, those of its head."""
    lines[node] = here
    for child in node.children:
        inner = here
        if isinstance(child, cst.SimpleStatementLine):
            inner = range(places[child].start.line, places[child].end.line + 1)
        elif isinstance(child, cst.If | cst.For | cst.While | cst.With | cst.Try | cst.FunctionDef):
            first = places[child].start.line
            inner = range(first, max(places[child.body].start.line, first + 1))
        _note_lines(child, inner, places, lines)


def _code(function: cst.FunctionDef, owner: str | None) -> str:
    statement: cst.BaseStatement = function.with_changes(leading_lines=[])
    if owner:
        statement = cst.ClassDef(name=cst.Name(owner), body=cst.IndentedBlock([statement]))
    return cst.Module([statement]).code


def _defined(source: str, module: Any) -> dict[str, Any]:
    names = dict(vars(module))
    exec(compile(source, module.__file__, "exec", flags=annotations.compiler_flag, dont_inherit=True), names)
    return names


def _found(names: Any, function: str) -> FunctionType:
    owner, _, name = function.rpartition(".")
    thing = vars(names[owner])[name] if owner else names[name]
    return thing.__func__ if isinstance(thing, staticmethod | classmethod) else thing


def _joined(rows: list[str]) -> str:
    return " ".join(row.strip() for row in rows) or "(nothing)"
