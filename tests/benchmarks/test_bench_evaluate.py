"""A whole evaluation beside the naive loop over pairs, its parts beside scipy and numpy, and what a large case takes.

Times are printed, not asserted: they depend on the computer and on who else uses it. Ratios to a peer measured in the
same run are.
"""

from __future__ import annotations

import time
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from catalog_schema.case import Case
from catalog_schema.files import load_case
from catalog_schema.library import load_library
from catalog_schema.machines import Candidate
from catalog_schema.quantity import Quantity
from model.evaluate import evaluate
from model.evaporation import rising_root
from model.uncertainty import median

pytestmark = pytest.mark.benchmark

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog" / "mixed_plant.yaml"


def timed(function, repeats=1):
    best, result = np.inf, None
    for _ in range(repeats):
        start = time.perf_counter()
        result = function()
        best = min(best, time.perf_counter() - start)
    return best, result


def scaled(quantity: Quantity, factor: float) -> Quantity:
    numbers = {name: getattr(quantity, name) for name in ("low", "likely", "high")}
    return quantity.model_copy(update={n: None if v is None else v * factor for n, v in numbers.items()})


def varied_case(case: Case, candidates: int, boards: int) -> Case:
    """Enlarge a case: offers and bare classes in turn, no two alike, and board types of many sizes.

    Every sprayed candidate has a geometry of its own, which is the dear case: no trace serves two of them.
    """
    classes = {record.id: record for record in load_library().machine_classes}
    bare = [
        Candidate(id=record.id, name=record.name, machine_class=record.id)
        for record in classes.values()
        if record.principle not in ("none", "service")
    ]
    models = [*case.candidates, *bare]
    made = []
    for number in range(candidates):
        one, factor = models[number % len(models)], 1.0 + 0.002 * number
        base = classes[one.machine_class]
        changes = {}
        for section, names in (("spray", ("clearance", "nozzle_pressure")), ("dry", ("air_flow",))):
            mine, its = getattr(one, section), getattr(base, section)
            known = {name: getattr(mine, name) or getattr(its, name) for name in names}
            changes[section] = mine.model_copy(
                update={name: scaled(value, factor) for name, value in known.items() if value is not None}
            )
        made.append(one.model_copy(update={"id": f"{one.id}-{number}", "name": f"{one.name} {number}"} | changes))
    types = []
    for number in range(boards):
        one, factor = case.board_types[number % len(case.board_types)], 0.75 + 0.65 * number / max(boards - 1, 1)
        types.append(
            one.model_copy(
                update={
                    "id": f"{one.id}-{number}", "name": f"{one.name} {number}",
                    "length": scaled(one.length, factor), "width": scaled(one.width, factor),
                    "clear_distance": scaled(one.clear_distance, 2.0 - factor),
                    "volume": scaled(one.volume, len(case.board_types) / boards),
                }
            )
        )  # fmt: skip
    return case.model_copy(update={"candidates": tuple(made), "board_types": tuple(types), "compare_classes": ()})


def one_by_one(case: Case, **how) -> list[str]:
    """Evaluate every pair of candidate and board type as a case of its own: what one would write first."""
    return [
        evaluate(
            case.model_copy(update={"candidates": (candidate,), "board_types": (board,), "compare_classes": ()}), **how
        ).verdicts["result"][0]
        for candidate in case.candidates
        for board in case.board_types
    ]


def test_demo_cold_edited_and_unchanged(capsys):
    case = load_case(DEMO)
    first = case.candidates[0]
    warmer = first.model_copy(
        update={"rinse": first.rinse.model_copy(update={"temperature": scaled(first.rinse.temperature, 1.02)})}
    )
    edited_case = case.model_copy(update={"candidates": (warmer, *case.candidates[1:])})
    cold, known = timed(lambda: evaluate(case))
    edited, after = timed(lambda: evaluate(edited_case, previous=known), 2)
    unchanged, _ = timed(lambda: evaluate(case, previous=known), 3)
    tracemalloc.start()
    evaluate(case)
    peak_bytes = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    machines, boards = len(known.machines), len(case.board_types)
    with capsys.disabled():
        print(
            f"\ndemo, {machines} machines x {boards} board types x {known.draws} draws: cold {cold:.2f} s, one "
            f"candidate edited {edited:.2f} s, unchanged {unchanged:.3f} s, peak {peak_bytes / 1e6:.0f} MB"
        )
    assert sum(one is not other for one, other in zip(after.machines, known.machines, strict=True)) == 1
    # The peer is the cold evaluation itself: an edit must cost about one machine's share of it, no change next to none.
    assert edited < 0.5 * cold
    assert unchanged < 0.2 * cold


def test_evaluation_beside_the_naive_loop_over_pairs(capsys):
    case = varied_case(load_case(DEMO), 6, 10)
    # Both warmed up on a single machine, so that neither pays for the other's imports.
    evaluate(case.model_copy(update={"candidates": case.candidates[:1]}), draws=64)
    ours, _ = timed(lambda: evaluate(case, draws=256, workers=1))
    naive, _ = timed(lambda: one_by_one(case, draws=256, workers=1))
    with capsys.disabled():
        print(f"\n6 x 10 pairs: {ours:.2f} s, each pair as a case of its own {naive:.2f} s, {naive / ours:.1f} times")
    assert naive > 1.1 * ours


def test_forty_candidates_by_ten_board_types_on_one_and_two_workers(capsys):
    case = varied_case(load_case(DEMO), 40, 10)
    tracemalloc.start()
    two, large = timed(lambda: evaluate(case, draws=256, workers=2, details="chosen fluid"))
    kept_bytes, peak_bytes = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    one, _ = timed(lambda: evaluate(case, draws=256, workers=1, details="chosen fluid"))
    with capsys.disabled():
        print(
            f"\n40 x 10 x 256: {one:.1f} s here, {two:.1f} s by two workers, keeps {kept_bytes / 400e3:.0f} kB a pair, "
            f"peak {peak_bytes / 1e6:.0f} MB in this process"
        )
    assert len(large.machines) == 40


def test_root_search_beside_brentq(capsys):
    rng = np.random.default_rng(1)
    slope, place = rng.uniform(0.5, 5.0, 512), rng.uniform(280.0, 340.0, 512)

    def excess(surface, a, b):
        return np.expm1(a * (surface - b) / 50.0) + (surface - b) / 30.0

    ours, found = timed(
        lambda: rising_root(lambda x: excess(x, slope, place), np.full(512, 273.15), np.full(512, 360.0), 1e-13), 5
    )
    theirs, expected = timed(
        lambda: np.array(
            [
                brentq(excess, 273.15, 360.0, args=(a, b), xtol=1e-13, rtol=1e-15)
                for a, b in zip(slope, place, strict=True)
            ]
        )
    )
    with capsys.disabled():
        print(f"\n512 roots: {ours * 1e3:.2f} ms, scipy brentq one by one {theirs * 1e3:.1f} ms, {theirs / ours:.0f} x")
    np.testing.assert_allclose(found, expected, rtol=1e-14)
    assert theirs > 2.0 * ours


def test_median_of_draws_beside_numpy(capsys):
    values = np.random.default_rng(2).random(512)
    ours, middle = timed(lambda: sum(median(values) for _ in range(2000)) / 2000, 3)
    theirs, expected = timed(lambda: sum(float(np.median(values)) for _ in range(2000)) / 2000, 3)
    with capsys.disabled():
        print(f"\nmedian of 512: {ours / 2e-3:.1f} µs, numpy {theirs / 2e-3:.1f} µs, {theirs / ours:.1f} times")
    assert middle == expected
    assert theirs > ours
