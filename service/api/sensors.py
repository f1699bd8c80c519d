"""Sensors: where they stand, and how true they are."""

import math
from http import HTTPStatus
from typing import Final

from fastapi import APIRouter

from service import calibrating
from service.api import actions, sensor_actions
from service.api.bodies import (
    CorrectionBody,
    EndBody,
    LagsBody,
    PathId,
    PlacementBody,
    SaltTestBody,
)
from service.api.context import WithContext, WithSession
from service.api.sensor_shapes import (
    CorrectionAnswer,
    ReadingAnswer,
    SaltTestAnswer,
    SensorAnswer,
    SensorFindingAnswer,
    SensorStayAnswer,
    SensorTruthAnswer,
)
from service.errors import UnknownError
from service.science.sensor_truth import Finding
from service.store import air, corrections, places, salt_tests
from service.store.database import Session
from service.store.tables import SaltTest, Sensor, Space

router = APIRouter(tags=["sensors"])

_MOST_TESTS: Final = 20


@router.get("/sensors")
def list_sensors(session: WithSession) -> list[SensorAnswer]:
    """Every sensor ever seen: where it stands, its last reading, its battery and its link."""
    spaces = {space.id: space for space in places.spaces(session)}
    return [_answer(session, sensor, spaces) for sensor in places.sensors(session)]


@router.post("/sensors/{sensor_id}/placements")
def place(
    context: WithContext, session: WithSession, sensor_id: PathId, body: PlacementBody
) -> SensorAnswer:
    """The sensor stands in a space, or nowhere; what was said of later times is replaced."""
    now_us = context.clock.now_us()
    actions.place_sensor(session, sensor_id, body.space_id, body.from_, now_us)
    spaces = {space.id: space for space in places.spaces(session)}
    return _answer(session, places.sensor(session, sensor_id), spaces)


@router.get("/sensors/{sensor_id}")
def one_sensor(context: WithContext, session: WithSession, sensor_id: PathId) -> SensorTruthAnswer:
    """One sensor: what its readings of the last week tell against it, corrections, salt tests."""
    now_us = context.clock.now_us()
    sensor = places.sensor(session, sensor_id)
    spaces = {space.id: space for space in places.spaces(session)}
    made = corrections.of_sensor(session, sensor_id)
    holding = corrections.in_force(made, now_us)
    return SensorTruthAnswer(
        **dict(_answer(session, sensor, spaces)),
        usual_interval_s=calibrating.usual_interval_s(session, sensor_id),
        findings=tuple(
            _finding(each) for each in calibrating.findings_of(session, sensor_id, now_us)
        ),
        correction=None if holding is None else CorrectionAnswer.model_validate(holding),
        corrections=tuple(CorrectionAnswer.model_validate(each) for each in reversed(made)),
        salt_tests=tuple(
            SaltTestAnswer.of(each)
            for each in calibrating.salt_tests_of(session, sensor_id, now_us, _MOST_TESTS)
        ),
    )


@router.post("/sensors/{sensor_id}/lags")
def set_lags(session: WithSession, sensor_id: PathId, body: LagsBody) -> SensorAnswer:
    """How slowly a sensor follows its air, from its data sheet."""
    sensor = sensor_actions.set_lags(
        session, sensor_id, body.temperature_lag_s, body.humidity_lag_s
    )
    return _answer(session, sensor, {space.id: space for space in places.spaces(session)})


@router.post("/sensors/{sensor_id}/salt-tests", status_code=HTTPStatus.CREATED)
def start_salt_test(
    context: WithContext, session: WithSession, sensor_id: PathId, body: SaltTestBody
) -> SaltTestAnswer:
    """The sensor goes into the air of a saturated salt; until the end it speaks for no space."""
    now_us = context.clock.now_us()
    row = sensor_actions.start_salt_test(session, sensor_id, body.salt, now_us)
    return SaltTestAnswer.of(calibrating.salt_test_now(session, row, now_us))


@router.get("/sensors/{sensor_id}/salt-tests")
def list_salt_tests(
    context: WithContext, session: WithSession, sensor_id: PathId
) -> list[SaltTestAnswer]:
    """The newest salt tests of a sensor, newest first, each with how it stands."""
    places.sensor(session, sensor_id)
    now_us = context.clock.now_us()
    found = calibrating.salt_tests_of(session, sensor_id, now_us, _MOST_TESTS)
    return [SaltTestAnswer.of(each) for each in found]


@router.get("/sensors/{sensor_id}/salt-tests/{test_id}")
def one_salt_test(
    context: WithContext, session: WithSession, sensor_id: PathId, test_id: PathId
) -> SaltTestAnswer:
    """How a salt test stands: not yet, done, or it will not settle and why."""
    row = _test_of(session, sensor_id, test_id)
    return SaltTestAnswer.of(calibrating.salt_test_now(session, row, context.clock.now_us()))


@router.post("/sensors/{sensor_id}/salt-tests/{test_id}/end")
def end_salt_test(
    context: WithContext,
    session: WithSession,
    sensor_id: PathId,
    test_id: PathId,
    body: EndBody | None = None,
) -> SaltTestAnswer:
    """The sensor is out of the salt's air and stands where it was, unless the body says where."""
    _test_of(session, sensor_id, test_id)
    now_us = context.clock.now_us()
    said = body is not None and "space_id" in body.model_fields_set
    row = sensor_actions.end_salt_test(
        session, test_id, body.space_id if body else None, now_us, back=not said
    )
    return SaltTestAnswer.of(calibrating.salt_test_now(session, row, now_us))


@router.post("/sensors/{sensor_id}/salt-tests/{test_id}/withdraw")
def withdraw_salt_test(
    context: WithContext, session: WithSession, sensor_id: PathId, test_id: PathId
) -> SaltTestAnswer:
    """Take a test back: one under way never was, one that has ended is not used any more."""
    _test_of(session, sensor_id, test_id)
    row = sensor_actions.undo_salt_test(session, test_id)
    return SaltTestAnswer.of(calibrating.salt_test_now(session, row, context.clock.now_us()))


@router.post("/sensors/{sensor_id}/corrections", status_code=HTTPStatus.CREATED)
def correct(
    context: WithContext, session: WithSession, sensor_id: PathId, body: CorrectionBody
) -> CorrectionAnswer:
    """Correct the sensor's humidity by one salt test or more, from a time on, also past ones.

    Readings stay as received; what is told of the air changes. Alarms that were raised before
    stay on record as they were.
    """
    made = sensor_actions.correct_sensor(
        session, sensor_id, body.tests, body.from_, context.clock.now_us()
    )
    return CorrectionAnswer.model_validate(made)


@router.get("/sensors/{sensor_id}/corrections")
def list_corrections(session: WithSession, sensor_id: PathId) -> list[CorrectionAnswer]:
    """All corrections of a sensor, the one made last first, also withdrawn ones."""
    places.sensor(session, sensor_id)
    made = corrections.of_sensor(session, sensor_id)
    return [CorrectionAnswer.model_validate(each) for each in reversed(made)]


@router.post("/sensors/{sensor_id}/corrections/{correction_id}/withdraw")
def withdraw_correction(
    session: WithSession, sensor_id: PathId, correction_id: PathId
) -> CorrectionAnswer:
    """Let a correction count no longer; what held before holds again."""
    found = sensor_actions.withdraw_correction(session, sensor_id, correction_id)
    return CorrectionAnswer.model_validate(found)


def _answer(session: Session, sensor: Sensor, spaces: dict[int | None, Space]) -> SensorAnswer:
    assert sensor.id is not None  # it came from the store
    stays = places.placements_of_sensor(session, sensor.id)
    here = stays[-1] if stays and stays[-1].to_us is None else None
    newest = air.latest(session, sensor.id)
    not_here = "not placed any more" if stays else "new, not placed"
    if salt_tests.running(session, sensor.id) is not None:
        not_here = "in a salt test"
    return SensorAnswer(
        id=sensor.id,
        key=sensor.key,
        name=sensor.name,
        first_seen=sensor.first_seen_us,
        state="placed" if here is not None else not_here,
        placement=None
        if here is None
        else SensorStayAnswer(
            space_id=here.space_id, space=spaces[here.space_id].name, from_=here.from_us
        ),
        last_reading=None if newest is None else ReadingAnswer.model_validate(newest),
        battery_pct=sensor.battery_pct,
        battery_v=sensor.battery_v,
        link=sensor.link,
        temperature_lag_s=sensor.temperature_lag_s,
        humidity_lag_s=sensor.humidity_lag_s,
    )


def _test_of(session: Session, sensor_id: int, test_id: int) -> SaltTest:
    found = salt_tests.salt_test(session, test_id)
    if found.sensor_id != sensor_id:
        raise UnknownError(f"there is no salt test {test_id} of that sensor")
    return found


def _finding(found: Finding) -> SensorFindingAnswer:
    value = None if math.isnan(found.value) else found.value
    return SensorFindingAnswer(fault=found.fault, from_=found.from_us, to=found.to_us, value=value)
