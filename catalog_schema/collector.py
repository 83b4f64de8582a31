"""Python's garbage collector at rest while many objects that stay are made at once."""

from __future__ import annotations

import contextlib
import gc
from collections.abc import Iterator


@contextlib.contextmanager
def collector_at_rest(*, unlooked_at: bool = False) -> Iterator[None]:
    """Keep the collector from looking through all that is held already, again and again, while more is made.

    Parameters
    ----------
    unlooked_at : bool
        Count all that is held in the end among what is old, without looking through it: for millions of objects that
        stay. Rings of objects that others have dropped then wait for a full look.

    Notes
    -----
    In a server that holds evaluations of many sessions each such look takes longer than reading a whole file. Where
    others work in the same process their rings of objects wait meanwhile, for some minutes with no harm.

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
            if unlooked_at:
                # There and back: what comes back from where it is never looked at counts as old.
                gc.freeze()
                gc.unfreeze()
            gc.enable()
