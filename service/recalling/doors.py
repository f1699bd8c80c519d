"""Openings of the doors of spaces through months, found piece by piece and kept.

A box has no door: the door of its cave is what lets the room in.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.behaving.behaviour import COOLED, openings_in
from service.clock import DAY_US, US_PER_S
from service.living.memory import Memory
from service.science.sensor_truth import findings
from service.science.signals import IntArray, median_interval_s
from service.science.silenced import silenced
from service.science.windows import Sums, sums
from service.store import air, facts
from service.store.database import Session
from service.store.tables import Space, SpaceKind

GRID_US: Final = 1_800 * US_PER_S
"""Sums are kept at these instants. [µs] Our choice: windows are days long."""
_PIECE_US: Final = 16 * DAY_US
"""Openings are told from what is usual in so much time. [µs] As in the behaviour of spaces."""
_LONGEST_S: Final = 1_800.0
_SILENT_INTERVALS: Final = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """Openings in a time, and the part of it in which they would have been seen."""

    openings_us: IntArray
    watched: Sums


class Doors:
    """Openings of the doors of spaces, for one question to the store."""

    def __init__(
        self, session: Session, memory: Memory, spaces: Mapping[int, Space], stamp: str, to_us: int
    ) -> None:
        self._session = session
        self._memory = memory
        self._spaces = spaces
        self._stamp = stamp
        self._to_us = to_us

    def seen(self, space_id: int, from_us: int, to_us: int) -> Seen:
        """Openings of the door of a space from one time up to another. [µs UTC]"""
        nothing = np.empty(0, dtype=np.int64)
        space = self._spaces.get(space_id)
        if space is not None and space.parent_id is not None:
            space = self._spaces.get(space.parent_id)
        if space is None or space.id is None or SpaceKind(space.kind) not in COOLED:
            return Seen(nothing, Sums(nothing, np.empty(0), np.empty(0)))
        first = from_us // _PIECE_US
        last = (min(to_us, self._to_us) - 1) // _PIECE_US
        pieces = [self._piece(space.id, each * _PIECE_US) for each in range(first, last + 1)]
        openings = np.concatenate([nothing, *(each.openings_us for each in pieces)])
        inside = (openings >= from_us) & (openings < to_us)
        return Seen(openings[inside], _within(_joined([p.watched for p in pieces]), from_us, to_us))

    def _piece(self, space_id: int, from_us: int) -> Seen:
        to_us = min(from_us + _PIECE_US, self._to_us)
        count = facts.count_readings(self._session, {space_id}, from_us, to_us)
        key = (self._stamp, space_id, from_us, to_us, count)
        return self._memory.recall("doors", key, lambda: self._found(space_id, from_us, to_us))

    def _found(self, space_id: int, from_us: int, to_us: int) -> Seen:
        history = air.space_history(self._session, space_id, from_us, to_us)
        longest_s = max(_LONGEST_S, _SILENT_INTERVALS * median_interval_s(history.times_us))
        warm, damp = history.temperature_c, history.humidity_pct
        # A stuck or wet sensor sees no door.
        faults = findings(history.times_us, warm, damp, longest_s)
        still, mute = silenced(history.times_us, warm, damp, faults, longest_s)
        known = np.isfinite(warm) & np.isfinite(damp) & ~still & ~mute
        watched = sums(history.times_us, np.where(known, 1.0, np.nan), longest_s)
        times_us = [each.time_us for each in openings_in(history)]
        return Seen(np.array(times_us, dtype=np.int64), watched.on_grid(GRID_US))


def _joined(parts: list[Sums]) -> Sums:
    """Pieces one after the other as one; what lies between two of them is not known."""
    times, known = [np.empty(0, dtype=np.int64)], [np.empty(0)]
    before = 0.0
    for part in parts:
        if not part.times_us.size:
            continue
        inside = part.times_us > times[-1][-1] if times[-1].size else slice(None)
        times.append(part.times_us[inside])
        known.append(part.known_s[inside] + before)
        before = float(known[-1][-1]) if known[-1].size else before
    times_us, known_s = np.concatenate(times), np.concatenate(known)
    return Sums(times_us, known_s, known_s)


def _within(whole: Sums, from_us: int, to_us: int) -> Sums:
    """What is known from one time up to another; nothing before and after."""
    if not whole.times_us.size:
        return whole
    inside = (whole.times_us > from_us) & (whole.times_us < to_us)
    ends = np.array([from_us, to_us], dtype=np.int64)
    first, last = np.interp(ends, whole.times_us, whole.known_s).tolist()
    times_us = np.concatenate([ends[:1], whole.times_us[inside], ends[1:]])
    known_s = np.concatenate([[first], whole.known_s[inside], [last]])
    return Sums(times_us, known_s, known_s)
