"""The behaviour of a space as a page shows it, and the cache that keeps it for a step."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.ageing.limits import SpaceTarget
from service.ageing.values import Quantity
from service.ageing.verdict import AirHistory
from service.behaving.calm import calm_air, step_before
from service.behaving.drifting import Drift, drift
from service.behaving.outlook import Limits, Outlook, limits_of, outlook
from service.clock import DAY_US, HOUR_US
from service.science.air import vapour_pressure_pa
from service.science.band import Band, counted_band
from service.science.cycles import Cycles, cooling_cycles
from service.science.openings import Opening, door_openings
from service.science.signals import FloatArray
from service.science.water import Recovery, WaterDay, recovery, water_day
from service.store import air, facts, places
from service.store.database import Session
from service.store.tables import SpaceKind

COOLED: Final = frozenset({SpaceKind.CAVE, SpaceKind.KITCHEN_FRIDGE})
"""Spaces with a door and a compressor of their own; a box only follows its cave."""
PAST_DAYS: Final = 15
"""Whole days of readings before the last one or two: what a forecast looks at, and a day."""
_STALE_US: Final = 2 * HOUR_US
_NEW_DAYS: Final = 2
_CHANGED: Final = 0.08
_CHANGED_PART: Final = 0.25
"""A duty has changed when it differs by eight hundredths and by a quarter. Our choice: on
simulated caves it is read to three hundredths, and a warm day moves it by about five."""
WATER_PER_M3: Final = 0.1
"""Water is told for so much air, since nobody has said how large the cave is. [m³]"""


@dataclass(frozen=True, slots=True)
class Rhythm:
    """The cooling cycle now and before.

    Attributes:
        now: Of the last two days.
        before: Of the two weeks before them; None when there was none or it is not known.
    """

    now: Cycles
    before: Cycles | None

    @property
    def changed(self) -> bool:
        """Whether the compressor runs for a share of the time that is not the usual one."""
        if self.before is None:
            return False
        least = max(_CHANGED, _CHANGED_PART * self.before.duty)
        return abs(self.now.duty - self.before.duty) >= least


@dataclass(frozen=True, slots=True, eq=False)
class Behaviour:
    """How a space behaves, as known at a step of the readings' own time.

    Attributes:
        at_us: The step. [µs UTC]
        days: How many days of readings it rests on, at most two weeks and two days.
        rhythm: The cooling cycle; None without one.
        openings: Openings of the door in those days, in order of time; none are looked for
            in a box, which has no door.
        recovery: How the vapour comes back after them; None when that is not seen.
        water: What the air loses, for each `WATER_PER_M3` of it; None in a box.
        drifts: The means of its days.
        outlooks: Limits that will be reached within a day, the soonest first.
    """

    at_us: int
    days: float
    rhythm: Rhythm | None
    openings: tuple[Opening, ...]
    recovery: Recovery | None
    water: WaterDay | None
    drifts: tuple[Drift, ...]
    outlooks: tuple[Outlook, ...]


class Behaviours:
    """Works behaviours out, and keeps each until the next step or until its limits change.

    One belongs to a process; threads may share it, and two that ask for the same at once both
    work it out. Readings that are older than a day are kept too, under their number, so that
    one that comes late is not missed.
    """

    def __init__(self) -> None:
        self._kept: dict[int, tuple[tuple[object, ...], Behaviour]] = {}
        self._settled: dict[int, tuple[tuple[object, ...], AirHistory]] = {}

    def of(
        self, session: Session, space_id: int, target: SpaceTarget, now_us: int
    ) -> Behaviour | None:
        """The behaviour of a space; None before its first readings.

        Args:
            session: Only read from.
            space_id: The space.
            target: What its wheels ask now.
            now_us: The present. [µs UTC]

        Raises:
            UnknownError: There is no such space.
        """
        kind = SpaceKind(places.space(session, space_id).kind)
        limits = limits_of(target, kitchen_fridge=kind is SpaceKind.KITCHEN_FRIDGE)
        newest_us = air.newest_us(session, space_id, now_us)
        if newest_us is None:
            return None
        at_us = step_before(newest_us)
        # What wheels do only moves the limits, which are in the key.
        stamp = facts.stamp(session, but=facts.LIVES)
        # What was foretold from the last reading before a silence no longer holds.
        limits = {} if now_us - newest_us > _STALE_US else limits
        key = (stamp, at_us, kind, tuple(sorted(limits.items())))
        kept = self._kept.get(space_id)
        if kept is not None and kept[0] == key:
            return kept[1]
        made = behaviour(self._history(session, space_id, at_us, stamp), kind, limits, at_us)
        self._kept[space_id] = (key, made)
        return made

    def _history(self, session: Session, space_id: int, at_us: int, stamp: str) -> AirHistory:
        """The readings that a behaviour rests on; of the older ones what is kept still holds."""
        cut_us = (at_us - DAY_US) // DAY_US * DAY_US
        from_us = cut_us - PAST_DAYS * DAY_US
        count = facts.count_readings(session, {space_id}, from_us, cut_us)
        key = (stamp, from_us, count)
        kept = self._settled.get(space_id)
        if kept is None or kept[0] != key:
            kept = (key, air.space_history(session, space_id, from_us, cut_us))
            self._settled[space_id] = kept
        older, newer = kept[1], air.space_history(session, space_id, cut_us, at_us + 1)
        return AirHistory(
            times_us=np.concatenate([older.times_us, newer.times_us]),
            temperature_c=np.concatenate([older.temperature_c, newer.temperature_c]),
            humidity_pct=np.concatenate([older.humidity_pct, newer.humidity_pct]),
        )


def behaviour(history: AirHistory, kind: SpaceKind, limits: Limits, at_us: int) -> Behaviour:
    """The behaviour of a space as known at a step of the readings' own time.

    Args:
        history: Its readings of the two weeks before, and two to three days more.
        kind: What kind of space it is.
        limits: Its limits.
        at_us: The step. [µs UTC]
    """
    rhythm, found, water = None, None, None
    openings: tuple[Opening, ...] = ()
    if kind in COOLED:
        rhythm = _rhythm(history, at_us)
        openings = openings_in(history)
        found = _recovery(history, openings, rhythm)
        water = _water(history, openings, rhythm, found, at_us)
    calm = calm_air(history)
    outlooks = [
        seen
        for (quantity, direction), limit in limits.items()
        if (seen := outlook(calm, quantity, direction, limit, at_us)) is not None
    ]
    return Behaviour(
        at_us=at_us,
        days=(at_us - int(history.times_us[0])) / DAY_US if history.times_us.size else 0.0,
        rhythm=rhythm,
        openings=openings,
        recovery=found,
        water=water,
        drifts=tuple(told for quantity in Quantity if (told := drift(history, quantity))),
        outlooks=tuple(sorted(outlooks, key=lambda seen: seen.forecast.expected_s)),
    )


def openings_in(history: AirHistory) -> tuple[Opening, ...]:
    """Openings of the door of a cooled space in a stretch of its readings."""
    return tuple(door_openings(history.times_us, history.temperature_c, _damp(history)))


def per_day(openings: Sequence[Opening], from_us: int, to_us: int) -> float:
    """How often a door was opened a day in a time. [1/d]"""
    inside = sum(from_us <= opening.time_us < to_us for opening in openings)
    return inside / max((to_us - from_us) / DAY_US, 1e-9)


def rate_band(found: Behaviour) -> Band:
    """The band of the openings a day, from how many were counted. [1/d]

    What the count itself leaves open is wider than what is missed: on simulated caves nine
    openings in ten or more are seen, and as many of those said are true.
    """
    days = max(found.days, 1e-9)
    band = counted_band(len(found.openings))
    return Band(band.low / days, band.high / days)


def _damp(history: AirHistory) -> FloatArray:
    """Humidity within what air can have; a correction may carry a reading a little beyond."""
    return np.clip(history.humidity_pct, 0.0, 100.0)


def _rhythm(history: AirHistory, at_us: int) -> Rhythm | None:
    edge = int(np.searchsorted(history.times_us, at_us - _NEW_DAYS * DAY_US))
    now = cooling_cycles(history.times_us[edge:], history.temperature_c[edge:])
    before = cooling_cycles(history.times_us[:edge], history.temperature_c[:edge])
    return None if now is None else Rhythm(now, before)


def _recovery(
    history: AirHistory, openings: Sequence[Opening], rhythm: Rhythm | None
) -> Recovery | None:
    if not history.times_us.size:
        return None
    cycles = rhythm.now if rhythm else None
    return recovery(history.times_us, history.temperature_c, _damp(history), openings, cycles)


def _water(
    history: AirHistory,
    openings: Sequence[Opening],
    rhythm: Rhythm | None,
    found: Recovery | None,
    at_us: int,
) -> WaterDay | None:
    """What the air of the last two days lost a day; None while less than one is known."""
    from_us = at_us - _NEW_DAYS * DAY_US
    recent = slice(int(np.searchsorted(history.times_us, from_us)), None)
    times_us = history.times_us[recent]
    warm, damp = history.temperature_c[recent], _damp(history)[recent]
    known = ~(np.isnan(warm) | np.isnan(damp))
    if not known.any() or at_us - int(times_us[known][0]) < DAY_US:
        return None
    vapour = vapour_pressure_pa(warm[known], damp[known])
    swing = 0.0
    if rhythm is not None:
        # The middle half of the vapour's range: a visit or a spike does not widen it.
        low, high = np.quantile(vapour, (0.1, 0.9)).tolist()
        swing = high - low
    first_us = max(from_us, int(times_us[known][0]))
    return water_day(
        WATER_PER_M3,
        float(np.mean(warm[known])),
        float(np.mean(damp[known])),
        per_day(openings, first_us, at_us),
        86_400.0 / rhythm.now.period_s if rhythm else 0.0,
        swing,
        found,
    )


def recent_openings(found: Behaviour, days: float) -> tuple[Opening, ...]:
    """The openings of the last days."""
    since_us = found.at_us - round(days * DAY_US)
    return tuple(opening for opening in found.openings if opening.time_us >= since_us)
