"""Saturated salts by the names that makers write, and their range."""

import numpy as np
import pytest

from service.errors import OutOfRangeError
from service.science.salts import Salt, salt_humidity_pct, salt_named, salt_uncertainty_pct


@pytest.mark.parametrize(
    ("written", "salt"),
    [
        ("NaCl", Salt.SODIUM_CHLORIDE),
        ("nacl", Salt.SODIUM_CHLORIDE),
        ("table salt", Salt.SODIUM_CHLORIDE),
        ("Table-Salt", Salt.SODIUM_CHLORIDE),
        ("salt", Salt.SODIUM_CHLORIDE),
        ("sodium chloride", Salt.SODIUM_CHLORIDE),
        ("KCl", Salt.POTASSIUM_CHLORIDE),
        ("Potassium chloride", Salt.POTASSIUM_CHLORIDE),
        ("K₂SO₄", Salt.POTASSIUM_SULPHATE),
        ("potassium sulfate", Salt.POTASSIUM_SULPHATE),
        ("MgCl2", Salt.MAGNESIUM_CHLORIDE),
        ("LiCl", Salt.LITHIUM_CHLORIDE),
    ],
)
def test_a_salt_is_known_by_what_a_maker_writes(written: str, salt: Salt) -> None:
    assert salt_named(written) is salt


@pytest.mark.parametrize("written", ["", "sugar", "KNO3", "Na Cl 2"])
def test_another_salt_is_refused_with_the_names_that_are_known(written: str) -> None:
    with pytest.raises(OutOfRangeError, match="LiCl, MgCl2, NaCl, KCl, K2SO4"):
        salt_named(written)


@pytest.mark.parametrize("temperature_c", [-0.1, 50.1])
def test_temperatures_outside_the_polynomials_are_refused(temperature_c: float) -> None:
    with pytest.raises(OutOfRangeError, match="from 0 to 50"):
        salt_humidity_pct(Salt.SODIUM_CHLORIDE, temperature_c)


def test_ends_of_the_range_belong_to_it() -> None:
    ends = salt_humidity_pct(Salt.POTASSIUM_CHLORIDE, np.array([0.0, 50.0]))

    assert np.isfinite(ends).all()


def test_gaps_pass_through() -> None:
    gap = np.array([np.nan, 12.0])

    assert np.isnan(salt_humidity_pct(Salt.SODIUM_CHLORIDE, gap)).tolist() == [True, False]
    assert np.isnan(salt_uncertainty_pct(Salt.SODIUM_CHLORIDE, gap)).tolist() == [True, False]


def test_uncertainty_above_the_table_is_that_of_its_end() -> None:
    assert salt_uncertainty_pct(Salt.SODIUM_CHLORIDE, 45.0) == 0.11
