"""The form of one of the case's own library records, with the shipped record beside it where it replaces one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

import streamlit as st
from pydantic import BaseModel

from catalog_schema.boards import BoardPart, PartRule, ResidueFamily
from catalog_schema.case import Library
from catalog_schema.case_edits import set_value
from catalog_schema.fluids import Fluid, HansenParameters
from catalog_schema.library import load_library
from catalog_schema.machines import MachineClass
from catalog_schema.materials import MaterialRule, WettedMaterial
from catalog_schema.quantity import MassConcentration
from screens import candidate_form, case_state, field_form, field_shapes, needed_form, parts, rows, rules_form

Names = Mapping[str, Mapping[str, str]]
SHIPPED = "shipped"


def names_in(library: Library) -> dict[str, dict[str, str]]:
    """Give the names shown to people, by id, for every field that names another record of the library."""
    def named(field: str) -> dict[str, str]:
        return {record.id: record.name for record in getattr(library, field)}

    materials = named("wetted_materials")
    return {"parts": named("board_parts"), "fluids": named("fluids"), "fluid": named("fluids"),
            "material": materials, "replacement_material": materials}  # fmt: skip


def form(record: Any, field: str, library: Library) -> None:
    """Draw the form of one own record.

    Parameters
    ----------
    record : record of the library
    field : str
        List of the case that holds it.
    library : Library
        What the case works with.
    """
    path = f"{field}[{record.id}]"
    names = names_in(library)
    shipped = next((one for one in getattr(load_library(), field) if one.id == record.id), None)
    if isinstance(record, MachineClass):
        _machine_class(record, path, names, shipped)
        return

    field_form.form(record, path, names=names, beside=None if shipped is None else (
        lambda name: candidate_form.was(SHIPPED, getattr(shipped, name), getattr(record, name), names.get(name, {}))
    ))  # fmt: skip
    field_form.basis_form(record, path)
    if isinstance(record, Fluid):
        _capacity(record, path, shipped)
        _hansen(record, path)
    elif isinstance(record, WettedMaterial):
        rules_form.rules_form(record.rules, MaterialRule, f"{path}.rules", _material_rule, names=names)
        _hansen(record, path)
    elif isinstance(record, BoardPart):
        rules_form.rules_form(record.rules, PartRule, f"{path}.rules", _part_rule)


def _machine_class(record: MachineClass, path: str, names: Names, shipped: MachineClass | None) -> None:
    sections = [candidate_form.GENERAL, *candidate_form.SECTIONS, candidate_form.WETTED, candidate_form.TRACE]
    section = parts.choose("Section", sections, "class-section", buttons=True)
    candidate_form.draw(record, path, section, names, shipped, SHIPPED, candidate_form.was)


def _capacity(fluid: Fluid, path: str, shipped: Fluid | None) -> None:
    st.subheader("Capacity for each residue family")
    parts.note("A family left empty is not dissolved, however long the wash.")
    shapes = field_shapes.keyed_shapes(Fluid, "capacity", get_args(ResidueFamily), "quantity",
                                       quantity=MassConcentration)  # fmt: skip
    base = None if shipped is None else dict(shipped.capacity)
    field_form.mapping_form(shapes, fluid.capacity, f"{path}.capacity", None if base is None else (
        lambda name: candidate_form.was(SHIPPED, base.get(name), dict(fluid.capacity).get(name), {})))  # fmt: skip


def _hansen(record: Fluid | WettedMaterial, path: str) -> None:
    at = f"{path}.hansen"
    st.subheader("Solubility parameters")
    if record.hansen is None:
        parts.note("Optional: where those of fluid and polymer are known, swelling is warned of.")
        needed_form.needed_form(HansenParameters, at, lambda case, content: set_value(case, at, content),
                                button="State them")  # fmt: skip
        return
    field_form.form(record.hansen, at)
    field_form.basis_form(record.hansen, at)
    st.button("Take them out", key=f"no-{at}", on_click=_take_out, args=(at,))


def _take_out(at: str) -> None:
    if case_state.edit(lambda case: set_value(case, at, None), at):
        case_state.reseed()


def _material_rule(rule: BaseModel) -> str:
    assert isinstance(rule, MaterialRule)
    system = case_state.unit_system()
    what = rule.fluid or (f"{rule.family} fluids" if rule.family else "any fluid")
    bounds = [f"pH {sign} {rows.number(bound, system)}"
              for sign, bound in (("above", rule.ph_above), ("below", rule.ph_below)) if bound is not None]  # fmt: skip
    if rule.above_temperature is not None:
        bounds.append(f"above {rows.number(rule.above_temperature, system)}")
    return f"{', '.join([what, *bounds])}: {rule.result}"


def _part_rule(rule: BaseModel) -> str:
    assert isinstance(rule, PartRule)
    system = case_state.unit_system()
    bounds = [f"above {rows.number(bound, system)}" for bound in (rule.above, rule.above_temperature)
              if bound is not None]  # fmt: skip
    return f"{', '.join([rule.agent, *bounds])}: {rule.result}"
