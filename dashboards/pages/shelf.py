"""The first page: the shelf, what needs the maker, and the air of the last day."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request, Response
from markupsafe import Markup

from dashboards.care_words import NextCare, next_care
from dashboards.charts import POINTS_OF_A_DRAWING, space_chart
from dashboards.drawings.air import panel_drawing
from dashboards.drawings.shelf import space_drawing
from dashboards.life_words import Sweat, sweat_of
from dashboards.needs import need_of
from dashboards.pages.demo import SAID
from dashboards.pages.rendering import household_of, renderer
from dashboards.time_axis import ticks
from dashboards.visit_list import overdue_care, today_words
from dashboards.words import Words, listed, short
from service import judging
from service.ageing.values import Quantity
from service.api.context import Context, WithContext, WithSession
from service.behaving.outlook import Outlook
from service.clock import DAY_US
from service.judging import AirNow, SpaceNow
from service.living.now import lids_now, surfaces_now
from service.store import alarm_records, places
from service.store.database import Session
from service.store.tables import SpaceKind
from service.tending.care import care_now

router = APIRouter()

_TICKS = 4
_MOST_ALARMS = 50


@dataclass(frozen=True, slots=True)
class Strip:
    """One quantity of the last day in one space."""

    space_id: int
    name: str
    air: AirNow | None
    caption: str
    drawing: Markup
    first: bool


@dataclass(frozen=True, slots=True)
class Part:
    """A space that stands by itself, with what stands in it."""

    space: SpaceNow
    drawing: Markup
    strips: list[Strip]
    family: list[SpaceNow]
    conflicts: list[str]


@router.get("/")
def shelf(request: Request, context: WithContext, session: WithSession, said: str = "") -> Response:
    """The shelf."""
    household = household_of(session, context)
    words, now_us = household.words, household.now_us
    spaces = judging.judge_spaces(session, context.plans, now_us, context.memory)
    alarms = alarm_records.listed(session, only_open=True, limit=_MOST_ALARMS)
    sweat = sweat_of(
        surfaces_now(session, context.plans, now_us, context.memory),
        lids_now(session, now_us, context.memory),
        now_us,
    )
    now = care_now(session, context.plans, now_us)
    readings = [space.air.time_us for space in spaces if space.air is not None]
    return renderer(request).page(
        request,
        household,
        "shelf.html",
        need=need_of(
            alarms,
            spaces,
            words,
            now_us,
            _ahead(session, context, spaces, now_us),
            overdue_care(now),
            today_words(now, {space.id: space.name for space in spaces}),
        ),
        spaces=_parts(session, context, spaces, words, now_us, sweat, next_care(now)),
        bare=[space for space in spaces if _is_bare(space, spaces)] if len(spaces) > 1 else [],
        last_us=max(readings, default=None),
        new_sensors=_new_sensors(session),
        empty_handed=_missing(spaces),
        said=SAID.get(said, ""),
    )


def _ahead(
    session: Session, context: Context, spaces: Sequence[SpaceNow], now_us: int
) -> list[tuple[SpaceNow, Outlook]]:
    """Limits that will be reached within a day, the soonest first."""
    found = [
        (space, seen)
        for space in spaces
        if space.air is not None and space.air.fresh
        for behaves in (context.behaviours.of(session, space.id, space.target, now_us),)
        if behaves is not None
        for seen in behaves.outlooks
    ]
    return sorted(found, key=lambda pair: pair[1].forecast.expected_s)


def _parts(
    session: Session,
    context: Context,
    spaces: Sequence[SpaceNow],
    words: Words,
    now_us: int,
    sweat: Sweat,
    care: Mapping[int, NextCare],
) -> list[Part]:
    parts = []
    for space in sorted(spaces, key=_order):
        if space.parent_id is not None or (len(spaces) > 1 and _is_bare(space, spaces)):
            continue
        boxes = [box for box in spaces if box.parent_id == space.id]
        family = [space, *boxes]
        parts.append(
            Part(
                space=space,
                drawing=space_drawing(space, boxes, words, now_us, sweat.wheels, sweat.lids, care),
                strips=[
                    strip
                    for each in family
                    if each.air is not None
                    for strip in _strips(session, context, each, words, now_us)
                ],
                family=family,
                conflicts=[words_of for each in family for words_of in conflicts(each)],
            )
        )
    return parts


def _is_bare(space: SpaceNow, spaces: Sequence[SpaceNow]) -> bool:
    """Whether there is nothing to draw: no wheel, no air, no box, and it is no box itself."""
    boxes = any(other.parent_id == space.id for other in spaces)
    return not (space.wheels or space.air or boxes or space.parent_id)


def _order(space: SpaceNow) -> tuple[int, int]:
    kinds = (SpaceKind.CAVE, SpaceKind.BOX, SpaceKind.ROOM, SpaceKind.KITCHEN_FRIDGE)
    return kinds.index(space.kind), space.id


def conflicts(space: SpaceNow) -> list[str]:
    """Where wheels of a space ask for air that cannot be both, in words."""
    told = []
    for quantity in Quantity:
        clash = space.target.of(quantity).conflict
        if clash:
            names = sorted({short(each.batch) for each in space.wheels if each.id in clash})
            told.append(f"No {quantity} in {short(space.name)} suits all: {listed(names)}")
    return told


def _strips(
    session: Session,
    context: Context,
    space: SpaceNow,
    words: Words,
    now_us: int,
) -> list[Strip]:
    from_us = now_us - DAY_US
    chart = space_chart(
        session, context.plans, space.id, words, from_us, now_us, POINTS_OF_A_DRAWING
    )
    marks = ticks(from_us, now_us, words, _TICKS)
    strips: list[Strip] = []
    for panel in chart.panels:
        quantity = Quantity(panel.tone)
        wanted = space.target.of(quantity).common
        # Nobody asks a kitchen fridge for its humidity; its temperature always matters.
        if wanted is None and quantity is Quantity.HUMIDITY and space.wheels:
            continue
        target = f", target {words.range(quantity, wanted)}" if wanted else ""
        strips.append(
            Strip(
                space_id=space.id,
                name=short(space.name),
                air=space.air,
                caption=f"{quantity.value.capitalize()} of the last day in {panel.unit}{target}",
                drawing=panel_drawing(panel, from_us, now_us, marks),
                first=not strips,
            )
        )
    return strips


def _new_sensors(session: Session) -> list[str]:
    return [
        sensor.name
        for sensor in places.sensors(session)
        if sensor.id is not None and not places.placements_of_sensor(session, sensor.id)
    ]


def _missing(spaces: Sequence[SpaceNow]) -> list[tuple[str, str]]:
    """What the household still lacks, once it has spaces."""
    missing = []
    if spaces and not any(space.air for space in spaces):
        missing.append(("/sensors", "No sensor stands in any space: place one"))
    if spaces and not any(space.wheels for space in spaces):
        missing.append(("/household", "No wheel is entered: add a batch"))
    return missing
