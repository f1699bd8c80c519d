"""Visits: which care to do on which day, so that one opening of a cave serves all that is open.

An opening lets the cave's air out, so few are proposed: care is moved within its own window, and
no further from its expected day than the saving asks. A latest day is a limit and no aim, so no
recurring care is moved further than half the way from its expected day to its latest, and what is
done once or was called for by a sign not at all; our choice. A visit that has begun goes on.

Each visit is sought as if it were the next: those before it are taken as made, and what recurs
counts from them. Today's takes along all that is open, for the space is opened anyway; a later
one leaves what suits the visit after it better, where that is sure to come. Knows no clock and no
zone.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from service.ageing.occurrences import Occurrence, own_days
from service.ageing.schedule import Due
from service.ageing.visit_days import alike, following, next_visit, window, without_waiting

DAYS_AHEAD: Final = 14
"""How far visits are proposed; weekly care comes up at least once in it. Our choice. [d]"""
_DAY: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Visit:
    """One opening of an outermost space, and all that is done in it.

    Attributes:
        day: When.
        space: The outermost space, such as the cave in which a box stands; None where nobody
            knows where the wheels lie.
        care: What is done; what is due comes first, in the order in which it was given.
        own_days: The days on which its care would be done if each kept its expected day.
    """

    day: date
    space: int | None
    care: tuple[Occurrence, ...]
    own_days: tuple[date, ...]

    @property
    def due(self) -> tuple[Due, ...]:
        """What is done that is due, whatever is done before."""
        return tuple(each.due for each in self.care if not each.is_foreseen)

    @property
    def foreseen(self) -> tuple[Occurrence, ...]:
        """What is done if the visits before are made as proposed."""
        return tuple(each for each in self.care if each.is_foreseen)

    @property
    def is_foreseen(self) -> bool:
        """Whether all of it hangs on the visits before."""
        return all(each.is_foreseen for each in self.care)


@dataclass(frozen=True, slots=True)
class Openings:
    """How often outermost spaces are opened.

    Attributes:
        planned: By the visits.
        by_expected_days: If each care were done on its own expected days (today when that is
            past) and counted from there; what falls on one day in one space shares an opening
            there, too.
    """

    planned: int
    by_expected_days: int

    @property
    def saved(self) -> int:
        """How many openings the visits save; 0 where they save none."""
        return max(0, self.by_expected_days - self.planned)


def visits(
    due: Sequence[Due],
    spaces: Mapping[int, int | None],
    today: date,
    days: int = DAYS_AHEAD,
    opened: Collection[int | None] = (),
) -> tuple[Visit, ...]:
    """Proposes visits for all care whose expected day comes within the days ahead.

    No space is opened more than once a day. For care that does not recur no plan within the
    windows, the second half of each way to a latest day set aside, opens it less often. What is
    overdue is done today; what was put off past its latest day, on the day to which it was put
    off.

    Args:
        due: What is due, as `schedule.due` tells.
        spaces: For each space the one in which it stands, None for an outermost one.
        today: Which day it is; no visit is proposed before it.
        days: How many days to look ahead, today included; at least 1.
        opened: The outermost spaces that were opened today. What is open in them is done today,
            unless another visit suits it better.

    Returns:
        The visits by day. Each due whose own day comes within the days ahead is in one of them,
        and each time that follows it and can wait no longer than these days.
    """
    end = _end(today, days)
    kept: dict[int | None, list[Due]] = {}
    for each in due:
        kept.setdefault(outermost(each.space, spaces), []).append(each)
    found = [
        visit
        for space, dues in kept.items()
        for visit in _of_space(space, dues, today, end, has_begun=space in opened)
    ]
    return tuple(sorted(found, key=lambda visit: (visit.day, visit.space is None, visit.space)))


def openings(
    planned: Sequence[Visit],
    due: Sequence[Due],
    spaces: Mapping[int, int | None],
    today: date,
    days: int = DAYS_AHEAD,
) -> Openings:
    """Counts the openings of the visits, and those that each care by itself would need.

    Args:
        planned: The visits.
        due: For what, as it was given to `visits`; so are the others.
        spaces: As there.
        today: As there.
        days: As there.
    """
    end = _end(today, days)
    alone = {
        (outermost(each.space, spaces), day) for each in due for day in own_days(each, today, end)
    }
    return Openings(planned=len(planned), by_expected_days=len(alone))


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


def _end(today: date, days: int) -> date:
    return today + timedelta(days=max(1, days) - 1)


def _of_space(
    space: int | None, dues: Sequence[Due], today: date, end: date, *, has_begun: bool
) -> Iterator[Visit]:
    """The visits of one space: the next one, and from what it leaves the one after it."""
    place = {id(each): number for number, each in enumerate(dues)}
    start, begun = today, today if has_begun else None
    care = alike((Occurrence.of(each),) for each in dues if max(each.expected, today) <= end)
    while windows := [window(each, today, end) for each in care]:
        day, served = next_visit(windows, begun)
        if day > end:
            return
        if day > start:
            served = without_waiting(day, served)
        done = [each for one in served for each in one.care]
        yield Visit(
            day=day,
            space=space,
            care=tuple(sorted(done, key=lambda one: (one.is_foreseen, place[id(one.due)]))),
            own_days=tuple(sorted({one.own for one in served})),
        )
        gone = {id(one) for one in served}
        left = [one.care for one in windows if id(one) not in gone]
        care = alike([*left, *filter(None, (following(one.care, day) for one in served))])
        today, begun = day + _DAY, None
