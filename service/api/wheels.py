"""Wheels: as they stand, their lives and climates; batches, moves, stages, weighings."""

from http import HTTPStatus
from typing import Annotated, Final

import numpy as np
from fastapi import APIRouter, Query

from service.api import actions, weighing_actions
from service.api.bodies import BatchBody, MoveBody, PathId, StageBody, WeighingBody
from service.api.climate_shapes import COLUMNS, ClimateAnswer, WeighingAnswer, climate_answer
from service.api.context import Context, WithContext, WithSession
from service.api.moments import GivenInstant
from service.api.refusals import RefusedError
from service.api.shapes import RangeAnswer
from service.api.wheel_shapes import (
    BatchAnswer,
    JudgementAnswer,
    StageLivedAnswer,
    StayAnswer,
    VerdictAnswer,
    WheelAnswer,
    WheelLifeAnswer,
)
from service.judging import judge_spaces, judge_wheel
from service.living.climate import climate
from service.living.life import weighed_of
from service.science.thinning import fewest_points, thinned, usual_gap_us
from service.store import wheels
from service.store.database import Session

router = APIRouter(tags=["wheels"])

_POINTS: Final = 1_500
_MOST_POINTS: Final = 20_000


@router.get("/wheels")
def list_wheels(context: WithContext, session: WithSession) -> list[WheelAnswer]:
    """Every wheel as it stands, the oldest batch first."""
    now_us = context.clock.now_us()
    placed = {
        wheel.id: wheel
        for space in judge_spaces(session, context.plans, now_us)
        for wheel in space.wheels
    }
    return [
        WheelAnswer.model_validate(
            placed.get(wheel.id) or judge_wheel(session, context.plans, wheel.id, now_us)
        )
        for wheel, _ in wheels.wheels(session)
        if wheel.id is not None
    ]


@router.get("/wheels/{wheel_id}")
def one_wheel(context: WithContext, session: WithSession, wheel_id: PathId) -> WheelLifeAnswer:
    """One wheel with where it has been and which stages it has lived."""
    return _life(context, session, wheel_id)


@router.get("/wheels/{wheel_id}/verdict")
def verdict(context: WithContext, session: WithSession, wheel_id: PathId) -> VerdictAnswer:
    """The wheel's air against its stage: in a word, by how much, and since when."""
    now_us = context.clock.now_us()
    wheel = judge_wheel(session, context.plans, wheel_id, now_us)
    target = wheel.stage.target if wheel.stage is not None else None
    return VerdictAnswer(
        **dict(JudgementAnswer.model_validate(wheel.verdict)),
        wheel_id=wheel_id,
        time=now_us,
        stage=wheel.stage.slug if wheel.stage is not None else None,
        target_temperature_c=_range(target.temperature_c if target else None),
        target_humidity_pct=_range(target.humidity_pct if target else None),
    )


@router.get("/wheels/{wheel_id}/climate")
def climate_of_wheel(
    context: WithContext,
    session: WithSession,
    wheel_id: PathId,
    from_: Annotated[GivenInstant | None, Query(alias="from")] = None,
    to: Annotated[GivenInstant | None, Query()] = None,
    points: Annotated[int, Query(ge=fewest_points(len(COLUMNS)), le=_MOST_POINTS)] = _POINTS,
) -> ClimateAnswer:
    """What a wheel lived through, an estimate, thinned to at most so many rows.

    The columns run from `from` up to but without `to`, its whole life unless said otherwise;
    minima and maxima are kept. Weight, age and wet hours are those of its whole life up to now.
    """
    now_us = context.clock.now_us()
    lived_by = climate(session, context.plans, wheel_id, now_us, context.memory)
    to_us = now_us + 1 if to is None else to
    from_us = min(lived_by.made_us, to_us - 1) if from_ is None else from_
    if from_us >= to_us:
        raise RefusedError("from must lie before to")
    lived = lived_by.lived
    if lived is None:
        nothing = [np.empty(0)] * len(COLUMNS)
        none_us = np.empty(0, dtype=np.int64)
        return climate_answer(lived_by, from_us, to_us, 0, none_us, nothing)
    asked = slice(*np.searchsorted(lived.times_us, [from_us, to_us]).tolist())
    columns = [getattr(lived, name)[asked] for name in COLUMNS]
    known_us = lived.times_us[asked]
    times_us, thin = thinned(known_us, columns, points, usual_gap_us(known_us))
    return climate_answer(lived_by, from_us, to_us, known_us.size, times_us, thin)


@router.get("/wheels/{wheel_id}/weighings")
def list_weighings(session: WithSession, wheel_id: PathId) -> list[WeighingAnswer]:
    """The weighings of a wheel that hold, oldest first."""
    wheels.wheel(session, wheel_id)
    return [WeighingAnswer.model_validate(each) for each in weighed_of(session, wheel_id)]


@router.post("/wheels/{wheel_id}/weighings", status_code=HTTPStatus.CREATED)
def enter_weighing(
    context: WithContext, session: WithSession, wheel_id: PathId, body: WeighingBody
) -> WeighingAnswer:
    """Enter what a wheel weighs, wiped dry."""
    now_us = context.clock.now_us()
    made = weighing_actions.enter_weighing(session, wheel_id, body.grams, body.at, now_us)
    assert made.id is not None  # it was stored
    return WeighingAnswer(id=made.id, time=made.time_us, grams=made.mass_g)


@router.delete("/wheels/{wheel_id}/weighings/{weighing_id}", status_code=HTTPStatus.NO_CONTENT)
def withdraw_weighing(session: WithSession, wheel_id: PathId, weighing_id: PathId) -> None:
    """Take a weighing back."""
    weighing_actions.withdraw_weighing(session, wheel_id, weighing_id)


@router.post("/wheels/{wheel_id}/moves")
def move(
    context: WithContext, session: WithSession, wheel_id: PathId, body: MoveBody
) -> WheelLifeAnswer:
    """The wheel goes into another space, or out of the house."""
    actions.move_wheel(session, wheel_id, body.space_id, body.at, context.clock.now_us())
    return _life(context, session, wheel_id)


@router.post("/wheels/{wheel_id}/stages")
def begin_stage(
    context: WithContext, session: WithSession, wheel_id: PathId, body: StageBody
) -> WheelLifeAnswer:
    """The wheel begins a stage of its plan, whatever the gate before it says.

    It is for set-up: a wheel is entered in the middle of its life. A wheel that is tended goes on
    through `POST /api/wheels/{wheel_id}/gate`, which asks what was seen and keeps the reason.
    """
    now_us = context.clock.now_us()
    actions.begin_stage(session, context.plans, wheel_id, body.stage, body.at, now_us)
    return _life(context, session, wheel_id)


@router.post("/batches", status_code=HTTPStatus.CREATED)
def enter_batch(context: WithContext, session: WithSession, body: BatchBody) -> BatchAnswer:
    """Enter a batch with its wheels; they are in their stage and space from when it was made."""
    batch_id, wheel_ids = actions.add_batch(
        session,
        context.plans,
        name=body.name,
        plan_slug=body.plan,
        made_us=body.made,
        entered=_entered(body),
        space_id=body.space_id,
        stage=body.stage,
        now_us=context.clock.now_us(),
    )
    return BatchAnswer(id=batch_id, wheel_ids=tuple(wheel_ids))


def _life(context: Context, session: Session, wheel_id: int) -> WheelLifeAnswer:
    now_us = context.clock.now_us()
    wheel = judge_wheel(session, context.plans, wheel_id, now_us)
    return WheelLifeAnswer(
        **dict(WheelAnswer.model_validate(wheel)),
        placements=tuple(
            StayAnswer.model_validate(stay) for stay in wheels.placements(session, wheel_id)
        ),
        stages=tuple(
            StageLivedAnswer.model_validate(lived) for lived in wheels.stages(session, wheel_id)
        ),
    )


def _range(given: object) -> RangeAnswer | None:
    return None if given is None else RangeAnswer.model_validate(given)


def _entered(body: BatchBody) -> list[actions.EnteredWheel]:
    """The wheels of a body, whichever way they are given.

    Raises:
        RefusedError: They are given both ways, or neither.
    """
    if body.wheels is not None and body.count is None and body.size is None:
        return [
            actions.EnteredWheel(each.diameter_mm, each.height_mm, each.mass_g, each.label)
            for each in body.wheels
        ]
    if body.wheels is None and body.count is not None and body.size is not None:
        size = body.size
        wheel = actions.EnteredWheel(size.diameter_mm, size.height_mm, size.mass_g)
        return [wheel] * body.count
    raise RefusedError("give either wheels, or count and size")
