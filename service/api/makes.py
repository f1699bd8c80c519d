"""Make days: record, steps, marks, timers, the setting time, and the wheels in the end."""

from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Query

from service.ageing.making import setting_time
from service.ageing.spans import span_s
from service.api import make_actions, make_marks
from service.api.actions import EnteredWheel
from service.api.bodies import Id, PathId
from service.api.context import Context, WithContext, WithSession
from service.api.make_finishing import finish
from service.api.make_shapes import (
    FinishBody,
    FinishedAnswer,
    FlocculationBody,
    MakeAnswer,
    MakeBody,
    MakeEditBody,
    MakeWholeAnswer,
    MarkBody,
    SettingAnswer,
    StepAnswer,
    StepBody,
    TimerAnswer,
    TimerBody,
    make_answer,
    make_whole_answer,
    timer_answer,
)
from service.api.refusals import RefusedError
from service.store import make_days
from service.store.database import Session

router = APIRouter(prefix="/makes", tags=["make days"])


@router.get("")
def list_makes(session: WithSession) -> list[MakeAnswer]:
    """All make days, the newest first."""
    return [make_answer(day) for day in make_days.make_days(session)]


@router.post("", status_code=HTTPStatus.CREATED)
def start_make(context: WithContext, session: WithSession, body: MakeBody) -> MakeWholeAnswer:
    """Begin the record of a make day."""
    day = make_actions.start_make(
        session,
        context.plans,
        body.name,
        body.plan,
        body.raw_milk,
        body.started,
        context.clock.now_us(),
    )
    assert day.id is not None  # it was stored
    return _whole(context, session, day.id)


@router.get("/setting-time")
def setting(
    flocculation: Annotated[str, Query(max_length=40)],
    multiplier: Annotated[float, Query(allow_inf_nan=False)],
) -> SettingAnswer:
    """The setting time from a flocculation time such as 13:19 and a multiplier."""
    return SettingAnswer.model_validate(setting_time(span_s(flocculation), multiplier))


@router.get("/{make_id}")
def one_make(context: WithContext, session: WithSession, make_id: PathId) -> MakeWholeAnswer:
    """One make day with its steps and timers."""
    return _whole(context, session, make_id)


@router.patch("/{make_id}")
def edit_make(
    context: WithContext, session: WithSession, make_id: PathId, body: MakeEditBody
) -> MakeWholeAnswer:
    """Change fields; 409 when another has changed the same ones since that version."""
    given = body.model_dump(include=body.model_fields_set - {"version"})
    make_actions.edit_make(session, context.plans, make_id, body.version, given)
    return _whole(context, session, make_id)


@router.post("/{make_id}/steps", status_code=HTTPStatus.CREATED)
def add_step(
    context: WithContext, session: WithSession, make_id: PathId, body: StepBody
) -> StepAnswer:
    """Enter a step."""
    now_us = context.clock.now_us()
    step = make_actions.add_step(
        session, make_id, body.words, body.temperature_c, body.ph, body.at, now_us
    )
    return StepAnswer.model_validate(step)


@router.delete("/{make_id}/steps/{step_id}", status_code=HTTPStatus.NO_CONTENT)
def withdraw_step(session: WithSession, make_id: PathId, step_id: PathId) -> None:
    """Take a step back."""
    make_actions.withdraw_step(session, make_id, step_id)


@router.post("/{make_id}/timers", status_code=HTTPStatus.CREATED)
def start_timer(
    context: WithContext, session: WithSession, make_id: PathId, body: TimerBody
) -> TimerAnswer:
    """Start a timer that runs from now on."""
    now_us = context.clock.now_us()
    timer = make_marks.start_timer(session, make_id, body.name, body.seconds, now_us)
    return timer_answer(timer, now_us)


@router.post("/{make_id}/timers/cut", status_code=HTTPStatus.CREATED)
def start_cut_timer(context: WithContext, session: WithSession, make_id: PathId) -> TimerAnswer:
    """Start the timer that ends when the curd is ready to be cut."""
    timer = make_marks.start_cut_timer(session, make_id)
    return timer_answer(timer, context.clock.now_us())


@router.post("/{make_id}/timers/{timer_id}/stop")
def stop_timer(
    context: WithContext, session: WithSession, make_id: PathId, timer_id: PathId
) -> TimerAnswer:
    """Stop a timer, or say that its end was seen."""
    now_us = context.clock.now_us()
    return timer_answer(make_marks.stop_timer(session, make_id, timer_id, now_us), now_us)


@router.post("/{make_id}/rennet")
def mark_rennet(
    context: WithContext, session: WithSession, make_id: PathId, body: MarkBody
) -> MakeWholeAnswer:
    """The rennet is in."""
    make_marks.mark_rennet(session, make_id, body.at, context.clock.now_us())
    return _whole(context, session, make_id)


@router.delete("/{make_id}/rennet", status_code=HTTPStatus.NO_CONTENT)
def take_back_rennet(session: WithSession, make_id: PathId) -> None:
    """Take the mark of the rennet back, and with it that of the flocculation."""
    make_marks.take_back_rennet(session, make_id)


@router.post("/{make_id}/flocculation")
def mark_flocculation(
    context: WithContext, session: WithSession, make_id: PathId, body: FlocculationBody
) -> MakeWholeAnswer:
    """The milk has flocculated."""
    now_us = context.clock.now_us()
    make_marks.mark_flocculation(session, make_id, body.multiplier, body.at, now_us)
    return _whole(context, session, make_id)


@router.delete("/{make_id}/flocculation", status_code=HTTPStatus.NO_CONTENT)
def take_back_flocculation(session: WithSession, make_id: PathId) -> None:
    """Take the mark of the flocculation back."""
    make_marks.take_back_flocculation(session, make_id)


@router.post("/{make_id}/finish")
def finish_make(
    context: WithContext, session: WithSession, make_id: PathId, body: FinishBody
) -> FinishedAnswer:
    """The wheels are made; sent again, it tells what was made the first time."""
    done = finish(
        session,
        context.plans,
        make_id,
        _entered(body),
        body.space_id,
        body.stage,
        context.clock.now_us(),
    )
    return FinishedAnswer.model_validate(done)


def _whole(context: Context, session: Session, make_id: Id) -> MakeWholeAnswer:
    return make_whole_answer(
        make_days.make_day(session, make_id),
        tuple(make_days.steps(session, make_id)),
        make_days.timers(session, make_id),
        context.clock.now_us(),
    )


def _entered(body: FinishBody) -> list[EnteredWheel]:
    """The wheels of a body, whichever way they are given.

    Raises:
        RefusedError: They are given both ways, or neither.
    """
    if body.wheels is not None and body.count is None and body.size is None:
        return [
            EnteredWheel(each.diameter_mm, each.height_mm, each.mass_g, each.label)
            for each in body.wheels
        ]
    if body.wheels is None and body.count is not None and body.size is not None:
        return [EnteredWheel(**dict(body.size))] * body.count
    raise RefusedError("give either wheels, or count and size")
