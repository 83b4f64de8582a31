"""Loads, machine time, machines needed, utilisation, waiting, belts: counting, limits, scaling, error sentences."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.capacity import (
    availability_share,
    belt_boards_per_s,
    cycle_with_failures,
    erlang_c,
    loads_per_day,
    machine_time_s_per_day,
    machines_needed,
    mean_waiting_s,
    service_moments,
    utilisation_share,
)

SHIFT_S = 16 * 3600.0


def test_lots_apart_run_their_last_load_part_filled() -> None:
    loads = loads_per_day(np.array([[100.0], [60.0]]), np.array([[25.0], [5.0]]), np.array([[10.0], [12.0]]))
    assert loads.loads_per_day.tolist() == [[12.0], [12.0]]
    np.testing.assert_allclose(loads.fill_share, [[25 / 30], [5 / 12]])


@settings(deadline=None, max_examples=50)
@given(boards=st.integers(0, 5000), lot=st.integers(1, 200), fit=st.integers(1, 60))
def test_sharing_never_needs_more_loads_and_fill_times_loads_gives_back_the_boards(
    boards: int, lot: int, fit: int
) -> None:
    apart = loads_per_day(float(boards), lot, fit)
    shared = loads_per_day(float(boards), lot, fit, types_may_share=True)
    assert float(shared.loads_per_day) <= float(apart.loads_per_day) + 1e-9
    assert float(apart.loads_per_day * apart.fill_share * fit) == pytest.approx(boards)
    # Per lot the count is the everyday one: how many loads does a lot fill?
    assert float(apart.loads_per_day) == pytest.approx(boards / lot * -(-lot // fit))


def test_only_whole_boards_fit() -> None:
    assert float(loads_per_day(100.0, 10.0, 10.9).loads_per_day) == 10.0
    assert float(loads_per_day(100.0, 10.0, 9.9999999999).loads_per_day) == 10.0


def test_a_shared_load_runs_the_longest_cycle_of_the_types_that_are_built() -> None:
    loads, cycle = np.array([[4.0, 4.0], [2.0, 0.0]]), np.array([[600.0, 600.0], [900.0, 900.0]])
    assert machine_time_s_per_day(loads, cycle).tolist() == [[2400, 2400], [1800, 0]]
    assert machine_time_s_per_day(loads, cycle, types_may_share=True).tolist() == [[3600, 2400], [1800, 0]]
    # A type of which nothing is made does not set the pace, however quick the others are.
    assert machine_time_s_per_day([10.0, 0.0], [0.5, 3.0], types_may_share=True).tolist() == [5.0, 0.0]


@settings(deadline=None, max_examples=50)
@given(needed=st.floats(1.0, 1e6), availability=st.floats(0.3, 1.0), highest=st.floats(0.3, 1.0))
def test_machines_needed_keep_the_limit_and_one_fewer_does_not(
    needed: float, availability: float, highest: float
) -> None:
    machines = int(machines_needed(needed, SHIFT_S, availability, highest))
    assert float(utilisation_share(needed, machines, SHIFT_S, availability)) <= highest * (1 + 1e-8)
    if machines > 1:
        assert float(utilisation_share(needed, machines - 1, SHIFT_S, availability)) > highest


def test_no_work_needs_no_machine_and_exactly_full_needs_one() -> None:
    assert machines_needed([0.0, SHIFT_S, SHIFT_S + 60], SHIFT_S).tolist() == [0, 1, 2]


@settings(deadline=None, max_examples=50)
@given(machines=st.integers(1, 40), share=st.floats(0.01, 0.98), more=st.floats(0.001, 0.019))
def test_waiting_probability_rises_with_load_and_falls_with_machines(machines: int, share: float, more: float) -> None:
    load = share * machines
    assert 0.0 <= float(erlang_c(machines, load)) < float(erlang_c(machines, (share + more) * machines)) < 1.0
    assert float(erlang_c(machines + 1, load)) < float(erlang_c(machines, load))


def test_one_machine_waits_with_the_probability_of_being_busy_and_full_load_always_waits() -> None:
    np.testing.assert_allclose(erlang_c(1, [0.0, 0.25, 0.9]), [0.0, 0.25, 0.9], rtol=1e-14)
    assert erlang_c([1, 2, 3], [1.0, 2.5, 3.0]).tolist() == [1.0, 1.0, 1.0]


def test_machines_may_differ_by_draw() -> None:
    together = erlang_c([1, 2, 3, 5, 300], [0.5, 1.0, 2.0, 4.0, 280.0])
    alone = [float(erlang_c(c, a)) for c, a in [(1, 0.5), (2, 1.0), (3, 2.0), (5, 4.0), (300, 280.0)]]
    np.testing.assert_array_equal(together, alone)


def test_the_queue_is_endless_from_full_load_on() -> None:
    assert mean_waiting_s([1.0, 2.0, 0.0], 1.0, 1).tolist() == [math.inf, math.inf, 0.0]
    # Even in perfect rhythm: at full load nothing that once waits is ever caught up.
    assert float(mean_waiting_s(2.0, 1.0, 2, 0.0, 0.0)) == math.inf


@settings(deadline=None, max_examples=50)
@given(
    machines=st.integers(1, 8), share=st.floats(0.05, 0.95), scale=st.floats(0.1, 1e4), arrivals=st.floats(0.0, 2.0),
    cycle=st.floats(0.0, 2.0),
)
def test_waiting_scales_with_time_and_the_correction_only_shortens_it(
    machines: int, share: float, scale: float, arrivals: float, cycle: float
) -> None:
    rate = share * machines
    waiting = float(mean_waiting_s(rate, 1.0, machines, arrivals, cycle))
    assert float(mean_waiting_s(rate / scale, scale, machines, arrivals, cycle)) == pytest.approx(scale * waiting)
    plain = float(mean_waiting_s(rate, 1.0, machines, arrivals, cycle, regular_arrivals_corrected=False))
    assert waiting <= plain
    assert arrivals < 1.0 or waiting == plain


def test_perfect_rhythm_below_full_load_never_waits() -> None:
    assert float(mean_waiting_s(0.9, 1.0, 1, 0.0, 0.0)) == 0.0


def test_moments_of_a_mix_of_two_cycles() -> None:
    mean, variation = service_moments(np.array([[3.0, 1.0], [1.0, 0.0]]), np.array([[100.0], [500.0]]))
    assert mean.tolist() == [200.0, 100.0]
    np.testing.assert_allclose(variation, [(0.75 * 100**2 + 0.25 * 300**2) / 200**2, 0.0])


def test_without_repair_time_failures_change_nothing() -> None:
    assert [float(part) for part in cycle_with_failures(600.0, 0.3, 1e5, 0.0)] == [600.0, 0.3]


def test_availability_depends_on_the_ratio_only() -> None:
    assert float(availability_share(500.0, 10.0)) == float(availability_share(50.0, 1.0))
    assert float(availability_share(500.0, 0.0)) == 1.0


def test_belt_throughput_doubles_with_speed_and_with_boards_per_metre() -> None:
    once = float(belt_boards_per_s(0.01, 4.0))
    assert once == pytest.approx(0.04)
    assert float(belt_boards_per_s(0.02, 4.0)) == float(belt_boards_per_s(0.01, 8.0)) == pytest.approx(2 * once)


NUMBER = "The number of machines"
PER_DAY = "The machine time needed per day"
WORKING = "The working time per day"


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: loads_per_day(-1.0, 10, 10), "The number of boards per day is -1. Give 0 or more."),
        (lambda: loads_per_day(10.0, 0, 10), "The lot size is 0. Give a value above 0."),
        (lambda: loads_per_day(10.0, 10, 0.4), "The number of boards that fit is 0.4. At least 1 must fit."),
        (lambda: machine_time_s_per_day(-2.0, 10.0), "The number of loads per day is -2. Give 0 or more."),
        (lambda: machine_time_s_per_day(2.0, 0.0), "The cycle time in seconds is 0. Give a value above 0."),
        (lambda: availability_share(0.0, 1.0), "The mean time between failures is 0. Give a value above 0."),
        (lambda: availability_share(1.0, -1.0), "The mean time to repair is -1. Give 0 or more."),
        (lambda: machines_needed(-1.0, SHIFT_S), f"{PER_DAY} is -1. Give 0 or more."),
        (lambda: machines_needed(1.0, 0.0), f"{WORKING} is 0. Give a value above 0."),
        (lambda: machines_needed(1.0, SHIFT_S, 0.0), "The availability is 0. Give a share above 0 and up to 1."),
        (lambda: machines_needed(1.0, SHIFT_S, 1.0, 1.5),
         "The highest utilisation is 1.5. Give a share above 0 and up to 1."),
        (lambda: utilisation_share(-1.0, 1, SHIFT_S), f"{PER_DAY} is -1. Give 0 or more."),
        (lambda: utilisation_share(1.0, 1, 0.0), f"{WORKING} is 0. Give a value above 0."),
        (lambda: utilisation_share(1.0, 0, SHIFT_S), f"{NUMBER} is 0. Give a value above 0."),
        (lambda: utilisation_share(1.0, 1, SHIFT_S, 2.0), "The availability is 2. Give a share above 0 and up to 1."),
        (lambda: belt_boards_per_s(0.0, 4.0), "The belt speed in m/s is 0. Give a value above 0."),
        (lambda: belt_boards_per_s(0.1, 0.0), "The number of boards per metre of belt is 0. Give a value above 0."),
        (lambda: service_moments([[-1.0]], [[5.0]]), "The number of loads per day is -1. Give 0 or more."),
        (lambda: service_moments([[1.0]], [[0.0]]), "The cycle time in seconds is 0. Give a value above 0."),
        (lambda: service_moments([[0.0]], [[5.0]]),
         "The number of loads per day of all board types is 0. Give a value above 0."),
        (lambda: erlang_c(0, 1.0), f"{NUMBER} is 0. Give a value above 0."),
        (lambda: erlang_c(1.5, 1.0), f"{NUMBER} is 1.5. Give a whole number, at least 1."),
        (lambda: erlang_c(2, -1.0), "The offered load is -1. Give 0 or more."),
        (lambda: mean_waiting_s(-1.0, 1.0, 1), "The number of loads arriving per second is -1. Give 0 or more."),
        (lambda: mean_waiting_s(1.0, 0.0, 1), "The mean cycle time in seconds is 0. Give a value above 0."),
        (lambda: mean_waiting_s(1.0, 1.0, 0), f"{NUMBER} is 0. Give a value above 0."),
        (lambda: mean_waiting_s(1.0, 1.0, 1, -0.5), "The squared variation of arrivals is -0.5. Give 0 or more."),
        (lambda: mean_waiting_s(1.0, 1.0, 1, 1.0, -0.5), "The squared variation of the cycle is -0.5. Give 0 or more."),
        (lambda: mean_waiting_s(1.0, 1.0, 1, 1.0, math.nan),
         "The squared variation of the cycle is nan. Give 0 or more."),
        (lambda: cycle_with_failures(0.0, 0.0, 1.0, 1.0), "The mean cycle time in seconds is 0. Give a value above 0."),
        (lambda: cycle_with_failures(1.0, -1.0, 1.0, 1.0), "The squared variation of the cycle is -1. Give 0 or more."),
        (lambda: cycle_with_failures(1.0, 0.0, 1.0, 1.0, -1.0),
         "The squared variation of the repair is -1. Give 0 or more."),
    ],
)  # fmt: skip
def test_what_is_refused_is_said_whole(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        call()


def test_moments_of_several_draws_weigh_each_draws_own_loads() -> None:
    loads, cycles = np.array([[1.0, 3.0, 1.0], [1.0, 1.0, 3.0]]), np.array([[100.0] * 3, [500.0] * 3])
    mean, variation = service_moments(loads, cycles)
    np.testing.assert_allclose(mean, [300.0, 200.0, 400.0])
    np.testing.assert_allclose(variation, [200.0**2 / 300.0**2, 30000.0 / 200.0**2, 30000.0 / 400.0**2])


def test_one_board_may_be_all_that_fits() -> None:
    alone = loads_per_day(10.0, 5.0, 1.0)
    assert (float(alone.loads_per_day), float(alone.fill_share)) == (10.0, 1.0)


def test_shared_loads_are_full_and_types_alone_in_a_draw_keep_their_own_cycle() -> None:
    shared = loads_per_day(np.array([[100.0], [60.0]]), 25.0, 10.0, types_may_share=True)
    assert shared.fill_share.tolist() == [[1.0], [1.0]]
    # Half a load a day is a load all the same; a draw without any needs no time.
    loads, cycle = np.array([[0.5, 0.0], [2.0, 0.0]]), np.array([[900.0, 900.0], [600.0, 600.0]])
    assert machine_time_s_per_day(loads, cycle, types_may_share=True).tolist() == [[450.0, 0.0], [1800.0, 0.0]]


def test_a_machine_that_never_fails_is_assumed_unless_given() -> None:
    assert utilisation_share(SHIFT_S / 2, 1, SHIFT_S) == utilisation_share(SHIFT_S / 2, 1, SHIFT_S, 1.0) == 0.5


@pytest.mark.parametrize(
    ("variation", "cycle_variation"), [(0.25, 0.5), (0.25, 0.0), (0.5, 0.0), (1.0, 1.0), (2.0, 0.5)]
)
def test_regular_arrivals_are_corrected_as_kraemer_and_langenbach_belz_wrote(
    variation: float, cycle_variation: float
) -> None:
    # Kraemer and Langenbach-Belz (1976), from memory: exp(−2(1 − ρ)(1 − c_a²)²/(3ρ(c_a² + c_s²))) for c_a² < 1, else 1.
    plain = mean_waiting_s(0.7, 2.0, 2, variation, cycle_variation, regular_arrivals_corrected=False)
    factor = np.exp(-2.0 * 0.3 * (1.0 - variation) ** 2 / (3.0 * 0.7 * (variation + cycle_variation)))
    expected = float(plain) * (factor if variation < 1.0 else 1.0)
    assert float(mean_waiting_s(0.7, 2.0, 2, variation, cycle_variation)) == pytest.approx(expected, rel=1e-12)


def test_a_repair_adds_spread_in_proportion_to_its_length_over_the_cycle() -> None:
    # Hopp and Spearman, from memory: c² = c₀² + (1 + c_r²)·A(1 − A)·r/s; A = 0.9 here, so .2 + 2·.09·(10/5).
    mean, variation = cycle_with_failures(5.0, 0.2, 90.0, 10.0)
    assert float(mean) == pytest.approx(5.0 / 0.9, rel=1e-12)
    assert float(variation) == pytest.approx(0.56, rel=1e-12)
