"""Mean kinetic temperature: laws it must obey."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.kinetic import mean_kinetic_temperature_c, weighted_mean_kinetic_temperature_c
from service.science.ripening import equivalent_days
from service.science.signals import US_PER_DAY

temperatures = st.lists(st.floats(-5.0, 40.0), min_size=2, max_size=30)


@given(temperatures)
def test_mean_kinetic_temperature_lies_between_mean_and_warmest(samples: list[float]) -> None:
    found = mean_kinetic_temperature_c(np.array(samples))

    # The mean of a convex function; rounding of kelvins.
    assert np.mean(samples) - 1e-9 <= found <= max(samples) + 1e-9


@given(temperatures)
def test_a_constant_temperature_of_that_mean_ages_as_much(samples: list[float]) -> None:
    times, values = np.arange(len(samples)) * US_PER_DAY, np.array(samples)
    energy = 10_000.0 * 8.314462618e-3
    mean_c = weighted_mean_kinetic_temperature_c(times, values)
    real = equivalent_days(times, values, 10.0, energy)[-1]
    constant = equivalent_days(times, np.full(times.size, mean_c), 10.0, energy)[-1]

    # The law through a logarithm and back; rounding only.
    assert constant == pytest.approx(real, rel=1e-9)


def test_unknown_samples_count_for_nothing() -> None:
    found = mean_kinetic_temperature_c(np.array([4.0, math.nan, 12.0]))

    assert found == mean_kinetic_temperature_c(np.array([4.0, 12.0]))


def test_a_mean_needs_samples() -> None:
    with pytest.raises(OutOfRangeError, match="at least one"):
        mean_kinetic_temperature_c(np.array([math.nan]))
    with pytest.raises(OutOfRangeError, match="at least two"):
        weighted_mean_kinetic_temperature_c(np.array([0]), np.array([4.0]))


def test_a_heat_of_zero_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="above 0"):
        mean_kinetic_temperature_c(np.array([4.0]), heat_kj_per_mol=0.0)
