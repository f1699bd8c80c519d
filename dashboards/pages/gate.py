"""The gate of a stage: what is seen, what is missing, and "yes, go on" or "not yet"."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from dashboards.care_words import Names, names_of, near_day, wheels_words
from dashboards.pages.care import Edition, SentId, spaces_named, touch_name
from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.whereto import where_to
from dashboards.words import plain, short
from service.ageing.gates import GateStanding
from service.ageing.work import Days
from service.api import gate_actions
from service.api.access import WithAsker
from service.api.bodies import PathId
from service.api.care_actions import Touch
from service.api.context import Context, WithContext, WithSession
from service.api.gate_actions import Ended, Said, asked_of
from service.api.refusals import RefusedError
from service.store import care, wheels
from service.store.database import Session
from service.tending.care import CareNow, care_now
from service.tending.gates import GateNow

router = APIRouter()

REASONS = (
    "It is further on than the plan expects",
    "It is slower than the plan expects",
    "I was away",
    "It cannot wait any longer",
    "I want to try it",
)
"""Ready choices for what is out of the usual; the keeper's own words may stand beside."""
AGAIN_DAYS = (1, 2, 3, 7)
_MOST = 1_000
_LONGEST = 300


@dataclass(frozen=True, slots=True)
class Choices:
    """What was chosen on the page before, where it could not be entered."""

    wheels: tuple[int, ...] = ()
    seen: tuple[str, ...] = ()
    reason: str = ""
    words: str = ""
    space_id: int | None = None


@router.get("/wheels/{wheel_id}/gate")
def gate_page(
    request: Request, context: WithContext, session: WithSession, wheel_id: PathId
) -> Response:
    """The gate at which a wheel stands."""
    return _page(request, context, session, wheel_id, Choices())


@router.post("/wheels/{wheel_id}/gate")
def answer(
    request: Request,
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    wheel_id: PathId,
    edition: Edition,
    stage: Annotated[str, Form(max_length=100)],
    wheel: Annotated[list[SentId], Form(max_length=_MOST)] = [],  # noqa: B006 - FastAPI copies it
    seen: Annotated[list[str], Form(max_length=50)] = [],  # noqa: B006 - the same
    reason: Annotated[str, Form(max_length=_LONGEST)] = "",
    own_words: Annotated[str, Form(max_length=_LONGEST)] = "",
    space_id: Annotated[str, Form(pattern="^[0-9]{0,9}$")] = "",
    days: Annotated[int, Form(ge=0, le=366)] = 0,
) -> Response:
    """Open the gate for the wheels ticked; with days, ask again after so many."""
    household = household_of(session, context)
    today = household.words.local(household.now_us).date()
    goes_to = int(space_id) if space_id else None
    chosen = Choices(tuple(wheel), tuple(seen), reason, own_words, goes_to)
    touch = touch_name("gate", edition, wheel_id, stage, sorted(wheel), days)
    said = Said(
        opened=not days,
        stage=stage,
        seen=chosen.seen,
        reason=". ".join(part for part in (reason.strip(), own_words.strip()) if part),
        ask_again=today + timedelta(days=days) if days else None,
        space_id=goes_to if not days else None,
    )
    try:
        gate_actions.answer_gate(
            session,
            context.plans,
            chosen.wheels,
            said,
            Touch(touch, asker.name, household.now_us),
        )
    except RefusedError as error:
        session.rollback()
        return _page(request, context, session, wheel_id, chosen, str(error))
    return see_other(f"/care?said={touch}")


@router.post("/wheels/{wheel_id}/end")
def end(
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    wheel_id: PathId,
    edition: Edition,
    how: Annotated[Ended, Form()],
) -> Response:
    """The wheel is eaten, given away or thrown away."""
    now_us = context.clock.now_us()
    touch = touch_name("end", edition, wheel_id, how)
    gate_actions.end_wheel(session, wheel_id, how, "", None, Touch(touch, asker.name, now_us))
    return see_other(f"/care?said={touch}")


def window_words(standing: GateStanding, days: Days, now: CareNow) -> str:
    """When such a gate is usually passed, and whether today is early or late."""
    earliest, expected, latest = (
        near_day(day, now.today) for day in (standing.earliest, standing.expected, standing.latest)
    )
    told = f"Usually {expected}; from {earliest} to {latest}: {plain(days.source)}."
    if standing.early:
        return f"It is early. {told}"
    return f"It is late. {told}" if standing.late else told


def _page(
    request: Request,
    context: Context,
    session: Session,
    wheel_id: int,
    chosen: Choices,
    wrong: str = "",
) -> Response:
    household = household_of(session, context)
    now = care_now(session, context.plans, household.now_us)
    wheel = wheels.wheel(session, wheel_id)
    here = next((each for each in now.gates if each.wheel.id == wheel_id), None)
    if here is None:
        raise RefusedError(
            f"wheel {wheel.label} is no more: it was {wheel.ended_how}"
            if wheel.ended_us is not None
            else f"wheel {wheel.label} stands at no gate: it lives no stage of its plan, or has "
            "gone on already"
        )
    alike = [
        each
        for each in now.gates
        if each.wheel.batch_id == wheel.batch_id and each.wheel.stage == here.wheel.stage
    ]
    names, spaces = names_of(now.wheels.values()), spaces_named(session)
    usual = tuple(
        each.wheel.id
        for each in alike
        if each is here or each.standing.asks_now == here.standing.asks_now
    )
    return renderer(request).page(
        request,
        household,
        "gate.html",
        status=HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK,
        # What is ticked must stay ticked, so nothing is fetched anew under the reader's hands.
        live=False,
        wrong=wrong[:1].upper() + wrong[1:],
        chosen=chosen,
        here=here,
        stage=here.wheel.stage,
        next_stage=here.wheel.next_stage,
        title=wheels_words([each.wheel.id for each in alike], names),
        alike=[(each.wheel.id, wheels_words([each.wheel.id], names)) for each in alike],
        ticked=chosen.wheels if wrong else usual,
        window=window_words(here.standing, here.gate.days, now),
        met=_met(alike, names),
        asked=[(asked_of(each), _begun(plain(each))) for each in _union(alike)],
        needs_reason=any(each.standing.early or each.standing.late for each in alike),
        reasons=REASONS,
        again=[
            (days, near_day(now.today + timedelta(days=days), now.today)) for days in AGAIN_DAYS
        ],
        going=where_to(
            session,
            here.wheel.next_stage,
            here.wheel.space_id,
            spaces,
            household.words,
            household.now_us,
        ),
        space=short(spaces.get(here.wheel.space_id or 0, "no space")),
        ends=list(Ended),
        edition=care.edition(session),
        news="",
    )


def _union(alike: Sequence[GateNow]) -> list[str]:
    """What is asked at the gate of any of the wheels and not seen yet, each once."""
    asked: dict[str, str] = {}
    for each in alike:
        for words in (*each.standing.missing, *each.standing.questions):
            asked.setdefault(asked_of(words), words)
    return list(asked.values())


def _met(alike: Sequence[GateNow], names: Names) -> list[str]:
    """What was seen, each once, with the wheels on which it was."""
    seen: dict[str, list[int]] = {}
    for each in alike:
        for words in each.standing.met:
            seen.setdefault(words, []).append(each.wheel.id)
    return [
        plain(words)
        if len(on) == len(alike)
        else f"{_begun(plain(words))} ({wheels_words(on, names)})"
        for words, on in seen.items()
    ]


def _begun(words: str) -> str:
    """With a capital, for it stands by itself."""
    return words[:1].upper() + words[1:]
