"""Every number that reached a result leads back to the very field that it names, with that field's value and basis."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from pydantic import BaseModel

from catalog_schema.case import Case
from catalog_schema.library import load_library
from catalog_schema.quantity import Quantity
from model.evaluate import Evaluation, evaluate
from model.uncertainty import Input

RECORDS = ("board_types", "component_kinds", "fluids", "flux_kinds", "wetted_materials", "board_parts")
DEFAULT_BASIS = {
    "board_types": {"measured"}, "plant": {"measured", "stated"}, "component_kinds": {"engineering estimate"},
    "fluids": {"engineering estimate", "from memory"}, "flux_kinds": {"engineering estimate"},
    "constants": {"engineering estimate"},
}  # fmt: skip
"""What a number without a basis of its own counts as."""


def quantity_at(evaluation: Evaluation, machine_id: str, path: str) -> Quantity:
    """Follow a path through the records of a case, as a person would who reads it on screen."""
    # An id may hold dots (1.4404): it ends with its bracket.
    named = re.fullmatch(r"([a-z_]+)\[(.+?)\]\.(.+)", path)
    found: Any
    if named is None:
        head, _, rest = path.partition(".")
        found = {"plant": evaluation.case.plant, "constants": evaluation.library.constants}[head]
    else:
        group, record, rest = named.groups()
        if group in ("candidates", "machine_classes"):
            machine = evaluation.machine(machine_id).machine
            assert (group, record) == ("candidates" if machine.is_candidate else "machine_classes", machine_id)
            found = machine.equipment
        else:
            assert group in RECORDS, path
            records = evaluation.case.board_types if group == "board_types" else getattr(evaluation.library, group)
            found = next(one for one in records if one.id == record)
    for name, place in re.findall(r"([^.\[\]]+)(?:\[(\d+)\])?", rest):
        found = found[name] if isinstance(found, dict) else getattr(found, name)
        found = found[int(place) - 1] if place else found
    assert isinstance(found, Quantity), path
    return found


def assert_leads_back(evaluation: Evaluation, machine_id: str, record: Input) -> None:
    path = record.path
    quantity = quantity_at(evaluation, machine_id, path)
    rates = {code: rate.si()[1] for code, rate in evaluation.case.plant.exchange_rates.items()}
    rate = rates.get(quantity.currency, 1.0) if quantity.currency else 1.0
    assert (record.low, record.likely, record.high) == tuple(value * rate for value in quantity.si()), path
    assert record.given == quantity.text()
    assert record.dimension == quantity.dimension
    group = path.partition("[")[0].partition(".")[0]
    machine = evaluation.machine(machine_id).machine
    if group in ("candidates", "machine_classes"):
        stated = machine.is_stated(path.partition("].")[2])
        # What replaces a part stands in the offer's list of parts, which is stated as a whole.
        stated = stated or "wetted_parts[" in path
        assert record.stated == (stated or not machine.is_candidate), path
        expected = {quantity.basis or ("stated" if stated else "engineering estimate")}
    else:
        assert record.stated, path
        expected = {quantity.basis} if quantity.basis else DEFAULT_BASIS.get(group, {record.basis})
    assert record.basis in expected, path
    column = evaluation.machine(machine_id).columns.get(record.path)
    if column is None:
        assert record.low == record.high or evaluation.draws == 1, path
    else:
        assert np.all((column >= record.low * (1 - 1e-12)) & (column <= record.high * (1 + 1e-12))), path


@pytest.mark.parametrize(
    ("machine", "board"),
    [
        ("offer-a-batch-spray", "dense-controller"), ("offer-b-inline", "dense-controller"),
        ("offer-c-ultrasonic", "sensor-recorder"), ("offer-d-vacuum-solvent", "compute-board"),
        ("offer-e-labware", "power-supply"), ("household-dishwasher", "radio-module"),
        ("manual-brush", "control-board"), ("spray-under-immersion", "compute-board"),
        ("centrifugal-immersion", "dense-controller"), ("vapour-solvent", "control-board"),
    ],
)  # fmt: skip
def test_every_number_leads_back_to_the_field_it_names(
    demo_case: Case, small_case: Any, machine: str, board: str
) -> None:
    evaluation = evaluate(small_case(demo_case, (machine,), (board,)), draws=8, rays=2048)
    inputs = evaluation.machine(machine).inputs
    assert len(inputs) > 40
    assert len({record.path for record in inputs}) == len(inputs)
    for record in inputs:
        assert_leads_back(evaluation, machine, record)


def without_basis(thing: Any) -> Any:
    """Take away what a record says of where its numbers come from."""
    if isinstance(thing, Quantity):
        return thing.model_copy(update={"basis": None})
    if isinstance(thing, BaseModel):
        return thing.model_copy(update={name: without_basis(getattr(thing, name)) for name in type(thing).model_fields})
    if isinstance(thing, tuple):
        return tuple(without_basis(one) for one in thing)
    if isinstance(thing, dict):
        return {key: without_basis(value) for key, value in thing.items()}
    return thing


@pytest.mark.parametrize(
    "machine",
    ["offer-a-batch-spray", "offer-b-inline", "offer-c-ultrasonic", "household-dishwasher", "centrifugal-immersion",
     "spray-under-immersion"],
)  # fmt: skip
def test_a_number_without_a_basis_counts_as_our_estimate_or_as_the_plants_or_the_offers_own(
    demo_case: Case, small_case: Any, machine: str
) -> None:
    known = load_library()
    records = ("component_kinds", "fluids", "flux_kinds", "constants")
    own = {name: without_basis(getattr(known, name)) for name in records}
    bare = without_basis(small_case(demo_case, (machine,), ("dense-controller",))).model_copy(update=own)
    inputs = evaluate(bare, draws=8, rays=2048).machine(machine).inputs
    for record in inputs:
        group = record.path.partition("[")[0].partition(".")[0]
        if group in DEFAULT_BASIS:
            allowed = {"from memory"} if ".hansen." in record.path else DEFAULT_BASIS[group] - {"from memory"}
            assert record.basis in allowed, record.path
        if group == "candidates":
            assert record.basis == "stated" or not record.stated, record.path
