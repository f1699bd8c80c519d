"""The compressor's rhythm: period and duty on planted caves, silence where there is none."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.science.cycles import cooling_cycles, even_grid, without_cycle
from service.science.signals import FloatArray, IntArray
from tests.thermostat import START_US, Plan, live

MINUTE_US = 60_000_000


def saw(minutes: IntArray, period: float, duty: float) -> FloatArray:
    """A swing between 9.5 and 10.5 that falls for the share `duty` of each period. [°C]"""
    phase = minutes / period % 1.0
    fall = 1 - phase / duty
    return 9.5 + np.where(phase < duty, fall, (phase - duty) / (1 - duty))


def times(days: float, every_min: int = 1) -> IntArray:
    return START_US + np.arange(0, int(days * 1440), every_min, dtype=np.int64) * MINUTE_US


@settings(max_examples=40, deadline=None)
@given(
    st.floats(12, 110),
    st.floats(0.25, 0.75),
    st.integers(0, 10_000),
)
def test_period_and_duty_of_a_noisy_swing_are_found(period: float, duty: float, seed: int) -> None:
    at_us = times(4)
    air = saw(np.arange(at_us.size), period, duty)
    air += np.random.default_rng(seed).normal(0, 0.02, at_us.size)
    found = cooling_cycles(at_us, air)

    assert found is not None
    # Tops are placed to a fraction of a minute, and there are at least fifty of them.
    assert found.period_s / 60 == pytest.approx(period, rel=0.01)
    # A minute of smoothing is a twelfth of the shortest period.
    assert found.duty == pytest.approx(duty, abs=0.08)


@pytest.mark.parametrize("seed", range(100, 106))
def test_thermostat_cave_gives_its_period_and_duty_away(seed: int) -> None:
    told = live(seed, Plan(days=5))
    found = cooling_cycles(told.times_us, told.temperature_c)

    assert found is not None
    # The median of the planted periods is a multiple of ten seconds and leaves out visits.
    assert found.period_s == pytest.approx(told.period_s, rel=0.05)
    # The second cave's coil lags by two minutes, and its cycles are as short as fifteen.
    assert found.duty == pytest.approx(told.duty, abs=0.08)


def test_sensor_lag_does_not_lengthen_the_cooling() -> None:
    """A lag of four minutes makes the air fall 3 % longer, but the compressor runs no longer."""
    seconds = np.arange(0, 5 * 86_400, 10)
    true = saw(seconds, 2_400.0, 0.3)
    read, weight = np.empty(true.size), 1 - np.exp(-10 / 240)
    felt = true[0]
    for place, value in enumerate(true.tolist()):
        felt += (value - felt) * weight
        read[place] = felt
    found = cooling_cycles(START_US + seconds[::6] * 1_000_000, read[::6])

    assert found is not None
    assert found.duty == pytest.approx(0.3, abs=0.02)


@pytest.mark.parametrize("kind", ["noise", "walk", "red", "day", "constant"])
def test_no_cycle_is_seen_where_there_is_none(kind: str) -> None:
    at_us, draw = times(7), np.random.default_rng(8)
    noise = draw.normal(0, 0.05, at_us.size)
    red = np.convolve(noise, np.exp(-np.arange(200) / 40))[: at_us.size]
    day = np.sin(2 * np.pi * np.arange(at_us.size) / 1440) + noise
    air = {"noise": noise, "walk": np.cumsum(noise), "red": red, "day": day, "constant": 0 * day}

    assert cooling_cycles(at_us, 10 + air[kind]) is None


def test_too_few_readings_in_a_period_are_no_cycle() -> None:
    at_us = times(7, every_min=60)

    assert cooling_cycles(at_us, saw(np.arange(at_us.size) * 60, 100.0, 0.4)) is None
    assert cooling_cycles(at_us[:1], np.ones(1)) is None


def test_a_silence_of_years_costs_nothing() -> None:
    at_us = times(2)
    at_us[1440:] += 10 * 365 * 1440 * MINUTE_US
    grid_us, air, _ = even_grid(at_us, saw(np.arange(at_us.size), 30.0, 0.4))
    found = cooling_cycles(at_us, saw(np.arange(at_us.size), 30.0, 0.4))

    assert grid_us.size < 2 * at_us.size
    assert np.isnan(air).any()
    assert found is not None
    assert found.period_s == pytest.approx(1_800, rel=0.01)


def test_quick_readings_are_averaged_to_minutes() -> None:
    at_us = START_US + np.arange(5_000, dtype=np.int64) * 5_000_000
    grid_us, _, step_s = even_grid(at_us, np.ones(5_000))

    assert step_s == 60
    assert grid_us.size == pytest.approx(417, abs=1)  # 25,000 s; the ends may be half minutes


def test_drift_is_left_when_the_cycle_is_taken_out() -> None:
    at_us = times(4)
    minutes = np.arange(at_us.size)
    drift = 85 - 2 * minutes / 1440
    air = saw(minutes, 37.3, 0.3)
    calm = without_cycle(at_us, drift + 3 * air, cooling_cycles(at_us, air))
    known = ~np.isnan(calm)

    # The swing is 3 high; the period is known to a few seconds and the grid to a minute.
    assert calm[known] == pytest.approx((drift + 3 * 10.0)[known], abs=0.05)


@given(st.floats(-50, 50))
def test_a_constant_stays_what_it_is(value: float) -> None:
    at_us = times(0.5)
    calm = without_cycle(at_us, np.full(at_us.size, value), None)

    # Sums of hundreds of numbers: rounding only.
    assert calm[~np.isnan(calm)] == pytest.approx(value, abs=1e-9)


def test_ends_and_silences_are_not_made_up() -> None:
    at_us = times(1)
    values = np.ones(at_us.size)
    values[600:700] = np.nan
    calm = without_cycle(at_us, values, None)

    assert np.isnan(calm[[0, -1, 650]]).all()
    assert np.isnan(without_cycle(at_us[:1], values[:1], None)).all()


def test_ten_weeks_of_minutes_are_calmed_from_end_to_end() -> None:
    at_us = times(70)
    air = saw(np.arange(at_us.size), 36.0, 0.3)
    calm = without_cycle(at_us, air, cooling_cycles(at_us, air))

    # The swing is 0.5 to either side of 10; means over a plain hour would leave 0.07 of it.
    assert calm[60:-60] == pytest.approx(10.0, abs=0.01)
