"""Raw measures: what each of the seven means, and how it moves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from catalog_schema.priorities import CRITERIA
from model.evaluate import Evaluation
from model.gap import gap_exchange_m_s
from model.measures import (
    drying_ratio,
    measures_of,
    pressure_reserve,
    solvent_vapour_pressure_Pa,
)
from model.wash import BathDrive, reach_ratios

PLACE = {criterion: place for place, criterion in enumerate(CRITERIA)}


def chosen_wash(evaluation: Evaluation, machine: str, board: str):
    return evaluation.machine(machine).board(board).chosen.wash


def test_reach_is_one_exactly_when_the_wash_takes_the_longest_time(decision_evaluation):
    kind = chosen_wash(decision_evaluation, "offer-d-vacuum-solvent", "control-board").outcome.kinds[0]
    assert reach_ratios([[kind]], kind.needed_time_s)[0] == pytest.approx(np.ones(512), rel=1e-9)


@pytest.mark.parametrize("machine", ["offer-a-batch-spray", "offer-c-ultrasonic", "offer-d-vacuum-solvent"])
def test_pressure_reserve_is_above_one_exactly_where_the_wash_ends_in_time(decision_evaluation, machine):
    wash = chosen_wash(decision_evaluation, machine, "control-board")
    kind = wash.outcome.kinds[0]
    limit = kind.needed_time_s * np.exp(np.random.default_rng(2).normal(0.0, 1.0, 512))
    reserve = pressure_reserve(wash, kind, limit)
    enters = (kind.entry_pressure_Pa <= 0.0) | (kind.peak_pressure_Pa > kind.entry_pressure_Pa)
    clear = np.abs(np.log(limit / kind.needed_time_s)) > 0.02
    assert clear.sum() > 400
    assert ((reserve > 1.0) == ((limit > kind.needed_time_s) & enters))[clear].all()


def test_a_bath_at_its_pressure_over_the_reserve_just_ends_in_time(decision_evaluation):
    wash = chosen_wash(decision_evaluation, "offer-c-ultrasonic", "control-board")
    kind = wash.outcome.kinds[0]
    assert isinstance(wash.drive, BathDrive)
    limit = kind.needed_time_s * 1.5
    reserve = pressure_reserve(wash, kind, limit)
    soaked = kind.soak_m_s05 * np.sqrt(limit)
    needed_speed = np.maximum(kind.depth_needed_m - soaked, 0.0) / limit
    pressure = wash.drive.mean_pressure_Pa(kind.gap, slice(None))
    ratio = gap_exchange_m_s(pressure / reserve, kind.gap) / gap_exchange_m_s(pressure, kind.gap)
    free = (kind.entry_pressure_Pa <= 0.0) & np.isfinite(reserve)
    assert free.any()
    assert ratio[free] == pytest.approx((needed_speed / kind.speed_m_s)[free], rel=0.01)


def test_no_drive_leaves_no_reserve(decision_evaluation):
    wash = chosen_wash(decision_evaluation, "offer-c-ultrasonic", "control-board")
    kind = replace(wash.outcome.kinds[0], speed_m_s=np.zeros(512), soak_m_s05=np.zeros(512))
    assert (pressure_reserve(wash, kind, np.full(512, 600.0)) == 0.0).all()


def test_drying_ratio_counts_the_bake_that_the_laminate_still_needs(decision_evaluation):
    dry = decision_evaluation.machine("offer-a-batch-spray").board("control-board").chosen.dry
    plain = drying_ratio(replace(dry, bake=None))
    assert plain == pytest.approx(dry.max_time_s / dry.needed_time_s)
    assert drying_ratio(replace(dry, max_time_s=None)) is None


def test_solvent_vapour_pressure_meets_its_reference_and_doubles_as_clausius_and_clapeyron_say(decision_evaluation):
    fluid = next(one for one in decision_evaluation.library.fluids if one.id == "modified-alcohol")
    at = fluid.reference_temperature.si()[1]
    assert solvent_vapour_pressure_Pa(fluid, np.array([at]))[0] == pytest.approx(fluid.vapour_pressure.si()[1])
    assert solvent_vapour_pressure_Pa(fluid, np.array([at + 20.0]))[0] > fluid.vapour_pressure.si()[1]


def test_nothing_read_here_is_money_so_that_no_exchange_rate_is_needed(decision_evaluation):
    assert decision_evaluation.case.plant.exchange_rates
    read = [one for each in measures_of(decision_evaluation, decision_evaluation.machines).inputs for one in each]
    assert read
    assert not any(one.currency or "money" in one.dimension for one in read)


def test_a_service_that_says_nothing_has_no_known_wash_measures(decision_evaluation):
    raw = measures_of(decision_evaluation, (decision_evaluation.machine("contract-service"),)).by_board
    assert np.isnan(raw[:, 0, PLACE["spray_reach"]]).all()
    assert np.isfinite(raw[:, 0, PLACE["cost_of_ownership"]]).all()


def test_cost_is_the_equivalent_annual_cost_of_the_machine(decision_evaluation):
    outcome = decision_evaluation.machine("offer-d-vacuum-solvent")
    raw = measures_of(decision_evaluation, (outcome,)).by_board
    assert (raw[:, 0, PLACE["cost_of_ownership"], 0] == outcome.cost.equivalent_annual_cost).all()
