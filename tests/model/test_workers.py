"""What workers send home comes back as it was, and what they have drawn in common comes once."""

from __future__ import annotations

import io
from dataclasses import FrozenInstanceError, dataclass, fields

import numpy as np
import pytest

from model.phrase import Phrase, phrase
from model.requirements import Subject, Thresholds, judge_number
from model.wash import SprayField
from model.workers import _Joining, _Parting


def sent(thing: object) -> object:
    content = io.BytesIO()
    _Parting(content, {}).dump(thing)
    return _Joining(io.BytesIO(content.getvalue()), {}).load()


@pytest.mark.parametrize(
    "array",
    [np.array([1.5, np.nan, np.inf, -0.0]), np.arange(3), np.array([True, False]), np.array(["film", "gap"]),
     np.float32([1.0, 2.0]), np.zeros(0), np.array(2.0), np.arange(6.0).reshape(2, 3),
     np.arange(6.0)[::2], np.broadcast_to(np.array(3.0), 4), np.array([None, "a"], dtype=object)],
    ids=lambda array: f"{array.dtype}{array.shape}",
)  # fmt: skip
def test_arrays_of_all_kinds_come_back_alike(array: np.ndarray) -> None:
    back = sent(array)
    assert isinstance(back, np.ndarray)
    assert (back.dtype, back.shape) == (array.dtype, array.shape)
    np.testing.assert_array_equal(back, array)


def test_records_come_back_alike_and_as_frozen_as_before() -> None:
    said = judge_number(
        Subject(machine_id="m", board_id="b"), "clear", "Clears", "wash", measure=np.array([1.0, 2.0]), limit=1.5,
        direction="at most", dimension="time", thresholds=Thresholds(meets_from=0.9, misses_to=0.1),
        sentence=phrase("{kind} needs {time}.", kind="QFN", time=(600.0, "time")),
    )  # fmt: skip
    back = sent(said)
    assert type(back) is type(said)
    assert back.requirement == said.requirement
    assert back.requirement.sentence.text() == "QFN needs 10 min."
    np.testing.assert_array_equal(back.met, said.met)
    with pytest.raises(FrozenInstanceError):
        back.requirement.sentence.template = "other"


def test_what_one_record_shares_with_another_is_still_shared() -> None:
    array, sentence = np.arange(3.0), Phrase("Same.")
    first, second, third, fourth = sent([array, array, sentence, sentence])
    assert first is second
    assert third is fourth


def test_a_record_is_not_checked_again() -> None:
    """It was when it was made, at a cost; SprayField checks that duties are none that cannot be."""
    made = SprayField(
        run_out_nodes_m=np.array([0.0]), duty_share=(np.float32([[0.5]]),), pressure_ratio=np.array([0.5]),
        bounce_order=np.array([0.0]), peak_ratio=0.5, order_index=0, restitution=0.3,
    )  # fmt: skip
    object.__setattr__(made, "duty_share", (np.float32([[2.0]]),))
    back = sent(made)
    assert {field.name for field in fields(made)} == {name for name in SprayField.__slots__ if hasattr(back, name)}
    np.testing.assert_array_equal(back.duty_share[0], [[2.0]])


@dataclass(frozen=True)
class Open:
    """A record with room for more than its fields."""

    number: int


def test_a_record_without_slots_keeps_what_it_holds_beside_its_fields() -> None:
    made = Open(3)
    made.__dict__["seen"] = 4
    assert sent(made).__dict__ == {"number": 3, "seen": 4}


def test_what_was_drawn_stays_at_home_and_is_put_back() -> None:
    drawn, own = np.arange(4.0), np.arange(4.0)
    content = io.BytesIO()
    parting = _Parting(content, {id(drawn): 7})
    parting.dump((drawn, own, drawn))
    assert parting.met == {7}
    at_home = np.arange(4.0)
    first, second, third = _Joining(io.BytesIO(content.getvalue()), {7: at_home}).load()
    assert first is at_home
    assert third is at_home
    assert second is not at_home
    with pytest.raises(KeyError):
        _Joining(io.BytesIO(content.getvalue()), {}).load()
