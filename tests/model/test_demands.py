"""What the boards demand: solving backwards, what sets a demand, and the document for suppliers."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog_schema.case import Case
from catalog_schema.files import load_case
from catalog_schema.library import library_for
from model.demand_boards import human_body_class
from model.demand_records import Asking, Conditions, Demand, Demands, asked_of, asking
from model.demand_solving import (
    ClearingTask,
    GREATEST_PRESSURE_Pa,
    clearing_tasks,
    hardest_first,
    least_that_serves,
    pressure_needed_Pa,
)
from model.demand_wash import TASKS_KEPT, fluid_limits, try_fluids
from model.demands import demands_of, hardest
from model.fluid_state import fluid_state
from model.immersion import make_drive
from model.phrase import phrase
from model.supplier_specification import board_rows, fluid_rows, specification_rows, supplier_specification
from model.uncertainty import share_true
from model.wash import BathDrive
from model.wash_course import wash_outcome
from tests.conftest import DEMO_FOLDER

DRAWS, SEED = 256, 1


@pytest.fixture(scope="module")
def demands(demo_case: Case) -> Demands:
    return demands_of(demo_case, draws=DRAWS)


def asker(case: Case, board_id: str, draws: int = DRAWS) -> Asking:
    board = next(one for one in case.board_types if one.id == board_id)
    return asking(case, library_for(case), board, draws, SEED)


def tasks_of(asked: Asking, fluid_id: str) -> tuple[ClearingTask, ...]:
    context, board = asked.context, asked.board
    assert board is not None
    fluid = next(one for one in context.library.fluids if one.id == fluid_id)
    flux = next(one for one in context.library.flux_kinds if one.id == board.flux)
    _, highest_K = fluid_limits(board, fluid, asked)
    return clearing_tasks(context, board, flux, fluid_state(fluid, highest_K, context.inputs.book))


def overall(demands: Demands, key: str) -> Demand:
    return next(one for one in demands.overall if one.key == key)


def of_board(demands: Demands, board_id: str, key: str) -> Demand:
    board = next(one for one in demands.boards if one.board_id == board_id)
    return next(one for one in board.demands if one.key == key)


# ---- solving backwards --------------------------------------------------------------------------------------------


@settings(deadline=None, max_examples=50)
@given(seed=st.integers(0, 10_000), share=st.floats(0.0, 1.0))
def test_the_least_value_is_the_order_statistic_of_what_each_draw_needs(seed: int, share: float) -> None:
    needs = np.exp(np.random.default_rng(seed).normal(0.0, 2.0, 41))
    found = least_that_serves(lambda x: np.log(x / needs), share, 1e-6, 1e6)
    assert found == pytest.approx(np.sort(needs)[int(np.floor(share * 40 + 0.5))], rel=1e-5)
    assert share_true(found >= needs) >= share - 0.5 / 41


def test_all_draws_or_the_easiest_alone_may_be_asked_for() -> None:
    needs = np.array([3.0, 1.0, 9.0])
    for share, expected in ((0.0, 1.0), (1.0, 9.0)):
        found = least_that_serves(lambda x: np.log(x / needs), share, 1e-3, 1e3)
        assert found == pytest.approx(expected, rel=1e-6)


def test_a_jump_is_found_from_its_upper_side() -> None:
    found = least_that_serves(lambda x: np.where(x > 7.0, 1.0, -1.0) * np.ones(5), 0.5, 1e-3, 1e3)
    assert found > 7.0
    assert found == pytest.approx(7.0, rel=1e-5)
    for above, below in ((0.5, -0.5), (0.0, -1.0), (np.inf, -np.inf)):
        found = least_that_serves(lambda x, a=above, b=below: np.full(5, a if x > 7.0 else b), 0.5, 1e-3, 1e3)
        assert found == pytest.approx(7.0, rel=1e-5)


def test_enough_from_the_start_is_zero_and_never_enough_is_infinite() -> None:
    assert least_that_serves(lambda x: np.full(3, 1.0), 0.9, 1e-3, 1e3) == 0.0
    assert least_that_serves(lambda x: np.zeros(3), 0.9, 1e-3, 1e3) == 0.0
    assert least_that_serves(lambda x: np.full(3, -np.inf), 0.9, 1e-3, 1e3) == np.inf


@pytest.mark.parametrize(
    ("share", "least", "greatest", "word"),
    [(1.5, 1.0, 2.0, "share"), (-0.1, 1.0, 2.0, "share"), (0.5, 2.0, 1.0, "bounds"), (0.5, 2.0, 2.0, "bounds"),
     (0.5, 0.0, 1.0, "bounds")],
)  # fmt: skip
def test_a_search_without_sense_is_refused(share: float, least: float, greatest: float, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        least_that_serves(lambda x: np.full(3, x), share, least, greatest)


def test_the_asked_pressure_cleans_in_the_wanted_share_of_draws_and_a_tenth_less_does_not(demo_case: Case) -> None:
    tasks = tasks_of(asker(demo_case, "dense-controller"), "saponified-water")
    pressure = pressure_needed_Pa(tasks, 1200.0, 0.5, 0.9)

    def clean_share(pressure_Pa: float) -> float:
        return share_true(np.max([task.time_s(pressure_Pa, 0.5) for task in tasks], axis=0) <= 1200.0)

    assert 0.0 < pressure < GREATEST_PRESSURE_Pa
    assert clean_share(pressure) >= 0.9 - 0.5 / DRAWS
    assert clean_share(0.9 * pressure) < 0.9


def test_the_wash_time_agrees_with_that_of_a_machine_with_the_same_drive(demo_case: Case) -> None:
    asked = asker(demo_case, "dense-controller")
    tasks, context, board = tasks_of(asked, "saponified-water"), asked.context, asked.board
    assert board is not None
    fluid = next(one for one in context.library.fluids if one.id == "saponified-water")
    flux = next(one for one in context.library.flux_kinds if one.id == board.flux)
    _, highest_K = fluid_limits(board, fluid, asked)
    pressure, duty = np.full(DRAWS, 4000.0), np.full(DRAWS, 0.4)
    outcome = wash_outcome(
        board, flux, BathDrive(drive=make_drive(pressure, duty), excluded_share=0.02),
        fluid_state(fluid, highest_K, context.inputs.book), context.library, context.inputs.book,
    )  # fmt: skip
    for kind in outcome.kinds:
        own = next(task for task in tasks if task.kind.id == kind.kind.id)
        np.testing.assert_allclose(own.time_s(4000.0, 0.4), kind.needed_time_s, rtol=1e-9)


def test_a_task_is_of_its_kind_and_of_the_share_to_be_cleared_and_its_first_draws_are_a_sample(
    demo_case: Case, change: Any
) -> None:
    board = next(one for one in demo_case.board_types if one.id == "dense-controller")
    case = demo_case.model_copy(update={"board_types": (change(board, {"cleared_share_needed": "0.8"}),)})
    asked = asker(case, "dense-controller", draws=96)
    task = tasks_of(asked, "saponified-water")[0]
    np.testing.assert_allclose(task.depth_m, 0.8 * asked.context.of_kind(task.kind, "flux_path"), rtol=1e-12)
    few = task.first(64)
    assert few.kind is task.kind
    np.testing.assert_array_equal(few.depth_m, task.depth_m[:64])
    np.testing.assert_array_equal(few.open_share, task.open_share[:64])
    np.testing.assert_array_equal(few.time_s(4000.0, 0.5), task.time_s(4000.0, 0.5)[:64])


def test_kinds_that_need_nothing_are_ranked_by_their_time_and_nothing_to_clear_needs_nothing(demo_case: Case) -> None:
    tasks = tasks_of(asker(demo_case, "dense-controller", draws=96), "saponified-water")
    ordered = hardest_first(tasks, 1e12, 0.5, 0.9)
    assert {pressure_needed_Pa((task,), 1e12, 0.5, 0.9) for task in ordered} == {0.0}
    times = [float(np.median(task.first(64).time_s(1.0, 0.5))) for task in ordered]
    assert times == sorted(times, reverse=True)
    clean = replace(tasks[0], depth_m=np.zeros(96))
    assert pressure_needed_Pa((clean,), 0.5, 0.5, 0.9) == 0.0


@settings(deadline=None, max_examples=15)
@given(short=st.floats(200.0, 2000.0), longer=st.floats(1.05, 4.0), duty=st.floats(0.1, 0.9))
def test_more_time_or_more_duty_never_asks_for_more_pressure(
    demo_case: Case, short: float, longer: float, duty: float
) -> None:
    tasks = tasks_of(asker(demo_case, "sensor-recorder", draws=32), "neutral-water")[:3]
    asked = pressure_needed_Pa(tasks, short, duty, 0.5)
    assert pressure_needed_Pa(tasks, short * longer, duty, 0.5) <= asked * (1.0 + 1e-6)
    assert pressure_needed_Pa(tasks, short, min(1.0, duty * 1.1), 0.5) <= asked * (1.0 + 1e-6)


def test_a_multiplier_divides_the_pressure_asked(demo_case: Case) -> None:
    tasks = tasks_of(asker(demo_case, "dense-controller", draws=64), "saponified-water")[:2]
    plain = pressure_needed_Pa(tasks, 1200.0, 0.5, 0.9)
    assert pressure_needed_Pa(tasks, 1200.0, 0.5, 0.9, 0.25) == pytest.approx(4.0 * plain, rel=1e-5)


def test_the_hardest_component_is_first(demo_case: Case) -> None:
    ordered = hardest_first(tasks_of(asker(demo_case, "radio-module"), "saponified-water"), 1200.0, 0.5, 0.9)
    needs = [pressure_needed_Pa((task.first(64),), 1200.0, 0.5, 0.9) for task in ordered]
    assert needs == sorted(needs, reverse=True)
    assert needs[0] > needs[-1]


@pytest.mark.parametrize("board_id", ["power-supply", "compute-board", "radio-module"])
def test_the_component_kinds_left_out_after_ranking_would_hardly_ask_for_more(demo_case: Case, board_id: str) -> None:
    tasks = tasks_of(asker(demo_case, board_id), "saponified-water")
    kept = hardest_first(tasks, 1200.0, 0.5, 0.9)[:TASKS_KEPT]
    of_all = pressure_needed_Pa(tasks, 1200.0, 0.5, 0.9)
    assert pressure_needed_Pa(kept, 1200.0, 0.5, 0.9) == pytest.approx(of_all, rel=0.02)


@pytest.mark.parametrize(
    ("time_s", "duty", "word"), [(0.0, 0.5, "wash time"), (60.0, 0.0, "duty"), (60.0, 1.2, "duty")]
)
def test_a_pressure_without_wash_or_duty_is_refused(time_s: float, duty: float, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        pressure_needed_Pa((), time_s, duty, 0.5)


# ---- demands ------------------------------------------------------------------------------------------------------


def test_plain_water_is_no_fluid_for_rosin(demands: Demands) -> None:
    uses = {use.fluid_id: use for use in demands.boards[1].fluids}
    assert not uses["di-water"].dissolves
    assert not uses["di-water"].usable
    assert uses["saponified-water"].usable
    assert "Not dissolved by: Deionised water" in overall(demands, "fluid rosin").sentence.text()


def test_less_duty_asks_for_more_pressure(demands: Demands) -> None:
    asked = [overall(demands, f"water pressure {duty:g}").asked for duty in demands.conditions.duties]
    assert None not in asked
    assert asked == sorted(asked)  # type: ignore[type-var]
    assert asked[0] < asked[-1]  # type: ignore[operator]


def test_a_stream_must_bring_more_than_what_acts_across_the_gap(demands: Demands) -> None:
    stream, gap = overall(demands, "stream").asked, overall(demands, "water pressure 0.5").asked
    assert stream is not None
    assert gap is not None
    assert stream > gap


def test_no_stream_is_asked_where_standing_fluid_clears_by_itself(demands: Demands) -> None:
    middle = demands.conditions.duties[1]
    nothing = [board.board_id for board in demands.boards
               if of_board(demands, board.board_id, f"water pressure {middle:g}").asked == 0.0]  # fmt: skip
    assert "power-supply" in nothing
    for board_id in nothing:
        stream = of_board(demands, board_id, "stream")
        assert stream.asked_text() == "nothing asked"
        assert "no stream pressure is asked" in stream.sentence.text()


def test_the_route_with_water_always_comes_first() -> None:
    case = load_case(DEMO_FOLDER / "through_hole_plant.yaml")
    found = demands_of(case, draws=32)
    assert list(found.reference_fluids) == ["water", "solvent"]
    keys = [one.key for one in found.overall]
    assert keys.index("water wash hottest") < keys.index("solvent wash hottest")


def test_what_is_out_of_reach_is_written_in_words_and_never_as_a_number(demo_case: Case) -> None:
    # Four seconds of wash: some board types need more pressure than any within reach.
    found = demands_of(demo_case, Conditions(wash_time_s=4.0), draws=32)
    lost = [one for one in found.overall if one.asked is not None and np.isinf(one.asked)]
    assert lost
    for one in lost:
        assert one.asked_text() == "out of reach"
        assert one.band_text().endswith("to out of reach") or one.band_text() == ""
    rows = specification_rows(found)
    assert (rows.loc[rows["Asked"].map(str) == "out of reach", "Unit"] == "kPa").all()
    per_board = board_rows(found).to_csv(index=False)
    for text in (rows.to_csv(index=False), per_board, supplier_specification(found)):
        assert not re.search(r"\binf\b|\bnan\b|∞", text)


def test_a_fluid_list_without_exception_names_none(demands: Demands) -> None:
    organic = overall(demands, "fluid organic").sentence.text()
    assert "Not dissolved by" not in organic
    assert "Not dissolved by: Deionised water" in overall(demands, "fluid rosin").sentence.text()


def test_drying_air_is_never_hotter_than_the_board_may_see(demands: Demands) -> None:
    hot, at_limit = (of_board(demands, "sensor-recorder", f"dry {air:g}") for air in (383.15, 353.15))
    assert hot.asked == pytest.approx(at_limit.asked)
    assert "turned down to the 80 °C" in hot.sentence.text()


def test_hotter_air_dries_sooner_where_the_board_may_see_it(demands: Demands) -> None:
    cool, warm = (of_board(demands, "dense-controller", f"dry {air:g}").asked for air in (353.15, 368.15))
    assert cool is not None
    assert warm is not None
    assert warm < cool


def test_rinsing_with_flow_is_never_slower_than_soaking(demands: Demands) -> None:
    for board in demands.boards:
        by_key = {one.key: one.asked for one in board.demands}
        assert by_key["rinse flow"] <= by_key["rinse soak"]  # type: ignore[operator]


def test_a_tenth_of_the_ionic_limit_asks_for_ten_times_the_thinning(demo_case: Case) -> None:
    musts = demo_case.plant.requirements
    assert musts.ionic_limit is not None
    strict = musts.ionic_limit.model_copy(update={"likely": musts.ionic_limit.likely / 10.0})
    plant = demo_case.plant.model_copy(update={"requirements": musts.model_copy(update={"ionic_limit": strict})})
    board = tuple(one for one in demo_case.board_types if one.id == "dense-controller")
    loose_case = demo_case.model_copy(update={"board_types": board})
    loose = demands_of(loose_case, draws=64)
    tight = demands_of(loose_case.model_copy(update={"plant": plant}), draws=64)
    once, ten = overall(loose, "thinning").asked, overall(tight, "thinning").asked
    assert ten == pytest.approx(10.0 * once)  # type: ignore[operator]


def test_each_overall_number_is_the_hardest_of_its_board_types(demands: Demands) -> None:
    for demand in demands.overall:
        if demand.board_ids and demand.asked is not None:
            rivals = [one.asked for board in demands.boards for one in board.demands if one.key == demand.key]
            assert demand.asked == (max(rivals) if demand.side == "at least" else min(rivals))  # type: ignore[type-var]
            assert all(of_board(demands, board_id, demand.key).asked == demand.asked for board_id in demand.board_ids)


def test_throughput_is_volume_over_working_time_and_utilisation(demo_case: Case) -> None:
    plant, board = demo_case.plant, demo_case.board_types[0]
    fixed = board.model_copy(update={"volume": type(board.volume)(likely=9000.0, unit="1/year")})
    found = overall(demands_of(demo_case.model_copy(update={"board_types": (fixed,)}), draws=16), "throughput")
    by_hand = 9000.0 / (plant.working_days.si()[1] * plant.hours_per_day.si()[1] * 3600.0 * 0.85)
    assert found.asked == pytest.approx(by_hand, rel=1e-6)
    assert found.asked_text().endswith("boards/h")


def test_crystals_ban_ultrasound_and_the_plant_asks_for_its_records(demands: Demands, demo_case: Case) -> None:
    banned = [one for one in demands.overall if one.key.startswith("part not allowed ultrasound")]
    assert [one.board_ids for one in banned] == [("sensor-recorder",)]
    records = [one.key.removeprefix("record ") for one in demands.overall if one.group == "Records"]
    assert records == list(demo_case.plant.requirements.traceability)


@pytest.mark.parametrize(("volts", "name"), [(49.0, "0Z"), (50.0, "0A"), (125.0, "0B"), (500.0, "1B"), (8000.0, "3B")])
def test_class_of_the_most_sensitive_part_by_its_withstand_voltage(volts: float, name: str) -> None:
    # ANSI/ESDA/JEDEC JS-001, from memory.
    assert human_body_class(volts) == name


def test_every_number_shows_only_inputs_of_its_own_boards(demands: Demands) -> None:
    for board in demands.boards:
        for demand in board.demands:
            of_boards = {one.path.partition("]")[0] for one in demand.inputs if one.path.startswith("board_types[")}
            assert of_boards <= {f"board_types[{board.board_id}"}
            assert demand.asked is None or demand.inputs


def test_a_must_shared_by_boards_names_all_of_them(demands: Demands) -> None:
    assert overall(demands, "fluid rosin").board_ids == ("control-board", "compute-board", "radio-module",
                                                        "sensor-recorder")  # fmt: skip


def test_a_part_that_forbids_alkali_blocks_the_fluids_that_are_alkaline(demo_case: Case) -> None:
    library = library_for(demo_case)
    rule = next(rule for part in library.board_parts for rule in part.rules if rule.agent == "alkaline")
    strict = rule.model_copy(update={"result": "not allowed", "above": None, "above_temperature": None})
    parts = tuple(part.model_copy(update={"rules": (strict,)}) for part in library.board_parts)
    case = demo_case.model_copy(update={"board_parts": parts})
    asked = asker(case, "power-supply")
    flux = next(one for one in asked.context.library.flux_kinds if one.id == "ORM0")
    uses = {use.fluid_id: use for use in try_fluids(asked, flux, Conditions(), SEED).uses}
    assert not uses["saponified-water"].usable
    assert strict.why in uses["saponified-water"].blocked_by
    assert uses["di-water"].usable


def test_without_a_fluid_that_dissolves_the_residue_the_demand_says_so(demo_case: Case) -> None:
    fluids = tuple(fluid.model_copy(update={"capacity": {}}) for fluid in library_for(demo_case).fluids)
    found = demands_of(demo_case.model_copy(update={"fluids": fluids}), draws=16)
    assert "No fluid of the library dissolves rosin" in overall(found, "fluid rosin").sentence.text()
    assert found.reference_fluids == {}
    assert not any(one.key.startswith("water pressure") for one in found.overall)
    assert "No fluid of the library" in supplier_specification(found)


def test_without_boards_only_the_plant_demands(demo_case: Case) -> None:
    found = demands_of(demo_case.model_copy(update={"board_types": ()}), draws=16)
    assert found.boards == ()
    assert {one.group for one in found.overall} == {"Board and rack", "Records", "Site"}


def test_the_same_case_gives_the_same_demands(demo_case: Case, demands: Demands) -> None:
    assert [one.asked for one in demands_of(demo_case, draws=DRAWS).overall] == [one.asked for one in demands.overall]


def test_a_plant_that_never_works_is_refused_with_a_sentence(demo_case: Case, change: Any) -> None:
    for path, word in (("hours_per_day", "plant.hours_per_day is 0 hours"), ("working_days", "plant.working_days is 0"),
                       ("requirements.max_utilisation", "max_utilisation is 0 %")):  # fmt: skip
        value = "0 %" if "utilisation" in path else "0"
        case = demo_case.model_copy(update={"plant": change(demo_case.plant, {path: value}),
                                            "board_types": demo_case.board_types[:1]})  # fmt: skip
        with pytest.raises(ValueError, match=re.escape(word)):
            demands_of(case, draws=16)


def contradicted(case: Case, change: Any, plant: dict[str, object], board: dict[str, object] | None = None) -> Demands:
    boards = tuple(change(one, board or {}) for one in case.board_types[:1])
    return demands_of(case.model_copy(update={"plant": change(case.plant, plant), "board_types": boards}), draws=16)


def test_a_lower_limit_of_the_rack_above_the_upper_one_is_said(demo_case: Case, change: Any) -> None:
    found = contradicted(demo_case, change, {"requirements.rack_resistance_min": "1e12 ohm"})
    said = overall(found, "rack lower").sentence.text()
    assert said.endswith("That is above the upper limit of 10¹¹ Ω, so no rack can keep both. Correct one of them.")
    found = contradicted(demo_case, change, {})
    assert "Correct" not in overall(found, "rack lower").sentence.text()


def test_an_ionic_limit_of_nothing_is_said_and_never_divided_by(demo_case: Case, change: Any) -> None:
    found = contradicted(demo_case, change, {"requirements.ionic_limit": "0 µg/cm^2"})
    assert "No rinse leaves nothing" in overall(found, "ionic residue").sentence.text()
    assert {"thinning", "rinse flow", "rinse soak"}.isdisjoint(one.key for one in found.overall)


def test_a_bake_without_end_is_said_in_words(demo_case: Case, change: Any) -> None:
    found = contradicted(demo_case, change, {}, {"moisture_limit": "0 %"})
    bake = overall(found, "bake")
    assert bake.asked_text() == "out of reach"
    assert bake.sentence.text().startswith("No bake at")


@pytest.mark.parametrize(("field", "value", "word"), [
    ("wash_time_s", 0.0, "wash time"), ("air_speed_m_s", -1.0, "air speed"), ("drained_film_m", -1.0, "drained film"),
    ("duties", (1.5,), "duties"), ("duties", (), "duties"), ("air_temperatures_K", (20.0,), "air temperatures"),
])  # fmt: skip
def test_conditions_without_sense_are_refused(field: str, value: object, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        replace(Conditions(), **{field: value})


def test_draws_below_one_are_refused(demo_case: Case) -> None:
    with pytest.raises(ValueError, match="draws is 0"):
        demands_of(demo_case, draws=0)


def test_asked_is_on_the_demanding_side() -> None:
    need = np.arange(101.0)
    assert asked_of(need, "at least", 0.9) == 90.0
    assert asked_of(need, "at most", 0.9) == 10.0


def test_of_two_at_most_the_lower_is_the_harder() -> None:
    def demand(board_id: str, value: float) -> Demand:
        return Demand(key="limit", group="Rinse", title=phrase("Limit"), board_ids=(board_id,), side="at most",
                      asked=value, band=(value, value, value), dimension="number", counted="", sentence=phrase("x"),
                      inputs=())  # fmt: skip

    (kept,) = hardest([demand("loose", 2.0), demand("tight", 1.0), demand("same", 1.0)])
    assert kept.board_ids == ("tight", "same")


# ---- the document -------------------------------------------------------------------------------------------------


def test_the_specification_holds_every_demand_with_room_for_the_answer(demands: Demands) -> None:
    text = supplier_specification(demands)
    numbered = [line for line in text.splitlines() if line.startswith("| ") and line.split(" | ")[0][2:].isdigit()]
    assert len(numbered) == len(demands.overall)
    assert all(line.endswith("|  |") for line in numbered)
    for words in ("the plant's own demand", "not a standard", "Please answer every line with a number", "Caution:",
                  "Invented data"):  # fmt: skip
        assert words in text


def test_names_from_a_case_cannot_start_markup_in_the_specification(demo_case: Case) -> None:
    board = demo_case.board_types[0].model_copy(update={"name": "<b>Bold</b> | [x](http://x)\n# Head"})
    text = supplier_specification(demands_of(demo_case.model_copy(update={"board_types": (board,)}), draws=16))
    assert "<b>" not in text
    assert r"\<b\>Bold\</b\> \| \[x\](http://x) \# Head" in text
    assert "\n# Head" not in text


def test_rows_hold_numbers_in_the_readers_units(demands: Demands) -> None:
    metric, us = specification_rows(demands), specification_rows(demands, "US")
    row = metric["Demand"].str.startswith("Board temperature")
    assert metric.loc[row, "Asked"].tolist() == pytest.approx([80.0])
    assert us.loc[us["Demand"].str.startswith("Board temperature"), "Asked"].tolist() == pytest.approx([176.0])
    assert metric["Supplier states"].eq("").all()
    assert len(board_rows(demands)) == sum(len(board.demands) for board in demands.boards)
    assert len(fluid_rows(demands)) == len(demands.library.fluids)
