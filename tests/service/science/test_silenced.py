"""Readings that came but tell nothing of the air."""

import numpy as np
import numpy.typing as npt
import pytest

from service.science.sensor_truth import findings
from service.science.silenced import sifted, silenced

N = 1_440
TIMES = np.arange(N) * 60_000_000
LONGEST_S = 300.0
Array = npt.NDArray[np.float64]


def air(humidity_pct: float = 88.0) -> tuple[Array, Array]:
    chance = np.random.default_rng(5)
    warm, damp = chance.normal(10.0, 0.03, N), chance.normal(humidity_pct, 0.2, N)
    return warm.round(2), damp.round(2)


def found(warm: Array, damp: Array, times: npt.NDArray[np.int64] = TIMES) -> list[list[int]]:
    faults = findings(times, warm, damp, LONGEST_S)
    return [
        np.flatnonzero(mute).tolist() for mute in silenced(times, warm, damp, faults, LONGEST_S)
    ]


def test_a_frozen_temperature_tells_nothing_after_its_first_reading() -> None:
    warm, damp = air()
    warm[600:800] = 10.5

    assert found(warm, damp) == [list(range(601, 800)), []]


def test_a_frozen_humidity_tells_nothing_after_its_first_reading() -> None:
    warm, damp = air()
    damp[600:800] = 86.5

    assert found(warm, damp) == [[], list(range(601, 800))]


def test_a_sensor_in_order_is_never_silenced() -> None:
    assert found(*air()) == [[], []]


def test_a_value_that_a_sensor_mostly_says_is_believed() -> None:
    """Told to be stuck it is; but nothing else tells of this air."""
    warm, damp = air()
    warm[:], damp[: N // 2 + 2] = 11.3, 90.0

    assert found(warm, damp) == [[], []]


def test_readings_that_mostly_stand_still_say_so() -> None:
    warm, damp = air()
    warm[:] = 11.3

    assert sifted(TIMES, warm, damp, LONGEST_S).mostly_still
    assert not sifted(TIMES, *air(), LONGEST_S).mostly_still


def test_what_is_sifted_is_without_spikes_and_without_what_a_stuck_sensor_says() -> None:
    warm, damp = air()
    warm[100], warm[600:800] = 25.0, 10.5
    left = sifted(TIMES, warm, damp, LONGEST_S)

    assert np.flatnonzero(np.isnan(left.temperature_c)).tolist() == [100, *range(601, 800)]
    assert (left.spikes, left.silenced) == (1, 199)


def test_a_sensor_that_leaps_to_saturation_tells_nothing() -> None:
    warm, damp = air()
    damp[600:900] = 100.0

    assert found(warm, damp) == [[], list(range(600, 900))]


def test_saturation_that_the_air_climbs_to_is_believed() -> None:
    warm, damp = air()
    damp[540:600] = np.linspace(88.0, 99.9, 60)
    damp[600:900] = 100.0

    assert found(warm, damp) == [[], []]


def test_a_leap_of_both_together_is_a_door_and_believed() -> None:
    warm, damp = air()
    warm[600:900] += 4.0
    damp[600:900] = 100.0

    assert found(warm, damp) == [[], []]


@pytest.mark.parametrize("first", [0, 600])
def test_saturation_with_nothing_just_before_it_is_believed(first: int) -> None:
    """At the start, or after a gap, nobody saw how the humidity came there."""
    warm, damp = air()
    damp[first : first + 300] = 100.0
    times = TIMES.copy()
    times[first:] += 3_600_000_000

    assert found(warm, damp, times) == [[], []]


def test_without_readings_nothing_is_silenced() -> None:
    none = np.empty(0)

    assert found(none, none, np.empty(0, dtype=np.int64)) == [[], []]
