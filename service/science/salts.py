"""Saturated salts: the humidity that air takes over a slurry of a salt, by temperature.

A slurry with undissolved salt in a small sealed space holds the air above it at a humidity
that depends on the salt and hardly on the temperature: the yardstick for a humidity sensor.
Nothing here knows a sensor or a test.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import cast

import numpy as np
import numpy.typing as npt

from service.errors import OutOfRangeError
from service.science.air import Values

FloatArray = npt.NDArray[np.float64]

COLDEST_C = 0.0
"""Lower end of the polynomials as used here. [°C]"""
WARMEST_C = 50.0
"""Upper end of the polynomials as used here. [°C]"""


class Salt(StrEnum):
    """The salts that are known here, by formula."""

    LITHIUM_CHLORIDE = "LiCl"
    MAGNESIUM_CHLORIDE = "MgCl2"
    SODIUM_CHLORIDE = "NaCl"
    POTASSIUM_CHLORIDE = "KCl"
    POTASSIUM_SULPHATE = "K2SO4"


@dataclass(frozen=True, slots=True)
class _FixedPoint:
    """Coefficients of the polynomial, rising powers of °C, and uncertainties at `_TABLE_C`."""

    coefficients: tuple[float, float, float, float]
    uncertainty_pct: tuple[float, ...]


_TABLE_C = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0)

# Greenspan 1977, polynomials by transcription; the linear term of LiCl has a plus, which his
# own table demands and two of three transcriptions lack. Uncertainties: his table 2, from
# memory, not checked against print; they are used as standard uncertainties, the safe side.
_POINTS = {
    Salt.LITHIUM_CHLORIDE: _FixedPoint(
        (11.2323, 0.00824245, -2.14890e-4, 0.0),
        (0.54, 0.47, 0.41, 0.35, 0.31, 0.27, 0.24),
    ),
    Salt.MAGNESIUM_CHLORIDE: _FixedPoint(
        (33.6686, -0.00797397, -1.08988e-3, 0.0),
        (0.33, 0.28, 0.24, 0.21, 0.18, 0.16, 0.14),
    ),
    Salt.SODIUM_CHLORIDE: _FixedPoint(
        (75.5164, 0.0398321, -2.65459e-3, 2.848e-5),
        (0.34, 0.27, 0.22, 0.18, 0.14, 0.12, 0.11),
    ),
    Salt.POTASSIUM_CHLORIDE: _FixedPoint(
        (88.6190, -0.193340, 8.99706e-4, 0.0),
        (0.53, 0.45, 0.39, 0.33, 0.29, 0.26, 0.25),
    ),
    Salt.POTASSIUM_SULPHATE: _FixedPoint(
        (98.7792, -0.0590502, 0.0, 0.0),
        (1.1, 0.91, 0.76, 0.63, 0.53, 0.45, 0.40),
    ),
}

# What a maker may write for each, folded to letters and digits.
_NAMES = {
    Salt.LITHIUM_CHLORIDE: ("lithiumchloride",),
    Salt.MAGNESIUM_CHLORIDE: ("magnesiumchloride", "nigari"),
    Salt.SODIUM_CHLORIDE: (
        "salt",
        "sodiumchloride",
        "tablesalt",
        "cookingsalt",
        "kitchensalt",
        "cheesesalt",
        "rocksalt",
        "seasalt",
    ),
    Salt.POTASSIUM_CHLORIDE: ("potassiumchloride",),
    Salt.POTASSIUM_SULPHATE: ("potassiumsulphate", "potassiumsulfate"),
}
_BY_NAME = {
    name: salt for salt, names in _NAMES.items() for name in (salt.value.casefold(), *names)
}
_SUBSCRIPTS = str.maketrans("₂₄", "24")


def salt_named(text: str) -> Salt:
    """The salt that a maker means.

    Capitals, spaces, hyphens and subscript digits do not matter.

    Args:
        text: A formula or a name, such as "NaCl", "K₂SO₄" or "table salt".

    Returns:
        The salt.

    Raises:
        OutOfRangeError: No salt of that name is known here.

    Examples:
        >>> salt_named("Table salt").value
        'NaCl'
    """
    folded = "".join(c for c in text.translate(_SUBSCRIPTS).casefold() if c.isalnum())
    try:
        return _BY_NAME[folded]
    except KeyError:
        known = ", ".join(salt.value for salt in Salt)
        raise OutOfRangeError(
            f'no saturated salt is known as "{text}"; write one of {known}, or table salt'
        ) from None


def salt_humidity_pct(salt: Salt, temperature_c: Values) -> Values:
    """Relative humidity of the air over a saturated slurry of a salt.

    Holds for a pure salt, with undissolved salt at the bottom, in a small sealed space of one
    temperature. Poor preparation costs more than all the uncertainty of the values.

    Args:
        salt: Which salt.
        temperature_c: Temperature of slurry and air. [°C] From 0 to 50.

    Returns:
        Relative humidity over water. [%] NaN where the temperature is NaN.

    Raises:
        OutOfRangeError: A temperature lies outside 0 to 50 °C.

    References:
        L. Greenspan, Humidity fixed points of binary saturated aqueous solutions, J. Res. NBS
        81A (1977) 89-96: polynomials, as transcribed in three public programs, with the sign
        of the linear term of LiCl as his table 2 demands.

    Examples:
        >>> round(salt_humidity_pct(Salt.SODIUM_CHLORIDE, 12.0), 2)
        75.66
    """
    temperature = _within(temperature_c)
    a0, a1, a2, a3 = _POINTS[salt].coefficients
    humidity = a0 + temperature * (a1 + temperature * (a2 + temperature * a3))
    return cast(Values, humidity if humidity.ndim else float(humidity))


def salt_uncertainty_pct(salt: Salt, temperature_c: Values) -> Values:
    """Standard uncertainty of the humidity over a well prepared slurry.

    On straight lines between the entries of the table; above 30 °C the entry of 30 °C, which
    is on the safe side, for the uncertainty falls with temperature.

    Args:
        salt: Which salt.
        temperature_c: Temperature of slurry and air. [°C] From 0 to 50.

    Returns:
        Standard uncertainty. [%RH]

    Raises:
        OutOfRangeError: A temperature lies outside 0 to 50 °C.

    References:
        Greenspan 1977, table 2, the ± column, from memory and not checked. Whether it means
        one or two standard deviations was not seen; it is taken as one, the safe side.

    Examples:
        >>> round(salt_uncertainty_pct(Salt.SODIUM_CHLORIDE, 12.5), 2)
        0.2
    """
    temperature = _within(temperature_c)
    uncertainty = np.interp(temperature, _TABLE_C, _POINTS[salt].uncertainty_pct)
    uncertainty = np.where(np.isnan(temperature), np.nan, uncertainty)
    return cast(Values, uncertainty if uncertainty.ndim else float(uncertainty))


def _within(temperature_c: float | FloatArray) -> FloatArray:
    """The temperatures as an array, all inside the range of the polynomials."""
    temperature = np.asarray(temperature_c, dtype=np.float64)
    bad = temperature[(temperature < COLDEST_C) | (temperature > WARMEST_C)]
    if bad.size:
        raise OutOfRangeError(
            f"a temperature of {float(bad.flat[0]):g} °C; saturated salts are known from "
            f"{COLDEST_C:g} to {WARMEST_C:g} °C, so test the sensor in that range"
        )
    return temperature
