"""What was entered and seen of wheels and boxes, as plain facts with their days.

The schedule and the gates rest on these alone. Days are days of the household's calendar; who
makes these facts turns instants into days, so that no change of clocks or zone moves one.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.ageing.plans import Stage
from service.ageing.work import Firmness, Place, Rind, Work

Moment = tuple[date, int]
"""A day, and what orders the facts of one day."""


class Outcome(StrEnum):
    """What the maker said of a care that was asked for."""

    DONE = "done"
    SKIPPED = "skipped"
    PUT_OFF = "put off"


@dataclass(frozen=True, slots=True)
class Subject:
    """On what a care is done.

    Attributes:
        place: A wheel or a box.
        number: The wheel's number, or that of the box among the spaces.
    """

    place: Place
    number: int


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of what the maker entered. What was undone is simply left out.

    Attributes:
        work: Which care.
        subject: Of which wheel or box.
        outcome: Done, skipped, or put off.
        day: On which day.
        until: To which day it was put off; None for the other outcomes.
        order: Orders the entries and the looks of one day, such as the instant in µs; of two
            words on one day the later holds. Entries and looks share one scale.
    """

    work: Work
    subject: Subject
    outcome: Outcome
    day: date
    until: date | None
    order: int


@dataclass(frozen=True, slots=True)
class StageDays:
    """The stage that a wheel lives now, and the day on which it began."""

    stage: Stage
    from_day: date


@dataclass(frozen=True, slots=True)
class Seen:
    """What one look at a wheel told; None where it told nothing.

    Attributes:
        day: When the maker looked.
        rind: How moist.
        coat_pct: The part of the rind that mould covers, all colours together. [%]
        firmness: How it yields to the thumb.
        order: As in `Entry`.
    """

    day: date
    rind: Rind | None
    coat_pct: float | None
    firmness: Firmness | None
    order: int

    @property
    def moment(self) -> Moment:
        """When, as it compares with entries."""
        return self.day, self.order


@dataclass(frozen=True, slots=True)
class WheelDays:
    """A wheel as the schedule knows it.

    Attributes:
        number: The wheel's number.
        made: The day on which it was made.
        stage: What it lives now; None where nothing is asked of it any more.
        space: Where it lies, None when nobody knows.
        in_box: Whether that space is a box.
        seen: The looks at it.
        sweat_day: The last day for which sweat on its faces was estimated.
        space_since: The day on which it came to where it lies; care of the box counts from then
            on. None counts from the beginning of the stage.
    """

    number: int
    made: date
    stage: StageDays | None
    space: int | None
    in_box: bool
    seen: tuple[Seen, ...]
    sweat_day: date | None
    space_since: date | None = None


@dataclass(frozen=True, slots=True)
class History:
    """One care of one wheel or box as entered, in order.

    Attributes:
        taken: The turns done or skipped: one a day, the last word of the day.
        put_off: The last putting off since; None when none is.
    """

    taken: tuple[Entry, ...] = ()
    put_off: Entry | None = None

    @property
    def last_taken(self) -> Moment | None:
        """When it was last done or skipped."""
        return (self.taken[-1].day, self.taken[-1].order) if self.taken else None

    @property
    def last_done(self) -> Moment | None:
        """When it was last done."""
        done = [entry for entry in self.taken if entry.outcome is Outcome.DONE]
        return (done[-1].day, done[-1].order) if done else None


def histories(entries: Iterable[Entry], today: date) -> dict[tuple[Work, Subject], History]:
    """Sorts entries by care and subject; what is dated after today does not count yet."""
    kept: dict[tuple[Work, Subject], list[Entry]] = {}
    for entry in entries:
        if entry.day <= today:
            kept.setdefault((entry.work, entry.subject), []).append(entry)
    return {key: _history(sorted(group, key=_in_order)) for key, group in kept.items()}


def looks_in_order(seen: Iterable[Seen], today: date) -> list[Seen]:
    """The looks up to today, the oldest first, whatever the order in which they came."""
    return sorted((look for look in seen if look.day <= today), key=_look_order)


def _history(entries: Sequence[Entry]) -> History:
    taken: dict[date, Entry] = {}
    put_off: Entry | None = None
    for entry in entries:
        if entry.outcome is Outcome.PUT_OFF:
            put_off = entry
        else:
            taken[entry.day], put_off = entry, None
    return History(tuple(taken.values()), put_off)


def _in_order(entry: Entry) -> tuple[date, int, str, date]:
    # The last two only make facts of one moment come in one order.
    return entry.day, entry.order, entry.outcome.value, entry.until or date.min


def _look_order(look: Seen) -> tuple[date, int, str, float, str]:
    coat = -1.0 if look.coat_pct is None else look.coat_pct
    return look.day, look.order, look.rind or "", coat, look.firmness or ""
