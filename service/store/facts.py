"""A stamp on everything that the maker has said, so that what was worked out can be kept.

Readings are not in it: there are far too many. Whoever keeps a result asks for their newest
time and their number in the span that the result rests on.
"""

import hashlib
from collections.abc import Collection
from typing import Final

from sqlmodel import Session, SQLModel, col, func, select

from service.store.tables import (
    Batch,
    Reading,
    SaltTest,
    Sensor,
    SensorCorrection,
    SensorPlacement,
    Space,
    StageLived,
    Weighing,
    Wheel,
    WheelPlacement,
)

_SAID: tuple[type[SQLModel], ...] = (
    Batch,
    SaltTest,
    SensorCorrection,
    SensorPlacement,
    Space,
    StageLived,
    Weighing,
    Wheel,
    WheelPlacement,
)


LIVES: Final = (Wheel, WheelPlacement, Batch, StageLived, Weighing)
"""The tables of which no air hangs."""


def stamp(session: Session, *, but: Collection[type[SQLModel]] = ()) -> str:
    """A digest of spaces, wheels, their lives, weighings, and what is known of the sensors.

    Args:
        session: Only read from.
        but: Tables that do not matter to whoever asks.
    """
    session.flush()
    digest = hashlib.sha256()
    for table in (each for each in _SAID if each not in but):
        rows = session.connection().execute(
            select(table.__table__).order_by(table.__table__.c.id)  # type: ignore[attr-defined]  # set by SQLModel's metaclass
        )
        digest.update(repr((table.__name__, [tuple(row) for row in rows])).encode())
    lags = session.exec(
        select(Sensor.id, Sensor.temperature_lag_s, Sensor.humidity_lag_s).order_by(col(Sensor.id))
    ).all()
    digest.update(repr([tuple(row) for row in lags]).encode())
    return digest.hexdigest()


def newest_reading_us(session: Session, space_ids: Collection[int]) -> int:
    """Time of the newest reading of any sensor that ever stood in these spaces; 0 if none."""
    newest = [
        session.exec(
            select(Reading.time_us)
            .where(col(Reading.sensor_id) == sensor)
            .order_by(col(Reading.time_us).desc())
            .limit(1)
        ).first()
        for sensor in _sensors(session, space_ids)
    ]
    return max((time_us for time_us in newest if time_us is not None), default=0)


def count_readings(session: Session, space_ids: Collection[int], from_us: int, to_us: int) -> int:
    """How many readings such sensors have from a time up to but without another."""
    return sum(
        session.exec(
            select(func.count())
            .select_from(Reading)
            .where(
                col(Reading.sensor_id) == sensor,
                col(Reading.time_us) >= from_us,
                col(Reading.time_us) < to_us,
            )
        ).one()
        for sensor in _sensors(session, space_ids)
    )


def _sensors(session: Session, space_ids: Collection[int]) -> list[int]:
    return sorted(
        session.exec(
            select(SensorPlacement.sensor_id)
            .where(col(SensorPlacement.space_id).in_(list(space_ids)))
            .distinct()
        ).all()
    )
