"""The sums of a make day: setting time, salt, brine, yield, and timers. Plain values only.

A timer is what the store holds, when it was started and for how long; what is left of it is
worked out from the time that is passed in, so that no closed phone stops it.
"""

from bisect import bisect_right
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.errors import OutOfRangeError

_US_PER_S: Final = 1_000_000
_FLOCCULATION_S: Final = (60.0, 3 * 3_600.0)
_MULTIPLIER: Final = (1.0, 10.0)
"""Our choice, both: wide enough for any rennet curd; they catch minutes typed as seconds."""
_DRY_SALT_PCT: Final = (0.0, 15.0)
"""Our choice: wide enough for any cheese."""

SATURATED_BRINE_PCT: Final = 26.4
"""Salt in saturated brine at 20 °C, by mass: 35.9 g in 100 g of water (handbook of chemistry
and physics, from memory). [%]"""

_STRENGTHS_PCT: Final = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 26.4)
_DENSITIES_KG_L: Final = (0.9982, 1.0340, 1.0707, 1.1085, 1.1478, 1.1887, 1.2004)
"""Density of brine at 20 °C by strength, from memory of handbook tables; the tests compare it
with CoolProp. Straight lines between agree with it within 0.04 % up to 23 %. [kg/l]"""


@dataclass(frozen=True, slots=True)
class SettingTime:
    """When a curd is ready to be cut. [s]

    Attributes:
        flocculation_s: From rennet to the first flocks. [s]
        multiplier: Of the flocculation time, by style. [1]
        total_s: From rennet to the cut. [s]
        left_s: From the first flocks to the cut. [s]
    """

    flocculation_s: float
    multiplier: float
    total_s: float
    left_s: float


def setting_time(flocculation_s: float, multiplier: float) -> SettingTime:
    """The setting time: flocculation time times multiplier, and what is left of it.

    Args:
        flocculation_s: From rennet to the first flocks. [s] 1 min to 3 h.
        multiplier: By style. [1] 1 to 10.

    Returns:
        The total, never below the flocculation time, and the rest.

    Raises:
        OutOfRangeError: A value lies outside its range.

    References:
        Common practice, no source.

    Examples:
        >>> setting_time(13 * 60 + 19, 4).left_s / 60
        39.95
    """
    least, most = _FLOCCULATION_S
    if not least <= flocculation_s <= most:
        raise OutOfRangeError(
            f"a flocculation time of {flocculation_s:g} s cannot be; it takes from 1 min to 3 h"
        )
    least, most = _MULTIPLIER
    if not least <= multiplier <= most:
        raise OutOfRangeError(
            f"a multiplier of {multiplier:g} cannot be; it lies between {least:g} and {most:g}"
        )
    total_s = flocculation_s * multiplier
    return SettingTime(flocculation_s, multiplier, total_s, total_s - flocculation_s)


def dry_salt_g(curd_g: float, salt_pct: float) -> float:
    """Salt for a mass of drained curd, as a percentage of it. [g]

    Raises:
        OutOfRangeError: The curd weighs nothing, or the percentage is none of dry salting.

    Examples:
        >>> dry_salt_g(1_200, 2.0)
        24.0
    """
    if curd_g <= 0:
        raise OutOfRangeError("the curd must weigh something")
    least, most = _DRY_SALT_PCT
    if not least <= salt_pct <= most:
        raise OutOfRangeError(
            f"{salt_pct:g} % salt cannot be; dry salting takes {least:g} to {most:g} % of the curd"
        )
    return curd_g * salt_pct / 100


@dataclass(frozen=True, slots=True)
class Brine:
    """What goes into a brine, and how much it makes.

    Attributes:
        salt_g: Salt. [g]
        water_g: Water. [g]
        volume_l: Of the brine at 20 °C, within 0.1 % up to a strength of 23 %. [l]
    """

    salt_g: float
    water_g: float
    volume_l: float


def brine_from_water(water_g: float, strength_pct: float) -> Brine:
    """The brine that so much water makes, by mass: exact but for its volume.

    Raises:
        OutOfRangeError: There is no such brine.

    Examples:
        >>> brine_from_water(4_000, 20.0).salt_g
        1000.0
    """
    _check_brine(water_g, strength_pct)
    salt_g = water_g * strength_pct / (100 - strength_pct)
    mass_kg = (water_g + salt_g) / 1_000
    return Brine(salt_g, water_g, mass_kg / _brine_density_kg_l(strength_pct))


def _check_brine(amount: float, strength_pct: float) -> None:
    if amount <= 0:
        raise OutOfRangeError("a brine needs some water")
    if not 0 <= strength_pct <= SATURATED_BRINE_PCT:
        raise OutOfRangeError(
            f"a brine of {strength_pct:g} % cannot be; at 20 °C water takes up salt to"
            f" {SATURATED_BRINE_PCT:g} % of the brine's mass"
        )


def _brine_density_kg_l(strength_pct: float) -> float:
    last = len(_STRENGTHS_PCT) - 2
    at = min(bisect_right(_STRENGTHS_PCT, strength_pct) - 1, last)
    low, high = _STRENGTHS_PCT[at : at + 2]
    part = (strength_pct - low) / (high - low)
    return _DENSITIES_KG_L[at] + part * (_DENSITIES_KG_L[at + 1] - _DENSITIES_KG_L[at])


def yield_pct(cheese_g: float, milk_l: float) -> float:
    """Cheese from milk: kilograms from 100 litres, which makers call per cent.

    One kilogram from 10 l is 10 %. It is mass by volume, so a little more than mass by mass.

    Raises:
        OutOfRangeError: There is no milk, or less than no cheese.

    Examples:
        >>> yield_pct(1_250, 10)
        12.5
    """
    if milk_l <= 0 or cheese_g < 0:
        raise OutOfRangeError("a yield needs milk and cheese")
    return cheese_g / 1_000 / milk_l * 100


class TimerState(StrEnum):
    """How a timer stands."""

    RUNNING = "running"
    RAN_OUT = "ran out"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class Timer:
    """A timer of a make day.

    Attributes:
        id: Its number.
        name: What is to be done when it runs out.
        started_us: From when it counts. [µs UTC]
        duration_s: For how long. [s]
        stopped_us: When the maker stopped it, or saw that it had run out; None until
            then. [µs UTC]
    """

    id: int
    name: str
    started_us: int
    duration_s: float
    stopped_us: int | None

    @property
    def ends_us(self) -> int:
        """When it runs out. [µs UTC]"""
        return self.started_us + round(self.duration_s * _US_PER_S)

    def left_s(self, now_us: int) -> float:
        """What is left of it, never below zero. [s]"""
        until_us = now_us if self.stopped_us is None else self.stopped_us
        return max(0, self.ends_us - until_us) / _US_PER_S

    def state(self, now_us: int) -> TimerState:
        """How it stands at a time."""
        if self.stopped_us is not None:
            return TimerState.STOPPED
        return TimerState.RAN_OUT if now_us >= self.ends_us else TimerState.RUNNING
