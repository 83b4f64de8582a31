"""Records put together again are those that were taken apart."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, dataclass, replace

import pytest

from model.phrase import Phrase
from model.records import changed, record, slots, values
from model.requirements import Subject


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """A record that checks itself."""

    first: int

    def __post_init__(self) -> None:
        """Refuse what is below 0."""
        if self.first < 0:
            raise ValueError("below 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Derived(Base):
    """A record with fields of another."""

    second: str = "b"


@dataclass(frozen=True)
class Open:
    """A record without slots."""

    first: int


def test_a_change_gives_what_replace_gives() -> None:
    for before, changes in (
        (Subject(machine_id="m"), {"board_id": "b", "fluid_id": "f"}), (Derived(first=1), {"second": "c"}),
        (Derived(first=1), {"first": 2}), (Phrase("x", (("a", 1.0, "time"),)), {}),
    ):  # fmt: skip
        after = changed(before, **changes)
        assert after == replace(before, **changes)
        assert type(after) is type(before)
        assert after is not before
        with pytest.raises(FrozenInstanceError):
            setattr(after, slots(type(after))[0], 3)


def test_a_field_that_is_none_is_refused() -> None:
    with pytest.raises(TypeError, match="Subject has no field colour, size"):
        changed(Subject(machine_id="m"), colour="red", board_id="b", size=1)


def test_only_records_with_slots_are_taken_apart() -> None:
    assert slots(Derived) == ("first", "second")
    assert slots(Open) == slots(str) == slots(type) == ()
    made = Derived(first=1, second="c")
    assert values(made) == (1, "c")
    assert record(Derived, *values(made)) == made
    with pytest.raises(ValueError, match="argument 2 is shorter"):
        record(Derived, 1)


def test_what_was_checked_once_is_not_checked_again() -> None:
    with pytest.raises(ValueError, match="below 0"):
        Derived(first=-1)
    assert record(Derived, -1, "b").first == -1
