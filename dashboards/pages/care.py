"""Care: the visit list for wet hands, what a touch has entered, and the way back."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response
from pydantic import Field

from dashboards.care_words import Names, near_day, touch_words
from dashboards.pages.rendering import Household, household_of, renderer, see_other
from dashboards.visit_list import Opening, asking, openings_of, works_given
from dashboards.words import counted, short
from service.ageing.tended import Outcome
from service.ageing.work import Work
from service.api import care_actions
from service.api.access import WithAsker, safe_next
from service.api.care_actions import Given, Touch
from service.api.context import Context, WithContext, WithSession
from service.api.refusals import RefusedError
from service.judging import plan_for
from service.store import care, gates, places, wheels
from service.store.database import Session
from service.tending.care import care_now
from service.tending.days import day_of

router = APIRouter()

DAYS_BACK = 7
"""So many days back care can be entered by one choice; the API takes any day."""
_OUTCOMES = {"done": Outcome.DONE, "skip": Outcome.SKIPPED, "tomorrow": Outcome.PUT_OFF}
_MOST_WHEELS = 1_000
_MOST_WORKS = 1_000
_LARGEST_ID = 2**31 - 1

WorkOf = Annotated[str, Field(max_length=60)]
SentId = Annotated[int, Form(ge=1, le=_LARGEST_ID)]
Edition = Annotated[str, Form(pattern="^[0-9.-]{5,60}$")]


@dataclass(frozen=True, slots=True)
class Choices:
    """What was chosen of one item of the visit list, where it could not be entered."""

    item: str = ""
    wheels: tuple[int, ...] = ()
    space_id: int | None = None
    back: int = 0


@dataclass(frozen=True, slots=True)
class Told:
    """What a touch has entered, as the next page says it."""

    touch: str
    words: str
    undone: bool


@router.get("/care")
def care_page(
    request: Request,
    context: WithContext,
    session: WithSession,
    said: Annotated[str, Query(max_length=64)] = "",
) -> Response:
    """What the wheels need, visit by visit."""
    return _page(request, context, session, said=said)


def _page(
    request: Request,
    context: Context,
    session: Session,
    *,
    said: str = "",
    chosen: Choices | None = None,
    wrong: str = "",
) -> Response:
    household = household_of(session, context)
    now = care_now(session, context.plans, household.now_us)
    spaces = spaces_named(session)
    visits = openings_of(now, spaces)
    today = [visit for visit in visits if visit.is_today]
    later: dict[str, list[Opening]] = {}
    for visit in visits:
        if not visit.is_today:
            later.setdefault(visit.name, []).append(visit)
    gates_asking = asking(now)
    return renderer(request).page(
        request,
        household,
        "care.html",
        status=HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK,
        # What was chosen must stay so, and nothing be fetched anew under the reader's hands.
        live=not wrong,
        wrong=wrong[:1].upper() + wrong[1:],
        chosen=chosen or Choices(),
        today=today,
        later=[*later.items()],
        asking=gates_asking,
        openings=now.openings,
        told=told_of(session, context, household, said),
        edition=care.edition(session),
        spaces=sorted(spaces.items()),
        days_back=[
            (back, near_day(now.today - timedelta(days=back), now.today))
            for back in range(2, DAYS_BACK + 1)
        ],
        has_wheels=bool(now.wheels),
        news=_news(sum(len(spot.items) for visit in today for spot in visit.places)),
    )


@router.post("/care")
def enter(
    request: Request,
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    edition: Edition,
    work: Annotated[Work, Form()],
    outcome: Annotated[str, Form(pattern="^(done|skip|tomorrow)$")],
    wheel: Annotated[list[SentId], Form(max_length=_MOST_WHEELS)] = [],  # noqa: B006 - FastAPI copies it
    space_id: Annotated[int | None, Form(ge=1, le=_LARGEST_ID)] = None,
    back: Annotated[int, Form(ge=0, le=366)] = 0,
    item: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Enter one care in one touch; what cannot be entered comes back as it was chosen."""
    now_us = context.clock.now_us()
    chosen = Choices(item, tuple(wheel), space_id, back)
    if not wheel and space_id is None:
        wrong = "tick one wheel or more, then touch Done"
        return _page(request, context, session, chosen=chosen, wrong=wrong)
    today = day_of(now_us, household_of(session, context).words.zone)
    ended = _OUTCOMES[outcome]
    touch = touch_name("care", edition, work, outcome, sorted(wheel), space_id, back)
    given = Given(
        work=work,
        outcome=ended,
        wheel_ids=tuple(wheel),
        space_id=space_id,
        at=today - timedelta(days=back) if back else None,
        until=today + timedelta(days=1) if ended is Outcome.PUT_OFF else None,
    )
    try:
        care_actions.enter_care(session, given, Touch(touch, asker.name, now_us))
    except RefusedError as error:
        session.rollback()
        return _page(request, context, session, chosen=chosen, wrong=str(error))
    return see_other(f"/care?said={touch}")


@router.post("/care/all")
def enter_all(
    request: Request,
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    edition: Edition,
    works: Annotated[list[WorkOf], Form(max_length=_MOST_WORKS)] = [],  # noqa: B006 - FastAPI copies it
) -> Response:
    """All that is named of a box or of the boards is done, in one touch and undone in one."""
    touch = touch_name("care of all", edition, sorted(works))
    try:
        care_actions.enter_all(
            session, works_given(works), Touch(touch, asker.name, context.clock.now_us())
        )
    except RefusedError as error:
        session.rollback()
        return _page(request, context, session, wrong=str(error))
    return see_other(f"/care?said={touch}")


@router.post("/touches/{touch}/undo")
def undo(
    session: WithSession, touch: str, back: Annotated[str, Form(max_length=200)] = "/care"
) -> Response:
    """Undo all that was entered in a touch."""
    care_actions.undo(session, touch)
    target = safe_next(back)
    return see_other(f"/care?said={touch}" if target == "/care" else target)


def touch_name(*parts: object) -> str:
    """The name of a touch, the same whenever the same form of the same page is sent.

    A page cannot carry a random name: it would never be the same page twice, and a browser
    would fetch it anew each time. What is entered or undone changes the page's edition, and
    with it the names of all touches that come after.
    """
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:32]


def told_of(session: Session, context: Context, household: Household, touch: str) -> Told | None:
    """What a touch has entered; None when it has entered nothing."""
    done, answers = care.of_touch(session, touch), gates.of_touch(session, touch)
    if not touch or not (done or answers):
        return None
    today = day_of(household.now_us, household.words.zone)
    words = touch_words(
        done,
        answers,
        names_stored(session),
        spaces_named(session),
        stages_named(session, context, [row.wheel_id for row in answers]),
        household.words,
        today,
    )
    return Told(
        touch,
        words,
        undone=all(row.withdrawn for row in done) and all(row.withdrawn for row in answers),
    )


def spaces_named(session: Session) -> dict[int, str]:
    """The names of all spaces by number."""
    return {space.id: space.name for space in places.spaces(session) if space.id is not None}


def names_stored(session: Session) -> Names:
    """The names of all wheels by number, of those too that have ended."""
    return {
        wheel.id: (batch.name, wheel.label)
        for wheel, batch in wheels.wheels(session)
        if wheel.id is not None
    }


def stages_named(session: Session, context: Context, wheel_ids: Sequence[int]) -> dict[str, str]:
    """The names of the stages of these wheels' plans."""
    named: dict[str, str] = {}
    for wheel_id in dict.fromkeys(wheel_ids):
        plan = plan_for(session, context.plans, wheels.batch_of(session, wheel_id))
        named |= {stage.slug: short(stage.name) for stage in plan.stages} if plan else {}
    return named


def _news(count: int) -> str:
    return f"{counted(count, 'thing')} to do today." if count else "Nothing to do today."
