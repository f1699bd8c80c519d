"""Sensors: where each stands, and how it is."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.sensor_words import wrong_words
from dashboards.words import short
from service import calibrating
from service.api import actions
from service.api.bodies import PathId
from service.api.context import WithContext, WithSession
from service.api.refusals import RefusedError
from service.store import air, places, quarantine, salt_tests
from service.store.tables import Reading, Sensor, Space

router = APIRouter()

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
