"""The screen of what our boards demand, run without a browser."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from streamlit.testing.v1 import AppTest

from catalog_schema.case import Case
from model.demands import demands_of
from screens.demand_rows import asked_words, hardest_boards

SLOW_S = 120


def script() -> None:
    from screens import demands

    demands.page()


def through_hole_script() -> None:
    from screens import case_state, demands

    if "six" in case_state.current_case().name:
        case_state.open_demo(list(case_state.DEMOS)[1])
    demands.page()


def script_without_boards() -> None:
    from screens import case_state, demands

    if case_state.current_case().board_types:
        case_state.change(board_types=())
    demands.page()


@pytest.fixture(scope="module")
def screen() -> AppTest:
    return AppTest.from_function(script, default_timeout=SLOW_S).run()


def texts(screen: AppTest) -> str:
    return "\n".join(element.value for element in screen.markdown)


def test_it_opens_with_the_hardest_numbers_in_words(screen: AppTest) -> None:
    assert not screen.exception
    assert screen.title[0].value == "What our boards demand"
    assert "**Pressure under the parts, fluid rinsed with water: at least" in texts(screen)
    assert "set by Radio module with shield fences" in texts(screen)
    assert [header.value for header in screen.header] == ["Every demand", "One board type"]


def test_the_caution_and_the_conditions_stand_with_the_numbers(screen: AppTest) -> None:
    assert "Advice, not approval" in texts(screen)
    assert "is gone after 20 min of wash" in texts(screen)


def test_the_specification_can_be_downloaded_as_document_and_table(screen: AppTest) -> None:
    labels = [button.proto.label for button in screen.get("download_button")]
    assert "Specification for suppliers" in labels
    assert "The same as CSV" in labels


def test_each_number_opens_its_basis(screen: AppTest) -> None:
    button = next(one for one in screen.button if one.label == "Basis")
    shown = button.click().run()
    assert not shown.exception
    assert any("numbers were read for it" in element.value for element in shown.markdown)
    # The list of sources carries the path of every input, among them the fluid's.
    frames = [frame.value for frame in shown.dataframe]
    assert any("Path" in frame and frame["Path"].str.startswith("fluids[").any() for frame in frames)


def test_another_wash_time_changes_the_pressure_asked() -> None:
    screen = AppTest.from_function(script, default_timeout=SLOW_S).run()
    before = texts(screen)
    times = next(one for one in screen.get("button_group") if "time of wash" in one.label)
    after = times.set_value(60).run()
    assert not after.exception
    assert "is gone after 60 min of wash" in texts(after)
    assert texts(after) != before


def test_without_boards_it_says_so() -> None:
    screen = AppTest.from_function(script_without_boards, default_timeout=SLOW_S).run()
    assert not screen.exception
    assert "no board types yet" in screen.warning[0].value


def test_where_standing_fluid_is_enough_no_pressure_is_claimed() -> None:
    screen = AppTest.from_function(through_hole_script, default_timeout=SLOW_S).run()
    assert not screen.exception
    assert "fluid rinsed with water: nothing asked**" in texts(screen)
    assert "Pressure of spray at the board: nothing asked**" in texts(screen)
    assert "no board type drawn needs any pressure" in texts(screen)
    assert "Rinse quality: at most 1" in texts(screen)


def test_a_basis_of_one_number_is_said_and_shown_as_one() -> None:
    screen = AppTest.from_function(script, default_timeout=SLOW_S).run()
    group = next(one for one in screen.get("button_group") if one.label == "Part of the job")
    site = group.set_value("Site").run()
    shown = next(one for one in site.button if one.label == "Basis").click().run()
    assert "1 number was read for it." in texts(shown)


def test_board_types_that_share_a_number_are_counted_without_contradiction(demo_case: Case) -> None:
    demands = demands_of(demo_case, draws=32)
    said = hardest_boards(demands)
    counts = [int(one) for one in re.findall(r"\((\d+)\)", said)]
    total = int(said.split(" ", 1)[0])
    assert sum(counts) > total
    assert "A number that several set alike counts for each of them." in said
    one_owner = replace(demands, overall=tuple(one for one in demands.overall if len(one.board_ids) == 1))
    said = hardest_boards(one_owner)
    assert sum(int(one) for one in re.findall(r"\((\d+)\)", said)) == int(said.split(" ", 1)[0])
    assert "alike" not in said


def test_a_number_is_never_broken_from_its_unit(demo_case: Case) -> None:
    demands = demands_of(demo_case, draws=32)
    for demand in demands.overall:
        written = asked_words(demand, "metric")
        assert written.replace("\u00a0", " ") == demand.asked_text("metric")
        if written.startswith(("at least ", "at most ")):
            assert " " not in written.split(" ", 2)[2]
