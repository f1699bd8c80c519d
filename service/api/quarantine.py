"""Messages that could not be stored: listed, tried again, thrown away."""

import base64
from typing import Annotated, Final

from fastapi import APIRouter, Query

from service.api import quarantine_actions
from service.api.bodies import Id, ThrowAwayBody, TryAgainBody
from service.api.context import WithContext, WithSession
from service.api.quarantine_shapes import (
    QuarantineAnswer,
    QuarantinedAnswer,
    QuarantineKindAnswer,
    ThrownAnswer,
    ThrownKindAnswer,
    TriedAgainAnswer,
)
from service.store import quarantine, thrown_away
from service.store.tables import Quarantine

router = APIRouter(tags=["sensors"])

_A_PAGE: Final = 50
_MOST: Final = 100


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
        kinds=tuple(
            QuarantineKindAnswer.model_validate(each) for each in quarantine.kinds(session)
        ),
        thrown_away=tuple(
            ThrownKindAnswer.model_validate(each) for each in thrown_away.thrown_away(session)
        ),
        messages=tuple(_quarantined(message) for message in found),
        next_before=found[-1].id if len(found) == limit else None,
    )


@router.post("/readings/quarantine/again")
def try_quarantine_again(
    context: WithContext, session: WithSession, body: TryAgainBody
) -> TriedAgainAnswer:
    """Decode quarantined messages again by today's rules; store what is good, keep what is not."""
    tried = quarantine_actions.try_again(session, context, body.kind)
    return TriedAgainAnswer.model_validate(tried)


@router.post("/readings/quarantine/throw-away")
def throw_quarantined_away(
    context: WithContext, session: WithSession, body: ThrowAwayBody
) -> ThrownAnswer:
    """Throw away what is quarantined of one kind; only its number is kept."""
    messages = quarantine_actions.throw_away(session, context, body.kind, body.up_to)
    return ThrownAnswer(messages=messages)


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
        kind=message.kind,
        more=message.more,
        last=message.last_us,
    )
