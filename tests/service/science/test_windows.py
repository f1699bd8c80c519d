"""Rules of sums over windows."""

import numpy as np
import pytest

from service.science.signals import US_PER_S
from service.science.windows import sums

MINUTE_US = 60 * US_PER_S


def test_a_reading_holds_until_the_next_one() -> None:
    found = sums(np.array([0, 2, 3]) * MINUTE_US, np.array([1.0, 5.0, 9.0]), 600.0)

    assert found.between(0, 3 * MINUTE_US) == (420.0, 180.0)


def test_nothing_counts_across_a_silence() -> None:
    found = sums(np.array([0, 1, 61, 62]) * MINUTE_US, np.ones(4), 600.0)

    assert found.between(0, 62 * MINUTE_US) == (120.0, 120.0)


def test_what_is_not_known_counts_for_nothing() -> None:
    found = sums(np.arange(4) * MINUTE_US, np.array([1.0, np.nan, 1.0, 1.0]), 600.0)

    assert found.between(0, 3 * MINUTE_US) == (120.0, 120.0)


def test_before_and_after_all_readings_nothing_is_known() -> None:
    found = sums(np.arange(4) * MINUTE_US, np.ones(4), 600.0)

    assert found.between(-99 * MINUTE_US, 99 * MINUTE_US) == (180.0, 180.0)
    assert found.between(50 * MINUTE_US, 99 * MINUTE_US) == (0.0, 0.0)


@pytest.mark.parametrize("count", [0, 1])
def test_fewer_than_two_readings_cover_no_time(count: int) -> None:
    found = sums(np.arange(count) * MINUTE_US, np.ones(count), 600.0)

    assert found.between(0, 99 * MINUTE_US) == (0.0, 0.0)
    assert found.on_grid(MINUTE_US).between(0, 99) == (0.0, 0.0)


def test_a_grid_says_the_same_from_point_to_point() -> None:
    draw = np.random.default_rng(1)
    times_us = np.sort(draw.integers(0, 10_000, 500)) * US_PER_S
    whole = sums(np.unique(times_us), draw.normal(size=np.unique(times_us).size), 60.0)
    grid = whole.on_grid(600 * US_PER_S)

    # Interpolation at the grid's own points; sums of some hundred seconds.
    assert grid.between(600 * US_PER_S, 7_200 * US_PER_S) == pytest.approx(
        whole.between(600 * US_PER_S, 7_200 * US_PER_S), abs=1e-6
    )
