"""A wheel: its verdict, its stage, the climate it lived through, its weight and its age."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import JSONResponse

from dashboards.cautions import cautions_for
from dashboards.charts import POINTS, POINTS_OF_A_DRAWING
from dashboards.entered_words import entered_words
from dashboards.figures import figure
from dashboards.life_words import age_words, note_lines, now_words, weight_words, wet_words
from dashboards.needs import need_of
from dashboards.pages.planner import planned_block
from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.pages.tended import tended_block
from dashboards.pages.views import drawings_of
from dashboards.seen_words import seen_block
from dashboards.sensor_words import uncounted_words
from dashboards.typed import grams_of
from dashboards.wheel_charts import (
    climate_chart,
    grams,
    is_daily,
    life_rows,
    surface_reach,
    weight_chart,
)
from dashboards.wheel_charts import wet_words as spell_words
from dashboards.words import Words
from service import judging
from service.ageing.plans import Stage
from service.ageing.values import Quantity
from service.api import weighing_actions
from service.api.bodies import PathId
from service.api.context import Context, WithContext, WithSession
from service.errors import UnknownError
from service.judging.counted import not_counted
from service.living.climate import climate
from service.living.values import WheelClimate
from service.store import alarm_records, wheels
from service.store.database import Session
from service.tending.care import care_now

router = APIRouter()

_MOST_ALARMS = 50
_MOST_SPELLS = 10


@dataclass(frozen=True, slots=True)
class Asked:
    """What a stage asks of one quantity, and who says so."""

    name: str
    words: str
    source: str


@router.get("/wheels/{wheel_id}")
def wheel(
    request: Request,
    context: WithContext,
    session: WithSession,
    wheel_id: PathId,
    said: Annotated[str, Query(max_length=64)] = "",
) -> Response:
    """A wheel."""
    household = household_of(session, context)
    words, now_us = household.words, household.now_us
    now = judging.judge_wheel(session, context.plans, wheel_id, now_us)
    spaces = judging.judge_spaces(session, context.plans, now_us)
    alarms = alarm_records.listed(session, only_open=True, limit=_MOST_ALARMS)
    lived = _lived(session, context, wheel_id, now_us)
    chart = climate_chart(session, context.plans, lived, words, POINTS_OF_A_DRAWING)
    # What a wheel will weigh is of no use once it has ended.
    weight = weight_chart(lived, words) if now.ended_us is None else None
    seen = seen_block(session, wheel_id)
    entered = entered_words(said, seen, lived.weighings, words)
    return renderer(request).page(
        request,
        household,
        "wheel.html",
        wheel=now,
        space=next((space for space in spaces if space.id == now.space_id), None),
        asked=_asked(now.stage, words),
        care=tended_block(
            session, context, household, care_now(session, context.plans, now_us), wheel_id
        ),
        spans=judging.stage_spans(session, context.plans, wheel_id),
        caption="Dotted lines mark where a stage begins; the line without colour is the wheel's"
        f" surface, an estimate{surface_reach(lived, words)}; shaded is wet.",
        drawings=drawings_of(chart, words) if chart else [],
        reach=surface_reach(lived, words),
        rows=life_rows(lived, words, chart.from_us, chart.to_us) if chart else (),
        daily=chart is not None and is_daily(chart.from_us, chart.to_us),
        surface=[
            *(
                (uncounted_words(each, words), "unknown")
                for each in (not_counted(session, now.space_id, now_us) if now.space_id else ())
            ),
            *now_words(lived.now, words, now_us),
        ],
        wetness=wet_words(lived) if lived.lived is not None else "",
        spells=[spell_words(each, words, lived) for each in reversed(lived.wet[-_MOST_SPELLS:])],
        age=age_words(lived, words),
        weight=weight_words(lived, words) if now.ended_us is None else [],
        weight_drawings=drawings_of(weight, words) if weight else [],
        weighings=[(each.id, grams(each.grams), each.time_us) for each in lived.weighings][::-1],
        notes=note_lines(lived),
        planned=planned_block(session, context, wheel_id, household),
        seen=seen,
        said=entered.words,
        said_of=entered.place,
        cautions=cautions_for(
            now.edition,
            now.stage,
            raw_milk=wheels.batch_of(session, wheel_id).raw_milk,
        ),
        others=[
            other
            for other, _ in wheels.wheels(session)
            if other.batch_id == now.batch_id and other.id != wheel_id and other.ended_us is None
        ],
        news=need_of(alarms, spaces, words, now_us).title,
    )


@router.get("/wheels/{wheel_id}/figure.json")
def wheel_figure(context: WithContext, session: WithSession, wheel_id: PathId) -> Response:
    """The chart of a wheel's air for Plotly."""
    household = household_of(session, context)
    lived = _lived(session, context, wheel_id, household.now_us)
    chart = climate_chart(session, context.plans, lived, household.words, POINTS)
    if chart is None:
        raise UnknownError("that wheel has lived no stage yet")
    return JSONResponse(figure(chart, household.words))


@router.get("/wheels/{wheel_id}/weight.json")
def weight_figure(context: WithContext, session: WithSession, wheel_id: PathId) -> Response:
    """The chart of a wheel's weight for Plotly."""
    household = household_of(session, context)
    lived = _lived(session, context, wheel_id, household.now_us)
    chart = weight_chart(lived, household.words)
    if chart is None:
        raise UnknownError("nothing is known of the weight of that wheel")
    return JSONResponse(figure(chart, household.words))


@router.post("/wheels/{wheel_id}/weighings")
def enter_weighing(
    context: WithContext,
    session: WithSession,
    wheel_id: PathId,
    weight: Annotated[str, Form(max_length=20)],
    unit: Annotated[str, Form(pattern="^k?g$")] = "g",
) -> Response:
    """The wheel weighs so much now."""
    now_us = context.clock.now_us()
    kept = weighing_actions.enter_weighing(session, wheel_id, grams_of(weight, unit), None, now_us)
    return see_other(f"/wheels/{wheel_id}?said=weighed-{kept.id}#weight")


@router.post("/wheels/{wheel_id}/weighings/{weighing_id}/withdraw")
def withdraw_weighing(session: WithSession, wheel_id: PathId, weighing_id: PathId) -> Response:
    """Take a weighing back."""
    weighing_actions.withdraw_weighing(session, wheel_id, weighing_id)
    return see_other(f"/wheels/{wheel_id}?said=unweighed#weight")


@router.post("/wheels/{wheel_id}/stage")
def begin_stage(wheel_id: PathId) -> Response:
    """A stage ends at its gate, so that is where the wheel goes on from."""
    return see_other(f"/wheels/{wheel_id}/gate")


def _lived(session: Session, context: Context, wheel_id: int, now_us: int) -> WheelClimate:
    """What a wheel lived through up to now, or up to its end."""
    ended_us = wheels.wheel(session, wheel_id).ended_us
    until_us = now_us if ended_us is None else min(ended_us, now_us)
    return climate(session, context.plans, wheel_id, until_us, context.memory)


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
            found.append(Asked(str(quantity).capitalize(), told, source or ""))
    return found
