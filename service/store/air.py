"""Readings: adding them, each once, and fetching them as arrays.

What a sensor said is fetched as received; the air of a space is fetched corrected. Spikes stay
in both unless asked out: a mean over a quarter of an hour hardly feels one, and the search for
them looks ahead, so what it says of the newest reading may change with the next one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
from sqlalchemy import CursorResult, Table, bindparam, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col, select

from service.ageing.values import Quantity
from service.ageing.verdict import AirHistory
from service.clock import DAY_US
from service.science.correction import at_full_scale
from service.science.lag import moved_back
from service.science.sensor_truth import STEADY_STUCK_S
from service.science.signals import US_PER_S
from service.science.silenced import Sifted, sifted
from service.science.thinning import usual_gap_us
from service.store import corrections, places, salt_tests
from service.store.tables import Reading, SensorPlacement

_TABLE: Table = Reading.__table__  # type: ignore[attr-defined]  # set by SQLModel's metaclass
_FAR_FUTURE_US: Final = 2**62
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
    result = session.connection().execute(
        select(Reading.time_us, Reading.temperature_c, Reading.humidity_pct)
        .where(
            col(Reading.sensor_id) == sensor_id,
            col(Reading.time_us) >= from_us,
            col(Reading.time_us) < to_us,
        )
        .order_by(col(Reading.time_us))
    )
    # Straight from the driver's cursor: rows with names would cost three times as much.
    assert result.cursor is not None  # it is a query
    rows = np.array(result.cursor.fetchall(), dtype=np.float64).reshape(-1, 3)
    result.close()
    return AirHistory(
        # Microseconds of the next two centuries are whole in a float.
        times_us=rows[:, 0].astype(np.int64),
        temperature_c=rows[:, 1].copy(),
        humidity_pct=rows[:, 2].copy(),
    )


def space_history(
    session: Session,
    space_id: int,
    from_us: int,
    to_us: int,
    *,
    cleaned: bool = False,
    known_us: int = _FAR_FUTURE_US,
) -> AirHistory:
    """The air of a space from `from_us` up to but without `to_us`, in time order, corrected.

    Where several sensors stand in the space at once, the one placed last speaks for it. The
    readings of a sensor that is in a saturated-salt test speak for no space. Humidities are
    told by the corrections of their sensor (`service.store.corrections`); each value hangs on
    its own reading alone, so that what has been judged stays as it was when more comes.

    Args:
        session: Only read from.
        space_id: The space.
        from_us: The first time. [µs UTC]
        to_us: The time after the last. [µs UTC]
        cleaned: Also take out spikes and what a stuck or wet sensor says, and move readings
            back by the sensor's own lag where it is known: the best estimate of the air, for
            the physics of wheels. The newest values then change as later readings come.
        known_us: What came from here on has no say in that. [µs UTC]
    """
    placements = session.exec(
        select(SensorPlacement)
        .where(col(SensorPlacement.space_id) == space_id)
        .order_by(col(SensorPlacement.from_us), col(SensorPlacement.id))
    ).all()
    parts: list[AirHistory] = []
    tests = {
        sensor_id: salt_tests.spans(session, sensor_id)
        for sensor_id in {placement.sensor_id for placement in placements}
    }
    for position, placement in enumerate(placements):
        later = [(other.from_us, _end(other)) for other in placements[position + 1 :]]
        for stay in _free_of(placement, [*later, *tests[placement.sensor_id]]):
            first_us, end_us = max(stay[0], from_us), min(stay[1], to_us)
            if first_us < end_us:
                seen = (stay[0], min(stay[1], known_us)) if cleaned else None
                parts.append(_told(session, placement.sensor_id, first_us, end_us, seen))
    if not parts:
        return sensor_history(session, -1, 0, 0)
    times = np.concatenate([part.times_us for part in parts])
    order = np.argsort(times, kind="stable")
    return AirHistory(
        times_us=times[order],
        temperature_c=np.concatenate([part.temperature_c for part in parts])[order],
        humidity_pct=np.concatenate([part.humidity_pct for part in parts])[order],
    )


def is_corrected(session: Session, space_id: int, from_us: int, to_us: int) -> bool:
    """Whether a correction may touch the humidity of a space in that time."""
    stays = session.exec(select(SensorPlacement).where(col(SensorPlacement.space_id) == space_id))
    return any(
        not one.withdrawn and one.from_us < min(_end(stay), to_us)
        for stay in stays
        if stay.from_us < to_us and _end(stay) > from_us
        for one in corrections.of_sensor(session, stay.sensor_id)
    )


AROUND_US: Final = round(STEADY_STUCK_S) * US_PER_S
"""How far around a span readings are looked at to clean it. [µs] As long as the steadiest sensor
must stand still to be called stuck, so that no edge of a span hides it."""
_FURTHER: Final = 4
_FURTHEST_US: Final = 32 * DAY_US
"""How far before a span it is looked at whether a sensor mostly stands still. [µs] Our choice: one
that stands still for more than sixteen days is believed, for it may lie in air that does."""
_LAG_NOISE_K, _LAG_NOISE_PCT = 0.1, 0.5
"""Noise that moving readings back may add. [K, %RH] Our choice: a sensor's own accuracy is
twice as bad or worse."""


def _told(
    session: Session, sensor_id: int, from_us: int, to_us: int, seen: tuple[int, int] | None
) -> AirHistory:
    """What a sensor tells of its air, corrected; cleaned by what was `seen` from when to when."""
    if seen is None:
        return _corrected(session, sensor_id, sensor_history(session, sensor_id, from_us, to_us))
    said, left = sifted_history(session, sensor_id, from_us, to_us, seen)
    air = AirHistory(said.times_us, left.temperature_c, left.humidity_pct)
    true = _corrected(session, sensor_id, air)
    if true is not air:
        true = replace(true, humidity_pct=at_full_scale(air.humidity_pct, true.humidity_pct))
    air = _without_lag(session, sensor_id, true)
    asked = slice(*np.searchsorted(air.times_us, [from_us, to_us]).tolist())
    return AirHistory(air.times_us[asked], air.temperature_c[asked], air.humidity_pct[asked])


def sifted_history(
    session: Session, sensor_id: int, from_us: int, to_us: int, stay: tuple[int, int]
) -> tuple[AirHistory, Sifted]:
    """What a sensor said about a span, and what of it tells of the air.

    Args:
        session: Only read from.
        sensor_id: The sensor.
        from_us: The first time of the span. [µs UTC]
        to_us: The time after its last. [µs UTC]
        stay: From when to when it stood where it stands; it is not looked beyond. [µs UTC]

    Returns:
        The readings as received, of the span and around it, and the same sifted.
    """
    before_us, end_us = AROUND_US, min(stay[1], to_us + AROUND_US)
    while True:
        first_us = max(stay[0], from_us - before_us)
        said = sensor_history(session, sensor_id, first_us, end_us)
        longest_s = usual_gap_us(said.times_us) / US_PER_S
        left = sifted(said.times_us, said.temperature_c, said.humidity_pct, longest_s)
        if not left.mostly_still or first_us == stay[0] or before_us >= _FURTHEST_US:
            return said, left
        before_us = min(_FURTHER * before_us, _FURTHEST_US)


def _corrected(session: Session, sensor_id: int, said: AirHistory) -> AirHistory:
    made = corrections.of_sensor(session, sensor_id)
    if not made:
        return said
    humidity_pct = corrections.corrected(made, said.times_us, said.humidity_pct)
    return AirHistory(said.times_us, said.temperature_c, humidity_pct)


def _without_lag(session: Session, sensor_id: int, air: AirHistory) -> AirHistory:
    sensor = places.sensor(session, sensor_id)
    longest_s = usual_gap_us(air.times_us) / US_PER_S
    temperature_c, humidity_pct = (
        values
        if not lag_s
        else moved_back(air.times_us, values, lag_s, longest_s=longest_s, most_noise=most)
        for values, lag_s, most in (
            (air.temperature_c, sensor.temperature_lag_s, _LAG_NOISE_K),
            (air.humidity_pct, sensor.humidity_lag_s, _LAG_NOISE_PCT),
        )
    )
    return AirHistory(air.times_us, temperature_c, np.clip(humidity_pct, 0.0, 100.0))


def _free_of(placement: SensorPlacement, taken: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """The parts of a placement's time that nothing else takes."""
    free = [(placement.from_us, _end(placement))]
    for taken_from_us, taken_to_us in taken:
        free = [
            piece
            for start, end in free
            for piece in ((start, min(end, taken_from_us)), (max(start, taken_to_us), end))
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


def newest_values(
    session: Session, sensor_id: int, quantity: Quantity, stay: tuple[int, int], count: int
) -> list[float]:
    """The newest values of a quantity that a sensor told during a stay, the newest first.

    A reading without it is passed over. The stay is from when on, and up to but without when.
    """
    value = col(Reading.temperature_c if quantity is Quantity.TEMPERATURE else Reading.humidity_pct)
    found = session.exec(
        select(value)
        .where(
            col(Reading.sensor_id) == sensor_id,
            col(Reading.time_us) >= stay[0],
            col(Reading.time_us) < stay[1],
            value.is_not(None),
        )
        .order_by(col(Reading.time_us).desc())
        .limit(count)
    )
    return [each for each in found if each is not None]


def recent_times_us(session: Session, sensor_id: int, count: int) -> npt.NDArray[np.int64]:
    """The times of the newest readings of a sensor, rising; at most `count`. [µs UTC]"""
    newest_first = session.exec(
        select(Reading.time_us)
        .where(col(Reading.sensor_id) == sensor_id)
        .order_by(col(Reading.time_us).desc())
        .limit(count)
    ).all()
    return np.array(newest_first[::-1], dtype=np.int64)


def newest_us(session: Session, space_id: int, until_us: int) -> int | None:
    """The time of a space's newest reading up to and with a time; None without any. [µs UTC]"""
    found: list[int] = []
    for placement in session.exec(
        select(SensorPlacement).where(
            col(SensorPlacement.space_id) == space_id, col(SensorPlacement.from_us) <= until_us
        )
    ):
        newest = session.exec(
            select(Reading.time_us)
            .where(
                col(Reading.sensor_id) == placement.sensor_id,
                col(Reading.time_us) >= placement.from_us,
                col(Reading.time_us) <= min(until_us, _end(placement) - 1),
            )
            .order_by(col(Reading.time_us).desc())
            .limit(1)
        ).first()
        if newest is not None:
            found.append(newest)
    return max(found, default=None)
