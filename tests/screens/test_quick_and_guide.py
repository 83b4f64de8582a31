"""The quick answer and the guide as screens, without a browser."""

from __future__ import annotations

import pytest
from streamlit.testing.v1 import AppTest

QUICK = """
from screens import quick
quick.page()
"""
GUIDE = """
from screens import guide
guide.page()
"""


def test_the_quick_answer_gives_a_verdict_and_deciding_musts() -> None:
    app = AppTest.from_string(QUICK, default_timeout=60).run()
    assert not app.exception
    assert "Household dishwasher cannot do it" in app.subheader[0].value
    assert any("Clears under the tightest component" in text.value and "falls short" not in text.value
               for text in app.markdown)  # fmt: skip
    assert any("residue front under the tightest component" in text.value for text in app.markdown), "no explanation"


def test_another_machine_gives_another_verdict() -> None:
    app = AppTest.from_string(QUICK, default_timeout=60).run()
    app.selectbox[0].select("batch-diffused-spray").run()
    assert not app.exception
    assert "Batch spray-in-air" in app.subheader[0].value


def test_making_it_my_case_opens_it() -> None:
    app = AppTest.from_string(QUICK, default_timeout=60).run()
    next(button for button in app.button if button.label == "Make this my case").click().run()
    assert not app.exception
    session = app.session_state["washcase"]
    assert session.history[session.position].case.name == "Quick answer"


@pytest.mark.parametrize(
    ("chapter", "said"),
    [("Musts", "must fit the rack"), ("Criteria", "the wash clears at the worst place"), ("Inputs", "plant that buys"),
     ("Words", "an alkaline additive"), ("Library and its basis", "The library holds")],
)  # fmt: skip
def test_every_chapter_of_the_guide_is_drawn(chapter: str, said: str) -> None:
    app = AppTest.from_string(GUIDE, default_timeout=60).run()
    app.button_group[0].set_value(chapter).run()
    assert not app.exception
    assert app.title[0].value == "How it computes"
    tables = " ".join(str(cell) for table in app.table for cell in table.value.to_numpy().ravel())
    assert said in " ".join(text.value for text in app.markdown) + tables


def test_the_guide_explains_the_entries_of_every_record() -> None:
    app = AppTest.from_string(GUIDE, default_timeout=60).run()
    app.button_group[0].set_value("Inputs").run()
    app.selectbox[0].set_value("spray").run()
    assert not app.exception
    table = app.table[0].value
    assert "Bore of the spray nozzles" in set(table["Entry"])
    assert app.header[0].value == "Equation and source"
    assert any("Computed by" in text.value for text in app.markdown)
