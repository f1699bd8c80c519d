"""Whether the wheels of a space fit through the stages to come, and which move mends it.

One move is tried first, then two at once: the wheels outside parted between two places, or moved
to where others make way for them. Where neither serves, a move that leaves fewer of them outside
is told as what it is.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import combinations, islice, pairwise
from typing import Final

from service.ageing.guests import Guest, Home, Household, Spot, Where
from service.ageing.together import Fit, fit_of
from service.ageing.values import Quantity

_MOST_PAIRS: Final = 3
"""Pairs of moves that are told. Our choice: a maker chooses among few."""
_PAIRS_WEIGHED: Final = 24
"""Pairs of moves found among which those are chosen. Our choice: it bounds the work."""
_PARTED_ALL_WAYS: Final = 5
"""So many batches are parted in every way, more only one from the rest. Our choice: 15 ways."""


@dataclass(frozen=True, slots=True)
class Move:
    """Wheels into another place.

    Attributes:
        wheels: Which wheels.
        to: Into which space; None for a box of their own where they are.
        boxed: Whether into a box of their own there.
        unknown: What they ask of the air there and nobody knows.
    """

    wheels: tuple[int, ...]
    to: int | None
    boxed: bool = False
    unknown: tuple[Quantity, ...] = ()


@dataclass(frozen=True, slots=True)
class Mend:
    """What lets the wheels of a space fit together, or at least more of them.

    Attributes:
        moves: One move, or two that are made together.
        left: The wheels that are outside still; nobody where it mends it.
    """

    moves: tuple[Move, ...]
    left: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Spell:
    """A time in which the wheels of a space and their stages stay the same.

    Attributes:
        from_day: Its first day.
        to_day: The day after its last.
        wheels: Who is there, or shares its temperature.
        fit: Whether they fit together.
        mends: What mends it where they do not.
    """

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
    caves = Household(guests, homes, today)
    cave = caves.cave_of(space)
    ends = {
        end
        for guest in guests
        if caves.cave_of(guest.space) == cave
        for end in guest.ends()
        if today < end < until
    }
    found: list[Spell] = []
    for start, end in pairwise(sorted({today, until, *ends})):
        household = Household(guests, homes, start)
        there = household.asked(Spot(space), household.where)
        fit = fit_of(there)
        mended = mends(household, space, fit.outside) if fit.clash else ()
        spell = Spell(start, end, tuple(wheel for wheel, _ in there), fit, mended)
        before = found[-1] if found else None
        if before and replace(spell, from_day=before.from_day, to_day=before.to_day) == before:
            found[-1] = replace(before, to_day=end)
        else:
            found.append(spell)
    return tuple(found)


def mends(household: Household, space: int, outside: Sequence[int]) -> tuple[Mend, ...]:
    """What lets the wheels of a space fit together, and those in the places concerned.

    Args:
        household: The wheels and spaces on the day.
        space: The space.
        outside: The fewest wheels without which the rest there fit together.
    """
    task = _Task(household, space, tuple(outside))
    if single := task.single():
        return tuple(sorted(single, key=_unknown))
    pairs = list(islice(task.pairs(), _PAIRS_WEIGHED))
    if pairs:
        return tuple(sorted(pairs, key=lambda mend: (_unknown(mend), _moved(mend)))[:_MOST_PAIRS])
    return tuple(sorted(task.partial(), key=_unknown))


class _Task:
    """The search for moves that let a space have a common range."""

    def __init__(self, household: Household, space: int, outside: tuple[int, ...]) -> None:
        self._household, self._spot, self._outside = household, Spot(space), outside
        by_batch: dict[int, list[int]] = {}
        for wheel in outside:
            by_batch.setdefault(household.batches[wheel], []).append(wheel)
        self._batches = [tuple(each) for each in by_batch.values()]

    def single(self) -> tuple[Mend, ...]:
        """All that are outside into one place. No fewer would do, for they are the fewest."""
        spots = self._spots(self._outside, self._spot)
        tried = (self._tried(((self._outside, spot),)) for spot in spots)
        found = [each for each in tried if each is not None]
        box_here = any(move.to is None for each in found for move in each.moves)
        # Where a box serves here, nobody need carry them to a box in another cave.
        return tuple(
            each
            for each in found
            if not (box_here and any(move.boxed and move.to is not None for move in each.moves))
        )

    def pairs(self) -> Iterator[Mend]:
        """Two moves made together."""
        for first, second in self._parted():
            seconds = list(self._spots(second, self._spot))
            for to_first in self._spots(first, self._spot):
                for to_second in seconds:
                    # Two boxes in one cave are two.
                    to = replace(to_second, box=2) if to_second.box else to_second
                    mend = to != to_first and self._tried(((first, to_first), (second, to)))
                    if mend:
                        yield mend
        for there in self._suiting(self._outside, self._spot):
            moved = self._moved(((self._outside, there),))
            # Those of a place that share no air with the ones to come make way for them.
            in_the_way = self._household.against(self._outside, there, moved)
            if not in_the_way or any(moved[each] == self._spot for each in in_the_way):
                continue
            for aside in self._spots(in_the_way, there):
                mend = self._tried(((self._outside, there), (in_the_way, aside)))
                if mend:
                    yield mend

    def partial(self) -> tuple[Mend, ...]:
        """One batch into another place, where that leaves fewer outside."""
        found = []
        for batch in self._batches if len(self._batches) > 1 else ():
            for spot in self._spots(batch, self._spot):
                mend = self._tried(((batch, spot),), all_fit=False)
                if mend and len(mend.left) < len(self._outside) and not {*batch} & {*mend.left}:
                    found.append(mend)
        return tuple(found)

    def _parted(self) -> Iterator[tuple[tuple[int, ...], tuple[int, ...]]]:
        """The batches outside in two parts, each way once."""
        count = len(self._batches)
        # The first batch is in the first part, so that no way comes twice.
        firsts: list[tuple[int, ...]] = [
            (0, *rest)
            for size in range(count - 1)
            for rest in combinations(range(1, count), size)
            if count <= _PARTED_ALL_WAYS
        ] or [(number,) for number in range(count if count > 1 else 0)]
        for first in firsts:
            yield (
                tuple(wheel for number in first for wheel in self._batches[number]),
                tuple(
                    wheel
                    for number, batch in enumerate(self._batches)
                    if number not in first
                    for wheel in batch
                ),
            )

    def _suiting(self, wheels: Sequence[int], here: Spot) -> Iterator[Spot]:
        """The other spaces whose air of late suits wheels, as far as it is known."""
        for space in self._household.homes:
            if space != here.space and self._suits(wheels, Spot(space)):
                yield Spot(space)

    def _spots(self, wheels: Sequence[int], here: Spot) -> Iterator[Spot]:
        """The places for wheels: other spaces, then a box of their own where they are.

        A box of their own in another cave is thought of only where they cannot be in that cave
        itself.
        """
        others = [space for space in self._household.homes if space != here.space]
        cave = self._household.cave_of(here.space)
        for space in others:
            boxable = space != cave and space == self._household.cave_of(space)
            spots = (Spot(space), Spot(space, 1)) if boxable else (Spot(space),)
            yield from islice((spot for spot in spots if self._takes(wheels, spot)), 1)
        yield Spot(cave, 1)

    def _takes(self, wheels: Sequence[int], spot: Spot) -> bool:
        """Whether a place suits wheels and those there, were nobody outside."""
        # With those outside there too it could only be worse, so what fails here fails anyhow.
        free = {each: at for each, at in self._household.where.items() if each not in self._outside}
        return self._suits(wheels, spot) and self._household.holds(
            spot, free | dict.fromkeys(wheels, spot)
        )

    def _suits(self, wheels: Sequence[int], spot: Spot) -> bool:
        return self._household.not_known(wheels, spot) is not None

    def _moved(self, moves: Sequence[tuple[Sequence[int], Spot]]) -> Where:
        where = dict(self._household.where)
        for wheels, spot in moves:
            where.update(dict.fromkeys(wheels, spot))
        return where

    def _tried(
        self, moves: Sequence[tuple[tuple[int, ...], Spot]], *, all_fit: bool = True
    ) -> Mend | None:
        """The mend by these moves; None when those in a place concerned would not fit together."""
        where = self._moved(moves)
        places = [spot for _, spot in moves]
        if all_fit:
            places.append(self._spot)
        if not all(self._household.holds(spot, where) for spot in places):
            return None
        left = () if all_fit else fit_of(self._household.asked(self._spot, where)).outside
        return Mend(tuple(self._told(wheels, spot) for wheels, spot in moves), left)

    def _told(self, wheels: tuple[int, ...], spot: Spot) -> Move:
        stays = self._household.cave_of(self._household.where[wheels[0]].space)
        if spot.box and spot.space == stays:
            # They have its temperature already.
            return Move(wheels, None, boxed=True)
        unknown = self._household.not_known(wheels, spot) or ()
        return Move(wheels, spot.space, boxed=spot.box > 0, unknown=unknown)


def _unknown(mend: Mend) -> int:
    return sum(len(move.unknown) for move in mend.moves)


def _moved(mend: Mend) -> int:
    return sum(len(move.wheels) for move in mend.moves)
