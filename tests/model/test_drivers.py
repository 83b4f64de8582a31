"""Drivers of the gap: known drivers are found, noise is not."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from model.drivers import _totals, drivers, label_of, open_columns
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


# ---- by hand ------------------------------------------------------------------------------------------------------

DRAWS = 1024


def unit(seed):
    """Give an even column of standard deviation 1 in an order of its own."""
    return (np.random.default_rng(seed).permutation(DRAWS) + 0.5 - DRAWS / 2) / DRAWS * np.sqrt(12.0)


def fake_evaluation(*outcomes):
    groups = ("component_kinds", "flux_kinds", "board_parts", "fluids", "wetted_materials")
    named = SimpleNamespace(id="washers", name="Washers")
    return SimpleNamespace(
        machine={one.machine.id: one for one in outcomes}.__getitem__, draws=DRAWS,
        library=SimpleNamespace(machine_classes=(named,), **dict.fromkeys(groups, ())),
        case=SimpleNamespace(candidates=tuple(SimpleNamespace(id=one.machine.id, name=one.machine.name)
                                              for one in outcomes), board_types=()),
    )  # fmt: skip


def fake_outcome(machine_id, columns, inputs=()):
    return SimpleNamespace(machine=SimpleNamespace(id=machine_id, name=f"Machine {machine_id.upper()}"),
                           columns=columns, inputs=inputs)  # fmt: skip


def led_by_a(table_of, decided, gap, names=("a", "b")):
    found = decided(table_of(np.array([[0.9], [0.1]])[: len(names)], names=names, criteria=("drying",)), (1,))
    scores = np.full((gap.size, len(names)), 0.5)
    scores[:, 0] += gap
    table = replace(found.table, machine_names=tuple(f"Machine {one.upper()}" for one in names))
    return replace(found, scores=scores, table=table)


def test_drivers_by_hand_with_swings_and_shares(table_of, decided):
    # 0.1 of one and 0.05 of another: four fifths and one fifth of the variance; the outer tenths of an even column of
    # standard deviation 1 lie at ±0.9·√3 = ±1.559.
    strong, weak, idle = unit(1), unit(2), unit(3)
    outcomes = (fake_outcome("a", {"candidates[a].wash.max_time": strong, "constants.restitution": weak}),
                fake_outcome("b", {"constants.restitution": weak, "candidates[b].wash.max_time": idle}))  # fmt: skip
    found = drivers(fake_evaluation(*outcomes), led_by_a(table_of, decided, 0.1 * strong + 0.05 * weak + 0.02))
    assert [one.path for one in found.drivers] == ["candidates[a].wash.max_time", "constants.restitution"]
    first, second = found.drivers
    assert (first.label, second.label) == ("Machine A: longest wash", "constants: restitution")
    assert first.gap_at_low == pytest.approx(0.02 - 0.1559, abs=0.02)
    assert first.gap_at_high == pytest.approx(0.02 + 0.1559, abs=0.02)
    assert second.gap_at_high - second.gap_at_low == pytest.approx(2 * 0.05 * 1.559, abs=0.05)
    assert (first.share, second.share) == (pytest.approx(0.8, abs=0.05), pytest.approx(0.2, abs=0.06))
    assert (first.total_share, second.total_share) == (pytest.approx(0.8, abs=0.05), pytest.approx(0.2, abs=0.05))
    assert found.explained_share == pytest.approx(min(1.0, first.share + second.share))
    assert found.gap == pytest.approx(np.quantile(0.1 * strong + 0.05 * weak + 0.02, [0.05, 0.5, 0.95]))
    assert found.headline == (
        f"Machine A: longest wash moves the gap between Machine A and Machine B most: from {first.gap_at_low:+.2f} at "
        f"its low end to {first.gap_at_high:+.2f} at its high end, enough to change the order."
    )
    only = drivers(fake_evaluation(*outcomes), led_by_a(table_of, decided, 0.1 * strong + 0.05 * weak + 0.5), most=1)
    assert [one.path for one in only.drivers] == ["candidates[a].wash.max_time"]
    assert only.headline.endswith(" at its high end.")


def test_one_quantity_alone_may_drive_the_gap(table_of, decided):
    outcomes = (fake_outcome("a", {"constants.restitution": unit(1)}), fake_outcome("b", {}))
    found = drivers(fake_evaluation(*outcomes), led_by_a(table_of, decided, 0.1 * unit(1) + 0.5))
    assert [(one.path, one.total_share) for one in found.drivers] == [
        ("constants.restitution", pytest.approx(1.0, abs=0.01))
    ]
    assert found.explained_share == pytest.approx(1.0, abs=0.01)


def test_many_small_causes_or_none_to_look_at_are_said(table_of, decided):
    outcomes = (fake_outcome("a", {"constants.restitution": unit(1)}), fake_outcome("b", {}))
    sentence = (
        "No single quantity moves the gap between Machine A and Machine B by more than chance would: many small ones "
        "do together."
    )
    assert drivers(fake_evaluation(*outcomes), led_by_a(table_of, decided, unit(7))).headline == sentence
    bare = (fake_outcome("a", {}), fake_outcome("b", {}))
    found = drivers(fake_evaluation(*bare), led_by_a(table_of, decided, unit(7)))
    assert (found.headline, found.drivers, found.explained_share) == (sentence, (), 0.0)


def test_what_has_no_gap_to_explain_is_said(table_of, decided):
    alone = led_by_a(table_of, decided, unit(1), names=("a",))
    found = drivers(fake_evaluation(fake_outcome("a", {})), alone)
    assert found.headline == "There are no two machines whose gap could be explained."
    assert (found.drivers, found.gap, found.explained_share) == ((), (0.0, 0.0, 0.0), 0.0)
    both = fake_evaluation(fake_outcome("a", {}), fake_outcome("b", {}))
    short = drivers(both, led_by_a(table_of, decided, unit(1)[:49]))
    assert short.headline == "49 draws are too few to tell what drives the gap; use at least 50."
    still = drivers(both, led_by_a(table_of, decided, np.full(DRAWS, 0.1)))
    assert still.headline == "The gap is the same in every draw: no uncertain quantity moves it."


def test_columns_are_gathered_once_sorted_with_their_records(table_of, decided):
    shared, own, open_one = unit(1), unit(2), unit(3)
    record = SimpleNamespace(path="constants.restitution")
    outcomes = (fake_outcome("a", {"fluids[x].ph": own, "constants.restitution": shared}, (record,)),
                fake_outcome("b", {"constants.restitution": unit(9)}))  # fmt: skip
    found = led_by_a(table_of, decided, unit(4))
    raw = replace(found.table.raw, inputs=((), (SimpleNamespace(path="fluids[x].ph"),)))
    table = replace(found.table, open_columns=({}, {"criteria[b].drying": open_one}), raw=raw)
    columns = open_columns(fake_evaluation(*outcomes), replace(found, table=table), (0, 1))
    assert columns.paths == ("constants.restitution", "criteria[b].drying", "fluids[x].ph")
    assert columns.labels == ("constants: restitution", "Machine B: Drying (nobody knows)", "x: ph")
    # What two machines share is taken from the first.
    assert (columns.draws == np.column_stack([shared, open_one, own])).all()
    assert columns.records[:2] == (record, None)
    assert columns.records[2].path == "fluids[x].ph"
    nothing = open_columns(fake_evaluation(*outcomes), found, ())
    assert nothing.draws.shape == (DRAWS, 0)


def test_a_class_is_named_by_its_own_name_and_a_stranger_by_its_id():
    names = {("machine_classes", "washers"): "Washers"}
    assert label_of("criteria[washers].drying", names, {}) == "Washers: Drying (nobody knows)"
    assert label_of("criteria[ghost].mine", names, {}) == "ghost: mine (nobody knows)"
    assert label_of("fluids[ghost].ph", names, {}) == "ghost: ph"


def test_total_shares_need_enough_draws_for_their_terms():
    # Eight inputs have 45 terms and need 135 draws; 134 are enough for seven, 8 for none.
    inputs = np.random.default_rng(2).random((135, 8))
    assert len(_totals(inputs, inputs[:, 0])) == 8
    assert len(_totals(inputs[:134], inputs[:134, 0])) == 7
    assert _totals(inputs[:8], inputs[:8, 0]) == []
    assert _totals(inputs[:9], inputs[:9, 0])[0] == pytest.approx(1.0, abs=0.1)


def test_total_shares_are_given_for_the_strongest_eight_only(table_of, decided):
    columns = {f"fluids[f{number}].ph": unit(20 + number) for number in range(9)}
    outcomes = (fake_outcome("a", columns), fake_outcome("b", {}))
    gap = sum((1.0 + 0.05 * number) * column for number, column in enumerate(columns.values()))
    found = drivers(fake_evaluation(*outcomes), led_by_a(table_of, decided, gap))
    assert len(found.drivers) == 9
    assert [one.total_share is None for one in found.drivers] == [False] * 8 + [True]


def test_fifty_draws_are_enough(table_of, decided):
    column = np.random.default_rng(1).permutation(np.linspace(-1.0, 1.0, 50))
    outcomes = (fake_outcome("a", {"constants.restitution": column}), fake_outcome("b", {}))
    found = drivers(fake_evaluation(*outcomes), led_by_a(table_of, decided, column))
    assert [one.path for one in found.drivers] == ["constants.restitution"]
    assert "49 draws are too few" in drivers(
        fake_evaluation(*outcomes), led_by_a(table_of, decided, column[:49])
    ).headline


def test_an_own_criterion_that_nobody_knows_is_called_by_its_name():
    assert label_of("criteria[a].near", {}, {"near": "Service nearby"}) == "a: Service nearby (nobody knows)"


def test_an_own_criterion_stands_among_the_columns_under_its_name(table_of, decided):
    found = led_by_a(table_of, decided, unit(1))
    own = SimpleNamespace(own_criteria=(SimpleNamespace(id="near", name="Service nearby"),))
    table = replace(found.table, open_columns=({"criteria[a].near": unit(1)}, {}))
    outcomes = (fake_outcome("a", {}), fake_outcome("b", {}))
    columns = open_columns(fake_evaluation(*outcomes), replace(found, table=table, priorities=own), (0, 1))
    assert columns.labels == ("Machine A: Service nearby (nobody knows)",)


def test_a_driver_that_explains_less_than_chance_would_explains_nothing(table_of, decided):
    # The ends differ by little, yet surely; what lies between them swings far more by something else.
    column = np.linspace(-1.0, 1.0, 100)
    gap = np.where(np.arange(100) % 2 == 0, 1.0, -1.0)
    gap[:10], gap[90:] = 0.0, 0.02
    outcomes = (fake_outcome("a", {"constants.restitution": column}), fake_outcome("b", {}))
    found = drivers(fake_evaluation(*outcomes), led_by_a(table_of, decided, gap))
    assert [(one.path, one.share) for one in found.drivers] == [("constants.restitution", 0.0)]
    # Level at the low end: no other order.
    assert found.headline.endswith("from +0.00 at its low end to +0.02 at its high end.")
