"""The air as best it can be told: what a faulty sensor says is no air."""

import numpy as np
import pytest

from service.ageing.values import Range, Target
from service.analyse.best_air import at_instants, best_air, drawn_across
from service.analyse.excursions import find_excursions
from service.analyse.series import Series
from service.science.signals import US_PER_MINUTE

N = 2_000
TIMES_US = np.arange(N) * US_PER_MINUTE
LONGEST_S = 300.0
RANGE = [(0, Target(temperature_c=Range(9.0, 11.0), humidity_pct=Range(85.0, 95.0)))]


def noisy() -> Series:
    chance = np.random.default_rng(11)
    return Series(
        TIMES_US, chance.normal(10.0, 0.03, N).round(2), chance.normal(90.0, 0.2, N).round(2)
    )


def test_a_humidity_that_stands_still_out_of_range_is_no_excursion() -> None:
    read = noisy()
    read.humidity_pct[700:1_100] = 84.0

    assert find_excursions(best_air(read, None).best, RANGE) == []


def test_a_wet_sensor_makes_no_excursion() -> None:
    read = noisy()
    read.humidity_pct[700:1_100] = 100.0

    assert find_excursions(best_air(read, None).best, RANGE) == []


def test_air_that_stays_out_of_range_is_an_excursion_still() -> None:
    read = noisy()
    read.humidity_pct[700:1_100] -= 8.0

    assert len(find_excursions(best_air(read, None).best, RANGE)) == 1


def test_what_a_stuck_or_wet_sensor_said_is_counted() -> None:
    read = noisy()
    read.temperature_c[100:200] = 10.2
    read.humidity_pct[700:1_100] = 100.0

    assert best_air(read, None).silenced == 99 + 400


def test_a_bad_reading_beside_a_gap_does_not_bend_the_air_of_the_gap() -> None:
    times_us = np.concatenate([TIMES_US[:100], TIMES_US[400:500]])
    values = np.full(200, 10.0)
    values[99] = 26.0
    inside = np.arange(101, 399) * US_PER_MINUTE
    seen = at_instants(inside, times_us, values, LONGEST_S)
    filled = drawn_across(seen, inside, times_us, values, LONGEST_S)

    assert filled == pytest.approx(np.full(298, 10.0), abs=1e-12)  # rounding alone


def test_a_gap_is_drawn_straight_between_the_air_on_its_sides() -> None:
    times_us = np.concatenate([TIMES_US[:100], TIMES_US[200:300]])
    values = np.repeat([10.0, 12.0], 100)
    inside = np.array([TIMES_US[99], TIMES_US[200]]).mean(keepdims=True).astype(np.int64)
    filled = drawn_across(np.array([np.nan]), inside, times_us, values, LONGEST_S)

    assert filled == pytest.approx([11.0], abs=1e-9)  # half a microsecond of rounding


def test_air_that_was_read_is_left_as_it_is() -> None:
    values = np.arange(200.0)
    seen = at_instants(TIMES_US[:200], TIMES_US[:200], values, LONGEST_S)

    assert drawn_across(seen, TIMES_US[:200], TIMES_US[:200], values, LONGEST_S) is seen
