"""What each must is called, where it stands and which side of its limit counts; its sentence tells its numbers."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from catalog_schema.case import Case
from catalog_schema.units import show
from model.evaluate import Evaluation, evaluate
from model.outcomes import BoardOutcome, FluidOutcome, MachineOutcome
from model.requirements import Requirement

MUSTS = {
    "fit": ("Board fits", "fit", "", "must hold"),
    "temperature": ("Works at the wash temperature", "wash", "temperature", "at least"),
    "dissolve": ("Dissolves the residue", "wash", "", "must hold"),
    "enter": ("Gets in under the tightest component", "wash", "low pressure", "at least"),
    "clear": ("Clears under the tightest component in time", "wash", "time", "at most"),
    "wetted materials": ("Wetted materials", "materials", "", "must hold"),
    "residue": ("Ionic residue within the plant's limit", "rinse", "mass per area", "at most"),
    "resistivity": ("Last rinse clean enough", "rinse", "resistivity", "at least"),
    "dry": ("Dry in time, gaps included", "dry", "time", "at most"),
    "laminate": ("Laminate moisture within the board's limit", "dry", "share", "at most"),
    "board parts": ("Parts of the board unharmed", "boards", "", "must hold"),
    "board temperature": ("Board temperature", "boards", "temperature", "at most"),
    "rack resistance low": ("Rack not too conductive", "esd", "resistance", "at least"),
    "rack resistance high": ("Rack not insulating", "esd", "resistance", "at most"),
    "rack to ground": ("Rack to ground", "esd", "resistance", "at most"),
    "charge decay": ("Charge decay", "esd", "time", "at most"),
    "traceability": ("Traceability", "traceability", "", "must hold"),
    "capacity": ("Copes with the volume", "capacity", "share", "at most"),
    "waiting": ("Boards do not wait too long", "capacity", "long time", "at most"),
    "site power": ("Electrical supply", "site", "power", "at most"),
    "site water": ("Water supply", "site", "flow", "at most"),
    "site compressed air": ("Compressed air", "site", "air flow", "at most"),
    "site exhaust": ("Exhaust", "site", "air flow", "at most"),
    "site flammables": ("Flammable or combustible fluid (Modified alcohol or hydrocarbon, used under vacuum)", "site",
                        "volume", "at most"),
    "site floor": ("Floor", "site", "area", "at most"),
    "budget": ("Within the budget", "cost", "money", "at most"),
}
"""Title, stage, dimension and direction, as screens, dossier and specification show them."""

MACHINES = ("offer-a-batch-spray", "offer-b-inline", "offer-c-ultrasonic", "offer-d-vacuum-solvent")
DENSE = "dense-controller"


def one_machine(case: Case, small_case: Any, machine: str, **changes: Any) -> tuple[Evaluation, MachineOutcome]:
    evaluation = evaluate(small_case(case, (machine,), (DENSE,), **changes), draws=9, rays=2048)
    return evaluation, evaluation.machine(machine)


def chosen(machine: MachineOutcome) -> FluidOutcome:
    return machine.board(DENSE).chosen


def must(where: FluidOutcome | MachineOutcome | BoardOutcome, key: str) -> Requirement:
    judged = where.esd.judged if isinstance(where, BoardOutcome) and where.esd else getattr(where, "judged", ())
    return next(one.requirement for one in judged if one.requirement.key == key)


@pytest.mark.parametrize("machine", MACHINES)
def test_musts_carry_their_names_stage_dimension_and_direction(demo_case: Case, small_case: Any, machine: str) -> None:
    board = {"moisture_limit": "0.1 %"}
    _, outcome = one_machine(demo_case, small_case, machine, board=board)
    found = {one.requirement.key: one.requirement for one in outcome.all_judged()}
    assert {"fit", "clear", "residue", "dry", "laminate", "site floor", "budget"} <= set(found)
    for key, requirement in found.items():
        title, stage, dimension, direction = MUSTS[key]
        assert (requirement.title, requirement.stage) == (title, stage)
        if requirement.direction == "must hold":  # a number that is not known, or an option that mends it
            assert requirement.dimension == ""
            assert requirement.measure is None
        else:
            assert (requirement.dimension, requirement.direction) == (dimension, direction)
            assert requirement.measure is not None
        assert requirement.machine_id == machine
        if stage in ("wash", "rinse", "dry", "boards"):
            assert (requirement.board_id, requirement.fluid_id) == (DENSE, chosen(outcome).fluid_id)
        if stage in ("fit", "esd"):
            assert (requirement.board_id, requirement.fluid_id) == (DENSE, "")


def middle(values: object) -> float:
    return float(np.median(np.asarray(values)))


@pytest.mark.parametrize("machine", MACHINES)
def test_sentences_of_wash_rinse_and_drying_tell_the_middle_of_the_draws(
    demo_case: Case, small_case: Any, machine: str
) -> None:
    evaluation, outcome = one_machine(demo_case, small_case, machine, board={"moisture_limit": "0.1 %"})
    done = chosen(outcome)
    assert done.wash is not None
    assert done.wash.outcome is not None
    assert done.rinse is not None
    assert done.dry is not None
    fluid = next(one for one in evaluation.library.fluids if one.id == done.fluid_id)
    hardest = done.wash.outcome.kinds[0]
    reached = show(middle(done.wash.state.temperature_K), "temperature")
    least = show(must(done, "temperature").limit or 0.0, "temperature")
    said = {one.requirement.key: one.requirement.sentence.text() for one in done.judged}
    assert said["temperature"] == f"{fluid.name} washes at {reached} here; it needs at least {least}."
    flux = "Resin, low activity, no halide (REL0)"
    assert said["dissolve"] == f"{fluid.name} dissolves resin residue ({flux})."
    drawn_in = max(done.wash.outcome.kinds, key=lambda kind: middle(kind.entry_pressure_Pa - kind.peak_pressure_Pa))
    gap = show(middle(drawn_in.gap_m), "gap")
    assert said["enter"] == f"{fluid.name} is drawn into the {gap} gap under {drawn_in.kind.name} by itself."
    needed = np.sort(done.wash.outcome.needed_time_s)
    low, half, high = (show(float(needed[place]), "time") for place in (0, 4, 8))
    assert done.wash.max_time_s is not None
    assert said["clear"] == (
        f"Needs {half} ({low} to {high}) of wash to clear {show(middle(hardest.depth_needed_m), 'length')} under "
        f"{hardest.kind.name} at the worst place; {outcome.machine.name} allows "
        f"{show(middle(done.wash.max_time_s), 'time')}."
    )
    count = middle(done.rinse.rinses)
    rinses = "1 rinse leaves" if count == 1 else "All rinses leave" if np.isinf(count) else f"{count:.0f} rinses leave"
    left = show(middle(done.rinse.residue_left_kg_m2), "mass per area")
    assert said["residue"] == (
        f"{rinses} {left} of ionic residue after {fluid.name}; the plant's own limit is 0.75 µg/cm²."
    )
    if machine != "offer-d-vacuum-solvent":
        assert done.rinse.result is not None
        shown = show(middle(done.rinse.result.last_rinse_resistivity_ohm_m), "resistivity")
        assert said["resistivity"] == f"The last rinse has {shown}; the plant wants 0.5 MΩ·cm."
    drying = np.sort(done.dry.needed_time_s)
    assert done.dry.max_time_s is not None
    low, half, high = (show(float(drying[place]), "time") for place in (0, 4, 8))
    assert said["dry"] == (
        f"Needs {half} ({low} to {high}) until {done.dry.slowest.name} is dry underneath; the machine allows "
        f"{show(middle(done.dry.max_time_s), 'time')}; limited by {done.dry.limited_by}."
    )
    laminate = must(done, "laminate")
    assert laminate.measure is not None
    kept, air = show(laminate.measure[1], "share"), show(middle(done.dry.air_temperature_K), "temperature")
    assert said["laminate"].startswith(
        f"The laminate keeps {kept} of moisture by mass; the limit is 0.1 %; a bake at {air} would take "
    )
    hottest = max(middle(done.wash.state.temperature_K), middle(done.dry.air_temperature_K))
    stage = "drying" if middle(done.dry.air_temperature_K) >= middle(done.wash.state.temperature_K) else "the wash"
    assert said["board temperature"] == (
        f"Dense controller, lead-free, with QFN gets up to {show(hottest, 'temperature')} in {stage}; "
        "its assembly may see 105 °C."
    )
