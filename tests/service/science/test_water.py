"""Recovery after openings and the water of a day: exact cases, signs, ranges that hold."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.air import absolute_humidity_g_m3
from service.science.cycles import cooling_cycles
from service.science.openings import Opening, door_openings
from service.science.water import Estimate, Recovery, Room, recovery, water_day
from tests.thermostat import Plan, live

MINUTE_US = 60_000_000
VISIT = Opening(0, 0, 1.0, -10.0, -100.0)


@given(st.floats(8, 90))
def test_a_pure_exponential_gives_its_time_constant(minutes: float) -> None:
    at = np.arange(240)
    damp = 85 - 20 * np.exp(-at / minutes)
    found = recovery(at * MINUTE_US, np.full(240, 10.0), damp, [VISIT], None)

    assert found is not None
    # The time constants tried lie 7 % apart.
    assert found.time_constant_s.expected / 60 == pytest.approx(minutes, rel=0.04)
    assert found.air_changes_per_h.expected == pytest.approx(60 / minutes, rel=0.04)


def test_range_of_the_recovery_holds_the_planted_time_on_most_caves() -> None:
    held = asked = 0
    for seed in range(120, 130):
        told = live(seed, Plan(days=5))
        seen = door_openings(told.times_us, told.temperature_c, told.humidity_pct)
        cycles = cooling_cycles(told.times_us, told.temperature_c)
        found = recovery(told.times_us, told.temperature_c, told.humidity_pct, seen, cycles)
        if found is not None:
            asked += 1
            span = found.time_constant_s
            held += span.low <= told.vapour_time_s <= span.high

    assert asked >= 8
    assert held / asked >= 0.7


def test_without_a_recovery_there_is_none() -> None:
    at = np.arange(240) * MINUTE_US
    flat = np.full(240, 10.0)

    assert recovery(at, flat, np.full(240, 85.0), [VISIT], None) is None
    assert recovery(at, flat, np.full(240, 85.0), [], None) is None
    assert recovery(at[:5], flat[:5], np.full(5, 85.0), [VISIT], None) is None


def test_a_known_dry_room_takes_what_the_volume_holds() -> None:
    """Ten openings that change 0.7 of 0.14 m³ take 0.98 m³ of the difference of two airs."""
    dry = Room(Estimate(20.0, 20.0, 20.0), Estimate(20.0, 20.0, 20.0))
    day = water_day(0.14, 10.0, 90.0, 10.0, 0.0, 0.0, None, dry)
    difference = absolute_humidity_g_m3(10.0, 90.0) - absolute_humidity_g_m3(20.0, 20.0)

    assert day.openings.expected == pytest.approx(0.98 * difference, rel=1e-9)  # rounding only
    assert day.cooling == Estimate(0.0, 0.0, 0.0)


def test_a_damp_room_brings_water_in_but_never_fills_the_tray() -> None:
    damp = Room(Estimate(22.0, 21.0, 23.0), Estimate(70.0, 65.0, 75.0))
    day = water_day(0.14, 10.0, 85.0, 10.0, 0.0, 0.0, None, damp)

    assert day.openings.high < 0
    assert day.leak.high < 0
    assert day.tray == Estimate(0.0, 0.0, 0.0)


def test_a_slow_recovery_bounds_the_leak() -> None:
    found = Recovery(Estimate(20_000, 15_000, 30_000), Estimate(0.18, 0.12, 0.24), 5)
    bound = water_day(0.14, 10.0, 88.0, 1.0, 40.0, 60.0, found).leak
    free = water_day(0.14, 10.0, 88.0, 1.0, 40.0, 60.0, None).leak

    assert bound.high - bound.low < free.high - free.low


@given(
    st.floats(0.01, 2.0),
    st.floats(2, 18),
    st.floats(50, 99),
    st.floats(0, 30),
    st.floats(0, 100),
    st.floats(0, 200),
)
def test_every_range_holds_its_expected_value(
    volume: float, air: float, damp: float, visits: float, cycles: float, swing: float
) -> None:
    day = water_day(volume, air, damp, visits, cycles, swing, None)

    for part in (day.openings, day.leak, day.cooling, day.tray):
        # A rounding of the last digit may step over the edge.
        slack = 1e-9 * max(abs(part.low), abs(part.high))
        assert part.low - slack <= part.expected <= part.high + slack
        assert not math.isnan(part.expected)


def test_what_the_wheels_give_the_tray_need_not() -> None:
    alone = water_day(0.14, 10.0, 88.0, 1.0, 40.0, 60.0, None).tray
    shared = water_day(0.14, 10.0, 88.0, 1.0, 40.0, 60.0, None, wheels_g_per_day=10.0).tray

    assert shared.expected == pytest.approx(alone.expected - 10.0, abs=1e-9)  # rounding only


def test_a_cave_without_volume_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="volume"):
        water_day(0.0, 10.0, 88.0, 1.0, 40.0, 60.0, None)
