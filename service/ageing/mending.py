"""The wheels of a space through the stages to come, and which move mends what does not fit.

A box has a humidity of its own but the temperature of the cave in which it stands, so the
wheels of a cave and of its boxes must share their temperature.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Final

from service.ageing.coming import KITCHEN_STAGE, StageAhead
from service.ageing.together import Fit, fit_of
from service.ageing.values import Target

_NOTHING_ASKED: Final = Target(None, None)
_NEW_BOX: Final = -1
"""The number of a box that is only thought of."""


@dataclass(frozen=True, slots=True)
class Guest:
    """A wheel with the space in which it is and what it asks there through its stages.

    Attributes:
        wheel: Its number.
        batch: The number of its batch.
        space: Where it is.
        ahead: The stage that it lives and those ahead.
        today: On which it lives the first of them, however late its gate is.
    """

    wheel: int
    batch: int
    space: int
    ahead: tuple[StageAhead, ...]
    today: date

    def ends(self) -> tuple[date, ...]:
        """When each of its stages is expected to end, tomorrow at the earliest."""
        tomorrow = self.today + timedelta(days=1)
        return tuple(max(each.ends.expected, tomorrow) for each in self.ahead)

    def asks_on(self, day: date, *, in_kitchen: bool) -> Target | None:
        """What it asks on a day; None when it is expected to have gone by then.

        Out of a cave it goes when it begins the stage of the kitchen fridge, whose wheels stay
        until they are eaten.
        """
        for place, (each, end) in enumerate(zip(self.ahead, self.ends(), strict=True)):
            if day < end:
                # One that should be in the kitchen fridge already is still here today.
                gone = place > 0 and each.stage.slug == KITCHEN_STAGE and not in_kitchen
                return None if gone else each.stage.target
        return None


@dataclass(frozen=True, slots=True)
class Home:
    """A space into which a wheel could be moved.

    Attributes:
        space: Its number.
        parent: The cave in which it stands; None unless it is a box.
        kitchen: Whether it is the kitchen fridge.
        mean_c: Its mean temperature of late; None when it is not known. [°C]
    """

    space: int
    parent: int | None
    kitchen: bool
    mean_c: float | None


@dataclass(frozen=True, slots=True)
class Mend:
    """A move after which the space it leaves has a common range, and the one it goes to too.

    Attributes:
        wheels: Who moves.
        to: The space; None for a box of their own where they are.
        known: Whether the temperature there is known, and suits them.
    """

    wheels: tuple[int, ...]
    to: int | None
    known: bool


@dataclass(frozen=True, slots=True)
class Spell:
    """The fit of a space from one day up to but without another."""

    from_day: date
    to_day: date
    wheels: tuple[int, ...]
    fit: Fit
    mends: tuple[Mend, ...]


def spells(
    guests: Sequence[Guest], homes: Sequence[Home], space: int, today: date, days: int
) -> tuple[Spell, ...]:
    """The fit of a space now and through the stages to come, cut wherever a stage changes.

    Args:
        guests: All wheels of the household.
        homes: All its spaces.
        space: The space.
        today: From when.
        days: How far ahead. [d]
    """
    until = today + timedelta(days=days)
    concerned = [guest for guest in guests if guest.space in _family(homes, space)]
    edges = sorted(
        {
            today,
            until,
            *(end for guest in concerned for end in guest.ends() if today < end < until),
        }
    )
    found: list[Spell] = []
    for start, end in pairwise(edges):
        there = _asked_on(guests, homes, space, start)
        fit = fit_of(there)
        spell = Spell(start, end, tuple(w for w, _ in there), fit, ())
        if fit.clash:
            spell = Spell(
                start, end, spell.wheels, fit, mends(guests, homes, space, start, fit.outside)
            )
        before = found[-1] if found else None
        if before and (before.wheels, before.fit, before.mends) == (
            spell.wheels,
            spell.fit,
            spell.mends,
        ):
            found[-1] = replace(before, to_day=end)
        else:
            found.append(spell)
    return tuple(found)


def mends(
    guests: Sequence[Guest],
    homes: Sequence[Home],
    space: int,
    day: date,
    outside: Sequence[int],
) -> tuple[Mend, ...]:
    """The moves that let a space and the one moved to have a common range on a day.

    The wheels outside move together where that serves, else batch by batch; each to every other
    space whose wheels they suit and whose temperature suits them, and to a box of their own,
    which changes their humidity but not their temperature.
    """
    by_batch: dict[int, list[int]] = {}
    for guest in guests:
        if guest.wheel in outside:
            by_batch.setdefault(guest.batch, []).append(guest.wheel)
    groups = [tuple(each) for each in by_batch.values()]
    if len(groups) > 1:
        groups.insert(0, tuple(outside))
    found: list[Mend] = []
    for group in groups:
        others = [home for home in homes if home.space != space]
        for home in others:
            known = _suits(group, guests, home, day)
            moved = _moved(guests, group, home.space)
            if known is False or not _holds(moved, homes, home.space, day):
                continue
            if _better(guests, moved, homes, space, day, group):
                found.append(Mend(group, home.space, known=known is True))
        boxed, with_box = _boxed(guests, homes, group, space)
        if _better(guests, boxed, with_box, space, day, group):
            found.append(Mend(group, None, known=True))
    return tuple(found)


def _boxed(
    guests: Sequence[Guest], homes: Sequence[Home], group: Sequence[int], space: int
) -> tuple[list[Guest], list[Home]]:
    """The household with these wheels in a box of their own, where their space is or stands."""
    home = next(each for each in homes if each.space == space)
    cave = home.parent if home.parent is not None else space
    box = Home(_NEW_BOX, cave, kitchen=False, mean_c=home.mean_c)
    return _moved(guests, group, _NEW_BOX), [*homes, box]


def _moved(guests: Sequence[Guest], group: Sequence[int], space: int) -> list[Guest]:
    return [replace(guest, space=space) if guest.wheel in group else guest for guest in guests]


def _better(
    before: Sequence[Guest],
    after: Sequence[Guest],
    homes: Sequence[Home],
    space: int,
    day: date,
    group: Sequence[int],
) -> bool:
    """Whether a move leaves fewer wheels outside; with none of the moved among them."""
    known = [home for home in homes if home.space != _NEW_BOX]
    then = fit_of(_asked_on(after, homes, space, day))
    now = fit_of(_asked_on(before, known, space, day))
    return len(then.outside) < len(now.outside) and not set(group) & set(then.outside)


def _holds(guests: Sequence[Guest], homes: Sequence[Home], space: int, day: date) -> bool:
    return fit_of(_asked_on(guests, homes, space, day)).holds


def _suits(group: Sequence[int], guests: Sequence[Guest], home: Home, day: date) -> bool | None:
    """Whether the temperature of a space suits the wheels; None when it is not known."""
    if home.mean_c is None:
        return None
    for guest in guests:
        if guest.wheel in group:
            asks = (guest.asks_on(day, in_kitchen=True) or _NOTHING_ASKED).temperature_c
            if asks is not None and not asks.low <= home.mean_c <= asks.high:
                return False
    return True


def _family(homes: Sequence[Home], space: int) -> set[int]:
    """The spaces that share a temperature with one: the cave and all boxes in it."""
    parents = {home.space: home.parent for home in homes}
    cave = parents.get(space) or space
    return {cave, space, *(each for each, parent in parents.items() if parent == cave)}


def _asked_on(
    guests: Sequence[Guest], homes: Sequence[Home], space: int, day: date
) -> list[tuple[int, Target]]:
    """What is asked of the air of a space: all by its own wheels, else only the temperature."""
    family = _family(homes, space)
    kitchen = {home.space for home in homes if home.kitchen}
    kitchen |= {home.space for home in homes if home.parent in kitchen}
    found = []
    for guest in guests:
        if guest.space not in family:
            continue
        asks = guest.asks_on(day, in_kitchen=guest.space in kitchen)
        if asks is None:
            continue
        own = guest.space == space
        found.append((guest.wheel, asks if own else Target(asks.temperature_c, None)))
    return found
