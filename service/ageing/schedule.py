"""Which care is due, of which wheel or box, and in which window of days.

Nothing is kept between two calls: what is due follows from the entries alone, so that an entry
taken out leaves no trace. Knows no clock and no zone.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.ageing.care_windows import CareWindow, after_sign, once, recurring
from service.ageing.signs import ENDED_BY, growth_stalls, wet_face
from service.ageing.tended import (
    Entry,
    History,
    Moment,
    Outcome,
    Seen,
    StageDays,
    Subject,
    WheelDays,
    histories,
    looks_in_order,
)
from service.ageing.work import CareRule, Place, Trigger, Work

__all__ = [
    "Due",
    "Entry",
    "Outcome",
    "Seen",
    "StageDays",
    "Standing",
    "Subject",
    "WheelDays",
    "due",
]


class Standing(StrEnum):
    """How a care stands on a day."""

    LATER = "later"
    OPEN = "open"
    DUE = "due"
    OVERDUE = "overdue"


@dataclass(frozen=True, slots=True)
class Due:
    """The next time that one care of one wheel or box is asked for.

    `opens`, `expected` and `latest` ascend, save that what was put off past its latest day opens
    after it: it is asked again on that day, and is overdue all the same.

    Attributes:
        work: What to do.
        subject: On which wheel or box.
        wheels: Whom it serves, by number.
        rule: The rule that asks; for a box the strictest of its wheels'.
        opens: Not before.
        expected: When it is best done.
        latest: Overdue from the day after this one.
        last_done: When it was last done, in whichever stage.
        why: What makes it due, in words for the maker.
        space: Where it is done, None when nobody knows.
        then: The recurring rule by which it is asked anew once done, None when it ends with that.
        put_off: To which day it was put off, None when it was not.
    """

    work: Work
    subject: Subject
    wheels: tuple[int, ...]
    rule: CareRule
    opens: date
    expected: date
    latest: date
    last_done: date | None
    why: str
    space: int | None = None
    then: CareRule | None = None
    put_off: date | None = None

    def standing(self, today: date) -> Standing:
        """How it stands on a day. Overdue outranks put off, so that no delay hides."""
        if today > self.latest:
            return Standing.OVERDUE
        if today < self.opens:
            return Standing.LATER
        return Standing.DUE if today >= self.expected else Standing.OPEN

    def overdue_days(self, today: date) -> int:
        """How many days it is overdue, 0 when it is not. [d]"""
        return max(0, (today - self.latest).days)


def due(wheels: Sequence[WheelDays], entries: Sequence[Entry], today: date) -> tuple[Due, ...]:
    """What is asked of wheels and boxes next: one line for each care of each of them.

    A care that several rules ask for, or several wheels of one box, is asked for once, by the
    strictest: the one whose latest day comes first. No care is overdue from before its stage
    began, nor asked for again on the day on which it was done or skipped. Facts dated after
    today do not count yet.

    Args:
        wheels: The wheels, in any order.
        entries: All that was entered of care and holds, in any order.
        today: Which day it is.

    Returns:
        What comes up, also what opens only later; the most pressing first.
    """
    told = histories(entries, today)
    calls: dict[tuple[Work, Subject], list[_Call]] = {}
    for wheel in wheels:
        for call in _calls(wheel, told, today):
            calls.setdefault((call.rule.work, call.subject), []).append(call)
    found = (_joined(group, told.get(key, History())) for key, group in calls.items())
    return tuple(sorted(found, key=_pressing))


@dataclass(frozen=True, slots=True)
class _Call:
    """One rule of one wheel that asks for something."""

    rule: CareRule
    subject: Subject
    wheel: WheelDays
    window: CareWindow

    @property
    def strictness(self) -> tuple[date, date, date, int, str, str]:
        window = self.window
        # The last three only make rules alike in their days come in one order.
        tie = self.wheel.number, self.rule.words, self.rule.source
        return window.latest, window.expected, window.opens, *tie


def _calls(
    wheel: WheelDays, told: Mapping[tuple[Work, Subject], History], today: date
) -> Iterator[_Call]:
    if wheel.stage is None:
        return
    stage_from = wheel.stage.from_day
    for rule in wheel.stage.stage.care:
        subject = _subject(rule, wheel)
        if subject is None:
            continue
        start = stage_from
        if rule.place is Place.BOX and wheel.space_since is not None:
            start = max(start, wheel.space_since)
        history = told.get((rule.work, subject), History())
        window: CareWindow | None = None
        if rule.every is not None:
            window = recurring(rule.every, history, start)
        elif rule.once is not None:
            window = once(rule.once, history, start, wheel.made, stage_from)
        elif rule.trigger is not None:
            ended = _ended(rule.trigger, rule.work, subject, told)
            window = _triggered(rule.trigger, wheel, history, start, ended, today)
        if window is not None:
            yield _Call(rule, subject, wheel, window)


def _subject(rule: CareRule, wheel: WheelDays) -> Subject | None:
    """On what the rule's care is done; None for care of a box where the wheel lies in none."""
    if rule.place is Place.WHEEL:
        return Subject(Place.WHEEL, wheel.number)
    return Subject(Place.BOX, wheel.space) if wheel.in_box and wheel.space is not None else None


def _triggered(
    trigger: Trigger,
    wheel: WheelDays,
    history: History,
    start: date,
    ended: Moment | None,
    today: date,
) -> CareWindow | None:
    looks = looks_in_order(wheel.seen, today)
    if trigger is Trigger.GROWTH_STALLS:
        sign = growth_stalls(looks, start, ended)
    else:
        sweat_day = wheel.sweat_day
        sweat_day = sweat_day if sweat_day is not None and sweat_day <= today else None
        sign = wet_face(looks, sweat_day, ended)
    if sign is None:
        return None
    return after_sign(sign, trigger, history, start)


def _ended(
    trigger: Trigger,
    work: Work,
    subject: Subject,
    told: Mapping[tuple[Work, Subject], History],
) -> Moment | None:
    """When a sign last ended: its own care done or skipped, or other care done that ends it."""
    own = told.get((work, subject), History()).last_taken
    others = (told.get((other, subject), History()).last_done for other in ENDED_BY[trigger])
    return max((moment for moment in (own, *others) if moment is not None), default=None)


def _joined(calls: Sequence[_Call], history: History) -> Due:
    strictest = min(calls, key=lambda call: call.strictness)
    again = [(call.rule.every, call.rule) for call in calls if call.rule.every is not None]
    then = min(
        again,
        key=lambda pair: (pair[0].latest, pair[0].expected, pair[0].earliest, pair[1].words),
        default=None,
    )
    window = strictest.window
    return Due(
        work=strictest.rule.work,
        subject=strictest.subject,
        wheels=tuple(sorted({call.wheel.number for call in calls})),
        rule=strictest.rule,
        opens=window.opens,
        expected=window.expected,
        latest=window.latest,
        last_done=None if history.last_done is None else history.last_done[0],
        why=window.why,
        space=strictest.wheel.space,
        then=None if then is None else then[1],
        put_off=window.put_off,
    )


def _pressing(item: Due) -> tuple[date, date, date, str, int, str]:
    subject = item.subject
    return item.latest, item.expected, item.opens, subject.place, subject.number, item.work
