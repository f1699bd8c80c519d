"""A sensor's lag taken back."""

import numpy as np
import pytest

from service.errors import OutOfRangeError
from service.science.lag import fastest_recovery, moved_back
from tests.bench.planted_sensor import cave_with_openings


@pytest.mark.parametrize("interval_s", [20.0, 60.0])
@pytest.mark.parametrize("lag_s", [90.0, 180.0])
def test_readings_moved_back_are_nearer_to_the_air(lag_s: float, interval_s: float) -> None:
    at_s, read, air, _ = cave_with_openings(1, lag_s, interval_s)
    times = (at_s * 1e6).astype(np.int64)
    back = moved_back(times, read, lag_s, longest_s=300.0, most_noise=0.1)

    assert np.std(back - air) < 0.5 * np.std(read - air)


def test_a_ramp_is_moved_back_by_the_lag() -> None:
    """After a while a lagging sensor on a ramp is late by its lag, exactly."""
    seconds = np.cumsum(np.random.default_rng(2).uniform(30, 90, 200))
    back = moved_back(
        (seconds * 1e6).astype(np.int64),
        (seconds - 90.0) / 600.0,
        90.0,
        longest_s=300.0,
        most_noise=0.1,
    )

    # Whole microseconds.
    assert back == pytest.approx(seconds / 600.0, abs=1e-7)


def test_noise_stays_within_its_bound() -> None:
    """Every 5 s with 0.1 K of noise and a lag of 180 s, two readings would give 3 K."""
    times = np.arange(4_000) * 5_000_000
    read = np.random.default_rng(3).normal(10.0, 0.1, times.size)
    back = moved_back(times, read, 180.0, longest_s=300.0, most_noise=0.2)

    # 0.1 of the reading itself and 0.2 of the slope, each known within a few percent.
    assert np.std(back - 10.0) < 1.1 * np.hypot(0.1, 0.2)


def test_a_window_grows_no_longer_than_forty_readings() -> None:
    """Noise that no window can hold is told as it is; nothing runs away."""
    times = np.arange(300) * 5_000_000
    read = np.random.default_rng(3).normal(10.0, 5.0, times.size)
    back = moved_back(times, read, 900.0, longest_s=300.0, most_noise=1e-6)

    assert np.isfinite(back).all()


def test_a_gap_is_not_looked_across() -> None:
    times = np.concatenate((np.arange(10), np.arange(100, 110))) * 60_000_000
    read = np.repeat([10.0, 14.0], 10)

    assert moved_back(times, read, 90.0, longest_s=300.0, most_noise=0.1).tolist() == read.tolist()


def test_unknown_readings_stay_unknown_and_harm_no_other() -> None:
    times = np.arange(10) * 60_000_000
    read = np.arange(10.0)
    read[4] = np.nan
    back = moved_back(times, read, 60.0, longest_s=300.0, most_noise=0.1)

    assert np.flatnonzero(np.isnan(back)).tolist() == [4]
    # A ramp of 1 a minute, a minute back.
    assert np.delete(back, 4) == pytest.approx(np.delete(np.arange(10.0), 4) + 1.0, abs=1e-9)


def test_no_lag_changes_nothing() -> None:
    read = np.array([9.0, 12.0, 7.0])
    back = moved_back(np.arange(3) * 60_000_000, read, 0.0, longest_s=300.0, most_noise=0.1)

    assert back.tolist() == read.tolist()


@pytest.mark.parametrize(("lag_s", "noise"), [(-1.0, 0.1), (90.0, 0.0)])
def test_a_negative_lag_and_no_room_for_noise_are_refused(lag_s: float, noise: float) -> None:
    with pytest.raises(OutOfRangeError, match="lag may not be negative"):
        moved_back(np.arange(3), np.arange(3.0), lag_s, longest_s=300.0, most_noise=noise)


@pytest.mark.parametrize("lag_s", [30.0, 90.0, 180.0])
def test_no_recovery_is_faster_than_the_sensor(lag_s: float) -> None:
    at_s, read, _, openings = cave_with_openings(4, lag_s, 20.0)
    found = fastest_recovery((at_s * 1e6).astype(np.int64), read, (openings * 1e6).astype(np.int64))

    assert found.time_constant_s is not None
    # Cooling cycles under the recoveries move it by up to a fifth.
    assert found.time_constant_s > 0.75 * lag_s
    assert found.openings > 10


def test_without_openings_nothing_is_known_of_the_lag() -> None:
    times = np.arange(100) * 60_000_000
    nothing = np.array([], dtype=np.int64)

    assert fastest_recovery(times, np.full(100, 10.0), nothing).time_constant_s is None
    assert fastest_recovery(times[:2], np.full(2, 10.0), times[:1]).openings == 0


def test_openings_at_the_ends_of_a_series_are_passed_over() -> None:
    times = np.arange(100) * 60_000_000
    ends = times[[0, 99]]

    assert fastest_recovery(times, np.full(100, 10.0), ends).openings == 0
