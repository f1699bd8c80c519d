"""What a wheel lived through as sums over time, so that any window of it is told at once.

A track is worked out once from the air of a wheel's life, and wheels that lived alike share
one. It is a hundredth of the size of the climate that it is made of.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.ageing.limits import HAIR, past_limit
from service.ageing.lookback import LEAST_COVERED, Feature, Value
from service.ageing.means import means, smoothing
from service.ageing.values import Direction, Quantity
from service.clock import DAY_US, HOUR_US, US_PER_S
from service.judging import StageSpan
from service.living.air import LivedAir
from service.living.climate import dries, fits_of
from service.living.life import Life
from service.living.memory import Memory
from service.living.stays import Phase, runs
from service.living.stays import means as slot_means
from service.living.surfaces import live
from service.living.values import Lived
from service.recalling.doors import GRID_US, Doors
from service.science.air import FloatArray
from service.science.film import WHEEL_WET, wet_spells
from service.science.signals import IntArray, median_interval_s
from service.science.windows import Sums, sums

_SLOT_US: Final = 240 * US_PER_S
"""Readings are taken together over this time. [µs] Our choice: a quarter of the time constant
of the verdict's mean, which comes next."""
_OUTSIDE: Final = {
    Feature.TOO_DRY: (Quantity.HUMIDITY, Direction.BELOW),
    Feature.TOO_DAMP: (Quantity.HUMIDITY, Direction.ABOVE),
    Feature.TOO_COLD: (Quantity.TEMPERATURE, Direction.BELOW),
    Feature.TOO_WARM: (Quantity.TEMPERATURE, Direction.ABOVE),
}
_MEANS: Final = {
    Feature.TEMPERATURE: Quantity.TEMPERATURE,
    Feature.HUMIDITY: Quantity.HUMIDITY,
}


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """A life as sums, for windows of it.

    Attributes:
        summed: Hours outside, wet hours and means: one row of sums for each part of the life.
        openings_us: Openings of the doors of its spaces while it was there. [µs UTC]
        watched: Time in which openings would have been seen.
    """

    summed: Mapping[Feature, tuple[Sums, ...]]
    openings_us: IntArray
    watched: tuple[Sums, ...]

    def values(self, to_us: int, window_us: int) -> dict[Feature, Value]:
        """The features of the window that ends at an instant, but for the turning."""
        from_us = to_us - window_us
        found: dict[Feature, Value] = {}
        for feature, parts in self.summed.items():
            area, known_s = _between(parts, from_us, to_us)
            covered = min(1.0, known_s * US_PER_S / window_us)
            share = area / known_s if known_s > 0 else 0.0
            whole = share if feature in _MEANS else share * window_us / HOUR_US
            found[feature] = _value(whole, covered)
        _, seen_s = _between(self.watched, from_us, to_us)
        covered = min(1.0, seen_s * US_PER_S / window_us)
        first, last = np.searchsorted(self.openings_us, [from_us, to_us], side="right").tolist()
        found[Feature.OPENINGS] = _value((last - first) / max(covered, 1e-9), covered)
        return found


def _value(amount: float, covered: float) -> Value:
    return Value(float(amount) if covered >= LEAST_COVERED else None, covered)


def _between(parts: Sequence[Sums], from_us: int, to_us: int) -> tuple[float, float]:
    found = [part.between(from_us, to_us) for part in parts]
    return sum(area for area, _ in found), sum(known for _, known in found)


def since_turned(turned_us: Sequence[int], at_us: int) -> Value:
    """Days since the last turning before an instant; not known without a record of one."""
    before = [time_us for time_us in turned_us if time_us <= at_us]
    return Value((at_us - max(before)) / DAY_US, 1.0) if before else Value(None, 0.0)


def track_of(
    life: Life,
    stages: Sequence[StageSpan],
    air: LivedAir,
    doors: Doors,
    memory: Memory,
    until_us: int,
) -> Track:
    """The track of a life up to an instant.

    Args:
        life: The life.
        stages: Its stages with what they ask.
        air: The air of its spaces.
        doors: Openings of the doors of its spaces.
        memory: Keeps the fits to its weighings.
        until_us: Up to when. [µs UTC]
    """
    lifetime = life.spans(0, until_us + 1)
    phases = [each for span in lifetime if (each := air.phase(span)) is not None]
    summed: dict[Feature, list[Sums]] = {
        feature: [] for feature in Feature if feature in _OUTSIDE or feature in _MEANS
    }
    for phase in phases:
        for feature, found in _of_air(phase, stages).items():
            summed[feature].append(found)
    summed[Feature.WET] = [_wet(each) for each in _lives(phases, life, air, memory)]
    seen = [doors.seen(span.space_id, span.from_us, span.to_us) for span in lifetime]
    openings = [each.openings_us for each in seen]
    return Track(
        {feature: tuple(parts) for feature, parts in summed.items()},
        np.sort(np.concatenate([np.empty(0, dtype=np.int64), *openings])),
        tuple(each.watched for each in seen),
    )


def _lives(phases: Sequence[Phase], life: Life, air: LivedAir, memory: Memory) -> list[Lived]:
    """Each run of the life lived through, as its weighings tell, without bands."""
    parts = runs(phases)
    # The mass when new alone says nothing of how fast a wheel dries.
    fits = fits_of(memory, air, life, parts) if life.weighed else {}
    found: list[Lived] = []
    for place, part in enumerate(parts):
        start_c = life.start_c(part) if part.after_hole else float(found[-1].mean_c[-1])
        found.append(live(part, dries(fits.get(place)), life, start_c))
    return found


def _of_air(phase: Phase, stages: Sequence[StageSpan]) -> dict[Feature, Sums]:
    """Hours outside what was asked, and means, of one phase."""
    times_us, columns = slot_means(phase.times_us, [phase.air_c, phase.humidity_pct], _SLOT_US)
    air = dict(zip((Quantity.TEMPERATURE, Quantity.HUMIDITY), columns, strict=True))
    interval_s = median_interval_s(times_us)
    found: dict[Feature, Sums] = {}
    for feature, quantity in _MEANS.items():
        longest_s = smoothing(quantity, interval_s).gap_s
        found[feature] = sums(times_us, air[quantity], longest_s).on_grid(GRID_US)
    for feature, (quantity, direction) in _OUTSIDE.items():
        how = smoothing(quantity, interval_s)
        values = air[quantity]
        limits = _limits(times_us, stages, quantity, direction)
        known = np.isfinite(values) & np.isfinite(limits)
        outside = np.full(times_us.size, np.nan)
        if known.any():
            # Smoothed as for a verdict, so that a cooling cycle's swing counts no more here.
            mean = means(times_us[known], values[known], direction, how)
            outside[known] = past_limit(mean, limits[known], direction) > HAIR
        found[feature] = sums(times_us, outside, how.gap_s).on_grid(GRID_US)
    return found


def _limits(
    times_us: IntArray, stages: Sequence[StageSpan], quantity: Quantity, direction: Direction
) -> FloatArray:
    """What was asked at each instant on that side; NaN where nothing was."""
    found = np.full(times_us.size, np.nan)
    for span in stages:
        asked = span.stage.target.of(quantity)
        if asked is None:
            continue
        first = int(np.searchsorted(times_us, span.from_us))
        end = None if span.to_us is None else int(np.searchsorted(times_us, span.to_us))
        found[first:end] = asked.low if direction is Direction.BELOW else asked.high
    return found


def _wet(lived: Lived) -> Sums:
    """Time with a wet face or side in one run."""
    wet = np.where(np.isfinite(lived.film_g_m2), 0.0, np.nan)
    for spell in wet_spells(lived.times_us, lived.film_g_m2, WHEEL_WET):
        first, end = np.searchsorted(lived.times_us, [spell.from_us, spell.to_us]).tolist()
        wet[first:end] = 1.0
    longest_s = smoothing(Quantity.HUMIDITY, median_interval_s(lived.times_us)).gap_s
    return sums(lived.times_us, wet, longest_s).on_grid(GRID_US)
