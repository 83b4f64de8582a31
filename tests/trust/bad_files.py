"""A seeded corpus of bad case files, by kind: what test_fuzz_files.py feeds to the parser."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import yaml

DEMO_FOLDER = Path(__file__).parents[2] / "demo_catalog"
SMALL: bytes = (DEMO_FOLDER / "through_hole_plant.yaml").read_bytes()
LARGE: bytes = (DEMO_FOLDER / "mixed_plant.yaml").read_bytes()
PLAIN: dict[str, Any] = yaml.safe_load(SMALL)
PLAIN_LARGE: dict[str, Any] = yaml.safe_load(LARGE)

Steps = tuple[str | int, ...]
BadFile = tuple[str, bytes]

HOSTILE_TEXTS = [
    "<script>alert(1)</script>",
    "{{ 7*7 }}{% for x in y %}",
    "${7*7}",
    "=1+1",
    "=cmd|' /C calc'!A0",
    "+1",
    "-1",
    "@SUM(1)",
    "../../../etc/passwd",
    "..\\..\\boot.ini",
    "/dev/zero",
    "C:\\con",
    "file:///etc/passwd",
    "a\u202eb",
    "a\u200bb",
    "\u2028",
    "\u0085",
    "\ufeff",
    "\ufffe",
    "a" * 2001,
    "a" * 100_000,
    "%s%s%n",
    "'",
    '"',
    "`id`",
    "$(id)",
    "!!python/object:os.system",
    "&a",
    "*a",
    "null",
    "NaN",
    "\\",
    "🜂" * 70,
    "e\u0301" * 500,
    "__class__",
    "__proto__",
    "model_config",
    "self",
    "{0.__class__}",
    "١٢٣",
    "１２",
    "−5 bar",
    "5 bar; 6 bar",
    "0x10",
    "1e5",
    "1_000",
    "",
    " ",
    "\t",
    "\n",
]
BAD_VALUES: list[Any] = [
    None,
    True,
    0,
    -1,
    1e308,
    10**400,
    float("nan"),
    float("inf"),
    "",
    "x",
    "-5 bar",
    "1..0 m",
    "1e999 m",
    [],
    {},
    [[]],
    {"likely": "x"},
    {"low": 2, "high": 1, "unit": "m"},
    {"unit": "m"},
    {"likely": 1, "unit": "m**9**9"},
    "2026-01-01",
    "a" * 3000,
    "<b>&amp;</b>",
    "=1+1",
]


def steps_of(node: Any, here: Steps = ()) -> Iterator[Steps]:
    """Yield the way to every leaf and every group below a node."""
    if here:
        yield here
    if isinstance(node, dict):
        for key, value in node.items():
            yield from steps_of(value, (*here, key))
    elif isinstance(node, list):
        for position, value in enumerate(node):
            yield from steps_of(value, (*here, position))


def changed(plain: Any, steps: Steps, value: Any) -> Any:
    """Copy along one way only and put a value at its end."""
    if not steps:
        return value
    branch = dict(plain) if isinstance(plain, dict) else list(plain)
    branch[steps[0]] = changed(plain[steps[0]], steps[1:], value)
    return branch


def without(plain: Any, steps: Steps) -> Any:
    """Copy along one way only and leave its end out."""
    branch = dict(plain) if isinstance(plain, dict) else list(plain)
    if len(steps) == 1:
        del branch[steps[0]]
    else:
        branch[steps[0]] = without(plain[steps[0]], steps[1:])
    return branch


def holder_of(plain: Any, steps: Steps) -> Any:
    """Give what holds the end of a way."""
    for step in steps[:-1]:
        plain = plain[step]
    return plain


def yaml_bytes(plain: Any) -> bytes:
    """Write plain data as YAML, line ends and hidden characters escaped as YAML does."""
    return yaml.dump(plain, Dumper=yaml.CSafeDumper, sort_keys=False, allow_unicode=True).encode("utf-8")


def truncated() -> Iterator[BadFile]:
    """Cut the demo off at 150 seeded places."""
    choose = random.Random(1)
    for cut in sorted(choose.sample(range(len(SMALL)), 110)):
        yield f"cut at {cut}", SMALL[:cut]
    for cut in sorted(choose.sample(range(len(LARGE)), 40)):
        yield f"large cut at {cut}", LARGE[:cut]


def damaged() -> Iterator[BadFile]:
    """Change, drop, double or swap seeded bytes and lines."""
    choose = random.Random(2)
    for number in range(120):
        content = bytearray(SMALL)
        for _ in range(choose.randint(1, 12)):
            content[choose.randrange(len(content))] = choose.randrange(256)
        yield f"bytes changed {number}", bytes(content)
    lines = SMALL.splitlines(keepends=True)
    for number in range(60):
        mixed = list(lines)
        place = choose.randrange(len(mixed))
        act = number % 4
        if act == 0:
            mixed.insert(place, mixed[choose.randrange(len(mixed))])
        elif act == 1:
            del mixed[place]
        elif act == 2:
            mixed[place] = b"  " + mixed[place]
        else:
            mixed[place] = mixed[place].replace(b"  ", b"\t", 1)
        yield f"line {place} kind {act}", b"".join(mixed)


def binary_and_encodings() -> Iterator[BadFile]:
    """Give what is no text, or text in another encoding."""
    choose = random.Random(3)
    for size in (1, 7, 100, 5000, 200_000):
        yield f"random bytes {size}", choose.randbytes(size)
    text = SMALL.decode("utf-8")
    for name in ("utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-7", "cp037", "utf-8-sig"):
        yield name, text.encode(name)
    for name in ("latin-1", "cp1252"):
        yield name, text.replace("–", "-").encode(name, "replace") + "# µ\n".encode(name)
    yield "bom twice", b"\xef\xbb\xbf\xef\xbb\xbf" + SMALL
    yield "bom inside", SMALL[:100] + b"\xef\xbb\xbf" + SMALL[100:]
    yield "zip", b"PK\x03\x04" + choose.randbytes(300)
    yield "gzip", b"\x1f\x8b\x08\x00" + choose.randbytes(300)
    yield "picture", b"\x89PNG\r\n\x1a\n" + choose.randbytes(300)
    yield "pdf", b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n<<>>\nendobj\n"
    yield "zeros", b"\0" * 10_000
    yield "overlong", b"a: \xc0\xaf\n"
    yield "lone surrogate in utf-8", b"name: \xed\xa0\x80\n"
    yield "carriage returns", SMALL.replace(b"\n", b"\r")
    yield "windows line ends", SMALL.replace(b"\n", b"\r\n")
    for code in (*range(32), 127, 0x80, 0x85, 0x9F, 0xFFFE, 0xFFFF):
        yield f"control {code:#x}", SMALL.replace(b"Workshop", b"Work" + chr(code).encode("utf-8"), 1)


def structures() -> Iterator[BadFile]:
    """Give bombs, depths, widths and other YAML trickery."""
    bomb = "a: &a [x, x, x]\n" + "".join(
        f"{n}: &{n} [*{p}, *{p}, *{p}]\n" for p, n in zip("abcdefghijklmno", "bcdefghijklmnop", strict=True)
    )
    yield "alias bomb", bomb.encode()
    yield "alias bomb in the demo", SMALL + bomb.encode()
    yield "alias to itself", b"a: &a [*a]\n"
    yield "merge bomb", b"a: &a {x: 1}\nb: {<<: [*a, *a]}\n"
    for depth in (31, 200, 5_000, 100_000):
        yield f"lists {depth}", b"[" * depth
        yield f"closed lists {depth}", b"[" * depth + b"]" * depth
        yield f"groups {depth}", b"{a: " * depth + b"1" + b"}" * depth
        yield f"keys {depth}", b"? " * depth
        yield f"in the note {depth}", SMALL + b"trials: " + b"[" * depth
    for depth in (40, 900):
        yield f"indented {depth}", "".join(" " * level + "a:\n" for level in range(depth)).encode()
        yield f"dashes {depth}", b"- " * depth + b"x"
    yield "brackets never closed", b'{"a": ' * 50_000
    yield "quote never closed", b'name: "' + b"x" * 500_000
    yield "anchors only", b"&a " * 1000
    yield "tags", b"!!python/object/apply:os.system ['true']\n"
    yield "tag on a key", b"!!python/name:os.system x: 1\n"
    yield "tag handle", b"%TAG ! tag:example.invalid,2000:\n---\n!a 1\n"
    yield "yaml version", b"%YAML 9.9\n---\na: 1\n"
    yield "many documents", b"---\n" * 10_000
    yield "omap", b"--- !!omap\n- a: 1\n"
    yield "set", b"? a\n? b\n"
    yield "list as key", b"? [a, b]\n: 1\n"
    yield "colons", b": : : : :\n"
    for content in (
        b"",
        b"\n",
        b"# only a comment\n",
        b"---\n",
        b"...\n",
        b"~\n",
        b"null\n",
        b"\t\n",
        b"\ta: 1\n",
        b"[]",
        b"{}",
        b"''",
    ):
        yield f"nearly empty {content!r}", content
    for word in (b"1", b"true", b"x", b"1.5", b"2026-01-01", b"0o7", b"- a\n- b\n", b"<html></html>", b"a,b\n1,2\n"):
        yield f"a scalar {word!r}", word


def sizes() -> Iterator[BadFile]:
    """Give rows by the hundred thousand and numbers without end."""
    row = b"- {id: a, name: b}\n"
    yield "100000 rows", SMALL + b"trials:\n" + row * 100_000
    yield "100000 short rows", SMALL + b"trials:\n" + b"- a\n" * 100_000
    yield "90000 rows that fit", SMALL + b"trials:\n" + b"- {id: x}\n" * 90_000
    yield "100000 keys", SMALL + b"".join(b"k%d: 1\n" % number for number in range(100_000))
    yield (
        "60000 unknown keys in the plant",
        b"washcase_case: 1\nname: x\nplant:\n" + b"".join(b" k%d: 1\n" % number for number in range(60_000)),
    )
    yield "50000 repeated ids", b"washcase_case: 1\nname: x\ncompare_classes: [" + b"a, " * 50_000 + b"a]\n"
    yield (
        "20000 unknown classes",
        SMALL + b"compare_classes: [" + b",".join(b"c%d" % number for number in range(20_000)) + b"]\n",
    )
    yield "20000 own fluids", SMALL + b"fluids:\n" + b"".join(b"- {id: f%d}\n" % number for number in range(20_000))
    yield (
        "3000 functions",
        SMALL
        + b"priorities: {value_functions: {"
        + b", ".join(b"c%d: [{measure: 1, value: 1}]" % number for number in range(3_000))
        + b"}}\n",
    )
    rate = b", ".join(
        b"%s: 1.1" % (b"".join(bytes([65 + number // 26**place % 26]) for place in range(3)))
        for number in range(17_000)
    )
    yield "17000 exchange rates", SMALL.replace(b"  exchange_rates:", b"  exchange_rates: {" + rate + b"}\n  other:", 1)
    yield "one long line", b"name: " + b"x" * 1_900_000
    yield "over the limit", b"#" * 2_000_001
    yield "comments to the limit", b"#\n" * 990_000
    yield "long digits", b"washcase_case: " + b"9" * 1_000_000
    yield "long fraction", b"washcase_case: 0." + b"9" * 1_000_000
    yield "long exponent", b"washcase_case: 1e" + b"9" * 100_000
    yield "sexagesimal", b"washcase_case: 1" + b":59" * 50_000
    yield "underscores", b"washcase_case: 1" + b"_" * 500_000
    yield "dashes", b"-" * 1_000_000
    yield "quotes", b'"' * 1_000_000
    yield "dots in a number", b"name: " + b"1." * 500_000
    spaces = b"      labour: " + b" " * 100_000 + b"x"
    yield "long blanks", SMALL.replace(b"    labour: 28..33..40 USD/h", spaces, 1)


def texts_and_numbers() -> Iterator[BadFile]:
    """Put hostile texts where names, ids, units, keys and numbers stand."""
    places: list[Steps] = [
        ("name",),
        ("plant", "name"),
        ("plant", "currency"),
        ("board_types", 0, "id"),
        ("board_types", 0, "name"),
        ("candidates", 0, "machine_class"),
        ("board_types", 0, "length"),
        ("board_types", 0, "flux"),
    ]
    for steps in places:
        for text in HOSTILE_TEXTS:
            yield f"{'.'.join(map(str, steps))} = {text[:20]!r}", json.dumps(changed(PLAIN, steps, text)).encode()
    for text in HOSTILE_TEXTS:
        yield f"key {text[:20]!r}", json.dumps(PLAIN | {text: 1}).encode()
        yield f"unit {text[:20]!r}", json.dumps(changed(PLAIN, ("board_types", 0, "length"), f"5 {text}")).encode()
    for number in (
        "nan",
        ".nan",
        ".inf",
        "-.inf",
        "Infinity",
        "1e400",
        "-1e400",
        "9" * 400,
        "1e-400",
        "0x1F",
        "1__0",
        "+",
        ".",
        "1.7976931348623157e308",
        "5e-324",
        "1e308 m",
        "1e-320 m",
        "1e308 km",
        "1e300..1e308 m",
        "1,5 m",
        "1.5.2 m",
        "5 m**99",
        "5 m^-9",
        "5 m/m/m",
        "5 (m",
        "5 m)",
        "5 furlong",
        "5 kg",
        "5 degC",
        "5 µ",
        "5 %",
        "9**9**9 m",
        "1 " + "m*" * 19 + "m",
        "1 m" * 60,
        "5 dB",
        "5 dimensionless",
        "5 USD",
        "5 count",
        "5 km_",
        "5 **m",
    ):
        yield f"length {number[:20]}", json.dumps(changed(PLAIN, ("board_types", 0, "length"), number)).encode()
        bare = SMALL.replace(b"length: 6 in", f"length: {number}".encode(), 1)
        yield f"bare length {number[:20]}", bare
        yield f"bare count {number[:20]}", SMALL.replace(b"lot_size: 20", f"lot_size: {number}".encode(), 1)
        yield (
            f"bare whole {number[:20]}",
            SMALL.replace(b"kind: axial-resistor, count: 36", f"kind: axial-resistor, count: {number}".encode(), 1),
        )


def keys() -> Iterator[BadFile]:
    """Leave keys out, double them, add unknown ones."""
    for steps in steps_of(PLAIN):
        if isinstance(steps[-1], str) and len(steps) <= 4:
            yield f"without {steps}", yaml_bytes(without(PLAIN, steps))
    lines = SMALL.splitlines(keepends=True)
    for number, line in enumerate(lines):
        if b": " in line and not line.lstrip().startswith((b"-", b"#")):
            yield f"line {number} twice", b"".join([*lines[: number + 1], line, *lines[number + 1 :]])
    for steps in steps_of(PLAIN):
        holder = holder_of(PLAIN, steps)
        if isinstance(holder, dict) and next(iter(holder)) == steps[-1]:
            spoiled = copy.deepcopy(PLAIN)
            holder_of(spoiled, steps)["no_such_key"] = 1
            yield f"unknown beside {steps}", yaml_bytes(spoiled)


def _rows(field: str, count: int, keys: str) -> bytes:
    return (f"{field}:\n" + "".join(f"- {{id: a{number}, {keys}}}\n" for number in range(count))).encode()


def wide_but_allowed() -> Iterator[BadFile]:
    """Give files inside every limit that ask for as much work as possible."""
    start = b"washcase_case: 1\nname: x\n"
    lists = ("fluids", "trials", "wetted_materials", "flux_kinds", "machine_classes", "component_kinds", "board_parts")
    yield "many unknown keys", start + b"".join(_rows(field, 1_900, "y: 1, z: 2") for field in lists)
    units = ", ".join(f"{name}: 1 q{name[:3]}" for name in ("ph", "density", "viscosity", "latent_heat", "molar_mass"))
    yield "many unknown units", start + _rows("fluids", 1_900, units)
    boards = [
        PLAIN["board_types"][0]
        | {"id": f"b{number}", "flux": f"f{number}", "components": [{"kind": f"k{n}", "count": 1} for n in range(25)]}
        for number in range(499)
    ]
    yield "many dangling names", json.dumps(PLAIN | {"board_types": boards}).encode()
    yield "many lists", b"trials:\n" + (b"- [" + b"1," * 1_900 + b"1]\n") * 100


KINDS = {
    "truncated": truncated, "damaged": damaged, "binary and encodings": binary_and_encodings, "structures": structures,
    "sizes": sizes, "texts and numbers": texts_and_numbers, "keys": keys,
    "wide but allowed": wide_but_allowed,
}  # fmt: skip
