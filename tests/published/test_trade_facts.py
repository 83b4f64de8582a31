"""What the trade observes, against the shipped library and the demo plants. C: common practice, no source.

None of these numbers is published; each test says which saying of the trade the model must reproduce by itself.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from catalog_schema.case import Case
from model.evaluate import Evaluation, evaluate
from model.requirements import Requirement
from model.spray_drive import SprayGeometry
from model.spray_field import direct_coverage_share, duty_map

DENSE = "dense-controller"


def clearing(evaluation: Evaluation, machine: str, board: str) -> Requirement:
    chosen = evaluation.machine(machine).board(board).chosen
    return next(one.requirement for one in chosen.judged if one.requirement.key == "clear")


# C: common practice, no source: a household or labware washer may do for plain through-hole boards …
@pytest.mark.parametrize("machine", ["household-dishwasher", "labware-washer"])
@pytest.mark.parametrize("board", ["relay-driver", "battery-charger", "timer-board"])
def test_a_household_or_labware_washer_may_clear_plain_through_hole_boards(
    through_hole_evaluation: Evaluation, machine: str, board: str
) -> None:
    assert clearing(through_hole_evaluation, machine, board).result != "falls short"


# … and does not for boards with low-standoff parts. C: common practice, no source.
@pytest.mark.parametrize("machine", ["household-dishwasher", "labware-washer"])
@pytest.mark.parametrize("board", [DENSE, "radio-module"])
def test_a_household_or_labware_washer_does_not_clear_boards_with_low_standoff_parts(
    demo_evaluation: Evaluation, machine: str, board: str
) -> None:
    assert clearing(demo_evaluation, machine, board).result == "falls short"


# C: common practice, no source: hotter reflow and a longer wait make residue harder to remove.
@pytest.mark.parametrize(
    ("field", "values"),
    [("peak_reflow_temperature", ("235 degC", "245 degC", "260 degC")), ("wait_before_wash", ("1 h", "24 h", "240 h"))],
)
def test_hotter_reflow_and_longer_waiting_make_residue_harder(
    demo_case: Case, small_case: Any, field: str, values: tuple[str, ...]
) -> None:
    times = []
    for value in values:
        case = small_case(demo_case, ("offer-a-batch-spray",), (DENSE,), {"wash.fluids": ["saponified-water"]},
                          {field: value})  # fmt: skip
        wash = evaluate(case, draws=64).machines[0].boards[0].chosen.wash
        assert wash is not None
        assert wash.outcome is not None
        times.append(wash.outcome.needed_time_s)
    for easier, harder in pairwise(times):
        assert np.all(harder > easier)


# C: common practice, no source: half-cleaned is worse than uncleaned, so a part cleared in part is no lower score but a
# miss, while the same no-clean residue may stay where nobody touches it.
def test_partly_cleared_falls_short_where_uncleaned_may_stay(demo_evaluation: Evaluation) -> None:
    halfway = clearing(demo_evaluation, "offer-e-labware", "control-board")
    assert halfway.measure is not None
    assert halfway.limit is not None
    assert 0.0 < halfway.limit < halfway.measure[1]
    assert (halfway.result, halfway.probability) == ("falls short", 0.0)
    uncleaned = demo_evaluation.machine("uncleaned").board("control-board").chosen
    assert uncleaned.result == "meets"


# C: common practice, no source: coherent jets touch a small part of the board, fans most of it.
def test_coherent_jets_touch_a_small_part_of_the_board(demo_evaluation: Evaluation) -> None:
    board = next(one for one in demo_evaluation.case.board_types if one.id == DENSE)
    clear_m, often = board.clear_distance.si()[1], 0.01
    shares: dict[str, list[float]] = {"coherent jet": [], "flat fan": []}
    for geometry, trace in demo_evaluation.traces.items():
        assert isinstance(geometry, SprayGeometry)
        if geometry.nozzle.shape in shares and geometry.rack.orientation == "standing":
            shares[geometry.nozzle.shape].append(direct_coverage_share(duty_map(trace, clear_m, 0.3), often))
    assert len(shares["coherent jet"]) > 3
    assert len(shares["flat fan"]) > 3
    assert float(np.median(shares["coherent jet"])) < 0.5 * float(np.median(shares["flat fan"]))


# C: common practice, no source: water alone takes off water-soluble flux and no rosin.
def test_water_alone_takes_off_water_soluble_flux_and_no_rosin(demo_evaluation: Evaluation) -> None:
    offer = demo_evaluation.machine("offer-a-batch-spray")
    found = {
        board.board_id: next(
            one.requirement.result
            for fluid in board.fluids if fluid.fluid_id == "di-water"
            for one in fluid.judged if one.requirement.key == "dissolve"
        )
        for board in offer.boards
    }  # fmt: skip
    assert found["power-supply"] == "meets"
    assert {found[board] for board in ("control-board", "compute-board", "radio-module", "sensor-recorder")} == {
        "falls short"
    }


# C: common practice, no source: a lower standoff is the harder one; 25 µm is far worse than 100 µm.
def test_a_lower_standoff_is_harder_by_far(demo_case: Case, small_case: Any) -> None:
    times = []
    for gap in ("100 µm", "50 µm", "25 µm"):
        case = small_case(demo_case, ("offer-a-batch-spray",), (DENSE,), {"wash.fluids": ["saponified-water"]},
                          {"components": [{"kind": "qfn-5x5", "count": 6}]})  # fmt: skip
        evaluation = evaluate(case, draws=32)
        kind = next(one for one in evaluation.library.component_kinds if one.id == "qfn-5x5")
        lower = kind.model_copy(update={"gap": type(kind.gap).model_validate(gap)})
        lowered = evaluate(case.model_copy(update={"component_kinds": (lower,)}), draws=32)
        wash = lowered.machines[0].boards[0].chosen.wash
        assert wash is not None
        assert wash.outcome is not None
        times.append(float(np.median(wash.outcome.needed_time_s)))
    assert times[0] < 0.5 * times[1] < 0.25 * times[2]
