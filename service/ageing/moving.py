"""When to wrap a wheel, when to move it to the kitchen fridge, and when to eat it.

From how far it has ripened, how warm its cave and the kitchen fridge are, and how soft it is
wanted. Without a day it stays in the cave until it is as wanted, and the cold then holds it;
for a given day it is solved backwards: first cave, then kitchen fridge, so that it is as wanted
on that day. All days are estimates with an earliest and a latest (see `courses`); whether a
cheese may be eaten they do not say.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from service.ageing.coming import StageAhead, Window, one_day, wrapping
from service.ageing.courses import Aged, Course, PlaceAir, courses
from service.ageing.feel import bounds, feels
from service.ageing.plans import Plan
from service.ageing.work import Firmness, Readiness
from service.errors import OutOfRangeError

_HAIR_DAYS: Final = 0.5
"""Nearer than half a day counts as on the day. Our choice: days are whole."""


class Reach(StrEnum):
    """Whether a wheel can be as wanted on the day for which it is wanted."""

    REACHED = "reached"
    TOO_LATE = "too late"
    TOO_EARLY = "too early"


@dataclass(frozen=True, slots=True)
class Question:
    """What is known of a wheel, and of the places where it is and will be.

    Attributes:
        plan: Its plan.
        today: The day of the household's calendar.
        aged: Equivalent age since the count began, for the plan's activation energy and then
            for others across its band; zeros when the count has not begun.
        begins: When the count begins, today when it has begun.
        ahead: The stages still ahead of it, the one that it lives first.
        cave: How warm it is where it is now.
        fridge: How warm the kitchen fridge is.
        in_kitchen: Whether it is in the kitchen fridge already.
    """

    plan: Plan
    today: date
    aged: tuple[Aged, ...]
    begins: Window
    ahead: tuple[StageAhead, ...]
    cave: PlaceAir
    fridge: PlaceAir
    in_kitchen: bool


@dataclass(frozen=True, slots=True)
class Stand:
    """How far a wheel is, or will be, on a day; an estimate.

    Attributes:
        low_days: Equivalent age at the least. [d]
        days: Equivalent age. [d]
        high_days: At the most. [d]
        at_least: How it feels at the least; None before the first that the plan tells of.
        firmness: How it is expected to feel.
        at_most: How it feels at the most.
    """

    low_days: float
    days: float
    high_days: float
    at_least: Firmness | None
    firmness: Firmness | None
    at_most: Firmness | None


@dataclass(frozen=True, slots=True)
class Moving:
    """When to wrap, to move and to eat a wheel; estimates.

    Attributes:
        firmness: How soft it is wanted.
        wanted_days: Equivalent age at which it is expected to be so. [d]
        day: For which day it is wanted; None for as soon as it is ripe.
        reach: Whether that day can be met.
        wrap: When to wrap it; None when it is wrapped, or its plan has no such stage.
        move: When to move it to the kitchen fridge; None when it is there.
        before_gate: Whether it would be moved before the gate before wrapping usually opens.
        eat_from: From when on it is as wanted.
        eat_until: Until when, kept in the kitchen fridge.
        cold_ends: Whether `eat_until` is the end of the plan's time in the kitchen fridge, and
            not of the wanted firmness.
        now: How far it is today.
        on_day: How far it will be on the wanted day if it is moved as expected; None without one.
    """

    firmness: Firmness
    wanted_days: float
    day: date | None
    reach: Reach
    wrap: Window | None
    move: Window | None
    before_gate: bool
    eat_from: Window
    eat_until: Window
    cold_ends: bool
    now: Stand
    on_day: Stand | None


@dataclass(frozen=True, slots=True)
class Warmer:
    """The same with a cave that is so much warmer, and how many days each then comes later.

    Attributes:
        kelvin: How much warmer. [K]
        moving: When to wrap, move and eat it then.
        wrap_later_days: By how much wrapping comes later; below zero it comes sooner. [d]
        move_later_days: The same of the move; None where there is none. [d]
        eat_later_days: The same of the first day on which it is as wanted. [d]
        until_later_days: The same of the last. [d]
        wrap_later_between: The least and the most by which the earliest, the expected and the
            latest day of wrapping come later: how sure the estimate is. [d]
        move_later_between: The same of the move. [d]
        eat_later_between: The same of the first day on which it is as wanted. [d]
        until_later_between: The same of the last. [d]
    """

    kelvin: float
    moving: Moving
    wrap_later_days: int | None
    move_later_days: int | None
    eat_later_days: int
    until_later_days: int
    wrap_later_between: tuple[int, int] | None
    move_later_between: tuple[int, int] | None
    eat_later_between: tuple[int, int]
    until_later_between: tuple[int, int]


def moving(question: Question, firmness: Firmness, day: date | None = None) -> Moving:
    """When to wrap, move and eat a wheel that is wanted so soft, on that day or when it is ripe.

    Args:
        question: What is known.
        firmness: How soft it is wanted; one of the plan's readiness.
        day: For which day, today or later.

    Raises:
        OutOfRangeError: The plan does not tell of that firmness, or the day is past.
    """
    wanted, past = bounds(question.plan.readiness, firmness)
    if day is not None and day < question.today:
        raise OutOfRangeError("that day is past; give today or a later one")
    # Where the wheel is in the kitchen fridge already, one temperature holds.
    cave = question.fridge if question.in_kitchen else question.cave
    begins = question.begins.not_before(question.today)
    starts = tuple(
        float((each - question.today).days)
        for each in (begins.earliest, begins.expected, begins.latest)
    )
    ways = courses(
        question.aged,
        (starts[0], starts[1], starts[2]),
        cave,
        question.fridge,
        question.plan.reference_temperature_c,
        wanted,
        past,
    )
    reach = Reach.REACHED
    if day is None:
        moves = [0.0 if question.in_kitchen else way.reached(way.wanted, _NEVER) for way in ways]
        acts = moves
        on_day = None
    else:
        ahead = float((day - question.today).days)
        moves = [way.move_for(ahead) for way in ways]
        # The maker knows only what is expected, and moves the wheel then.
        acts = [moves[0]] * len(ways)
        reach = _reach(ways[0], ahead)
        on_day = _stand(question.plan.readiness, ways, acts, ahead)
    move = None if question.in_kitchen else _window(question.today, moves)
    eat_from = _window(
        question.today, [way.reached(way.wanted, act) for way, act in zip(ways, acts, strict=True)]
    )
    ripe_until = _window(
        question.today, [way.reached(way.past, act) for way, act in zip(ways, acts, strict=True)]
    )
    eat_until = _capped(ripe_until, _cold_ends(question, move), eat_from)
    wrap, gate = _wrap(question, move)
    return Moving(
        firmness=firmness,
        wanted_days=float(wanted.expected),
        day=day,
        reach=reach,
        wrap=wrap,
        move=move,
        before_gate=move is not None and gate is not None and move.expected < gate.earliest,
        eat_from=eat_from,
        eat_until=eat_until,
        cold_ends=eat_until.expected < ripe_until.expected,
        now=_stand(question.plan.readiness, ways, [0.0] * len(ways), 0.0),
        on_day=on_day,
    )


def if_warmer(question: Question, base: Moving, kelvin: float) -> Warmer:
    """What changes for a wheel if its cave is so much warmer from today on.

    Args:
        question: What is known.
        base: What `moving` says of it as things are.
        kelvin: How much warmer, below zero for colder. [K]
    """
    there = replace(question, cave=question.cave.warmer(kelvin))
    found = moving(there, base.firmness, base.day)
    return Warmer(
        kelvin=kelvin,
        moving=found,
        wrap_later_days=_later(base.wrap, found.wrap),
        move_later_days=_later(base.move, found.move),
        eat_later_days=(found.eat_from.expected - base.eat_from.expected).days,
        until_later_days=(found.eat_until.expected - base.eat_until.expected).days,
        wrap_later_between=_later_between(base.wrap, found.wrap),
        move_later_between=_later_between(base.move, found.move),
        eat_later_between=_between(base.eat_from, found.eat_from),
        until_later_between=_between(base.eat_until, found.eat_until),
    )


_NEVER: Final = 1e9
"""A day on which nobody moves anything. [d]"""


def _reach(way: Course, ahead: float) -> Reach:
    """Whether the day can be met, by what is expected."""
    # The nearest to the wish that any day of moving gives.
    hair = _HAIR_DAYS * max(way.cave_rate, way.fridge_rate)
    age = way.age_on(ahead, way.move_for(ahead))
    if way.wanted - age > hair:
        return Reach.TOO_LATE
    # As wanted it is from then on until it is past; only then is the day too far off.
    if age - way.past > hair:
        return Reach.TOO_EARLY
    return Reach.REACHED


def _stand(
    readiness: Readiness, ways: Sequence[Course], acts: Sequence[float], day: float
) -> Stand:
    ages = [way.age_on(day, act) for way, act in zip(ways, acts, strict=True)]
    low, high = min(ages), max(ages)
    return Stand(
        low_days=low,
        days=ages[0],
        high_days=high,
        at_least=feels(readiness, low, "latest"),
        firmness=feels(readiness, ages[0]),
        at_most=feels(readiness, high, "earliest"),
    )


def _window(today: date, days: Sequence[float]) -> Window:
    """The days of what is expected first, between the earliest and the latest of all."""
    return Window(*(today + timedelta(days=round(d)) for d in (min(days), days[0], max(days))))


def _wrap(question: Question, move: Window | None) -> tuple[Window | None, Window | None]:
    """When to wrap it, and when the gate before that usually opens.

    At the gate's days; sooner where it is moved sooner, since it goes into the kitchen fridge
    wrapped.
    """
    stage = wrapping(question.ahead)
    gate = stage.begins if stage is not None else None
    if gate is None or move is None:
        return gate, gate
    wrap = Window(
        min(gate.earliest, move.earliest),
        min(gate.expected, move.expected),
        min(gate.latest, move.latest),
    )
    return wrap, gate


def _cold_ends(question: Question, move: Window | None) -> Window | None:
    """When the plan's time in the kitchen fridge ends at the latest; None when it has none."""
    cold = [each for each in question.ahead if each.stage.in_kitchen_fridge]
    if not cold:
        return None
    if move is None:
        return one_day(cold[-1].ends.latest)
    length = timedelta(days=sum(each.stage.gate.days.latest for each in cold))
    return Window(move.earliest + length, move.expected + length, move.latest + length)


def _capped(until: Window, cold_ends: Window | None, eat_from: Window) -> Window:
    """Until when it is as wanted, but not beyond the plan's time in the cold, nor before it is."""
    ends = cold_ends or until
    return Window(
        max(eat_from.earliest, min(until.earliest, ends.earliest)),
        max(eat_from.expected, min(until.expected, ends.expected)),
        max(eat_from.latest, min(until.latest, ends.latest)),
    )


def _later(before: Window | None, after: Window | None) -> int | None:
    return None if before is None or after is None else (after.expected - before.expected).days


def _later_between(before: Window | None, after: Window | None) -> tuple[int, int] | None:
    return None if before is None or after is None else _between(before, after)


def _between(before: Window, after: Window) -> tuple[int, int]:
    shifts = (
        (after.earliest - before.earliest).days,
        (after.expected - before.expected).days,
        (after.latest - before.latest).days,
    )
    return min(shifts), max(shifts)
