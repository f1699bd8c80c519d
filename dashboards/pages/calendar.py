"""The calendar's secret address: to show it, to replace it, to close it."""

from fastapi import APIRouter, Request, Response

from dashboards.drawings.codes import qr_code
from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.words import plain
from service.ageing.diary import DiaryEntry, DiaryKind
from service.ageing.moments import day_words
from service.api.calendar import path_of
from service.api.context import WithContext, WithSession
from service.api.home_address import home_address, is_reachable
from service.store import calendar
from service.store.turns import take_turn
from service.tending.diary import diary

router = APIRouter()

_MOST_LINES = 12


@router.get("/calendar")
def show(request: Request, context: WithContext, session: WithSession) -> Response:
    """The address, and what the calendar says next."""
    household = household_of(session, context)
    feed = calendar.feed(session)
    home = home_address(request, context.settings)
    address = home + path_of(feed.secret) if feed else None
    coming = [
        entry
        for entry in diary(session, context.plans, household.now_us)
        if entry.kind is not DiaryKind.TASK
    ]
    answer = renderer(request).page(
        request,
        household,
        "calendar.html",
        live=False,
        address=address,
        code=qr_code(address, "The calendar's address as a code", border=2) if address else None,
        reachable=is_reachable(home),
        made=household.words.moment(feed.made_us) if feed else "",
        coming=[_line(entry) for entry in coming[:_MOST_LINES]],
    )
    # Nobody who uses this browser later is to find the secret in its cache.
    answer.headers["cache-control"] = "no-store"
    return answer


@router.post("/calendar")
def replace(context: WithContext, session: WithSession) -> Response:
    """A new address; the one before answers no more."""
    take_turn(session)
    calendar.replace_feed(session, context.clock.now_us())
    return see_other("/calendar")


@router.post("/calendar/close")
def close(context: WithContext, session: WithSession) -> Response:
    """No address answers any more."""
    take_turn(session)
    calendar.close_feed(session, context.clock.now_us())
    return see_other("/calendar")


def _line(entry: DiaryEntry) -> tuple[str, str, str]:
    """The day, the entry in a line, and the page that tells more."""
    return day_words(entry.day), plain(entry.title), entry.path
