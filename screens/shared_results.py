"""Results that took long, kept for all sessions of the server: few, whole, and safe with many threads."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import Generic, TypeVar

K = TypeVar("K")
V = TypeVar("V")


class SharedResults(Generic[K, V]):
    """A store that forgets what was not asked for longest.

    Keys name everything that a result depends on, names of people's things included: what one session computed then
    reaches another one only where that one would have computed the very same.
    """

    def __init__(self, most: int) -> None:
        """Keep at most that many results."""
        self._most = most
        self._kept: OrderedDict[K, V] = OrderedDict()
        # Each session's script runs in a thread of its own.
        self._lock = threading.Lock()

    def get(self, key: K) -> V | None:
        """Give a result, or None."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def put(self, key: K, result: V) -> None:
        """Keep a result in place of the one asked for least recently."""
        with self._lock:
            self._kept[key] = result
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)

    def latest(self) -> V | None:
        """Give what was kept or asked for last, or None."""
        with self._lock:
            return next(reversed(self._kept.values()), None)

    def __len__(self) -> int:
        """Count what is kept."""
        return len(self._kept)
