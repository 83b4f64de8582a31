"""One board type's way through one machine: steps, limits, what sets them, and all cycles side by side."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from model.charts import DARK, LIGHT, Sheet, chart_svg
from model.evaluate import Evaluation
from model.timeline import STEP_NOUNS, cycle_rows, timeline
from model.timeline_charts import timeline_chart
from model.uncertainty import low_middle_high, share_true


def pairs(evaluation: Evaluation) -> list[tuple[str, str]]:
    return [(outcome.machine.id, board.board_id) for outcome in evaluation.machines for board in outcome.boards
            if board.chosen.cycle is not None]  # fmt: skip


def test_steps_follow_each_other_and_a_batch_fills_before_it_washes(demo_evaluation: Evaluation) -> None:
    shown = timeline(demo_evaluation, "offer-a-batch-spray", "control-board")
    assert [one.step for one in shown.segments] == ["fill", "wash", "rinse", "dry", "handling"]
    for one, after in zip(shown.segments, shown.segments[1:], strict=False):
        assert after.start_s == pytest.approx(one.start_s + one.duration_s[1])
    assert shown.belt_speed_m_s is None


def test_a_belt_has_one_speed_and_times_of_its_zones(demo_evaluation: Evaluation) -> None:
    shown = timeline(demo_evaluation, "offer-b-inline", "control-board")
    assert [one.step for one in shown.segments] == ["wash", "rinse", "dry", "handling"]
    chamber = demo_evaluation.machine("offer-b-inline").machine.equipment.chamber
    assert shown.belt_speed_m_s is not None
    assert chamber.wash_zone_length is not None
    assert chamber.dry_zone_length is not None
    speed = shown.belt_speed_m_s[1]
    assert shown.segments[0].duration_s[1] == pytest.approx(chamber.wash_zone_length.si()[1] / speed, rel=1e-6)
    assert shown.segments[2].duration_s[1] == pytest.approx(chamber.dry_zone_length.si()[1] / speed, rel=1e-6)


def test_every_timeline_agrees_with_its_cycle(demo_evaluation: Evaluation) -> None:
    for machine_id, board_id in pairs(demo_evaluation):
        shown = timeline(demo_evaluation, machine_id, board_id)
        cycle = demo_evaluation.machine(machine_id).board(board_id).chosen.cycle
        assert cycle is not None
        assert shown.total_s == low_middle_high(cycle.total_s)
        assert shown.exists_share == share_true(cycle.exists)
        # All steps fit together no more often than any one of them by itself.
        assert shown.exists_share <= min(one.fits_share for one in shown.segments) + 1e-12
        for one in shown.segments:
            low, middle, high = one.duration_s
            assert 0.0 <= low <= middle <= high < np.inf
            assert one.limited_by.text()


def test_a_step_never_runs_longer_than_the_batch_machine_allows(demo_evaluation: Evaluation) -> None:
    for machine_id, board_id in pairs(demo_evaluation):
        if demo_evaluation.machine(machine_id).machine.moving == "inline":
            continue
        for one in timeline(demo_evaluation, machine_id, board_id).segments:
            if one.step in ("wash", "dry") and one.limit_s is not None:
                assert one.duration_s[1] <= one.limit_s[1] * (1.0 + 1e-9)


def test_a_rinse_that_fits_in_every_draw_runs_no_longer_than_its_limit(demo_evaluation: Evaluation) -> None:
    uncertain = 0
    for machine_id, board_id in pairs(demo_evaluation):
        for one in timeline(demo_evaluation, machine_id, board_id).segments:
            if one.step == "rinse" and one.limit_s is not None and one.fits_share == 1.0:
                uncertain += one.duration_s[0] < one.duration_s[2]
                assert np.all(np.array(one.duration_s) <= np.array(one.limit_s) * (1.0 + 1e-9))
    assert uncertain > 0


def test_a_tank_that_stays_filled_and_hot_has_no_step_for_filling(demo_evaluation: Evaluation) -> None:
    cycle = demo_evaluation.machine("offer-c-ultrasonic").board("control-board").chosen.cycle
    assert cycle is not None
    assert not cycle.fill_s.any()
    shown = timeline(demo_evaluation, "offer-c-ultrasonic", "control-board")
    assert [one.step for one in shown.segments] == ["wash", "rinse", "dry", "handling"]


def test_existence_follows_the_plants_own_probabilities(demo_evaluation: Evaluation) -> None:
    found = {timeline(demo_evaluation, *pair).existence: pair for pair in pairs(demo_evaluation)}
    assert set(found) == {"exists", "open", "none"}
    for existence, pair in found.items():
        share = timeline(demo_evaluation, *pair).exists_share
        expected = "exists" if share >= 0.9 else "none" if share <= 0.1 else "open"
        assert existence == expected


def test_the_sentence_says_when_no_cycle_exists_and_which_step_is_to_blame(demo_evaluation: Evaluation) -> None:
    shown = timeline(demo_evaluation, "offer-b-inline", "radio-module")
    worst = min(shown.segments, key=lambda one: one.fits_share)
    assert worst.step == "wash"
    assert shown.sentence.text().startswith("No cycle exists for Radio module with shield fences")
    assert "the wash fits in 0 % of the draws" in shown.sentence.text()


def test_the_sentence_names_every_step_that_falls_short(demo_evaluation: Evaluation) -> None:
    sentence = timeline(demo_evaluation, "household-dishwasher", "control-board").sentence.text()
    assert "the wash fits in 0 % of the draws, the rinse in 0 % and drying in 0 %. Shown is" in sentence
    both = timeline(demo_evaluation, "offer-c-ultrasonic", "compute-board")
    shares = {one.step: one.fits_share for one in both.segments}
    # Neither step alone explains the share in which all fit.
    assert both.exists_share < min(shares["wash"], shares["dry"])
    assert "the wash fits in" in both.sentence.text()
    assert "and drying in" in both.sentence.text()


def test_a_single_step_that_falls_short_is_named_without_its_share_said_twice(demo_evaluation: Evaluation) -> None:
    said = 0
    for pair in pairs(demo_evaluation):
        shown = timeline(demo_evaluation, *pair)
        short = [one for one in shown.segments if one.fits_share < 0.9]
        if shown.existence == "open" and [one.fits_share for one in short] == [shown.exists_share]:
            said += 1
            words = shown.sentence.text()
            assert words.count("fits in") == 1
            assert words.endswith(f"of the draws only; what may not fit is {STEP_NOUNS[short[0].step]}.")
    assert said > 0


def test_another_fluid_may_be_asked_for(demo_evaluation: Evaluation) -> None:
    board = demo_evaluation.machine("offer-a-batch-spray").board("power-supply")
    other = next(fluid.fluid_id for fluid in board.fluids
                 if fluid.cycle is not None and fluid.fluid_id != board.chosen.fluid_id)  # fmt: skip
    assert timeline(demo_evaluation, "offer-a-batch-spray", "power-supply", other).fluid_id == other


def test_a_pair_without_a_computed_cycle_is_refused_with_its_reason(demo_evaluation: Evaluation) -> None:
    with pytest.raises(ValueError, match="too small for the board"):
        timeline(demo_evaluation, "vapour-solvent", "compute-board")
    with pytest.raises(KeyError):
        timeline(demo_evaluation, "no-such-machine", "compute-board")


def test_every_pair_has_a_row_and_what_is_washed_elsewhere_is_said(demo_evaluation: Evaluation) -> None:
    rows = cycle_rows(demo_evaluation)
    assert len(rows) == len(demo_evaluation.machines) * len(demo_evaluation.case.board_types)
    elsewhere = {one.machine_id for one in rows if one.existence == "elsewhere"}
    assert elsewhere == {"contract-service", "uncleaned"}
    for one in rows:
        assert one.reason.text()
        if one.existence == "exists":
            assert "takes longest" in one.reason.text()


def test_the_binding_reason_is_the_must_of_the_step_that_does_not_fit(demo_evaluation: Evaluation) -> None:
    row = next(one for one in cycle_rows(demo_evaluation)
               if (one.machine_id, one.board_id) == ("offer-b-inline", "radio-module"))  # fmt: skip
    assert row.existence == "none"
    assert "of wash to clear" in row.reason.text()
    too_big = next(one for one in cycle_rows(demo_evaluation)
                   if (one.machine_id, one.board_id) == ("vapour-solvent", "compute-board"))  # fmt: skip
    assert too_big.existence == "none"
    assert too_big.total_s is None


def test_boards_an_hour_are_the_load_over_the_time_it_takes(demo_evaluation: Evaluation) -> None:
    row = next(one for one in cycle_rows(demo_evaluation)
               if (one.machine_id, one.board_id) == ("offer-a-batch-spray", "control-board"))  # fmt: skip
    cycle = demo_evaluation.machine("offer-a-batch-spray").board("control-board").chosen.cycle
    assert cycle is not None
    assert row.boards_per_s == pytest.approx(float(np.median(cycle.boards_per_load / cycle.occupied_s)))
    assert row.total_s is not None
    assert row.boards_per_s == pytest.approx(row.boards_per_load / row.total_s[1], rel=0.1)  # type: ignore[operator]


# ---- chart --------------------------------------------------------------------------------------------------------

FRAME = pd.DataFrame(
    [("Wash", 0.0, 10.0, 8.0, 13.0, 20.0, np.nan, "10 min", 1.0),
     ("Dry", 10.0, 30.0, 25.0, 30.0, 30.0, 55.0, "20 min", 0.2)],
    columns=["step", "start", "end", "end_low", "end_high", "limit", "missing", "label", "fits"],
)  # fmt: skip


def layers(chart: Any) -> list[str]:
    return [layer["mark"]["type"] for layer in chart.to_dict()["layer"]]


def test_the_chart_outlines_what_is_missing_only_where_something_is() -> None:
    sheet = Sheet(palette=LIGHT, description="Drying does not fit.", width=620)
    assert layers(timeline_chart(FRAME, sheet, time_unit="min")).count("bar") == 2
    assert layers(timeline_chart(FRAME.iloc[:1], sheet, time_unit="min")).count("bar") == 1
    assert "tick" not in layers(timeline_chart(FRAME.assign(limit=np.nan), sheet, time_unit="min"))


def test_the_axis_reaches_all_that_is_drawn_and_the_description_stands_in_for_the_picture() -> None:
    sheet = Sheet(palette=DARK, description="Drying does not fit.", width="container")
    chart = timeline_chart(FRAME, sheet, time_unit="min")
    written = chart.to_dict()
    assert written["description"] == "Drying does not fit."
    assert written["layer"][0]["encoding"]["x"]["scale"]["domain"][1] >= 55.0
    assert written["layer"][0]["encoding"]["x"]["title"] == "Time from the beginning [min]"


def test_words_too_long_for_their_place_end_where_their_own_row_does() -> None:
    frame = FRAME.assign(start=[0.0, 45.0], end=[10.0, 46.0], end_low=[8.0, 45.5], end_high=[13.0, 47.0],
                         limit=np.nan, missing=[55.0, np.nan],
                         label=["10 min", "1 min (0.5 to 2), no limit"])  # fmt: skip
    sheet = Sheet(palette=LIGHT, description="x", width=620)
    chart = timeline_chart(frame, sheet, time_unit="min")
    rows = next(layer for layer in chart.layer if "words_end" in getattr(layer.data, "columns", ())).data
    assert list(rows["late"]) == [False, True]
    assert rows["words_end"].iloc[1] == 47.0
    # A row that ends before its words would fit takes the far end.
    early = timeline_chart(frame.assign(label="x" * 65), sheet, time_unit="min")
    rows = next(layer for layer in early.layer if "words_end" in getattr(layer.data, "columns", ())).data
    assert rows["words_end"].iloc[1] == 55.0


def test_the_chart_can_be_saved_without_a_network() -> None:
    svg = chart_svg(timeline_chart(FRAME, Sheet(palette=LIGHT, description="x", width=620), time_unit="min"))
    assert "Load" not in svg
    assert "20 min" in svg
