"""Wheels, rules and entries of care by plain numbers, and strategies that draw them at random."""

from collections.abc import Sequence
from datetime import date, timedelta

from hypothesis import strategies as st

from service.ageing.plans import LengthDays, Stage
from service.ageing.tended import Entry, Outcome, Seen, StageDays, Subject, WheelDays
from service.ageing.values import Target
from service.ageing.work import (
    CareRule,
    Counted,
    Days,
    Firmness,
    Gate,
    Place,
    Rind,
    Trigger,
    Work,
)

MADE = date(2026, 10, 1)
BEGAN = date(2026, 10, 10)
"""The day on which the stage began."""

BOX_CARE = (Work.AIR_BOX, Work.WIPE_LID)
BOXES = (50, 51)


def day(number: int) -> date:
    """So many days after the stage began."""
    return BEGAN + timedelta(days=number)


def days(earliest: int, expected: int, latest: int, counted: Counted = Counted.STAGE) -> Days:
    return Days(earliest, expected, latest, "made up", counted)


WEEKLY = days(5, 7, 9)


def place_of(work: Work) -> Place:
    return Place.BOX if work in BOX_CARE else Place.WHEEL


def every(work: Work, window: Days = WEEKLY) -> CareRule:
    return CareRule(work, place_of(work), f"{work} well", "made up", every=window)


def once(work: Work, window: Days) -> CareRule:
    return CareRule(work, place_of(work), f"{work} well", "made up", once=window)


def when(work: Work, trigger: Trigger) -> CareRule:
    return CareRule(work, place_of(work), f"{work} well", "made up", trigger=trigger)


def stage(*rules: CareRule) -> Stage:
    return Stage(
        slug="ripening",
        name="Ripening",
        target=Target(temperature_c=None, humidity_pct=None),
        temperature_source=None,
        humidity_source=None,
        humidity_where=None,
        length_days=LengthDays(7, 10, 14, "made up"),
        gate=Gate(words="What must be seen.", days=days(7, 10, 14)),
        care=rules,
        advice="",
    )


def wheel(
    *rules: CareRule,
    number: int = 1,
    box: int | None = None,
    seen: Sequence[Seen] = (),
    sweat_day: date | None = None,
    began: date = BEGAN,
    space_since: date | None = None,
) -> WheelDays:
    return WheelDays(
        number=number,
        made=MADE,
        stage=StageDays(stage(*rules), began),
        space=9 if box is None else box,
        in_box=box is not None,
        seen=tuple(seen),
        sweat_day=sweat_day,
        space_since=space_since,
    )


def entry(
    work: Work,
    on: date,
    outcome: Outcome = Outcome.DONE,
    number: int = 1,
    until: date | None = None,
    order: int = 0,
) -> Entry:
    return Entry(work, Subject(place_of(work), number), outcome, on, until, order)


def look(
    on: date,
    rind: Rind | None = None,
    coat_pct: float | None = None,
    firmness: Firmness | None = None,
    order: int = 0,
) -> Seen:
    return Seen(on, rind, coat_pct, firmness, order)


windows = st.builds(
    lambda earliest, more, most: days(earliest, earliest + more, earliest + more + most),
    st.integers(0, 8),
    st.integers(0, 8),
    st.integers(0, 8),
)
"""Windows of recurring or one-off care."""

past_days = st.integers(-8, 40).map(day)
"""Days from shortly before the stage on, all up to `TODAY`."""

TODAY = day(40)

_ONE_OFFS = (Work.PIERCE, Work.COAT)
_RECURRING = (Work.TURN, Work.BRUSH, *BOX_CARE)


@st.composite
def rule_sets(draw: st.DrawFn) -> tuple[CareRule, ...]:
    """The care of a stage: each work once in each of the ways."""
    rules = [every(work, draw(windows)) for work in draw(st.sets(st.sampled_from(_RECURRING)))]
    for work in draw(st.sets(st.sampled_from((*_ONE_OFFS, Work.TURN)))):
        window = draw(windows)
        counted = draw(st.sampled_from(Counted))
        rules.append(once(work, days(window.earliest, window.expected, window.latest, counted)))
    if draw(st.booleans()):
        rules.append(when(Work.PAT_DRY, Trigger.WET_FACE))
    if draw(st.booleans()):
        rules.append(when(Work.PIERCE_AGAIN, Trigger.GROWTH_STALLS))
    return tuple(rules)


looks = st.builds(
    Seen,
    day=past_days,
    rind=st.none() | st.sampled_from(Rind),
    coat_pct=st.none() | st.integers(0, 10).map(lambda tenths: tenths * 10.0),
    firmness=st.none() | st.sampled_from(Firmness),
    order=st.integers(0, 5),
)


@st.composite
def households(draw: st.DrawFn) -> tuple[WheelDays, ...]:
    """Up to three wheels, in boxes or on the board, each with a stage of its own."""
    return tuple(
        wheel(
            *draw(rule_sets()),
            number=number,
            box=draw(st.none() | st.sampled_from(BOXES)),
            seen=draw(st.lists(looks, max_size=4)),
            sweat_day=draw(st.none() | past_days),
            began=draw(st.integers(0, 20).map(day)),
            space_since=draw(st.none() | past_days),
        )
        for number in range(1, draw(st.integers(1, 3)) + 1)
    )


@st.composite
def entries(draw: st.DrawFn) -> Entry:
    """Anything that a maker may enter, of care asked for or not."""
    work = draw(st.sampled_from(Work))
    numbers = BOXES if place_of(work) is Place.BOX else (1, 2, 3)
    outcome, on = draw(st.sampled_from(Outcome)), draw(past_days)
    until = on + timedelta(days=draw(st.integers(-1, 20))) if outcome is Outcome.PUT_OFF else None
    number, order = draw(st.sampled_from(numbers)), draw(st.integers(0, 5))
    return entry(work, on, outcome, number, until, order)


histories = st.lists(entries(), max_size=12)
