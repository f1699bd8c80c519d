"""Equivalent age: laws it must obey on any history."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.ripening import (
    Activation,
    activation_from_q10_kj_per_mol,
    equivalent_age,
    equivalent_days,
    q10_from_activation,
    ripening_rate,
)
from service.science.signals import US_PER_DAY

BLUE = Activation(60.0, 22.6, 103.5)
HOUR_US = US_PER_DAY // 24

histories = st.lists(
    st.tuples(st.integers(1, 40 * HOUR_US), st.floats(0.0, 22.0)), min_size=2, max_size=30
)


def history(
    steps: list[tuple[int, float]],
) -> tuple[
    np.ndarray[tuple[int], np.dtype[np.int64]], np.ndarray[tuple[int], np.dtype[np.float64]]
]:
    return np.cumsum([wait for wait, _ in steps]), np.array([value for _, value in steps])


@given(st.floats(0.0, 20.0), st.floats(20.0, 110.0), st.lists(st.integers(1, 10**12), min_size=1))
def test_days_at_the_reference_temperature_are_days(
    reference_c: float, energy: float, waits: list[int]
) -> None:
    times = np.cumsum([0, *waits])
    age = equivalent_days(times, np.full(times.size, reference_c), reference_c, energy)

    # Rounding of sums only.
    assert age == pytest.approx(times / US_PER_DAY, rel=1e-12)


@given(histories, st.floats(0.001, 0.999))
def test_age_adds_up_over_a_split(steps: list[tuple[int, float]], share: float) -> None:
    times, values = history(steps)
    split = int(times[0] + share * (times[-1] - times[0]))
    at_split = float(np.interp(split, times, values))
    early, late = times < split, times > split
    if early.sum() == 0 or late.sum() == 0:
        return
    first = equivalent_days(
        np.append(times[early], split), np.append(values[early], at_split), 12.0, 60.0
    )[-1]
    second = equivalent_days(
        np.insert(times[late], 0, split), np.insert(values[late], 0, at_split), 12.0, 60.0
    )[-1]
    whole = equivalent_days(times, values, 12.0, 60.0)[-1]

    # A segment cut in two is integrated on more points: its own error, over up to 22 K.
    assert first + second == pytest.approx(whole, rel=1e-7)


@given(histories, st.floats(0.0, 5.0), st.floats(1.0, 110.0))
def test_a_warmer_history_is_older(
    steps: list[tuple[int, float]], warmer_k: float, energy: float
) -> None:
    times, values = history(steps)
    cold = equivalent_days(times, values, 12.0, energy)
    warm = equivalent_days(times, values + warmer_k, 12.0, energy)

    # Equal histories are equal to the bit.
    assert np.all(warm >= cold)


@given(histories)
def test_age_never_falls(steps: list[tuple[int, float]]) -> None:
    age = equivalent_days(*history(steps), 12.0, 60.0)

    assert np.all(np.diff(age) > 0.0)


@given(histories)
def test_the_band_holds_the_value(steps: list[tuple[int, float]]) -> None:
    age = equivalent_age(*history(steps), 12.0, BLUE, longest_s=1e9)

    assert age.low_days <= age.days <= age.high_days


@given(st.floats(1.0, 6.0), st.floats(0.0, 20.0))
def test_q10_and_energy_are_inverses(q10: float, from_c: float) -> None:
    energy = activation_from_q10_kj_per_mol(q10, from_c)

    # Rounding only.
    assert q10_from_activation(energy, from_c) == pytest.approx(q10, rel=1e-12)


def test_unknown_temperatures_are_passed_over_and_dated() -> None:
    times = np.arange(5) * US_PER_DAY
    values = np.array([math.nan, 12.0, math.nan, 12.0, math.nan])
    age = equivalent_days(times, values, 12.0, 60.0)

    assert np.isnan(age[[0, 4]]).all()
    # Rounding only.
    assert age[1:4] == pytest.approx([0.0, 1.0, 2.0], abs=1e-12)


def test_nothing_known_has_no_age() -> None:
    times, unknown = np.arange(3) * US_PER_DAY, np.full(3, math.nan)

    assert np.isnan(equivalent_days(times, unknown, 12.0, 60.0)).all()
    assert equivalent_age(times, unknown, 12.0, BLUE, longest_s=300.0).days == 0.0


def test_the_part_that_rests_on_gaps_is_told() -> None:
    times = np.array([0, 1, 25, 26]) * HOUR_US
    age = equivalent_age(times, np.full(4, 12.0), 12.0, BLUE, longest_s=3 * 3600.0)

    # A day at the reference; rounding only.
    assert age.in_gaps_days == pytest.approx(1.0, rel=1e-12)
    assert age.elapsed_days == pytest.approx(26 / 24, rel=1e-12)


def test_a_band_may_have_its_youngest_age_inside() -> None:
    """Half colder and half warmer than the reference: both ends of the band are older."""
    times = np.arange(5) * US_PER_DAY
    age = equivalent_age(
        times, np.array([7.0, 7.0, 12.0, 17.0, 17.2]), 12.2, Activation(0.0, 0.0, 103.5), 1e9
    )

    assert age.low_days < min(
        equivalent_days(times, np.array([7.0, 7.0, 12.0, 17.0, 17.2]), 12.2, energy)[-1]
        for energy in (0.0, 103.5)
    )


def test_arrays_come_back_as_arrays_and_gaps_pass_through() -> None:
    rates = ripening_rate(np.array([12.0, math.nan]), 12.0, 60.0)

    assert rates[0] == 1.0
    assert np.isnan(rates[1])


@pytest.mark.parametrize("temperature_c", [-41.0, 61.0])
def test_temperatures_at_which_nothing_ripens_are_refused(temperature_c: float) -> None:
    with pytest.raises(OutOfRangeError, match="check the readings"):
        ripening_rate(temperature_c, 12.0, 60.0)


def test_negative_energies_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="zero or more"):
        ripening_rate(10.0, 12.0, -1.0)


def test_a_q10_below_one_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="one or more"):
        activation_from_q10_kj_per_mol(0.9, 5.0)


def test_a_band_that_misses_its_value_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="low ≤ value ≤ high"):
        Activation(60.0, 70.0, 100.0)


def test_times_that_stand_still_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="must rise"):
        equivalent_days(np.array([0, 0]), np.array([9.0, 9.0]), 12.0, 60.0)
