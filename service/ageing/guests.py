"""Wheels as guests of spaces: who asks what of which air on a day, and whether one air suits all.

A box has a humidity of its own but the temperature of the cave in which it stands, so the
wheels of a cave and of its boxes must share their temperature.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from service.ageing.coming import StageAhead
from service.ageing.values import Quantity, Range, Target

_NOTHING_ASKED: Final = Target(None, None)


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
                gone = place > 0 and each.stage.in_kitchen_fridge and not in_kitchen
                return None if gone else each.stage.target
        return None


@dataclass(frozen=True, slots=True)
class Home:
    """A space in which wheels are, or into which they could be moved.

    Attributes:
        space: Its number.
        parent: The cave in which it stands; None unless it is a box.
        kitchen: Whether it is a kitchen fridge, or stands in one.
        mean_c: Its mean temperature of late; None when it is not known. [°C]
        humidity_pct: Its mean humidity of late; None when it is not known. [%RH]
    """

    space: int
    parent: int | None
    kitchen: bool
    mean_c: float | None
    humidity_pct: float | None

    def air(self, quantity: Quantity) -> float | None:
        """Its temperature or its humidity of late. [°C or %RH]"""
        return self.mean_c if quantity is Quantity.TEMPERATURE else self.humidity_pct


@dataclass(frozen=True, slots=True)
class Spot:
    """A place for wheels: a space, or a box in it that is only thought of.

    Attributes:
        space: The space.
        box: Which box of their own in it; 0 for the space itself.
    """

    space: int
    box: int = 0


Where = Mapping[int, Spot]
"""Where each wheel is, by its number."""


class Household:
    """The wheels and spaces of a household on one day.

    Args:
        guests: All its wheels.
        homes: All its spaces.
        day: The day.
    """

    def __init__(self, guests: Sequence[Guest], homes: Sequence[Home], day: date) -> None:
        self.homes: Final = {home.space: home for home in homes}
        self.where: Final = {guest.wheel: Spot(guest.space) for guest in guests}
        self.batches: Final = {guest.wheel: guest.batch for guest in guests}
        self._in_cave = {each.wheel: each.asks_on(day, in_kitchen=False) for each in guests}
        self._in_kitchen = {each.wheel: each.asks_on(day, in_kitchen=True) for each in guests}

    def cave_of(self, space: int) -> int:
        """The space that gives its temperature to one: of a box the cave, of a cave itself."""
        home = self.homes.get(space)
        return space if home is None or home.parent is None else home.parent

    def asked(self, spot: Spot, where: Where) -> list[tuple[int, Target]]:
        """What is asked of the air of a place: all by its own wheels, else only the temperature."""
        cave = self.cave_of(spot.space)
        found = []
        for wheel, stays in where.items():
            if self.cave_of(stays.space) != cave:
                continue
            home = self.homes.get(stays.space)
            kitchen = home is not None and home.kitchen
            asks = (self._in_kitchen if kitchen else self._in_cave)[wheel]
            if asks is not None:
                found.append((wheel, asks if stays == spot else Target(asks.temperature_c, None)))
        return found

    def holds(self, spot: Spot, where: Where) -> bool:
        """Whether one air suits all that ask something of a place."""
        asked = [target for _, target in self.asked(spot, where)]
        return all(_overlap(each.of(quantity) for each in asked) for quantity in Quantity)

    def not_known(self, wheels: Iterable[int], spot: Spot) -> tuple[Quantity, ...] | None:
        """Of what they ask, the quantities of a place's air that are not known.

        None where its air of late does not suit them. The humidity of a box of their own is as
        they want it.
        """
        home = self.homes[spot.space]
        asks = [self._in_kitchen[wheel] or _NOTHING_ASKED for wheel in wheels]
        unknown = []
        for quantity in (Quantity.TEMPERATURE,) if spot.box else Quantity:
            wanted = [each for target in asks if (each := target.of(quantity)) is not None]
            value = home.air(quantity)
            if value is None and wanted:
                unknown.append(quantity)
            elif value is not None and not all(each.low <= value <= each.high for each in wanted):
                return None
        return tuple(unknown)

    def against(self, wheels: Sequence[int], spot: Spot, where: Where) -> tuple[int, ...]:
        """The others in a place that share no air with one of these wheels."""
        asked = self.asked(spot, where)
        ours = [target for wheel, target in asked if wheel in wheels]
        return tuple(
            wheel
            for wheel, target in asked
            if wheel not in wheels
            and not all(
                _overlap((target.of(quantity), our.of(quantity)))
                for our in ours
                for quantity in Quantity
            )
        )


def _overlap(ranges: Iterable[Range | None]) -> bool:
    """Whether ranges share a value; a missing one takes any."""
    asked = [each for each in ranges if each is not None]
    return not asked or max(each.low for each in asked) <= min(each.high for each in asked)
