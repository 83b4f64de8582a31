"""The rinse of one machine with exact inputs, followed by hand from board, drag-out and bath to residue and water."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from catalog_schema.case import Case
from catalog_schema.units import show
from model.evaluate import Evaluation, evaluate
from model.gap import gap_velocity_m_s
from model.ionic import resistivity_ohm_m, salt_concentration_kg_m3
from model.laminate import sorbed_share
from model.outcomes import FluidOutcome
from model.wash import KindClearing
from tests.model.by_hand import column, gaps_m3

SPRAY, BELT, SOLVENT, DENSE = "offer-a-batch-spray", "offer-b-inline", "offer-d-vacuum-solvent", "dense-controller"
EXACT = {
    "wash.fluids": ["saponified-water"], "wash.drag_out": "80 mL/m^2", "rinse.time_per_rinse": "2 min",
    "rinse.volume_per_rinse": "16 L", "rinse.feed_resistivity": "10 Mohm*cm", "rinse.closed_loop": False,
}  # fmt: skip


def run(case: Case, small_case: Any, machine: str = SPRAY, board: Any = None, plant: Any = None,
        **changes: object) -> tuple[Evaluation, FluidOutcome]:  # fmt: skip
    stated = (EXACT if machine != SOLVENT else {}) | changes
    evaluation = evaluate(small_case(case, (machine,), (DENSE,), stated, board, plant), draws=8, rays=8192)
    return evaluation, evaluation.machine(machine).board(DENSE).chosen


def carried(evaluation: Evaluation) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Open and gap liquid of one board, m³, and its NaCl equivalent, kg/m³, from the drawn quantities by hand."""
    area = 2.0 * 0.160 * 0.100
    open_m3 = area * (80e-6 + column(evaluation, "constants.idle_hold_up"))
    gaps = gaps_m3(evaluation)
    fluid = "fluids[saponified-water]"
    start = column(evaluation, f"{fluid}.bath_load_limit") * column(evaluation, "flux_kinds[REL0].ionic_share")
    start = start + column(evaluation, f"{fluid}.concentration") * column(evaluation, f"{fluid}.density") * column(
        evaluation, f"{fluid}.conductive_share"
    )
    return open_m3, gaps, start


def exchange(evaluation: Evaluation, outcome: FluidOutcome, hardest: KindClearing) -> np.ndarray[Any, Any]:
    """Share of the gap water replaced in two minutes: diffusion from the edge, then renewal by the flow."""
    assert outcome.wash is not None
    assert outcome.wash.drive is not None
    kind = f"component_kinds[{hardest.kind.id}]"
    ions, path = column(evaluation, "constants.ion_diffusivity"), column(evaluation, f"{kind}.flux_path")
    pressure = outcome.wash.drive.mean_pressure_Pa(hardest.gap, slice(None))
    # Rinse water at 55 °C: 0.504 mPa·s (IAPWS R12-08 through the iapws package gives 5.0363e-4).
    speed = np.asarray(gap_velocity_m_s(pressure * column(evaluation, f"{kind}.open_edge_share"), hardest.gap_m,
                                        column(evaluation, f"{kind}.body_length"), 5.0363e-4))  # fmt: skip
    assert np.any(speed > 0.0)
    across = hardest.gap_m**2 / (np.pi**2 * ions)
    renewals = np.where(speed > 0.0, 120.0 / (path / np.where(speed > 0.0, speed, 1.0) + across), 0.0)
    return 1.0 - (1.0 - np.asarray(sorbed_share(ions * 120.0 / (2.0 * path) ** 2))) * np.exp(-renewals)


def test_each_fill_dilutes_the_film_and_moves_the_gap_by_its_share(demo_case: Case, small_case: Any) -> None:
    evaluation, outcome = run(demo_case, small_case, board={"lot_size": "12"})
    rinse = outcome.rinse
    assert rinse is not None
    assert outcome.wash is not None
    assert outcome.wash.outcome is not None
    open_m3, gaps, start = carried(evaluation)
    np.testing.assert_allclose(rinse.gap_volume_m3, gaps, rtol=1e-12)
    np.testing.assert_allclose(rinse.film_m, 80e-6)
    np.testing.assert_allclose(rinse.drag_out_m3, open_m3 + gaps, rtol=1e-12)
    share = exchange(evaluation, outcome, outcome.wash.outcome.kinds[0])
    feed = salt_concentration_kg_m3(1e5)
    film, gap = start.copy(), start.copy()
    done = np.zeros(8)
    boards, volume = 12.0, 16e-3
    left = probe = np.full(8, np.nan)
    for number in range(1, 9):
        # The gap gives to the mixture of all three waters; what it gives stays in the bath until the drain opens.
        mixed = (volume * feed + boards * (open_m3 * film + gaps * gap)) / (volume + boards * (open_m3 + gaps))
        given = share * (gap - mixed)
        gap_after = gap - given
        film_after = (volume * feed + boards * open_m3 * film + boards * gaps * given) / (volume + boards * open_m3)
        film, gap = film_after, gap_after
        now = (open_m3 * film + gaps * gap) / (2.0 * 0.160 * 0.100)
        probed = np.asarray(resistivity_ohm_m(film))
        stop = (done == 0) & (now <= 0.75e-5) & (probed >= 0.5e4)
        left, probe = np.where(stop, now, left), np.where(stop, probed, probe)
        done = np.where(stop, number, done)
    assert np.all(done > 0)
    np.testing.assert_array_equal(rinse.rinses, done)
    np.testing.assert_allclose(rinse.residue_left_kg_m2, left, rtol=1e-3)
    assert rinse.result is not None
    np.testing.assert_allclose(rinse.result.last_rinse_resistivity_ohm_m, probe, rtol=1e-3)
    np.testing.assert_allclose(rinse.time_s, done * 120.0)
    np.testing.assert_allclose(rinse.water_m3, done * 16e-3 / 12.0)
    np.testing.assert_array_equal(rinse.resin_m3, 0.0)


def test_a_closed_loop_replaces_what_the_boards_carry_off_and_spends_resin_on_what_they_leave(
    demo_case: Case, small_case: Any
) -> None:
    changes = {"rinse.closed_loop": True, "rinse.feed_resistivity": "18 Mohm*cm"}
    evaluation, outcome = run(demo_case, small_case, board={"lot_size": "12"}, **changes)
    rinse = outcome.rinse
    assert rinse is not None
    assert rinse.result is not None
    np.testing.assert_allclose(rinse.water_m3, rinse.drag_out_m3, rtol=1e-12)
    # One equivalent for each mole of salt, 58.443 g.
    moles = np.asarray(rinse.result.residue_out_kg) / 12.0 / 58.443e-3
    np.testing.assert_allclose(rinse.resin_m3, moles / column(evaluation, "constants.resin_capacity"), rtol=1e-12)


def test_a_service_limit_of_nobody_runs_every_rinse_the_machine_has(demo_case: Case, small_case: Any) -> None:
    none = {"requirements.ionic_limit": None, "requirements.rinse_resistivity": None}
    _, outcome = run(demo_case, small_case, plant=none, **{"rinse.max_rinses": 5})
    assert outcome.rinse is not None
    np.testing.assert_array_equal(outcome.rinse.rinses, 5.0)
    assert not {"residue", "resistivity"} & {one.requirement.key for one in outcome.judged}


@pytest.mark.parametrize("limit", ["2 µg/cm^2", "0.5 µg/cm^2"])
def test_a_limit_of_the_board_type_comes_before_the_plants(demo_case: Case, small_case: Any, limit: str) -> None:
    _, outcome = run(demo_case, small_case, board={"ionic_limit": limit})
    found = next(one.requirement for one in outcome.judged if one.requirement.key == "residue")
    assert found.limit == pytest.approx(float(limit.split()[0]) * 1e-5)


def test_too_few_rinses_for_the_limit_are_all_run_and_said(demo_case: Case, small_case: Any) -> None:
    _, outcome = run(demo_case, small_case, plant={"requirements.ionic_limit": "1e-6 µg/cm^2"},
                     **{"rinse.max_rinses": 3})  # fmt: skip
    assert outcome.rinse is not None
    assert np.all(np.isinf(outcome.rinse.rinses))
    np.testing.assert_allclose(outcome.rinse.time_s, 360.0)
    np.testing.assert_allclose(outcome.rinse.water_m3 * 36.0, 3 * 16e-3)
    said = next(one.requirement for one in outcome.judged if one.requirement.key == "residue")
    assert said.sentence.text().startswith("All rinses leave ")
    assert said.result == "falls short"


def test_without_a_rinse_the_whole_carry_over_dries_on_the_board(demo_case: Case, small_case: Any) -> None:
    evaluation, outcome = run(demo_case, small_case, **{"rinse.kind": "none"})
    rinse = outcome.rinse
    assert rinse is not None
    open_m3, gaps, start = carried(evaluation)
    np.testing.assert_allclose(rinse.residue_left_kg_m2, start * (open_m3 + gaps) / 0.032, rtol=1e-12)
    for nothing in (rinse.rinses, rinse.time_s, rinse.water_m3, rinse.resin_m3):
        np.testing.assert_array_equal(nothing, 0.0)
    assert rinse.result is None
    must = next(one.requirement for one in outcome.judged if one.requirement.stage == "rinse")
    assert (must.key, must.title, must.result) == ("rinse", "Rinses", "falls short")
    assert must.sentence.text() == (
        "Alkaline saponified water (organic amine) must be rinsed off with water and this machine does not rinse."
    )


def test_a_fluid_that_nothing_rinses_is_judged_by_what_dries_on_the_board(demo_case: Case, small_case: Any) -> None:
    stated = {"wash.fluids": ["2-propanol-water"], "rinse.kind": "none"}
    _, outcome = run(demo_case, small_case, **stated)
    must = next(one.requirement for one in outcome.judged if one.requirement.key == "residue")
    assert must.sentence.text().startswith(
        "No rinse follows 2-Propanol with water, extract mixture; it dries on the board with "
    )
    assert must.sentence.text().endswith(" of ionic residue; the limit is 0.75 µg/cm².")
    assert must.measure is not None
    assert f" with {show(must.measure[1], 'mass per area')} of ionic residue" in must.sentence.text()


def test_a_counterflow_rinse_takes_its_flow_for_the_time_of_all_its_stages(demo_case: Case, small_case: Any) -> None:
    changes = {"rinse.flow": "12 L/min", "rinse.max_rinses": 3, "rinse.time_per_rinse": "1 min",
               "wash.drag_out": "80 mL/m^2", "chamber.rinse_zone_length": "168 mm"}  # fmt: skip
    _, outcome = run(demo_case, small_case, BELT, **changes)
    rinse = outcome.rinse
    assert rinse is not None
    np.testing.assert_array_equal(rinse.rinses, 3.0)
    # One row of boards per pitch of 168 mm in the zone; five abreast on a belt of 20 inches.
    np.testing.assert_allclose(rinse.time_s, 180.0)
    assert rinse.result is not None
    np.testing.assert_array_equal(rinse.result.drain_m3, rinse.result.water_m3)
    np.testing.assert_allclose(rinse.water_m3, 12e-3 / 60.0 * 180.0 / 5.0)


def test_condensing_vapour_takes_no_water_and_replaces_its_share_of_the_film(demo_case: Case, small_case: Any) -> None:
    evaluation, outcome = run(demo_case, small_case, SOLVENT, **{"rinse.max_rinses": 2})
    rinse = outcome.rinse
    assert rinse is not None
    np.testing.assert_array_equal(rinse.water_m3, 0.0)
    np.testing.assert_array_equal(rinse.rinses, 2.0)
    assert rinse.result is not None
    share = column(evaluation, "constants.rinse_film_share")
    area, hold_up = 0.032, column(evaluation, "constants.idle_hold_up")
    film = area * (column(evaluation, f"candidates[{SOLVENT}].wash.drag_out") + hold_up)
    boards = float(np.round(rinse.result.water_m3 / (2.0 * film * share / (1.0 - share)))[0])
    np.testing.assert_allclose(rinse.result.water_m3, 2.0 * boards * film * share / (1.0 - share), rtol=1e-12)
    assert boards == 36.0
