"""Care: what comes up, entering it, gates, ends, and undoing a touch."""

from datetime import timedelta
from http import HTTPStatus
from typing import Annotated, Final

from fastapi import APIRouter, Query

from service.ageing.visits import DAYS_AHEAD
from service.api import care_actions, gate_actions
from service.api.access import WithAsker
from service.api.bodies import PathId
from service.api.care_actions import Touch
from service.api.care_bodies import CareBody, EndedBody, GateBody, GivenMoment
from service.api.care_shapes import (
    CareAnswer,
    CareRecordAnswer,
    DueAnswer,
    GateAnswerAnswer,
    GateNowAnswer,
    OpeningsAnswer,
    VisitAnswer,
    care_rows,
    gate_row,
)
from service.api.context import Context, WithContext, WithSession
from service.api.gate_actions import Said
from service.api.people import Asker
from service.api.refusals import RefusedError
from service.store import gates, wheels
from service.tending.care import care_now
from service.tending.days import day_of, days_after
from service.tending.facts import zones_of

router = APIRouter(tags=["care"])

_MOST_DAYS: Final = 366
"""Our choice: nobody plans visits further ahead than a year."""


@router.get("/care")
def list_care(
    context: WithContext,
    session: WithSession,
    until: Annotated[
        GivenMoment | None,
        Query(description="A day or an instant; 14 days from today unless given."),
    ] = None,
) -> CareAnswer:
    """What comes up until a day: every care whose expected day has come by then, and its visits.

    Days are those of the household's calendar. What is overdue is always among it. The visits
    also tell, as foreseen, how care comes up again if each visit is made on its day. The gates
    are those that ask by then.
    """
    now_us = context.clock.now_us()
    zones = zones_of(session)
    today = day_of(now_us, zones)
    if until is None:
        last = days_after(today, DAYS_AHEAD - 1)
    else:
        last = day_of(until, zones) if isinstance(until, int) else until
    if not today <= last <= today + timedelta(days=_MOST_DAYS):
        raise RefusedError("until lies between today and a year from now")
    now = care_now(session, context.plans, now_us, days=(last - today).days + 1)
    return CareAnswer(
        time=now_us,
        zone=str(zones.now),
        today=today,
        until=last,
        due=tuple(DueAnswer.of(each, now) for each in now.due if each.expected <= last),
        visits=tuple(VisitAnswer.of(visit, now) for visit in now.visits),
        openings=OpeningsAnswer.model_validate(now.openings),
        gates=tuple(GateNowAnswer.of(gate) for gate in now.gates if gate.standing.ask_on <= last),
    )


@router.post("/care", status_code=HTTPStatus.CREATED)
def enter_care(
    context: WithContext, session: WithSession, asker: WithAsker, body: CareBody
) -> list[CareRecordAnswer]:
    """Enter care in one touch, of one work or of several (`items`).

    Sent again with the same touch it enters nothing twice.
    """
    touch = _touch(body.touch, asker, context)
    entered = care_actions.enter_all(session, body.given(), touch)
    return care_rows(list(entered))


@router.get("/wheels/{wheel_id}/gates")
def list_gates(session: WithSession, wheel_id: PathId) -> list[GateAnswerAnswer]:
    """What was said at the gates of a wheel and holds, with its reasons; oldest first."""
    wheels.wheel(session, wheel_id)
    return [gate_row(row) for row in gates.of_wheel(session, wheel_id)]


@router.post("/wheels/{wheel_id}/gate", status_code=HTTPStatus.CREATED)
def answer_gate(
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    wheel_id: PathId,
    body: GateBody,
) -> GateAnswerAnswer:
    """Open the gate of a wheel's stage, or say "not yet" with a day on which to ask again."""
    said = Said(
        opened=body.opened,
        stage=body.stage,
        seen=body.seen,
        reason=body.reason,
        ask_again=body.ask_again_day,
        space_id=body.space_id,
        at=body.when,
    )
    touch = _touch(body.touch, asker, context)
    return gate_row(gate_actions.answer_gate(session, context.plans, [wheel_id], said, touch)[0])


@router.post("/wheels/{wheel_id}/end", status_code=HTTPStatus.CREATED)
def end_wheel(
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    wheel_id: PathId,
    body: EndedBody,
) -> GateAnswerAnswer:
    """The wheel is eaten, given away or thrown away; it asks for nothing any more."""
    touch = _touch(body.touch, asker, context)
    return gate_row(
        gate_actions.end_wheel(session, wheel_id, body.how, body.words, body.when, touch)
    )


@router.delete("/touches/{touch}", status_code=HTTPStatus.NO_CONTENT)
def undo(session: WithSession, touch: str) -> None:
    """Undo all that was entered in a touch; everything is as it was before."""
    care_actions.undo(session, touch)


def _touch(name: str, asker: Asker, context: Context) -> Touch:
    return Touch(name, asker.name, context.clock.now_us())
