"""The watch at work: round after round over spaces and sensors, limits first, then what is ahead.

Any number of watches may run at once; what one has entered, the others drop (see
`service.store.conditions`).
"""

import logging
import threading
from collections.abc import Callable, Sequence
from datetime import time
from typing import Final

from service.clock import US_PER_S, Clock, WorldClock
from service.judging import Plans
from service.living.memory import Memory
from service.store import conditions, places
from service.store.conditions import OvertakenError
from service.store.database import SessionMaker
from service.watch import air, silence
from service.watch.care_due import CareDue
from service.watch.entering import enter
from service.watch.looking_ahead import LookAhead
from service.watch.setting_back import SLACK_S, go_on_from
from service.watch.timing import tell_of_timers
from service.watch.turns import Evaluated, reader_of

_log = logging.getLogger(__name__)

_SETTLE_S: Final = 2.0
"""Readings are left to settle this long before they are evaluated, in the world's seconds: a
batch on its way into the store may hold an earlier one. A reading whose sensor's clock is fast
waits until the time that it bears, so it can never hide another sensor's readings."""

_LISTEN_FIRST_S: Final = 60.0
"""A silence that has not ended counts only once the watch has run this long, in the world's
seconds: after a stop the broker first hands over what it kept."""

_LOOK_EVERY_S: Final = 1.0
_LONGEST_BACKOFF_S: Final = 60.0
_LONGEST_PAUSE: Final = 60
"""Rounds for which looking ahead is left out at most after it has failed."""


class Watch:
    """Evaluates stored readings and enters alarms and notices.

    Attributes:
        failed_rounds: How many of the last rounds failed in a row.
        resting: Set while it waits for its next round, but before its first.
    """

    def __init__(
        self,
        sessions: SessionMaker,
        clock: Clock,
        plans: Plans,
        channels: Sequence[str] = (),
        world: Clock | None = None,
        care_at: time | None = None,
        memory: Memory | None = None,
    ) -> None:
        """Take the store, the clock, the plans by slug and the labels of the channels.

        `world` is the clock of the outbox, other than the world's own only in tests. `care_at`
        is the household's local time at which the day's care is told; None for never.
        Pages of the same process may share the `memory`.
        """
        self.failed_rounds = 0
        self.resting = threading.Event()
        self._sessions = sessions
        self._clock = clock
        self._plans = plans
        self._channels = tuple(channels)
        self._world = world or WorldClock()
        self._ahead = LookAhead(sessions, plans, memory)
        self._care = CareDue(sessions, plans, channels, care_at)
        self._silence_from_us = clock.now_us() + self._on_clock_us(_LISTEN_FIRST_S)

    def round(self) -> int:
        """Evaluate once whatever is new; how many alarms were raised or returned."""
        now_us = self._clock.now_us()
        until_us = now_us - self._on_clock_us(_SETTLE_S)
        self._set_back(now_us, until_us)
        with self._sessions() as session:
            space_ids = [space.id for space in places.spaces(session) if space.id is not None]
            sensor_ids = [one.id for one in places.sensors(session) if one.id is not None]
        entered = sum(
            self._enter(self._evaluate_space(space_id, until_us), now_us) for space_id in space_ids
        )
        return entered + sum(
            self._enter(self._evaluate_sensor(sensor_id, until_us, now_us), now_us)
            for sensor_id in sensor_ids
        )

    def look_ahead(self) -> int:
        """Evaluate early warnings and sweat where a step is due; how many turned."""
        now_us = self._clock.now_us()
        until_us = now_us - self._on_clock_us(_SETTLE_S)
        return self._ahead.round(until_us, lambda found: self._enter(found, now_us))

    def tell_of_timers(self) -> int:
        """Enter a notice of each timer of a make day that has run out; how many."""
        with self._sessions() as session:
            return tell_of_timers(
                session,
                self._channels,
                now_us=self._clock.now_us(),
                sent_us=self._world.now_us(),
            )

    def tell_of_care(self) -> int:
        """Enter the notice of the day's care when its hour has come; how many."""
        return self._care.tell(now_us=self._clock.now_us(), sent_us=self._world.now_us())

    def run(self, stop: threading.Event) -> None:
        """Make a round about every second until told to stop."""
        wait_s = _LOOK_EVERY_S
        ahead = _Patient("looking ahead", self.look_ahead)
        timers = _Patient("telling of timers", self.tell_of_timers)
        care = _Patient("telling of care", self.tell_of_care)
        while not self._rest(stop, wait_s):
            try:
                self.round()
            except Exception:  # noqa: BLE001 - a process edge: one bad round must not end the watch
                self.failed_rounds += 1
                wait_s = min(wait_s * 2, _LONGEST_BACKOFF_S)
                _log.exception("a round of the watch failed; next one in %.0f s", wait_s)
            else:
                self.failed_rounds = 0
                wait_s = _LOOK_EVERY_S
            timers.work()
            care.work()
            ahead.work()
            self.resting.set()

    def _rest(self, stop: threading.Event, wait_s: float) -> bool:
        """Wait for the next round; true when told to stop instead."""
        stopped = stop.wait(wait_s)
        self.resting.clear()
        return stopped

    def _set_back(self, now_us: int, until_us: int) -> None:
        """Go on from now where the clock was ahead and has been set back since."""
        listened_us = now_us + self._on_clock_us(_LISTEN_FIRST_S)
        self._silence_from_us = min(self._silence_from_us, listened_us)
        try:
            with self._sessions() as session:
                moved = go_on_from(session, until_us, self._on_clock_us(SLACK_S))
        except OvertakenError:
            return
        if moved:
            _log.warning("the clock was set back; %d conditions go on from now", moved)

    def _evaluate_space(self, space_id: int, until_us: int) -> list[Evaluated]:
        with self._sessions() as session:
            watched = conditions.watch_space(session, space_id, air.KINDS)
            space = places.space(session, space_id)
            reader = reader_of(places.the_site(session))
            return air.evaluate(session, self._plans, space, watched, until_us, reader)

    def _evaluate_sensor(self, sensor_id: int, until_us: int, now_us: int) -> list[Evaluated]:
        with self._sessions() as session:
            watched = conditions.watch_sensor(session, sensor_id, silence.KIND)
            sensor = places.sensor(session, sensor_id)
            reader = reader_of(places.the_site(session))
            judge_open = now_us >= self._silence_from_us
            one = silence.evaluate(
                session, sensor, watched, until_us, reader, judge_open=judge_open
            )
            return [one] if one.is_news else []

    def _enter(self, evaluations: Sequence[Evaluated], now_us: int) -> int:
        if not evaluations:
            return 0
        try:
            with self._sessions() as session:
                return enter(
                    session,
                    evaluations,
                    self._channels,
                    now_us=now_us,
                    sent_us=self._world.now_us(),
                )
        except OvertakenError:
            _log.info("another watch was faster")
            return 0

    def _on_clock_us(self, world_s: float) -> int:
        return round(world_s * self._clock.speed * US_PER_S)


class _Patient:
    """Work that may fail without stopping what goes on beside it; then it is left out a while."""

    def __init__(self, name: str, work: Callable[[], object]) -> None:
        self._name = name
        self._work = work
        self._left_out = 0
        self._pause = 0

    def work(self) -> None:
        """Work, unless it has failed shortly before."""
        if self._left_out:
            self._left_out -= 1
            return
        try:
            self._work()
        except Exception:  # noqa: BLE001 - a process edge: the limit alarms must go on
            self._pause = min(2 * self._pause + 1, _LONGEST_PAUSE)
            self._left_out = self._pause
            _log.exception("%s failed; left out for %d rounds", self._name, self._pause)
        else:
            self._pause = 0
