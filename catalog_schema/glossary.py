"""The trade words used everywhere, and what they mean."""

from __future__ import annotations

from functools import lru_cache

from catalog_schema.library import LIBRARY_FOLDER
from catalog_schema.parsing import read_yaml


@lru_cache(maxsize=1)
def load_glossary() -> tuple[tuple[str, str], ...]:
    """Give words and meanings in alphabetical order."""
    content: dict[str, str] = read_yaml((LIBRARY_FOLDER / "glossary.yaml").read_bytes(), "glossary.yaml")
    return tuple(sorted((str(word), str(meaning)) for word, meaning in content.items()))
