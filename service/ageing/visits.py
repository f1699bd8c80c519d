"""Visits: which care to do on which day, so that one opening of a cave serves all that is open.

An opening lets the cave's air out, so few are proposed: care is moved within its own window, and
no further from its expected day than the saving asks. A latest day is a limit and no aim, so no
recurring care is moved further than half the way from its expected day to its latest, and what is
done once or was called for by a sign not at all; our choice. A visit that has begun goes on.
Knows no clock and no zone.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from service.ageing.schedule import Due

DAYS_AHEAD: Final = 14
"""How far visits are proposed; weekly care comes up at least once in it. Our choice. [d]"""


@dataclass(frozen=True, slots=True)
class Visit:
    """One opening of an outermost space, and all that is done in it.

    Attributes:
        day: When.
        space: The outermost space, such as the cave in which a box stands; None where nobody
            knows where the wheels lie.
        due: What is done, in the order in which it was given.
        own_days: The days on which its care would be done if each kept its expected day.
    """

    day: date
    space: int | None
    due: tuple[Due, ...]
    own_days: tuple[date, ...]


@dataclass(frozen=True, slots=True)
class Openings:
    """How often outermost spaces are opened.

    Attributes:
        planned: By the visits.
        by_expected_days: For the same care, if each were done on its own expected day (today when
            that is past); what falls on one day in one space shares an opening there, too.
    """

    planned: int
    by_expected_days: int

    @property
    def saved(self) -> int:
        """How many openings the visits save; never below 0."""
        return self.by_expected_days - self.planned


def visits(
    due: Sequence[Due],
    spaces: Mapping[int, int | None],
    today: date,
    days: int = DAYS_AHEAD,
    opened: Collection[int | None] = (),
) -> tuple[Visit, ...]:
    """Proposes visits for all care whose expected day comes within the days ahead.

    No space is opened more than once a day, and no plan within the windows, the second half of
    each way to a latest day set aside, opens it less often. What is overdue is done today; what
    was put off past its latest day, on the day to which it was put off.

    Args:
        due: What is due, as `schedule.due` tells.
        spaces: For each space the one in which it stands, None for an outermost one.
        today: Which day it is; no visit is proposed before it.
        days: How many days to look ahead, today included; at least 1.
        opened: The outermost spaces that were opened today. What is open in them is done today,
            unless another visit suits it better.

    Returns:
        The visits by day; each due whose own day comes within the days ahead is in one of them.
    """
    last = today + timedelta(days=max(1, days) - 1)
    kept: dict[int | None, list[_Item]] = {}
    for item in (_item(each, today, last) for each in due):
        if item.own <= last:
            kept.setdefault(outermost(item.due.space, spaces), []).append(item)
    found = [
        visit
        for space, items in kept.items()
        for visit in _of_space(space, items, today if space in opened else None)
    ]
    return tuple(sorted(found, key=lambda visit: (visit.day, visit.space is None, visit.space)))


def openings(planned: Sequence[Visit]) -> Openings:
    """Counts the openings of the visits, and those that they save."""
    # One space may have the same own day in two visits; it would be opened once for both.
    own = {(visit.space, day) for visit in planned for day in visit.own_days}
    return Openings(planned=len(planned), by_expected_days=len(own))


def outermost(space: int | None, spaces: Mapping[int, int | None]) -> int | None:
    """The outermost space around a space, such as the cave in which a box stands."""
    passed: set[int] = set()
    while space is not None and space not in passed:
        passed.add(space)
        parent = spaces.get(space)
        if parent is None:
            break
        space = parent
    return space


@dataclass(frozen=True, slots=True)
class _Item:
    """A due with the days between which it can be visited; `own` is the best of them."""

    due: Due
    first: date
    own: date
    last: date

    def holds(self, day: date) -> bool:
        return self.first <= day <= self.last


def _item(due: Due, today: date, end: date) -> _Item:
    first = max(due.opens, today)
    own = min(max(due.expected, first), max(due.latest, first))
    slack = due.latest - due.expected if due.rule.every else timedelta()
    last = max(own, due.expected + max(timedelta(), slack) // 2)
    # No visit lies past the days ahead, so neither does the window within which one is sought.
    return _Item(due, first, own, min(last, end))


def _of_space(space: int | None, items: Sequence[_Item], begun: date | None) -> list[Visit]:
    """The fewest days that lie in every window, each moved to where it suits best.

    Taking the window that closes first, and with it all that are open by then, is known to need
    the fewest days. A day on which a visit has begun is there already.
    """
    days = [] if begun is None else [begun]
    left = [item for item in items if begun is None or not item.holds(begun)]
    left.sort(key=lambda item: item.last)
    while left:
        closes = left[0].last
        days.append(_best_day([item for item in left if item.first <= closes]))
        left = [item for item in left if item.first > closes]
    served: list[list[_Item]] = [[] for _ in days]
    for item in items:
        possible = [place for place, day in enumerate(days) if item.holds(day)]
        # The window that closed first holds no day but its own, so no visit that is still to
        # begin is left empty.
        nearest = min(possible, key=lambda place: abs(days[place] - item.own))
        served[nearest].append(item)
    return [
        _visit(space, group, begun if day == begun else None)
        for day, group in zip(days, served, strict=True)
        if group
    ]


def _best_day(items: Sequence[_Item]) -> date:
    """The day in all windows that lies nearest to the expected days, the earlier of equals."""
    first, last = max(item.first for item in items), min(item.last for item in items)
    # The sum of distances has its least value at one of the days themselves, or at an end.
    choices = {min(max(item.own, first), last) for item in items}
    return min(
        choices,
        key=lambda day: (sum((abs(day - item.own) for item in items), timedelta()), day),
    )


def _visit(space: int | None, items: Sequence[_Item], begun: date | None) -> Visit:
    return Visit(
        day=_best_day(items) if begun is None else begun,
        space=space,
        due=tuple(item.due for item in items),
        own_days=tuple(sorted({item.own for item in items})),
    )
