"""Python's garbage collector at rest while many objects that stay are made at once."""

from __future__ import annotations

import contextlib
import gc
from collections.abc import Iterator


@contextlib.contextmanager
def collector_at_rest() -> Iterator[None]:
    """Keep the collector from looking through all that is held already, again and again, while more is made.

    In a server that holds evaluations of many sessions each such look takes longer than reading a whole file. Rest it
    for a minute at most where others work in the same process: their rings of objects wait for it.

    >>> with collector_at_rest():
    ...     gc.isenabled()
    False
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
