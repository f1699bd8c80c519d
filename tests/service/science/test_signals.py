"""Gaps, minute means, spells and smoothing of a series."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service import clock
from service.errors import OutOfRangeError
from service.science.signals import (
    US_PER_MINUTE,
    US_PER_S,
    gaps,
    minute_means,
    runs,
    smooth_step,
    smoothed,
)


def seconds(*times: float) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.array([round(time * US_PER_S) for time in times], dtype=np.int64)


def test_science_counts_in_the_microseconds_of_the_clock() -> None:
    assert US_PER_S == clock.US_PER_S


def test_a_value_for_every_time_is_needed() -> None:
    with pytest.raises(ValueError, match="shorter"):
        smoothed(seconds(0, 1, 2), np.array([9.0, 9.0]), 600.0, gap_s=300)


def test_a_silence_as_long_as_allowed_is_no_gap() -> None:
    assert gaps(seconds(0, 300, 600), longest_s=300).tolist() == []


def test_a_silence_a_microsecond_longer_is_a_gap_between_its_readings() -> None:
    found = gaps(seconds(0, 300.000001, 400), longest_s=300)

    assert found.tolist() == [[0, 300_000_001]]


@pytest.mark.parametrize("times", [(), (5,)])
def test_fewer_than_two_readings_have_no_gap(times: tuple[float, ...]) -> None:
    assert gaps(seconds(*times), longest_s=1).shape == (0, 2)


def test_a_reading_on_the_stroke_belongs_to_the_minute_it_opens() -> None:
    starts, means = minute_means(seconds(59.999999, 60), np.array([1.0, 2.0]))

    assert starts.tolist() == [0, US_PER_MINUTE]
    assert means.tolist() == [1.0, 2.0]


def test_minutes_without_a_reading_are_unknown() -> None:
    starts, means = minute_means(seconds(10, 190), np.array([4.0, 8.0]))

    assert (starts // US_PER_MINUTE).tolist() == [0, 1, 2, 3]
    assert np.isnan(means).tolist() == [False, True, True, False]


def test_unknown_values_count_for_nothing_in_their_minute() -> None:
    _, means = minute_means(seconds(0, 20, 40), np.array([3.0, math.nan, 5.0]))

    assert means.tolist() == [4.0]


def test_times_before_1970_have_minutes_too() -> None:
    starts, _ = minute_means(seconds(-1), np.array([4.0]))

    assert starts.tolist() == [-US_PER_MINUTE]


def test_no_readings_have_no_minutes() -> None:
    starts, means = minute_means(seconds(), np.empty(0))

    assert (starts.size, means.size) == (0, 0)


@given(st.lists(st.booleans(), max_size=40))
def test_runs_cover_all_that_is_true_and_nothing_else(mask: list[bool]) -> None:
    painted = np.zeros(len(mask), dtype=bool)
    found = runs(np.array(mask, dtype=bool))
    for start, stop in found:
        painted[start:stop] = True

    assert painted.tolist() == mask
    # Two runs that touched would be one.
    assert all(before[1] < after[0] for before, after in itertools.pairwise(found))


def test_a_step_forgets_all_but_one_in_e_in_a_time_constant() -> None:
    average = smooth_step(0.0, 1.0, dt_s=600, time_constant_s=600)

    # The definition of the time constant; rounding only.
    assert average == pytest.approx(1 - 1 / math.e, rel=1e-14)


@given(st.floats(-40, 85), st.floats(-40, 85), st.floats(0, 1e6), st.floats(0, 1e6))
def test_a_step_stays_between_the_average_and_the_reading(
    previous: float, value: float, dt_s: float, time_constant_s: float
) -> None:
    average = smooth_step(previous, value, dt_s, time_constant_s)

    # Rounding may overshoot by the last digit of numbers up to 125.
    assert min(previous, value) - 1e-13 <= average <= max(previous, value) + 1e-13


@given(st.floats(1, 1e4), st.floats(1, 1e4))
def test_two_waits_forget_as_much_as_one_wait_of_their_sum(first_s: float, second_s: float) -> None:
    """What makes the average independent of how densely a steady value is sampled."""
    twice = smooth_step(smooth_step(9.0, 12.0, first_s, 600), 12.0, second_s, 600)

    # The exponential law; rounding only.
    assert twice == pytest.approx(smooth_step(9.0, 12.0, first_s + second_s, 600), abs=1e-12)


@pytest.mark.parametrize(("dt_s", "time_constant_s"), [(-1.0, 600.0), (1.0, -600.0)])
def test_time_running_backwards_is_refused(dt_s: float, time_constant_s: float) -> None:
    with pytest.raises(OutOfRangeError, match="order of time"):
        smooth_step(9.0, 12.0, dt_s, time_constant_s)


def test_without_a_time_constant_nothing_is_smoothed() -> None:
    values = np.array([9.0, 12.0, 7.0])

    assert smoothed(seconds(0, 1, 1), values, 0.0, 300).tolist() == values.tolist()


def test_smoothing_starts_afresh_after_a_gap() -> None:
    averages = smoothed(seconds(0, 300, 601), np.array([9.0, 12.0, 12.0]), 600.0, gap_s=300)

    assert averages[1] < 12.0
    assert averages[2] == 12.0


def test_smoothing_skips_what_is_unknown() -> None:
    averages = smoothed(seconds(0, 60, 120), np.array([9.0, math.nan, 12.0]), 600.0, gap_s=300)

    assert math.isnan(averages[1])
    assert averages[2] == smooth_step(9.0, 12.0, 120.0, 600.0)


readings = st.lists(
    st.tuples(st.integers(0, 900 * US_PER_S), st.floats(-40, 85) | st.just(math.nan)),
    min_size=1,
    max_size=60,
)


@given(readings, st.floats(1, 3600))
def test_folding_one_reading_at_a_time_gives_the_same_bits(
    steps: list[tuple[int, float]], time_constant_s: float
) -> None:
    times = np.cumsum([wait_us for wait_us, _ in steps])
    values = np.array([value for _, value in steps])
    folded, average, before_us = [], math.nan, 0
    for time_us, value in zip(times.tolist(), values.tolist(), strict=True):
        if math.isnan(value):
            folded.append(math.nan)
            continue
        dt_s = (time_us - before_us) / US_PER_S
        fresh = math.isnan(average) or dt_s > 600
        average = value if fresh else smooth_step(average, value, dt_s, time_constant_s)
        before_us = time_us
        folded.append(average)

    whole = smoothed(times, values, time_constant_s, gap_s=600)

    assert whole.tobytes() == np.array(folded).tobytes()
