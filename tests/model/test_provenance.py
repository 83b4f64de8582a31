"""Behind a result stand all numbers that can change it, and where each comes from is said rightly."""

from __future__ import annotations

from catalog_schema import parse_case
from catalog_schema.case import Case
from model.evaluate import Evaluation, evaluate
from model.provenance import UPSTREAM, first_stage, inputs_behind, origin
from model.requirements import STAGES, Requirement

CASE = """
washcase_case: 1
name: provenance
plant:
  name: p
  currency: EUR
  working_days: 250
  hours_per_day: 16
  air_temperature: 22 degC
  relative_humidity: 45 %
  air_pressure: 101.3 kPa
  tariffs: {labour: 38 EUR/h, electricity: 0.2 EUR/kWh, water: 0.004 EUR/L, deionised_water: 0.03 EUR/L,
            drain: 0.004 EUR/L, compressed_air: 0.03 EUR/m^3, exhaust_air: 0.002 EUR/m^3, floor: 120 EUR/(m^2*year),
            resin: 6 EUR/L, cleanliness_tests: 1500 EUR/year, downtime: 100 EUR/h}
  finance: {horizon: 10 year, discount_rate: 8 %, inflation: 2 %, tax_rate: 25 %}
board_types:
  - {id: dense, name: Dense, length: 160 mm, width: 100 mm, thickness: 1.6 mm, volume: 20000 boards/year, lot_size: 20,
     alloy: lead-free, flux: ROL0, peak_reflow_temperature: 245 degC, wait_before_wash: 8 h,
     components: [{kind: qfn-7x7, count: 4}], clear_distance: 2.5 mm, max_temperature: 110 degC}
  - {id: plain, name: Plain, length: 160 mm, width: 100 mm, thickness: 1.6 mm, volume: 20000 boards/year, lot_size: 20,
     alloy: lead-free, flux: ORM0, peak_reflow_temperature: 245 degC, wait_before_wash: 8 h,
     components: [{kind: dip, count: 4}], clear_distance: 5 mm, max_temperature: 110 degC}
candidates:
  - {id: offer, name: Offer, machine_class: CLASS, wash: {temperature: 62 degC},
     dry: {air_temperature: DRY degC, max_time: 30 min}, rack: {to_ground: GROUND ohm}}
compare_classes: []
component_kinds: []
"""


def case(dry: str = "80", ground: str = "1e6") -> Case:
    from catalog_schema import load_library

    spraying = next(record.id for record in load_library().machine_classes
                    if record.principle == "spray in air" and "diffused" in record.name)  # fmt: skip
    return parse_case(CASE.replace("CLASS", spraying).replace("DRY", dry).replace("GROUND", ground), "text")


def run(given: Case) -> Evaluation:
    return evaluate(given, draws=32, rays=4096)


def musts(evaluation: Evaluation, stages: set[str]) -> dict[tuple[str, str, str], Requirement]:
    """Give the musts of some stages with every fluid tried, whichever was chosen in the end."""
    found = {}
    for board in evaluation.machines[0].boards:
        judged = [one for fluid in board.fluids for one in fluid.judged] + list(board.esd.judged if board.esd else ())
        for one in judged:
            must = one.requirement
            if must.stage in stages:
                found[(board.board_id, must.fluid_id, must.key)] = must
    return found


def test_what_is_left_out_of_a_stage_cannot_change_its_musts() -> None:
    before, after = run(case()), run(case(dry="60", ground="1e10"))
    early = musts(before, {"fit", "wash", "rinse"})
    assert len(early) > 6
    assert early == musts(after, {"fit", "wash", "rinse"})
    assert musts(before, {"dry", "esd"}) != musts(after, {"dry", "esd"})
    left_out = {record.path for record in before.machines[0].inputs} - {
        record.path for record in inputs_behind(before, before.machines[0], "dense", "", "rinse")
    }
    assert "candidates[offer].dry.air_temperature" in left_out
    assert "candidates[offer].rack.to_ground" in left_out


def test_sources_of_one_board_leave_out_the_others() -> None:
    evaluation = run(case())
    paths = {record.path for record in inputs_behind(evaluation, evaluation.machines[0], "dense")}
    assert "component_kinds[qfn-7x7].gap" in paths
    others = ("board_types[plain]", "component_kinds[dip]", "flux_kinds[ORM")
    assert not [path for path in paths if path.startswith(others)]


def test_without_board_and_fluid_everything_read_is_listed() -> None:
    evaluation = run(case())
    assert inputs_behind(evaluation, evaluation.machines[0]) == evaluation.machines[0].inputs


def test_origin_tells_stated_from_class_range_from_case_from_library() -> None:
    evaluation = run(case())
    said = {record.path: origin(record, evaluation.case) for record in evaluation.machines[0].inputs}
    assert said["candidates[offer].wash.temperature"] == "stated in the offer"
    assert said["candidates[offer].spray.nozzle_diameter"] == "not stated: class range"
    assert said["board_types[dense].clear_distance"] == "case"
    assert said["component_kinds[qfn-7x7].gap"] == "library"
    assert said["constants.restitution"] == "library"


def test_a_record_that_the_case_overrides_stands_in_the_case() -> None:
    own = case()
    kind = next(record for record in run(own).library.component_kinds if record.id == "qfn-7x7")
    evaluation = run(own.model_copy(update={"component_kinds": (kind,)}))
    said = {record.path: origin(record, evaluation.case) for record in evaluation.machines[0].inputs}
    assert said["component_kinds[qfn-7x7].gap"] == "case"


def test_stages_named_are_stages_of_the_job() -> None:
    named = set(UPSTREAM) | {stage for stages in UPSTREAM.values() for stage in stages}
    assert named <= set(STAGES)
    assert first_stage("candidates[a].wetted_parts[1].replacement_price") == "materials"
