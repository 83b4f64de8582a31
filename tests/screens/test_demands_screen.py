"""The screen of what our boards demand, run without a browser."""

from __future__ import annotations

import pytest
from streamlit.testing.v1 import AppTest

SLOW_S = 120


def script() -> None:
    from screens import demands

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
    assert "**Wash, fluid rinsed with water: at least" in texts(screen)
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
