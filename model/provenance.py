"""Which numbers stand behind a result: every quantity read for it, with basis and source."""

from __future__ import annotations

import re

from catalog_schema.boards import BoardType
from catalog_schema.case import Case
from model.evaluate import Evaluation, MachineOutcome
from model.uncertainty import Input

UPSTREAM = {
    "fit": {"fit"},
    "wash": {"fit", "wash"},
    "rinse": {"fit", "wash", "rinse"},
    "dry": {"fit", "wash", "rinse", "dry"},
    "boards": {"fit", "wash", "rinse", "dry", "boards"},
    "materials": {"fit", "wash", "rinse", "dry", "capacity", "materials"},
    "esd": {"fit", "esd"},
    "traceability": {"traceability"},
    "capacity": {"fit", "wash", "rinse", "dry", "capacity"},
}
"""Stages that a stage builds on, itself included; a stage not named here builds on all."""

_SECTIONS = {
    "chamber": "fit", "spray": "wash", "immersion": "wash", "wash": "wash", "rinse": "rinse", "dry": "dry",
    "wetted_parts": "materials", "rack": "esd", "running": "capacity", "site": "site", "prices": "cost",
    "traceability": "traceability", "traceability_option_price": "cost",
}  # fmt: skip
_FIRST_READ = {
    **{f"candidates.{section}": stage for section, stage in _SECTIONS.items()},
    **{f"machine_classes.{section}": stage for section, stage in _SECTIONS.items()},
    "component_kinds": "wash", "component_kinds.trapped_volume_share": "rinse",
    "flux_kinds": "wash", "flux_kinds.ionic_share": "rinse", "flux_kinds.residue_per_area": "rinse",
    "fluids": "wash", "fluids.bath_load_limit": "rinse", "fluids.conductive_share": "rinse",
    "fluids.latent_heat": "dry", "fluids.molar_mass": "dry", "fluids.hansen": "materials", "fluids.bath_price": "cost",
    "fluids.disposal_price": "cost",
    "wetted_materials": "materials", "board_parts": "boards",
    "board_types.ionic_limit": "rinse", "board_types.laminate_path_factor": "dry", "board_types.moisture_limit": "dry",
    "board_types.withstand_voltage": "esd", "board_types.capacitance": "esd", "board_types.volume": "capacity",
    "board_types.lot_size": "capacity", "board_types.clear_distance": "wash",
    "board_types.cleared_share_needed": "wash", "board_types.wait_before_wash": "wash",
    "board_types.peak_reflow_temperature": "wash",
    "plant.requirements.ionic_limit": "rinse", "plant.requirements.rinse_resistivity": "rinse",
    "plant.requirements.surface_moisture_left": "dry", "plant.requirements.rack_resistance_min": "esd",
    "plant.requirements.rack_resistance_max": "esd", "plant.requirements.ground_resistance_max": "esd",
    "plant.requirements.max_budget": "cost",
    "plant.requirements.max_utilisation": "capacity", "plant.requirements.max_waiting": "capacity",
    "plant.site": "site", "plant.tariffs": "cost", "plant.finance": "cost", "plant.working_days": "capacity",
    "plant.hours_per_day": "capacity", "plant.arrival_variation": "capacity",
    **{f"constants.{name}": "wash" for name in (
        "stream_pressure_conversion", "restitution", "drop_drag_coefficient", "useful_film_speed",
        "worst_cell_drop_share", "jet_decay_coefficient", "jet_half_width_growth", "gap_end_loss",
        "hardening_time_scale", "centrifugal_unbalanced_share", "sound_speed", "ultrasonic_enhancement")},
    **{f"constants.{name}": "rinse" for name in (
        "idle_hold_up", "rinse_film_share", "resin_capacity", "ion_diffusivity", "bath_life_max")},
    **{f"constants.{name}": "dry" for name in (
        "gap_drying_path_share", "heat_transfer_share", "film_after_blow_off", "gap_liquid_share",
        "laminate_diffusivity", "laminate_reference_temperature", "laminate_activation_temperature",
        "laminate_saturation", "laminate_start", "board_density", "board_heat_capacity", "natural_convection",
        "solvent_vapour_diffusivity")},
    **{f"constants.{name}": "esd" for name in ("charging_voltage", "rack_capacitance", "max_decay_time")},
    "constants.service_variation": "capacity",
}  # fmt: skip
"""First stage that reads a field, by the longest matching start of group and field; what is not named is kept."""

_INDEX = re.compile(r"\[[^\]]*\]")
_RECORD = re.compile(r"(\w+)\[([^\]]+)\]\.(.+)")


def record_of(path: str) -> tuple[str, str, str]:
    """Split an input's path into group, record and field.

    >>> record_of("fluids[di-water].viscosity")
    ('fluids', 'di-water', 'viscosity')
    >>> record_of("constants.restitution")
    ('constants', '', 'restitution')
    """
    found = _RECORD.fullmatch(path)
    if found:
        return found.group(1), found.group(2), found.group(3)
    group, _, name = path.partition(".")
    return group, "", name


def inputs_behind(
    evaluation: Evaluation, outcome: MachineOutcome, board_id: str = "", fluid_id: str = "", stage: str = ""
) -> tuple[Input, ...]:
    """List the quantities behind a result: all that the machine's computation read, less what cannot touch it.

    Parameters
    ----------
    evaluation : Evaluation
    outcome : MachineOutcome
    board_id, fluid_id : str
        Keep what concerns this board type and this fluid; empty keeps all.
    stage : str
        Keep what this stage of the job and those before it read; empty keeps all.

    Returns
    -------
    tuple of Input

    Notes
    -----
    The list may hold more than one requirement needs (a pump's pressure beside a wash temperature), never less: a
    field is left out only where its first reader is known to come later.
    """
    board = next((record for record in evaluation.case.board_types if record.id == board_id), None)
    upstream = UPSTREAM.get(stage)
    return tuple(
        record for record in outcome.inputs
        if _concerns(record.path, board, fluid_id) and (upstream is None or first_stage(record.path) in {"", *upstream})
    )  # fmt: skip


def first_stage(path: str) -> str:
    """Name the first stage that reads an input, or "" where that is not known.

    >>> first_stage("candidates[a].dry.air_flow"), first_stage("plant.air_temperature")
    ('dry', '')
    """
    group, _, name = record_of(path)
    parts = _INDEX.sub("", f"{group}.{name}").split(".")
    starts = (".".join(parts[:length]) for length in range(len(parts), 0, -1))
    return next((_FIRST_READ[start] for start in starts if start in _FIRST_READ), "")


def _concerns(path: str, board: BoardType | None, fluid_id: str) -> bool:
    group, record, _ = record_of(path)
    if group == "fluids" and fluid_id:
        return record == fluid_id
    if board is None:
        return True
    if group == "board_types":
        return record == board.id
    if group == "component_kinds":
        return record in {component.kind for component in board.components}
    return record == board.flux if group == "flux_kinds" else True


def origin(record: Input, case: Case) -> str:
    """Say in words where an input stands: in the offer, in its class, in the case or in the library."""
    group, identifier, name = record_of(record.path)
    if group == "candidates":
        return "stated in the offer" if record.stated else "not stated: class range"
    if group in ("board_types", "plant"):
        return "case"
    if group == "constants":
        return "case" if getattr(case.constants, name, None) is not None else "library"
    own = any(entry.id == identifier for entry in getattr(case, group, ()))
    if group == "machine_classes":
        return "class range, from the case" if own else "class range"
    return "case" if own else "library"
