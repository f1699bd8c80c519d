"""Silent sensors: a placed sensor of which nothing has come for longer than usual.

Worked out from the times of its readings, like all alarms, so that a silence in a history
loaded late is on record too, from when to when. Only a silence that has not ended needs to be
judged by the clock.
"""

import json
from dataclasses import asdict, dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from service.ageing.lifecycle import DEFAULT_SILENCE, Priority, silent_from_us
from service.ageing.notices import sensor_heard, sensor_silent
from service.clock import US_PER_S
from service.judging import INTERVALS
from service.science.signals import median_interval_s
from service.store import air, places, wheels
from service.store.conditions import Watched
from service.store.database import Session
from service.store.tables import Sensor, SensorPlacement
from service.watch.air import wheel_name
from service.watch.turns import Active, Evaluated, Raise, Reader, Return

KIND: Final = "sensor_silent"

_PRIORITY: Final = Priority.MEDIUM
"""Our choice: nothing is known to be wrong, but nothing would be told if it were."""


@dataclass(frozen=True, slots=True)
class _State:
    """What a condition remembers between rounds.

    Attributes:
        recent_us: The last times read, for the usual interval. [µs UTC]
        raised_us: When the alarm was raised, while it is. [µs UTC]
        placement_id: The stay during which it was.
    """

    recent_us: tuple[int, ...] = ()
    raised_us: int | None = None
    placement_id: int | None = None

    @property
    def interval_s(self) -> float:
        """The usual time between readings; 0 while it is not known. [s]"""
        return median_interval_s(np.array(self.recent_us, dtype=np.int64))


def evaluate(
    session: Session,
    sensor: Sensor,
    watched: Watched,
    until_us: int,
    reader: Reader,
    *,
    judge_open: bool,
) -> Evaluated:
    """Evaluate the silences of a sensor up to and with that time.

    Args:
        session: Only read from.
        sensor: The sensor.
        watched: Its condition.
        until_us: The time up to which it has been listened to. [µs UTC]
        reader: How the maker reads times and temperatures.
        judge_open: Whether a silence that has not ended counts; not before a worker that has
            just started has taken what the broker kept for it.
    """
    return _Evaluation(session, sensor, watched, until_us, reader).evaluate(judge_open=judge_open)


class _Evaluation:
    """The evaluation of one sensor in one round."""

    def __init__(
        self, session: Session, sensor: Sensor, watched: Watched, until_us: int, reader: Reader
    ) -> None:
        assert sensor.id is not None
        self._session = session
        self._sensor_id = sensor.id
        self._sensor = sensor.name
        self._watched = watched
        self._until_us = until_us
        self._reader = reader
        self._state = _State(**json.loads(watched.state_json))
        self._evaluated_us = watched.evaluated_us
        self._turns: list[Raise | Return] = []

    def evaluate(self, *, judge_open: bool) -> Evaluated:
        stays = places.placements_of_sensor(self._session, self._sensor_id)
        for stay in stays:
            if stay.from_us > self._until_us:
                break
            if stay.to_us is None or stay.to_us > self._evaluated_us:
                self._listen(stay, judge_open=judge_open)
        standing = {
            stay.id for stay in stays if stay.to_us is None or stay.to_us > self._evaluated_us
        }
        if self._state.raised_us is not None and self._state.placement_id not in standing:
            # Its placement was ended for a time that had been evaluated already.
            self._return(self._evaluated_us, None)
        return Evaluated(
            watched=self._watched,
            evaluated_us=self._evaluated_us,
            state_json=json.dumps(asdict(self._state)),
            turns=tuple(self._turns),
            active=Active(_PRIORITY, None, None) if self._state.raised_us is not None else None,
        )

    def _listen(self, stay: SensorPlacement, *, judge_open: bool) -> None:
        """Take what came of the sensor during one stay in a space."""
        ended = stay.to_us is not None and stay.to_us <= self._until_us
        end_us = stay.to_us if stay.to_us is not None and ended else self._until_us + 1
        times = air.sensor_history(
            self._session, self._sensor_id, max(stay.from_us, self._evaluated_us + 1), end_us
        ).times_us
        self._hear(stay, times)
        if times.size:
            self._evaluated_us = int(times[-1])
        if ended or judge_open:
            self._fall_silent(stay, end_us)
        if ended:
            if self._state.raised_us is not None:
                self._return(end_us, None)
            self._evaluated_us = max(self._evaluated_us, end_us)

    def _hear(self, stay: SensorPlacement, times: npt.NDArray[np.int64]) -> None:
        """Take readings; only those after a long interval can change anything."""
        known = np.concatenate([np.array(self._state.recent_us[-1:], dtype=np.int64), times])
        skipped = known.size - times.size
        long = np.diff(known) >= DEFAULT_SILENCE.at_least_s * US_PER_S
        # The first reading of all, or of a stay, may end a silence that no reading began.
        wanted = {0, *(np.flatnonzero(long) + 1 - skipped).tolist()} if times.size else set()
        done = 0
        for position in sorted(wanted):
            self._remember(times[done:position])
            done = position
            heard_us = int(times[position])
            self._fall_silent(stay, heard_us)
            if self._state.raised_us is not None:
                self._return(heard_us, stay)
        self._remember(times[done:])

    def _remember(self, times: npt.NDArray[np.int64]) -> None:
        recent = (*self._state.recent_us, *times[-INTERVALS - 1 :].tolist())
        self._state = replace(self._state, recent_us=recent[-INTERVALS - 1 :])

    def _fall_silent(self, stay: SensorPlacement, by_us: int) -> None:
        """Raise the alarm if the sensor was silent for too long by that time."""
        last_us = self._state.recent_us[-1] if self._state.recent_us else None
        from_us = silent_from_us(last_us, stay.from_us, self._state.interval_s)
        if self._state.raised_us is not None or by_us < from_us:
            return
        named = tuple(
            wheel_name(self._session, placement.wheel_id)
            for placement in wheels.placements_in(self._session, stay.space_id, from_us, from_us)
        )
        space = places.space(self._session, stay.space_id).name
        last = None if last_us is None else self._reader.moment(last_us)
        notice = sensor_silent(self._sensor, space, last, named)
        self._turns.append(Raise(from_us, _PRIORITY, None, None, named, notice))
        self._state = replace(self._state, raised_us=from_us, placement_id=stay.id)

    def _return(self, time_us: int, heard_in: SensorPlacement | None) -> None:
        """The sensor is heard again, or no longer stands where it was missed."""
        assert self._state.raised_us is not None
        # What a sensor kept through its silence and sends afterwards bears older times.
        returned_us = max(time_us, self._state.raised_us)
        notice = None
        if heard_in is not None:
            space = places.space(self._session, heard_in.space_id).name
            notice = sensor_heard(self._sensor, space, self._reader.moment(returned_us))
        self._turns.append(Return(returned_us, _PRIORITY, None, notice))
        self._state = replace(self._state, raised_us=None, placement_id=None)
