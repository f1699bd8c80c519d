"""Sensors, where they stand, and what of their messages could not be stored."""

import base64
from typing import Annotated, Final

from fastapi import APIRouter, Query

from service.api import actions
from service.api.bodies import Id, PathId, PlacementBody
from service.api.context import WithContext, WithSession
from service.api.shapes import (
    QuarantineAnswer,
    QuarantinedAnswer,
    ReadingAnswer,
    SensorAnswer,
    SensorStayAnswer,
)
from service.store import air, places, quarantine
from service.store.database import Session
from service.store.tables import Quarantine, Sensor, Space

router = APIRouter(tags=["sensors"])

_A_PAGE: Final = 50
_MOST: Final = 100


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


@router.get("/readings/quarantine")
def list_quarantine(
    session: WithSession,
    limit: Annotated[int, Query(ge=1, le=_MOST)] = _A_PAGE,
    before: Annotated[Id | None, Query()] = None,
) -> QuarantineAnswer:
    """Messages that could not be stored, with their bytes and the reason, the newest first."""
    found = quarantine.newest(session, limit, before)
    return QuarantineAnswer(
        total=quarantine.count(session),
        messages=tuple(_quarantined(message) for message in found),
        next_before=found[-1].id if len(found) == limit else None,
    )


def _answer(session: Session, sensor: Sensor, spaces: dict[int | None, Space]) -> SensorAnswer:
    assert sensor.id is not None  # it came from the store
    stays = places.placements_of_sensor(session, sensor.id)
    here = stays[-1] if stays and stays[-1].to_us is None else None
    newest = air.latest(session, sensor.id)
    not_here = "not placed any more" if stays else "new, not placed"
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
    )


def _quarantined(message: Quarantine) -> QuarantinedAnswer:
    assert message.id is not None  # it came from the store
    try:
        text = message.payload.decode("utf-8")
    except UnicodeDecodeError:
        text = None
    return QuarantinedAnswer(
        id=message.id,
        received=message.received_us,
        topic=message.topic,
        bytes_base64=base64.b64encode(message.payload).decode("ascii"),
        text=text,
        reason=message.reason,
    )
