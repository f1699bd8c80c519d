"""The air of a wheel's life, fetched once and kept: what is days old hardly ever changes.

Readings of the last days are asked for anew each time. What is older is kept under the number
of readings that it holds, so that one that comes late is not missed.
"""

from dataclasses import replace
from typing import Final

import numpy as np

from service.ageing.verdict import AirHistory
from service.clock import DAY_US, US_PER_S
from service.living.memory import Memory
from service.living.stays import Phase, Span, means, phase
from service.store import air, facts, places
from service.store.database import Session

RECENT_US: Final = 3 * DAY_US
"""How far back readings are asked for anew. [µs] Our choice."""
LONG_US: Final = 70 * DAY_US
"""Beyond this, means stand in for the readings. [µs] Our choice: ten weeks are worked out by
the minute, so that a short sweat after an opening still counts."""
_EVERY_US: Final = 240 * US_PER_S
"""Our choice: less than the five minutes from which on a silence counts as one."""


class LivedAir:
    """The air of spaces, for one question to the store.

    Attributes:
        stamp: Of what the maker has said.
        settled_us: Up to here readings are taken from the memory. [µs UTC]
    """

    def __init__(self, session: Session, memory: Memory, now_us: int) -> None:
        self._session = session
        self._memory = memory
        self._asked: dict[tuple[int, int, int], AirHistory] = {}
        self._family = {
            space.id: {space.id, space.parent_id or space.id}
            for space in places.spaces(session)
            if space.id is not None
        }
        self.stamp = facts.stamp(session)
        self.settled_us = (now_us - RECENT_US) // DAY_US * DAY_US
        self._long_us = (now_us - LONG_US) // DAY_US * DAY_US

    def newest_us(self, space_id: int) -> int:
        """Time of the newest reading that can tell of a space. [µs UTC]"""
        return facts.newest_reading_us(self._session, self._family[space_id])

    def phase(self, span: Span) -> Phase | None:
        """A span of a life with its air; None when its temperature was never known."""
        cut_us = min(max(span.from_us, self.settled_us), span.to_us)
        parts = []
        if span.from_us < cut_us:
            parts.append(self._settled(span, cut_us))
        if cut_us < span.to_us:
            parts.append(self._between(span.space_id, cut_us, span.to_us))
        return phase(
            span,
            AirHistory(
                times_us=np.concatenate([part.times_us for part in parts]),
                temperature_c=np.concatenate([part.temperature_c for part in parts]),
                humidity_pct=np.concatenate([part.humidity_pct for part in parts]),
            ),
        )

    def _settled(self, span: Span, to_us: int) -> AirHistory:
        space_id, from_us = span.space_id, span.from_us
        count = facts.count_readings(self._session, self._family[space_id], from_us, to_us)
        key = (self.stamp, space_id, from_us, to_us, count, self._long_us)
        return self._memory.recall(
            "air",
            key,
            lambda: self._shortened(self._between(space_id, from_us, to_us)),
        )

    def _between(self, space_id: int, from_us: int, to_us: int) -> AirHistory:
        """The air of a space as best known; of a box without a sensor its cave's temperature.

        A closed box follows its cave in temperature but keeps an air of its own.
        """
        key = (space_id, from_us, to_us)
        if key not in self._asked:
            found = air.space_history(self._session, space_id, from_us, to_us, cleaned=True)
            parents = self._family[space_id] - {space_id}
            if not found.times_us.size and parents:
                outer = self._between(parents.pop(), from_us, to_us)
                found = replace(outer, humidity_pct=np.full(outer.times_us.size, np.nan))
            self._asked[key] = found
        return self._asked[key]

    def _shortened(self, known: AirHistory) -> AirHistory:
        """The air with means in the place of readings that are weeks old."""
        old = int(np.searchsorted(known.times_us, self._long_us))
        if not old:
            return known
        times_us, (temperature, humidity) = means(
            known.times_us[:old], [known.temperature_c[:old], known.humidity_pct[:old]], _EVERY_US
        )
        return AirHistory(
            times_us=np.concatenate([times_us, known.times_us[old:]]),
            temperature_c=np.concatenate([temperature, known.temperature_c[old:]]),
            humidity_pct=np.concatenate([humidity, known.humidity_pct[old:]]),
        )
