"""Work that may take long: after a moment it shows how far it is, about how long is left, and a stop button."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterator

import streamlit as st

from screens import case_state

QUIET_S = 0.6
"""Below this nothing is shown: it would only flicker."""


class Watch:
    """Told how far some work is, it draws that; drawing raises when the person asked to stop."""

    def __init__(self, work: str, units: str, opening: str) -> None:
        """Take a place on the page; what is drawn at once, if anything, is the opening."""
        self._work, self._units = work, units
        self._place, self._started = st.empty(), time.monotonic()
        self._bar: st.delta_generator.DeltaGenerator | None = None
        if opening:
            self._draw(0.0, opening)

    def __call__(self, done: int, total: int, name: str = "") -> None:
        """Take in that so many of all units are done."""
        spent = time.monotonic() - self._started
        if self._bar is None and spent < QUIET_S:
            return
        left = f", about {seconds(spent / done * (total - done))} left" if done else ""
        self._draw(done / total, f"{done} of {total} {self._units}{left}")

    def expect(self, left_s: float, share: float, doing: str) -> None:
        """Take in what is being done, how far it is by the clock, and how long it should still take."""
        if self._bar is not None or time.monotonic() - self._started >= QUIET_S:
            self._draw(share, f"{doing}, about {seconds(left_s)} left" if left_s > 0.0 else f"{doing}, almost done")

    def say(self, text: str) -> None:
        """Show why nothing moves."""
        if self._bar is not None or time.monotonic() - self._started >= QUIET_S:
            self._draw(0.0, text)

    def close(self) -> None:
        """Take it off the page."""
        self._place.empty()

    def _draw(self, share: float, text: str) -> None:
        if self._bar is None:
            with self._place.container():
                self._bar = st.progress(0.0)
                st.button("Stop computing", key=f"stop-{self._work}", on_click=case_state.stop, args=(self._work,))
        self._bar.progress(min(share, 1.0), text=text)


def seconds(time_s: float) -> str:
    """Write a short time in whole seconds, a longer one in minutes.

    >>> seconds(0.2), seconds(42.4), seconds(150.0)
    ('1 s', '42 s', '3 min')
    """
    return f"{max(1.0, time_s):.0f} s" if time_s < 90.0 else f"{-(-time_s // 60.0):.0f} min"


@contextlib.contextmanager
def watched(work: str, units: str, *, opening: str = "") -> Iterator[Watch]:
    """Watch some work; where the person stopped it before, end the page with the offer to go on.

    Parameters
    ----------
    work : str
        Its name; the same work stays stopped until asked for again or until the case changes.
    units : str
        What it counts, such as "machines".
    opening : str
        Said at once, where it is known to take long; empty: nothing is shown unless it does.
    """
    if case_state.is_stopped(work):
        st.warning("The computation was stopped. The case is unchanged.")
        st.button("Compute now", key=f"resume-{work}", on_click=case_state.resume, args=(work,), type="primary")
        st.stop()
    watch = Watch(work, units, opening)
    yield watch
    watch.close()
