"""Looking back from an observation to the days before it."""

from typing import Annotated, Final

from fastapi import APIRouter, Query

from service.ageing.noted import Condition
from service.api.bodies import PathId
from service.api.context import WithContext, WithSession
from service.api.lookback_shapes import LookBackAnswer, look_back_answer
from service.errors import UnknownError
from service.recalling.looking_back import USUAL_D, look_back
from service.store import observations

router = APIRouter(tags=["observations"])

LONGEST_D: Final = 28
Days = Annotated[int, Query(ge=1, le=LONGEST_D, description="Length of the window. [d]")]


@router.get("/wheels/{wheel_id}/observations/{observation_id}/lookback")
def look_back_from(
    context: WithContext,
    session: WithSession,
    wheel_id: PathId,
    observation_id: PathId,
    days: Days = USUAL_D,
    condition: Annotated[Condition | None, Query()] = None,
) -> LookBackAnswer:
    """The days before an observation beside the days before others, what differs most first.

    What measures the same quantity of the air stands together. Compared is the condition that
    was seen, the first of `seen` unless named; what differs goes along with it and is never
    called its cause.
    """
    if observations.observation(session, observation_id).wheel_id != wheel_id:
        raise UnknownError(f"wheel {wheel_id} has no observation {observation_id}")
    found = look_back(
        session,
        context.plans,
        observation_id,
        context.clock.now_us(),
        context.memory,
        days,
        condition,
    )
    return look_back_answer(found)
