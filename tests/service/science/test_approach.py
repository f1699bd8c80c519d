"""A first-order approach, fitted."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.approach import Approach, fit_approach, hanging_together

MINUTES_S = np.arange(0.0, 4 * 3600.0, 60.0)


@given(st.floats(-5.0, 5.0), st.floats(5.0, 40.0), st.floats(600.0, 7200.0))
def test_a_clean_approach_is_found_again(level: float, distance: float, tau_s: float) -> None:
    found = fit_approach(MINUTES_S, level - distance * np.exp(-MINUTES_S / tau_s))

    # The time constant is found on a grid of 1 %; with half of it seen that leaves 1 % of
    # the distance in the level.
    assert found.level == pytest.approx(level, abs=0.015 * distance)
    assert found.time_constant_s == pytest.approx(tau_s, rel=0.015)


def test_outliers_do_not_pull_the_level() -> None:
    values = 1.0 - 20.0 * np.exp(-MINUTES_S / 1800.0)
    values[50::20] += 15.0

    # A twentieth of outliers, each counting as 1.3 scales: the grid's error remains.
    assert fit_approach(MINUTES_S, values).level == pytest.approx(1.0, abs=0.1)


def test_noise_gives_the_level_an_honest_uncertainty() -> None:
    """Over 40 seeds the error is of the size that is said."""
    shares = []
    for seed in range(40):
        noise = np.random.default_rng(seed).normal(0.0, 0.2, MINUTES_S.size)
        found = fit_approach(MINUTES_S, 1.0 - 20.0 * np.exp(-MINUTES_S / 3600.0) + noise)
        shares.append((found.level - 1.0) / found.level_uncertainty)

    # One standard deviation, known from 40 samples within a third.
    assert 0.6 < np.sqrt(np.mean(np.square(shares))) < 1.4


def test_a_straight_line_has_no_sure_level() -> None:
    noise = np.random.default_rng(1).normal(0.0, 0.1, MINUTES_S.size)
    found = fit_approach(MINUTES_S, MINUTES_S / 3600.0 + noise)

    assert found.level_uncertainty > 1.0


def test_time_within_a_tolerance_leaves_that_much() -> None:
    approach = Approach(0.0, 0.1, -20.0, 1800.0)

    # The exponential and its inverse; rounding only.
    assert approach.remaining(approach.within_s(0.15)) == pytest.approx(-0.15, rel=1e-12)


def test_an_approach_that_begins_inside_the_tolerance_is_there() -> None:
    assert Approach(0.0, 0.1, 0.1, 1800.0).within_s(0.15) == 0.0


def test_independent_noise_counts_each_sample() -> None:
    noise = np.random.default_rng(2).normal(0.0, 1.0, 4_000)

    # A correlation of 0 ± 0.016.
    assert hanging_together(noise) == pytest.approx(1.0, abs=0.1)


def test_noise_that_keeps_half_of_itself_counts_three_samples_as_one() -> None:
    chance = np.random.default_rng(3).normal(0.0, 1.0, 20_000)
    noise = np.empty(chance.size)
    last = 0.0
    for index, value in enumerate(chance.tolist()):
        last = noise[index] = 0.5 * last + value

    # (1 + 0.5) / (1 - 0.5), the correlation known within 0.006.
    assert hanging_together(noise) == pytest.approx(3.0, rel=0.06)


def test_a_constant_hangs_on_nothing() -> None:
    assert hanging_together(np.full(9, 4.0)) == 1.0
