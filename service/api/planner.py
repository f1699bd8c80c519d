"""What is ahead of wheels: when to wrap, move and eat them, and which of them fit together."""

from typing import Annotated, Final

from fastapi import APIRouter, Query
from pydantic import Field, StrictFloat

from service.ageing.work import Firmness
from service.api import planner_actions
from service.api.bodies import Body, PathId
from service.api.care_bodies import GivenDay
from service.api.context import WithContext, WithSession
from service.api.planner_shapes import (
    PlanAheadAnswer,
    RoomAnswer,
    TogetherAnswer,
    WishAnswer,
)
from service.planning.ahead import plan_ahead
from service.planning.fitting import together
from service.planning.values import Wish

router = APIRouter(tags=["planner"])

_MOST_K: Final = 10.0


class WishBody(Body):
    """How soft a wheel is wanted and for which day; null for what does not matter."""

    firmness: Firmness | None = None
    day: GivenDay | None = None


class RoomBody(Body):
    """How much of a space is free for wheels, null where that is not known. [cm²]"""

    room_cm2: Annotated[StrictFloat | None, Field(description="Width times depth.")]


@router.get("/wheels/{wheel_id}/plan-ahead")
def plan_ahead_of_wheel(
    context: WithContext,
    session: WithSession,
    wheel_id: PathId,
    firmness: Annotated[Firmness | None, Query()] = None,
    day: Annotated[GivenDay | None, Query()] = None,
    warmer_k: Annotated[float, Query(ge=-_MOST_K, le=_MOST_K)] = 1.0,
) -> PlanAheadAnswer:
    """When to wrap, move and eat a wheel, an estimate.

    By what the maker has wished of it, unless a firmness or a day is asked for here. `warmer_k`
    tells how much warmer the cave is thought to be in the comparison.
    """
    now_us = context.clock.now_us()
    asked = None
    if firmness is not None or day is not None:
        planner_actions.checked_wish(session, context.plans, wheel_id, firmness, day, now_us)
        asked = Wish(firmness, day)
    return PlanAheadAnswer.of(
        plan_ahead(session, context.plans, wheel_id, now_us, context.memory, asked, warmer_k)
    )


@router.post("/wheels/{wheel_id}/wish")
def wish(
    context: WithContext, session: WithSession, wheel_id: PathId, body: WishBody
) -> WishAnswer:
    """Keep how soft a wheel is wanted and for which day."""
    now_us = context.clock.now_us()
    planner_actions.wish(session, context.plans, wheel_id, body.firmness, body.day, now_us)
    return WishAnswer(wheel_id=wheel_id, firmness=body.firmness, day=body.day)


@router.get("/spaces/{space_id}/together")
def together_in_space(
    context: WithContext, session: WithSession, space_id: PathId
) -> TogetherAnswer:
    """Which wheels fit together in a space, who is outside their range, and what mends it."""
    now_us = context.clock.now_us()
    return TogetherAnswer.of(together(session, context.plans, space_id, now_us, context.memory))


@router.put("/spaces/{space_id}/room")
def set_room(session: WithSession, space_id: PathId, body: RoomBody) -> RoomAnswer:
    """Keep how much of a space is free for wheels."""
    kept = planner_actions.set_room(session, space_id, body.room_cm2)
    return RoomAnswer(space_id=space_id, room_cm2=kept.room_cm2)
