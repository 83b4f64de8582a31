"""Text from a case, written so that nothing in it takes effect on a page."""

from __future__ import annotations

import re

_MARKS = re.compile(r"([\\`*_\[\]<>$~:|#!&])")


def plain(text: str) -> str:
    """Write text from a case so that no markdown, formula, picture or link in it takes effect."""
    # An invisible word joiner keeps addresses readable but stops them from becoming links by themselves.
    unlinked = text.replace("\n", " ").replace("://", ":\u2060//").replace("www.", "www\u2060.")
    return _MARKS.sub(r"\\\1", unlinked)
