"""EWMA and CUSUM charts against the tables of the NIST handbook and of Lucas and Crosier."""

import numpy as np
import pytest

from service.science.charts import cusum, ewma, ewma_limits

# NIST/SEMATECH e-Handbook of Statistical Methods, doi 10.18434/M32189, section 6.3.2.4.
EWMA_DATA = np.array(
    [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
     49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
)  # fmt: skip
EWMA_TABLE = [
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
]  # fmt: skip

# The same handbook, section 6.3.2.3.
CUSUM_DATA = np.array(
    [324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
     324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350]
)  # fmt: skip
CUSUM_UPPER = [0.0] * 4 + [0.03] + [0.0] * 7 + [3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.0, 19.04]
CUSUM_LOWER = [0.0, 0.01, 0.0, 0.33, 0.0, 0.0, 0.56, 0.72, 0.17, 0.25, 0.31]

# Lucas & Crosier, Technometrics 24 (1982), Table 5, as given in Six Sigma Advanced Tools 24.1.
SHIFTED = np.array([0.8, 1.9, 1.4, 2.0, 1.1, 0.7, 2.6])


def test_ewma_is_that_of_the_nist_table() -> None:
    # The table prints two decimals.
    assert ewma(EWMA_DATA, 0.3, 50.0) == pytest.approx(EWMA_TABLE, abs=0.0051)


def test_ewma_limits_settle_on_those_of_nist() -> None:
    low, high = ewma_limits(100, 50.0, 2.0539, 0.3)

    # The handbook rounds its factor to 0.4201, which moves its limits by 0.0001.
    assert (low[-1], high[-1]) == pytest.approx((47.4115, 52.5884), abs=2e-4)


def test_first_ewma_limits_follow_the_exact_variance() -> None:
    """Computed from the exact variance with the handbook's numbers."""
    _, high = ewma_limits(5, 50.0, 2.0539, 0.3)

    assert high - 50.0 == pytest.approx([1.8485, 2.2564, 2.4314, 2.5127, 2.5516], abs=1e-4)


def test_no_point_of_the_nist_table_is_outside() -> None:
    low, high = ewma_limits(EWMA_DATA.size, 50.0, 2.0539, 0.3)
    averages = ewma(EWMA_DATA, 0.3, 50.0)

    assert not ((averages < low[-1]) | (averages > high[-1])).any()


def test_cusum_is_that_of_the_nist_table() -> None:
    upper, lower = cusum(CUSUM_DATA, 325.0, 0.3175)

    # The table cuts a half off where it should round it: 0.255 is printed as 0.25.
    assert upper == pytest.approx(CUSUM_UPPER, abs=0.006)
    assert lower[:11] == pytest.approx(CUSUM_LOWER, abs=0.006)
    assert lower[12:] == pytest.approx(np.zeros(8), abs=1e-12)


def test_cusum_signals_at_the_fourteenth_sample() -> None:
    upper, _ = cusum(CUSUM_DATA, 325.0, 0.3175)

    assert int(np.argmax(upper > 4.1959)) + 1 == 14


def test_cusum_without_head_start_signals_at_the_seventh_value() -> None:
    upper, _ = cusum(SHIFTED, 0.0, 0.5)

    assert upper == pytest.approx([0.3, 1.7, 2.6, 4.1, 4.7, 4.9, 7.0], abs=1e-9)


def test_head_start_signals_at_the_third_value() -> None:
    upper, _ = cusum(SHIFTED, 0.0, 0.5, head_start=2.5)

    assert upper == pytest.approx([2.8, 4.2, 5.1, 6.6, 7.2, 7.4, 9.5], abs=1e-9)
