"""What drives fluid under components in machines without spray: jets under liquid, spin, sound, vapour, brush."""

from __future__ import annotations

import numpy as np

from catalog_schema.boards import BoardType
from catalog_schema.case import Library
from model.fluid_state import FluidState
from model.immersion import Drive, centrifugal_drive, make_drive, submerged_jet_drive, ultrasonic_drive
from model.machine_inputs import MachineInputs, MissingInputError, constant_reader
from model.nozzles import jet_speed_m_s
from model.uncertainty import FloatArray


def bath_drive(inputs: MachineInputs, board: BoardType, state: FluidState, library: Library) -> Drive:
    """Give the drive of a machine that does not spray in air.

    Parameters
    ----------
    inputs : MachineInputs
    board : BoardType
        Its side area shares the submerged jets.
    state : FluidState
    library : Library
        Constants.

    Returns
    -------
    Drive

    Raises
    ------
    MissingInputError
        When neither offer nor class says enough.

    Notes
    -----
    A stated effective drive pressure is used as it is. Otherwise: submerged round jets, centrifugal head, or radiation
    pressure of ultrasound, each times a share that is an engineering estimate with a wide range. Vapour, vacuum and
    brush have no drive of their own here but the stated or estimated pressure and duty.
    """
    constant = constant_reader(library, inputs.book)
    stated = inputs.draws("immersion.drive_pressure")
    duty = inputs.draws("immersion.duty_share")
    if stated is not None:
        return make_drive(stated, np.ones_like(stated) if duty is None else duty)
    principle = inputs.machine.principle
    if principle == "spray under immersion":
        return _jets(inputs, board, state, constant("jet_decay_coefficient"), constant("jet_half_width_growth"),
                     constant("stream_pressure_conversion"))  # fmt: skip
    if principle == "centrifugal":
        return centrifugal_drive(
            rotation_rad_s=inputs.needed("immersion.rotation_speed"),
            radius_m=inputs.needed("immersion.rotation_radius"), radial_extent_m=_longest_body(board, library, inputs),
            density_kg_m3=state.density_kg_m3, unbalanced_share=constant("centrifugal_unbalanced_share"),
            spinning_share=np.ones_like(state.density_kg_m3) if duty is None else duty,
        )  # fmt: skip
    if principle == "ultrasonic":
        depth = inputs.draws("chamber.height")
        if depth is None:
            raise MissingInputError(inputs.machine.name, "chamber.height")
        return ultrasonic_drive(
            power_density_W_m3=inputs.needed("immersion.ultrasonic_power"), depth_m=depth,
            sound_speed_m_s=constant("sound_speed"), enhancement=np.maximum(1.0, constant("ultrasonic_enhancement")),
            active_share=np.ones_like(depth) if duty is None else duty,
        )  # fmt: skip
    raise MissingInputError(inputs.machine.name, "immersion.drive_pressure")


def _jets(inputs: MachineInputs, board: BoardType, state: FluidState, decay: FloatArray, growth: FloatArray,
          coupling: FloatArray) -> Drive:  # fmt: skip
    pressure = inputs.needed("immersion.jet_pressure")
    count = inputs.whole("immersion.jet_count")
    if count is None:
        raise MissingInputError(inputs.machine.name, "immersion.jet_count")
    area = board.length.si()[1] * board.width.si()[1]
    chamber_side = inputs.likely_or("chamber.length", 0.5) * inputs.likely_or("chamber.width", 0.5)
    # The nozzles serve the whole cross-section of the tank; a board gets its share of them on each side.
    per_board = count * min(1.0, area / chamber_side)
    pitch = float(np.sqrt(chamber_side / count))
    return submerged_jet_drive(
        exit_speed_m_s=np.asarray(jet_speed_m_s(pressure, 1.0, state.density_kg_m3)),
        nozzle_diameter_m=inputs.needed("immersion.jet_diameter"),
        distance_m=inputs.needed("immersion.jet_distance"), decay_constant=decay, half_width_growth=growth,
        nozzle_count=per_board, nozzle_pitch_m=pitch,
        # Baskets in such machines move up and down or turn by at least one nozzle pitch (common practice, no source).
        board_stroke_m=pitch, board_area_m2=area, density_kg_m3=state.density_kg_m3, coupling_share=coupling,
    )  # fmt: skip


def _longest_body(board: BoardType, library: Library, inputs: MachineInputs) -> FloatArray:
    kinds = {kind.id: kind for kind in library.component_kinds}
    longest = max((kinds[c.kind] for c in board.components), key=lambda kind: kind.body_length.si()[1])
    path = f"component_kinds[{longest.id}].body_length"
    return inputs.book.take(longest.body_length, path, "engineering estimate")
