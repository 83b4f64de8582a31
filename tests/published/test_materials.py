"""Wetted materials and board parts of the shipped library against what the trade knows of them."""

from __future__ import annotations

import numpy as np
import pytest

from catalog_schema.case import Library
from catalog_schema.library import load_library
from model.materials import MaterialFinding, assess_material
from model.uncertainty import InputBook

DRAWS = 64


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library()


def finding(library: Library, material: str, fluid: str, celsius: float) -> MaterialFinding:
    materials = {record.id: record for record in library.wetted_materials}
    fluids = {record.id: record for record in library.fluids}
    temperature = np.full(DRAWS, celsius + 273.15)
    return assess_material(materials[material], fluids[fluid], temperature, InputBook(DRAWS, 1))


# M: from memory: hot amine attacks FKM; EPDM, FFKM or FEPM are preferred.
def test_hot_amine_attacks_fkm(library: Library) -> None:
    assert finding(library, "FKM", "saponified-water", 60.0).result == "not resistant"


# M: from memory, same.
@pytest.mark.parametrize("material", ["EPDM", "FFKM", "FEPM"])
def test_the_preferred_elastomers_stand_hot_amine(library: Library, material: str) -> None:
    assert finding(library, material, "saponified-water", 60.0).result == "resistant"


# P: water-treatment handbooks: the oxide film of aluminium is passive at pH 4 to 8.5. Library rules carry that range.
def test_board_rules_for_bare_aluminium_begin_at_the_published_range(library: Library) -> None:
    part = next(record for record in library.board_parts if record.id == "bare-aluminium")
    bounds = {(rule.agent, rule.above.si()[1]) for rule in part.rules if rule.above is not None}
    assert {("alkaline", 8.5), ("acidic", 4.0)} <= bounds
