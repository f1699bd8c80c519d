"""The air behind noisy readings: less noise, the same edges."""

import numpy as np
import pytest

from service.analyse.series import FloatArray
from service.analyse.steadied import moved_up, noise_of, steadied
from service.science.signals import US_PER_MINUTE

SIZE = 2_000
TIMES_US = np.arange(SIZE) * US_PER_MINUTE
LONGEST_S = 300.0


def noise(size: int = SIZE, sd: float = 0.3) -> FloatArray:
    return np.random.default_rng(7).normal(0.0, sd, size)


def cycle(period_min: float = 40.0) -> FloatArray:
    """A triangle from 0 to 1, as a thermostat makes."""
    return np.abs(np.arange(SIZE) / period_min % 1 - 0.5) * 2


def test_noise_is_measured_on_air_that_cycles() -> None:
    """0.3 is planted; the median of 2000 readings is good to a twentieth."""
    assert noise_of(cycle() + noise()) == pytest.approx(0.3, rel=0.1)


def test_most_of_the_noise_on_steady_air_is_taken_out() -> None:
    left = steadied(TIMES_US, 90.0 + noise(), LONGEST_S) - 90.0

    assert left.std() < 0.5 * 0.3


def test_a_step_stays_where_it_was() -> None:
    """Ten times the noise: no reading may change sides."""
    step = np.where(np.arange(SIZE) < 1_000, 80.0, 83.0)

    found = steadied(TIMES_US, step + noise(), LONGEST_S)

    assert ((found > 81.5) == (step > 81.5)).all()


def test_a_cycle_keeps_its_height() -> None:
    found = steadied(TIMES_US, cycle() + noise(sd=0.03), LONGEST_S)

    assert np.abs(found - cycle()).max() < 0.15


def test_readings_without_noise_are_left_alone() -> None:
    found = steadied(TIMES_US, cycle(), LONGEST_S)

    assert found == pytest.approx(cycle(), abs=1e-12)  # the rounding of the triangle itself


def test_nothing_is_averaged_across_a_gap() -> None:
    times_us = np.where(np.arange(SIZE) < 1_000, TIMES_US, TIMES_US + 600 * US_PER_MINUTE)
    values = np.where(np.arange(SIZE) < 1_000, 80.0, 80.5) + noise(sd=0.05)
    apart = steadied(times_us, values, LONGEST_S)
    other = np.where(np.arange(SIZE) < 1_000, values, values + 20.0)

    assert apart[:1_000] == pytest.approx(
        steadied(times_us, other, LONGEST_S)[:1_000], abs=0.02
    )  # the noise of both is the same but for rounding


def test_what_is_not_known_stays_so() -> None:
    values = 90.0 + noise()
    values[500:503] = np.nan

    found = steadied(TIMES_US, values, LONGEST_S)

    assert np.flatnonzero(np.isnan(found)).tolist() == [500, 501, 502]


def test_a_ramp_is_moved_up_along_its_slope() -> None:
    found = moved_up(TIMES_US[:10], np.arange(10.0), 30.0, LONGEST_S)

    assert found == pytest.approx(np.arange(10.0) + 0.5, abs=1e-12)  # exact but for rounding


def test_a_corner_that_no_lagging_sensor_shows_is_not_moved() -> None:
    values = np.where(np.arange(10) < 5, 80.0, 90.0)

    assert (moved_up(TIMES_US[:10], values, 30.0, LONGEST_S) == values).all()


def test_no_slope_reaches_across_a_gap() -> None:
    times_us = np.array([0, 1, 2, 600, 601, 602]) * US_PER_MINUTE
    values = np.array([1.0, 1.0, 1.0, 9.0, 9.0, 9.0])

    assert (moved_up(times_us, values, 30.0, LONGEST_S) == values).all()
