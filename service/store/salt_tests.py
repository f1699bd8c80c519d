"""Saturated-salt tests of sensors: which sensor lay in which salt's air, from when to when.

While a sensor is in a test its readings speak for no space, whatever is said of where it
stands; `service.store.air` leaves them out.
"""

from collections.abc import Sequence

from sqlmodel import Session, col, select

from service.errors import UnknownError
from service.store.tables import SaltTest, SensorPlacement

_FAR_FUTURE_US = 2**62


def of_sensor(session: Session, sensor_id: int) -> Sequence[SaltTest]:
    """All tests of a sensor, also withdrawn ones, oldest first."""
    return session.exec(
        select(SaltTest)
        .where(col(SaltTest.sensor_id) == sensor_id)
        .order_by(col(SaltTest.started_us), col(SaltTest.id))
    ).all()


def salt_test(session: Session, test_id: int) -> SaltTest:
    """One test.

    Raises:
        UnknownError: There is none with that number.
    """
    found = session.get(SaltTest, test_id)
    if found is None:
        raise UnknownError(f"there is no salt test {test_id}")
    return found


def running(session: Session, sensor_id: int) -> SaltTest | None:
    """The test in which a sensor is now, if any."""
    return session.exec(
        select(SaltTest).where(
            col(SaltTest.sensor_id) == sensor_id, col(SaltTest.ended_us).is_(None)
        )
    ).first()


def start(session: Session, sensor_id: int, salt: str, started_us: int) -> SaltTest:
    """Enter that a sensor lies in the air of a salt from that time on."""
    begun = SaltTest(sensor_id=sensor_id, salt=salt, started_us=started_us)
    session.add(begun)
    session.flush()
    return begun


def save(session: Session, test: SaltTest) -> None:
    """Keep what was changed of a test."""
    session.add(test)
    session.flush()


def spans(session: Session, sensor_id: int) -> list[tuple[int, int]]:
    """From when to when a sensor lay in the air of a salt; far ahead while it still does. [µs]

    Also of tests that were withdrawn: what they showed counts no longer, but the air was that
    of the salt. A start that was undone lasted no time.
    """
    rows = session.exec(
        select(SaltTest.started_us, SaltTest.ended_us).where(col(SaltTest.sensor_id) == sensor_id)
    )
    return [
        (from_us, _FAR_FUTURE_US if to_us is None else to_us)
        for from_us, to_us in rows
        if to_us is None or from_us < to_us
    ]


def stay_before(session: Session, test: SaltTest) -> SensorPlacement | None:
    """The stay of the sensor in a space that ended when the test began, if it stood anywhere."""
    return session.exec(
        select(SensorPlacement)
        .where(
            col(SensorPlacement.sensor_id) == test.sensor_id,
            col(SensorPlacement.to_us) == test.started_us,
        )
        .order_by(col(SensorPlacement.from_us).desc(), col(SensorPlacement.id).desc())
        .limit(1)
    ).first()


def takes_sensor_of(session: Session, space_id: int) -> bool:
    """Whether a sensor that stood in that space is in a test now."""
    tests = session.exec(
        select(SaltTest)
        .join(SensorPlacement, col(SensorPlacement.sensor_id) == col(SaltTest.sensor_id))
        .where(
            col(SaltTest.ended_us).is_(None),
            col(SensorPlacement.space_id) == space_id,
            col(SensorPlacement.to_us) == col(SaltTest.started_us),
        )
        .limit(1)
    )
    return tests.first() is not None
