"""The shipped library: complete, consistent, honest about its sources, and free of makers' names."""

from __future__ import annotations

import re

import pytest

from catalog_schema import Library, load_library
from catalog_schema.boards import PartRule
from catalog_schema.constants import Constants
from catalog_schema.library import LIBRARY_FOLDER
from catalog_schema.machines import MachineClass
from catalog_schema.materials import MaterialRule
from catalog_schema.references import LIBRARY_CURRENCY, walk_quantities

CLASS_IDS = {
    "household-dishwasher", "labware-washer", "parts-washer-cabinet", "batch-diffused-spray", "inline-spray",
    "spray-under-immersion", "ultrasonic-immersion", "centrifugal-immersion", "vapour-solvent", "vacuum-solvent",
    "semi-aqueous-batch", "manual-brush", "contract-service", "uncleaned",
}  # fmt: skip
FAMILIES = ("water", "alkaline", "neutral", "semi-aqueous", "solvent")
# Abbreviations of ISO 1629 (rubbers) and ISO 1043-1 (plastics), numbers of EN 10027-2, and plain material words.
MATERIAL_IDS = {
    "NBR", "EPDM", "FKM", "FFKM", "FEPM", "VMQ", "CR", "PP", "PE-HD", "PVC-U", "PVDF", "PTFE", "POM", "PA", "PC",
    "ABS", "PEEK", "1.4301", "1.4404", "aluminium", "brass", "SiC", "carbon-graphite",
}  # fmt: skip
SPRAY_FIELDS = {
    "arrangement", "nozzle_shape", "nozzle_diameter", "nozzle_half_angle", "discharge_coefficient",
    "velocity_coefficient", "drop_diameter", "shutoff_pressure", "max_flow", "piping_loss_share",
    "loaded_filter_loss", "pump_efficiency", "suction_head", "npsh_required", "levels_below", "levels_above",
    "nozzles_per_level", "clearance",
}  # fmt: skip
ARRANGEMENT_FIELDS = {
    "rotating arms": {"arm_radius", "arm_tilt", "rotation_speed"},
    "fixed manifolds": {"manifold_rows", "oscillation_half_angle"},
    "belt manifolds": {"manifold_rows"},
}
IMMERSION_FIELDS = {
    "spray under immersion": {"jet_diameter", "jet_count", "jet_pressure", "jet_distance", "pump_flow"},
    "ultrasonic": {"ultrasonic_frequency", "ultrasonic_power", "duty_share"},
    "centrifugal": {"rotation_speed", "rotation_radius", "duty_share"},
    "vapour": {"drive_pressure", "duty_share"},
    "vacuum solvent": {"drive_pressure", "duty_share"},
    "brush": {"drive_pressure", "duty_share"},
}


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library()


def washing(library: Library) -> list[MachineClass]:
    return [machine for machine in library.machine_classes if machine.principle not in ("service", "none")]


def absent(record: object, names: set[str]) -> set[str]:
    return {name for name in names if getattr(record, name) is None}


@pytest.mark.parametrize(
    ("field", "least"),
    [
        ("component_kinds", 20), ("fluids", 8), ("wetted_materials", 15), ("flux_kinds", 8), ("board_parts", 10),
        ("machine_classes", 14),
    ],
)  # fmt: skip
def test_library_is_as_large_as_promised_and_ids_are_unique(library: Library, field: str, least: int) -> None:
    ids = [record.id for record in getattr(library, field)]
    assert len(ids) >= least
    assert len(set(ids)) == len(ids)


def test_machine_classes_are_the_thirteen_kinds_and_doing_nothing(library: Library) -> None:
    assert {machine.id for machine in library.machine_classes} == CLASS_IDS


def test_every_constant_of_the_model_has_a_value(library: Library) -> None:
    assert absent(library.constants, set(Constants.model_fields)) == set()


def test_every_quantity_names_its_basis_and_every_published_one_its_source(library: Library) -> None:
    found = list(walk_quantities(library))
    assert len(found) > 500
    assert [path for path, quantity in found if quantity.basis is None] == []
    assert [path for path, quantity in found if quantity.basis == "published" and not quantity.source] == []


def test_a_generic_library_claims_nothing_stated_or_measured(library: Library) -> None:
    bases = {quantity.basis for _, quantity in walk_quantities(library)}
    assert bases <= {"published", "common practice", "from memory", "engineering estimate"}


def test_published_rules_name_their_source(library: Library) -> None:
    rules: list[PartRule | MaterialRule] = [rule for part in library.board_parts for rule in part.rules]
    rules += [rule for material in library.wetted_materials for rule in material.rules]
    assert [rule.why for rule in rules if rule.basis == "published" and not rule.source] == []
    assert [rule for rule in rules if not rule.why.endswith(".")] == []


def test_prices_are_in_the_library_currency(library: Library) -> None:
    money = [quantity for _, quantity in walk_quantities(library) if "money" in quantity.dimension]
    assert len(money) > 100
    assert {quantity.currency for quantity in money} == {LIBRARY_CURRENCY}


def test_plain_water_dissolves_water_soluble_flux_but_neither_rosin_nor_resin(library: Library) -> None:
    water = next(fluid for fluid in library.fluids if fluid.family == "water")
    assert set(water.capacity) == {"organic", "inorganic"}


def test_every_flux_family_has_a_fluid_that_dissolves_it(library: Library) -> None:
    families = {flux.family for flux in library.flux_kinds}
    assert families == {"rosin", "resin", "organic", "inorganic"}
    assert families <= {family for fluid in library.fluids for family in fluid.capacity}


def test_only_low_activity_residue_may_stay(library: Library) -> None:
    for flux in library.flux_kinds:
        assert re.fullmatch(r"(RO|RE|OR|IN)[LMH][01]", flux.id), flux.id
        assert flux.left_uncleaned_acceptable == (flux.id[2] == "L"), flux.id


def test_fluids_work_inside_their_own_temperature_range(library: Library) -> None:
    for fluid in library.fluids:
        lowest, highest = fluid.min_temperature.si()[1], fluid.max_temperature.si()[1]
        assert lowest <= fluid.reference_temperature.si()[1] <= highest, fluid.id
        assert highest <= fluid.boiling_temperature.si()[2], fluid.id


def test_a_fluid_that_flashes_says_so_among_its_hazards(library: Library) -> None:
    for fluid in library.fluids:
        marked = bool({"flammable", "combustible"} & set(fluid.hazards))
        assert marked == (fluid.flash_temperature is not None), fluid.id


def test_flux_lies_no_deeper_than_the_body_is_long(library: Library) -> None:
    for kind in library.component_kinds:
        assert kind.flux_path.si()[1] <= kind.body_length.si()[1], kind.id
        assert kind.flux_path.si()[2] <= kind.body_length.si()[2], kind.id


def test_flat_leadless_packages_stand_below_the_published_102_micrometres(library: Library) -> None:
    # QFN and LGA usually below 102 µm: trade column 2010 (P).
    flat = [kind for kind in library.component_kinds if kind.id.startswith(("qfn", "lga"))]
    assert len(flat) >= 4
    assert all(kind.gap.si()[2] < 102e-6 for kind in flat)


def test_references_inside_the_library_all_exist(library: Library) -> None:
    parts = {part.id for part in library.board_parts}
    fluids = {fluid.id for fluid in library.fluids}
    materials = {material.id for material in library.wetted_materials}
    assert {part for kind in library.component_kinds for part in kind.parts} <= parts
    for machine in library.machine_classes:
        assert set(machine.wash.fluids or ()) <= fluids, machine.id
        for wetted in machine.wetted_parts or ():
            assert {wetted.material, wetted.replacement_material} - {None} <= materials, machine.id
    for material in library.wetted_materials:
        assert {rule.fluid for rule in material.rules} - {None} <= fluids, material.id


def test_materials_go_by_iso_abbreviation_or_plain_name(library: Library) -> None:
    assert {material.id for material in library.wetted_materials} <= MATERIAL_IDS


def test_library_text_bears_no_trade_marks() -> None:
    for path in LIBRARY_FOLDER.glob("*.yaml"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"[®™©]|\b(GmbH|Inc\.|Ltd|Corp|AG)\b|https?:", text), path.name


@pytest.mark.parametrize("family", FAMILIES)
def test_every_material_is_judged_for_every_fluid_family_at_any_temperature(library: Library, family: str) -> None:
    members = {fluid.id for fluid in library.fluids if fluid.family == family}
    assert members
    for material in library.wetted_materials:
        always = [
            rule for rule in material.rules
            if rule.above_temperature is None and rule.ph_above is None and rule.ph_below is None
        ]  # fmt: skip
        covered = any(rule.family == family for rule in always) or members <= {rule.fluid for rule in always}
        assert covered, f"{material.id} has no rule for every {family} fluid"


def test_fkm_does_not_stand_hot_amine_and_says_it_is_from_memory(library: Library) -> None:
    material = next(material for material in library.wetted_materials if material.id == "FKM")
    rule = next(rule for rule in material.rules if rule.fluid == "saponified-water")
    assert (rule.result, rule.basis) == ("not resistant", "from memory")


def test_every_spray_class_has_what_the_spray_computation_needs(library: Library) -> None:
    sprays = [machine for machine in library.machine_classes if machine.principle == "spray in air"]
    assert len(sprays) == 5
    for machine in sprays:
        arrangement = machine.spray.arrangement
        assert arrangement is not None
        assert absent(machine.spray, SPRAY_FIELDS | ARRANGEMENT_FIELDS[arrangement]) == set(), machine.id
        if machine.spray.nozzle_shape == "flat fan":
            assert machine.spray.nozzle_thin_half_angle is not None, machine.id
            assert machine.spray.nozzle_half_angle is not None
            assert machine.spray.nozzle_thin_half_angle.si()[2] <= machine.spray.nozzle_half_angle.si()[0], machine.id


def test_every_other_washing_class_has_what_its_principle_needs(library: Library) -> None:
    others = [machine for machine in washing(library) if machine.principle != "spray in air"]
    assert {machine.principle for machine in others} == set(IMMERSION_FIELDS)
    for machine in others:
        assert absent(machine.immersion, IMMERSION_FIELDS[machine.principle]) == set(), machine.id


def test_every_washing_class_fills_chamber_stages_running_site_and_prices(library: Library) -> None:
    for machine in washing(library):
        room = {"belt_width", "belt_min_speed", "belt_max_speed", "wash_zone_length", "dry_zone_length"}
        room = room if machine.moving == "inline" else {"length", "width", "height", "levels"}
        assert absent(machine.chamber, room) == set(), machine.id
        wash = {"fluids", "temperature", "max_time", "tank_volume", "fill_and_heat_time", "drag_out"}
        assert absent(machine.wash, wash) == set(), machine.id
        assert absent(machine.rinse, {"kind", "max_rinses", "time_per_rinse", "temperature"}) == set(), machine.id
        assert absent(machine.dry, {"kind", "air_temperature", "max_time"}) == set(), machine.id
        # Holders are only for racks that conduct too well; insulating and dissipative ones need none.
        assert absent(machine.rack, set(type(machine.rack).model_fields) - {"dissipative_holders_price"}) == set()
        assert absent(machine.running, set(type(machine.running).model_fields)) == set(), machine.id
        site = {"connected_power", "heat_power", "water_flow", "exhaust_flow", "drain_needed", "floor_area"}
        assert absent(machine.site, site) == set(), machine.id
        owned = set(type(machine.prices).model_fields) - {"price_per_board", "turnaround"}
        assert absent(machine.prices, owned) == set(), machine.id
        assert 5 <= len(machine.wetted_parts or ()) <= 9, machine.id
        assert len(machine.traceability or {}) == 10, machine.id


def test_wash_temperature_of_a_class_fits_at_least_one_of_its_fluids(library: Library) -> None:
    fluids = {fluid.id: fluid for fluid in library.fluids}
    for machine in washing(library):
        assert machine.wash.temperature is not None
        lowest = min(fluids[name].min_temperature.si()[1] for name in machine.wash.fluids or ())
        assert machine.wash.temperature.si()[0] >= lowest, machine.id


def test_a_service_has_a_price_per_board_and_doing_nothing_has_no_price(library: Library) -> None:
    by_id = {machine.id: machine for machine in library.machine_classes}
    assert absent(by_id["contract-service"].prices, {"price_per_board", "turnaround"}) == set()
    assert all(value is None for _, value in by_id["uncleaned"].prices)
