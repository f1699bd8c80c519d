"""The air of a space: one day, one week or all of it."""

from dataclasses import replace

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse

from dashboards.cautions import FRIDGE
from dashboards.charts import POINTS, POINTS_OF_A_DRAWING, Chart, rows, space_chart
from dashboards.figures import figure
from dashboards.pages.rendering import Household, household_of, renderer
from dashboards.pages.shelf import conflicts
from dashboards.pages.views import drawings_of, marks_of, news_of
from dashboards.sensor_words import uncounted_words
from dashboards.space_chart import Found, with_found
from dashboards.space_words import behaviour_lines, opening_rows, outlook_lines, surface_lines
from dashboards.words import Words, short
from service import judging
from service.ageing.values import Quantity
from service.ageing.verdict import AirHistory
from service.api.bodies import PathId
from service.api.context import Context, WithContext, WithSession
from service.behaving.behaviour import COOLED, Behaviour, openings_in
from service.clock import DAY_US
from service.errors import UnknownError
from service.judging import SpaceNow
from service.judging.counted import not_counted
from service.living.now import lids_now, surfaces_now
from service.store import air, alarm_records, conditions
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
    spaces = judging.judge_spaces(session, context.plans, now_us)
    found = _space(spaces, space_id)
    from_us = _from_us(session, space_id, chosen, now_us)
    stays = conditions.sensor_stays(session, space_id)
    history = air.space_history(session, space_id, from_us, now_us + 1)
    behaves = context.behaviours.of(session, space_id, found.target, now_us)
    shown = _found(history, found.kind, behaves, chosen)
    chart = _chart(session, context, space_id, words, from_us, now_us, shown, POINTS_OF_A_DRAWING)
    alarms = alarm_records.open_for_space(session, space_id)
    return renderer(request).page(
        request,
        household,
        "space.html",
        space=found,
        wheels=found.wheels,
        around=next((each for each in spaces if each.id == found.parent_id), None),
        boxes=[each for each in spaces if each.parent_id == space_id],
        ever_measured=bool(stays),
        measured=any(to_us is None for _, to_us in stays),
        asked=[*_asked(found, words), *conflicts(found)],
        alarms=alarms,
        news=news_of(alarms),
        choices=CHOICES,
        chosen=chosen,
        caption=f"{short(found.name)} from {words.moment(from_us)} to {words.moment(now_us)}"
        + ("; humidity corrected" if air.is_corrected(session, space_id, from_us, now_us) else ""),
        drawings=drawings_of(chart, words),
        known=any(panel.times_us.size for panel in chart.panels),
        rows=rows(history, words, from_us, now_us),
        behaves=behaviour_lines(behaves, found.kind, words) if behaves else [],
        ahead=[outlook_lines(found.name, each, words) for each in behaves.outlooks]
        if behaves
        else [],
        surfaces=_surfaces(session, context, space_id, household),
        openings=opening_rows(shown.openings, words),
        daily=now_us - from_us > _HOURLY_DAYS * DAY_US,
        fridge=FRIDGE if found.kind is SpaceKind.KITCHEN_FRIDGE else None,
    )


@router.get("/spaces/{space_id}/figure.json")
def space_figure(
    context: WithContext, session: WithSession, space_id: PathId, span: str = "day"
) -> Response:
    """The chart of a space's air for Plotly."""
    household = household_of(session, context)
    words, now_us = household.words, household.now_us
    found = _space(judging.judge_spaces(session, context.plans, now_us), space_id)
    from_us = _from_us(session, space_id, span, now_us)
    history = air.space_history(session, space_id, from_us, now_us + 1)
    behaves = context.behaviours.of(session, space_id, found.target, now_us)
    shown = _found(history, found.kind, behaves, span)
    chart = _chart(session, context, space_id, words, from_us, now_us, shown, POINTS)
    alarms = alarm_records.between(session, space_id, from_us, now_us + 1)
    return JSONResponse(figure(replace(chart, marks=marks_of(alarms, words)), words))


def _surfaces(
    session: Session, context: Context, space_id: int, household: Household
) -> list[tuple[str, str]]:
    """What is said of a sensor that does not count, of the wheels' surfaces, and of the lid."""
    now_us, memory = household.now_us, context.memory
    wheels = surfaces_now(session, context.plans, now_us, memory)
    lids = lids_now(session, now_us, memory)
    uncounted = [
        ("unknown", uncounted_words(each, household.words))
        for each in not_counted(session, space_id, now_us)
    ]
    return uncounted + surface_lines(
        [each for each in wheels if each.space_id == space_id],
        [each for each in lids if each.space_id == space_id],
        household.words,
    )


def _found(history: AirHistory, kind: SpaceKind, behaves: Behaviour | None, span: str) -> Found:
    """What was worked out of the air that a chart shows."""
    ahead = behaves.outlooks if behaves and span not in {"week", "all"} else ()
    return Found(history, openings_in(history) if kind in COOLED else (), ahead)


def _chart(
    session: Session,
    context: Context,
    space_id: int,
    words: Words,
    from_us: int,
    to_us: int,
    shown: Found,
    points: int,
) -> Chart:
    chart = space_chart(session, context.plans, space_id, words, from_us, to_us, points)
    return with_found(chart, shown, words, points)


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
