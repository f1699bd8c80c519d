"""The air of a wheel's life, fetched once and kept: what is days old hardly ever changes.

What is older than some days is kept in pieces of a fixed grid, each under the number of readings
that it holds, so that one that comes late is not missed and wheels that share a space share its
air. The last days are kept until the next reading. Nothing of that hangs on what wheels do, so
a weighing or a move leaves it as it is.
"""

from collections.abc import Iterator
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
_PIECE_US: Final = 8 * DAY_US
"""Our choice: a quarter of a megabyte at a reading a minute."""
_EVERY_US: Final = 240 * US_PER_S
"""Our choice: less than the five minutes from which on a silence counts as one."""


class LivedAir:
    """The air of spaces, for one question to the store.

    Attributes:
        stamp: Of what the maker has said of spaces and sensors.
        settled_us: Up to here readings are taken from the memory. [µs UTC]
    """

    def __init__(self, session: Session, memory: Memory, now_us: int) -> None:
        self._session = session
        self._memory = memory
        self._known_us = now_us + 1
        self._asked: dict[tuple[int, int, int], AirHistory] = {}
        self._parents: dict[int, int | None] = {
            space.id: space.parent_id for space in places.spaces(session) if space.id is not None
        }
        self.stamp = facts.stamp(session, but=facts.LIVES)
        self.settled_us = (now_us - RECENT_US) // DAY_US * DAY_US
        self._long_us = (now_us - LONG_US) // _PIECE_US * _PIECE_US

    def newest_us(self, space_id: int) -> int:
        """Time of the newest reading that can tell of a space. [µs UTC]"""
        family = {space_id, self._parents[space_id] or space_id}
        return facts.newest_reading_us(self._session, family)

    def phase(self, span: Span) -> Phase | None:
        """A span of a life with its air; None when its temperature was never known."""
        cut_us = min(max(span.from_us, self.settled_us), span.to_us)
        parts = []
        if span.from_us < cut_us:
            parts.append(self._known(span.space_id, span.from_us, cut_us))
        if cut_us < span.to_us:
            parts.append(self._known(span.space_id, cut_us, span.to_us))
        return phase(span, _joined(parts))

    def _known(self, space_id: int, from_us: int, to_us: int) -> AirHistory:
        """The air of a space as best known; of a box without a sensor its cave's temperature.

        A closed box follows its cave in temperature but keeps an air of its own.
        """
        found = self.own(space_id, from_us, to_us)
        parent_id = self._parents[space_id]
        if found.times_us.size or parent_id is None:
            return found
        outer = self._known(parent_id, from_us, to_us)
        return replace(outer, humidity_pct=np.full(outer.times_us.size, np.nan))

    def own(self, space_id: int, from_us: int, to_us: int) -> AirHistory:
        """The air of a space as its own sensors told it, cleaned, up to but without a time.

        Args:
            space_id: The space.
            from_us: The first time. [µs UTC]
            to_us: The time after the last. [µs UTC]
        """
        settled_us = min(to_us, self.settled_us)
        pieces = [self._piece(space_id, *edges) for edges in self._pieces(from_us, settled_us)]
        if to_us > self.settled_us:
            pieces.append(self._latest(space_id, to_us))
        whole = _joined(pieces)
        inside = slice(*np.searchsorted(whole.times_us, [from_us, to_us]).tolist())
        return AirHistory(
            whole.times_us[inside], whole.temperature_c[inside], whole.humidity_pct[inside]
        )

    def _pieces(self, from_us: int, to_us: int) -> Iterator[tuple[int, int]]:
        """The pieces of the grid that hold a time; the last one ends where the air is settled."""
        if from_us >= to_us:
            return
        for first_us in range(from_us // _PIECE_US * _PIECE_US, to_us, _PIECE_US):
            yield first_us, min(first_us + _PIECE_US, self.settled_us)

    def _piece(self, space_id: int, from_us: int, to_us: int) -> AirHistory:
        asked = (space_id, from_us, to_us)
        if asked not in self._asked:
            # Readings about the piece say how it is cleaned.
            count = facts.count_readings(
                self._session, {space_id}, from_us - air.AROUND_US, to_us + air.AROUND_US
            )
            shortened = from_us < self._long_us
            self._asked[asked] = self._memory.recall(
                "air",
                (self.stamp, space_id, from_us, to_us, count, shortened),
                lambda: self._fetched(space_id, from_us, to_us, shortened=shortened),
            )
        return self._asked[asked]

    def _fetched(self, space_id: int, from_us: int, to_us: int, *, shortened: bool) -> AirHistory:
        known = air.space_history(self._session, space_id, from_us, to_us, cleaned=True)
        if not shortened or not known.times_us.size:
            return known
        times_us, (temperature, humidity) = means(
            known.times_us, [known.temperature_c, known.humidity_pct], _EVERY_US
        )
        return AirHistory(times_us, temperature, humidity)

    def _latest(self, space_id: int, to_us: int) -> AirHistory:
        """The air from where it is settled on; readings after it may change how it is cleaned."""
        asked = (space_id, self.settled_us, to_us)
        if asked not in self._asked:
            newest_us = air.newest_us(self._session, space_id, to_us - 1)
            count = facts.count_readings(
                self._session,
                {space_id},
                self.settled_us - air.AROUND_US,
                min(to_us + air.AROUND_US, self._known_us),
            )
            self._asked[asked] = self._memory.recall(
                "latest",
                (self.stamp, space_id, self.settled_us, count, newest_us),
                lambda: air.space_history(
                    self._session,
                    space_id,
                    self.settled_us,
                    to_us,
                    cleaned=True,
                    known_us=self._known_us,
                ),
            )
        return self._asked[asked]


def _joined(parts: list[AirHistory]) -> AirHistory:
    """Stretches of air one after the other."""
    if len(parts) == 1:
        return parts[0]
    return AirHistory(
        times_us=np.concatenate([_NO_TIMES, *(part.times_us for part in parts)]),
        temperature_c=np.concatenate([_NOTHING, *(part.temperature_c for part in parts)]),
        humidity_pct=np.concatenate([_NOTHING, *(part.humidity_pct for part in parts)]),
    )


_NOTHING: Final = np.empty(0)
_NO_TIMES: Final = np.empty(0, dtype=np.int64)
