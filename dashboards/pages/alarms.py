"""Alarms: the open ones first, acknowledged in one touch, every change kept."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from dashboards.needs import worst_first
from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.pages.views import news_of
from dashboards.words import plain
from service.ageing.lifecycle import AlarmState
from service.api import actions
from service.api.access import WithAsker
from service.api.bodies import PathId
from service.api.context import WithContext, WithSession
from service.store import alarm_records
from service.store.alarm_records import AlarmEntry, Transition
from service.store.database import Session

router = APIRouter()

_MOST_OPEN = 200
_A_PAGE = 30


@dataclass(frozen=True, slots=True)
class Entry:
    """One alarm as the page shows it."""

    alarm: AlarmEntry
    lines: list[str]
    can_acknowledge: bool
    changes: tuple[Transition, ...]


@router.get("/alarms")
def alarms(
    request: Request,
    context: WithContext,
    session: WithSession,
    before: Annotated[int | None, Query(ge=1, le=2**31 - 1)] = None,
) -> Response:
    """All alarms."""
    household = household_of(session, context)
    still = alarm_records.listed(session, only_open=True, limit=_MOST_OPEN)
    latest = alarm_records.listed(
        session, only_open=False, limit=_A_PAGE + len(still), before_id=before
    )
    past = [alarm for alarm in latest if alarm.state is AlarmState.NORMAL]
    # Where a history was entered space by space, numbers do not follow the time.
    past.sort(key=lambda alarm: alarm.raised_us, reverse=True)
    return renderer(request).page(
        request,
        household,
        "alarms.html",
        open=[_entry(session, alarm) for alarm in worst_first(still)],
        past=[_entry(session, alarm) for alarm in past],
        older=latest[-1].id if len(latest) == _A_PAGE + len(still) else None,
        news=news_of(still),
    )


@router.post("/alarms/{alarm_id}/acknowledge")
def acknowledge(
    context: WithContext, session: WithSession, asker: WithAsker, alarm_id: PathId
) -> Response:
    """Say that an alarm has been seen."""
    actions.acknowledge_alarm(session, alarm_id, asker.name, context.clock.now_us())
    return see_other("/alarms")


def _entry(session: Session, alarm: AlarmEntry) -> Entry:
    lines = [plain(line) for line in alarm.body.splitlines() if line.strip()]
    return Entry(
        alarm=alarm,
        lines=[line for line in lines if line != plain(alarm.title)],
        can_acknowledge=alarm.state
        in {AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED},
        changes=alarm_records.transitions(session, alarm.id),
    )
