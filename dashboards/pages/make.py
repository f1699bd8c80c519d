"""Make day: the list, a new one, its record with steps and timers, and its end as wheels."""

import json
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request, Response

from dashboards.cautions import make_cautions
from dashboards.make_words import (
    FIELD_NAMES,
    RAW_WORDS,
    exact,
    lines,
    milk_lines,
    setting_words,
    timer_lines,
    value_words,
)
from dashboards.pages.household import local_us
from dashboards.pages.make_forms import FORMS, MOST_WHEELS, RAW, EditForm, wheels_of_form
from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.pages.sensors import number_or_none
from dashboards.typed import field_text, needed_number, number
from dashboards.words import Words
from service.ageing.making import TimerState, brine_from_water
from service.ageing.measures import MassUnit, VolumeUnit, in_celsius
from service.ageing.spans import span_s
from service.api import make_actions, make_marks
from service.api.bodies import PathId
from service.api.context import Context, WithContext, WithSession
from service.api.make_actions import BRINE, StaleError
from service.api.make_finishing import finish
from service.api.make_marks import setting_of
from service.api.plan_actions import newest_plans
from service.clock import US_PER_S
from service.store import make_days, places
from service.store.ageing_tables import MakeDay
from service.store.database import Session
from service.store.make_days import Conflict, Value

router = APIRouter()

PRESETS = (
    *("Milk warm", "Cultures in", "Moulds in", "Cut the curd", "Stir", "Whey off"),
    *("Into the moulds", "Turned in the mould", "Salted"),
)
"""Steps of one touch, in the order of a make day."""
_PLACES = {"record": "record-head", "salt": "salt-head", "multiplier": "setting"}

Text = Annotated[str, Form(max_length=200)]


@router.get("/makes")
def listed(request: Request, context: WithContext, session: WithSession) -> Response:
    """All make days, the newest first."""
    household = household_of(session, context)
    days = make_days.make_days(session)
    running = {
        day.id: sum(
            timer.state(household.now_us) is not TimerState.STOPPED
            for timer in make_days.timers(session, day.id)
        )
        for day in days
        if day.id is not None and day.batch_id is None
    }
    return renderer(request).page(
        request, household, "makes.html", days=days, running=running, raw_words=RAW_WORDS
    )


@router.get("/makes/new")
def new(request: Request, context: WithContext, session: WithSession) -> Response:
    """The form of a new make day."""
    household = household_of(session, context)
    return renderer(request).page(
        request,
        household,
        "make_new.html",
        live=False,
        site=places.the_site(session),
        plans=sorted(newest_plans(session, context.plans).values(), key=lambda plan: plan.name),
        cautions=make_cautions(None),
    )


@router.post("/makes")
def start(
    context: WithContext,
    session: WithSession,
    name: Text,
    plan: Text,
    raw_milk: Text = "",
    started: Text = "",
) -> Response:
    """Begin a make day."""
    household = household_of(session, context)
    day = make_actions.start_make(
        session,
        context.plans,
        name,
        plan,
        RAW.get(raw_milk),
        _at(started, household.words),
        household.now_us,
    )
    return see_other(f"/makes/{day.id}")


@router.get("/makes/{make_id}")
def make(request: Request, context: WithContext, session: WithSession, make_id: PathId) -> Response:
    """A make day."""
    return _page(request, context, session, make_days.make_day(session, make_id))


@router.post("/makes/{make_id}")
def edit(
    request: Request,
    context: WithContext,
    session: WithSession,
    make_id: PathId,
    given: Annotated[EditForm, Form()],
) -> Response:
    """Save one of the forms; when another browser was faster, show both values."""
    changes = given.changes()
    try:
        make_actions.edit_make(
            session, context.plans, make_id, given.version, changes, given.before()
        )
    except StaleError as error:
        day = make_days.make_day(session, make_id)
        return _page(request, context, session, day, changes, error)
    return see_other(f"/makes/{make_id}#{_PLACES[given.form]}")


@router.post("/makes/{make_id}/steps")
def add_step(
    context: WithContext,
    session: WithSession,
    make_id: PathId,
    preset: Text = "",
    words: Annotated[str, Form(max_length=4_000)] = "",
    temperature: Text = "",
    ph: Text = "",
    at: Text = "",
) -> Response:
    """Enter a step; a button's word stands where nothing else was typed."""
    household = household_of(session, context)
    warm = number(temperature, "“temperature”")
    if warm is not None and household.words.fahrenheit:
        warm = round(in_celsius(warm), 2)
    said = f"{preset}: {words.strip()}" if preset and words.strip() else preset or words
    make_actions.add_step(
        session,
        make_id,
        said,
        warm,
        number(ph, "“pH”"),
        _at(at, household.words),
        household.now_us,
    )
    return see_other(f"/makes/{make_id}#steps")


@router.post("/makes/{make_id}/steps/{step_id}/withdraw")
def withdraw_step(session: WithSession, make_id: PathId, step_id: PathId) -> Response:
    """Take a step back."""
    make_actions.withdraw_step(session, make_id, step_id)
    return see_other(f"/makes/{make_id}#steps")


@router.post("/makes/{make_id}/timers")
def start_timer(
    context: WithContext, session: WithSession, make_id: PathId, name: Text, duration: Text
) -> Response:
    """Start a timer."""
    now_us = context.clock.now_us()
    make_marks.start_timer(session, make_id, name, span_s(duration), now_us)
    return see_other(f"/makes/{make_id}#timers")


@router.post("/makes/{make_id}/timers/cut")
def start_cut_timer(session: WithSession, make_id: PathId) -> Response:
    """Start the timer for the time that is left after flocculation."""
    make_marks.start_cut_timer(session, make_id)
    return see_other(f"/makes/{make_id}#timers")


@router.post("/makes/{make_id}/timers/{timer_id}/stop")
def stop_timer(
    context: WithContext, session: WithSession, make_id: PathId, timer_id: PathId
) -> Response:
    """Stop a timer, or say that its end was seen."""
    make_marks.stop_timer(session, make_id, timer_id, context.clock.now_us())
    return see_other(f"/makes/{make_id}#timers")


@router.post("/makes/{make_id}/rennet")
def mark_rennet(
    context: WithContext, session: WithSession, make_id: PathId, at: Text = ""
) -> Response:
    """The rennet is in."""
    household = household_of(session, context)
    at_us = _at(at, household.words)
    make_marks.mark_rennet(session, make_id, at_us, household.now_us)
    return see_other(f"/makes/{make_id}#setting")


@router.post("/makes/{make_id}/rennet/withdraw")
def take_back_rennet(session: WithSession, make_id: PathId) -> Response:
    """Take the mark of the rennet back."""
    make_marks.take_back_rennet(session, make_id)
    return see_other(f"/makes/{make_id}#setting")


@router.post("/makes/{make_id}/flocculation")
def mark_flocculation(
    context: WithContext, session: WithSession, make_id: PathId, multiplier: Text
) -> Response:
    """The milk has flocculated now."""
    times = needed_number(multiplier, "the multiplier")
    make_marks.mark_flocculation(session, make_id, times, None, context.clock.now_us())
    return see_other(f"/makes/{make_id}#setting")


@router.post("/makes/{make_id}/flocculation/withdraw")
def take_back_flocculation(session: WithSession, make_id: PathId) -> Response:
    """Take the mark of the flocculation back."""
    make_marks.take_back_flocculation(session, make_id)
    return see_other(f"/makes/{make_id}#setting")


@router.post("/makes/{make_id}/finish")
def finish_make(
    context: WithContext,
    session: WithSession,
    make_id: PathId,
    diameter_mm: Text,
    height_mm: Text,
    count: Annotated[int, Form(ge=1, le=MOST_WHEELS)] = 1,
    mass_g: Text = "",
    each_g: Annotated[str, Form(max_length=4_000)] = "",
    space_id: Text = "",
    stage: Text = "",
) -> Response:
    """The wheels are made."""
    done = finish(
        session,
        context.plans,
        make_id,
        wheels_of_form(count, diameter_mm, height_mm, mass_g, each_g),
        number_or_none(space_id),
        stage or None,
        context.clock.now_us(),
    )
    return see_other(f"/batches/{done.batch_id}")


def _at(text: str, words: Words) -> int | None:
    return local_us(text, words) if text else None


def _page(
    request: Request,
    context: Context,
    session: Session,
    day: MakeDay,
    mine: dict[str, Value] | None = None,
    stale: StaleError | None = None,
) -> Response:
    household = household_of(session, context)
    words, now_us = household.words, household.now_us
    assert day.id is not None  # it was stored
    timers = make_days.timers(session, day.id)
    told_timers = timer_lines(timers, words, now_us)
    setting = setting_of(day)
    cut_us = None
    if setting is not None and day.rennet_us is not None:
        cut_us = day.rennet_us + round(setting.total_s * US_PER_S)
    plans = newest_plans(session, context.plans)
    plan = plans.get(day.plan)
    return renderer(request).page(
        request,
        household,
        "make.html",
        status=stale.status if stale else 200,
        live=stale is None,
        day=day,
        fields={
            field: field_text((mine or {}).get(field, getattr(day, field)))
            for field in FIELD_NAMES
            if field not in {"raw_milk", "salting", "plan"}
        },
        chosen={
            field: (mine or {}).get(field, getattr(day, field))
            for field in ("raw_milk", "salting", "plan")
        },
        was={name: json.dumps({f: getattr(day, f) for f in of}) for name, of in FORMS.items()},
        conflicts=[_conflict_words(each) for each in stale.conflicts] if stale else [],
        plans=sorted(plans.values(), key=lambda each: each.name),
        record=milk_lines(day),
        entered=any((day.milk, day.milk_l, day.cultures, day.rennet, day.moulds, day.words)),
        plan_name=plan.name if plan else day.plan,
        stages=plan.stages if plan else (),
        lines=lines(day, make_days.steps(session, day.id), words),
        timers_open=[each for each in told_timers if each.open],
        timers_over=[each for each in told_timers if not each.open],
        setting=setting_words(day),
        cut=exact(cut_us, words) if cut_us is not None else "",
        cut_timed=any(each.name == make_marks.CUT and each.ends_us == cut_us for each in timers),
        rennet_at=exact(day.rennet_us, words) if day.rennet_us is not None else "",
        salt_of_litre=_salt_of_litre(day),
        salt_entered=any((day.curd_g, day.salting, day.salt_pct)),
        presets=PRESETS,
        volumes=[each.value for each in VolumeUnit],
        masses=[each.value for each in MassUnit],
        spaces=places.spaces(session),
        raw_words=RAW_WORDS,
        cautions=make_cautions(day.raw_milk),
    )


def _salt_of_litre(day: MakeDay) -> float | None:
    """Salt for a litre of water, taken as 1 kg, in a brine of the strength entered. [g]"""
    if day.salting != BRINE or day.salt_pct is None:
        return None
    return brine_from_water(1_000, day.salt_pct).salt_g


def _conflict_words(conflict: Conflict) -> dict[str, Any]:
    return {
        "name": FIELD_NAMES.get(conflict.field, conflict.field),
        "stored": value_words(conflict.field, conflict.stored),
        "mine": value_words(conflict.field, conflict.given),
    }
