"""How warm and how damp a place has been of late, as the planner takes it to go on.

The median of daily means, so that a power cut or a day of open doors does not stand for the
weeks to come; the spread from their median deviation, never less than a sensor can be wrong.
"""

from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np

from service.ageing.courses import PlaceAir
from service.ageing.values import Range
from service.clock import DAY_US, HOUR_US
from service.living.memory import Memory
from service.science.signals import FloatArray, IntArray
from service.store import air, facts, places
from service.store.database import Session
from service.store.tables import Space

LOOK_BACK_DAYS: Final = 14
"""Our choice: long enough for the weather to change, short enough to follow a new setting."""
_SPREADS: Final = 2.0 * 1.4826
"""Two standard deviations; of a normal distribution one is 1.4826 median deviations."""
_LEAST_SPREAD_K: Final = 0.5
"""Our choice: what a home sensor and the place of a wheel on its board are usually off."""
_FEW_DAYS: Final = 4
_FEW_DAYS_SPREAD_K: Final = 1.0
"""Our choice, with fewer than four days of readings."""
_LEAST_OF_A_DAY: Final = 3


@dataclass(frozen=True, slots=True)
class Recent:
    """The air of a place of late.

    Attributes:
        air: Mean temperature and its spread.
        days: On how many days of readings it rests; 0 when it is only what a plan asks.
        last_us: The newest reading; None when there is none. [µs UTC]
        humidity_pct: Mean humidity; None where nobody measured it in that very place. [%RH]
    """

    air: PlaceAir
    days: int
    last_us: int | None
    humidity_pct: float | None = None


def recent(session: Session, space_id: int, now_us: int, memory: Memory) -> Recent | None:
    """How warm a space was in the last 14 days; None when nobody measured.

    A box without a sensor is as warm as the place in which it stands; how damp is not known.
    """
    spaces = {each.id: each for each in places.spaces(session)}
    stamp = facts.stamp(session, but=facts.LIVES)
    key = ("recent", stamp, space_id, now_us // HOUR_US)
    return memory.recall("plan", key, partial(_recent, session, spaces, space_id, now_us))


def _recent(
    session: Session, spaces: dict[int | None, Space], space_id: int, now_us: int
) -> Recent | None:
    from_us = now_us - LOOK_BACK_DAYS * DAY_US
    found = air.space_history(session, space_id, from_us, now_us + 1)
    known = np.isfinite(found.temperature_c)
    space = spaces.get(space_id)
    if not known.any():
        if space is None or space.parent_id is None:
            return None
        outer = _recent(session, spaces, space.parent_id, now_us)
        return replace(outer, humidity_pct=None) if outer is not None else None
    times_us = found.times_us[known]
    means = _daily_means(times_us, found.temperature_c[known], now_us)
    damp = np.isfinite(found.humidity_pct)
    damp_means = _daily_means(found.times_us[damp], found.humidity_pct[damp], now_us)
    middle = float(np.median(means))
    spread = _SPREADS * float(np.median(np.abs(np.array(means) - middle)))
    least = _FEW_DAYS_SPREAD_K if len(means) < _FEW_DAYS else _LEAST_SPREAD_K
    return Recent(
        air=PlaceAir(middle, max(spread, least)),
        days=len(means),
        last_us=int(times_us[-1]),
        humidity_pct=float(np.median(damp_means)) if damp_means else None,
    )


def _daily_means(times_us: IntArray, values: FloatArray, now_us: int) -> list[float]:
    """The mean of each day of which there is enough to tell."""
    days = (now_us - times_us) // DAY_US
    return [
        float(values[days == day].mean())
        for day in np.unique(days)
        if np.count_nonzero(days == day) >= min(_LEAST_OF_A_DAY, times_us.size)
    ]


def as_asked(wanted: Range | None, reference_c: float) -> Recent:
    """A place as a plan asks for it, where nobody measured."""
    if wanted is None:
        return Recent(PlaceAir(reference_c, _UNKNOWN_SPREAD_K), 0, None)
    middle = (wanted.low + wanted.high) / 2
    return Recent(PlaceAir(middle, (wanted.high - wanted.low) / 2), 0, None)


_UNKNOWN_SPREAD_K: Final = 4.0
"""Our choice, where neither a sensor nor the plan tells anything."""
