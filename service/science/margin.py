"""How far a wheel is from sweating, now and in the hours ahead.

The margin is the surface's temperature less the dew point of the air; below zero it sweats.
Ahead, the dew point and the air go on as they lately went, ever more slowly, and the surface
follows the air with the lag of the wheel. The band comes from how well the same rule would
have foretold the hours just past.
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import theilslopes  # type: ignore[import-untyped]  # scipy ships no types

from service.errors import OutOfRangeError
from service.science.air import FloatArray
from service.science.signals import US_PER_S, IntArray

_US_PER_H = 3_600 * US_PER_S
RECENT_H = 6.0
"""Length of the past that shows the trend. [h] Our choice: several cooling cycles, a quarter
of a day's swing."""
FADES_H = 6.0
"""Time in which a trend loses all but 1/e of its force. [h] Our choice: rooms turn back."""
_POINTS = 24
_BAND_Z = 1.6448536269514722
_LEAST = 8
_CHILL = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class MarginAhead:
    """The margin in hours to come, an estimate.

    Attributes:
        hours: From the last instant on. [h]
        margin_k: Surface less dew point: as likely too high as too low. [K]
        low_k: Lower end of the 90 % band. [K]
        high_k: Upper end. [K]
        chill_k: How far cooling cycles and openings take the margin below its trend. [K]
    """

    hours: FloatArray
    margin_k: FloatArray
    low_k: FloatArray
    high_k: FloatArray
    chill_k: float

    def sweats_in_h(self) -> float | None:
        """Hours until the margin is expected to touch zero in a cycle; None if it is not. [h]"""
        return self._first_h(self.margin_k)

    def sweats_between_h(self) -> tuple[float, float | None] | None:
        """The early and the late end of that time; late is None if it may stay dry. [h]

        None where it is not expected to sweat.
        """
        expected = self.sweats_in_h()
        if expected is None:
            return None
        early, late = self._first_h(self.low_k), self._first_h(self.high_k)
        return (expected if early is None else early), late

    def _first_h(self, margin_k: FloatArray) -> float | None:
        below = np.flatnonzero(margin_k - self.chill_k <= 0)
        return float(self.hours[below[0]]) if below.size else None


def margin_k(surface_c: FloatArray, dew_point_c: FloatArray) -> FloatArray:
    """Surface less dew point. [K] Below zero the surface sweats.

    Examples:
        >>> margin_k(np.array([9.0]), np.array([9.5])).tolist()
        [-0.5]
    """
    return surface_c - dew_point_c


def margin_ahead(
    times_us: IntArray,
    air_c: FloatArray,
    surface_c: FloatArray,
    dew_point_c: FloatArray,
    lag_s: float,
    hours: FloatArray,
) -> MarginAhead:
    """The margin to come, from the trend of the last hours and the lag of the wheel.

    Slopes are the medians of Theil and Sen over quarter-hour means, so that one opening of the
    door does not make a trend. It foretells nothing that has not begun.

    Args:
        times_us: Instants up to now, rising. [µs UTC]
        air_c: Air, NaN where not known. [°C]
        surface_c: Surface of the wheel. [°C]
        dew_point_c: Dew point of the air, NaN where not known. [°C]
        lag_s: Time in which the surface follows the air but for 1/e. [s] Above zero; the
            slowest time constant of the wheel is the cautious choice.
        hours: How far ahead, rising. [h]

    Returns:
        Margin with its band.

    Raises:
        OutOfRangeError: Too little is known of the last hours, or the lag is none.

    References:
        Theil-Sen slope: Sen, J. Amer. Statist. Assoc. 63 (1968) 1379-1389. The fading of the
        trend is our choice.
    """
    if lag_s <= 0:
        raise OutOfRangeError(f"a lag of {lag_s:g} s; give the wheel's time constant, above zero")
    lag_h = lag_s / 3_600
    ages_h = (times_us - times_us[-1]) / _US_PER_H
    past = (ages_h >= -2 * RECENT_H) & np.isfinite(air_c + surface_c + dew_point_c)
    slot = np.floor(-ages_h[past] * _POINTS / RECENT_H).astype(np.int64)
    counts = np.bincount(slot, minlength=1)
    filled = counts > 0
    means = [
        np.bincount(slot, weights=values[past])[filled] / counts[filled]
        for values in (ages_h, air_c, surface_c, dew_point_c)
    ]
    age, air, surface, dew = (values[::-1] for values in means)
    recent = age >= -RECENT_H
    if np.count_nonzero(recent) < _LEAST:
        raise OutOfRangeError(
            f"only {np.count_nonzero(recent)} quarters of an hour are known of the last "
            f"{RECENT_H:g} h; wait for {_LEAST}"
        )
    ahead = _ahead(age[recent], air[recent], surface[recent], dew[recent], lag_h, hours)
    miss_k, miss_h = _missed(age, air, surface, dew, lag_h)
    late = past & (ages_h >= -RECENT_H)
    margin = margin_k(surface_c[late], dew_point_c[late])
    slope, now = _trend(age[recent], margin_k(surface[recent], dew[recent]))
    chill = -float(np.quantile(margin - now - slope * (ages_h[late] - age[-1]), _CHILL))
    # A miss grows as the root of time, as that of any walk does.
    half = _BAND_Z * miss_k * np.sqrt(np.maximum(hours, 0.25) / miss_h)
    return MarginAhead(hours, ahead, ahead - half, ahead + half, max(0.0, chill))


def _ahead(
    age: FloatArray,
    air: FloatArray,
    surface: FloatArray,
    dew: FloatArray,
    lag_h: float,
    hours: FloatArray,
) -> FloatArray:
    """The margin after so many hours, seen from the last of the points given."""
    air_slope, air_now = _trend(age, air)
    dew_slope, dew_now = _trend(age, dew)
    surface_now = _trend(age, surface)[1]
    # Evaporation holds the surface a little off the air; that part is taken to stay. It is the
    # departure beyond what the lag behind the trend explains.
    hold = float(np.median(surface - air)) + air_slope * lag_h
    grown = FADES_H * -np.expm1(-hours / FADES_H)
    # The surface follows air + slope * FADES_H * (1 - exp(-t / FADES_H)), a first-order lag.
    rest = air_now + hold
    lagged = 1 - np.exp(-hours / lag_h)
    if abs(FADES_H - lag_h) < 1e-6 * FADES_H:
        both = hours / lag_h * np.exp(-hours / lag_h)
    else:
        both = FADES_H / (FADES_H - lag_h) * (np.exp(-hours / FADES_H) - np.exp(-hours / lag_h))
    follows = surface_now + (rest - surface_now) * lagged
    follows = follows + air_slope * FADES_H * (lagged - both)
    return margin_k(follows, dew_now + dew_slope * grown)


def _trend(age: FloatArray, values: FloatArray) -> tuple[float, float]:
    """Slope an hour, and the value now that the slope and the points agree on."""
    slope = float(theilslopes(values, age)[0])
    return slope, float(np.median(values - slope * (age - age[-1])))


def _missed(
    age: FloatArray, air: FloatArray, surface: FloatArray, dew: FloatArray, lag_h: float
) -> tuple[float, float]:
    """How far the rule would have missed from midway on, and over how long. [K, h]"""
    split = int(np.searchsorted(age, age[-1] - RECENT_H / 2))
    if split < _LEAST:
        # With no past to try the rule on, the scatter of the points has to serve.
        return max(0.1, float(np.std(surface - dew))), RECENT_H / 2
    earlier = slice(max(0, split - _POINTS), split)
    later = slice(split, None)
    told = _ahead(
        age[earlier],
        air[earlier],
        surface[earlier],
        dew[earlier],
        lag_h,
        age[later] - age[split - 1],
    )
    miss = float(np.sqrt(np.mean((told - margin_k(surface[later], dew[later])) ** 2)))
    return max(0.1, miss), RECENT_H / 4
