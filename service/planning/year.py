"""A year of all wheels: the stages that each has lived, and those ahead with their bands."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from service.ageing.coming import Window, wrapping
from service.ageing.plans import Stage
from service.judging import Plans, stage_spans
from service.living.memory import Memory
from service.planning.ahead import plans_ahead
from service.planning.values import PlanAhead
from service.store import wheels
from service.store.database import Session
from service.tending.days import day_of
from service.tending.facts import zones_of


@dataclass(frozen=True, slots=True)
class LivedBar:
    """A stage that a wheel has lived, or lives.

    Attributes:
        stage: The stage.
        from_us: Since when. [µs UTC]
        to_us: Until when; now for the stage that it lives. [µs UTC]
        goes_on: Whether it lives it still.
    """

    stage: Stage
    from_us: int
    to_us: int
    goes_on: bool


@dataclass(frozen=True, slots=True)
class AheadBar:
    """A stage ahead, or what is left of the one that is lived; an estimate.

    Attributes:
        stage: The stage.
        begins: When it begins; None for the stage that is lived.
        ends: When it ends.
    """

    stage: Stage
    begins: Window | None
    ends: Window


@dataclass(frozen=True, slots=True)
class WheelYear:
    """One wheel through the year.

    Attributes:
        wheel_id: Its number.
        batch: The name of its batch.
        label: Its label.
        made_us: When it was made. [µs UTC]
        lived: What it has lived.
        ahead: What is ahead of it; nothing when it has ended.
    """

    wheel_id: int
    batch: str
    label: str
    made_us: int
    lived: tuple[LivedBar, ...]
    ahead: tuple[AheadBar, ...]


def year(session: Session, plans: Plans, now_us: int, memory: Memory) -> tuple[WheelYear, ...]:
    """Every wheel with its stages, the oldest batch first."""
    planned = {each.wheel_id: each for each in plans_ahead(session, plans, now_us, memory)}
    today = day_of(now_us, zones_of(session))
    found = []
    for wheel, batch in wheels.wheels(session):
        assert wheel.id is not None  # it comes from the store
        end_us = now_us if wheel.ended_us is None else min(wheel.ended_us, now_us)
        lived = tuple(
            LivedBar(
                span.stage,
                span.from_us,
                min(span.to_us if span.to_us is not None else end_us, end_us),
                span.to_us is None and wheel.ended_us is None,
            )
            for span in stage_spans(session, plans, wheel.id)
            if span.from_us < end_us
        )
        plan = planned.get(wheel.id)
        bars = ahead_bars(plan, today) if plan is not None else ()
        found.append(WheelYear(wheel.id, batch.name, wheel.label, batch.made_us, lived, bars))
    return tuple(found)


def ahead_bars(plan: PlanAhead, today: date) -> tuple[AheadBar, ...]:
    """The stages ahead of a wheel by its plan's gates, and by the planner where it says when.

    Wrapping and moving are the planner's; what comes before ends by then, and the last stage
    before a move lasts until it.
    """
    bars = [
        AheadBar(each.stage, each.begins if place else None, each.ends)
        for place, each in enumerate(plan.ahead)
    ]
    moving = plan.moving
    if moving is None or not bars:
        return tuple(bars)
    wrap = wrapping(plan.ahead)
    kitchen = next((each for each in plan.ahead[1:] if each.stage.in_kitchen_fridge), None)
    for stage, when in ((wrap, moving.wrap), (kitchen, moving.move)):
        if stage is not None and when is not None:
            _begin_at(bars, plan.ahead.index(stage), when)
    for place, bar in enumerate(bars):
        # A plan may have more than one stage in the kitchen fridge; all are over when it is eaten.
        if place and bar.stage.in_kitchen_fridge:
            begins = _by(bar.begins or bar.ends, moving.eat_until)
            bars[place] = replace(bar, begins=begins, ends=_by(bar.ends, moving.eat_until))
    bars[-1] = replace(bars[-1], ends=moving.eat_until)
    return tuple(
        replace(bar, ends=bar.ends.not_before(today)) for bar in bars if not _is_empty(bar)
    )


def _begin_at(bars: list[AheadBar], place: int, when: Window) -> None:
    """A stage begins then, those before it are over by then, and those after it follow it."""
    planned = bars[place].begins or when
    for after, bar in enumerate(bars[place:], place):
        follows = _follows(bar.begins or when, planned, when)
        bars[after] = replace(bar, begins=follows, ends=_follows(bar.ends, planned, when))
    bars[place - 1] = replace(bars[place - 1], ends=when)
    for before in range(place):
        bar = bars[before]
        begins = _by(bar.begins, when) if bar.begins is not None else None
        bars[before] = replace(bar, begins=begins, ends=_by(bar.ends, when))


def _by(window: Window, when: Window) -> Window:
    return Window(
        min(window.earliest, when.earliest),
        min(window.expected, when.expected),
        min(window.latest, when.latest),
    )


def _follows(window: Window, planned: Window, when: Window) -> Window:
    """The window of what follows something that was planned for one time and is for another."""
    return Window(
        *sorted(
            (
                when.earliest + (window.earliest - planned.earliest),
                when.expected + (window.expected - planned.expected),
                when.latest + (window.latest - planned.latest),
            )
        )
    )


def _is_empty(bar: AheadBar) -> bool:
    return bar.begins is not None and bar.begins == bar.ends


def concerned(years: Sequence[WheelYear], from_us: int) -> tuple[WheelYear, ...]:
    """The wheels of which something falls after a time."""
    return tuple(
        each for each in years if each.ahead or any(bar.to_us > from_us for bar in each.lived)
    )
