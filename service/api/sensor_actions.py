"""What a keeper does to make a sensor tell the truth, for pages and API alike.

As in `service.api.actions`: each action takes a turn in the store first, and may be sent twice
without harm.
"""

import math
from collections.abc import Sequence
from typing import Final

from service import calibrating
from service.api.refusals import RefusedError
from service.clock import US_PER_S
from service.errors import UnknownError
from service.science.salts import salt_named
from service.store import corrections, places, salt_tests
from service.store.database import Session
from service.store.tables import SaltTest, Sensor, SensorCorrection
from service.store.turns import take_turn

_AHEAD_US: Final = 600 * US_PER_S
"""As for all that is entered: a browser's clock may be so far ahead."""
_LONGEST_LAG_S: Final = 1_800.0
"""Our choice: a sensor that follows its air more slowly than this is wrapped in something."""
_MOST_TESTS: Final = 5
"""Our choice: there are five salts."""


def start_salt_test(session: Session, sensor_id: int, salt: str, now_us: int) -> SaltTest:
    """The sensor goes into the air of a salt now, and speaks for no space until the test ends.

    Raises:
        UnknownError: There is no such sensor.
        OutOfRangeError: There is no such salt.
        RefusedError: It is in a test with another salt.
    """
    chosen = salt_named(salt)
    take_turn(session)
    places.sensor(session, sensor_id)
    under_way = salt_tests.running(session, sensor_id)
    if under_way is not None:
        if salt_named(under_way.salt) is chosen:
            return under_way
        raise RefusedError(f"a test with {under_way.salt} is under way; end it first")
    places.place_sensor(session, sensor_id, None, now_us)
    return salt_tests.start(session, sensor_id, chosen.value, now_us)


def end_salt_test(
    session: Session, test_id: int, space_id: int | None, now_us: int, *, back: bool = False
) -> SaltTest:
    """The sensor is out of the salt's air now and stands in that space, or nowhere.

    With `back` it stands where it stood before the test. Of a test that has ended already
    nothing changes.

    Raises:
        UnknownError: There is no such test or space.
    """
    take_turn(session)
    test = salt_tests.salt_test(session, test_id)
    if test.ended_us is not None:
        return test
    if back:
        stay = salt_tests.stay_before(session, test)
        space_id = None if stay is None else stay.space_id
    if space_id is not None:
        places.space(session, space_id)
    # A test that lasted no time counts as undone, so one that was not lasts a moment at least.
    test.ended_us = max(now_us, test.started_us + 1)
    salt_tests.save(session, test)
    if space_id is not None:
        places.place_sensor(session, test.sensor_id, space_id, test.ended_us)
    return test


def undo_salt_test(session: Session, test_id: int) -> SaltTest:
    """Take a test back.

    One that is under way never was: the sensor has stood where it stood all the time. One that
    has ended is not used any more, but the sensor was in the salt's air, so what it said then
    still speaks for no space.

    Raises:
        UnknownError: There is no such test.
    """
    take_turn(session)
    test = salt_tests.salt_test(session, test_id)
    if test.ended_us is None:
        stay = salt_tests.stay_before(session, test)
        if stay is not None:
            places.place_sensor(session, test.sensor_id, stay.space_id, test.started_us)
        test.ended_us = test.started_us
    test.withdrawn = True
    salt_tests.save(session, test)
    return test


def correct_sensor(
    session: Session, sensor_id: int, test_ids: Sequence[int], from_us: int | None, now_us: int
) -> SensorCorrection:
    """Correct a sensor's humidity by its tests from a time on, which may lie in the past.

    Without a time from now on. The same again changes nothing.

    Raises:
        UnknownError: There is no such sensor or test.
        RefusedError: A test is not of this sensor or named twice, or the time is ahead.
        OutOfRangeError: A test cannot be used, or no sensor in order would need this.
    """
    if from_us is not None and from_us > now_us + _AHEAD_US:
        raise RefusedError("that time is still to come; a correction holds from now or earlier")
    if not 1 <= len(test_ids) <= _MOST_TESTS or len(set(test_ids)) < len(test_ids):
        raise RefusedError(f"name one to {_MOST_TESTS} salt tests, each once")
    take_turn(session)
    places.sensor(session, sensor_id)
    rows = [salt_tests.salt_test(session, test_id) for test_id in test_ids]
    if any(row.sensor_id != sensor_id for row in rows):
        raise RefusedError("that salt test is of another sensor")
    tests = [calibrating.salt_test_now(session, row, now_us) for row in rows]
    made = calibrating.proposal(tests).row(
        sensor_id, now_us if from_us is None else from_us, now_us
    )
    standing = [one for one in corrections.of_sensor(session, sensor_id) if not one.withdrawn]
    if standing and _says_the_same(standing[-1], made):
        return standing[-1]
    return corrections.add(session, made)


def withdraw_correction(session: Session, sensor_id: int, correction_id: int) -> SensorCorrection:
    """Let a correction count no longer; what held before holds again.

    Raises:
        UnknownError: There is no such correction of that sensor.
    """
    take_turn(session)
    if corrections.correction(session, correction_id).sensor_id != sensor_id:
        raise UnknownError(f"there is no correction {correction_id} of that sensor")
    return corrections.withdraw(session, correction_id)


def set_lags(
    session: Session, sensor_id: int, temperature_lag_s: float | None, humidity_lag_s: float | None
) -> Sensor:
    """How slowly a sensor follows its air, as its data sheet says; None where not known.

    Raises:
        UnknownError: There is no such sensor.
        RefusedError: No sensor of air is so slow, or it would be ahead of its air.
    """
    for lag_s in (temperature_lag_s, humidity_lag_s):
        if lag_s is not None and not (math.isfinite(lag_s) and 0.0 <= lag_s <= _LONGEST_LAG_S):
            raise RefusedError(f"a lag is from 0 to {_LONGEST_LAG_S:g} seconds")
    take_turn(session)
    return places.set_lags(session, sensor_id, temperature_lag_s, humidity_lag_s)


def _says_the_same(one: SensorCorrection, other: SensorCorrection) -> bool:
    return (one.from_us, one.offset_pct, one.gain, one.salts) == (
        other.from_us,
        other.offset_pct,
        other.gain,
        other.salts,
    )
