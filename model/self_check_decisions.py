"""Self-check rows of money, queues, weights, rankings and certainty."""

from __future__ import annotations

import numpy as np
from scipy.stats import norm, qmc, uniform

from model import capacity, cash_flow, depreciation, finance, second_opinions, weights
from model.acceptability_exact import exact_first_rank, exact_pairwise_win_share
from model.fluids import Values
from model.self_check import Check
from model.sensitivity import sobol_sensitivity
from model.value_of_information import value_of_information
from model.weight_sets import AllWeights

TABLES = "engineering-economy interest tables"
LESSON = "engineering-economy lesson"
MACRS = "IRS Publication 946, Table A-1 (from memory)"
BARRON = "Barron & Barrett 1996"
GOODWIN = "Goodwin & Wright, Decision Analysis for Management Judgment"
SAATY = "Saaty; random index 0.58 of 1980 for three"
YOON = "after Yoon & Hwang 1995 (lecture slides of 2009)"
QUEUE = "queueing textbooks"
EXACT = "exact geometry, derived"
ISHIGAMI = "Ishigami & Homma 1990"
LOSS = "unit normal loss, closed form"

PAIRS = ((1.0, 3.0, 5.0), (1 / 3, 1.0, 3.0), (1 / 5, 1 / 3, 1.0))


def _level_cost(price: float, yearly: float, life_years: int) -> Values:
    terms = cash_flow.CashFlowTerms(
        horizon_years=1, machine_life_years=life_years,
        depreciation_shares=depreciation.straight_line_shares(life_years),
    )  # fmt: skip
    lines = (
        cash_flow.CostLine(
            id="price", name="Price", group="purchase", timing="once at start", amount=price, depreciable=True,
            renewed_with_machine=True,
        ),
        cash_flow.CostLine(id="running", name="Running", group="running", timing="every year", amount=yearly),
    )  # fmt: skip
    return float(cash_flow.equivalent_annual_cost_of_one_life(lines, terms, 0.10)[0])


def _one(values: object) -> float:
    return float(np.asarray(values, dtype=np.float64).ravel()[0])


def _topsis(row: int, column: int) -> float:
    return second_opinions.topsis([[17, 12], [10, 9], [8, 6]], [0.714, 0.286]).weighted[row][column]


def _closeness() -> float:
    # Two candidates, each best on one criterion: distances are in proportion to the two weights.
    return second_opinions.topsis([[1.0, 0.0], [0.0, 1.0]], [0.75, 0.25]).closeness[0]


def _net_flow() -> float:
    return second_opinions.promethee([[4, 3, 2], [3, 2, 4], [5, 1, 3]], [0.5, 0.3, 0.2]).net_flow[2]


def _normal_draws() -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.asarray(norm.ppf(qmc.Sobol(3, rng=np.random.default_rng(5)).random_base2(14)))


def _information(column: int | None) -> float:
    draws = _normal_draws()
    gain = -20.0 + 30.0 * draws[:, 0] + 40.0 * draws[:, 1]
    result = value_of_information(np.column_stack([np.zeros_like(gain), gain]), draws)
    return result.perfect if column is None else float(result.partial[column])


def _ishigami(total: bool, position: int) -> float:
    result = sobol_sensitivity(
        lambda x: np.asarray(np.sin(x[0]) + 7.0 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])),
        [uniform(-np.pi, 2.0 * np.pi)] * 3, samples=8192, resamples=2,
    )  # fmt: skip
    return float((result.total if total else result.first_order)[position])


def _first_share(position: int) -> float:
    table = np.array([[1.0, -1.0, -2.0], [0.0, 0.0, 0.0]])
    return float(exact_first_rank(table, AllWeights()).central_weights[0, position])


DECISION_CHECKS: tuple[Check, ...] = (
    Check(topic="money", what="net present value, 10 %, −100, 60, 60", source="derived", expected=4.132,
          tolerance=5e-4, absolute=True, compute=lambda: _one(finance.npv(0.10, [-100, 60, 60]))),
    Check(topic="money", what="internal rate of −100, 60, 60", source="root of the quadratic, derived",
          expected=(60 + (60**2 + 4 * 100 * 60) ** 0.5) / 200 - 1, tolerance=1e-9,
          compute=lambda: finance.irr([-100, 60, 60]).rates[0]),
    Check(topic="money", what="capital recovery, 10 %, 5 years", source=TABLES, expected=0.26380, tolerance=5e-6,
          absolute=True, compute=lambda: _one(finance.capital_recovery_factor(0.10, 5))),
    Check(topic="money", what="capital recovery, 8 %, 10 years", source=TABLES, expected=0.14903, tolerance=5e-6,
          absolute=True, compute=lambda: _one(finance.capital_recovery_factor(0.08, 10))),
    Check(topic="money", what="payback of −10 000, 4 × 4 000, years", source="definition", expected=2.5,
          tolerance=1e-12, compute=lambda: _one(finance.payback_years([-10_000] + [4_000] * 4))),
    Check(topic="money", what="the same discounted at 10 %, years", source="derived", expected=3.01925,
          tolerance=1e-5, compute=lambda: _one(finance.payback_years([-10_000] + [4_000] * 4, 0.10))),
    Check(topic="money", what="level cost, 100 + 10 a year, 2 years, 10 %", source=LESSON, expected=67.619,
          tolerance=5e-4, absolute=True, compute=lambda: _level_cost(100.0, 10.0, 2)),
    Check(topic="money", what="level cost, 140 + 8 a year, 3 years, 10 %", source=LESSON, expected=64.296,
          tolerance=5e-4, absolute=True, compute=lambda: _level_cost(140.0, 8.0, 3)),
    Check(topic="money", what="real rate, 10 % and 4 % inflation", source="Fisher equation", expected=0.0576923,
          tolerance=1e-6, compute=lambda: _one(finance.real_rate(0.10, 0.04))),
    Check(topic="money", what="MACRS 7 years, sixth year, %", source=MACRS, expected=8.92, tolerance=1e-9,
          compute=lambda: float(depreciation.macrs_shares(7)[5]) * 100),
    Check(topic="money", what="MACRS 5 years, second year, %", source=MACRS, expected=32.0, tolerance=1e-9,
          compute=lambda: float(depreciation.macrs_shares(5)[1]) * 100),
    Check(topic="queue", what="chance to wait, 2 servers, load 1", source=QUEUE, expected=1 / 3, tolerance=1e-9,
          compute=lambda: _one(capacity.erlang_c(2, 1.0))),
    Check(topic="queue", what="chance to wait, 5 servers, load 4", source=QUEUE, expected=0.554113, tolerance=1e-6,
          compute=lambda: _one(capacity.erlang_c(5, 4.0))),
    Check(topic="queue", what="mean wait, 1 server at 80 %, in cycles", source=QUEUE, expected=4.0, tolerance=1e-9,
          compute=lambda: _one(capacity.mean_waiting_s(0.8, 1.0, 1))),
    Check(topic="queue", what="availability, 500 h and 10 h", source="definition", expected=0.980392, tolerance=1e-6,
          compute=lambda: _one(capacity.availability_share(500 * 3600.0, 10 * 3600.0))),
    Check(topic="weights", what="rank-order centroid of 3, first", source=BARRON, expected=0.6111, tolerance=5e-5,
          absolute=True, compute=lambda: _one(weights.rank_order_centroid([1, 2, 3]))),
    Check(topic="weights", what="rank-order centroid of 4, first", source=BARRON, expected=0.5208, tolerance=5e-5,
          absolute=True, compute=lambda: _one(weights.rank_order_centroid([1, 2, 3, 4]))),
    Check(topic="weights", what="swing 100, 80, 70, 30, 20, 10: second", source=GOODWIN, expected=0.26,
          tolerance=5e-3, absolute=True, compute=lambda: weights.swing_weights([100, 80, 70, 30, 20, 10])[1]),
    Check(topic="weights", what="pairwise 3, 5, 3: first weight", source=SAATY, expected=0.63699, tolerance=5e-6,
          absolute=True, compute=lambda: _one(weights.pairwise_weights(PAIRS).weights)),
    Check(topic="weights", what="the same, consistency ratio", source=SAATY, expected=0.0332, tolerance=5e-5,
          absolute=True, compute=lambda: weights.pairwise_weights(PAIRS).consistency_ratio or 0.0),
    Check(topic="TOPSIS", what="weighted entry, first row, first column", source=YOON, expected=0.5703,
          tolerance=1e-4, absolute=True, compute=lambda: _topsis(0, 0)),
    Check(topic="TOPSIS", what="weighted entry, third row, second column", source=YOON, expected=0.1062,
          tolerance=1e-4, absolute=True, compute=lambda: _topsis(2, 1)),
    Check(topic="TOPSIS", what="closeness of two opposites, weights 0.75, 0.25", source="derived", expected=0.75,
          tolerance=1e-12, compute=_closeness),
    Check(topic="PROMETHEE", what="net flow of the third of three", source="worked out from the definition",
          expected=0.2, tolerance=1e-12, compute=_net_flow),
    Check(topic="certainty", what="share won with lead 1, ½, −1", source=EXACT, expected=2 / 3, tolerance=1e-12,
          compute=lambda: exact_pairwise_win_share(np.array([[1.0, 0.5, -1.0], [0.0, 0.0, 0.0]]))[0, 1]),
    Check(topic="certainty", what="central weight with lead 1, −1, −2", source=EXACT, expected=13 / 18,
          tolerance=1e-9, compute=lambda: _first_share(0)),
    Check(topic="certainty", what="first-rank share of seven equals", source=EXACT, expected=1 / 7, tolerance=1e-9,
          compute=lambda: exact_first_rank(np.eye(7), AllWeights()).first_share[3]),
    Check(topic="sensitivity", what="Ishigami function, first order, first input", source=ISHIGAMI, expected=0.3139,
          tolerance=0.01, absolute=True, compute=lambda: _ishigami(False, 0)),
    Check(topic="sensitivity", what="Ishigami function, total, third input", source=ISHIGAMI, expected=0.2437,
          tolerance=0.01, absolute=True, compute=lambda: _ishigami(True, 2)),
    Check(topic="information", what="perfect, gain N(−20, 30² + 40²)", source=LOSS, expected=11.52194,
          tolerance=5e-3, compute=lambda: _information(None)),
    Check(topic="information", what="of the second part alone", source=LOSS, expected=7.91186, tolerance=0.02,
          compute=lambda: _information(1)),
)  # fmt: skip
