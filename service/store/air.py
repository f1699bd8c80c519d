"""Readings: adding them, each once, and fetching them as arrays."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from sqlalchemy import CursorResult, Table, bindparam, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col, select

from service.ageing.verdict import AirHistory
from service.store.tables import Reading, SensorPlacement

_TABLE: Table = Reading.__table__  # type: ignore[attr-defined]  # set by SQLModel's metaclass
_TIMES_A_QUERY = 900
"""SQLite binds at most 999 values in old builds."""


@dataclass(frozen=True, slots=True)
class NewReading:
    """A checked reading on its way into the store."""

    sensor_id: int
    time_us: int
    temperature_c: float | None
    humidity_pct: float | None

    @property
    def key(self) -> tuple[int, int]:
        """What makes a reading unique."""
        return self.sensor_id, self.time_us


@dataclass(frozen=True, slots=True)
class Added:
    """What became of a lot of readings.

    Attributes:
        rows: How many became new rows.
        conflicts: Positions of readings whose sensor and time hold other values already;
            they are not stored.
    """

    rows: int
    conflicts: tuple[int, ...] = ()


def add_readings(session: Session, readings: Sequence[NewReading]) -> Added:
    """Store each reading once; a sensor and time that are there already add no row.

    A reading that comes in two halves (temperature in one message, humidity in another)
    is completed. One that contradicts what is stored changes nothing and is named.
    """
    if not readings:
        return Added(0)
    dialect = sqlite if session.get_bind().dialect.name == "sqlite" else postgresql
    result = session.connection().execute(
        dialect.insert(_TABLE).on_conflict_do_nothing(),
        [
            {
                "sensor_id": reading.sensor_id,
                "time_us": reading.time_us,
                "temperature_c": reading.temperature_c,
                "humidity_pct": reading.humidity_pct,
            }
            for reading in readings
        ],
    )
    assert isinstance(result, CursorResult)
    if result.rowcount == len(readings):
        return Added(result.rowcount)
    return Added(result.rowcount, _settle(session, readings))


def _settle(session: Session, readings: Sequence[NewReading]) -> tuple[int, ...]:
    """Complete halves among the readings and name those that contradict the store."""
    stored = _stored(session, sorted({reading.key for reading in readings}))
    completed: set[tuple[int, int]] = set()
    conflicts = []
    for position, reading in enumerate(readings):
        have = stored[reading.key]
        new = (reading.temperature_c, reading.humidity_pct)
        if any(a is not None and b is not None and a != b for a, b in zip(have, new, strict=True)):
            conflicts.append(position)
            continue
        merged = (
            have[0] if have[0] is not None else new[0],
            have[1] if have[1] is not None else new[1],
        )
        if merged != have:
            stored[reading.key] = merged
            completed.add(reading.key)
    if completed:
        session.connection().execute(
            update(_TABLE)
            .where(_TABLE.c.sensor_id == bindparam("s"), _TABLE.c.time_us == bindparam("t"))
            .values(temperature_c=bindparam("c"), humidity_pct=bindparam("h")),
            [
                {"s": key[0], "t": key[1], "c": stored[key][0], "h": stored[key][1]}
                for key in sorted(completed)
            ],
        )
    return tuple(conflicts)


def _stored(
    session: Session, keys: Sequence[tuple[int, int]]
) -> dict[tuple[int, int], tuple[float | None, float | None]]:
    """What the store holds under those keys.

    One sensor at a time: SQLite reads the whole table for a list of pairs, but looks each
    time up by the key when the sensor is one.
    """
    times_of: dict[int, list[int]] = {}
    for sensor_id, time_us in keys:
        times_of.setdefault(sensor_id, []).append(time_us)
    found = {}
    for sensor_id, times_us in times_of.items():
        for start in range(0, len(times_us), _TIMES_A_QUERY):
            rows = session.connection().execute(
                _TABLE.select().where(
                    _TABLE.c.sensor_id == sensor_id,
                    _TABLE.c.time_us.in_(times_us[start : start + _TIMES_A_QUERY]),
                )
            )
            for _sensor_id, time_us, temperature_c, humidity_pct in rows:
                found[sensor_id, time_us] = (temperature_c, humidity_pct)
    return found


def sensor_history(session: Session, sensor_id: int, from_us: int, to_us: int) -> AirHistory:
    """The readings of one sensor from `from_us` up to but without `to_us`, in time order."""
    rows = (
        session.connection()
        .execute(
            select(Reading.time_us, Reading.temperature_c, Reading.humidity_pct)
            .where(
                col(Reading.sensor_id) == sensor_id,
                col(Reading.time_us) >= from_us,
                col(Reading.time_us) < to_us,
            )
            .order_by(col(Reading.time_us))
        )
        .all()
    )
    times, temperatures, humidities = zip(*rows, strict=True) if rows else ((), (), ())
    return AirHistory(
        times_us=np.array(times, dtype=np.int64),
        temperature_c=np.array(temperatures, dtype=np.float64),
        humidity_pct=np.array(humidities, dtype=np.float64),
    )


def space_history(session: Session, space_id: int, from_us: int, to_us: int) -> AirHistory:
    """The air of a space from `from_us` up to but without `to_us`, in time order.

    Where several sensors stand in the space at once, the one placed last speaks for it.
    """
    placements = session.exec(
        select(SensorPlacement)
        .where(col(SensorPlacement.space_id) == space_id)
        .order_by(col(SensorPlacement.from_us), col(SensorPlacement.id))
    ).all()
    parts: list[AirHistory] = []
    for position, placement in enumerate(placements):
        later = placements[position + 1 :]
        for free_from_us, free_to_us in _free_of(placement, later):
            first_us, end_us = max(free_from_us, from_us), min(free_to_us, to_us)
            if first_us < end_us:
                parts.append(sensor_history(session, placement.sensor_id, first_us, end_us))
    if not parts:
        return sensor_history(session, -1, 0, 0)
    times = np.concatenate([part.times_us for part in parts])
    order = np.argsort(times, kind="stable")
    return AirHistory(
        times_us=times[order],
        temperature_c=np.concatenate([part.temperature_c for part in parts])[order],
        humidity_pct=np.concatenate([part.humidity_pct for part in parts])[order],
    )


_FAR_FUTURE_US = 2**62


def _free_of(placement: SensorPlacement, later: Sequence[SensorPlacement]) -> list[tuple[int, int]]:
    """The parts of a placement's time in which no later placement stands."""
    free = [(placement.from_us, _end(placement))]
    for other in later:
        free = [
            piece
            for start, end in free
            for piece in ((start, min(end, other.from_us)), (max(start, _end(other)), end))
            if piece[0] < piece[1]
        ]
    return free


def _end(placement: SensorPlacement) -> int:
    return _FAR_FUTURE_US if placement.to_us is None else placement.to_us


def latest(session: Session, sensor_id: int) -> Reading | None:
    """The newest reading of a sensor, by its own time."""
    return session.exec(
        select(Reading)
        .where(col(Reading.sensor_id) == sensor_id)
        .order_by(col(Reading.time_us).desc())
        .limit(1)
    ).first()


def recent_times_us(session: Session, sensor_id: int, count: int) -> npt.NDArray[np.int64]:
    """The times of the newest readings of a sensor, rising; at most `count`. [µs UTC]"""
    newest_first = session.exec(
        select(Reading.time_us)
        .where(col(Reading.sensor_id) == sensor_id)
        .order_by(col(Reading.time_us).desc())
        .limit(count)
    ).all()
    return np.array(newest_first[::-1], dtype=np.int64)
