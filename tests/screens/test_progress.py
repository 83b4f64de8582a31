"""Work that takes long says how far it is and how long is left; stopped work waits until it is asked for again."""

from __future__ import annotations

from streamlit.testing.v1 import AppTest

from screens.progress import seconds


def slow() -> None:
    from types import SimpleNamespace

    import streamlit as st

    from screens import progress

    progress.QUIET_S = 0.0
    progress.Watch.close = lambda self: None  # what was shown last stays to be looked at
    progress.time = SimpleNamespace(monotonic=iter([100.0, 110.0, 120.0]).__next__)
    with progress.watched("work", "machines") as watch:
        watch(1, 4, "")
        watch(2, 4, "")
    st.write("finished")


def quick() -> None:
    from screens import progress

    with progress.watched("work", "machines") as watch:
        watch(1, 2, "")


def stopped() -> None:
    import streamlit as st

    from screens import case_state, progress

    if "asked" not in st.session_state:
        st.session_state["asked"] = True
        case_state.stop("work")
    with progress.watched("work", "machines"):
        st.write("finished")


def test_it_counts_says_the_time_left_and_offers_to_stop(monkeypatch) -> None:
    from screens import progress

    for owner, name in ((progress, "QUIET_S"), (progress.Watch, "close"), (progress, "time")):
        # The script changes them in this very process: they must be put back.
        monkeypatch.setattr(owner, name, getattr(owner, name))
    at = AppTest.from_function(slow, default_timeout=60).run()
    assert not at.exception
    assert at.get("progress")[0].proto.text == "2 of 4 machines, about 20 s left"
    assert at.get("progress")[0].proto.value == 50
    assert [button.label for button in at.button] == ["Stop computing"]
    assert at.markdown[-1].value == "finished"


def test_quick_work_shows_nothing() -> None:
    at = AppTest.from_function(quick, default_timeout=60).run()
    assert not at.exception
    assert len(at.get("progress")) == len(at.button) == 0


def test_stopped_work_waits_until_asked_for_again() -> None:
    at = AppTest.from_function(stopped, default_timeout=60).run()
    assert at.warning[0].value == "The computation was stopped. The case is unchanged."
    assert not at.markdown
    at.button[0].click().run()
    assert at.markdown[0].value == "finished"
    assert not at.warning


def test_short_times_are_told_in_seconds_and_long_ones_in_minutes() -> None:
    assert [seconds(time_s) for time_s in (0.2, 42.4, 150.0)] == ["1 s", "42 s", "3 min"]
