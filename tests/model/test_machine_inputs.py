"""Reading a machine by path: stated values before the class's range, each noted with where it came from."""

from __future__ import annotations

import numpy as np
import pytest

from catalog_schema.case import Case
from catalog_schema.library import library_for, load_library
from catalog_schema.machine import Machine, machine_from_candidate, machine_from_class
from model.input_errors import UnphysicalInputError
from model.machine_inputs import MachineInputs, MissingInputError, constant_reader
from model.uncertainty import InputBook


@pytest.fixture
def offer(demo_case: Case) -> MachineInputs:
    return MachineInputs(machine_from_candidate(demo_case.candidates[0], library_for(demo_case)), InputBook(16, 1))


def machine_class(name: str) -> Machine:
    return machine_from_class(next(one for one in load_library().machine_classes if one.id == name))


def test_what_the_offer_states_is_noted_as_stated(offer: MachineInputs) -> None:
    np.testing.assert_allclose(offer.needed("wash.temperature"), 343.15)
    (record,) = offer.book.inputs()
    assert record.path == "candidates[offer-a-batch-spray].wash.temperature"
    assert (record.basis, record.stated, record.given) == ("stated", True, "70 °C")


def test_what_the_offer_leaves_out_is_the_range_of_its_class_and_noted_as_not_stated(offer: MachineInputs) -> None:
    drawn = offer.needed("wash.drag_out")
    assert np.ptp(drawn) > 0.0
    (record,) = offer.book.inputs()
    assert (record.basis, record.stated) == ("engineering estimate", False)
    own = MachineInputs(machine_class("batch-diffused-spray"), InputBook(16, 1)).quantity("wash.drag_out")
    assert own is not None
    assert (record.low, record.likely, record.high) == own.si()


def test_a_class_states_nothing_and_falls_back_on_nobody() -> None:
    inputs = MachineInputs(machine_class("batch-diffused-spray"), InputBook(16, 1))
    inputs.needed("wash.drag_out")
    (record,) = inputs.book.inputs()
    assert record.path == "machine_classes[batch-diffused-spray].wash.drag_out"
    assert (record.stated, record.basis) == (True, "engineering estimate")


def test_a_quantity_nobody_knows_is_asked_for_by_name() -> None:
    inputs = MachineInputs(machine_class("household-dishwasher"), InputBook(16, 1))
    assert inputs.draws("chamber.belt_width") is None
    with pytest.raises(MissingInputError, match="Household dishwasher: chamber: belt width is not known"):
        inputs.needed("chamber.belt_width")
    assert inputs.likely("chamber.belt_width") is None
    assert inputs.likely_or("chamber.belt_width", 0.4) == 0.4
    assert inputs.book.inputs() == ()


def test_a_likely_value_is_noted_like_a_draw(offer: MachineInputs) -> None:
    assert offer.likely("chamber.board_pitch") == pytest.approx(0.025)
    assert offer.book.inputs()[0].path.endswith("chamber.board_pitch")


def test_numbers_words_and_flags_are_not_mixed_up(offer: MachineInputs) -> None:
    assert offer.whole("chamber.levels") == 2
    assert offer.word("dry.kind") == "hot air"
    assert offer.flag("rinse.closed_loop") is True
    assert offer.whole("rinse.closed_loop") is None
    assert offer.word("chamber.levels") is None
    assert offer.flag("chamber.levels") is None
    assert offer.quantity("dry.kind") is None


def test_a_constant_is_drawn_from_the_library_and_noted() -> None:
    book = InputBook(16, 1)
    read = constant_reader(load_library(), book)
    drawn = read("restitution")
    assert 0.0 <= drawn.min() <= drawn.max() <= 1.0
    assert book.inputs()[0].path == "constants.restitution"


def test_a_constant_without_a_value_is_said_by_name() -> None:
    library = load_library()
    bare = library.model_copy(update={"constants": library.constants.model_copy(update={"restitution": None})})
    with pytest.raises(UnphysicalInputError, match="no value for the constant restitution"):
        constant_reader(bare, InputBook(4, 1))("restitution")
