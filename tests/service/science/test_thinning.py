"""Thinned series keep their extremes, their order and their silences."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.thinning import fewest_points, thinned, usual_gap_us

GAP_US = 100


@st.composite
def long_series(draw: st.DrawFn) -> tuple[np.ndarray, list[np.ndarray], int]:
    """Rising times with silences, one to three series with holes, and a bound on the points."""
    steps = draw(st.lists(st.sampled_from([1, 7, 100, 101, 5_000]), min_size=1, max_size=120))
    times_us = np.cumsum(np.array(steps, dtype=np.int64)) + draw(st.integers(0, 2**50))
    count = draw(st.integers(1, 3))
    value = st.one_of(st.just(float("nan")), st.floats(-50, 100))
    values = [
        np.array(draw(st.lists(value, min_size=len(steps), max_size=len(steps))))
        for _ in range(count)
    ]
    points = draw(st.integers(fewest_points(count), 200))
    return times_us, values, points


@given(long_series())
def test_minimum_and_maximum_of_every_series_stay(
    case: tuple[np.ndarray, list[np.ndarray], int],
) -> None:
    times_us, values, points = case
    _, kept = thinned(times_us, values, points, GAP_US)

    for before, after in zip(values, kept, strict=True):
        if not np.isnan(before).all():
            assert np.nanmin(after) == np.nanmin(before)
            assert np.nanmax(after) == np.nanmax(before)


@given(long_series())
def test_there_are_never_more_points_than_asked_for(
    case: tuple[np.ndarray, list[np.ndarray], int],
) -> None:
    times_us, values, points = case
    kept_us, kept = thinned(times_us, values, points, GAP_US)

    assert all(len(series) == len(kept_us) <= points for series in kept)


@given(long_series())
def test_rows_keep_their_order_and_their_values(
    case: tuple[np.ndarray, list[np.ndarray], int],
) -> None:
    times_us, values, points = case
    given_rows = {
        int(time): tuple(series[row] for series in values) for row, time in enumerate(times_us)
    }
    kept_us, kept = thinned(times_us, values, points, GAP_US)

    assert (np.diff(kept_us) > 0).all()
    for row, time in enumerate(kept_us):
        values_there = tuple(series[row] for series in kept)
        if not np.isnan(values_there).all():
            assert np.array_equal(values_there, given_rows[int(time)], equal_nan=True)


@given(long_series())
def test_a_silence_is_never_bridged(case: tuple[np.ndarray, list[np.ndarray], int]) -> None:
    times_us, values, points = case
    kept_us, kept = thinned(times_us, values, points, GAP_US)
    is_open = np.logical_and.reduce([np.isnan(series) for series in kept])
    known = ~np.logical_and.reduce([np.isnan(series) for series in values])
    heard_us = times_us[known]

    for last_us, next_us in pairwise(heard_us):
        if next_us - last_us > GAP_US:
            drawn = np.flatnonzero(~is_open)
            before = drawn[kept_us[drawn] <= last_us]
            after = drawn[kept_us[drawn] >= next_us]
            assert is_open[before[-1] + 1 : after[0]].any()


@given(long_series())
def test_a_line_is_opened_only_where_there_is_a_silence(
    case: tuple[np.ndarray, list[np.ndarray], int],
) -> None:
    times_us, values, points = case
    kept_us, kept = thinned(times_us, values, points, GAP_US)
    is_open = np.logical_and.reduce([np.isnan(series) for series in kept])
    heard_us = times_us[~np.logical_and.reduce([np.isnan(series) for series in values])]

    for open_us in kept_us[is_open]:
        assert np.diff(heard_us)[np.searchsorted(heard_us, open_us) - 1] > GAP_US


def test_a_short_series_is_left_as_it_is() -> None:
    times_us = np.arange(20, dtype=np.int64)
    values = np.sin(np.arange(20.0))
    kept_us, (kept,) = thinned(times_us, [values], 20, GAP_US)

    assert kept_us.tolist() == times_us.tolist()
    assert kept.tolist() == values.tolist()


def test_a_long_series_uses_a_good_part_of_the_points() -> None:
    times_us = np.arange(100_000, dtype=np.int64)
    values = np.random.default_rng(5).normal(size=100_000)
    kept_us, _ = thinned(times_us, [values], 1_500, GAP_US)

    assert 1_400 <= kept_us.size <= 1_500


def test_no_reading_at_all_gives_no_point() -> None:
    kept_us, (kept,) = thinned(np.empty(0, dtype=np.int64), [np.empty(0)], 100, GAP_US)

    assert kept_us.size == kept.size == 0


def test_too_few_points_for_the_series_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="ask for 8 or more"):
        thinned(np.arange(3), [np.arange(3.0)], 7, GAP_US)


def test_the_usual_gap_is_never_under_five_minutes() -> None:
    assert usual_gap_us(np.arange(10) * 60_000_000) == 300_000_000
