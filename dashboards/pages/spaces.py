"""The air of a space: one day, one week or all of it."""

from dataclasses import replace

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse

from dashboards.charts import POINTS, POINTS_OF_A_DRAWING, rows, space_chart
from dashboards.figures import figure
from dashboards.pages.rendering import household_of, renderer
from dashboards.pages.shelf import conflicts
from dashboards.pages.views import drawings_of, marks_of, news_of
from dashboards.words import Words, short
from service import judging
from service.ageing.values import Quantity
from service.api.bodies import PathId
from service.api.context import WithContext, WithSession
from service.errors import UnknownError
from service.judging import DAY_US, SpaceNow
from service.store import air, alarm_records, conditions, places
from service.store.database import Session
from service.store.tables import SpaceKind

router = APIRouter()

CHOICES = (("day", "1 day"), ("week", "1 week"), ("all", "All"))
_DAYS = {"day": 1, "week": 7}
_HOURLY_DAYS = 8


@router.get("/spaces/{space_id}")
def space(
    request: Request,
    context: WithContext,
    session: WithSession,
    space_id: PathId,
    span: str = "day",
) -> Response:
    """A space and its air."""
    household = household_of(session, context)
    words, now_us = household.words, household.now_us
    chosen = span if span in dict(CHOICES) else "day"
    found = _space(judging.judge_spaces(session, context.plans, now_us), space_id)
    from_us = _from_us(session, space_id, chosen, now_us)
    chart = space_chart(
        session, context.plans, space_id, words, from_us, now_us, POINTS_OF_A_DRAWING
    )
    alarms = alarm_records.open_for_space(session, space_id)
    return renderer(request).page(
        request,
        household,
        "space.html",
        space=found,
        wheels=found.wheels,
        asked=[*_asked(found, words), *conflicts(found)],
        alarms=alarms,
        news=news_of(alarms),
        choices=CHOICES,
        chosen=chosen,
        caption=f"{short(found.name)} from {words.moment(from_us)} to {words.moment(now_us)}",
        drawings=drawings_of(chart, words),
        known=any(panel.times_us.size for panel in chart.panels),
        rows=rows(
            air.space_history(session, space_id, from_us, now_us + 1), words, from_us, now_us
        ),
        daily=now_us - from_us > _HOURLY_DAYS * DAY_US,
        fridge=found.kind is SpaceKind.KITCHEN_FRIDGE,
    )


@router.get("/spaces/{space_id}/figure.json")
def space_figure(
    context: WithContext, session: WithSession, space_id: PathId, span: str = "day"
) -> Response:
    """The chart of a space's air for Plotly."""
    household = household_of(session, context)
    words, now_us = household.words, household.now_us
    places.space(session, space_id)
    from_us = _from_us(session, space_id, span, now_us)
    chart = space_chart(session, context.plans, space_id, words, from_us, now_us, POINTS)
    alarms = alarm_records.between(session, space_id, from_us, now_us + 1)
    return JSONResponse(figure(replace(chart, marks=marks_of(alarms, words)), words))


def _space(spaces: tuple[SpaceNow, ...], space_id: int) -> SpaceNow:
    for each in spaces:
        if each.id == space_id:
            return each
    raise UnknownError(f"there is no space {space_id}")


def _from_us(session: Session, space_id: int, span: str, now_us: int) -> int:
    """Where a span begins; all of it begins when a sensor first stood there."""
    if span != "all":
        return now_us - _DAYS.get(span, 1) * DAY_US
    stays = conditions.sensor_stays(session, space_id)
    return min((from_us for from_us, _ in stays), default=now_us - DAY_US)


def _asked(found: SpaceNow, words: Words) -> list[str]:
    """What the wheels ask of the air, in words."""
    return [
        f"Target {quantity}: {words.range(quantity, wanted)}"
        for quantity in Quantity
        if (wanted := found.target.of(quantity).common) is not None
    ]
