"""Where a cave's water goes: recovery after an opening, air exchange, grams a day for the tray.

All of it is an estimate from one sensor, and carries a wide range. What the maker pours into
the tray, weighed, is worth more than anything here. Nothing here knows a clock, a file or a
database.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.errors import OutOfRangeError
from service.science.air import FloatArray, absolute_humidity_g_m3, vapour_pressure_pa
from service.science.cycles import Cycles
from service.science.openings import Opening
from service.science.signals import US_PER_S, IntArray

_S_PER_DAY: Final = 86_400.0
_S_PER_H: Final = 3_600.0
_FASTEST_S: Final = 60.0
_SLOWEST_S: Final = 43_200.0
"""Time constants that are looked for: a minute to half a day, our choice."""
_TRIED: Final = 96
"""Time constants tried between them: each 7 % above the last."""
_WINDOW_S: Final = 10_800.0
"""A recovery is followed for so long, or three cycles. [s] Our choice."""
_WARM_PART: Final = 0.2
"""A recovery is read once the air's warmth has fallen to this part. Our choice."""
_FEWEST_READINGS: Final = 12
"""Readings of a recovery below which it is not fitted: twice the numbers fitted, our choice."""
_LEAST_PART: Final = 0.3
"""The recovery must explain this part of what the cycle leaves over. Our choice."""
_MODEL: Final = 1.0
"""Logarithm of the factor by which the model itself may be wrong, for nine cases in ten.

From simulated caves: what cools, dries and leaks at once is no single exponential.
"""
_SAME: Final = 1e-6
"""A column this close to the others, as a part of the largest, adds nothing."""
_Z_90: Final = 1.644854
_EXCHANGED: Final = (0.3, 0.7, 1.0)
"""Part of the air that one opening changes: low, expected, high. Our choice, no source."""
_SURFACES_S: Final = 30.0
"""Quickest that boards and plates of a small fridge take up vapour. [s] Our choice: Lewis's
relation for 2 m² about 0.1 m³."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value that is not measured: what is expected, and the range it may lie in."""

    expected: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Recovery:
    """How the vapour pressure comes back after openings: an estimate.

    Attributes:
        time_constant_s: Time in which the jump falls to 1/e, the door shut. [s]
        air_changes_per_h: One over it. [1/h] The most that the shut door leaks: boards, coil,
            tray and wheels bring the vapour back too, and mostly do nearly all of it.
        openings: How many openings it was read from.
    """

    time_constant_s: Estimate
    air_changes_per_h: Estimate
    openings: int


@dataclass(frozen=True, slots=True)
class Room:
    """The room around a cave, as far as it is known: temperature [°C], relative humidity [%]."""

    temperature_c: Estimate
    relative_humidity_pct: Estimate


UNKNOWN_ROOM: Final = Room(Estimate(18.0, 12.0, 23.0), Estimate(55.0, 40.0, 70.0))
"""A room that nobody measures: our choice for a house in a temperate land, no source."""


@dataclass(frozen=True, slots=True)
class WaterDay:
    """Water that leaves the cave's air in a day, and what the tray must give: estimates. [g/d]

    Attributes:
        openings: Through the open door; below zero where the room is damper than the cave.
        leak: Through gaps of the shut door; below zero likewise.
        cooling: Onto the cold plate, and so down the drain.
        tray: What must be given to hold the humidity; never below zero.
    """

    openings: Estimate
    leak: Estimate
    cooling: Estimate
    tray: Estimate


def recovery(
    times_us: IntArray,
    temperature_c: FloatArray,
    relative_humidity_pct: FloatArray,
    openings: Sequence[Opening],
    cycles: Cycles | None,
) -> Recovery | None:
    """How fast the vapour pressure comes back after the door was opened.

    Each recovery is an exponential; beside it stand what follows the temperature, its slope,
    and two harmonics of the cooling cycle. The median over the openings is taken, each weighed
    by how well it determines its time. Good to a factor of about two and a half on simulated
    caves, and the range says so. Surfaces that answer within a minute or two, as boards and a
    wet plate do, hide behind the sensor's lag: only the slow part is seen.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        temperature_c: Temperature of the air; NaN where not known. [°C]
        relative_humidity_pct: Relative humidity of the air; NaN where not known. [%]
        openings: Openings found in the same readings (`openings.door_openings`).
        cycles: The cycle of the same air, or None.

    Returns:
        The recovery, or None where no opening shows one beside the cycle.

    Raises:
        OutOfRangeError: A temperature or a humidity lies outside what `air` takes.

    References:
        Decay of a tracer in a well mixed space, ASTM E741 (from memory), with vapour as the
        tracer; it is no inert one.

    Examples:
        >>> times_us = np.arange(120) * 60 * US_PER_S
        >>> air, damp = np.full(120, 10.0), 80 - 20 * np.exp(-np.arange(120) / 20)
        >>> visit = Opening(0, 0, 1.0, -20.0, -200.0)
        >>> found = recovery(times_us, air, damp, [visit], None)
        >>> found is not None and round(found.time_constant_s.expected / 60)
        20
    """
    vapour = vapour_pressure_pa(temperature_c, relative_humidity_pct)
    known = ~np.isnan(vapour)
    times, air, vapour = times_us[known], temperature_c[known], vapour[known]
    longest_s = max(_WINDOW_S, 3 * cycles.period_s) if cycles else _WINDOW_S
    if not openings or not times.size:
        return None
    ends = [*(opening.time_us for opening in openings[1:]), int(times[-1]) + 1]
    fits: list[tuple[float, float]] = []
    for opening, next_us in zip(openings, ends, strict=True):
        start_us = _warmth_gone_us(times, air, opening)
        end_us = min(start_us + int(longest_s * US_PER_S), next_us)
        first, last = np.searchsorted(times, (start_us, end_us))
        seconds = (times[first:last] - start_us) / US_PER_S
        part = slice(first, last)
        fit = _fitted(seconds, air[part], vapour[part], cycles.period_s if cycles else None)
        if fit is not None:
            fits.append(fit)
    if not fits:
        return None
    time_constant = _weighed(np.array(fits))
    changes = Estimate(
        _S_PER_H / time_constant.expected,
        _S_PER_H / time_constant.high,
        _S_PER_H / time_constant.low,
    )
    return Recovery(time_constant, changes, len(fits))


def water_day(
    volume_m3: float,
    temperature_c: float,
    relative_humidity_pct: float,
    openings_per_day: float,
    cycles_per_day: float,
    vapour_swing_pa: float,
    found: Recovery | None,
    room: Room = UNKNOWN_ROOM,
    wheels_g_per_day: float = 0.0,
) -> WaterDay:
    """Grams of water that leave the cave's air in a day, and what the tray must give.

    The cold plate takes at least what the air loses in each cycle, and at most what all
    surfaces together could give back; the two are far apart, and the expected value is their
    geometric mean. Weigh what goes into the tray to know better.

    Args:
        volume_m3: Air of the cave. [m³] Above zero.
        temperature_c: Mean temperature of the air. [°C]
        relative_humidity_pct: Mean relative humidity. [%]
        openings_per_day: Openings of the door. [1/d]
        cycles_per_day: Cooling cycles. [1/d] Zero for a cellar.
        vapour_swing_pa: How far the vapour pressure falls in a cycle. [Pa]
        found: The recovery after openings, or None.
        room: The air outside.
        wheels_g_per_day: What the wheels themselves give off. [g/d]

    Returns:
        The four estimates.

    Raises:
        OutOfRangeError: A volume that is not above zero, or air outside its range.

    Examples:
        >>> day = water_day(0.14, 10.0, 88.0, 1.0, 40.0, 60.0, None)
        >>> day.tray.low < day.tray.expected < day.tray.high
        True
    """
    if volume_m3 <= 0:
        raise OutOfRangeError(f"a volume of {volume_m3:g} m³; give the cave's air in m³")
    inside = absolute_humidity_g_m3(temperature_c, relative_humidity_pct)
    dry, usual, damp = (
        absolute_humidity_g_m3(room_c, room_pct)
        for room_c, room_pct in zip(
            (room.temperature_c.low, room.temperature_c.expected, room.temperature_c.high),
            (
                room.relative_humidity_pct.low,
                room.relative_humidity_pct.expected,
                room.relative_humidity_pct.high,
            ),
            strict=True,
        )
    )
    lost = Estimate(inside - usual, inside - damp, inside - dry)
    opened = _times(lost, Estimate(_EXCHANGED[1], _EXCHANGED[0], _EXCHANGED[2]))
    # A shut door that leaks more than once an hour would be seen; our choice where unknown.
    leak_per_h = Estimate(0.3, 0.05, 1.0)
    if found is not None and found.air_changes_per_h.high < leak_per_h.high:
        most = found.air_changes_per_h.high
        leak_per_h = Estimate(min(0.3, 0.7 * most), 0.05 * most, most)
    through_door = _scaled(opened, volume_m3 * openings_per_day)
    through_gaps = _scaled(_times(lost, leak_per_h), 24 * volume_m3)
    grams_per_pa = volume_m3 * inside / vapour_pressure_pa(temperature_c, relative_humidity_pct)
    least = grams_per_pa * vapour_swing_pa * cycles_per_day
    most = 0.0
    if cycles_per_day > 0:
        deficit = absolute_humidity_g_m3(temperature_c, 100.0) - inside
        most = max(volume_m3 * deficit / _SURFACES_S * _S_PER_DAY, least)
    cooling = Estimate(math.sqrt(least * most), least, most)
    total = (
        through_door.expected + through_gaps.expected + cooling.expected - wheels_g_per_day,
        through_door.low + through_gaps.low + cooling.low - wheels_g_per_day,
        through_door.high + through_gaps.high + cooling.high - wheels_g_per_day,
    )
    tray = Estimate(*(max(grams, 0.0) for grams in total))
    return WaterDay(through_door, through_gaps, cooling, tray)


def _warmth_gone_us(times_us: IntArray, air: FloatArray, opening: Opening) -> int:
    """When most of the warmth of an opening is gone. [µs UTC]"""
    first, peak = np.searchsorted(times_us, (opening.time_us, opening.peak_us)).tolist()
    calm = air[max(first - 1, 0)] + _WARM_PART * opening.rise_k
    back = np.flatnonzero(air[peak:] <= calm)
    return int(times_us[peak + back[0]]) if back.size else int(times_us[-1])


def _fitted(
    seconds: FloatArray, air_c: FloatArray, vapour_pa: FloatArray, period_s: float | None
) -> tuple[float, float] | None:
    """Logarithm of the time constant of one recovery and its standard error, or None."""
    if seconds.size < _FEWEST_READINGS:
        return None
    # A thermometer that lags more than the hygrometer beside it makes a vapour pressure that
    # nobody had, in proportion to how fast the air changes.
    columns = [np.ones(seconds.size), air_c - air_c[0], np.gradient(air_c, seconds)]
    if period_s is not None:
        for harmonic in (1, 2):
            angle = 2 * np.pi * harmonic * seconds / period_s
            columns += [np.cos(angle), np.sin(angle)]
    beside = _directions(np.column_stack(columns))
    tried = np.geomspace(_FASTEST_S, _SLOWEST_S, _TRIED)
    decays = np.exp(-seconds[:, None] / tried)
    decays = decays - beside @ (beside.T @ decays)
    left = vapour_pa - beside @ (beside.T @ vapour_pa)
    power = np.sum(decays**2, axis=0)
    explained = np.divide((left @ decays) ** 2, power, out=np.zeros(_TRIED), where=power > 0)
    total = float(left @ left)
    best = int(np.argmax(explained))
    freedom = seconds.size - len(columns) - 2
    if total == 0 or explained[best] < _LEAST_PART * total or freedom < 1:
        return None
    # Where the sum of squares grows by its own share for one number lies one standard error.
    allowed = explained[best] - (total - explained[best]) / freedom
    near = np.flatnonzero(explained >= allowed)
    if near[0] == 0 or near[-1] == _TRIED - 1:
        return None
    step = math.log(tried[1] / tried[0])
    return math.log(tried[best]), max(0.5 * (near[-1] - near[0]), 0.5) * step


def _directions(columns: FloatArray) -> FloatArray:
    """Orthonormal directions of the columns; those that say nothing new are left out."""
    left, size, _ = np.linalg.svd(
        columns / np.maximum(np.linalg.norm(columns, axis=0), 1e-12), full_matrices=False
    )
    return left[:, : int(np.sum(size > _SAME * size[0]))]


def _weighed(fits: FloatArray) -> Estimate:
    """Weighed median of the time constants, with nine tenths of its range."""
    order = np.argsort(fits[:, 0])
    value, error = fits[order, 0], fits[order, 1]
    weight = np.cumsum(1 / error**2)
    middle = float(value[np.searchsorted(weight, 0.5 * weight[-1])])
    spread = 1.4826 * float(np.median(np.abs(value - middle)))
    # The median of n values is a quarter less sure than their mean.
    single = max(float(np.median(error)), spread)
    half = math.hypot(_Z_90 * 1.25 * single / math.sqrt(value.size), _MODEL)
    return Estimate(math.exp(middle), math.exp(middle - half), math.exp(middle + half))


def _times(first: Estimate, second: Estimate) -> Estimate:
    """Product of two estimates: the corners of their ranges."""
    corners = [a * b for a in (first.low, first.high) for b in (second.low, second.high)]
    return Estimate(first.expected * second.expected, min(corners), max(corners))


def _scaled(given: Estimate, factor: float) -> Estimate:
    """An estimate times a number that is known and not below zero."""
    return Estimate(given.expected * factor, given.low * factor, given.high * factor)
