"""Works out ahead of time what pages will ask for, so that nobody waits at the first visit.

After a start, and when facts or readings have changed, it asks for the same values as the pages
do, through the same memory; whatever still holds costs a look-up. It works on one thing at a
time, begins only while the watch rests, and rests itself as long as each took, so that alarms
come first and a small board keeps half its time. What it has not come to, a page works out.
"""

import logging
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Final

from service import judging
from service.behaving.behaviour import Behaviours
from service.clock import HOUR_US, US_PER_S, Clock, WorldClock
from service.judging import Plans
from service.living.bands import EVERY_US
from service.living.climate import climate
from service.living.life import life_of, spaces_by_id
from service.living.memory import Memory
from service.living.now import lids_now, surfaces_now
from service.planning.ahead import plan_ahead
from service.store import facts, places, wheels
from service.store.database import Session, SessionMaker

_log = logging.getLogger(__name__)

LOOK_EVERY_S: Final = 5.0
_REST: Final = 9.0
"""Where only readings are new, it rests so many times as long as its last turn took."""
_LONGEST_REST_S: Final = 60.0
_PAUSE_S: Final = 60.0
"""After a failure."""
_WAIT_S: Final = 0.5

Work = Callable[[Session, int], object]


@dataclass(frozen=True, slots=True)
class Shared:
    """What the pages of a process and its background have in common."""

    memory: Memory
    behaviours: Behaviours


class Warmer:
    """Keeps the memory of a process warm."""

    def __init__(
        self,
        sessions: SessionMaker,
        clock: Clock,
        plans: Plans,
        shared: Shared,
        resting: threading.Event,
    ) -> None:
        """Take the store, the clock, the plans by slug, the memory, and the watch's rests."""
        self._sessions = sessions
        self._clock = clock
        self._plans = plans
        self._shared = shared
        self._resting = resting
        self._world = WorldClock()
        self._seen: tuple[str, tuple[int, int]] | None = None
        self._rested_us = 0

    def run(self, stop: threading.Event) -> None:
        """Go on until told to stop."""
        wait_s = 0.0
        while not stop.wait(wait_s):
            try:
                self.turn(stop)
            except Exception:  # noqa: BLE001  # a process edge: pages work it out themselves
                wait_s = _PAUSE_S
                _log.exception("working ahead failed; next time in %.0f s", wait_s)
            else:
                wait_s = LOOK_EVERY_S

    def turn(self, stop: threading.Event) -> bool:
        """Work out all that has changed, unless it is time to rest; whether it was done."""
        state = self._state()
        if state == self._seen:
            return False
        said_the_same = self._seen is not None and state[0] == self._seen[0]
        # A rest that is longer than any is that of a clock that was set back meanwhile.
        rest_us = self._rested_us - self._world.now_us()
        if said_the_same and 0 < rest_us <= _LONGEST_REST_S * US_PER_S:
            return False
        took_us = 0
        for work in self._works():
            if not self._may_begin(stop):
                return False
            began_us = self._world.now_us()
            with self._sessions() as session:
                work(session, self._clock.now_us())
            # The world's clock may be set meanwhile.
            this_us = min(
                max(0, self._world.now_us() - began_us), round(_LONGEST_REST_S * US_PER_S)
            )
            took_us += this_us
            if stop.wait(this_us / US_PER_S):
                return False
        self._seen = state
        rest_us = min(round(_REST * took_us), round(_LONGEST_REST_S * US_PER_S))
        self._rested_us = self._world.now_us() + rest_us
        return True

    def _state(self) -> tuple[str, tuple[int, int]]:
        """What the maker has said, and how far the readings and the hours are."""
        with self._sessions() as session:
            newest_us = facts.newest_reading_us(session, spaces_by_id(session))
            return facts.stamp(session), (newest_us // EVERY_US, self._clock.now_us() // HOUR_US)

    def _may_begin(self, stop: threading.Event) -> bool:
        """Wait until the watch rests; False when told to stop."""
        while not stop.is_set():
            if self._resting.wait(_WAIT_S):
                return not stop.is_set()
        return False

    def _works(self) -> Iterator[Work]:
        """What there is to do, the first page's share first."""
        memory = self._shared.memory
        yield lambda session, now_us: lids_now(session, now_us, memory)
        yield lambda session, now_us: surfaces_now(session, self._plans, now_us, memory)
        with self._sessions() as session:
            space_ids = [each.id for each in places.spaces(session) if each.id is not None]
            wheel_ids = self._distinct(session)
        for space_id in space_ids:
            yield partial(self._behaviour, space_id)
        for wheel_id in wheel_ids:
            yield partial(self._plan, wheel_id)
            yield partial(self._climate, wheel_id)

    def _distinct(self, session: Session) -> list[int]:
        """One wheel of each life that is still lived."""
        spaces = spaces_by_id(session)
        found: dict[object, int] = {}
        for wheel, _ in wheels.wheels(session):
            if wheel.id is not None and wheel.ended_us is None:
                life = life_of(session, self._plans, wheel.id, spaces)
                if life is not None:
                    found.setdefault(life.key, wheel.id)
        return list(found.values())

    def _behaviour(self, space_id: int, session: Session, now_us: int) -> None:
        for space in judging.judge_spaces(session, self._plans, now_us):
            if space.id == space_id:
                self._shared.behaviours.of(session, space_id, space.target, now_us)

    def _plan(self, wheel_id: int, session: Session, now_us: int) -> None:
        plan_ahead(session, self._plans, wheel_id, now_us, self._shared.memory)

    def _climate(self, wheel_id: int, session: Session, now_us: int) -> None:
        climate(session, self._plans, wheel_id, now_us, self._shared.memory)
