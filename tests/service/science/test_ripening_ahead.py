"""When a wanted age is reached: the inverse of equivalent age."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.ripening import Activation, equivalent_days, ripening_rate
from service.science.ripening_ahead import days_needed, reached_between_us, reached_us
from service.science.signals import US_PER_DAY

histories = st.lists(
    st.tuples(st.integers(60_000_000, 2 * US_PER_DAY), st.floats(0.0, 22.0)),
    min_size=2,
    max_size=20,
)


@given(histories, st.floats(0.0, 1.0), st.floats(0.0, 110.0))
def test_the_instant_at_which_an_age_is_reached_has_that_age(
    steps: list[tuple[int, float]], share: float, energy: float
) -> None:
    times = np.cumsum([wait for wait, _ in steps])
    values = np.array([value for _, value in steps])
    wanted = share * float(equivalent_days(times, values, 12.0, energy)[-1])
    instant = reached_us(wanted, times, values, 12.0, energy)
    assert instant is not None
    before = times < instant
    ends = (
        np.append(times[before], instant),
        np.append(values[before], np.interp(instant, times, values)),
    )
    reached = equivalent_days(*ends, 12.0, energy)[-1]

    # A microsecond of rounding at up to four times the speed; the cut segment's own error.
    assert reached == pytest.approx(wanted, rel=1e-7, abs=1e-10)


@given(st.floats(0.0, 60.0), st.floats(2.0, 20.0), st.floats(20.0, 110.0))
def test_days_needed_at_one_temperature_gain_the_age(
    wanted: float, temperature_c: float, energy: float
) -> None:
    days = days_needed(wanted, temperature_c, 12.0, energy)

    # Rounding only.
    assert days * ripening_rate(temperature_c, 12.0, energy) == pytest.approx(wanted, rel=1e-12)


def test_cave_first_and_kitchen_fridge_after_is_the_closed_form() -> None:
    """20 equivalent days: ten in the cave at 12 °C, then 10 / k(4) at 4 °C."""
    cave = np.array([0, 10]) * US_PER_DAY
    instant = reached_us(20.0, cave, np.array([12.0, 12.0]), 12.0, 60.0, then_c=4.0)
    expected = 10.0 + 10.0 * math.exp(60e3 / 8.314462618 * (1 / 277.15 - 1 / 285.15))

    assert instant is not None
    # Rounding to the microsecond.
    assert instant / US_PER_DAY == pytest.approx(expected, abs=1e-9)


def test_beyond_what_is_known_nothing_is_reached() -> None:
    times, values = np.array([0, US_PER_DAY]), np.array([12.0, 12.0])

    assert reached_us(1.5, times, values, 12.0, 60.0) is None


def test_an_age_of_zero_is_reached_at_once() -> None:
    times = np.array([5, US_PER_DAY])

    assert reached_us(0.0, times, np.array([9.0, 9.0]), 12.0, 60.0) == 5
    assert reached_us(0.0, times[:1], np.array([9.0]), 12.0, 60.0) == 5


def test_the_band_spans_earliest_and_latest() -> None:
    """Warmer than the reference, a higher energy is earlier."""
    times, values = np.array([0, 30 * US_PER_DAY]), np.array([14.0, 14.0])
    activation = Activation(60.0, 40.0, 100.0)
    reached = reached_between_us(10.0, times, values, 12.0, activation)
    expected = [days_needed(10.0, 14.0, 12.0, energy) for energy in (60.0, 100.0, 40.0)]
    found = (reached.time_us, reached.earliest_us, reached.latest_us)

    # Rounding to the microsecond.
    assert [instant / US_PER_DAY for instant in found if instant is not None] == pytest.approx(
        expected, abs=1e-9
    )


def test_the_latest_day_is_unknown_if_part_of_the_band_does_not_get_there() -> None:
    times, values = np.array([0, 10 * US_PER_DAY]), np.array([14.0, 14.0])
    reached = reached_between_us(12.0, times, values, 12.0, Activation(60.0, 20.0, 100.0))

    assert reached.time_us is None
    assert reached.earliest_us is not None
    assert reached.latest_us is None


def test_planning_needs_a_temperature() -> None:
    with pytest.raises(OutOfRangeError, match="at least one sample"):
        reached_us(1.0, np.array([0]), np.array([math.nan]), 12.0, 60.0)


def test_a_negative_age_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="zero or more"):
        days_needed(-1.0, 12.0, 12.0, 60.0)
