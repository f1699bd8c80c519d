"""The planner: when to wrap, move and eat each wheel, the year of all, and who fits together."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import JSONResponse

from dashboards.cautions import FRIDGE, eating_cautions, sixty_days
from dashboards.needs import need_of
from dashboards.pages.rendering import Household, household_of, renderer, see_other
from dashboards.planner_words import (
    DayRow,
    day_rows,
    fridge_words,
    kitchen_words,
    on_day,
    reach_words,
    sixty_words,
    smell_words,
    spell_words,
    stand_words,
    warmer_words,
)
from dashboards.words import Words, plain, short
from dashboards.year_chart import year_chart
from dashboards.year_figure import year_drawing, year_figure
from service import judging
from service.ageing.work import Firmness
from service.api import planner_actions
from service.api.bodies import PathId
from service.api.care_bodies import given_day
from service.api.context import Context, WithContext, WithSession
from service.api.refusals import RefusedError
from service.planning.ahead import kitchens_ahead, plan_ahead, plans_ahead
from service.planning.fitting import together
from service.planning.values import KitchenAhead, PlanAhead
from service.planning.year import year
from service.store import alarm_records, places, wheels
from service.store.database import Session
from service.store.tables import SpaceKind
from service.tending.days import day_of

router = APIRouter()

_MOST_ALARMS = 50
_MOST_WHEELS = 200
_WARMEST_FRIDGE_C = 5.0
"""The upper of the two published limits for a kitchen fridge; see `dashboards.cautions`."""


@dataclass(frozen=True, slots=True)
class Group:
    """Wheels of a batch that are planned alike, in words."""

    batch: str
    wheels: tuple[tuple[int, str], ...]
    rows: tuple[DayRow, ...]
    warnings: tuple[str, ...]
    lines: tuple[str, ...]
    quiet: tuple[str, ...]
    wish: str
    wished: str
    choices: tuple[Firmness, ...]
    firmness: Firmness | None
    day: str

    @property
    def ids(self) -> tuple[int, ...]:
        """Their numbers."""
        return tuple(number for number, _ in self.wheels)

    @property
    def first(self) -> int:
        """The number of the first of them."""
        return self.ids[0]


@router.get("/planner")
def planner(
    request: Request,
    context: WithContext,
    session: WithSession,
    on: str = "",
    said: Annotated[str, Query(max_length=64)] = "",
) -> Response:
    """What is ahead of every wheel."""
    household = household_of(session, context)
    words, now_us = household.words, household.now_us
    today = day_of(now_us, words.zone)
    ahead = plans_ahead(session, context.plans, now_us, context.memory)
    kitchens = kitchens_ahead(session, ahead, today)
    raw = {batch.id: batch.raw_milk for _, batch in wheels.wheels(session)}
    made = {batch.id: day_of(batch.made_us, words.zone) for _, batch in wheels.wheels(session)}
    looked_at = max(_day(on) or today, today)
    return renderer(request).page(
        request,
        household,
        "planner.html",
        groups=[
            _group(alike, words, today, made[alike[0].batch_id], raw[alike[0].batch_id])
            for alike in _alike(ahead)
        ],
        today=today.isoformat(),
        said=said,
        on=looked_at.isoformat(),
        kitchens=[
            (each.space, _kitchen_lines(each, ahead, looked_at, today, words)) for each in kitchens
        ],
        cautions=eating_cautions(
            (each.plan, raw[each.batch_id]) for each in ahead if each.plan is not None
        )
        if ahead
        else [],
        news=_news(session, context, household),
    )


@router.post("/planner/wish")
def wish(
    context: WithContext,
    session: WithSession,
    wheels: Annotated[str, Form(max_length=2_000, pattern=r"^[0-9]{1,10}(,[0-9]{1,10})*$")],
    firmness: Annotated[str, Form(max_length=20)] = "",
    day: Annotated[str, Form(max_length=20)] = "",
) -> Response:
    """Some wheels are wanted so, or for that day; empty where it does not matter."""
    wanted = plain(firmness, "")
    if wanted and wanted not in set(Firmness):
        raise RefusedError(f"choose one of {', '.join(Firmness)}")
    for_day = _day(day)
    numbers = list(dict.fromkeys(int(each) for each in wheels.split(",")))
    if len(numbers) > _MOST_WHEELS:
        raise RefusedError(f"plan at most {_MOST_WHEELS} wheels at once")
    for number in numbers:
        planner_actions.wish(
            session,
            context.plans,
            number,
            Firmness(wanted) if wanted else None,
            for_day,
            context.clock.now_us(),
        )
    return see_other(f"/planner?said=wish-{numbers[0]}#wheel-{numbers[0]}")


@router.post("/planner/room/{space_id}")
def room(
    session: WithSession, space_id: PathId, room: Annotated[str, Form(max_length=20)] = ""
) -> Response:
    """How much of a space is free for wheels; empty where it is not known."""
    given = plain(room, "")
    try:
        room_cm2 = float(given.replace(",", ".")) if given else None
    except ValueError:
        raise RefusedError("write the room as a number of cm², such as 900") from None
    planner_actions.set_room(session, space_id, room_cm2)
    return see_other(f"/planner?said=room-{space_id}#room-{space_id}")


@router.get("/planner/year")
def planner_year(request: Request, context: WithContext, session: WithSession) -> Response:
    """The year of all wheels."""
    household = household_of(session, context)
    words, now_us = household.words, household.now_us
    chart = year_chart(year(session, context.plans, now_us, context.memory), words, now_us)
    return renderer(request).page(
        request,
        household,
        "planner_year.html",
        rows=chart.rows,
        drawing=year_drawing(chart),
        span=f"{words.dated(chart.from_us)} to {words.dated(chart.to_us)}",
        news=_news(session, context, household),
    )


@router.get("/planner/year.json")
def planner_year_figure(context: WithContext, session: WithSession) -> Response:
    """The year of all wheels for Plotly."""
    household = household_of(session, context)
    words, now_us = household.words, household.now_us
    found = year(session, context.plans, now_us, context.memory)
    return JSONResponse(year_figure(year_chart(found, words, now_us), words))


@router.get("/spaces/{space_id}/together")
def fit_together(
    request: Request, context: WithContext, session: WithSession, space_id: PathId
) -> Response:
    """Which wheels fit together in a space, now and through the stages to come."""
    household = household_of(session, context)
    found = together(session, context.plans, space_id, household.now_us, context.memory)
    space = places.space(session, space_id)
    shares = (
        any(each.parent_id == space_id for each in places.spaces(session))
        or space.kind == SpaceKind.BOX
    )
    spells = []
    for place, spell in enumerate(found.spells):
        last = place == len(found.spells) - 1
        begin = "Now" if place == 0 else f"From {on_day(spell.from_day, found.today)}"
        end = "" if last else f" until {on_day(spell.to_day, found.today)}"
        lines = spell_words(spell, found, household.words)
        spells.append((begin + end, lines, bool(spell.fit.clash)))
    return renderer(request).page(
        request,
        household,
        "together.html",
        space=space,
        shares=shares,
        spells=spells,
        news=_news(session, context, household),
    )


@dataclass(frozen=True, slots=True)
class Planned:
    """What is ahead of a wheel, on its own page."""

    rows: tuple[DayRow, ...]
    reach: str


def planned_block(
    session: Session, context: Context, wheel_id: int, household: Household
) -> Planned | None:
    """What is ahead of a wheel, for its own page; None where nothing is reckoned."""
    now_us = household.now_us
    found = plan_ahead(session, context.plans, wheel_id, now_us, context.memory)
    if found.moving is None:
        return None
    today = day_of(now_us, household.words.zone)
    return Planned(day_rows(found, today), reach_words(found.moving, today))


def _alike(ahead: Sequence[PlanAhead]) -> list[list[PlanAhead]]:
    """Wheels of one batch that are planned and wanted alike stand together."""
    groups: dict[tuple[object, ...], list[PlanAhead]] = {}
    for each in ahead:
        where = (each.space_id, each.kitchen_id)
        key = (each.batch_id, each.moving, each.wish, each.notes, where)
        groups.setdefault(key, []).append(each)
    return list(groups.values())


def _group(
    alike: Sequence[PlanAhead],
    words: Words,
    today: date,
    made: date,
    raw_milk: bool | None,  # noqa: FBT001 - a fact of the milk
) -> Group:
    first = alike[0]
    moving, wish = first.moving, first.wish
    warnings: list[str] = []
    lines: list[str] = []
    if moving is not None:
        warnings = [reach_words(moving, today)]
        lines = [stand_words(first, words), fridge_words(first, words)]
        if moving.before_gate:
            warnings.append(
                "It would be moved before the gate before wrapping usually opens; see that what"
                " the gate asks for is there."
            )
        if moving.cold_ends:
            lines.append(
                "The last day is the end of the longest time in the kitchen fridge that its plan"
                " gives."
            )
        if first.plan is not None:
            aged = sixty_days(first.plan, made, moving.eat_from.expected, raw_milk=raw_milk)
            if aged is not None:
                warnings.append(sixty_words(aged, today, first.plan.kind, raw_milk=raw_milk))
        lines.append(warmer_words(first.warmer, words))
    quiet = [f"{note[:1].upper()}{note[1:]}." for note in first.notes]
    return Group(
        batch=first.batch,
        wheels=tuple((each.wheel_id, each.label) for each in alike),
        rows=day_rows(first, today),
        warnings=tuple(each for each in warnings if each),
        lines=tuple(each for each in lines if each),
        quiet=tuple(quiet),
        wish=_wish_words(first, today),
        wished=_wished_words(first, today),
        choices=first.choices if moving is not None else (),
        firmness=wish.firmness,
        day=wish.day.isoformat() if wish.day else "",
    )


def _wish_words(plan: PlanAhead, today: date) -> str:
    wanted = _wanted(plan, today)
    return f"{wanted}: change" if wanted else "Say how it is wanted, or for which day"


def _wished_words(plan: PlanAhead, today: date) -> str:
    wanted = _wanted(plan, today)
    return f"Kept: {wanted[:1].lower()}{wanted[1:]}." if wanted else "Kept: no wish."


def _wanted(plan: PlanAhead, today: date) -> str:
    """How and for which day it is wanted; nothing without a wish."""
    wish = plan.wish
    if wish.firmness is None and wish.day is None:
        return ""
    how = f"Wanted {wish.firmness}" if wish.firmness else "Wanted"
    return f"{how} for {on_day(wish.day, today)}" if wish.day else how


def _kitchen_lines(
    kitchen: KitchenAhead, ahead: Sequence[PlanAhead], on: date, today: date, words: Words
) -> list[str]:
    names = {each.wheel_id: f"{short(each.batch)} {short(each.label)}" for each in ahead}
    found = kitchen.on(on)
    lines = [kitchen_words(found, today), smell_words(found, names)]
    if kitchen.too_full is not None and kitchen.too_full.day != on:
        lines.append(kitchen_words(kitchen.too_full, today))
    fridges = (each.fridge for each in ahead if each.kitchen_id == kitchen.space.id)
    warm = next((each for each in fridges if each and each.days), None)
    if warm is not None and warm.air.mean_c > _WARMEST_FRIDGE_C:
        told = words.temperature(warm.air.mean_c)
        lines.append(f"Of late it was about {told} in it. {FRIDGE.words}")
    return [each for each in lines if each]


def _news(session: Session, context: Context, household: Household) -> str:
    """The title of the page's tab: what is most needed."""
    spaces = judging.judge_spaces(session, context.plans, household.now_us)
    alarms = alarm_records.listed(session, only_open=True, limit=_MOST_ALARMS)
    return need_of(alarms, spaces, household.words, household.now_us).title


def _day(text: str) -> date | None:
    """The day in a field; None when the field is empty.

    Raises:
        RefusedError: It is no day.
    """
    typed = plain(text, "")
    try:
        return given_day(typed) if typed else None
    except ValueError as error:
        raise RefusedError(str(error)) from None
