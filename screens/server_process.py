"""How the one process behind all sessions shares its processor and gives memory back; no result depends on it."""

from __future__ import annotations

import ctypes
import sys
from collections.abc import Callable
from functools import lru_cache

SWITCH_S = 0.0002
"""Longest that a thread at work keeps others waiting for the interpreter; Python's own 5 ms are many times that."""


def share_processor() -> None:
    """Let the threads of several sessions take turns quickly.

    numpy lets go of the interpreter in every step on more than some 500 numbers, thousands of times in one evaluation.
    While another session works, each time costs a full turn of waiting until it is had again.
    """
    sys.setswitchinterval(SWITCH_S)


@lru_cache(maxsize=1)
def _trim() -> Callable[[int], int] | None:
    """Find the C library's own way to give memory back; None where it has none."""
    try:
        library = ctypes.CDLL(None)
    except (OSError, TypeError):
        return None
    found: Callable[[int], int] | None = getattr(library, "malloc_trim", None)
    return found


def give_back_memory() -> None:
    """Return to the system what an evaluation that was replaced held in small pieces.

    The GNU C library keeps such pieces, and those of different sessions lie between one another: without this the
    process grows with every edit although nothing more is kept.
    """
    trim = _trim()
    if trim is not None:
        trim(0)
