"""The rinse of boards from a bath made by hand: what they carry over, what each way of rinsing leaves, what is said."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from catalog_schema.boards import BoardType
from catalog_schema.fluids import Fluid
from catalog_schema.machine import Machine
from model.context import Context, Rinsed
from model.fluids import water_viscosity_Pa_s
from model.gap import GapFigures, gap_velocity_m_s
from model.immersion import make_drive
from model.input_errors import UnphysicalInputError
from model.ionic import salt_concentration_kg_m3
from model.machine_inputs import MissingInputError
from model.requirements import Requirement
from model.rinse import (
    CarryOver,
    RinseResult,
    batch_rinse,
    gap_exchange_share,
    rinse_until_resistivity,
    rinses_needed,
)
from model.rinse_course import (
    RinseLoad,
    board_area_m2,
    carried_concentration_kg_m3,
    gap_volume_m3,
    residue_limit_kg_m2,
    rinse_boards,
    rinse_follows,
    rinses_in_own_vapour,
)
from model.rinse_stage import RinseStage, rinse_stage
from model.rinse_supply import counterflow_rinse
from model.uncertainty import FloatArray
from model.wash import BathDrive, KindClearing
from tests.conftest import changed_record
from tests.model.cost_by_hand import case_by_hand, context_by_hand
from tests.model.records import board, fluid, machine

WASH = {"drag_out": "80 mL/m^2"}
RINSE = {"kind": "fill and drain", "max_rinses": 6, "time_per_rinse": "2 min", "volume_per_rinse": "1 L",
         "feed_resistivity": "10 Mohm*cm", "temperature": "55 degC"}  # fmt: skip
BOARDS = np.array([5.0, 12.0, 20.0])
PRESSURES_PA = np.array([20.0, 40.0, 60.0])
DUTY = 0.5
GAP_M = np.array([10e-6, 20e-6, 30e-6])
BIG = board(id="big", length="300 mm", width="200 mm", components=[{"kind": "chip", "count": 9}])
SMALL = board(id="small", components=[{"kind": "chip", "count": 4}, {"kind": "well", "count": 2}])
CLEANER, OTHER = fluid(), fluid(id="other", name="Other", bath_load_limit="30 g/L", conductive_share="2 %")


def washer(**rinse: Any) -> Machine:
    return machine(wash=WASH, rinse={name: value for name, value in (RINSE | rinse).items() if value is not None})


def context(equipment: Machine | None = None, **requirements: Any) -> Context:
    """Give a plant whose own limit is 0.02 µg/cm², without a wish for the resistivity; a kind that traps a third."""
    wanted = {"ionic_limit": "0.02 µg/cm^2", "rinse_resistivity": None} | requirements
    made = context_by_hand(equipment or washer(), case_by_hand(requirements=wanted))
    well = changed_record(made.library.component_kinds[0], {
        "id": "well", "gap": "300 µm", "body_length": "4 mm", "trapped_volume_share": "30 %",
    })  # fmt: skip
    chip = changed_record(made.library.component_kinds[0], {"trapped_volume_share": None, "open_edge_share": "40 %"})
    flux = changed_record(made.library.flux_kinds[0], {"ionic_share": "3 %"})
    changes = {"component_kinds": (chip, well), "flux_kinds": (flux,)}
    return replace(made, library=made.library.model_copy(update=changes))


def load(at: Context, of: BoardType = SMALL, wet_with: Fluid = CLEANER, boards: FloatArray = BOARDS,
         under: str = "chip") -> RinseLoad:  # fmt: skip
    """Boards from a bath that presses for half the time, under a component whose gap differs from draw to draw."""
    each = np.ones(3)
    gap = GapFigures(gap_m=GAP_M, flow_length_m=10e-3 * each, viscosity_Pa_s=5e-4 * each, density_kg_m3=985.0 * each,
                     diffusivity_m2_s=5e-10 * each, entry_pressure_Pa=0.0 * each,
                     end_loss_coefficient=1.5 * each)  # fmt: skip
    hardest = KindClearing(kind=at.kinds[under], gap=gap, gap_m=GAP_M, depth_needed_m=each, entry_pressure_Pa=each,
                           peak_pressure_Pa=each, speed_m_s=each, soak_m_s05=each, needed_time_s=each)  # fmt: skip
    return RinseLoad(board=of, flux=at.library.flux_kinds[0], fluid=wet_with, hardest=hardest, boards=boards,
                     drive=BathDrive(drive=make_drive(PRESSURES_PA, DUTY), excluded_share=0.02))  # fmt: skip


def one(at: Context, of: BoardType = SMALL, wet_with: Fluid = CLEANER, **changes: Any) -> Rinsed:
    return rinse_boards(at, [load(at, of, wet_with, **changes)])[of.id, wet_with.id]


def carried(at: Context, of: BoardType = SMALL, boards: FloatArray | float = BOARDS) -> CarryOver:
    """Film and gap water of a load from lengths by hand: 160 × 100 mm with two kinds, or 300 × 200 mm with one."""
    area = {"small": 2.0 * 0.16 * 0.1, "big": 2.0 * 0.3 * 0.2}[of.id] * boards
    gaps = {"small": 4 * 100e-6 * 0.01**2 + 2 * 300e-6 * 0.004**2 * 0.3, "big": 9 * 100e-6 * 0.01**2}[of.id] * boards
    return CarryOver(open_m3=area * (80e-6 + at.constant("idle_hold_up")), gap_m3=gaps, area_m2=area)


def start(at: Context, load_limit_kg_m3: float = 10.0) -> FloatArray:
    """Ionic share of the residue at the load limit; the fluid by hand has no concentrate."""
    return np.full(at.draws, 0.03 * load_limit_kg_m3)


def exchange(at: Context, minutes: float = 2.0) -> FloatArray:
    """Share of the gap water replaced: by the mean pressure through the open edge, and by ions that diffuse."""
    chip = at.kinds["chip"]
    viscosity = float(water_viscosity_Pa_s(328.15))
    speed = gap_velocity_m_s(PRESSURES_PA * DUTY * at.of_kind(chip, "open_edge_share"), GAP_M, 10e-3, viscosity)
    return np.asarray(gap_exchange_share(60.0 * minutes, GAP_M, 5e-3, at.constant("ion_diffusivity"), speed))


FEED_KG_M3 = float(salt_concentration_kg_m3(1e5))
LITRE, LIMIT_KG_M2 = 1e-3, 0.02e-5


def same(found: object, expected: Any) -> None:
    np.testing.assert_allclose(np.asarray(found), np.broadcast_to(np.asarray(expected), (3,)), rtol=1e-12)


def same_balance(found: RinseResult | None, expected: RinseResult) -> None:
    assert found is not None
    for name in RinseResult.__dataclass_fields__:
        np.testing.assert_allclose(getattr(found, name), getattr(expected, name), rtol=1e-12)
        assert np.shape(getattr(found, name)) == (3,)


# ---- What boards bring -----------------------------------------------------------------------------------------------


def test_area_and_gap_water_of_each_board_type_are_its_own() -> None:
    at = context()
    same(board_area_m2(at, SMALL), 0.032)
    same(board_area_m2(at, BIG), 0.12)
    same(gap_volume_m3(at, SMALL), 4 * 100e-6 * 1e-4 + 2 * 300e-6 * 16e-6 * 0.3)
    same(gap_volume_m3(at, BIG), 9 * 100e-6 * 1e-4)


def test_machines_share_the_gap_volume_of_a_board_and_each_notes_what_it_follows_from() -> None:
    first = context()
    second = replace(context(), of_boards=first.of_boards)
    found = [gap_volume_m3(at, SMALL) for at in (first, first, second, second)]
    assert all(one is found[0] for one in found)
    assert {one.path for one in second.inputs.book.inputs()} == {
        "component_kinds[chip].gap", "component_kinds[chip].body_length", "component_kinds[well].gap",
        "component_kinds[well].body_length", "component_kinds[well].trapped_volume_share",
    }  # fmt: skip
    assert second.inputs.book.inputs() == first.inputs.book.inputs()


def test_the_bath_at_its_load_limit_carries_ionic_residue_and_conductive_concentrate() -> None:
    at = context()
    flux = at.library.flux_kinds[0]
    bare = carried_concentration_kg_m3(at, CLEANER, flux)
    same(bare, 10.0 * 0.03)
    noted = {one.path: one.basis for one in at.inputs.book.inputs()}
    assert noted[f"flux_kinds[{flux.id}].ionic_share"] == "engineering estimate"
    assert "fluids[cleaner].conductive_share" not in noted
    # 20 % of 1000 kg/m³, of which 5 % conducts.
    same(carried_concentration_kg_m3(at, fluid(concentration="20 %"), flux) - bare, 10.0)


def test_the_limit_of_the_board_type_comes_before_the_plants_and_without_either_there_is_none() -> None:
    own = changed_record(SMALL, {"ionic_limit": "2 µg/cm^2"})
    same(residue_limit_kg_m2(context(), own), 2e-5)
    same(residue_limit_kg_m2(context(), SMALL), 0.02e-5)
    assert residue_limit_kg_m2(context(ionic_limit=None), SMALL) is None


def test_what_rinses_is_said_by_machine_and_fluid() -> None:
    silent, none, water = (context(washer(kind=kind)) for kind in (None, "none", "spray"))
    vapour = context(washer(kind="own vapour"))
    own, nothing = fluid(rinse_with="own vapour"), fluid(rinse_with="nothing")
    assert [rinse_follows(at, CLEANER) for at in (silent, none, water, vapour)] == [False, False, True, True]
    assert not any(rinse_follows(at, nothing) for at in (silent, none, water, vapour))
    assert [rinses_in_own_vapour(at, CLEANER) for at in (silent, water, vapour)] == [False, False, True]
    assert all(rinses_in_own_vapour(at, own) for at in (silent, water, vapour))


def test_without_a_rinse_boards_keep_all_they_carry() -> None:
    at = context(washer(kind="none"))
    both = rinse_boards(at, [load(at), load(at, BIG, OTHER)])
    assert set(both) == {("small", "cleaner"), ("big", "other")}
    for of, wet_with, limit in ((SMALL, CLEANER, 10.0), (BIG, OTHER, 30.0)):
        found, wet = both[of.id, wet_with.id], carried(at, of, 1.0)
        same(found.drag_out_m3, wet.open_m3 + wet.gap_m3)
        same(found.residue_left_kg_m2, start(at, limit) * (wet.open_m3 + wet.gap_m3) / wet.area_m2)
        same(found.film_m, 80e-6)
        same(found.gap_volume_m3, wet.gap_m3)
        assert found.result is None
        for nothing in (found.rinses, found.time_s, found.water_m3, found.resin_m3):
            same(nothing, 0.0)
        # A part of an array would keep the whole of it.
        assert found.drag_out_m3.base is None
        assert found.residue_left_kg_m2.base is None


# ---- Fill and drain --------------------------------------------------------------------------------------------------


def test_boards_are_rinsed_as_often_as_the_limit_asks_each_type_for_itself() -> None:
    at = context()
    few = np.array([1.0, 2.0, 3.0])
    both = rinse_boards(at, [load(at), load(at, BIG, OTHER, few)])
    counts = []
    for of, wet_with, limit, boards in ((SMALL, CLEANER, 10.0, BOARDS), (BIG, OTHER, 30.0, few)):
        found, wet = both[of.id, wet_with.id], carried(at, of, boards)
        terms = wet, start(at, limit)
        needed = rinses_needed(*terms, LIMIT_KG_M2, LITRE, exchange(at), FEED_KG_M3, most_rinses=6)
        assert np.all(np.isfinite(needed))
        same(found.rinses, needed)
        same(found.time_s, np.asarray(needed) * 120.0)
        same(found.water_m3, np.asarray(needed) * LITRE / boards)
        same(found.drag_out_m3, (wet.open_m3 + wet.gap_m3) / boards)
        same_balance(found.result, batch_rinse(*terms, needed, LITRE, exchange(at), FEED_KG_M3))
        assert found.result is not None
        same(found.residue_left_kg_m2, found.result.residue_left_kg_m2)
        same(found.resin_m3, 0.0)
        assert all(part.base is None for part in (found.rinses, found.time_s, found.water_m3, found.drag_out_m3))
        counts.append(np.asarray(needed))
    assert len(np.unique(np.stack(counts))) > 1


def test_where_no_number_of_rinses_is_enough_all_are_run() -> None:
    at = context(ionic_limit="1e-7 µg/cm^2")
    found = one(at)
    same(found.rinses, np.inf)
    same(found.time_s, 6 * 120.0)
    same(found.water_m3, 6 * LITRE / BOARDS)
    same_balance(found.result, batch_rinse(carried(at), start(at), 6, LITRE, exchange(at), FEED_KG_M3))


def test_a_machine_that_may_rinse_once_less_than_it_takes_never_gets_there() -> None:
    at = context()
    needed = np.asarray(rinses_needed(carried(at), start(at), LIMIT_KG_M2, LITRE, exchange(at), FEED_KG_M3))
    most = int(np.max(needed)) - 1
    assert most >= 1
    few = one(context(washer(max_rinses=most)))
    same(few.rinses, np.where(needed > most, np.inf, needed))
    same(few.time_s, np.minimum(needed, most) * 120.0)


def test_water_that_leaves_more_than_the_limit_by_itself_never_gets_there() -> None:
    # 20 kΩ·cm is some 25 mg/L of salt; 80 µm of it are 0.2 µg/cm², ten times the limit.
    same(one(context(washer(feed_resistivity="20 kohm*cm", max_rinses=30))).rinses, np.inf)
    assert np.all(np.isfinite(one(context(washer(max_rinses=30))).rinses))


def test_at_least_one_rinse_is_run_where_the_machine_has_one() -> None:
    easy = {"ionic_limit": "1 g/cm^2"}
    same(one(context(**easy)).rinses, 1.0)
    same(one(context(washer(max_rinses=0), **easy)).rinses, 0.0)
    same(one(context(washer(max_rinses=0), rinse_resistivity="1 Mohm*cm", **easy)).rinses, 0.0)


def test_without_any_limit_every_rinse_is_run() -> None:
    at = context(ionic_limit=None)
    found = one(at)
    same(found.rinses, 6.0)
    same_balance(found.result, batch_rinse(carried(at), start(at), 6, LITRE, exchange(at), FEED_KG_M3))


def test_the_wanted_resistivity_of_the_last_rinse_may_ask_for_more_rinses_than_the_residue() -> None:
    at = context(washer(max_rinses=9), rinse_resistivity="6 Mohm*cm")
    terms: dict[str, Any] = {"exchange_share": exchange(at), "feed_concentration_kg_m3": FEED_KG_M3, "most_rinses": 9}
    probed = rinse_until_resistivity(carried(at), start(at), 6e4, LITRE, **terms)
    assert np.all(np.asarray(probed.last_rinse_resistivity_ohm_m) >= 6e4)
    enough = np.asarray(rinses_needed(carried(at), start(at), LIMIT_KG_M2, LITRE, **terms))
    assert np.all(np.asarray(probed.rinses) >= enough)
    assert np.any(np.asarray(probed.rinses) > enough)
    same(one(at).rinses, probed.rinses)
    same(one(context(washer(max_rinses=9), ionic_limit=None, rinse_resistivity="6 Mohm*cm")).rinses, probed.rinses)
    strict = context(washer(max_rinses=9), ionic_limit="0.001 µg/cm^2", rinse_resistivity="2 kohm*cm")
    few = np.asarray(rinses_needed(carried(at), start(at), 1e-8, LITRE, **terms))
    assert np.all(few >= 2.0)
    assert np.any(np.isfinite(few))
    same(one(strict).rinses, few)
    # Just what it reads is enough; a set point that the ninth rinse does not reach never is.
    last = batch_rinse(carried(at), start(at), 9, LITRE, exchange(at), FEED_KG_M3).last_rinse_resistivity_ohm_m
    middle = float(np.sort(np.asarray(last))[1])
    exact = one(context(washer(max_rinses=9), rinse_resistivity=f"{middle!r} ohm*m"))
    np.testing.assert_array_equal(np.isfinite(exact.rinses), np.asarray(last) >= middle)
    same(one(context(washer(max_rinses=1), ionic_limit=None, rinse_resistivity="9 Mohm*cm")).rinses, np.inf)


def test_a_volume_that_is_not_stated_is_the_flow_for_the_time_of_a_rinse() -> None:
    at = context(washer(volume_per_rinse=None, flow="0.5 L/min"))
    needed = rinses_needed(carried(at), start(at), LIMIT_KG_M2, 1e-3, exchange(at), FEED_KG_M3, most_rinses=6)
    found = one(at)
    same(found.rinses, needed)
    same_balance(found.result, batch_rinse(carried(at), start(at), needed, 1e-3, exchange(at), FEED_KG_M3))
    with pytest.raises(MissingInputError, match=r"^Washer: rinse: flow is not known\. Ask the supplier\.$"):
        one(context(washer(volume_per_rinse=None)))


def test_feed_water_of_unknown_resistivity_counts_as_pure() -> None:
    at = context(washer(feed_resistivity=None), ionic_limit=None)
    same_balance(one(at).result, batch_rinse(carried(at), start(at), 6, LITRE, exchange(at), 0.0))


@pytest.mark.parametrize("path", ["max_rinses", "time_per_rinse"])
def test_what_the_rinse_lacks_is_asked_for(path: str) -> None:
    with pytest.raises(MissingInputError) as told:
        one(context(washer(**{path: None})))
    assert told.value.path == f"rinse.{path}"
    assert str(told.value) == f"Washer: rinse: {path.replace('_', ' ')} is not known. Ask the supplier."


def test_loads_rinsed_in_different_ways_are_each_rinsed_as_if_alone() -> None:
    at = context(ionic_limit=None)
    own = changed_record(BIG, {"ionic_limit": "2 µg/cm^2"})
    left, vapour = fluid(id="left", rinse_with="nothing"), fluid(id="vapour", rinse_with="own vapour")
    loads = [load(at), load(at, own, OTHER), load(at, SMALL, left), load(at, own, vapour), load(at, BIG, CLEANER)]
    together = rinse_boards(at, loads)
    assert len(together) == 5
    for each in loads:
        key = each.board.id, each.fluid.id
        alone = rinse_boards(at, [each])[key]
        for name in ("rinses", "time_s", "water_m3", "drag_out_m3", "residue_left_kg_m2", "gap_volume_m3"):
            np.testing.assert_array_equal(getattr(together[key], name), getattr(alone, name))
        assert (together[key].result is None) == (alone.result is None) == (each.fluid is left)
    same(together["small", "cleaner"].rinses, 6.0)
    assert np.all(together["big", "other"].rinses < 6.0)


# ---- Closed loop, counterflow and vapour -----------------------------------------------------------------------------


def test_a_closed_loop_replaces_what_boards_carry_off_and_spends_resin_on_what_they_leave() -> None:
    at = context(washer(closed_loop=True))
    found, wet = one(at), carried(at)
    same(found.water_m3, (wet.open_m3 + wet.gap_m3) / BOARDS)
    assert found.result is not None
    # One equivalent for each mole of salt, 58.443 g.
    moles = np.asarray(found.result.residue_out_kg) / BOARDS / 58.443e-3
    same(found.resin_m3, moles / at.constant("resin_capacity"))
    assert found.resin_m3.base is None
    # A rinse of less water than the boards carry off takes in that water only.
    drop = context(washer(closed_loop=True, volume_per_rinse="1 mL"))
    same(one(drop).water_m3, 6 * 1e-6 / BOARDS)
    same(one(context(washer(closed_loop=False))).resin_m3, 0.0)


def test_a_counterflow_rinse_runs_all_stages_with_the_flow_of_that_time() -> None:
    at = context(washer(kind="counterflow", flow="6 L/min", max_rinses=3))
    found = one(at)
    same(found.rinses, 3.0)
    same(found.time_s, 360.0)
    same(found.water_m3, 36e-3 / BOARDS)
    same_balance(found.result, counterflow_rinse(carried(at), start(at), 3, 36e-3, exchange(at), FEED_KG_M3))
    # Without a stage one is gone through, with no water.
    none = one(context(washer(kind="counterflow", flow="6 L/min", max_rinses=0)))
    same(none.rinses, 1.0)
    same_balance(none.result, counterflow_rinse(carried(at), start(at), 1, 0.0, exchange(at), FEED_KG_M3))


@pytest.mark.parametrize("closed", [False, True])
def test_condensate_of_the_fluid_replaces_its_share_of_the_film_without_any_water(closed: bool) -> None:
    at = context(washer(kind="own vapour", volume_per_rinse=None, closed_loop=closed, max_rinses=2))
    found, wet, share = one(at), carried(at), at.constant("rinse_film_share")
    assert np.all(share < 1.0)
    volume = wet.open_m3 * share / (1.0 - share)
    same(found.rinses, 2.0)
    same(found.time_s, 240.0)
    same(found.water_m3, 0.0)
    same(found.resin_m3, 0.0)
    same_balance(found.result, batch_rinse(wet, start(at), 2, volume, exchange(at), 0.0))
    # Where it replaces all, a million films stand for endlessly many.
    whole = changed_record(at.library.constants, {"rinse_film_share": "100 %"})
    all_new = one(replace(context(at.machine), library=at.library.model_copy(update={"constants": whole})))
    same_balance(all_new.result, batch_rinse(wet, start(at), 2, 1e6 * np.asarray(wet.open_m3), exchange(at), 0.0))


# ---- What is said ----------------------------------------------------------------------------------------------------


def staged(at: Context, of: BoardType = SMALL, wet_with: Fluid = CLEANER) -> tuple[RinseStage, dict[str, Requirement]]:
    stage = rinse_stage(at, load(at, of, wet_with))
    return stage, {one.requirement.key: one.requirement for one in stage.judged}


def test_the_stage_judges_residue_against_the_limit_and_says_how_many_rinses_leave_it() -> None:
    at = context()
    stage, musts = staged(at)
    alone = one(context())
    for name in Rinsed.__dataclass_fields__:
        if name != "result":
            np.testing.assert_array_equal(getattr(stage, name), getattr(alone, name))
    same_balance(stage.result, alone.result)  # type: ignore[arg-type]
    assert list(musts) == ["residue"]
    must = musts["residue"]
    assert (must.title, must.stage) == ("Ionic residue within the plant's limit", "rinse")
    assert (must.machine_id, must.board_id, must.fluid_id) == ("washer", "small", "cleaner")
    assert (must.direction, must.dimension, must.limit) == ("at most", "mass per area", pytest.approx(0.02e-5))
    assert must.measure is not None
    assert must.measure[1] == pytest.approx(float(np.median(alone.residue_left_kg_m2)))
    assert must.result == "meets"
    middle = f"{np.median(alone.rinses):.0f}"
    assert must.sentence.text().startswith(f"{middle} rinses leave ")
    assert must.sentence.text().endswith(" of ionic residue after Cleaner; the plant's own limit is 0.02 µg/cm².")
    figures = {name: (value, dimension) for name, value, dimension in must.sentence.figures}
    assert figures["left"] == (pytest.approx(must.measure[1]), "mass per area")


def test_one_rinse_and_all_rinses_are_said_in_words() -> None:
    _, easy = staged(context(ionic_limit="1 g/cm^2"))
    assert easy["residue"].sentence.text().startswith("1 rinse leaves ")
    _, hard = staged(context(ionic_limit="1e-7 µg/cm^2"))
    assert hard["residue"].sentence.text().startswith("All rinses leave ")
    assert hard["residue"].result == "falls short"
    _, none = staged(context(washer(max_rinses=0), ionic_limit="1 g/cm^2"))
    assert none["residue"].sentence.text().startswith("0 rinses leave ")
    # The middle of the draws, of which some never get there: they lie above the others, not below.
    for counts, said in (((2.0, 5.0, np.inf), "5 rinses leave "), ((1.0, np.inf, np.inf), "All rinses leave "),
                         ((0.0, 1.0, 3.0), "1 rinse leaves ")):  # fmt: skip
        at = context()
        at.rinsed.update(rinse_boards(at, [load(at)]))
        at.rinsed["small", "cleaner"] = replace(at.rinsed["small", "cleaner"], rinses=np.array(counts))
        assert staged(at)[1]["residue"].sentence.text().startswith(said)


def test_the_last_rinse_is_judged_by_its_resistivity_where_the_plant_wants_one() -> None:
    at = context(washer(max_rinses=9), rinse_resistivity="6 Mohm*cm")
    stage, musts = staged(at)
    assert list(musts) == ["residue", "resistivity"]
    must = musts["resistivity"]
    assert (must.title, must.stage, must.result) == ("Last rinse clean enough", "rinse", "meets")
    assert (must.machine_id, must.board_id, must.fluid_id) == ("washer", "small", "cleaner")
    assert (must.direction, must.dimension, must.limit) == ("at least", "resistivity", pytest.approx(6e4))
    assert stage.result is not None
    assert must.measure is not None
    reached = float(np.median(np.asarray(stage.result.last_rinse_resistivity_ohm_m)))
    assert must.measure[1] == pytest.approx(reached)
    figures = {name: (value, dimension) for name, value, dimension in must.sentence.figures}
    assert figures == {"reached": (pytest.approx(reached), "resistivity"),
                       "wanted": (pytest.approx(6e4), "resistivity")}  # fmt: skip
    text = must.sentence.text()
    assert text.startswith("The last rinse has ")
    assert text.endswith("; the plant wants 6 MΩ·cm.")
    vapour = context(washer(kind="own vapour", volume_per_rinse=None), rinse_resistivity="6 Mohm*cm")
    assert list(staged(vapour)[1]) == ["residue"]
    assert list(staged(context(rinse_resistivity="6 Mohm*cm", ionic_limit=None))[1]) == ["resistivity"]


def test_a_machine_without_a_rinse_falls_short_for_a_fluid_that_needs_water() -> None:
    _, musts = staged(context(washer(kind="none")))
    assert list(musts) == ["rinse"]
    must = musts["rinse"]
    assert (must.title, must.stage, must.result, must.probability) == ("Rinses", "rinse", "falls short", 0.0)
    assert (must.machine_id, must.board_id, must.fluid_id) == ("washer", "small", "cleaner")
    assert must.sentence.text() == "Cleaner must be rinsed off with water and this machine does not rinse."
    stage, _ = staged(context(washer(kind="none")))
    assert stage.judged[0].met is not None
    np.testing.assert_array_equal(stage.judged[0].met, [False] * 3)


@pytest.mark.parametrize("kind", ["none", "spray"])
def test_a_fluid_that_nothing_rinses_is_judged_by_what_dries_on_the_board(kind: str) -> None:
    dries = fluid(rinse_with="nothing")
    at = context(washer(kind=kind))
    stage, musts = staged(at, wet_with=dries)
    assert list(musts) == ["residue"]
    wet = carried(at, SMALL, 1.0)
    same(stage.residue_left_kg_m2, start(at) * (wet.open_m3 + wet.gap_m3) / wet.area_m2)
    text = musts["residue"].sentence.text()
    assert text.startswith("No rinse follows Cleaner; it dries on the board with ")
    assert text.endswith(" of ionic residue; the limit is 0.02 µg/cm².")
    assert staged(context(washer(kind=kind), ionic_limit=None), wet_with=dries)[1] == {}


def test_what_was_rinsed_ahead_is_taken_and_not_rinsed_again() -> None:
    at = context()
    first = rinse_stage(at, load(at))
    assert set(at.rinsed) == {("small", "cleaner")}
    at.rinsed["small", "cleaner"] = replace(at.rinsed["small", "cleaner"], rinses=np.full(3, 7.0))
    again, musts = staged(at)
    same(again.rinses, 7.0)
    assert musts["residue"].sentence.text().startswith("7 rinses leave ")
    same(again.residue_left_kg_m2, first.residue_left_kg_m2)
    kept = replace(at.rinsed["small", "cleaner"], result=None)
    at.rinsed["small", "cleaner"] = kept
    assert rinse_stage(at, load(at)).result is None


def test_a_limit_of_nothing_is_refused() -> None:
    with pytest.raises(UnphysicalInputError, match="residue limit: 0 kg/m² is not allowed"):
        one(context(), of=changed_record(SMALL, {"ionic_limit": "0 µg/cm^2"}))
