"""The decision screens in a simulated browser: sensible pages for every corner case, and no exception."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from streamlit.testing.v1 import AppTest

CASE = Path(__file__).resolve().parents[1] / "model" / "decision_case.yaml"
SCREENS = ("ranking", "what_if", "certainty", "questions")
TIMEOUT_S = 120


def screen(name: str) -> AppTest:
    return AppTest.from_string(f"from screens import {name}\n\n{name}.page()\n", default_timeout=TIMEOUT_S)


def words(at: AppTest) -> str:
    return " ".join(one.value for kind in (at.markdown, at.warning, at.info, at.error) for one in kind)


@pytest.fixture
def open_case(tmp_path, monkeypatch):
    """Open the decision case, changed by a function, in the screens that follow."""

    def opened(change=lambda case: None) -> None:
        case = yaml.safe_load(CASE.read_text(encoding="utf-8"))
        change(case)
        path = tmp_path / "case.yaml"
        path.write_text(yaml.safe_dump(case, allow_unicode=True), encoding="utf-8")
        monkeypatch.setenv("WASHCASE_OPEN", str(path))

    return opened


@pytest.mark.parametrize("name", SCREENS)
def test_each_screen_answers_in_words(open_case, name):
    open_case()
    at = screen(name).run()
    assert not at.exception
    assert "Offer" in words(at)


@pytest.mark.parametrize("name", ["ranking", "what_if", "certainty"])
def test_ruled_out_machines_are_grey_with_their_reason(open_case, name):
    open_case()
    text = words(screen(name).run())
    assert ":gray[✕ **Offer E" in text


def only(*kept: str):
    def change(case):
        case["candidates"] = [one for one in case["candidates"] if one["id"] in kept]
        case["compare_classes"] = []
        del case["plant"]["finance"]["reference"]
        for own in case["priorities"]["own_criteria"]:
            own["ratings"] = {name: share for name, share in own["ratings"].items() if name in kept}

    return change


@pytest.mark.parametrize("name", SCREENS)
def test_one_machine_left_gives_a_page(open_case, name):
    open_case(only("offer-d-vacuum-solvent"))
    at = screen(name).run()
    assert not at.exception
    if name != "questions":
        assert "only machine left" in words(at)


@pytest.mark.parametrize("name", SCREENS)
def test_no_machine_left_gives_a_page(open_case, name):
    open_case(only("offer-e-labware"))
    at = screen(name).run()
    assert not at.exception
    assert "No machine is left" in words(at)


@pytest.mark.parametrize("name", SCREENS)
def test_identical_offers_give_a_page(open_case, name):
    def twins(case):
        only("offer-d-vacuum-solvent")(case)
        case["priorities"]["own_criteria"] = []
        twin = dict(case["candidates"][0], id="twin", name="Twin")
        case["candidates"].append(twin)
        for voice in case["priorities"]["stakeholders"]:
            voice.get("swing", {}).pop("service-nearby", None)

    open_case(twins)
    at = screen(name).run()
    assert not at.exception


@pytest.mark.parametrize("name", SCREENS)
def test_one_criterion_with_all_the_weight_gives_a_page(open_case, name):
    def single(case):
        case["priorities"]["stakeholders"] = [
            {"id": "one", "name": "One", "method": "direct", "direct": {"cost_of_ownership": 1}}
        ]

    open_case(single)
    assert not screen(name).run().exception


@pytest.mark.parametrize("name", SCREENS)
def test_a_case_without_stakeholders_or_board_types_gives_a_page(open_case, name):
    open_case(lambda case: case.update(priorities={}))
    at = screen(name).run()
    assert not at.exception
    if name in ("ranking", "what_if"):
        assert "Nobody has given weights yet" in words(at)
    open_case(lambda case: case.update(board_types=[]))
    assert "no board types yet" in words(screen(name).run())


VIEWS = {
    "Ranks": "comes first in", "Weights one by one": "single weight", "Smallest change": "points of weight moved",
    "Dominance": "some criterion", "What drives the gap": "gap", "Drift": "Boards per year",
}  # fmt: skip


@pytest.mark.parametrize(("view", "said"), VIEWS.items(), ids=VIEWS)
def test_every_view_of_certainty_opens(open_case, view, said):
    open_case()
    at = screen("certainty").run()
    at.button_group[0].set_value(view).run()
    assert not at.exception
    assert at.button_group[0].value == view
    assert said in words(at)


def test_a_slider_moves_one_weight_and_the_rest_keep_their_proportions(open_case):
    open_case()
    at = screen("what_if").run()
    before = [slider.value for slider in at.slider]
    at.slider[0].set_value(60).run()
    after = [slider.value for slider in at.slider]
    assert not at.exception
    assert after[0] == 60
    assert sum(after) == pytest.approx(100, abs=len(after))
    big = max(range(1, len(before)), key=lambda k: before[k])
    assert after[big] == pytest.approx(before[big] * 40 / (100 - before[0]), abs=1.5)
    back = next(button for button in at.button if button.label == "Back to the start")
    back.click().run()
    assert [slider.value for slider in at.slider] == before


def test_an_edited_value_function_is_used_and_a_bad_one_is_refused_in_words(open_case):
    open_case()
    at = screen("ranking").run()
    at.text_input[0].set_value("nonsense").run()
    next(one for one in at.button if one.label == "Use these points").click().run()
    assert "is not a measure" in words(at)
    at.text_input[0].set_value("0 = 0; 10 = 1").run()
    next(one for one in at.button if one.label == "Use these points").click().run()
    assert not at.exception
    assert "worth 0 at 0 and 1 at 10" in words(at)


def test_an_entered_trial_shows_prior_and_posterior_and_can_be_removed(open_case):
    open_case()
    at = screen("questions").run()
    at.button_group[0].set_value("Trial results").run()
    assert "No trial has been entered yet" in words(at)
    at.number_input[0].set_value(30.0)
    at.number_input[1].set_value(40.0)
    next(one for one in at.button if one.label == "Enter trial").click().run()
    assert not at.exception
    assert "Effective sample size" in words(at)
    left = next(one for one in at.text_input if one.label == "Residue left")
    assert left.value == "40 %" or left.value == "0.4"
    left.set_value("lots").run()
    assert "does not start with a number" in words(at)
    left.set_value("15 %").run()
    session = at.session_state["washcase"]
    (trial,) = session.history[session.position].case.trials
    assert trial.residue_left.si()[1] == pytest.approx(0.15)
    next(one for one in at.button if one.label == "Delete").click().run()
    assert not at.exception
    assert "No trial has been entered yet" in words(at)
