"""Machines compared by cost: savings against a reference, payback, internal rate, break-even price and volume."""

from __future__ import annotations

from dataclasses import replace
from importlib.resources import files
from typing import Any

import numpy as np
import pytest
import yaml

from catalog_schema.files import parse_case
from model.charts import DARK, LIGHT, Sheet, chart_svg
from model.cost_charts import cash_flow_chart, lines_chart, range_chart, tornado_chart, volume_chart
from model.cost_comparison import annual_cost_per_price, break_even_prices, compare_costs, cost_tornado
from model.cost_pictures import (
    PARTS,
    cash_flow_rows,
    cash_flow_sentence,
    group_rows,
    line_rows,
    lines_sentence,
    range_rows,
    range_sentence,
    saving_sentence,
)
from model.cost_totals import CostStage, assemble, at_medians, cash_flow_of, yearly_cost
from model.cost_volume import break_even_between, planned_boards, volume_cost, volume_curves
from model.evaluate import Evaluation, evaluate
from model.json_output import evaluation_output
from model.uncertainty import low_middle_high

CENT = 0.005


def evaluation_of(**finance: Any) -> Evaluation:
    content = yaml.safe_load(files("demo_catalog").joinpath("through_hole_plant.yaml").read_text(encoding="utf-8"))
    content["compare_classes"] = ["manual-brush", "contract-service", "uncleaned", "batch-diffused-spray"]
    content["plant"]["finance"] |= finance
    return evaluate(parse_case(yaml.safe_dump(content).encode(), "case.yaml"), draws=64, rays=2048, threads=1)


@pytest.fixture(scope="module")
def evaluation() -> Evaluation:
    return evaluation_of()


def stage_of(evaluation: Evaluation, machine_id: str) -> CostStage:
    found = evaluation.machine(machine_id).cost
    assert found is not None
    return found


def with_price(stage: CostStage, price: np.ndarray[Any, np.dtype[np.float64]] | float) -> CostStage:
    drivers = tuple(
        replace(one, price=np.broadcast_to(np.asarray(price, dtype=np.float64), one.price.shape))
        if one.line_id == "purchase" else one for one in stage.drivers
    )  # fmt: skip
    return assemble(drivers, stage.finance, stage.machines, stage.boards, stage.missing)


def test_saving_is_the_present_cost_of_the_reference_less_its_own(evaluation: Evaluation) -> None:
    compared = compare_costs(evaluation)
    assert compared.reference_id == "manual-brush"
    reference = stage_of(evaluation, "manual-brush")
    for one in compared.machines:
        if one.machine_id == "manual-brush":
            assert one.saving_present is None
            continue
        gap = reference.present_cost - stage_of(evaluation, one.machine_id).present_cost
        assert one.saving_present == pytest.approx(low_middle_high(gap), abs=CENT)
        assert one.saving_probability == pytest.approx(float(np.mean(gap > 0.0)))


def test_internal_rate_makes_the_saving_worth_nothing(evaluation: Evaluation) -> None:
    found = compare_costs(evaluation).machine("batch-spray").internal_rate
    assert found is not None
    saving = yearly_cost(at_medians(stage_of(evaluation, "manual-brush")))[:, 0]
    saving = saving - yearly_cost(at_medians(stage_of(evaluation, "batch-spray")))[:, 0]
    for rate in found.rates:
        assert float(np.sum(saving * (1.0 + rate) ** -np.arange(saving.size))) == pytest.approx(0.0, abs=1.0)
    assert len(found.rates) == 1
    assert found.statement.startswith("One internal rate")


def test_no_outlay_means_no_internal_rate_and_that_is_said(evaluation: Evaluation) -> None:
    one = compare_costs(evaluation).machine("uncleaned")
    assert one.internal_rate is not None
    assert one.internal_rate.statement.startswith("There is no internal rate")
    assert one.internal_rate_counts == (1.0, 0.0, 0.0)


def test_counts_of_internal_rates_cover_all_draws(evaluation: Evaluation) -> None:
    for one in compare_costs(evaluation).machines:
        if one.internal_rate_counts is not None:
            assert sum(one.internal_rate_counts) == pytest.approx(1.0)


def test_discounted_payback_is_never_shorter(evaluation: Evaluation) -> None:
    for one in compare_costs(evaluation).machines:
        if one.payback_years is not None and one.discounted_payback_years is not None:
            for plain, discounted in zip(one.payback_years, one.discounted_payback_years, strict=True):
                assert discounted >= plain - 1e-9


def test_without_a_reference_nothing_is_saved_and_that_is_said() -> None:
    compared = compare_costs(evaluation_of(reference=None))
    assert compared.reference_id is None
    assert "names no reference" in compared.statement
    assert all(one.saving_present is None for one in compared.machines)


def test_reference_that_is_not_looked_at_is_said(evaluation: Evaluation) -> None:
    compared = compare_costs(evaluation, "vacuum-solvent")
    assert compared.reference_id is None
    assert '"vacuum-solvent" is not among' in compared.statement


def test_another_reference_can_be_chosen(evaluation: Evaluation) -> None:
    compared = compare_costs(evaluation, "contract-service")
    assert compared.machine("contract-service").saving_present is None
    assert compared.machine("manual-brush").saving_present is not None


def test_rise_of_cost_with_price_agrees_with_counting_again(evaluation: Evaluation) -> None:
    stage = stage_of(evaluation, "batch-spray")
    rise = (with_price(stage, 70_000.0).equivalent_annual_cost - with_price(stage, 60_000.0).equivalent_annual_cost)
    assert annual_cost_per_price(stage) == pytest.approx(rise / 10_000.0, rel=1e-9)


def test_at_the_break_even_price_both_cost_the_same(evaluation: Evaluation) -> None:
    stage, rival = stage_of(evaluation, "batch-spray"), stage_of(evaluation, "contract-service")
    gap = rival.equivalent_annual_cost - with_price(stage, 0.0).equivalent_annual_cost
    price = gap / annual_cost_per_price(stage)
    positive = np.maximum(price, 0.0)
    again = with_price(stage, positive).equivalent_annual_cost
    assert again[price > 0] == pytest.approx(rival.equivalent_annual_cost[price > 0], abs=CENT)
    frame = break_even_prices(evaluation, "batch-spray").set_index("rival")
    assert frame.loc["contract-service", "middle"] == pytest.approx(low_middle_high(price)[1])
    assert frame.loc["contract-service", "offered"] == pytest.approx(61_000.0)
    assert "batch-spray" not in frame.index


def test_nothing_bought_has_no_break_even_price(evaluation: Evaluation) -> None:
    assert break_even_prices(evaluation, "contract-service").empty
    with pytest.raises(KeyError):
        break_even_prices(evaluation, "nobody")


def test_parts_by_volume_add_up_to_the_cost_at_the_plan(evaluation: Evaluation) -> None:
    for outcome in evaluation.machines:
        cost = volume_cost(evaluation, outcome, medians=False)
        assert cost is not None
        assert outcome.cost is not None
        if cost.machines_at(cost.planned_boards) == cost.machines:
            assert cost.annual_cost(cost.planned_boards) == pytest.approx(
                outcome.cost.equivalent_annual_cost, abs=CENT
            )


def test_machines_at_the_plan_are_those_of_the_capacity(evaluation: Evaluation) -> None:
    for outcome in evaluation.machines:
        cost = volume_cost(evaluation, outcome)
        if cost is not None and outcome.capacity is not None:
            assert cost.machines_at(cost.planned_boards) == outcome.capacity.machines


def test_at_the_break_even_volume_both_cost_the_same(evaluation: Evaluation) -> None:
    found = break_even_between(evaluation, "batch-spray", "contract-service")
    first = volume_cost(evaluation, evaluation.machine("batch-spray"))
    second = volume_cost(evaluation, evaluation.machine("contract-service"))
    assert first is not None
    assert second is not None
    assert len(found.volumes) == 1
    for boards in found.volumes:
        assert first.annual_cost(boards) == pytest.approx(second.annual_cost(boards), abs=1.0)
    assert "boards per year" in found.statement


def test_offered_machines_say_how_far_they_cope(evaluation: Evaluation) -> None:
    kitchen = volume_cost(evaluation, evaluation.machine("kitchen-machine"))
    assert kitchen is not None
    assert kitchen.offered
    assert planned_boards(evaluation) < kitchen.copes_up_to < np.inf
    curves = volume_curves(evaluation, ["kitchen-machine"], to_share=20.0)
    assert set(curves["copes"]) == {True, False}


def test_no_planned_board_gives_a_sentence_instead_of_a_curve(evaluation: Evaluation) -> None:
    content = yaml.safe_load(files("demo_catalog").joinpath("through_hole_plant.yaml").read_text(encoding="utf-8"))
    content["compare_classes"] = ["contract-service"]
    for board in content["board_types"]:
        board["volume"] = "0 boards/year"
    empty = evaluate(parse_case(yaml.safe_dump(content).encode(), "case.yaml"), draws=8, rays=512, threads=1)
    assert "no board is planned" in break_even_between(empty, "batch-spray", "contract-service").statement
    assert volume_curves(empty, ["batch-spray"]).empty
    assert cost_tornado(empty.machine("batch-spray")).empty


def test_tornado_names_the_price_of_labour_for_work_by_hand(evaluation: Evaluation) -> None:
    frame = cost_tornado(evaluation.machine("manual-brush"))
    assert not frame.empty
    assert (frame["swing"].abs().diff().dropna() <= 1e-9).all()
    assert (frame["swing"].abs() > 3.0 * frame["standard_error"]).all()


def test_json_holds_the_cost_of_every_machine(evaluation: Evaluation) -> None:
    output = evaluation_output(evaluation)
    assert [one.machine for one in output.costs] == [one.machine.id for one in evaluation.machines]
    assert output.cost_reference == "manual-brush"
    for one in output.costs:
        stage = stage_of(evaluation, one.machine)
        assert one.equivalent_annual_cost.middle == pytest.approx(low_middle_high(stage.equivalent_annual_cost)[1])
        assert len(one.lines) == len(stage.lines)


# ---- pictures -----------------------------------------------------------------------------------------------------


def test_parts_of_a_year_add_up_to_its_total(evaluation: Evaluation) -> None:
    stage = stage_of(evaluation, "batch-spray")
    rows = cash_flow_rows(stage)
    assert set(rows["part"]) == set(PARTS)
    sums = rows.groupby("year")["amount"].sum().to_numpy()
    assert sums == pytest.approx(cash_flow_of(at_medians(stage)).after_tax_cost[:, :, 0].sum(axis=0), abs=CENT)


def test_groups_keep_the_sum_of_the_lines(evaluation: Evaluation) -> None:
    lines = line_rows(evaluation.machines)
    groups = group_rows(lines)
    assert groups["amount"].sum() == pytest.approx(lines["amount"].sum(), abs=CENT)
    assert groups["group"].nunique() <= 6
    middle = at_medians(stage_of(evaluation, "batch-spray")).equivalent_annual_cost[0]
    assert lines.loc[lines["machine"] == "batch-spray", "amount"].sum() == pytest.approx(middle, abs=CENT)


def test_machine_that_falls_short_is_marked_beside_its_cost(evaluation: Evaluation) -> None:
    assert evaluation.machine("kitchen-machine").result == "falls short"
    rows = range_rows(compare_costs(evaluation), ["kitchen-machine", "batch-spray"])
    assert rows["name"].iloc[0].endswith("(falls short)")
    assert "falls short" in range_sentence(rows, "USD")


@pytest.mark.parametrize("palette", [LIGHT, DARK])
def test_every_chart_draws(evaluation: Evaluation, palette: Any) -> None:
    stage, compared = stage_of(evaluation, "batch-spray"), compare_costs(evaluation)
    flow, lines = cash_flow_rows(stage), line_rows(evaluation.machines)
    moved = cost_tornado(evaluation.machine("manual-brush")).assign(name=lambda frame: frame["path"])
    curves = volume_curves(evaluation, ["batch-spray", "contract-service"])
    sentences = [cash_flow_sentence("A", flow, "USD"), lines_sentence(lines, "USD"),
                 saving_sentence(compared.machine("batch-spray"), "today", "USD")]  # fmt: skip
    assert all(sentence.endswith(".") and "nan" not in sentence for sentence in sentences)
    sheet = Sheet(palette=palette, description="x", width=560)
    for chart in (
        cash_flow_chart(flow, sheet, currency="USD"), lines_chart(group_rows(lines), sheet, currency="USD"),
        range_chart(range_rows(compared, ["batch-spray", "manual-brush"]), sheet, currency="USD"),
        tornado_chart(moved, sheet, currency="USD"),
        volume_chart(curves, sheet, planned=planned_boards(evaluation), crossings=(5000.0,), currency="USD"),
    ):  # fmt: skip
        assert chart_svg(chart).startswith("<svg")
