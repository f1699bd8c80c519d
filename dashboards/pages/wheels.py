"""A wheel: its verdict, its stage, and the air that it has lived in."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import JSONResponse

from dashboards.cautions import cautions_for
from dashboards.charts import POINTS, POINTS_OF_A_DRAWING, rows, wheel_chart
from dashboards.figures import figure
from dashboards.needs import need_of
from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.pages.views import drawings_of
from dashboards.words import Words
from service import judging
from service.ageing.plans import Plan, Stage
from service.ageing.values import Quantity
from service.api import actions
from service.api.bodies import PathId
from service.api.context import WithContext, WithSession
from service.errors import UnknownError
from service.judging import DAY_US
from service.store import alarm_records, wheels

router = APIRouter()

_HOURLY_DAYS = 8
_MOST_ALARMS = 50


@dataclass(frozen=True, slots=True)
class Asked:
    """What a stage asks of one quantity, and who says so."""

    words: str
    source: str


@router.get("/wheels/{wheel_id}")
def wheel(
    request: Request, context: WithContext, session: WithSession, wheel_id: PathId
) -> Response:
    """A wheel."""
    household = household_of(session, context)
    words, now_us = household.words, household.now_us
    now = judging.judge_wheel(session, context.plans, wheel_id, now_us)
    spaces = judging.judge_spaces(session, context.plans, now_us)
    alarms = alarm_records.listed(session, only_open=True, limit=_MOST_ALARMS)
    chart = wheel_chart(session, context.plans, wheel_id, words, now_us, POINTS_OF_A_DRAWING)
    history = judging.wheel_history(session, wheel_id, chart.from_us if chart else now_us, now_us)
    plan = context.plans.get(now.plan)
    return renderer(request).page(
        request,
        household,
        "wheel.html",
        wheel=now,
        space=next((space for space in spaces if space.id == now.space_id), None),
        asked=_asked(now.stage, words),
        next_stage=next_stage(plan, now.stage),
        spans=judging.stage_spans(session, context.plans, wheel_id),
        caption="Dotted lines mark where a stage begins.",
        drawings=drawings_of(chart, words) if chart else [],
        rows=rows(history, words, chart.from_us, chart.to_us) if chart else (),
        daily=chart is not None and chart.to_us - chart.from_us > _HOURLY_DAYS * DAY_US,
        cautions=cautions_for(now.plan, now.stage.slug if now.stage else None),
        others=[
            other
            for other, _ in wheels.wheels(session)
            if other.batch_id == now.batch_id and other.id != wheel_id
        ],
        news=need_of(alarms, spaces, words, now_us).title,
    )


@router.get("/wheels/{wheel_id}/figure.json")
def wheel_figure(context: WithContext, session: WithSession, wheel_id: PathId) -> Response:
    """The chart of a wheel's air for Plotly."""
    household = household_of(session, context)
    wheels.wheel(session, wheel_id)
    chart = wheel_chart(session, context.plans, wheel_id, household.words, household.now_us, POINTS)
    if chart is None:
        raise UnknownError("that wheel has lived no stage yet")
    return JSONResponse(figure(chart, household.words))


@router.post("/wheels/{wheel_id}/stage")
def begin_stage(
    context: WithContext,
    session: WithSession,
    wheel_id: PathId,
    stage: Annotated[str, Form(max_length=100)],
) -> Response:
    """The wheel begins a stage now."""
    actions.begin_stage(session, context.plans, wheel_id, stage, None, context.clock.now_us())
    return see_other(f"/wheels/{wheel_id}")


def _asked(stage: Stage | None, words: Words) -> list[Asked]:
    if stage is None:
        return []
    found = []
    for quantity, source, where in (
        (Quantity.TEMPERATURE, stage.temperature_source, None),
        (Quantity.HUMIDITY, stage.humidity_source, stage.humidity_where),
    ):
        wanted = stage.target.of(quantity)
        if wanted is not None:
            there = f" ({where})" if where else ""
            told = f"Target {quantity}: {words.range(quantity, wanted)}{there}."
            found.append(Asked(told, f"Source: {source}" if source else ""))
    return found


def next_stage(plan: Plan | None, stage: Stage | None) -> Stage | None:
    """The stage that follows; the first when the wheel lives none."""
    if plan is None:
        return None
    slugs = [each.slug for each in plan.stages]
    following = slugs.index(stage.slug) + 1 if stage and stage.slug in slugs else 0
    return plan.stages[following] if following < len(plan.stages) else None
