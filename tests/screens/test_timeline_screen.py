"""The screen of one board type's way through one machine, run without a browser."""

from __future__ import annotations

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from model.evaluate import Evaluation
from model.timeline import cycle_rows, timeline
from screens.timeline_rows import chart_rows, cycle_table, existence_matrix, need_text, reason_table, step_table

SLOW_S = 300


def script() -> None:
    from screens import timeline

    timeline.page()


def narrow_script() -> None:
    from screens import case_state, timeline

    case = case_state.current_case()
    if len(case.candidates) > 2:
        # The evaluation of two offers is enough here and much quicker than that of all machines.
        boards = case.board_types[:2]
        case_state.change(candidates=case.candidates[:2], compare_classes=("uncleaned",), board_types=boards)
    timeline.page()


@pytest.fixture(scope="module")
def screen() -> AppTest:
    return AppTest.from_function(narrow_script, default_timeout=SLOW_S).run()


def texts(screen: AppTest) -> str:
    return "\n".join(element.value for element in screen.markdown)


def test_it_opens_with_a_sentence_and_a_list_of_what_sets_each_step(screen: AppTest) -> None:
    assert not screen.exception
    assert screen.title[0].value == "Way through the machine"
    assert "goes through Offer A" in texts(screen)
    assert "- **Wash.**" in texts(screen)
    assert "- **Dry.** Limited by" in texts(screen)
    assert "Advice, not approval" in texts(screen)


def test_all_pairs_of_board_type_and_machine_are_counted(screen: AppTest) -> None:
    assert "Of 4 pairs," in texts(screen)
    matrix = next(table.value for table in screen.table if "Machine" in table.value)
    assert len(matrix) == 3
    assert set(matrix.iloc[2, 1:]) == {"–"}


def test_a_belt_tells_its_speed_and_zones(screen: AppTest) -> None:
    machine = next(one for one in screen.selectbox if one.label == "Machine")
    belt = machine.select_index(1).run()
    assert not belt.exception
    assert "The belt runs at" in texts(belt)
    assert "one speed serves all zones" in texts(belt)


def test_a_machine_without_a_wash_says_why_nothing_is_drawn(screen: AppTest) -> None:
    machine = next(one for one in screen.selectbox if one.label == "Machine")
    none = machine.select_index(2).run()
    assert not none.exception
    assert "No cycle can be drawn." in texts(none)


def test_a_bar_reaches_beyond_its_limit_only_where_the_middle_need_does(demo_evaluation: Evaluation) -> None:
    for outcome in demo_evaluation.machines:
        for board in outcome.boards:
            if board.chosen.cycle is None:
                continue
            shown = timeline(demo_evaluation, outcome.machine.id, board.board_id)
            rows = chart_rows(shown, "metric")
            for segment, (_, row) in zip(shown.segments, rows.iterrows(), strict=True):
                if pd.notna(row["missing"]):
                    assert segment.needed_s is not None
                    assert segment.limit_s is None or segment.needed_s[1] > segment.limit_s[1]
                    assert row["missing"] > row["start"]
            assert rows[["start", "end", "end_low", "end_high"]].notna().all().all()
            assert len(step_table(shown, "US")) == len(shown.segments)


def test_a_need_out_of_reach_is_said_in_words() -> None:
    endless = float("inf")
    assert need_text((endless, endless, endless), "metric") == "no time is enough"
    assert need_text((120.0, endless, endless), "metric") == "from 2 min; in most draws no time is enough"
    assert need_text((120.0, 180.0, endless), "metric") == "3 min (from 2 min; at times no time is enough)"
    assert need_text((120.0, 180.0, 240.0), "metric") == "3 min (2 to 4)"


def test_the_tables_hold_no_infinity_and_no_missing_number(demo_evaluation: Evaluation) -> None:
    cycles = cycle_rows(demo_evaluation)
    matrix = existence_matrix(demo_evaluation, cycles, "metric")
    assert matrix.shape == (len(demo_evaluation.machines), 1 + len(demo_evaluation.case.board_types))
    written = cycle_table(demo_evaluation, cycles, "metric")
    assert not written.map(lambda cell: "inf" in str(cell).split() or str(cell) == "nan").any().any()
    for column in ("Door to door", "Boards an hour"):
        assert (written.loc[written["Cycle"] == "no cycle exists", column] == "").all()
        assert (written.loc[written["Cycle"] == "cycle exists", column] != "").all()


def test_each_reason_stands_beside_its_cycle_and_the_share_in_which_it_fits(demo_evaluation: Evaluation) -> None:
    cycles = cycle_rows(demo_evaluation)
    written = reason_table(demo_evaluation, cycles, "metric")
    full = cycle_table(demo_evaluation, cycles, "metric")
    assert list(written.columns) == ["Machine", "Board type", "Cycle", "Door to door", "Boards an hour", "What decides"]
    assert (written["What decides"] == full["What decides"]).all()
    uncomputed = full["In share of draws"] == "not computed"
    assert uncomputed.any()
    assert (written.loc[uncomputed, "Cycle"] == full.loc[uncomputed, "Cycle"]).all()
    assert written.loc[~uncomputed, "Cycle"].str.contains(": fits in ").all()


def test_the_reasons_follow_the_machine_that_was_chosen(screen: AppTest) -> None:
    machine = next(one for one in screen.selectbox if one.label == "Machine")
    belt = machine.select_index(1).run()
    reasons = next(table.value for table in belt.table if "What decides" in table.value)
    assert set(reasons["Machine"]) == {"Offer B\\: inline spray washer"}
    choice = next(one for one in belt.get("button_group") if one.label == "Show")
    every = choice.set_value("all").run()
    reasons = next(table.value for table in every.table if "What decides" in table.value)
    assert len(reasons) == 4
