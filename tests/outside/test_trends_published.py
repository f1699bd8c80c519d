"""Theil and Sen's slope and the Mann-Kendall test against Sen's example and scipy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes  # type: ignore[import-untyped]  # scipy ships no types

from service.science.trends import mann_kendall, theil_sen

# Sen 1968, Journal of the American Statistical Association 63, 1379-1389, his example; the
# interval is also in scipy's own tests (scipy/stats/tests/test_mstats_basic.py).
SEN_X = np.array([1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0])
SEN_Y = np.array([9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0])


def test_slope_of_sens_example_is_four() -> None:
    line = theil_sen(SEN_X, SEN_Y, 0.93)

    # 3.71 and 4.38 are 26/7 and 35/8, rounded; exact but for rounding.
    assert (line.slope, line.low, line.high) == pytest.approx((4.0, 26 / 7, 35 / 8), abs=1e-12)


def test_intercept_follows_sens_first_convention() -> None:
    """Median y less slope times median x, 4.0; the joint convention would give 6.0."""
    assert theil_sen(SEN_X, SEN_Y).intercept == pytest.approx(4.0, abs=1e-12)


def test_mann_kendall_of_sens_points() -> None:
    """S by hand: all 21 pairs rise. Var = 7 * 6 * 19 / 18; p computed with pymannkendall 1.4.3."""
    test = mann_kendall(SEN_Y)

    assert test.s == 21
    # As many digits as were noted down.
    assert (test.variance, test.z) == pytest.approx((44.3333, 3.0038), abs=5e-5)
    assert test.p == pytest.approx(0.002667, abs=5e-7)


@given(st.lists(st.integers(-20, 20), min_size=3, max_size=40))
def test_slope_and_interval_are_those_of_scipy(values: list[int]) -> None:
    x, y = np.arange(len(values), dtype=np.float64), np.array(values, dtype=np.float64)
    reference = theilslopes(y, x, 0.9)

    line = theil_sen(x, y, 0.9)

    # The same slopes in the same places: rounding only.
    assert (line.slope, line.intercept) == pytest.approx(reference[:2], abs=1e-12)
    assert (line.low, line.high) == pytest.approx(reference[2:4], abs=1e-12)
