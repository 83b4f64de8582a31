"""How board types clear in one machine: many of them, with many fluids, in rows over the draws.

Every step of clearing works on each draw for itself, so component kinds of several board types laid in rows give what
each gives alone, at a fraction of the cost: arrays of a few hundred draws are mostly overhead.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType, ComponentKind, FluxKind
from catalog_schema.case import Library
from model.clearing import ResidueFigures, ResidueState, needed_time_s, soak_coefficient_m_s05
from model.fluid_state import FluidState, hardened_share, residue_state
from model.gap import GapFigures, GapState, entry_pressure_Pa
from model.machine_inputs import constant_reader
from model.records import changed
from model.uncertainty import BoolArray, FloatArray, InputBook, medians, part_of
from model.wash import BathDrive, KindClearing, SprayDrive, WashOutcome

SCREENING_DRAWS = 24
"""Draws used to find which component kinds need longest, before those few get all draws."""

MOST_DETAILED_KINDS = 4
"""Component kinds computed with all draws at most."""

NEAR_THE_SLOWEST = 2.0 / 3.0
"""A kind that in any draw of the screening needs this share of the longest time may be the slowest in other draws."""

VALUES_AT_ONCE = 65_536
"""Values in one array of rows, half a megabyte: more at once would leave the processor's own memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SoiledBoards:
    """Boards of one type in the wash with one fluid."""

    board: BoardType
    """The board type."""
    flux: FluxKind
    """What is on it."""
    drive: SprayDrive | BathDrive
    """What pushes the fluid under the components."""
    state: FluidState
    """The fluid at wash temperature."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _KindDraws:
    """What the draws say about one component kind, whatever board it is on, all draws."""

    kind: ComponentKind
    gap_m: FloatArray
    length_m: FloatArray
    open_edge_share: FloatArray
    flux_path_m: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One component kind on one of the loads."""

    load: int
    """Place of the load."""
    kind: _KindDraws
    depth_needed_m: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cleared:
    """Clearing under several kinds, each array of shape (rows, draws)."""

    entry_pressure_Pa: FloatArray
    peak_pressure_Pa: FloatArray
    speed_m_s: FloatArray
    soak_m_s05: FloatArray
    needed_time_s: FloatArray


def _kind_draws(kind: ComponentKind, book: InputBook) -> _KindDraws:
    def take(field: str) -> FloatArray:
        return book.take(getattr(kind, field), f"component_kinds[{kind.id}].{field}", "engineering estimate")

    gap_m, length_m, open_share, path = (take(name) for name in ("gap", "body_length", "open_edge_share", "flux_path"))
    return _KindDraws(kind=kind, gap_m=gap_m, length_m=length_m, open_edge_share=open_share, flux_path_m=path)


def _loads_of(rows: Sequence[_Row]) -> Iterator[tuple[int, int]]:
    """Give start and end of the rows of each load."""
    start = 0
    for end in range(1, len(rows) + 1):
        if end == len(rows) or rows[end].load != rows[start].load:
            yield start, end
            start = end


def _together(rows: Sequence[_Row], draws: int) -> Iterator[tuple[int, int]]:
    """Give start and end of the rows that are computed at once: whole loads, as many as stay small."""
    start = 0
    for _, end in _loads_of(rows):
        if end == len(rows) or (end - start) * draws >= VALUES_AT_ONCE:
            yield start, end
            start = end


def _clear_rows(rows: Sequence[_Row], loads: Sequence[SoiledBoards], residues: Sequence[ResidueState],
                end_loss: FloatArray, draws: int) -> _Cleared:  # fmt: skip
    """Clear under the kinds of all rows with the first draws."""
    parts = [
        _clear_at_once(rows[start:end], loads, residues, end_loss, draws) for start, end in _together(rows, draws)
    ]
    return _Cleared(
        **{name: np.concatenate([getattr(part, name) for part in parts]) for name in _Cleared.__dataclass_fields__}
    )


def _clear_at_once(rows: Sequence[_Row], loads: Sequence[SoiledBoards], residues: Sequence[ResidueState],
                   end_loss: FloatArray, draws: int) -> _Cleared:  # fmt: skip
    first = slice(draws)
    kinds = _Numbered([row.kind for row in rows], draws)
    states = _Numbered([loads[row.load].state for row in rows], draws)
    residue_of = _Numbered([residues[row.load] for row in rows], draws)
    gap_m = kinds.rows("gap_m")
    entry = entry_pressure_Pa(
        states.rows("surface_tension_N_m"), states.rows("contact_angle_component_rad"),
        states.rows("contact_angle_board_rad"), gap_m,
    )  # fmt: skip
    gap = GapState(
        gap_m=gap_m, flow_length_m=kinds.rows("length_m"), viscosity_Pa_s=states.rows("viscosity_Pa_s"),
        density_kg_m3=states.rows("density_kg_m3"), diffusivity_m2_s=states.rows("diffusivity_m2_s"),
        entry_pressure_Pa=entry,
        end_loss_coefficient=np.broadcast_to(end_loss[first], gap_m.shape),
    )  # fmt: skip
    residue = ResidueState(
        capacity_kg_m3=residue_of.rows("capacity_kg_m3"),
        residue_density_kg_m3=residue_of.rows("residue_density_kg_m3"),
        residue_thickness_m=residue_of.rows("residue_thickness_m"),
    )
    open_share = kinds.rows("open_edge_share")
    speed, peak = np.empty(gap_m.shape), np.empty(gap_m.shape)
    for start, end in _loads_of(rows):
        drive, here = loads[rows[start].load].drive, slice(start, end)
        part = part_of(GapFigures, gap, here)
        # Leads, balls or solder close part of the edge: that share less flows in for the same pressure.
        speed[here] = drive.speed_m_s(part, part_of(ResidueFigures, residue, here), open_share[here], first)
        peak[here] = drive.peak_pressure_Pa(part, first)
    soak = soak_coefficient_m_s05(gap, residue, peak)
    needed = needed_time_s(np.stack([row.depth_needed_m[first] for row in rows]), speed, soak)
    return _Cleared(
        entry_pressure_Pa=np.asarray(entry), peak_pressure_Pa=peak, speed_m_s=speed, soak_m_s05=soak,
        needed_time_s=needed,
    )  # fmt: skip


class _Numbered:
    """Records of which many rows share a few: their arrays are put together once and then taken row by row."""

    def __init__(self, records: Sequence[object], draws: int) -> None:
        numbers: dict[int, int] = {}
        self._row = np.array([numbers.setdefault(id(record), len(numbers)) for record in records], dtype=np.intp)
        self._few = list({id(record): record for record in records}.values())
        self._draws = draws

    def rows(self, name: str) -> FloatArray:
        """Give an array of each row's record, shape (rows, draws)."""
        return np.stack([np.asarray(getattr(record, name))[: self._draws] for record in self._few])[self._row]


def wash_outcome(board: BoardType, flux: FluxKind, drive: SprayDrive | BathDrive, state: FluidState,
                 library: Library, book: InputBook) -> WashOutcome:  # fmt: skip
    """Compute the wash of one board type under this drive with this fluid; see `wash_outcomes`."""
    return wash_outcomes([SoiledBoards(board=board, flux=flux, drive=drive, state=state)], library, book)[0]


def wash_outcomes(loads: Sequence[SoiledBoards], library: Library, book: InputBook,
                  of_boards: dict[str, FloatArray] | None = None) -> list[WashOutcome]:  # fmt: skip
    """Compute the wash times that boards need, each load for itself.

    Parameters
    ----------
    loads : sequence of SoiledBoards
    library : Library
        Component kinds and constants.
    book : InputBook
    of_boards : dict, optional
        What follows from a board type alone, by name; shared with other machines, as in `Context`.

    Returns
    -------
    list of WashOutcome
        One for each load; the same for each whatever others there are.

    Raises
    ------
    ValueError
        When an input of any load makes no sense.

    Notes
    -----
    All kinds are screened on the first draws (a random sample, since columns are permuted independently); the kinds
    that need longest there are computed with all draws, and the longest per draw counts.
    """
    if not loads:
        return []
    constant = constant_reader(library, book)
    end_loss, hardening_scale = constant("gap_end_loss"), constant("hardening_time_scale")
    fluxes = {load.board.id: (load.flux, load.board) for load in loads}
    hardened = {name: hardened_share(*one, hardening_scale, book) for name, one in fluxes.items()}
    residues = [
        residue_state(load.state, load.flux, load.board, hardening_scale, book, hardened[load.board.id])
        for load in loads
    ]
    rows = _all_rows(loads, library, book, {} if of_boards is None else of_boards)
    draws = end_loss.size
    few = min(SCREENING_DRAWS, draws)
    # Which kinds are slow hangs on their gaps: for that the film of the middle draw will do.
    to_screen = [changed(load, drive=load.drive.with_middle_film()) for load in loads]
    screened_s = _clear_rows(rows, to_screen, residues, end_loss, few).needed_time_s
    middles_s, paths_m = medians(screened_s), medians(np.stack([row.depth_needed_m[:few] for row in rows]))
    hardest: list[_Row] = []
    screening: list[tuple[tuple[str, float], ...]] = []
    for start, end in _loads_of(rows):
        # Where nothing is ever cleared the longest path is the hardest.
        order = sorted(range(start, end), key=lambda row: (middles_s[row], paths_m[row]))[::-1]
        # A kind that is quick in the middle can still be the slowest in single draws.
        near = _near_the_slowest(screened_s[start:end])
        hardest += [rows[row] for row in order if near[row - start]][:MOST_DETAILED_KINDS]
        screening.append(tuple((rows[row].kind.kind.id, float(middles_s[row]) / 60.0) for row in order))
    found = _clear_rows(hardest, loads, residues, end_loss, draws)
    middles_s = medians(found.needed_time_s)
    return [
        WashOutcome(
            kinds=tuple(
                _kind_clearing(hardest[row], loads[hardest[row].load].state, end_loss, found, row)
                for row in sorted(range(start, end), key=lambda row: middles_s[row], reverse=True)
            ),
            screening_minutes=minutes, needed_time_s=found.needed_time_s[start:end].max(axis=0),
        )
        for (start, end), minutes in zip(_loads_of(hardest), screening, strict=True)
    ]  # fmt: skip


def _near_the_slowest(times_s: FloatArray) -> BoolArray:
    """Tell which rows come near the slowest in any draw, shape (rows,)."""
    longest = times_s.max(axis=0)
    # Where the slowest never clears, only those that never clear either are near it.
    enough = np.where(np.isinf(longest), np.inf, NEAR_THE_SLOWEST * longest)
    return np.asarray((times_s >= enough).any(axis=1))


def _all_rows(loads: Sequence[SoiledBoards], library: Library, book: InputBook,
              of_boards: dict[str, FloatArray]) -> list[_Row]:  # fmt: skip
    """Lay out every component kind of every load."""
    kinds = {kind.id: kind for kind in library.component_kinds}
    read: dict[str, _KindDraws] = {}
    rows: list[_Row] = []
    for place, load in enumerate(loads):
        board = load.board
        share = book.take(board.cleared_share_needed, f"board_types[{board.id}].cleared_share_needed", "measured")
        for component in board.components:
            if component.kind not in read:
                read[component.kind] = _kind_draws(kinds[component.kind], book)
            kind, name = read[component.kind], f"depth {board.id} {component.kind}"
            if name not in of_boards:
                of_boards[name] = kind.flux_path_m * share
            rows.append(_Row(load=place, kind=kind, depth_needed_m=of_boards[name]))
    return rows


def _kind_clearing(row: _Row, state: FluidState, end_loss: FloatArray, found: _Cleared, place: int) -> KindClearing:
    """Take one row out of the rest: copies, since a part of an array keeps the whole of it."""
    entry = found.entry_pressure_Pa[place].copy()
    # The fluid's own arrays, not parts of rows: a worker names those it has drawn, and sends all others each time.
    gap = GapFigures(
        gap_m=row.kind.gap_m, flow_length_m=row.kind.length_m, viscosity_Pa_s=state.viscosity_Pa_s,
        density_kg_m3=state.density_kg_m3, diffusivity_m2_s=state.diffusivity_m2_s, entry_pressure_Pa=entry,
        end_loss_coefficient=end_loss,
    )  # fmt: skip
    return KindClearing(
        kind=row.kind.kind, gap=gap, gap_m=row.kind.gap_m, depth_needed_m=row.depth_needed_m, entry_pressure_Pa=entry,
        peak_pressure_Pa=found.peak_pressure_Pa[place].copy(), speed_m_s=found.speed_m_s[place].copy(),
        soak_m_s05=found.soak_m_s05[place].copy(), needed_time_s=found.needed_time_s[place].copy(),
    )  # fmt: skip
