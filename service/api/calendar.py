"""The calendar feed, and its secret address that can be replaced.

A calendar program cannot sign in; the secret in the address is its sign-in, and tells nothing
but the calendar. It is replaced when somebody who should not know it does.
"""

from http import HTTPStatus
from typing import Annotated, Final

from fastapi import APIRouter, Path, Request, Response

from service.api.calendar_text import calendar_text
from service.api.context import WithContext, WithSession
from service.api.home_address import home_address
from service.api.household_shapes import FeedAnswer
from service.errors import UnknownError
from service.store import calendar, places
from service.store.turns import take_turn
from service.tending.diary import diary
from service.tending.facts import zones_of

feed_router = APIRouter(tags=["calendar"])
router = APIRouter(tags=["calendar"])

_TYPE: Final = "text/calendar; charset=utf-8"
Secret = Annotated[str, Path(pattern=r"^[A-Za-z0-9_-]{43}$")]


@feed_router.get("/calendar/{secret}.ics", include_in_schema=False)
def calendar_feed(
    request: Request, context: WithContext, session: WithSession, secret: Secret
) -> Response:
    """The calendar by RFC 5545, for whoever knows the address."""
    take_turn(session)
    if not calendar.answers_to(session, secret):
        raise UnknownError("this calendar's address has been replaced, or never was one")
    site = places.the_site(session)
    now_us = context.clock.now_us()
    said = calendar.said(session, diary(session, context.plans, now_us), now_us)
    text = calendar_text(
        said,
        name=f"{site.name}: cheese" if site else "Cheese",
        zone=zones_of(session).now,
        household=site.slug if site else "home",
        address=home_address(request, context.settings),
    )
    return Response(text, media_type=_TYPE)


@router.get("/calendar/feed")
def the_feed(session: WithSession) -> FeedAnswer:
    """The path of the calendar's secret address."""
    feed = calendar.feed(session)
    if feed is None:
        raise UnknownError("the calendar has no address yet; make one by POST")
    return FeedAnswer(path=path_of(feed.secret), made=feed.made_us)


@router.post("/calendar/feed", status_code=HTTPStatus.CREATED)
def replace_feed(context: WithContext, session: WithSession) -> FeedAnswer:
    """A new secret address; the one before answers no more."""
    take_turn(session)
    feed = calendar.replace_feed(session, context.clock.now_us())
    return FeedAnswer(path=path_of(feed.secret), made=feed.made_us)


@router.delete("/calendar/feed", status_code=HTTPStatus.NO_CONTENT)
def close_feed(context: WithContext, session: WithSession) -> None:
    """No address answers any more."""
    take_turn(session)
    calendar.close_feed(session, context.clock.now_us())


def path_of(secret: str) -> str:
    """The path of the calendar with that secret."""
    return f"/calendar/{secret}.ics"
