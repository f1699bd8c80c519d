"""Spikes that stand alone, and openings that do not."""

import numpy as np
import numpy.typing as npt
import pytest

from service.science.glitches import spikes
from tests.bench.planted_sensor import minutes

N = 200
TIMES = np.arange(N) * 60_000_000


def air(seed: int = 1) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    chance = np.random.default_rng(seed)
    return chance.normal(10.0, 0.012, N), chance.normal(88.0, 0.1, N)


def found(
    warm: npt.NDArray[np.float64], damp: npt.NDArray[np.float64]
) -> tuple[list[int], list[int]]:
    hot, wet = spikes(TIMES, warm, damp, 300.0)
    return np.flatnonzero(hot).tolist(), np.flatnonzero(wet).tolist()


@pytest.mark.parametrize("width", [1, 2])
@pytest.mark.parametrize("height", [-30.0, -5.0, 5.0])
def test_a_spike_of_humidity_alone_is_found(width: int, height: float) -> None:
    warm, damp = air()
    damp[100 : 100 + width] += height

    assert found(warm, damp) == ([], list(range(100, 100 + width)))


def test_a_spike_of_temperature_alone_is_found() -> None:
    warm, damp = air()
    warm[100] = 14.0

    assert found(warm, damp) == ([100], [])


def test_two_spikes_close_by_do_not_hide_each_other() -> None:
    warm, damp = air()
    damp[[100, 103]] -= 20.0

    assert found(warm, damp) == ([], [100, 103])


def test_a_spike_of_both_without_a_tail_is_found_in_dense_readings() -> None:
    warm, damp = air()
    warm[100] += 8.0
    damp[100] -= 30.0

    assert found(warm, damp) == ([100], [100])


def test_an_opening_caught_by_a_single_sparse_reading_stays() -> None:
    """Every ten minutes an opening of one minute may show once, in both."""
    warm, damp = air()
    warm[100] += 3.0
    damp[100] -= 20.0
    hot, wet = spikes(TIMES * 10, warm, damp, 3000.0)

    assert not hot.any()
    assert not wet.any()


def test_no_opening_is_as_high_as_an_absurd_joint_spike() -> None:
    warm, damp = air()
    warm[100], damp[100] = 85.0, 0.0
    hot, wet = spikes(TIMES * 10, warm, damp, 3000.0)

    assert (np.flatnonzero(hot).tolist(), np.flatnonzero(wet).tolist()) == ([100], [100])


def test_an_opening_with_a_tail_stays() -> None:
    """Humidity falls by 20 and comes back with a time constant of two minutes."""
    warm, damp = air()
    damp[100:110] -= 20.0 * np.exp(-np.arange(10) / 2.0)

    assert found(warm, damp) == ([], [])


def test_a_step_stays() -> None:
    warm, damp = air()
    damp[100:] -= 20.0
    warm[100:] += 3.0

    assert found(warm, damp) == ([], [])


def test_a_spike_on_the_slope_of_a_fridge_that_cools_is_found() -> None:
    warm, damp = air()
    damp -= 3.0 * np.abs(np.arange(N) % 20 - 10)
    damp[105] += 12.0

    assert found(warm, damp) == ([], [105])


def test_turning_points_of_a_cycle_stay() -> None:
    warm, damp = air()
    warm += 0.3 * np.abs(np.arange(N) % 20 - 10)
    damp -= 3.0 * np.abs(np.arange(N) % 20 - 10)

    assert found(warm, damp) == ([], [])


def test_beside_a_gap_nothing_is_judged() -> None:
    warm, damp = air()
    damp[100] -= 20.0
    times = TIMES.copy()
    times[100:] += 3_600_000_000
    _, wet = spikes(times, warm, damp, 300.0)

    assert not wet.any()


def test_unknown_readings_are_no_spikes_and_hide_none() -> None:
    warm, damp = air()
    damp[[97, 103]] = np.nan
    damp[100] -= 20.0

    assert found(warm, damp) == ([], [100])


@pytest.mark.parametrize("size", [0, 1, 5])
def test_a_few_readings_hold_no_spike(size: int) -> None:
    warm, damp = air()
    hot, wet = spikes(TIMES[:size], warm[:size], damp[:size], 300.0)

    assert hot.size == wet.size == size
    assert not wet.any()


@pytest.mark.parametrize(
    ("name", "every", "allowed"),
    [
        ("cave", 1, 0),
        ("cave", 5, 0),
        ("cave", 10, 0),
        ("kitchen-fridge", 1, 0),
        ("kitchen-fridge", 5, 0),
        ("kitchen-fridge", 10, 0),
        ("blue-box", 1, 0),
        ("blue-box", 5, 0),
        ("blue-box", 10, 1),
    ],
)
def test_weeks_of_openings_and_cycles_hold_no_spike(name: str, every: int, allowed: int) -> None:
    """Forty openings of a cave and 700 of a kitchen fridge in simulated readings.

    One is known to be lost: a box opened within its cave keeps its temperature, and a reading
    every ten minutes that fell into it stands alone in humidity.
    """
    times, warm, damp = minutes(name, 57)
    hot, wet = spikes(times[::every], warm[::every], damp[::every], max(300.0, 180.0 * every))

    assert hot.sum() + wet.sum() == allowed


@pytest.mark.parametrize(("name", "least"), [("cave", 0.98), ("kitchen-fridge", 0.85)])
def test_planted_spikes_are_found_among_openings_and_cycles(name: str, least: float) -> None:
    times, warm, damp = minutes(name, 14)
    chance = np.random.default_rng(7)
    where = np.sort(chance.choice(np.arange(5, times.size - 5), 100, replace=False))
    damp = damp.copy()
    damp[where] -= chance.uniform(5, 40, 100)
    wet = np.flatnonzero(spikes(times, warm, damp, 300.0)[1])

    assert np.isin(where, wet).mean() >= least
    assert np.isin(wet, where).all()
