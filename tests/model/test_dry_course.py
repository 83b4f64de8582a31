"""What enters the dryer and what dries it: loads, air and liquid by hand, and board types dried together."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest

from catalog_schema.case import Case
from catalog_schema.library import library_for
from catalog_schema.machine import Machine
from model.air_transfer import stream_transfer_m_s
from model.context import Context, Rinsed
from model.dry_course import (
    WetBoards,
    _most_common,
    board_laminate,
    dry_boards,
    drying_air_K,
    drying_liquid,
    hot_air,
    laminate_start_share,
    leaves_water,
    longest_dry_s,
    open_sides,
    slowest_to_dry,
    wet_load,
)
from model.drying import dry_time_needed
from model.drying_fluid import water_for_drying
from model.laminate import BakeSuggestion, moisture_after
from model.machine_inputs import MachineInputs, MissingInputError
from model.moist_air import humidity_ratio, moist_air_density_kg_m3
from model.passive_drying import StandingChamber, passive_dry_outcome
from model.requirements import Thresholds
from model.uncertainty import FloatArray, InputBook
from tests.model.records import machine

DENSE, POWER, SENSOR = "dense-controller", "power-supply", "sensor-recorder"
DRAWS = 8
DRYER = {
    "kind": "hot air", "air_temperature": "80 degC", "air_flow": "300 m^3/h", "exhaust_flow": "100..150 m^3/h",
    "air_speed": "3..5 m/s", "heater_power": "5..6 kW", "max_time": "60 min", "blow_off_left_share": "0.05..0.1",
    "vacuum_pressure": "30 mbar", "vacuum_pump_speed": "60 m^3/h", "pump_down_time": "2 min",
}  # fmt: skip


def washer(moving: Any = "batch", **sections: Any) -> Machine:
    return replace(machine(**{"dry": DRYER, "rinse": {"temperature": "40..50 degC"}} | sections), moving=moving)


def context_of(case: Case, small_case: Any, own: Machine, board: Any = None, plant: Any = None) -> Context:
    narrowed = small_case(case, (), (DENSE, POWER, SENSOR), None, board, plant)
    return Context(
        case=narrowed, library=library_for(narrowed), inputs=MachineInputs(own, InputBook(DRAWS, 1)),
        thresholds=Thresholds(meets_from=0.9, misses_to=0.1), trace_of=lambda _: pytest.fail("no trace"), fields={},
        materials={},
    )  # fmt: skip


def wet(context: Context, board_id: str, fluid_id: str = "saponified-water", boards: float = 12.0) -> WetBoards:
    """Boards with a film and gaps that differ from draw to draw and from type to type."""
    board = next(one for one in context.case.board_types if one.id == board_id)
    fluid = next(one for one in context.library.fluids if one.id == fluid_id)
    nothing, draws = np.zeros(DRAWS), np.arange(1.0, DRAWS + 1.0)
    rinse = Rinsed(
        rinses=nothing, time_s=nothing, water_m3=nothing, resin_m3=nothing, drag_out_m3=nothing,
        residue_left_kg_m2=nothing, result=None, film_m=(10.0 + draws + len(board_id)) * 1e-6,
        gap_volume_m3=(5.0 + draws) * 1e-9,
    )  # fmt: skip
    return WetBoards(board=board, fluid=fluid, rinse=rinse, boards=np.full(DRAWS, boards))


def stated(context: Context, path: str) -> FloatArray:
    found = context.inputs.draws(path)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("share", "sides"), [("0", 1), ("0.25", 1), ("0.26", 2), ("0.5", 2), ("0.51", 3), ("0.76", 4), ("1", 4),
                        ("0.1..0.2..0.9", 1)]
)  # fmt: skip
def test_vapour_leaves_through_whole_sides(demo_case: Case, change: Any, share: str, sides: int) -> None:
    kind = next(one for one in library_for(demo_case).component_kinds if one.id == "qfn-7x7")
    assert open_sides(change(kind, {"open_edge_share": share})) == sides


def test_the_kind_with_the_longest_way_out_dries_last(demo_case: Case, small_case: Any, change: Any) -> None:
    context = context_of(demo_case, small_case, washer())
    board = next(one for one in context.case.board_types if one.id == DENSE)
    kinds = context.kinds
    for bodies, slowest in (
        # 10 mm over two ways out of four open sides is 5 mm; 6 mm with one side is 6 mm.
        ({"power-qfn": ("10 mm", "1"), "tssop-20": ("6 mm", "0.2")}, "tssop-20"),
        ({"power-qfn": ("13 mm", "1"), "tssop-20": ("6 mm", "0.2")}, "power-qfn"),
        # Likely values count.
        ({"power-qfn": ("1..12..100 mm", "1"), "tssop-20": ("6.5 mm", "0.2")}, "tssop-20"),
        # Of two alike the later name.
        ({"power-qfn": ("12 mm", "1"), "tssop-20": ("6 mm", "0.2")}, "tssop-20"),
    ):
        changed = {
            name: change(kind, {"body_length": bodies.get(name, ("1 mm", "1"))[0],
                                "open_edge_share": bodies.get(name, ("1 mm", "1"))[1]})
            for name, kind in kinds.items()
        }  # fmt: skip
        fresh = replace(context, known_kinds=changed, slowest={})
        assert slowest_to_dry(fresh, board).id == slowest
        assert fresh.slowest[DENSE].id == slowest


@pytest.mark.parametrize(
    ("rinse_with", "water_based", "water"),
    [("water", False, True), ("nothing", True, True), ("water", True, True), ("own vapour", False, False)],
)
def test_a_rinse_with_water_or_a_fluid_of_water_leaves_water(
    demo_case: Case, change: Any, rinse_with: str, water_based: bool, water: bool
) -> None:
    own = next(one for one in library_for(demo_case).fluids if one.id == "modified-alcohol")
    assert leaves_water(change(own, {"rinse_with": rinse_with, "water_based": water_based})) is water


def test_a_solvent_dries_by_the_middle_of_its_own_figures(demo_case: Case, small_case: Any) -> None:
    context = context_of(demo_case, small_case, washer())
    fluid = next(one for one in context.library.fluids if one.id == "2-propanol")
    liquid = drying_liquid(context, fluid)
    for name, found in (("molar_mass", liquid.molar_mass_kg_mol), ("density", liquid.liquid_density_kg_m3),
                        ("latent_heat", liquid.latent_heat_J_kg)):  # fmt: skip
        assert found == pytest.approx(float(np.median(context.of_fluid(fluid, name))), rel=1e-12)
    warm = np.median(context.of_fluid(fluid, "reference_temperature"))
    pressure = np.median(context.of_fluid(fluid, "vapour_pressure"))
    assert liquid.saturation_pressure_Pa(np.asarray(warm)) == pytest.approx(pressure, rel=1e-9)
    # The constant is for 25 °C; a gas diffuses with the power 1.75 of its temperature (Fuller and others, from memory).
    at_25 = float(np.median(context.constant("solvent_vapour_diffusivity")))
    for kelvin, expected in ((298.15, at_25), (2.0 * 298.15, at_25 * 2.0**1.75)):
        found = liquid.diffusivity_m2_s(np.asarray(kelvin), np.asarray(101325.0))
        assert found == pytest.approx(expected, rel=1e-9)
    # Down to -20 °C.
    assert liquid.coldest_K == 253.15


def test_the_commonest_word_of_each_row_is_taken() -> None:
    words = np.array([["film", "gap", "gap"], ["heat", "film", "film"]])
    assert _most_common(words, (2, 3)) == ["gap", "film"]
    assert _most_common(np.array("standing"), (2, 3)) == ["standing"] * 2


@pytest.mark.parametrize("blow_off", [False, True])
def test_a_load_is_what_its_boards_bring_in(demo_case: Case, small_case: Any, blow_off: bool) -> None:
    context = context_of(demo_case, small_case, washer())
    boards = [wet(context, DENSE), wet(context, POWER, boards=3.0)]
    load = wet_load(context, boards, blow_off=blow_off)
    constant = context.constant
    for row, one in enumerate(boards):
        area = one.board.length.si()[1] * one.board.width.si()[1]
        kind = slowest_to_dry(context, one.board)
        reach = context.of_kind(kind, "body_length") * constant("gap_drying_path_share")
        mass = area * context.of_board(one.board, "thickness") * constant("board_density")
        for field, expected in {
            "wet_area_m2": 2.0 * area * one.boards, "film_before_drain_m": one.rinse.film_m,
            "film_drained_m": one.rinse.film_m,
            "blow_off_share_left": stated(context, "dry.blow_off_left_share") if blow_off else np.ones(DRAWS),
            "gap_volume_m3": one.rinse.gap_volume_m3 * one.boards * (constant("gap_liquid_share") if blow_off else 1.0),
            "body_length_m": reach, "body_width_m": reach, "open_sides": np.full(DRAWS, float(open_sides(kind))),
            "heat_capacity_J_K": mass * constant("board_heat_capacity") * one.boards,
            "temperature_K": stated(context, "rinse.temperature"),
        }.items():  # fmt: skip
            found = np.broadcast_to(np.asarray(getattr(load, field)), (2, DRAWS))[row]
            np.testing.assert_allclose(found, expected, rtol=1e-12, err_msg=field)
    assert not np.allclose(np.asarray(load.body_length_m)[0], np.asarray(load.body_length_m)[1])


def test_what_a_machine_leaves_open_of_its_blow_off_and_rinse_is_taken_from_constants_and_room(
    demo_case: Case, small_case: Any
) -> None:
    context = context_of(demo_case, small_case, washer(dry=DRYER | {"blow_off_left_share": None}, rinse={}))
    load = wet_load(context, [wet(context, DENSE)], blow_off=True)
    np.testing.assert_allclose(
        np.broadcast_to(load.blow_off_share_left, DRAWS), context.constant("film_after_blow_off")
    )
    np.testing.assert_allclose(np.broadcast_to(load.temperature_K, DRAWS), context.from_plant("air_temperature"))


@pytest.mark.parametrize("fluid", ["saponified-water", "2-propanol"])
def test_air_is_drawn_from_the_room_and_heated_as_far_as_the_heater_goes(
    demo_case: Case, small_case: Any, fluid: str
) -> None:
    context = context_of(demo_case, small_case, washer(), plant={"air_pressure": "850 mbar"})
    boards = [wet(context, DENSE, fluid), wet(context, POWER, fluid)]
    air_K = stated(context, "dry.air_temperature")
    liquid = drying_liquid(context, boards[0].fluid)
    dryer = hot_air(context, boards, liquid, air_K)
    room, humidity = context.from_plant("air_temperature"), context.from_plant("relative_humidity")
    pressure = context.from_plant("air_pressure")
    np.testing.assert_array_equal(dryer.air_temperature_K, air_K)
    np.testing.assert_array_equal(dryer.inlet_temperature_K, room)
    np.testing.assert_array_equal(dryer.pressure_Pa, pressure)
    np.testing.assert_array_equal(dryer.heater_power_W, stated(context, "dry.heater_power"))
    np.testing.assert_allclose(
        dryer.exhaust_dry_air_kg_s,
        stated(context, "dry.exhaust_flow") * np.asarray(moist_air_density_kg_m3(room, humidity, pressure)), rtol=1e-12,
    )  # fmt: skip
    # Of a solvent the room's air holds nothing.
    moist = humidity_ratio(room, humidity, pressure) if fluid == "saponified-water" else 0.0
    np.testing.assert_allclose(dryer.inlet_humidity_ratio, moist, rtol=1e-12)
    assert np.asarray(dryer.transfer_m_s).shape == (2, DRAWS)
    for row, one in enumerate(boards):
        along = np.full(DRAWS, one.board.length.si()[1])
        transfer = np.asarray(stream_transfer_m_s(liquid, stated(context, "dry.air_speed"), along, air_K,
                                                  pressure_Pa=pressure))  # fmt: skip
        share = context.constant("heat_transfer_share")
        np.testing.assert_allclose(np.asarray(dryer.transfer_m_s)[row], transfer * share, rtol=1e-12)


def test_a_forgotten_heater_has_no_limit_and_a_known_one_is_not_forgotten(demo_case: Case, small_case: Any) -> None:
    weak = {"heater_power": "200 W"}
    for heater, exhaust in ((weak, "exhaust_flow"), ({"heater_power": None, "exhaust_flow": None}, "air_flow")):
        context = context_of(demo_case, small_case, washer(dry=DRYER | heater))
        boards = [wet(context, DENSE, boards=60.0)]
        air_K = drying_air_K(context, boards[0].board)
        dryer = hot_air(context, boards, water_for_drying(), air_K)
        np.testing.assert_array_equal(dryer.heater_power_W, 200.0 if heater is weak else np.inf)
        room, humidity = context.from_plant("air_temperature"), context.from_plant("relative_humidity")
        density = moist_air_density_kg_m3(room, humidity, context.from_plant("air_pressure"))
        np.testing.assert_allclose(dryer.exhaust_dry_air_kg_s, stated(context, f"dry.{exhaust}") * density, rtol=1e-12)
        load = wet_load(context, boards, blow_off=False)
        expected = dry_time_needed(load, dryer, water_for_drying())
        (dried,) = dry_boards(context, {"": boards[0]}).values()
        np.testing.assert_allclose(dried.needed_time_s, np.asarray(expected.total_time_s)[0], rtol=1e-12)
        assert (dried.limited_by == "heat") is (heater is weak)


@pytest.mark.parametrize(
    ("air", "board", "kelvin"),
    [("80 degC", "105 degC", 353.15), ("120 degC", "105 degC", 378.15), (None, "105 degC", None),
     (None, "10 degC", 283.15)],
)  # fmt: skip
def test_air_is_as_hot_as_the_dryer_makes_it_and_the_board_stands(
    demo_case: Case, small_case: Any, air: str | None, board: str, kelvin: float | None
) -> None:
    own = washer(dry=DRYER | {"air_temperature": air})
    context = context_of(demo_case, small_case, own, {"max_temperature": board})
    expected = context.from_plant("air_temperature") if kelvin is None else kelvin
    np.testing.assert_allclose(drying_air_K(context, context.case.board_types[0]), expected)


@pytest.mark.parametrize(
    ("moving", "chamber", "expected"),
    [("inline", {"dry_zone_length": "1.5 m", "belt_min_speed": "0.25 m/min"}, 360.0),
     ("batch", {"dry_zone_length": "1.5 m", "belt_min_speed": "0.25 m/min"}, 3600.0),
     ("inline", {"dry_zone_length": "1.5 m"}, 3600.0), ("inline", {"belt_min_speed": "0.25 m/min"}, 3600.0)],
)  # fmt: skip
def test_a_belt_dries_in_its_zone_and_others_as_long_as_stated(
    demo_case: Case, small_case: Any, moving: str, chamber: dict[str, str], expected: float
) -> None:
    found = longest_dry_s(context_of(demo_case, small_case, washer(moving, chamber=chamber)))
    assert found is not None
    np.testing.assert_allclose(found, expected)


@pytest.mark.parametrize(
    ("kind", "share", "minutes"), [("passive", 1.0, None), ("vapour", 0.0, None), ("vapour", 0.0, 45.0)]
)
def test_boards_that_stand_are_followed_as_long_as_they_may_or_for_an_hour(
    demo_case: Case, small_case: Any, kind: str, share: float, minutes: float | None
) -> None:
    longest = {} if minutes is None else {"max_time": f"{minutes} min"}
    own = washer(dry={"kind": kind} | longest, rinse={"temperature": "60 degC"})
    context = context_of(demo_case, small_case, own)
    boards = wet(context, DENSE)
    chamber = StandingChamber(
        wall_temperature_K=context.from_plant("air_temperature"), saturation_share=np.full(DRAWS, share),
        heat_transfer_W_m2_K=context.constant("natural_convection"), pressure_Pa=context.from_plant("air_pressure"),
    )  # fmt: skip
    load = wet_load(context, [boards], blow_off=False)
    expected = passive_dry_outcome(load, chamber, water_for_drying(), 60.0 * (minutes or 60.0))
    (dried,) = dry_boards(context, {"": boards}).values()
    # Into saturated air only what the boards' own warmth drives out goes, and the gap stays wet.
    assert np.any(np.isfinite(dried.needed_time_s)) == (kind == "vapour")
    np.testing.assert_array_equal(dried.needed_time_s, np.asarray(expected.dry_at_s)[0])
    assert dried.limited_by == "standing"


@pytest.mark.parametrize(
    ("kind", "minutes", "run"),
    [("none", None, 0.0), ("none", 30.0, 1800.0), ("hot air", 2.0, 120.0), ("hot air", None, None),
     ("hot air", 600.0, None)],
)  # fmt: skip
def test_the_laminate_dries_until_the_boards_are_dry_or_their_time_is_over(
    demo_case: Case, small_case: Any, kind: str, minutes: float | None, run: float | None
) -> None:
    dryer = DRYER | {"kind": kind, "max_time": None if minutes is None else f"{minutes} min"}
    limits = {"moisture_limit": "0.1 %", "laminate_path_factor": "0.5..1.5"}
    context = context_of(demo_case, small_case, washer(dry=dryer), limits)
    boards = wet(context, DENSE)
    (dried,) = dry_boards(context, {"": boards}).values()
    assert np.all(np.isinf(dried.needed_time_s)) == (kind == "none")
    assert (dried.limited_by == "no dryer") == (kind == "none")
    assert dried.laminate is not None
    laminate = board_laminate(context, boards.board)
    # A way longer than through the laminate is allowed for, a shorter one is not.
    stated_factor = context.of_board(boards.board, "laminate_path_factor")
    assert stated_factor.min() < 1.0
    np.testing.assert_array_equal(laminate.path_factor, np.maximum(stated_factor, 1.0))
    start = context.constant("laminate_start") * context.constant("laminate_saturation")
    np.testing.assert_allclose(laminate_start_share(context), start, rtol=1e-12)
    time = dried.needed_time_s if run is None else np.full(DRAWS, run)
    air_K = drying_air_K(context, boards.board)
    np.testing.assert_allclose(
        dried.laminate.after_share, moisture_after(laminate, start, 0.0, air_K, time), rtol=1e-12
    )


def test_a_dryer_of_unknown_kind_is_asked_for(demo_case: Case, small_case: Any) -> None:
    context = context_of(demo_case, small_case, washer(dry={}))
    with pytest.raises(MissingInputError, match=r"^Washer: dry: kind is not known"):
        dry_boards(context, {"": wet(context, DENSE)})


@pytest.mark.parametrize("kind", ["hot air", "blow-off and hot air", "passive", "vapour", "vacuum", "none"])
def test_loads_dry_together_as_each_does_alone(demo_case: Case, small_case: Any, change: Any, kind: str) -> None:
    """Board types with and without a limit of moisture, one of which has the air turned down, from two liquids."""
    context = context_of(demo_case, small_case, washer(dry=DRYER | {"kind": kind}))
    dense, power, sensor = context.case.board_types
    types = (change(dense, {"moisture_limit": "0.1 %"}), change(power, {"max_temperature": "70 degC"}),
             change(sensor, {"moisture_limit": "0.2 %", "laminate_path_factor": "1.7"}))  # fmt: skip
    context = replace(context, case=context.case.model_copy(update={"board_types": types}))
    loads = [wet(context, DENSE), wet(context, POWER, boards=4.0), wet(context, POWER, "2-propanol", 5.0),
             wet(context, SENSOR, boards=30.0), wet(context, DENSE, "2-propanol")]  # fmt: skip
    loads = {one.key: one for one in loads}
    assert len(loads) == 5
    together = dry_boards(context, loads)
    assert list(sorted(together)) == sorted(loads)
    for key, load in loads.items():
        fresh = replace(context, figures={}, slowest={})
        alone = dry_boards(fresh, {key: load})[key]
        np.testing.assert_array_equal(together[key].needed_time_s, alone.needed_time_s)
        assert together[key].limited_by == alone.limited_by
        mine, its = together[key].laminate, alone.laminate
        assert (mine is None) is (its is None) is (load.board.moisture_limit is None)
        if mine is not None and its is not None:
            np.testing.assert_array_equal(mine.after_share, its.after_share)
            assert mine.after_share.base is None
            for field in fields(BakeSuggestion):
                np.testing.assert_array_equal(getattr(mine.bake, field.name), getattr(its.bake, field.name))
    if kind not in ("none", "passive"):
        times = [tuple(one.needed_time_s) for one in together.values()]
        assert len(set(times)) > 2
