"""Spaces and their air, and the entry of a space."""

from http import HTTPStatus
from typing import Annotated, Final

import numpy as np
from fastapi import APIRouter, Query

from service.api import actions
from service.api.bodies import PathId, SpaceBody
from service.api.context import WithContext, WithSession
from service.api.moments import GivenInstant
from service.api.refusals import RefusedError
from service.api.space_shapes import (
    AirAnswer,
    AirNowAnswer,
    BehaviourAnswer,
    NewSpaceAnswer,
    SpaceAnswer,
)
from service.api.space_shapes import SpaceTargetAnswer as Target
from service.clock import DAY_US
from service.judging import judge_spaces, target_spans
from service.science.air import dew_point_c
from service.science.signals import FloatArray
from service.science.thinning import fewest_points, thinned, usual_gap_us
from service.store import air, places

router = APIRouter(tags=["spaces"])

_POINTS: Final = 1_500
_MOST_POINTS: Final = 20_000
_SERIES: Final = 3


@router.get("/spaces")
def list_spaces(context: WithContext, session: WithSession) -> list[SpaceAnswer]:
    """Every space with its air now, what its wheels ask of it, and which they are."""
    judged = judge_spaces(session, context.plans, context.clock.now_us())
    return [
        SpaceAnswer(
            id=space.id,
            slug=space.slug,
            name=space.name,
            kind=space.kind,
            parent_id=space.parent_id,
            board=space.board,
            air=None if space.air is None else AirNowAnswer.model_validate(space.air),
            target=Target.model_validate(space.target),
            wheel_ids=tuple(wheel.id for wheel in space.wheels),
        )
        for space in judged
    ]


@router.post("/spaces", status_code=HTTPStatus.CREATED)
def enter_space(session: WithSession, body: SpaceBody) -> NewSpaceAnswer:
    """Enter a space."""
    space = actions.add_space(session, body.name, body.kind, body.parent_id, body.board)
    return NewSpaceAnswer.model_validate(space)


@router.get("/spaces/{space_id}/air")
def air_of_space(
    context: WithContext,
    session: WithSession,
    space_id: PathId,
    from_: Annotated[GivenInstant | None, Query(alias="from")] = None,
    to: Annotated[GivenInstant | None, Query()] = None,
    points: Annotated[int, Query(ge=fewest_points(_SERIES), le=_MOST_POINTS)] = _POINTS,
) -> AirAnswer:
    """The air of a space, thinned to at most so many points with minima and maxima kept.

    The time runs from `from` up to but without `to`; the last day unless said otherwise. A row
    of nulls stands in each silence. Where several sensors stand in the space at once, the one
    placed last speaks. Humidities are told by the corrections of their sensors as they are
    known now; the readings stay as received.
    """
    places.space(session, space_id)
    to_us = context.clock.now_us() + 1 if to is None else to
    from_us = max(0, to_us - DAY_US) if from_ is None else from_
    if from_us >= to_us:
        raise RefusedError("from must lie before to")
    history = air.space_history(session, space_id, from_us, to_us)
    dew_points = _dew_points(history.temperature_c, history.humidity_pct)
    times_us, columns = thinned(
        history.times_us,
        (history.temperature_c, history.humidity_pct, dew_points),
        points,
        usual_gap_us(history.times_us),
    )
    temperature_c, humidity_pct, dew_point = (_with_nulls(column) for column in columns)
    return AirAnswer(
        space_id=space_id,
        from_=from_us,
        to=to_us,
        readings=history.times_us.size,
        corrected=air.is_corrected(session, space_id, from_us, to_us),
        time=times_us.tolist(),
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
        dew_point_c=dew_point,
    )


@router.get("/spaces/{space_id}/behaviour")
def behaviour_of_space(
    context: WithContext, session: WithSession, space_id: PathId
) -> BehaviourAnswer | None:
    """How a space behaves, and which limits it will reach within a day; estimates.

    Known as of the last full twenty minutes of its readings; null before the first.
    """
    now_us = context.clock.now_us()
    places.space(session, space_id)
    spans = target_spans(session, context.plans, space_id, now_us, now_us + 1)
    found = context.behaviours.of(session, space_id, spans[0].target, now_us)
    return None if found is None else BehaviourAnswer.of(found)


def _dew_points(temperature_c: FloatArray, humidity_pct: FloatArray) -> FloatArray:
    # A sensor may say a little more than 100 %RH; that is stored as received, but no air has it.
    return dew_point_c(temperature_c, np.clip(humidity_pct, 0.0, 100.0))


def _with_nulls(column: FloatArray) -> list[float | None]:
    # A hundredth is finer than any sensor's last digit, and shorter on its way to a phone.
    return [None if np.isnan(value) else round(value, 2) for value in column.tolist()]
