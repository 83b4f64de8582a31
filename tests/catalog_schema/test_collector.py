"""The garbage collector rests while it is told to, works again afterwards, and finds what stays among what is old."""

from __future__ import annotations

import gc
from collections.abc import Iterator

import pytest

from catalog_schema.collector import collector_at_rest


@pytest.fixture(autouse=True)
def _collector_on() -> Iterator[None]:
    was_on = gc.isenabled()
    gc.enable()
    yield
    if not was_on:
        gc.disable()


def _generation_of(thing: object) -> list[int]:
    return [number for number in range(3) if any(one is thing for one in gc.get_objects(generation=number))]


def test_it_works_again_afterwards_whatever_happened() -> None:
    with collector_at_rest():
        assert not gc.isenabled()
        with collector_at_rest(unlooked_at=True):
            assert not gc.isenabled()
        assert not gc.isenabled()
    assert gc.isenabled()
    with pytest.raises(ValueError, match="stop"), collector_at_rest():
        raise ValueError("stop")
    assert gc.isenabled()


def test_what_was_made_is_young_unless_it_is_to_count_as_old_unlooked_at() -> None:
    with collector_at_rest():
        young: list[object] = [[]]
        assert _generation_of(young) == [0]
    frozen = gc.get_freeze_count()
    with collector_at_rest(unlooked_at=True):
        stays: list[object] = [[]]
        assert _generation_of(stays) == [0]
    assert _generation_of(stays) == [2]
    assert gc.get_freeze_count() == frozen == 0
    # A ring of objects among them is found by a full look.
    with collector_at_rest(unlooked_at=True):
        ring: list[object] = []
        ring.append(ring)
        address = id(ring)
        del ring
    assert address in {id(one) for one in gc.get_objects(generation=2)}
    gc.collect()
    assert address not in {id(one) for one in gc.get_objects() if isinstance(one, list) and one and one[0] is one}
