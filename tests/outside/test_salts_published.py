"""Humidity over saturated salts against the tables of Greenspan, Wexler and others."""

import math

import numpy as np
import pytest

from service.science.salts import Salt, salt_humidity_pct, salt_uncertainty_pct

TABLE_C = np.array([0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0])


# L. Greenspan, J. Res. NBS 81A (1977) 89-96, table 2: centre values and ±, both from memory in
# the project's table of references; the centres agree there with his polynomials, the ± column
# was not checked against print.
TABLE_2 = {
    Salt.LITHIUM_CHLORIDE: (
        [11.23, 11.26, 11.29, 11.30, 11.31, 11.30, 11.28],
        [0.54, 0.47, 0.41, 0.35, 0.31, 0.27, 0.24],
    ),
    Salt.MAGNESIUM_CHLORIDE: (
        [33.66, 33.60, 33.47, 33.30, 33.07, 32.78, 32.44],
        [0.33, 0.28, 0.24, 0.21, 0.18, 0.16, 0.14],
    ),
    Salt.SODIUM_CHLORIDE: (
        [75.51, 75.65, 75.67, 75.61, 75.47, 75.29, 75.09],
        [0.34, 0.27, 0.22, 0.18, 0.14, 0.12, 0.11],
    ),
    Salt.POTASSIUM_CHLORIDE: (
        [88.61, 87.67, 86.77, 85.92, 85.11, 84.34, 83.62],
        [0.53, 0.45, 0.39, 0.33, 0.29, 0.26, 0.25],
    ),
    Salt.POTASSIUM_SULPHATE: (
        [98.77, 98.48, 98.18, 97.89, 97.59, 97.30, 97.00],
        [1.1, 0.91, 0.76, 0.63, 0.53, 0.45, 0.40],
    ),
}


@pytest.mark.parametrize("salt", list(Salt))
def test_humidity_over_a_salt_is_that_of_the_printed_table(salt: Salt) -> None:
    """The table and not another copy of the polynomials: two of three copies of LiCl are wrong."""
    found = salt_humidity_pct(salt, TABLE_C)

    # The printed table looks truncated: up to 0.01 below the polynomials, and half a digit.
    assert found == pytest.approx(np.array(TABLE_2[salt][0]), abs=0.015)


@pytest.mark.parametrize("salt", list(Salt))
def test_uncertainty_is_that_of_the_table(salt: Salt) -> None:
    found = salt_uncertainty_pct(salt, TABLE_C)

    # From memory, see above; the same numbers, so rounding only.
    assert found == pytest.approx(np.array(TABLE_2[salt][1]), abs=1e-12)


# T. Padfield, conservation physics, page on saturated salts: 5, 10, 15, 20, 25 °C, one decimal.
@pytest.mark.parametrize(
    ("salt", "values"),
    [
        (Salt.POTASSIUM_CHLORIDE, [87.7, 86.8, 85.9, 85.1, 84.3]),
        (Salt.POTASSIUM_SULPHATE, [98.5, 98.2, 97.9, 97.6, 97.3]),
        (Salt.MAGNESIUM_CHLORIDE, [33.6, 33.5, 33.3, 33.1, 32.8]),
    ],
)
def test_humidity_agrees_with_a_second_source(salt: Salt, values: list[float]) -> None:
    found = salt_humidity_pct(salt, TABLE_C[1:6])

    assert found == pytest.approx(np.array(values), abs=0.06)  # half a digit and its rounding


# CRC Handbook of Chemistry and Physics, constant humidity solutions (A. Wexler):
# humidity = A exp(B / T), said to be within 2 %; with the range of temperature given there.
@pytest.mark.parametrize(
    ("salt", "a", "b_k", "temperatures_c"),
    [
        (Salt.SODIUM_CHLORIDE, 69.20, 25.0, [10.0, 15.0, 25.0, 40.0]),
        (Salt.POTASSIUM_CHLORIDE, 49.38, 159.0, [5.0, 15.0, 25.0]),
        (Salt.POTASSIUM_SULPHATE, 86.75, 34.0, [10.0, 25.0, 40.0]),
        (Salt.MAGNESIUM_CHLORIDE, 29.26, 34.0, [5.0, 25.0, 40.0]),
    ],
)
def test_humidity_agrees_with_the_handbook(
    salt: Salt, a: float, b_k: float, temperatures_c: list[float]
) -> None:
    found = [salt_humidity_pct(salt, t) for t in temperatures_c]
    handbook = [a * math.exp(b_k / (t + 273.15)) for t in temperatures_c]

    # The handbook's own 2 % RH.
    assert found == pytest.approx(handbook, abs=2.0)


def test_salt_agrees_with_an_independent_measurement() -> None:
    """A. Wexler and S. Hasegawa, J. Res. NBS 53 (1954), RP2512: 74.9 at 0 °C, 74.7 at 50 °C."""
    found = [salt_humidity_pct(Salt.SODIUM_CHLORIDE, t) for t in (0.0, 50.0)]

    # Greenspan weighs 21 studies; this one lies up to 0.7 %RH from their mean at 0 °C.
    assert found == pytest.approx([74.9, 74.7], abs=0.7)


def test_table_salt_is_not_what_a_web_table_says() -> None:
    """One prints 75.7 at 20 °C; Greenspan has 75.47."""
    found = salt_humidity_pct(Salt.SODIUM_CHLORIDE, 20.0)

    assert found == pytest.approx(75.47, abs=0.015)  # as above
