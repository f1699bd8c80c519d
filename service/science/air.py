"""Moist air: saturation pressure, dew point, absolute humidity, humidity ratio, deficit.

One formula of saturation pressure carries all the others, and its inverse is exact, so that
every pair of functions here closes a round trip. All pressures are over liquid water, below
0 °C too, because hygrometers report humidity relative to water at every temperature. Water
vapour is taken as an ideal gas without an enhancement factor: at the pressure of the
atmosphere real moist air holds 0.3 to 0.5 % more vapour than these functions say, a fifth
of the error of a good sensor.

Give floats and get a float; give arrays of float and get an array of their common shape. NaN,
the mark of a gap, passes through. Nothing here knows a clock, a file or a database.
"""

from typing import TypeVar, cast

import numpy as np
import numpy.typing as npt

from service.errors import OutOfRangeError

FloatArray = npt.NDArray[np.float64]
Values = TypeVar("Values", float, FloatArray)
"""A float or an array: what comes out is what went in, an array if either was one."""

COLDEST_C = -100.0
"""Lower end of the formula of saturation pressure. [°C] Sonntag 1990."""
WARMEST_C = 100.0
"""Upper end of the formula of saturation pressure. [°C] Sonntag 1990."""
ATMOSPHERE_PA = 101_325.0
"""The standard atmosphere. [Pa] ISO 2533:1975."""
HUMIDITY_TOLERANCE_PCT = 0.5
"""How far a sensor may overshoot 0 or 100 and still mean it. [%RH] Our choice."""
ZERO_C_K = 273.15
"""0 °C on the absolute scale. [K]"""
GAS_CONSTANT_J_PER_MOL_K = 8.314462618
"""Molar gas constant. [J/(mol K)] CODATA 2018, exact since the SI of 2019."""

_PA_PER_HPA = 100.0
_G_PER_KG = 1_000.0

# Sonntag 1990, the equation for water: ln(e_w / hPa) = A/T + B + C T + D T² + E ln T, T in K.
_A = -6096.9385
_B = 16.635794 + float(np.log(_PA_PER_HPA))
_C = -2.711193e-2
_D = 1.673952e-5
_E = 2.433502

# Magnus form with the constants of WMO-No. 8, Annex 4.B; only the inverse starts from it.
_START_PA, _START_SLOPE, _START_C = 611.2, 17.62, 243.12

_NEWTON_STEPS = 3
"""The second step lands within 1e-9 K from -100 to 100 °C, the third on the last digit."""

_WATER_G_MOL = 18.015268
"""Molar mass of water. [g/mol] IAPWS-95 release."""
_DRY_AIR_G_MOL = 28.966
"""Molar mass of dry air. [g/mol] ASHRAE Fundamentals 2017, chapter 1."""


def saturation_pressure_pa(temperature_c: Values) -> Values:
    """Pressure of water vapour over a flat surface of liquid water.

    Within 0.006 % of IAPWS-95 from 0 to 30 °C and within 0.01 % up to 100 °C. Below 0 °C the
    water is supercooled, and from -40 °C up the formula stays within 0.7 % of Murphy and Koop.

    Args:
        temperature_c: Temperature of the water. [°C] From -100 to 100.

    Returns:
        Saturation pressure, rising strictly with temperature. [Pa]

    Raises:
        OutOfRangeError: A temperature lies outside -100 to 100 °C.

    References:
        Sonntag, D., Important new values of the physical constants of 1986, vapour pressure
        formulations based on the ITS-90, and psychrometer formulae, Zeitschrift für
        Meteorologie 70 (1990) 340-344, equation for water.

    Examples:
        >>> round(saturation_pressure_pa(10.0), 1)
        1228.1
    """
    return _as_given(_saturation_pa(temperature_c), temperature_c)


def saturation_temperature_c(vapour_pressure_pa: Values) -> Values:
    """Temperature at which water of this vapour pressure is saturated: the dew point.

    The exact inverse of `saturation_pressure_pa`: there and back misses by less than 1e-9 K.
    Newton's method on ln(pressure) against 1/T, which is so nearly a straight line that a
    fixed number of steps serves the whole range.

    Args:
        vapour_pressure_pa: Partial pressure of water vapour. [Pa] From 0 to the saturation
            pressure at 100 °C.

    Returns:
        Dew point. [°C] NaN where it would lie below -100 °C: air that dry has none here.

    Raises:
        OutOfRangeError: A pressure is negative, or above saturation at 100 °C.

    References:
        Inverts Sonntag 1990, see `saturation_pressure_pa`.

    Examples:
        >>> round(saturation_temperature_c(saturation_pressure_pa(12.8)), 9)
        12.8
    """
    pressure = _within(vapour_pressure_pa, 0.0, _HIGHEST_PA, "vapour pressure", "Pa")
    return _as_given(_saturation_c(pressure), vapour_pressure_pa)


def vapour_pressure_pa(
    temperature_c: Values | float, relative_humidity_pct: Values | float
) -> Values:
    """Partial pressure of the water vapour in air.

    Sensors overshoot: up to 0.5 %RH beyond 0 or 100 counts as 0 or 100, here and in every
    function below that takes a relative humidity.

    Args:
        temperature_c: Temperature of the air. [°C] From -100 to 100.
        relative_humidity_pct: Relative humidity over water. [%] From 0 to 100.

    Returns:
        Vapour pressure, never above saturation at that temperature. [Pa]

    Raises:
        OutOfRangeError: A temperature or a humidity lies outside its range.

    References:
        Definition of relative humidity, WMO-No. 8, Annex 4.B, without enhancement factor.

    Examples:
        >>> round(vapour_pressure_pa(10.0, 85.0), 1)
        1043.9
    """
    vapour = _vapour_pa(temperature_c, relative_humidity_pct)
    return _as_given(vapour, temperature_c, relative_humidity_pct)


def dew_point_c(temperature_c: Values | float, relative_humidity_pct: Values | float) -> Values:
    """Temperature to which air must cool before it drips: a wheel or lid colder than it sweats.

    The formula is used twice, there and back, so its own error nearly cancels: within 0.007 K
    of real moist air from 1 to 35 °C and 20 to 100 %RH.

    Args:
        temperature_c: Temperature of the air. [°C] From -100 to 100.
        relative_humidity_pct: Relative humidity over water. [%] From 0 to 100.

    Returns:
        Dew point over water, never above `temperature_c`. [°C] NaN where it would lie below
        -100 °C, as at 0 %RH.

    Raises:
        OutOfRangeError: A temperature or a humidity lies outside its range.

    References:
        Sonntag 1990, see `saturation_pressure_pa`.

    Examples:
        >>> round(dew_point_c(10.0, 85.0), 2)
        7.6
        >>> dew_point_c(10.0, 100.0)
        10.0
    """
    vapour = _vapour_pa(temperature_c, relative_humidity_pct)
    # At 100 %RH the last digit of the inverse may land above the temperature it came from.
    dew_point = np.minimum(_saturation_c(vapour), temperature_c)
    return _as_given(dew_point, temperature_c, relative_humidity_pct)


def relative_humidity_pct_from_dew_point(
    temperature_c: Values | float, dew_point_c: Values | float
) -> Values:
    """Relative humidity of air whose dew point is known; the mirror of `dew_point_c`.

    Args:
        temperature_c: Temperature of the air. [°C] From -100 to 100.
        dew_point_c: Dew point over water. [°C] From -100 to 100.

    Returns:
        Relative humidity over water. [%] Above 100 where the dew point lies above the
        temperature, which is air more than saturated.

    Raises:
        OutOfRangeError: A temperature or a dew point lies outside its range.

    References:
        Sonntag 1990, see `saturation_pressure_pa`.

    Examples:
        >>> round(relative_humidity_pct_from_dew_point(20.0, 9.27), 1)
        50.0
    """
    humidity = 100 * _saturation_pa(dew_point_c, "dew point") / _saturation_pa(temperature_c)
    return _as_given(humidity, temperature_c, dew_point_c)


def absolute_humidity_g_m3(
    temperature_c: Values | float, relative_humidity_pct: Values | float
) -> Values:
    """Mass of water vapour in a cubic metre of air: what a dry cave lacks, in grams.

    Args:
        temperature_c: Temperature of the air. [°C] From -100 to 100.
        relative_humidity_pct: Relative humidity over water. [%] From 0 to 100.

    Returns:
        Vapour mass by volume, as an ideal gas: about 0.45 % below real moist air at the
        standard atmosphere. [g/m³]

    Raises:
        OutOfRangeError: A temperature or a humidity lies outside its range.

    References:
        Ideal gas law; molar gas constant CODATA 2018, molar mass of water IAPWS-95.

    Examples:
        >>> round(absolute_humidity_g_m3(10.0, 85.0), 2)
        7.99
    """
    vapour = _vapour_pa(temperature_c, relative_humidity_pct)
    kelvin = np.asarray(temperature_c, dtype=np.float64) + ZERO_C_K
    density = vapour * _WATER_G_MOL / (GAS_CONSTANT_J_PER_MOL_K * kelvin)
    return _as_given(density, temperature_c, relative_humidity_pct)


def humidity_ratio_kg_kg(
    temperature_c: Values | float,
    relative_humidity_pct: Values | float,
    pressure_pa: float = ATMOSPHERE_PA,
) -> Values:
    """Mass of water vapour to a mass of dry air: what stays the same when air only cools.

    Args:
        temperature_c: Temperature of the air. [°C] From -100 to 100.
        relative_humidity_pct: Relative humidity over water. [%] From 0 to 100.
        pressure_pa: Pressure of the moist air. [Pa] Above the vapour's own.

    Returns:
        Humidity ratio without enhancement factor: up to 0.5 % below real moist air at the
        standard atmosphere. [kg/kg]

    Raises:
        OutOfRangeError: A temperature or a humidity lies outside its range, or the vapour
            alone would have the given pressure or more.

    References:
        ASHRAE Handbook of Fundamentals 2017, chapter 1, equation for the humidity ratio.

    Examples:
        >>> round(humidity_ratio_kg_kg(10.0, 85.0), 5)
        0.00647
    """
    vapour = _vapour_pa(temperature_c, relative_humidity_pct)
    if (vapour >= pressure_pa).any():
        raise OutOfRangeError(
            f"pressure {pressure_pa:g} Pa is not above the vapour's own {vapour.max():g} Pa; "
            "give the pressure of the whole air in Pa"
        )
    ratio = _WATER_G_MOL / _DRY_AIR_G_MOL * vapour / (pressure_pa - vapour)
    return _as_given(ratio, temperature_c, relative_humidity_pct)


def vapour_deficit_pa(
    temperature_c: Values | float, relative_humidity_pct: Values | float
) -> Values:
    """How much more vapour pressure the air could take up: what pulls water from a rind.

    Args:
        temperature_c: Temperature of the air. [°C] From -100 to 100.
        relative_humidity_pct: Relative humidity over water. [%] From 0 to 100.

    Returns:
        Saturation pressure less vapour pressure, never below zero. [Pa]

    Raises:
        OutOfRangeError: A temperature or a humidity lies outside its range.

    References:
        Sonntag 1990, see `saturation_pressure_pa`.

    Examples:
        >>> round(vapour_deficit_pa(10.0, 85.0), 1)
        184.2
    """
    deficit = _saturation_pa(temperature_c) * (1 - _humidity(relative_humidity_pct) / 100)
    return _as_given(deficit, temperature_c, relative_humidity_pct)


def _ln_pressure(kelvin: FloatArray) -> FloatArray:
    """Natural logarithm of Sonntag's pressure in Pa."""
    return _A / kelvin + _B + kelvin * (_C + _D * kelvin) + _E * np.log(kelvin)


# The ends in pressure. They are wider by one part in 1e12, so that a rounded pressure of the
# coldest or warmest temperature itself still finds its way back.
_LOWEST_PA, _HIGHEST_PA = (
    np.exp(_ln_pressure(np.array([COLDEST_C, WARMEST_C]) + ZERO_C_K)) * [1 - 1e-12, 1 + 1e-12]
).tolist()


def _saturation_pa(temperature_c: float | FloatArray, name: str = "temperature") -> FloatArray:
    """Saturation pressure as an array, its argument checked."""
    temperature = _within(temperature_c, COLDEST_C, WARMEST_C, name, "°C")
    pressure: FloatArray = np.exp(_ln_pressure(temperature + ZERO_C_K))
    return pressure


def _saturation_c(pressure_pa: FloatArray) -> FloatArray:
    """Newton's inverse of `_saturation_pa`; NaN below its range."""
    ln_pressure = np.log(np.where(pressure_pa >= _LOWEST_PA, pressure_pa, np.nan))
    above_start = ln_pressure - np.log(_START_PA)
    kelvin: FloatArray = ZERO_C_K + _START_C * above_start / (_START_SLOPE - above_start)
    for _ in range(_NEWTON_STEPS):
        # The slope is d ln(e) / d(1/T) = -T² d ln(e) / dT.
        slope = _A - kelvin * (_E + kelvin * (_C + 2 * _D * kelvin))
        kelvin = 1 / (1 / kelvin - (_ln_pressure(kelvin) - ln_pressure) / slope)
    return kelvin - ZERO_C_K


def _vapour_pa(
    temperature_c: float | FloatArray, relative_humidity_pct: float | FloatArray
) -> FloatArray:
    """Vapour pressure as an array, its arguments checked."""
    return _saturation_pa(temperature_c) * _humidity(relative_humidity_pct) / 100


def _humidity(relative_humidity_pct: float | FloatArray) -> FloatArray:
    """Relative humidity with a sensor's overshoot cut off."""
    low, high = -HUMIDITY_TOLERANCE_PCT, 100 + HUMIDITY_TOLERANCE_PCT
    return np.clip(_within(relative_humidity_pct, low, high, "relative humidity", "%"), 0, 100)


def _within(given: float | FloatArray, low: float, high: float, name: str, unit: str) -> FloatArray:
    """The values as an array, or the error that names the first one out of range."""
    values = np.asarray(given, dtype=np.float64)
    outside = (values < low) | (values > high)
    if outside.any():
        raise OutOfRangeError(
            f"{name} {values[outside].flat[0]:g} {unit} is outside {low:g} to {high:g} {unit}; "
            "leave such readings out, or check their unit"
        )
    return values


def _as_given(result: FloatArray, *given: Values | float) -> Values:
    """A float when only single values were given, the array otherwise."""
    single = all(np.ndim(values) == 0 for values in given)
    return cast("Values", float(result) if single else result)
