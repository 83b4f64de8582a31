"""Cost lines of a machine: every amount is quantity × price, and lines, years and totals agree to a cent."""

from __future__ import annotations

from dataclasses import replace
from importlib.resources import files
from typing import Any

import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog_schema.case import Case
from catalog_schema.errors import CaseError
from catalog_schema.files import parse_case
from catalog_schema.library import load_library
from model.cash_flow import cost_per_row, cost_per_year, present_cost, present_cost_per_row
from model.cost_drivers import LINE_KINDS, PRICE_UNITS, CostDriver
from model.cost_finance import CostFinance
from model.cost_totals import BoardAmounts, CostStage, assemble, at_medians, cash_flow_of, yearly_cost
from model.depreciation import macrs_shares, straight_line_shares
from model.evaluate import Evaluation, evaluate
from model.outcomes import MachineOutcome

CENT = 0.005
CLASSES = ("manual-brush", "contract-service", "uncleaned", "vapour-solvent", "inline-spray")


def demo(name: str = "through_hole_plant.yaml") -> dict[str, Any]:
    found: dict[str, Any] = yaml.safe_load(files("demo_catalog").joinpath(name).read_text(encoding="utf-8"))
    return found


def case_of(content: dict[str, Any], classes: tuple[str, ...] = CLASSES) -> Case:
    return parse_case(yaml.safe_dump(content | {"compare_classes": list(classes)}).encode(), "case.yaml")


def quick(case: Case) -> Evaluation:
    return evaluate(case, draws=48, rays=2048, threads=1)


@pytest.fixture(scope="module")
def evaluation() -> Evaluation:
    return quick(case_of(demo()))


def stage_of(evaluation: Evaluation, machine_id: str) -> CostStage:
    found = evaluation.machine(machine_id).cost
    assert found is not None
    return found


def costed(evaluation: Evaluation) -> list[tuple[MachineOutcome, CostStage]]:
    return [(one, one.cost) for one in evaluation.machines if one.cost is not None]


def plain_finance(**changes: Any) -> CostFinance:
    finance = CostFinance(
        horizon_years=10, life_years=np.array([10]), depreciation_shares=straight_line_shares(5),
        depreciation="straight line over 5 years", capital_has_tax_effect=True, tax_rate=np.array([0.0]),
        discount_rate=np.array([0.1]), inflation=np.array([0.0]), inflation_by_group={},
        residual_share=np.array([0.0]), remarks=(),
    )  # fmt: skip
    return replace(finance, **changes)


def driver(line_id: str, amount: float) -> CostDriver:
    return CostDriver(line_id=line_id, quantity=np.array([1.0]), quantity_unit="times", price=np.array([amount]),
                      price_unit="money", price_path="", how="By hand.")  # fmt: skip


def by_hand(amounts: dict[str, float], finance: CostFinance) -> CostStage:
    boards = {"board": BoardAmounts(boards_per_year=np.array([1000.0]), area_m2=np.array([0.02]),
                                    shared_cost_share=np.array([1.0]))}  # fmt: skip
    return assemble(tuple(driver(name, amount) for name, amount in amounts.items()), finance, 1.0, boards, {})


# ---- totals agree -------------------------------------------------------------------------------------------------


def test_total_is_the_sum_of_lines_and_of_years_to_a_cent(evaluation: Evaluation) -> None:
    assert len(costed(evaluation)) == len(evaluation.machines)
    for _, stage in costed(evaluation):
        if not stage.lines:
            continue
        flow = cash_flow_of(stage)
        assert stage.present_cost == pytest.approx(stage.line_present_cost.sum(axis=0), abs=CENT)
        assert stage.present_cost == pytest.approx(present_cost(flow, stage.finance.discount_rate), abs=CENT)
        assert present_cost_per_row(flow, stage.finance.discount_rate).sum(axis=0) == pytest.approx(
            stage.present_cost, abs=CENT
        )
        assert cost_per_year(flow).sum(axis=0) == pytest.approx(cost_per_row(flow).sum(axis=0), abs=CENT)
        assert yearly_cost(stage) == pytest.approx(cost_per_year(flow), abs=CENT)


def test_each_line_is_the_sum_of_its_quantities_times_prices(evaluation: Evaluation) -> None:
    for _, stage in costed(evaluation):
        for line in stage.lines:
            parts = sum(one.quantity * one.price for one in stage.drivers if one.line_id == line.id)
            assert np.asarray(line.amount) == pytest.approx(parts, rel=1e-12)


def test_cost_of_board_types_adds_up_to_the_yearly_cost(evaluation: Evaluation) -> None:
    for _, stage in costed(evaluation):
        total = sum(stage.cost_per_board_type[name] * one.boards_per_year for name, one in stage.boards.items())
        assert total == pytest.approx(stage.equivalent_annual_cost, abs=CENT)


def test_every_price_shown_was_read_with_its_basis(evaluation: Evaluation) -> None:
    for outcome, stage in costed(evaluation):
        known = {record.path: record for record in outcome.inputs}
        for one in stage.drivers:
            assert one.price_unit in PRICE_UNITS
            if one.price_path:
                assert known[one.price_path].basis
                middle = np.median(one.price) / PRICE_UNITS[one.price_unit]
                record = known[one.price_path]
                assert record.low * (1 - 1e-9) <= middle <= record.high * (1 + 1e-9)


def test_medians_are_one_draw_with_the_same_lines(evaluation: Evaluation) -> None:
    for _, stage in costed(evaluation):
        middle = at_medians(stage)
        assert middle.present_cost.shape == (1,)
        assert [line.id for line in middle.lines] == [line.id for line in stage.lines]
        assert [one.id for one in middle.drivers] == [one.id for one in stage.drivers]


def test_driver_ids_differ(evaluation: Evaluation) -> None:
    for _, stage in costed(evaluation):
        ids = [one.id for one in stage.drivers]
        assert len(ids) == len(set(ids))


# ---- what the lines say -------------------------------------------------------------------------------------------


def test_doing_nothing_costs_nothing_unless_the_plant_counts_failures(evaluation: Evaluation) -> None:
    assert stage_of(evaluation, "uncleaned").drivers == ()
    assert float(stage_of(evaluation, "uncleaned").equivalent_annual_cost.max()) == 0.0
    content = demo()
    content["plant"]["field_failures"] = {"failures_per_board_if_not_clean": "2 %", "cost_per_failure": "150 USD"}
    stage = stage_of(quick(case_of(content, ("uncleaned",))), "uncleaned")
    assert {one.line_id for one in stage.drivers} == {"field-failures"}
    boards = sum(one.boards_per_year for one in stage.boards.values())
    # None of the boards may stay uncleaned here, so all of them are not clean.
    assert sum(one.amount for one in stage.drivers) == pytest.approx(boards * 0.02 * 150.0)


def test_bought_service_buys_no_equipment(evaluation: Evaluation) -> None:
    stage = stage_of(evaluation, "contract-service")
    assert stage.machines == 0.0
    assert not {"purchase", "service", "floor", "electricity", "operators"} & {line.id for line in stage.lines}
    bought = sum(one.amount for one in stage.drivers if one.line_id == "bought-service")
    boards = sum(one.boards_per_year for one in stage.boards.values())
    price = next(one.price for one in stage.drivers if one.line_id == "bought-service")
    assert bought == pytest.approx(boards * price)


def test_attending_and_loading_are_not_paid_twice(evaluation: Evaluation) -> None:
    outcome = evaluation.machine("manual-brush")
    stage = stage_of(evaluation, "manual-brush")
    assert outcome.capacity is not None
    hours = sum(one.quantity for one in stage.drivers if one.group == "labour")
    # At a bench a person is there all the time: neither less nor more than the running hours is paid.
    assert hours == pytest.approx(outcome.capacity.run_hours_per_year, rel=1e-9)


def test_electricity_is_mean_power_times_running_hours(evaluation: Evaluation) -> None:
    outcome = evaluation.machine("manual-brush")
    stage = stage_of(evaluation, "manual-brush")
    assert outcome.capacity is not None
    used = next(one.quantity for one in stage.drivers if one.line_id == "electricity")
    power_kW = outcome.columns["machine_classes[manual-brush].site.heat_power"] / 1000.0
    assert used == pytest.approx(power_kW * outcome.capacity.run_hours_per_year)


def test_price_per_machine_counts_every_machine(evaluation: Evaluation) -> None:
    for outcome, stage in costed(evaluation):
        for one in stage.drivers:
            if one.line_id in ("purchase", "service"):
                assert outcome.capacity is not None
                assert one.quantity == pytest.approx(float(outcome.capacity.machines))


def test_upgrades_that_musts_force_are_paid_for() -> None:
    content = demo("mixed_plant.yaml")
    content["candidates"] = [one for one in content["candidates"] if one["id"] == "offer-a-batch-spray"]
    content["plant"]["finance"]["reference"] = None
    stage = stage_of(quick(case_of(content, ())), "offer-a-batch-spray")
    amounts = {line.id: np.asarray(line.amount) for line in stage.lines}
    assert amounts["seal-upgrade"] == pytest.approx(380.0 * stage.machines)
    assert amounts["traceability-option"] == pytest.approx(11_500.0 * stage.machines)
    assert stage.finance.inflation_of("labour") == pytest.approx(0.03)
    assert stage.finance.inflation_of("purchase") == pytest.approx(0.02)


def test_unknown_price_is_named_and_the_total_says_so() -> None:
    library = load_library()
    bare = next(one for one in library.machine_classes if one.id == "batch-diffused-spray")
    silent = {"filters_per_year": None, "freight": None}
    bare = bare.model_copy(update={"prices": bare.prices.model_copy(update=silent)})
    case = case_of(demo(), ()).model_copy(update={"machine_classes": (bare,)})
    outcome = quick(case).machine("batch-spray")
    assert outcome.cost is not None
    assert set(outcome.cost.missing) == {"Filters"}
    assert "filters" in outcome.cost.total_name
    assert all(sentence.endswith("ask the supplier.") for sentence in outcome.cost.missing.values())


def test_unknown_purchase_price_leaves_the_budget_open() -> None:
    library = load_library()
    bare = next(one for one in library.machine_classes if one.id == "labware-washer")
    bare = bare.model_copy(update={"prices": bare.prices.model_copy(update={"purchase": None})})
    case = case_of(demo(), ("labware-washer",)).model_copy(update={"machine_classes": (bare,), "candidates": ()})
    outcome = quick(case).machine("labware-washer")
    budget = next(one.requirement for one in outcome.judged if one.requirement.key == "budget")
    assert budget.result == "unknown"
    assert outcome.cost is not None
    assert outcome.cost.total_name.startswith("Total without purchase price")


def test_budget_holds_what_is_paid_at_the_start(evaluation: Evaluation) -> None:
    for outcome, stage in costed(evaluation):
        budget = next(one.requirement for one in outcome.judged if one.requirement.key == "budget")
        assert budget.stage == "cost"
        assert budget.limit == pytest.approx(90_000.0)
        assert budget.probability == pytest.approx(float(np.mean(stage.initial_cost <= 90_000.0)))


# ---- bad and extreme input ----------------------------------------------------------------------------------------


def finite(stage: CostStage) -> bool:
    numbers = [stage.present_cost, stage.equivalent_annual_cost, stage.initial_cost, yearly_cost(stage)]
    numbers += [one for one in (stage.cost_per_board, stage.cost_per_area) if one is not None]
    return all(bool(np.isfinite(one).all()) for one in numbers)


def test_zero_volume_has_costs_but_no_cost_per_board() -> None:
    content = demo()
    for board in content["board_types"]:
        board["volume"] = "0 boards/year"
    outcome = quick(case_of(content, ("contract-service",))).machine("batch-spray")
    stage = outcome.cost
    assert stage is not None
    assert stage.cost_per_board is None
    assert stage.cost_per_area is None
    assert stage.cost_per_board_type == {}
    assert any("no cost per board" in remark for remark in stage.remarks)
    assert finite(stage)


def test_zero_life_is_a_finding_with_a_sentence() -> None:
    content = demo()
    content["candidates"][1]["prices"]["life"] = "0 year"
    outcome = quick(case_of(content, ())).machine("batch-spray")
    assert outcome.cost is None
    found = next(one.requirement for one in outcome.judged if one.requirement.key == "cost inputs")
    assert found.result == "unknown"
    assert "its life is 0 years. Give a life above 0" in found.sentence.text()


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [("horizon", "0 year", "horizon of the cost is 0 years"), ("horizon", "900 year", "1 to 100 years"),
     ("tax_rate", "100 %", "less than 100 %"), ("inflation", "5000 %", "1000% or less")],
)  # fmt: skip
def test_finance_without_meaning_is_a_finding_with_a_sentence(field: str, value: str, words: str) -> None:
    content = demo()
    content["plant"]["finance"][field] = value
    outcome = quick(case_of(content, ())).machine("batch-spray")
    assert outcome.cost is None
    assert any(words in one.requirement.sentence.text() for one in outcome.judged)


def test_negative_price_is_refused_with_a_sentence() -> None:
    content = demo()
    content["candidates"][1]["prices"]["purchase"] = "-5 USD"
    with pytest.raises(CaseError) as refused:
        case_of(content)
    assert "below" in str(refused.value.problems[0])


@pytest.mark.parametrize(("rate", "words"), [("0 %", "counts as much"), ("5000 %", "hardly anything"),
                                             ("-5 %", "counts more")])  # fmt: skip
def test_extreme_discount_rates_give_finite_totals_and_a_remark(rate: str, words: str) -> None:
    content = demo()
    content["plant"]["finance"]["discount_rate"] = rate
    stage = stage_of(quick(case_of(content, ())), "batch-spray")
    assert finite(stage)
    assert any(words in remark for remark in stage.remarks)
    if rate == "5000 %":
        # Nothing but the start counts, less the tax that training and qualification save at once.
        assert float(stage.present_cost.max()) < float(stage.initial_cost.max()) * 1.05


def test_without_inflation_and_discount_the_total_is_the_plain_sum_of_years() -> None:
    content = demo()
    content["plant"]["finance"] |= {"discount_rate": "0 %", "inflation": "0 %", "inflation_per_line": {}}
    stage = stage_of(quick(case_of(content, ())), "batch-spray")
    assert stage.present_cost == pytest.approx(yearly_cost(stage).sum(axis=0), abs=CENT)
    assert stage.equivalent_annual_cost * stage.finance.horizon_years == pytest.approx(stage.present_cost, abs=CENT)


def test_inflation_for_an_unknown_group_is_named() -> None:
    content = demo()
    content["plant"]["finance"]["inflation_per_line"] = {"labor": "9 %"}
    stage = stage_of(quick(case_of(content, ())), "batch-spray")
    assert any('"labor" is not used' in remark for remark in stage.remarks)


# ---- lives, depreciation, tax -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("price", "running", "life", "annual"), [(100.0, 10.0, 2, 67.619), (140.0, 8.0, 3, 64.296)])
def test_unequal_lives_agree_with_the_engineering_economy_lesson(
    price: float, running: float, life: int, annual: float
) -> None:
    # An engineering-economy lesson on unequal lives at 10 % (its page misprints the first as 67.26).
    stage = by_hand({"purchase": price, "service": running},
                    plain_finance(horizon_years=6, life_years=np.array([life])))  # fmt: skip
    assert float(stage.equivalent_annual_cost[0]) == pytest.approx(annual, abs=5e-4)


@given(life=st.integers(1, 12), horizon=st.integers(1, 15), residual=st.floats(0.0, 0.5), tax=st.floats(0.0, 0.6),
       rate=st.floats(0.0, 0.5), rise=st.floats(0.0, 0.2))  # fmt: skip
@settings(deadline=None, max_examples=50)
def test_factors_agree_with_the_table_whatever_the_terms(
    life: int, horizon: int, residual: float, tax: float, rate: float, rise: float
) -> None:
    finance = plain_finance(
        horizon_years=horizon, life_years=np.array([life]), residual_share=np.array([residual]),
        tax_rate=np.array([tax]), discount_rate=np.array([rate]), inflation=np.array([rise]),
    )  # fmt: skip
    stage = by_hand({"purchase": 90_000.0, "freight": 800.0, "qualification": 4_000.0, "training": 900.0,
                     "service": 5_000.0, "operators": 20_000.0}, finance)  # fmt: skip
    flow = cash_flow_of(stage)
    assert stage.present_cost == pytest.approx(present_cost(flow, rate), abs=CENT)
    assert yearly_cost(stage) == pytest.approx(cost_per_year(flow), abs=CENT)


def test_many_uncertain_rates_agree_with_the_table() -> None:
    random = np.random.default_rng(3)
    draws = 64
    finance = plain_finance(
        life_years=random.integers(3, 14, draws), residual_share=random.uniform(0, 0.2, draws),
        tax_rate=random.uniform(0.1, 0.4, draws), discount_rate=random.uniform(0.02, 0.2, draws),
        inflation=random.uniform(0, 0.05, draws), inflation_by_group={"labour": random.uniform(0, 0.08, draws)},
    )  # fmt: skip
    boards = {"board": BoardAmounts(boards_per_year=np.full(draws, 10.0), area_m2=np.full(draws, 0.1),
                                    shared_cost_share=np.ones(draws))}  # fmt: skip
    parts = tuple(
        replace(driver(name, amount), quantity=random.uniform(0.5, 2.0, draws))
        for name, amount in {"purchase": 5e4, "operators": 9e3, "service": 2e3}.items()
    )
    stage = assemble(parts, finance, 1.0, boards, {})
    assert yearly_cost(stage) == pytest.approx(cost_per_year(cash_flow_of(stage)), abs=CENT)


def test_macrs_writes_the_price_off_by_the_printed_table() -> None:
    # IRS Publication 946, Table A-1, from memory.
    stage = by_hand({"purchase": 1000.0}, plain_finance(depreciation_shares=macrs_shares(5), tax_rate=np.array([0.25])))
    flow = cash_flow_of(stage)
    assert flow.depreciation[0, :7, 0] == pytest.approx([0.0, 200.0, 320.0, 192.0, 115.2, 115.2, 57.6])
    assert flow.tax[0, 1, 0] == pytest.approx(-50.0)


def test_macrs_case_is_read_from_the_plant(evaluation: Evaluation) -> None:
    stage = stage_of(evaluation, "batch-spray")
    assert stage.finance.depreciation.startswith("MACRS 5")
    assert stage.terms.depreciation_shares == pytest.approx(macrs_shares(5))


def test_without_depreciation_the_price_changes_no_tax() -> None:
    content = demo()
    content["plant"]["finance"]["depreciation"] = "none"
    flow = cash_flow_of(stage_of(quick(case_of(content, ())), "batch-spray"))
    at = flow.row_ids.index("purchase")
    assert float(np.abs(flow.tax[at]).max()) == 0.0


def test_dearer_or_longer_inputs_never_make_it_cheaper() -> None:
    finance = plain_finance(tax_rate=np.array([0.3]))
    base = by_hand({"purchase": 100.0, "service": 10.0}, finance).equivalent_annual_cost[0]
    for line_id in LINE_KINDS:
        dearer = by_hand({"purchase": 100.0, "service": 10.0, line_id: 120.0}, finance).equivalent_annual_cost[0]
        assert dearer > base
