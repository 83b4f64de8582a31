"""Drivers of the gap: known drivers are found, noise is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.drivers import drivers, label_of, open_columns
from model.result_text import record_names
from model.uncertainty import stratified_ranks


def planted(decision, gap):
    """Give the decision scores whose gap between first and second is as asked."""
    scores = decision.scores.copy()
    scores[:, decision.leader] = 0.5 + gap
    scores[:, decision.runner_up] = 0.5
    return replace(decision, scores=scores)


def test_a_planted_driver_is_found_with_its_share(decision, decision_evaluation):
    path = "component_kinds[qfp-05].gap"
    column = decision_evaluation.machine(decision.table.machine_ids[decision.leader]).columns[path]
    standard = (column - column.mean()) / column.std()
    noise = stratified_ranks("noise of this test", 512, 1) * np.sqrt(12.0)
    found = drivers(decision_evaluation, planted(decision, 0.1 * standard + 0.1 * (noise - noise.mean())))
    assert found.drivers[0].path == path
    assert found.drivers[0].share == pytest.approx(0.5, abs=0.12)
    assert found.drivers[0].gap_at_low < 0 < found.drivers[0].gap_at_high
    assert "enough to change the order" in found.headline


def test_noise_alone_names_hardly_any_driver(decision, decision_evaluation):
    named = 0
    for seed in range(5):
        noise = np.random.default_rng(seed).normal(size=512)
        named += len(drivers(decision_evaluation, planted(decision, noise)).drivers)
    # About 300 quantities each time; at 3.5 standard errors one in two thousand passes by chance.
    assert named <= 4


def test_a_gap_that_never_moves_has_no_driver(decision, decision_evaluation):
    found = drivers(decision_evaluation, planted(decision, np.full(512, 0.2)))
    assert found.drivers == ()
    assert "same in every draw" in found.headline


def test_few_draws_are_refused_in_words(decision, decision_evaluation):
    short = replace(decision, scores=decision.scores[:20])
    assert "20 draws are too few" in drivers(decision_evaluation, short).headline


def test_shared_quantities_are_listed_once_and_own_ones_by_machine(decision, decision_evaluation):
    columns = open_columns(decision_evaluation, decision, (0, 1))
    assert len(set(columns.paths)) == len(columns.paths)
    assert columns.draws.shape == (512, len(columns.paths))
    assert any(path.startswith("candidates[") for path in columns.paths)


def test_labels_name_the_record_and_the_field(decision_evaluation):
    names = record_names(decision_evaluation.case, decision_evaluation.library)
    assert label_of("board_types[control-board].wait_before_wash", names, {}).endswith(": wait before wash")
    assert label_of("constants.restitution", names, {}) == "constants: restitution"
    unknown = label_of("criteria[offer-a-batch-spray].service-nearby", names, {"service-nearby": "Service nearby"})
    assert unknown == "Offer A: batch spray washer: Service nearby (nobody knows)"


def test_the_drivers_of_the_case_are_in_order_of_their_swing(decision, decision_evaluation):
    found = drivers(decision_evaluation, decision)
    swings = [abs(one.gap_at_high - one.gap_at_low) for one in found.drivers]
    assert swings == sorted(swings, reverse=True)
    assert 0.0 <= found.explained_share <= 1.0
    assert found.gap[0] <= found.gap[1] <= found.gap[2]
