"""The day of the next visit to a space, and what is done on it: the few rules of grouping.

Knows no clock and no zone.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from service.ageing.occurrences import Occurrence

_DAY: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Window:
    """Care that is asked for on the same days, with the days between which it can be visited.

    Attributes:
        care: What is asked for; never empty.
        first: Not before.
        own: The day on which it would be done by itself.
        last: Not after: half the way from its expected day to its latest.
    """

    care: tuple[Occurrence, ...]
    first: date
    own: date
    last: date

    def holds(self, day: date) -> bool:
        """Whether it can be visited on a day."""
        return self.first <= day <= self.last

    def days_off(self, day: date) -> int:
        """How far a day lies from its own. [d]"""
        return abs((day - self.own).days)


def window(care: tuple[Occurrence, ...], today: date, end: date) -> Window:
    """The window of care that is alike, as it stands on a day.

    Args:
        care: What is asked for; not empty.
        today: Which day it is.
        end: The last of the days ahead.
    """
    one = care[0]
    first = max(one.opens, today)
    own = min(max(one.expected, first), max(one.latest, first))
    slack = one.latest - one.expected if one.rule.every else timedelta()
    last = max(own, one.expected + max(timedelta(), slack) // 2)
    # What is due within the days ahead is visited in them. What is foreseen may wait beyond, so
    # that its visit does not move on with their end.
    return Window(care, first, own, last if one.is_foreseen else min(last, end))


def following(care: Iterable[Occurrence], done: date) -> tuple[Occurrence, ...]:
    """The times after these when they are done on a day."""
    found = (each.following(done) for each in care)
    return tuple(each for each in found if each is not None)


def alike(care: Iterable[tuple[Occurrence, ...]]) -> list[tuple[Occurrence, ...]]:
    """Care drawn together that is asked for on the same days, now and later."""
    found: dict[object, list[Occurrence]] = {}
    for group in care:
        one = group[0]
        then = one.due.then.every if one.due.then else None
        steps = then and (then.earliest, then.expected, then.latest)
        asked = one.opens, one.expected, one.latest, one.rule.every is None, one.is_foreseen
        found.setdefault((asked, steps), []).extend(group)
    return [tuple(group) for group in found.values()]


def next_visit(items: Sequence[Window], begun: date | None) -> tuple[date, list[Window]]:
    """The first of the fewest days that lie in every window, moved to where it suits best.

    Taking the window that closes first, and with it all that are open by then, is known to need
    the fewest days. A day on which a visit has begun is there already. What suits a later one
    of those days better waits for it.

    Args:
        items: All that is asked for in one space; not empty.
        begun: Today, where a visit has begun; None otherwise.

    Returns:
        The day, and what is done on it.
    """
    days = [] if begun is None else [begun]
    left = [item for item in items if begun is None or not item.holds(begun)]
    left.sort(key=lambda item: item.last)
    while left:
        closes = left[0].last
        days.append(_best_day([item for item in left if item.first <= closes]))
        left = [item for item in left if item.first > closes]
    served: list[list[Window]] = [[] for _ in days]
    for item in items:
        possible = [place for place, day in enumerate(days) if item.holds(day)]
        # The window that closed first holds no day but its own, so no visit that is still to
        # begin is left empty.
        served[min(possible, key=lambda place: item.days_off(days[place]))].append(item)
    day, group = next((day, group) for day, group in zip(days, served, strict=True) if group)
    return (day if day == begun else _best_day(group)), group


def without_waiting(day: date, group: Sequence[Window]) -> list[Window]:
    """What is done on a day: all but what suits a visit better that is sure to come after it.

    What is due by that day and recurs brings a visit of its own. Care that is open all the while
    in which that can be made needs no opening more if it waits for it. Where the day was chosen
    for the sake of what might wait, nothing does.
    """
    due = [item for item in group if item.own <= day]
    after = [window(care, day, day) for item in due if (care := following(item.care, day))]
    sure = {(item.own, item.last) for item in after}

    def waits(item: Window) -> bool:
        return any(
            last <= item.last and item.days_off(own) < item.days_off(day) for own, last in sure
        )

    rest = [item for item in group if item.own <= day or not waits(item)]
    return rest if _best_day(rest) == day else list(group)


def _best_day(items: Sequence[Window]) -> date:
    """The day in all windows that lies nearest to the expected days, the earlier of equals."""
    first, last = max(item.first for item in items), min(item.last for item in items)
    # The sum of distances has its least value at one of the days themselves, or at an end.
    choices = {min(max(item.own, first), last) for item in items}
    return min(
        choices,
        key=lambda day: (sum(len(item.care) * item.days_off(day) for item in items), day),
    )
