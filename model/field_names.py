"""Plain words for the fields of a machine, its prices and the plant, as a buyer would say them to a supplier."""

from __future__ import annotations

from functools import lru_cache

from catalog_schema.library import LIBRARY_FOLDER
from catalog_schema.parsing import read_yaml


@lru_cache(maxsize=1)
def field_names() -> dict[str, str]:
    """Give the plain words of every field that has some, by its path in its record."""
    content: dict[str, dict[str, str]] = read_yaml((LIBRARY_FOLDER / "field_names.yaml").read_bytes(),
                                                   "field_names.yaml")  # fmt: skip
    return {f"{section}.{name}": words for section, named in content.items() for name, words in named.items()}


def field_words(path: str) -> str:
    """Say a field's path in plain words; where it has none, its own name.

    Parameters
    ----------
    path : str
        Path inside a record, such as "wash.max_time".

    Returns
    -------
    str

    Examples
    --------
    >>> field_words("wash.max_time"), field_words("spray.spacing_of_rows")
    ('longest wash', 'spray: spacing of rows')
    """
    named = field_names().get(path)
    return path.replace("_", " ").replace(".", ": ") if named is None else named
