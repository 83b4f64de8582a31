"""Machines compared by cost, each number a short sum or a function of numpy-financial."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import numpy_financial
import pytest

from model.cost_comparison import (
    _price_sentence,
    _rate_counts,
    annual_cost_per_price,
    break_even_prices,
    compare_costs,
    cost_tornado,
)
from model.cost_totals import BoardAmounts, CostStage
from model.depreciation import straight_line_shares
from model.sensitivity import tornado_from_draws
from tests.model.cost_by_hand import each
from tests.model.cost_by_hand import stage_by_hand as stage


def outcome(machine_id: str, cost: CostStage | None, *, is_candidate: bool = True, result: str = "meets") -> Any:
    machine = SimpleNamespace(id=machine_id, name=machine_id.capitalize(), is_candidate=is_candidate)
    return SimpleNamespace(machine=machine, cost=cost, result=result, columns={})


def evaluation(*outcomes: Any, reference: str | None = "today") -> Any:
    named = {one.machine.id: one for one in outcomes}
    plant = SimpleNamespace(finance=SimpleNamespace(reference=reference))
    return SimpleNamespace(machines=outcomes, machine=named.__getitem__, case=SimpleNamespace(plant=plant))




def built(boards: float) -> dict[str, BoardAmounts]:
    return {"a": BoardAmounts(boards_per_year=each(boards), area_m2=each(0.01), shared_cost_share=each(1.0))}


TODAY = outcome("today", stage({"service": 500.0}, boards=built(1000.0)), is_candidate=False)
FLOW = [-1000.0, 400.0, 400.0, 400.0, 400.0]
WORTH_OF_SAVINGS = -float(numpy_financial.pv(0.1, 4, 400.0))


def test_an_offer_saves_what_the_reference_costs_more_each_year() -> None:
    found = compare_costs(evaluation(TODAY, outcome("offer", stage({"purchase": 1000.0, "service": 100.0}))))
    one = found.machine("offer")
    assert found.reference_id == "today"
    assert found.statement == "Savings are counted against Today."
    assert one.saving_present == pytest.approx((numpy_financial.npv(0.1, FLOW),) * 3)
    assert one.saving_probability == 1.0
    assert one.internal_rate is not None
    assert one.internal_rate.rates == pytest.approx((numpy_financial.irr(FLOW),))
    assert one.internal_rate_counts == (0.0, 1.0, 0.0)
    assert one.payback_years == pytest.approx((2.5,) * 3)
    # After three years 994.74 of 1000 are back; the fourth brings 273.21.
    missing = 1000.0 + float(numpy_financial.pv(0.1, 3, 400.0))
    assert one.discounted_payback_years == pytest.approx((3.0 + missing / (400.0 / 1.1**4),) * 3)


def test_what_is_said_of_each_machine_is_its_own() -> None:
    offer = stage({"purchase": [900.0, 1000.0, 1100.0], "service": 100.0}, missing={"Drain": "Drain is left out."},
                  boards=built(100.0))  # fmt: skip
    found = compare_costs(evaluation(TODAY, outcome("offer", offer, result="unknown"), outcome("silent", None)))
    assert [one.machine_id for one in found.machines] == ["today", "offer"]
    today, one = found.machines
    assert (one.name, one.is_candidate, one.result) == ("Offer", True, "unknown")
    assert (today.name, today.is_candidate) == ("Today", False)
    assert (one.total_name, one.missing) == ("Total without drain", ("Drain is left out.",))
    assert one.remarks == ("A remark.",)
    assert one.initial_cost == pytest.approx((900.0, 1000.0, 1100.0))
    running = -float(numpy_financial.pv(0.1, 4, 100.0))
    assert one.present_cost == pytest.approx(tuple(price + running for price in (900.0, 1000.0, 1100.0)))
    levels = [-float(numpy_financial.pmt(0.1, 4, price)) + 100.0 for price in (900.0, 1000.0, 1100.0)]
    assert one.equivalent_annual_cost == pytest.approx(levels)
    assert one.cost_per_board == pytest.approx([level / 100.0 for level in levels])
    assert today.cost_per_board == pytest.approx((0.5,) * 3)


def test_the_reference_is_not_counted_against_itself() -> None:
    today = compare_costs(evaluation(TODAY)).machine("today")
    nothing = (today.saving_present, today.saving_probability, today.internal_rate, today.internal_rate_counts,
               today.payback_years, today.discounted_payback_years)  # fmt: skip
    assert nothing == (None,) * 6


def test_the_probability_of_saving_is_the_share_of_draws_with_a_saving_however_small() -> None:
    prices = [WORTH_OF_SAVINGS - 0.4, WORTH_OF_SAVINGS + 0.4, 2000.0]
    offer = outcome("offer", stage({"purchase": prices, "service": 100.0}))
    one = compare_costs(evaluation(TODAY, offer)).machine("offer")
    assert one.saving_probability == pytest.approx(1.0 / 3.0)
    assert one.saving_present == pytest.approx((WORTH_OF_SAVINGS - 2000.0, -0.4, 0.4))


def test_draws_with_none_one_and_several_internal_rates_are_counted_apart() -> None:
    # First draw: −1600, 10 000, −10 000, which has the two rates 25 % and 400 % (the pump problem of the textbooks);
    # second: −1600, 10 000, 10 000; third: −1600, −10 000, −10 000.
    lives = {"horizon_years": 2, "depreciation_shares": straight_line_shares(2)}
    today = outcome("today", stage({"purchase": [20_000.0, 0.0, 0.0], "service": [0.0, 20_000.0, 0.0]},
                                   life_years=np.ones(3, dtype=np.int64), **lives))  # fmt: skip
    offer = outcome("offer", stage({"purchase": [21_600.0, 1600.0, 1600.0], "service": 10_000.0},
                                   life_years=np.full(3, 2), **lives))  # fmt: skip
    one = compare_costs(evaluation(today, offer)).machine("offer")
    assert one.internal_rate_counts == pytest.approx((1 / 3, 1 / 3, 1 / 3))


def test_a_year_without_money_makes_no_change_of_sign() -> None:
    # −1000, 0, 0, −1000 + … : savings only in the last years would be one change; years of 0 between are skipped.
    today = outcome("today", stage({"purchase": 500.0}, life_years=np.full(3, 2)))
    offer = outcome("offer", stage({"purchase": 700.0}, life_years=np.full(3, 4)))
    one = compare_costs(evaluation(today, offer)).machine("offer")
    # −200, 0, 500, 0, 0.
    assert one.internal_rate_counts == (0.0, 1.0, 0.0)
    assert one.internal_rate is not None
    assert one.internal_rate.rates == pytest.approx((np.sqrt(2.5) - 1.0,))
    rival = outcome("rival", stage({"purchase": 300.0, "service": 0.0}, life_years=np.full(3, 2)))
    # 200, 0, 200, 0, 0: never changes sign.
    assert compare_costs(evaluation(today, rival)).machine("rival").internal_rate_counts == (1.0, 0.0, 0.0)


def test_without_a_reference_or_without_its_cost_the_statement_says_so() -> None:
    nobody = compare_costs(evaluation(TODAY, reference=None))
    assert nobody.statement.startswith("The plant names no reference, so there are no savings to count. Choose one")
    assert nobody.reference_id is None
    absent = compare_costs(evaluation(TODAY), "ghost")
    assert absent.statement == (
        'The reference "ghost" is not among the machines whose cost is known, so no savings are counted.'
    )
    assert absent.reference_id is None
    with pytest.raises(KeyError, match="ghost"):
        absent.machine("ghost")


def test_another_reference_than_the_plants_may_be_asked_for() -> None:
    other = outcome("other", stage({"service": 300.0}))
    found = compare_costs(evaluation(TODAY, other), "other")
    assert found.reference_id == "other"
    assert found.machine("today").saving_present == pytest.approx((float(numpy_financial.pv(0.1, 4, 200.0)),) * 3)


def test_rise_of_the_yearly_cost_with_the_price_by_hand() -> None:
    # Two machines; a price of 1 saves 30 % tax on a quarter of it in each of four years and sells for 0.2, taxed.
    found = annual_cost_per_price(stage({}, machines=2.0, tax_rate=np.full(3, 0.3), residual_share=np.full(3, 0.2)))
    whole = 1.0 + float(numpy_financial.pv(0.1, 4, 0.3 / 4)) - 0.2 * 0.7 / 1.1**4
    assert found == pytest.approx(np.full(3, -2.0 * float(numpy_financial.pmt(0.1, 4, whole))), rel=1e-12)


def test_rise_without_depreciation_and_with_replacement_by_hand() -> None:
    # Bought anew after two years at 5 % more a year; no tax effect of capital. Real rate 1.1/1.05 − 1.
    found = annual_cost_per_price(
        stage({}, tax_rate=np.full(3, 0.3), capital_has_tax_effect=False, life_years=np.full(3, 2),
              inflation=np.full(3, 0.05))
    )  # fmt: skip
    whole = 1.0 + (1.05 / 1.1) ** 2
    assert found == pytest.approx(np.full(3, -float(numpy_financial.pmt(1.1 / 1.05 - 1.0, 4, whole))), rel=1e-12)


def test_the_group_of_purchases_rises_by_its_own_inflation_in_the_price_too() -> None:
    own = {"purchase": np.full(3, 0.05)}
    found = annual_cost_per_price(stage({}, life_years=np.full(3, 2), inflation_by_group=own))
    assert found == pytest.approx(np.full(3, -float(numpy_financial.pmt(0.1, 4, 1.0 + (1.05 / 1.1) ** 2))), rel=1e-12)


def test_break_even_price_of_each_rival_by_hand() -> None:
    offer = outcome("offer", stage({"purchase": 1000.0, "service": 100.0}, machines=2.0))
    rivals = (TODAY, outcome("cheap", stage({"service": 50.0})), outcome("silent", None))
    frame = break_even_prices(evaluation(offer, *rivals), "offer")
    assert list(frame.columns) == ["rival", "name", "low", "middle", "high", "offered", "sentence"]
    assert frame["rival"].tolist() == ["today", "cheap"]
    assert frame["name"].tolist() == ["Today", "Cheap"]
    # 400 a year for four years pay for two machines at that price; 50 less than the running cost pay for none.
    assert frame[["low", "middle", "high"]].to_numpy()[0] == pytest.approx(np.full(3, WORTH_OF_SAVINGS / 2.0))
    assert frame["middle"].iloc[1] == pytest.approx(float(numpy_financial.pv(0.1, 4, 50.0)) / 2.0)
    assert frame["offered"].tolist() == [1000.0, 1000.0]
    assert frame["sentence"].tolist() == [
        "Offer costs more than Today at the price offered.", "Even as a gift Offer would cost more than Cheap.",
    ]  # fmt: skip


def test_a_price_below_the_break_even_is_said_to_cost_less_and_an_unknown_one_is_not_judged() -> None:
    offer = outcome("offer", stage({"purchase": 1000.0, "service": 100.0}))
    assert break_even_prices(evaluation(offer, TODAY), "offer")["sentence"].tolist() == [
        "Offer costs less than Today at the price offered."
    ]
    silent = outcome("offer", stage({"service": 100.0}))
    frame = break_even_prices(evaluation(silent, TODAY), "offer")
    assert frame["middle"].iloc[0] == pytest.approx(WORTH_OF_SAVINGS)
    assert np.isnan(frame["offered"].iloc[0])
    assert frame["sentence"].tolist() == ["Below the price given, Offer costs less than Today."]


def test_a_service_and_a_machine_without_a_cost_have_no_break_even_price() -> None:
    service = outcome("service", stage({"service": 100.0}, machines=0.0))
    for one in (service, outcome("silent", None)):
        frame = break_even_prices(evaluation(one, TODAY), one.machine.id)
        assert frame.empty
        assert "sentence" in frame.columns


def varied(draws: int = 200, **columns: Any) -> Any:
    random = np.random.default_rng(5)
    labour, water, idle = (random.uniform(0.0, 1.0, draws) for _ in range(3))
    one = outcome("washer", stage({"operators": 1000.0 * labour + 200.0 * water}, draws=draws))
    one.columns = {"water": water, "idle": idle, "labour": labour}
    return one


def test_the_inputs_that_move_the_cost_are_listed_by_swing_and_chance_is_left_out() -> None:
    frame = cost_tornado(varied())
    assert list(frame.columns) == ["path", "at_low", "at_high", "swing", "standard_error"]
    # The lowest and highest tenth of 0…1 lie 0.9 apart: 900 for labour.
    assert frame["path"].iloc[0] == "labour"
    assert "idle" not in set(frame["path"])
    assert frame["swing"].iloc[0] == pytest.approx(900.0, abs=60.0)
    assert frame["at_high"].iloc[0] - frame["at_low"].iloc[0] == pytest.approx(frame["swing"].iloc[0])
    assert frame["at_low"].iloc[0] == pytest.approx(150.0, abs=60.0)
    assert list(frame.index) == list(range(len(frame)))
    assert len(cost_tornado(varied(2000), count=1)) == 1
    assert len(cost_tornado(varied(2000))) == 2


def test_few_draws_a_cost_that_never_moves_and_nothing_that_varies_give_an_empty_table() -> None:
    still = varied()
    still.cost = stage({"operators": 5.0}, draws=200)
    bare = varied()
    bare.columns = {}
    silent = varied()
    silent.cost = None
    for one in (varied(39), still, bare, silent):
        assert cost_tornado(one).empty
        assert list(cost_tornado(one).columns) == ["path", "at_low", "at_high", "swing", "standard_error"]
    assert not cost_tornado(varied(40)).empty




@pytest.mark.parametrize("discount", [(0.0, 0.0, 0.0), (0.0, 0.1, 0.1)])
def test_a_price_that_its_own_sale_outweighs_has_no_break_even_and_that_is_said(discount: tuple[float, ...]) -> None:
    # Without interest and at 5 % more a year, a tenth of 40 years of life used up, it sells for 0.9 · 1.05⁴ = 1.09
    # times its price: a dearer machine costs less.
    offer = outcome("offer", stage({"purchase": 1000.0}, discount_rate=np.array(discount), inflation=each(0.05),
                                   life_years=np.full(3, 40)))  # fmt: skip
    assert annual_cost_per_price(offer.cost).min() < 0.0
    frame = break_even_prices(evaluation(offer, TODAY), "offer")
    assert frame[["low", "middle", "high"]].isna().all(axis=None)
    assert frame["offered"].tolist() == [1000.0]
    assert frame["sentence"].tolist() == [
        "There is none: at these rates what Offer sells for later outweighs its price, so a dearer one costs no more."
    ]


def test_internal_rates_are_counted_draw_by_draw() -> None:
    # One: an investment, and one that starts late with a pause. None: a gift, and a late gift. Two: 10 % and 25 %.
    # None again: two changes of sign without a rate.
    flows = np.array([
        [-100.0, 0.0, 100.0, 0.0, -100.0, 100.0],
        [0.0, -100.0, 5.0, 5.0, 235.0, -200.0],
        [60.0, 0.0, 5.0, 5.0, -137.5, 150.0],
        [60.0, 121.0, 5.0, 5.0, 0.0, 0.0],
    ])  # fmt: skip
    assert _rate_counts(flows).tolist() == [1.0, 1.0, 0.0, 0.0, 2.0, 0.0]


def test_a_break_even_price_of_less_than_one_is_a_price() -> None:
    assert _price_sentence("A", "B", 0.5, 0.4) == "A costs less than B at the price offered."
    assert _price_sentence("A", "B", -0.5, 0.4) == "Even as a gift A would cost more than B."


def test_a_machine_that_costs_the_same_is_no_saving() -> None:
    same = outcome("same", stage({"service": 500.0}))
    assert compare_costs(evaluation(TODAY, same)).machine("same").saving_probability == 0.0


def test_a_swing_counts_beyond_three_standard_errors() -> None:
    random = np.random.default_rng(3)
    seen = []
    for _ in range(150):
        weak, rest = random.uniform(0.0, 1.0, (2, 60))
        one = outcome("washer", stage({"operators": 100.0 + 20.0 * weak + 60.0 * rest}, draws=60))
        one.columns = {"weak": weak}
        bars = tornado_from_draws(weak[:, None], one.cost.equivalent_annual_cost)
        ratio = abs(float(bars.swing[0])) / float(bars.standard_error[0])
        assert cost_tornado(one).empty == (ratio <= 3.0)
        seen.append(ratio)
    # The border is crossed close by on both sides.
    assert any(2.5 < ratio < 3.0 for ratio in seen)
    assert any(3.0 < ratio < 3.5 for ratio in seen)
