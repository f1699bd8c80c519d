"""Openings of a door, seen from inside: temperature and vapour jump together.

An opening exchanges the air of the cave with that of the room within seconds, which no cooling
cycle does. Nothing here knows a clock, a file or a database; what an opening costs in water is
reckoned in `water`.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.science.air import vapour_pressure_pa
from service.science.signals import US_PER_MINUTE, US_PER_S, BoolArray, FloatArray, IntArray, runs

_SPAN_S: Final = 120.0
"""Time over which a jump is measured, and at least one step. [s] Our choice."""
_BLOCK_S: Final = 2_400.0
"""Each stretch of this length has its steepest rise; their median is the cycle's. [s]

Our choice: about one cycle. Fewer than half of the stretches may hold an opening.
"""
_JUMP: Final = 4.0
"""How far beyond the cycle's own rise a jump of temperature must go, in its scatter."""
_TOGETHER: Final = 3.0
"""How far the humidity or the vapour pressure must go with it."""
_STRONG: Final = 10.0
"""A humidity that jumps this far lets a smaller change of the temperature's course do.

All three are our choice, set on two generators that share no code.
"""
_FLOOR_K: Final = 0.02
_FLOOR_PCT: Final = 0.1
_FLOOR_PA: Final = 2.0
"""Scatter is never taken as less than this: the resolution of a good sensor."""
_SPIKE: Final = 4.0
_MOVE: Final = 2.0
"""A reading so many times as far outside both neighbours as usual stands alone; a step so many
times as large as usual is a move. Our choice."""
_SHARP_S: Final = 240.0
_SHARP_SHARE: Final = 0.35
"""At least this share of the rise comes within this time; a heater's defrost rises evenly.

Our choice: of an even rise over a quarter of an hour it is a fourth.
"""
_REACH_S: Final = 1_800.0
"""A rise is followed for at most this long."""


@dataclass(frozen=True, slots=True)
class Opening:
    """One opening of the door, estimated from the readings.

    Attributes:
        time_us: When the air began to change, between two readings. [µs UTC]
        peak_us: When the temperature was highest after it. [µs UTC]
        rise_k: How far the temperature rose, as the sensor followed it. [K]
        humidity_change_pct: Change of relative humidity, at its largest on the way. [%RH]
        vapour_change_pa: Change of vapour pressure, at its largest on the way. [Pa]
    """

    time_us: int
    peak_us: int
    rise_k: float
    humidity_change_pct: float
    vapour_change_pa: float


def door_openings(
    times_us: IntArray, temperature_c: FloatArray, relative_humidity_pct: FloatArray
) -> list[Opening]:
    """Openings of the door of a cooled space, in order of time.

    An opening is a jump of temperature, upwards and sharper than the space's own cycle ever
    rises, together with a jump of relative humidity or of vapour pressure. One reading that
    stands alone in one quantity is a glitch, and an even rise over many minutes is a heater.
    The room must be warmer than the space. Two openings within a few minutes count as one when
    the air did not begin to recover between them.

    Args:
        times_us: Times of the readings, rising. [µs UTC]
        temperature_c: Temperature of the air; NaN where not known. [°C]
        relative_humidity_pct: Relative humidity of the air; NaN where not known. [%]

    Returns:
        The openings. Time is good to about one interval of the readings.

    Raises:
        OutOfRangeError: A temperature or a humidity lies outside what `air` takes.

    Examples:
        >>> times_us = np.arange(400) * US_PER_MINUTE
        >>> after = np.maximum(times_us - 200 * US_PER_MINUTE, 0) / (5 * US_PER_MINUTE)
        >>> jump = np.where(after > 0, np.exp(-after), 0.0)
        >>> found = door_openings(times_us, 10 + 2 * jump, 85 - 10 * jump)
        >>> [opening.time_us // US_PER_MINUTE for opening in found]
        [200]
    """
    known = ~(np.isnan(temperature_c) | np.isnan(relative_humidity_pct))
    times, air, damp = times_us[known], temperature_c[known], relative_humidity_pct[known]
    if times.size < 10:  # noqa: PLR2004  # too few to know what is usual: our choice
        return []
    calm = ~_glitches(air, damp)
    times, air, damp = times[calm], air[calm], damp[calm]
    vapour = vapour_pressure_pa(air, damp)
    step_us = max(1, int(np.median(np.diff(times))))
    span = max(1, round(_SPAN_S * US_PER_S / step_us))
    longest_us = int((span + 1.5) * step_us) + US_PER_MINUTE // 2
    change = _Changes(times, span, span * step_us, longest_us)
    rise, before = change.over(air), change.over(air, back=True)
    rise_z = change.beyond_usual(rise, _FLOOR_K)
    bend_z = change.beyond_usual(rise - before, _FLOOR_K)
    humid_z = change.beyond_usual(np.abs(change.over(damp)), _FLOOR_PCT)
    vapour_z = change.beyond_usual(np.abs(change.over(vapour)), _FLOOR_PA)
    with_it = np.fmax(humid_z, vapour_z)
    plain = (rise_z > _JUMP) & (with_it > _TOGETHER)
    faint = (bend_z > _JUMP) & (rise > 2 * _FLOOR_K) & (with_it > _STRONG)
    found: list[Opening] = []
    peak_us = int(times[0])
    for first, last in _rises(plain | faint, span):
        rising = _opening(times, air, damp, vapour, first, last + span)
        # What begins before the peak of the last rise still belongs to it.
        if rising.time_us > peak_us:
            peak_us = rising.peak_us
            if _is_sharp(times, air, rising, step_us):
                found.append(rising)
    return found


@dataclass(frozen=True, slots=True)
class _Changes:
    """Changes of a series over a span of readings, silences left out."""

    times_us: IntArray
    span: int
    usual_us: int
    longest_us: int

    def over(self, values: FloatArray, *, back: bool = False) -> FloatArray:
        """Change from each reading over the span after it, or before it; NaN across silences.

        In the unit of the values: °C or %RH.
        """
        change = np.full(values.size, np.nan)
        difference = values[self.span :] - values[: -self.span]
        took_us = self.times_us[self.span :] - self.times_us[: -self.span]
        joined = took_us <= self.longest_us
        # Where a reading is missing, a usual rise had longer to come.
        difference = difference * np.minimum(1.0, self.usual_us / took_us)
        place = slice(self.span, None) if back else slice(None, -self.span)
        change[place] = np.where(joined, difference, np.nan)
        return change

    def beyond_usual(self, change: FloatArray, floor: float) -> FloatArray:
        """How far each change goes beyond the largest of a usual cycle, in their scatter."""
        block = (self.times_us - self.times_us[0]) // int(_BLOCK_S * US_PER_S)
        starts = np.flatnonzero(np.diff(block, prepend=-1))
        largest = np.fmax.reduceat(np.where(np.isnan(change), -np.inf, change), starts)
        largest = largest[np.isfinite(largest)]
        if largest.size == 0:
            return np.full(change.size, np.nan)
        low, usual = np.quantile(largest, (0.16, 0.5)).tolist()
        # Only the lower side tells the scatter, for openings stand on the upper one.
        scatter = max(usual - low, floor, 0.1 * abs(usual))
        beyond: FloatArray = (change - usual) / scatter
        return beyond


def _glitches(air: FloatArray, damp: FloatArray) -> BoolArray:
    """Single readings in which one quantity stands alone and the other does not."""
    # An opening warms the air, so its steps count upwards only: cooling would hide small ones.
    air_moves = _moves(np.maximum(np.diff(air), 0.0), _FLOOR_K)
    damp_moves = _moves(np.abs(np.diff(damp)), _FLOOR_PCT)
    return (_spikes(air, _FLOOR_K) & ~damp_moves) | (_spikes(damp, _FLOOR_PCT) & ~air_moves)


def _spikes(values: FloatArray, floor: float) -> BoolArray:
    """Where a reading stands far outside both its neighbours."""
    padded = np.pad(values, 1, mode="edge")
    low, high = np.minimum(padded[:-2], padded[2:]), np.maximum(padded[:-2], padded[2:])
    outside = np.maximum(np.maximum(values - high, low - values), 0.0)
    # Openings and glitches are rarer than one reading in ten, so the tenth holds what is usual.
    return outside > _SPIKE * max(float(np.quantile(outside, 0.9)), floor)


def _moves(steps: FloatArray, floor: float) -> BoolArray:
    """Where one of the four steps about a reading is larger than usual."""
    moves = np.pad(steps > _MOVE * max(float(np.quantile(steps, 0.9)), floor), 2)
    return moves[:-3] | moves[1:-2] | moves[2:-1] | moves[3:]


def _rises(flags: BoolArray, span: int) -> list[tuple[int, int]]:
    """Stretches of flags, joined where the next begins within the span of the one before."""
    joined: list[tuple[int, int]] = []
    for first, last in runs(flags).tolist():
        if joined and first <= joined[-1][1] + span - 1:
            joined[-1] = (joined[-1][0], last - 1)
        else:
            joined.append((first, last - 1))
    return joined


def _opening(
    times_us: IntArray,
    air: FloatArray,
    damp: FloatArray,
    vapour: FloatArray,
    first: int,
    last: int,
) -> Opening:
    """What changed in a rise from `first` to about `last`, followed to its peak."""
    last = min(last, air.size - 1)
    steps = np.diff(air[first : last + 1])
    begin = first + int(np.argmax(steps >= 0.25 * steps.max()))
    reach_us = times_us[begin] + int(_REACH_S * US_PER_S)
    end = max(int(np.searchsorted(times_us, reach_us, side="right")), begin + 2)
    peak = begin + _first_peak(air[begin:end])
    after = min(peak + 2, air.size)
    return Opening(
        time_us=int(times_us[begin] + times_us[begin + 1]) // 2,
        peak_us=int(times_us[peak]),
        rise_k=float(air[peak] - air[begin]),
        humidity_change_pct=_largest(damp[begin:after]),
        vapour_change_pa=_largest(vapour[begin:after]),
    )


def _is_sharp(times_us: IntArray, air: FloatArray, rising: Opening, step_us: int) -> bool:
    """Whether much of a rise comes at once, as from a door and not from a heater."""
    begin = int(np.searchsorted(times_us, rising.time_us)) - 1
    sharp_us = max(_SHARP_S * US_PER_S + 0.5 * step_us, 1.5 * step_us)
    early = int(np.searchsorted(times_us, times_us[begin] + sharp_us, side="right"))
    at_once = float(air[begin:early].max() - air[begin])
    return rising.rise_k > 0 and at_once >= _SHARP_SHARE * rising.rise_k


def _first_peak(air: FloatArray) -> int:
    """Index of the highest value before the air falls back by a third of its rise."""
    highest = np.maximum.accumulate(air)
    fallen = highest - air > np.maximum((highest - air[0]) / 3, 2 * _FLOOR_K)
    until = int(np.argmax(fallen)) if fallen.any() else air.size
    return int(np.argmax(air[:until]))


def _largest(values: FloatArray) -> float:
    """The largest change from the first value, with its sign."""
    change = values - values[0]
    return float(change[np.argmax(np.abs(change))])
