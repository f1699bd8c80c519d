"""Sites, spaces and sensors, and which sensor stands where."""

from collections.abc import Sequence

from sqlmodel import Session, col, or_, select

from service.errors import UnknownError
from service.store.tables import Sensor, SensorPlacement, Site, Space, ZoneHeld


def the_site(session: Session) -> Site | None:
    """The household's site, or None before set-up. One store serves one household."""
    return session.exec(select(Site).order_by(col(Site.id)).limit(1)).first()


def zones_held(session: Session) -> Sequence[ZoneHeld]:
    """The time zones that the household has had, the one that ended first before the others."""
    return session.exec(select(ZoneHeld).order_by(col(ZoneHeld.until_us), col(ZoneHeld.id))).all()


def set_zone(session: Session, site: Site, time_zone: str, at_us: int) -> None:
    """The household has that time zone from then on; what was before keeps its own."""
    if site.time_zone == time_zone:
        return
    assert site.id is not None  # it is stored
    session.add(ZoneHeld(site_id=site.id, time_zone=site.time_zone, until_us=at_us))
    site.time_zone = time_zone
    session.add(site)
    session.flush()


def spaces(session: Session) -> Sequence[Space]:
    """All spaces in the order in which they were made, boxes after their cave."""
    return session.exec(select(Space).order_by(col(Space.id))).all()


def space(session: Session, space_id: int) -> Space:
    """One space.

    Raises:
        UnknownError: There is none with that number.
    """
    found = session.get(Space, space_id)
    if found is None:
        raise UnknownError(f"there is no space {space_id}")
    return found


def set_room(session: Session, space_id: int, room_cm2: float | None) -> Space:
    """Keep how much of a space is free for wheels; None where that is not known. [cm²]

    Raises:
        UnknownError: There is no such space.
    """
    found = space(session, space_id)
    found.room_cm2 = room_cm2
    session.add(found)
    session.flush()
    return found


def sensors(session: Session) -> Sequence[Sensor]:
    """All sensors ever seen, by key."""
    return session.exec(select(Sensor).order_by(col(Sensor.key))).all()


def sensor(session: Session, sensor_id: int) -> Sensor:
    """One sensor.

    Raises:
        UnknownError: There is none with that number.
    """
    found = session.get(Sensor, sensor_id)
    if found is None:
        raise UnknownError(f"there is no sensor {sensor_id}")
    return found


def sensor_for(session: Session, key: str, seen_us: int) -> Sensor:
    """The sensor with that key; entered as new, not placed, when it is seen for the first time."""
    found = session.exec(select(Sensor).where(col(Sensor.key) == key)).first()
    if found is None:
        found = Sensor(key=key, name=key.rpartition("/")[2], first_seen_us=seen_us)
        session.add(found)
        session.flush()
    return found


def set_lags(
    session: Session, sensor_id: int, temperature_lag_s: float | None, humidity_lag_s: float | None
) -> Sensor:
    """Keep how slowly a sensor follows its air; None where that is not known. [s]

    Raises:
        UnknownError: There is no such sensor.
    """
    found = sensor(session, sensor_id)
    found.temperature_lag_s, found.humidity_lag_s = temperature_lag_s, humidity_lag_s
    session.add(found)
    session.flush()
    return found


def placements_of_sensor(session: Session, sensor_id: int) -> Sequence[SensorPlacement]:
    """Where a sensor has stood, oldest first."""
    return session.exec(
        select(SensorPlacement)
        .where(col(SensorPlacement.sensor_id) == sensor_id)
        .order_by(col(SensorPlacement.from_us))
    ).all()


def sensors_in(session: Session, space_id: int, at_us: int) -> Sequence[SensorPlacement]:
    """The placements of sensors that stand in a space at that time, the one placed last first."""
    return session.exec(
        select(SensorPlacement)
        .where(
            col(SensorPlacement.space_id) == space_id,
            col(SensorPlacement.from_us) <= at_us,
            or_(col(SensorPlacement.to_us).is_(None), col(SensorPlacement.to_us) > at_us),
        )
        .order_by(col(SensorPlacement.from_us).desc(), col(SensorPlacement.id).desc())
    ).all()


def place_sensor(
    session: Session, sensor_id: int, space_id: int | None, from_us: int
) -> SensorPlacement | None:
    """From that time on the sensor stands in that space, or nowhere when it is None.

    What was said of later times is replaced: a placement that begins later goes, one that
    lasts longer ends here.

    Raises:
        UnknownError: There is no such sensor or space.
    """
    sensor(session, sensor_id)
    for placement in placements_of_sensor(session, sensor_id):
        if placement.from_us >= from_us:
            session.delete(placement)
        elif placement.to_us is None or placement.to_us > from_us:
            placement.to_us = from_us
            session.add(placement)
    if space_id is None:
        return None
    space(session, space_id)
    placed = SensorPlacement(sensor_id=sensor_id, space_id=space_id, from_us=from_us)
    session.add(placed)
    session.flush()
    return placed
