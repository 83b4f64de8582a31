"""Waiting time and availability against queueing textbooks and against a discrete-event simulation."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import pytest
import simpy
from scipy import stats

from model.capacity import availability_share, cycle_with_failures, erlang_c, mean_waiting_s

BATCHES = 20
LOADS = 60_000


# Queueing textbooks (derived from the named formula): Erlang C.
@pytest.mark.parametrize(("machines", "load", "waits"), [(2, 1.0, 1 / 3), (3, 2.0, 4 / 9), (5, 4.0, 0.554113)])
def test_erlang_c_of_the_queueing_textbooks(machines: int, load: float, waits: float) -> None:
    assert float(erlang_c(machines, load)) == pytest.approx(waits, rel=1e-6)


def test_erlang_c_equals_its_defining_sum() -> None:
    # Derived independently: C = t_c / (Σ_{k<c} a^k/k! + t_c), t_c = a^c/c! · c/(c − a), through Poisson terms.
    for machines, load in [(1, 0.3), (4, 3.9), (12, 9.0), (60, 55.0)]:
        last = stats.poisson.pmf(machines, load) * machines / (machines - load)
        expected = last / (stats.poisson.cdf(machines - 1, load) + last)
        assert float(erlang_c(machines, load)) == pytest.approx(expected, rel=1e-12)


def test_one_machine_at_eighty_percent_waits_four_cycles() -> None:
    # Queueing textbooks: M/M/1, ρ .8 → Wq = ρ/(µ(1 − ρ)) = 4/µ.
    assert float(mean_waiting_s(0.8 / 600.0, 600.0, 1)) == pytest.approx(4 * 600.0, rel=1e-12)


def test_one_machine_with_any_cycle_is_pollaczek_and_khinchine() -> None:
    # Queueing textbooks: M/G/1, Wq = λ E[s²] / (2 (1 − ρ)); here s uniform on 0…2.
    arrivals = 0.7
    expected = arrivals * (4 / 3) / (2 * (1 - arrivals))
    assert float(mean_waiting_s(arrivals, 1.0, 1, 1.0, 1 / 3)) == pytest.approx(expected, rel=1e-12)


def test_availability_of_500_hours_between_failures_and_10_to_repair() -> None:
    # Definition MTBF / (MTBF + MTTR).
    assert float(availability_share(500 * 3600.0, 10 * 3600.0)) == pytest.approx(0.980392, rel=1e-6)


def simulate_waiting(
    next_gap: Callable[[], float], next_cycle: Callable[[], float], machines: int, loads: int
) -> tuple[float, float]:
    """Return mean waiting and half of its 99.9 % confidence interval, by batch means after a tenth of warm-up."""
    world = simpy.Environment()
    group = simpy.Resource(world, capacity=machines)
    waited = np.zeros(loads)

    def load(number: int) -> Iterator[simpy.Event]:
        arrived = world.now
        with group.request() as turn:
            yield turn
            waited[number] = world.now - arrived
            yield world.timeout(next_cycle())

    def source() -> Iterator[simpy.Event]:
        for number in range(loads):
            yield world.timeout(next_gap())
            world.process(load(number))

    world.process(source())
    world.run()
    batches = waited[loads // 10 :]
    means = batches[: batches.size // BATCHES * BATCHES].reshape(BATCHES, -1).mean(axis=1)
    half_width = stats.t.ppf(0.9995, BATCHES - 1) * means.std(ddof=1) / np.sqrt(BATCHES)
    return float(means.mean()), float(half_width)


def gamma_draws(random: np.random.Generator, mean: float, squared_variation: float) -> Callable[[], float]:
    """Return a source of positive times with the given mean and variance ÷ mean²."""
    if squared_variation == 0.0:
        return lambda: mean
    times = iter(random.gamma(1 / squared_variation, mean * squared_variation, LOADS).tolist())
    return lambda: next(times)


# Machines, utilisation, squared variation of arrivals and cycle, error of the approximation itself.
# Where the formula is exact the tolerance is the simulation's interval alone. Elsewhere the formula's own error is
# added: two moments do not fix the waiting. Found with runs of 1 000 000 loads (not a published bound): 4 %, 2 % and,
# at 70 % load with arrivals half as variable as random, 8 to 12 %.
@pytest.mark.parametrize(
    ("machines", "utilisation", "arrivals_scv", "cycle_scv", "own_error"),
    [
        (3, 0.75, 1.0, 1.0, 0.0),
        (1, 0.70, 1.0, 0.0, 0.0),
        (1, 0.60, 1.0, 2.0, 0.0),
        (2, 0.80, 1.0, 0.0, 0.05),
        (2, 0.80, 0.25, 0.1, 0.05),
        (2, 0.70, 0.5, 0.5, 0.12),
    ],
)
def test_mean_waiting_agrees_with_a_simulated_wash_room(
    machines: int, utilisation: float, arrivals_scv: float, cycle_scv: float, own_error: float
) -> None:
    random = np.random.default_rng(20_240)
    gap = 1.0 / (machines * utilisation)
    simulated, half_width = simulate_waiting(
        gamma_draws(random, gap, arrivals_scv), gamma_draws(random, 1.0, cycle_scv), machines, LOADS
    )
    computed = float(mean_waiting_s(1 / gap, 1.0, machines, arrivals_scv, cycle_scv))
    assert abs(computed - simulated) <= half_width + own_error * simulated
    # The interval must be narrow enough that the check can fail.
    assert half_width < 0.25 * simulated


def test_without_the_correction_regular_arrivals_are_overrated() -> None:
    # The reason for the correction: uncorrected Allen–Cunneen is outside the simulation's interval here.
    random = np.random.default_rng(20_240)
    gap = 1 / 1.6
    simulated, half_width = simulate_waiting(gamma_draws(random, gap, 0.25), gamma_draws(random, 1.0, 0.1), 2, LOADS)
    plain = float(mean_waiting_s(1 / gap, 1.0, 2, 0.25, 0.1, regular_arrivals_corrected=False))
    assert plain > simulated + half_width


def test_failures_lengthen_the_cycle_as_simulated_repairs_do() -> None:
    # Cycle 1, failures at random every 20 of washing, repair at random with mean 2: by sampling the sum directly.
    random = np.random.default_rng(5)
    failures = random.poisson(1 / 20, 400_000)
    busy = 1.0 + random.gamma(np.maximum(failures, 1e-12), 2.0)
    mean, variation = cycle_with_failures(1.0, 0.0, 20.0, 2.0)
    assert float(mean) == pytest.approx(busy.mean(), abs=4 * busy.std() / np.sqrt(busy.size))
    assert float(variation) == pytest.approx(busy.var() / busy.mean() ** 2, rel=0.05)
