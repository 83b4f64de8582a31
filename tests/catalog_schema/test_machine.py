"""A candidate over its class: what the offer states is marked and wins; what it leaves out comes from the class."""

from __future__ import annotations

from pathlib import Path

import pytest

from catalog_schema import Case, load_case, load_library, machines_of
from catalog_schema.library import library_for
from catalog_schema.machine import machine_from_candidate, machine_from_class
from catalog_schema.machines import Candidate, MachineClass

DEMO = Path(__file__).parents[2] / "demo_catalog" / "mixed_plant.yaml"


@pytest.fixture(scope="module")
def case() -> Case:
    return load_case(DEMO)


def machine_class(class_id: str) -> MachineClass:
    return next(record for record in load_library().machine_classes if record.id == class_id)


def bare_candidate(**stated: object) -> Candidate:
    plain = {"id": "bare", "name": "Bare", "machine_class": "batch-diffused-spray"} | stated
    return Candidate.model_validate(plain)


def test_stated_values_win_and_are_marked() -> None:
    machine = machine_from_candidate(
        bare_candidate(spray={"nozzle_pressure": "40 psi"}, dry={"kind": "passive"}, wash={"fluids": ["di-water"]}),
        load_library(),
    )
    assert machine.stated == {"spray.nozzle_pressure", "dry.kind", "wash.fluids"}
    assert machine.equipment.spray.nozzle_pressure is not None
    assert machine.equipment.spray.nozzle_pressure.text() == "40 psi"
    assert machine.equipment.dry.kind == "passive"
    assert machine.equipment.wash.fluids == ("di-water",)
    assert machine.is_stated("dry.kind")
    assert not machine.is_stated("dry.air_flow")


def test_what_is_not_stated_falls_back_to_the_class() -> None:
    base = machine_class("batch-diffused-spray")
    machine = machine_from_candidate(bare_candidate(spray={"nozzle_pressure": "40 psi"}), load_library())
    for section in ("immersion", "chamber", "wash", "rinse", "dry", "rack", "running", "site", "prices"):
        assert getattr(machine.equipment, section) == getattr(base, section), section
    for name in ("nozzle_diameter", "shutoff_pressure", "levels_below", "arrangement"):
        assert getattr(machine.equipment.spray, name) == getattr(base.spray, name), name
    assert machine.equipment.wetted_parts == base.wetted_parts
    assert machine.equipment.traceability == base.traceability


def test_candidate_that_states_nothing_equals_its_class() -> None:
    base = machine_class("batch-diffused-spray")
    machine = machine_from_candidate(bare_candidate(), load_library())
    assert machine.stated == frozenset()
    assert machine.equipment == machine_from_class(base).equipment
    assert (machine.principle, machine.moving) == (base.principle, base.moving)


def test_no_and_zero_are_stated_values_not_gaps() -> None:
    machine = machine_from_candidate(
        bare_candidate(rinse={"resistivity_end_point": False}, spray={"levels_above": 0}, site={"water_flow": "0 gpm"}),
        load_library(),
    )
    assert machine.stated == {"rinse.resistivity_end_point", "spray.levels_above", "site.water_flow"}
    assert machine.equipment.rinse.resistivity_end_point is False
    assert machine.equipment.spray.levels_above == 0


def test_lists_and_amounts_outside_sections_are_marked_by_their_own_name() -> None:
    machine = machine_from_candidate(
        bare_candidate(
            wetted_parts=[{"part": "Pump seal elastomer", "material": "FKM"}],
            traceability={"cycle log": "present"},
            traceability_option_price="900 EUR",
        ),
        load_library(),
    )
    assert machine.stated == {"wetted_parts", "traceability", "traceability_option_price"}
    assert machine.equipment.wetted_parts is not None
    assert [part.material for part in machine.equipment.wetted_parts] == ["FKM"]


def test_overlay_changes_neither_offer_nor_class() -> None:
    base = machine_class("batch-diffused-spray")
    before = base.model_dump()
    candidate = bare_candidate(spray={"nozzle_pressure": "40 psi"})
    machine_from_candidate(candidate, load_library())
    assert machine_class("batch-diffused-spray").model_dump() == before
    assert candidate.spray.nozzle_diameter is None


def test_unknown_class_raises_key_error() -> None:
    with pytest.raises(KeyError, match="no-such-class"):
        machine_from_candidate(bare_candidate(machine_class="no-such-class"), load_library())


def test_class_of_the_case_overrides_the_library(case: Case) -> None:
    own = machine_class("batch-diffused-spray").model_copy(update={"name": "Our own view of batch spray"})
    changed = case.model_copy(update={"machine_classes": (own,)})
    library = library_for(changed)
    assert len(library.machine_classes) == len(load_library().machine_classes)
    machine = next(found for found in machines_of(changed, library) if found.id == "offer-a-batch-spray")
    assert machine.class_name == "Our own view of batch spray"


def test_machines_are_the_candidates_then_all_classes(case: Case) -> None:
    library = library_for(case)
    machines = machines_of(case, library)
    candidates = [record.id for record in case.candidates]
    classes = [record.id for record in library.machine_classes]
    assert [machine.id for machine in machines] == candidates + classes
    assert [machine.is_candidate for machine in machines] == [True] * len(candidates) + [False] * len(classes)
    for machine in machines[len(candidates) :]:
        assert machine.stated == frozenset()
        assert machine.count is None


def test_classes_to_compare_can_be_chosen_in_order(case: Case) -> None:
    chosen = case.model_copy(update={"compare_classes": ("manual-brush", "inline-spray")})
    machines = machines_of(chosen, library_for(chosen))
    assert [machine.id for machine in machines[len(case.candidates) :]] == ["manual-brush", "inline-spray"]
    none = case.model_copy(update={"compare_classes": ()})
    assert len(machines_of(none, library_for(none))) == len(case.candidates)


def test_every_demo_offer_states_something_and_leaves_something_to_its_class(case: Case) -> None:
    for machine in machines_of(case, library_for(case))[: len(case.candidates)]:
        base = machine_class(machine.class_id)
        given_by_class = {
            f"{section}.{name}"
            for section in ("spray", "immersion", "chamber", "wash", "rinse", "dry", "rack", "running", "prices")
            for name, value in getattr(base, section)
            if value is not None
        }
        assert len(machine.stated) >= 10, machine.id
        assert len(given_by_class - machine.stated) >= 10, machine.id


def test_demo_offer_in_us_units_equals_the_same_offer_in_metric(case: Case) -> None:
    offer = next(record for record in case.candidates if record.id == "offer-b-inline")
    metric = {"nozzle_pressure": "275790.2917..413685.4376 Pa", "max_flow": "340.68706 L/min", "clearance": "76.2 mm"}
    for name, text in metric.items():
        stated = getattr(offer.spray, name)
        assert type(stated).model_validate(text).si() == pytest.approx(stated.si(), rel=1e-6)


def test_price_outside_the_sections_falls_back_to_the_class() -> None:
    base = machine_class("batch-diffused-spray")
    assert base.traceability_option_price is not None
    machine = machine_from_candidate(bare_candidate(), load_library())
    assert machine.equipment.traceability_option_price == base.traceability_option_price
    assert not machine.is_stated("traceability_option_price")
