"""The correction of a humidity sensor from known humidities."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRangeError
from service.science.correction import (
    UNKNOWN_GAIN,
    Comparison,
    Correction,
    at_full_scale,
    correction_from,
)

NACL, KCL = 75.67, 86.43


@given(st.floats(-5.0, 5.0), st.floats(0.85, 1.15))
def test_two_salts_find_offset_and_gain(offset: float, gain: float) -> None:
    comparisons = [Comparison((t - offset) / gain, t, 0.3) for t in (NACL, KCL)]
    found = correction_from(comparisons)

    # A straight line through two points; rounding only.
    assert (found.offset_pct, found.gain) == pytest.approx((offset, gain), abs=1e-9)
    assert found.gain_known


@given(st.floats(-5.0, 5.0), st.floats(0.8, 1.2), st.floats(15.0, 90.0))
def test_correction_and_its_inverse_close_a_round_trip(
    offset: float, gain: float, reading: float
) -> None:
    found = Correction(offset, gain, 75.0, 0.3, 0.01, gain_known=True)
    corrected = found.corrected_pct(reading)
    if 0.0 < corrected < 100.0:
        # Rounding only.
        assert found.reading_pct(corrected) == pytest.approx(reading, abs=1e-10)


def test_one_salt_finds_the_offset_and_leaves_the_gain() -> None:
    found = correction_from([Comparison(73.67, NACL, 0.3)])

    # Rounding only.
    assert found.offset_pct == pytest.approx(2.0, abs=1e-12)
    assert (found.gain, found.gain_known) == (1.0, False)


def test_one_salt_is_less_sure_the_further_the_reading() -> None:
    """0.3 %RH at the salt; at 90 % the unknown gain adds 0.03 of the distance."""
    found = correction_from([Comparison(75.0, NACL, 0.3)])

    assert found.standard_uncertainty_pct(75.0) == 0.3
    # The definition; rounding only.
    assert found.standard_uncertainty_pct(90.0) == pytest.approx(
        np.hypot(0.3, 15.0 * UNKNOWN_GAIN), abs=1e-12
    )


def test_uncertainty_of_two_salts_is_that_of_the_line_through_them() -> None:
    """GUM: at x the line is (1 - w) of one salt and w of the other, w their lever."""
    found = correction_from([Comparison(75.0, 75.0, 0.2), Comparison(87.0, 87.0, 0.4)])
    lever = (93.0 - 75.0) / 12.0
    expected = np.hypot((1 - lever) * 0.2, lever * 0.4)

    # The same in another order of terms; rounding only.
    assert found.standard_uncertainty_pct(93.0) == pytest.approx(expected, rel=1e-12)


def test_the_same_salt_twice_shows_no_gain() -> None:
    """Two tests at 12 and 20 °C differ by 0.2 %RH, far less than their noise."""
    found = correction_from([Comparison(74.0, 75.66, 0.2), Comparison(74.1, 75.47, 0.2)])

    assert not found.gain_known
    # The mean of 1.66 and 1.37, and the uncertainty of a mean of two.
    assert found.offset_pct == pytest.approx(1.515, abs=1e-9)
    assert found.centre_uncertainty_pct == pytest.approx(0.2 / np.sqrt(2), rel=1e-12)


def test_a_surer_test_weighs_more() -> None:
    found = correction_from([Comparison(74.0, 75.0, 0.1), Comparison(74.0, 77.0, 0.2)])

    # Weights of 4 to 1.
    assert found.offset_pct == pytest.approx(1.4, abs=1e-12)


def test_three_salts_are_fitted_by_one_line() -> None:
    truths = (33.4, NACL, KCL)
    found = correction_from([Comparison((t - 1.0) / 1.05, t, 0.3) for t in truths])

    # The points lie on the line; rounding only.
    assert (found.offset_pct, found.gain) == pytest.approx((1.0, 1.05), abs=1e-9)


def test_corrected_humidity_stays_within_what_air_can_have() -> None:
    found = Correction(5.0, 1.0, 75.0, 0.3, 0.03, gain_known=False)

    assert found.corrected_pct(np.array([98.0, 50.0])).tolist() == [100.0, 55.0]


@pytest.mark.parametrize(
    ("offset", "gain", "plausible"),
    [(9.0, 1.0, True), (11.0, 1.0, False), (-11.0, 1.15, True), (18.0, 0.75, False)],
)
def test_a_correction_no_sound_sensor_needs_is_told(
    *, offset: float, gain: float, plausible: bool
) -> None:
    found = Correction(offset, gain, 75.0, 0.3, 0.03, gain_known=True)

    assert found.plausible is plausible


def test_no_comparison_is_no_correction() -> None:
    with pytest.raises(OutOfRangeError, match="at least one"):
        correction_from([])


def test_a_comparison_without_uncertainty_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="no comparison is perfect"):
        correction_from([Comparison(75.0, 75.0, 0.0)])


@pytest.mark.parametrize("second", [75.0, 70.0])
def test_a_sensor_that_does_not_rise_with_humidity_is_refused(second: float) -> None:
    with pytest.raises(OutOfRangeError, match="which salt"):
        correction_from([Comparison(75.0, NACL, 0.2), Comparison(second, KCL, 0.3)])


def test_the_end_of_the_scale_is_the_least_that_the_air_can_be() -> None:
    """A sensor 2 %RH too high says 100 of all air from 98 %RH up: 99 is off by one at most."""
    said = np.array([99.9, 100.0, np.nan])

    assert at_full_scale(said, said - 2.0) == pytest.approx([97.9, 99.0, np.nan], nan_ok=True)


def test_the_end_of_the_scale_of_a_sensor_that_reads_too_low_stays_saturation() -> None:
    assert at_full_scale(np.array([100.0]), np.array([100.0])).tolist() == [100.0]
