"""Sensors: where each stands, how it is, and what could not be stored."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response

from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.sensor_words import wrong_words
from dashboards.words import counted, plain, short
from service import calibrating
from service.api import actions, sensor_actions
from service.api.bodies import PathId
from service.api.context import WithContext, WithSession
from service.api.refusals import RefusedError
from service.store import air, places, quarantine, salt_tests
from service.store.tables import Quarantine, Reading, Sensor, Space

router = APIRouter()

_A_PAGE = 30
_MOST_BYTES = 2_000
_TRIED = r"^[0-9]{1,9}-[0-9]{1,9}-[0-9]{1,9}$|^$"
_MOST_DIGITS = 9
"""No number of a row has more; a longer one would not fit the store."""


@dataclass(frozen=True, slots=True)
class SensorNow:
    """A sensor as the page shows it."""

    sensor: Sensor
    space: Space | None
    stood: bool
    newest: Reading | None
    in_test: str
    wrong: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Message:
    """A quarantined message with its bytes made readable."""

    row: Quarantine
    shown: str


@router.get("/sensors")
def sensors(request: Request, context: WithContext, session: WithSession) -> Response:
    """All sensors, those that wait to be placed first."""
    household = household_of(session, context)
    spaces = {space.id: space for space in places.spaces(session)}
    found = []
    for sensor in places.sensors(session):
        assert sensor.id is not None
        stays = places.placements_of_sensor(session, sensor.id)
        here = next((stay for stay in reversed(stays) if stay.to_us is None), None)
        under_way = salt_tests.running(session, sensor.id)
        wrong = calibrating.wrong_now(session, sensor.id, household.now_us)
        found.append(
            SensorNow(
                sensor=sensor,
                space=spaces[here.space_id] if here else None,
                stood=bool(stays),
                newest=air.latest(session, sensor.id),
                in_test=under_way.salt if under_way else "",
                wrong=tuple(wrong_words(short(sensor.name), each) for each in wrong),
            )
        )
    found.sort(key=lambda each: (each.space is not None, each.stood))
    return renderer(request).page(
        request,
        household,
        "sensors.html",
        sensors=found,
        spaces=list(spaces.values()),
        quarantined=quarantine.count(session),
        wrong="",
    )


@router.post("/sensors/{sensor_id}/place")
def place(
    context: WithContext,
    session: WithSession,
    sensor_id: PathId,
    space_id: Annotated[str, Form(max_length=12)] = "",
) -> Response:
    """Say where a sensor stands from now on; nothing chosen means nowhere."""
    chosen = number_or_none(space_id)
    actions.place_sensor(session, sensor_id, chosen, None, context.clock.now_us())
    return see_other("/sensors")


@router.get("/quarantine")
def quarantined(
    request: Request,
    context: WithContext,
    session: WithSession,
    before: Annotated[int | None, Query(ge=1, le=2**31 - 1)] = None,
    again: Annotated[str, Query(pattern=_TRIED)] = "",
) -> Response:
    """Messages that could not be stored."""
    rows = quarantine.newest(session, _A_PAGE, before)
    return renderer(request).page(
        request,
        household_of(session, context),
        "quarantine.html",
        messages=[Message(row, _shown(row.payload)) for row in rows],
        older=rows[-1].id if len(rows) == _A_PAGE else None,
        kinds=quarantine.kinds(session) if before is None else (),
        told=_tried_words(again),
    )


@router.post("/quarantine/again")
def try_again(
    context: WithContext,
    session: WithSession,
    kind: Annotated[str, Form(max_length=200)] = "",
) -> Response:
    """Try messages again that could not be stored; no kind means all of them."""
    tried = sensor_actions.try_again(session, context, kind or None)
    return see_other(f"/quarantine?again={tried.tried}-{tried.taken_out}-{tried.readings}")


def _tried_words(again: str) -> str:
    """What came of trying again, from the address to which that led."""
    if not again:
        return ""
    tried, out, readings = (int(number) for number in again.split("-"))
    if not tried:
        return "There was nothing to try again."
    kept = f"{counted(tried - out, 'message')} still cannot be stored." if tried > out else ""
    return (
        f"{counted(tried, 'message')} tried again: {counted(readings, 'new reading')} stored,"
        f" {out} taken out of here. {kept}"
    ).strip()


def _shown(payload: bytes) -> str:
    text = plain(payload[:_MOST_BYTES].decode("utf-8", "backslashreplace"), "nothing")
    return f"{text} …" if len(payload) > _MOST_BYTES else text


def number_or_none(chosen: str) -> int | None:
    """The number that a choice sends; nothing when it says "none".

    Raises:
        RefusedError: It is no number.
    """
    if not chosen:
        return None
    if not (chosen.isascii() and chosen.isdigit() and len(chosen) <= _MOST_DIGITS):
        raise RefusedError("choose one of those offered")
    return int(chosen)
