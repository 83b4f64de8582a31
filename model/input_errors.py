"""The error that a computation raises when an input has no physical meaning."""

from __future__ import annotations


class UnphysicalInputError(ValueError):
    """An input contradicts physics or itself; said to the user as a finding, unlike a fault of the program."""
