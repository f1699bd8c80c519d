"""One sensor: its facts and findings, its salt tests, and the corrections that they give."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, time
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.pages.sensors import number_or_none
from dashboards.sensor_words import (
    correction_words,
    finding_words,
    proposal_words,
    salt_choices,
    standing_words,
)
from dashboards.words import Words, counted, short, span
from service import calibrating
from service.api import sensor_actions
from service.api.bodies import PathId
from service.api.context import WithContext, WithSession
from service.api.refusals import RefusedError
from service.calibrating import SaltTestNow
from service.clock import US_PER_S, from_datetime
from service.errors import UnknownError
from service.science.plateau import PlateauState
from service.science.salts import COLDEST_C, WARMEST_C
from service.science.sensor_truth import Fault
from service.store import air, corrections, places, salt_tests
from service.store.database import Session
from service.store.tables import Sensor, SensorCorrection, Space

router = APIRouter(prefix="/sensors/{sensor_id}")

_MOST_TESTS = 6
_MOST_FINDINGS = 12
_USUAL_C = 12.0
"""Salts are told at this temperature where the sensor tells none. [°C]"""
_SAID = {
    "started": "The test is under way. The sensor speaks for no space until you end it.",
    "ended": "The test is over.",
    "undone": "Undone: the test counts no more.",
    "corrected": "The correction holds.",
    "withdrawn": "The correction is withdrawn.",
    "lags": "The sensor's lag is kept.",
}

Short = Annotated[str, Form(max_length=40)]
Number = Annotated[int, Form(ge=1, le=2**31 - 1)]
DIGITS = 9
"""Of a number in a choice: enough for any row."""


@dataclass(frozen=True, slots=True)
class Shown:
    """Something dated, in words."""

    id: int
    words: str
    when: str
    withdrawn: bool = False


@router.get("")
def sensor(
    request: Request,
    context: WithContext,
    session: WithSession,
    sensor_id: PathId,
    said: str = "",
) -> Response:
    """A sensor."""
    household = household_of(session, context)
    words, now_us = household.words, household.now_us
    found = places.sensor(session, sensor_id)
    spaces = {space.id: space for space in places.spaces(session)}
    newest = air.latest(session, sensor_id)
    made = corrections.of_sensor(session, sensor_id)
    tests = calibrating.salt_tests_of(session, sensor_id, now_us, _MOST_TESTS)
    under_way = next((test for test in tests if test.row.ended_us is None), None)
    stays = places.placements_of_sensor(session, sensor_id)
    proposals = calibrating.proposals(tests)
    findings = _findings(session, sensor_id, words, now_us, newest.time_us if newest else None)
    return renderer(request).page(
        request,
        household,
        "sensor.html",
        sensor=found,
        newest=newest,
        corrected_pct=corrections.corrected_value(
            session, sensor_id, newest.time_us, newest.humidity_pct
        )
        if newest
        else None,
        interval=_interval(session, sensor_id),
        battery=_battery(found),
        stays=[(short(spaces[stay.space_id].name), stay) for stay in reversed(stays)],
        findings=findings[:_MOST_FINDINGS],
        more_findings=max(0, len(findings) - _MOST_FINDINGS),
        holding=_shown(corrections.in_force(made, now_us), words),
        history=[_shown(each, words) for each in reversed(made)],
        under_way=under_way,
        state=standing_words(under_way, words) if under_way else "",
        began=words.moment(under_way.row.started_us) if under_way else "",
        heard=_heard(under_way, words),
        back=_back(session, under_way, spaces),
        spaces=list(spaces.values()),
        salts=salt_choices(_salt_temperature(newest.temperature_c if newest else None), words),
        tests=[_test_shown(each, words) for each in tests if each is not under_way],
        proposals=[
            (",".join(str(test.id) for test in each.tests), proposal_words(each))
            for each in proposals
        ],
        placed=words.dated(stays[0].from_us) if stays else "",
        today=words.local(now_us).date().isoformat(),
        said=_SAID.get(said, ""),
        news=_news(under_way, words),
    )


@router.post("/salt-test")
def start(context: WithContext, session: WithSession, sensor_id: PathId, salt: Short) -> Response:
    """The sensor goes into the bag now."""
    sensor_actions.start_salt_test(session, sensor_id, salt, context.clock.now_us())
    return _back_to(sensor_id, "started")


@router.post("/salt-test/end")
def end(
    context: WithContext,
    session: WithSession,
    sensor_id: PathId,
    test_id: Number,
    space_id: Short = "",
) -> Response:
    """The sensor comes out of the bag now and stands where the form says."""
    _own(session, sensor_id, test_id)
    chosen = number_or_none(space_id)
    sensor_actions.end_salt_test(session, test_id, chosen, context.clock.now_us())
    return _back_to(sensor_id, "ended")


@router.post("/salt-test/undo")
def undo(session: WithSession, sensor_id: PathId, test_id: Number) -> Response:
    """A test is taken back."""
    _own(session, sensor_id, test_id)
    sensor_actions.undo_salt_test(session, test_id)
    return _back_to(sensor_id, "undone")


@router.post("/correction")
def correct(
    context: WithContext,
    session: WithSession,
    sensor_id: PathId,
    tests: Short,
    since: Annotated[str, Form(pattern="^(day|placed)$")] = "day",
    day: Short = "",
) -> Response:
    """Correct the sensor from a day on, or from when it was first placed."""
    household = household_of(session, context)
    from_us = (
        _first_placed_us(session, sensor_id)
        if since == "placed"
        else day_begins_us(day, household.words)
    )
    sensor_actions.correct_sensor(session, sensor_id, _numbers(tests), from_us, household.now_us)
    return _back_to(sensor_id, "corrected")


@router.post("/correction/withdraw")
def withdraw(session: WithSession, sensor_id: PathId, correction_id: Number) -> Response:
    """A correction counts no longer."""
    sensor_actions.withdraw_correction(session, sensor_id, correction_id)
    return _back_to(sensor_id, "withdrawn")


@router.post("/lags")
def lags(
    session: WithSession,
    sensor_id: PathId,
    temperature_lag_s: Short = "",
    humidity_lag_s: Short = "",
) -> Response:
    """How slowly the sensor follows its air; empty means not known."""
    sensor_actions.set_lags(
        session, sensor_id, _seconds(temperature_lag_s), _seconds(humidity_lag_s)
    )
    return _back_to(sensor_id, "lags")


def day_begins_us(text: str, words: Words) -> int:
    """When a day begins in the household's zone.

    Raises:
        RefusedError: It is no day.

    Examples:
        >>> day_begins_us("2026-11-25", Words())
        1795564800000000
    """
    try:
        wall = datetime.combine(datetime.strptime(text, "%Y-%m-%d").replace(tzinfo=UTC), time())
        # Where the clocks go forward at midnight, this is the very moment at which they do.
        time_us = from_datetime(wall.replace(tzinfo=words.zone))
    except (ValueError, OverflowError):
        raise RefusedError("write a day such as 2026-11-25") from None
    if time_us < 0:
        raise RefusedError("a correction holds from a day since 1970")
    return time_us


def _back_to(sensor_id: int, said: str) -> Response:
    return see_other(f"/sensors/{sensor_id}?said={said}")


def _own(session: Session, sensor_id: int, test_id: int) -> None:
    if salt_tests.salt_test(session, test_id).sensor_id != sensor_id:
        raise UnknownError(f"there is no salt test {test_id} of that sensor")


def _first_placed_us(session: Session, sensor_id: int) -> int:
    stays = places.placements_of_sensor(session, sensor_id)
    if not stays:
        raise RefusedError("the sensor was never placed; choose a day")
    return stays[0].from_us


def _numbers(chosen: str) -> list[int]:
    parts = chosen.split(",")
    if not all(part.isascii() and part.isdigit() and len(part) <= DIGITS for part in parts):
        raise RefusedError("choose one of the tests")
    return [int(part) for part in parts]


def _seconds(text: str) -> float | None:
    if not text.strip():
        return None
    try:
        return float(text)
    except ValueError:
        raise RefusedError("write a lag in seconds, such as 45") from None


def _interval(session: Session, sensor_id: int) -> str:
    interval_s = calibrating.usual_interval_s(session, sensor_id)
    return span(round(interval_s) * US_PER_S) if interval_s is not None else ""


def _battery(sensor: Sensor) -> str:
    if sensor.battery_pct is not None:
        return f"{sensor.battery_pct:.0f} %"
    return f"{sensor.battery_v:.2f} V" if sensor.battery_v is not None else "not known"


def _findings(
    session: Session, sensor_id: int, words: Words, now_us: int, newest_us: int | None
) -> list[str]:
    longest_us = 2 * round((calibrating.usual_interval_s(session, sensor_id) or 0) * US_PER_S)
    told = []
    for each in calibrating.findings_of(session, sensor_id, now_us):
        newest = now_us if each.fault is Fault.GAP else newest_us or now_us
        now = calibrating.is_now(each, newest, 0 if each.fault is Fault.GAP else longest_us)
        told.append(finding_words(each, words, now=now))
    return told


def _shown(made: SensorCorrection | None, words: Words) -> Shown | None:
    if made is None or made.id is None:
        return None
    when = f"from {words.moment(made.from_us)}; made {words.moment(made.made_us)} with {made.salts}"
    return Shown(made.id, correction_words(made), when, made.withdrawn)


def _test_shown(test: SaltTestNow, words: Words) -> Shown:
    began_us, ended_us = test.row.started_us, test.row.ended_us
    lasted = span((ended_us or began_us) - began_us)
    when = f"{test.salt.value}, {words.moment(began_us)}, {lasted}"
    return Shown(test.id, standing_words(test, words), when, test.row.withdrawn)


def _heard(test: SaltTestNow | None, words: Words) -> str:
    if test is None or not test.readings:
        return ""
    told = counted(test.readings, "reading")
    return f"{told} so far" + (
        f", the last {words.moment(test.newest_us)}" if test.newest_us else ""
    )


def _back(
    session: Session, under_way: SaltTestNow | None, spaces: Mapping[int | None, Space]
) -> Space | None:
    """Where the sensor stood before the test that is under way."""
    stay = salt_tests.stay_before(session, under_way.row) if under_way else None
    return spaces.get(stay.space_id) if stay else None


def _salt_temperature(said_c: float | None) -> float:
    return _USUAL_C if said_c is None or not COLDEST_C <= said_c <= WARMEST_C else said_c


def _news(under_way: SaltTestNow | None, words: Words) -> str:
    """What is read aloud when it changes; not each minute of waiting."""
    if under_way is None:
        return "No salt test is under way."
    if under_way.plateau.state is PlateauState.NOT_YET:
        return "The salt test is under way."
    return standing_words(under_way, words)
