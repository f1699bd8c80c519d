"""Looking back from an observation: the days before it, beside the days before others."""

from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import JSONResponse

from dashboards.charts import POINTS, POINTS_OF_A_DRAWING, Boundary, Chart
from dashboards.figures import figure
from dashboards.lookback_words import (
    NOT_A_CAUSE,
    compared_words,
    condition_words,
    table_rows,
    window_words,
)
from dashboards.pages.rendering import household_of, renderer
from dashboards.pages.views import drawings_of
from dashboards.seen_words import look_words
from dashboards.wheel_charts import climate_chart
from dashboards.words import Words
from service import judging
from service.ageing.lookback import AGE_RANGE_D
from service.ageing.noted import Condition
from service.api.bodies import PathId
from service.api.context import Context, WithContext, WithSession
from service.api.lookback import Days
from service.clock import DAY_US
from service.errors import UnknownError
from service.living.climate import climate
from service.recalling.looking_back import USUAL_D, WINDOWS_D, look_back
from service.store import observations
from service.store.database import Session

router = APIRouter()


@router.get("/observations/{observation_id}/lookback")
def look_back_page(
    request: Request,
    context: WithContext,
    session: WithSession,
    observation_id: PathId,
    days: Days = USUAL_D,
    condition: Annotated[Condition | None, Query()] = None,
) -> Response:
    """The days before an observation."""
    household = household_of(session, context)
    words, now_us = household.words, household.now_us
    found = look_back(
        session, context.plans, observation_id, now_us, context.memory, days, condition
    )
    row, compared = found.observation, found.comparison
    chart = _chart(context, session, observation_id, days, words, now_us, POINTS_OF_A_DRAWING)
    return renderer(request).page(
        request,
        household,
        "lookback.html",
        live=False,
        wheel=judging.judge_wheel(session, context.plans, row.wheel_id, now_us),
        observation=row,
        look=look_words(observations.look_of(row)),
        days=days,
        windows=WINDOWS_D,
        condition=compared.condition if compared else None,
        conditions=found.seen,
        condition_words=condition_words,
        window=window_words(found, words),
        compared=compared_words(compared) if compared else [],
        rows=table_rows(compared, found.values, words) if compared else [],
        left_out=max((each.left_out for each in compared.rows), default=0) if compared else 0,
        age_range_d=round(AGE_RANGE_D),
        note=NOT_A_CAUSE,
        drawings=drawings_of(chart, words) if chart else [],
    )


@router.get("/observations/{observation_id}/lookback/figure.json")
def look_back_figure(
    context: WithContext, session: WithSession, observation_id: PathId, days: Days = USUAL_D
) -> Response:
    """The wheel's chart with the window and the observation, for Plotly."""
    household = household_of(session, context)
    chart = _chart(
        context, session, observation_id, days, household.words, household.now_us, POINTS
    )
    if chart is None:
        raise UnknownError("that wheel has lived no stage yet")
    return JSONResponse(figure(chart, household.words))


def _chart(
    context: Context,
    session: Session,
    observation_id: int,
    days: int,
    words: Words,
    now_us: int,
    points: int,
) -> Chart | None:
    """The climate of the wheel with the window shaded and the observation marked."""
    row = observations.observation(session, observation_id)
    lived = climate(session, context.plans, row.wheel_id, now_us, context.memory)
    chart = climate_chart(session, context.plans, lived, words, points)
    if chart is None:
        return None
    seen = Boundary(row.time_us, "seen", words.moment(row.time_us))
    boundaries = sorted([*chart.boundaries, seen], key=lambda each: each.time_us)
    window = (max(chart.from_us, row.time_us - days * DAY_US), row.time_us)
    return replace(chart, boundaries=tuple(boundaries), window=window)
