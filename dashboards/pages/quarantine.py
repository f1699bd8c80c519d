"""Messages that could not be stored: why, tried again, and thrown away by kind."""

from dataclasses import dataclass
from typing import Annotated, Final

from fastapi import APIRouter, Form, Query, Request, Response

from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.words import counted, plain
from service.api import quarantine_actions
from service.api.bodies import Id
from service.api.context import WithContext, WithSession
from service.errors import UnknownError
from service.store import quarantine, thrown_away
from service.store.tables import Quarantine

router = APIRouter()

_A_PAGE: Final = 30
_MOST_BYTES: Final = 2_000
_LONGEST_KIND: Final = 200
_TRIED: Final = r"^[0-9]{1,9}-[0-9]{1,9}-[0-9]{1,9}$|^$"


@dataclass(frozen=True, slots=True)
class Message:
    """A quarantined message with its bytes made readable."""

    row: Quarantine
    shown: str


@router.get("/quarantine")
def quarantined(
    request: Request,
    context: WithContext,
    session: WithSession,
    before: Annotated[int | None, Query(ge=1, le=2**31 - 1)] = None,
    again: Annotated[str, Query(pattern=_TRIED)] = "",
    away: Annotated[int | None, Query(ge=0, le=2**31 - 1)] = None,
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
        thrown=thrown_away.thrown_away(session) if before is None else (),
        told=_tried_words(again) if away is None else _thrown_words(away),
    )


@router.post("/quarantine/again")
def try_again(
    context: WithContext,
    session: WithSession,
    kind: Annotated[str, Form(max_length=_LONGEST_KIND)] = "",
) -> Response:
    """Try messages again that could not be stored; no kind means all of them."""
    tried = quarantine_actions.try_again(session, context, kind or None)
    return see_other(f"/quarantine?again={tried.tried}-{tried.taken_out}-{tried.readings}")


@router.get("/quarantine/away")
def about_to_throw_away(
    request: Request,
    context: WithContext,
    session: WithSession,
    kind: Annotated[str, Query(max_length=_LONGEST_KIND)],
) -> Response:
    """How many messages of a kind there are, before they are thrown away."""
    found = quarantine.one_kind(session, kind)
    if found is None:
        raise UnknownError("there is no message of that kind any more")
    return renderer(request).page(
        request, household_of(session, context), "quarantine_away.html", live=False, found=found
    )


@router.post("/quarantine/away")
def throw_away(
    context: WithContext,
    session: WithSession,
    kind: Annotated[str, Form(max_length=_LONGEST_KIND)],
    up_to: Annotated[Id, Form()],
) -> Response:
    """Throw away the messages of a kind, but for those that came since their number was told."""
    messages = quarantine_actions.throw_away(session, context, kind, up_to)
    return see_other(f"/quarantine?away={min(messages, 2**31 - 1)}")


def _thrown_words(messages: int) -> str:
    """What came of throwing away, from the address to which that led."""
    if not messages:
        return "There was nothing to throw away any more."
    return f"{counted(messages, 'message')} thrown away; their number is kept below."


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
