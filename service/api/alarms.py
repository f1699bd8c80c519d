"""Alarms: open and past, and their acknowledgement."""

from typing import Annotated, Final

from fastapi import APIRouter, Query

from service.api import actions
from service.api.access import WithAsker
from service.api.alarm_shapes import AlarmAnswer
from service.api.bodies import Id, PathId
from service.api.context import WithContext, WithSession
from service.store import alarm_records

router = APIRouter(tags=["alarms"])

_A_PAGE: Final = 100
_MOST: Final = 1_000


@router.get("/alarms")
def list_alarms(
    session: WithSession,
    limit: Annotated[int, Query(ge=1, le=_MOST)] = _A_PAGE,
    before: Annotated[Id | None, Query()] = None,
    *,
    only_open: bool = False,
) -> list[AlarmAnswer]:
    """The alarms entered last, the newest first; `before` an alarm's number pages on."""
    entries = alarm_records.listed(session, only_open=only_open, limit=limit, before_id=before)
    return [AlarmAnswer.model_validate(entry) for entry in entries]


@router.post("/alarms/{alarm_id}/acknowledge")
def acknowledge(
    context: WithContext, session: WithSession, asker: WithAsker, alarm_id: PathId
) -> AlarmAnswer:
    """Say that the alarm has been seen. The first to say so is kept; again changes nothing."""
    entry = actions.acknowledge_alarm(session, alarm_id, asker.name, context.clock.now_us())
    return AlarmAnswer.model_validate(entry)
