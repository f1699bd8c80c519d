"""Whether the kitchen fridge has room for the wheels that are to be in it, and who smells.

A wheel takes the square around it, for in a fridge round things do not nest. The room is what
the maker says is free for cheese. Wheels are not stacked. Of several kitchen fridges a wheel is
planned for the one that suits its plan best.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from service.ageing.values import Range
from service.ageing.work import Smell

_MM_PER_CM: Final = 10.0


@dataclass(frozen=True, slots=True)
class Fridge:
    """A kitchen fridge into which a wheel may be moved.

    Attributes:
        space: Its number.
        mean_c: Its mean temperature of late; None when nobody measures. [°C]
        room_cm2: What is free for cheese; None when the maker has not said. [cm²]
        taken_cm2: What the wheels take that are in it today; None when there are none. [cm²]
    """

    space: int
    mean_c: float | None
    room_cm2: float | None
    taken_cm2: float | None


@dataclass(frozen=True, slots=True)
class KitchenStay:
    """A wheel in the kitchen fridge, from the day it is moved there to the last of its days.

    Attributes:
        wheel: Its number.
        from_day: The first day.
        until: The last day.
        footprint_cm2: What it takes of the shelf. [cm²]
        smell: How much it smells.
    """

    wheel: int
    from_day: date
    until: date
    footprint_cm2: float
    smell: Smell


@dataclass(frozen=True, slots=True)
class KitchenDay:
    """The kitchen fridge on one day.

    Attributes:
        day: The day.
        wheels: Which wheels are to be in it.
        taken_cm2: What they take. [cm²]
        room_cm2: What there is; None when the maker has not said. [cm²]
        strong: Those that smell strongly: to be wrapped closely and boxed apart.
    """

    day: date
    wheels: tuple[int, ...]
    taken_cm2: float
    room_cm2: float | None
    strong: tuple[int, ...]

    @property
    def fits(self) -> bool | None:
        """Whether there is room for all; None when the room is not known."""
        return None if self.room_cm2 is None else self.taken_cm2 <= self.room_cm2


def footprint_cm2(diameter_mm: float) -> float:
    """The square around a wheel. [cm²]

    Examples:
        >>> footprint_cm2(90.0)
        81.0
    """
    return (diameter_mm / _MM_PER_CM) ** 2


def best_fridge(fridges: Sequence[Fridge], asked: Range | None, footprint_cm2: float) -> Fridge:
    """The kitchen fridge for which a wheel is planned; of equals the first.

    First of all its board is large enough for the wheel; then its temperature of late is one that
    the plan asks for, or else is not known, or else is the nearest; then it has room today.

    Args:
        fridges: Those there are, at least one.
        asked: What the plan asks of a kitchen fridge; None when it asks nothing. [°C]
        footprint_cm2: What the wheel takes. [cm²]
    """

    def rank(fridge: Fridge) -> tuple[bool, bool, float, bool]:
        off_k = 0.0
        if asked is not None and fridge.mean_c is not None:
            off_k = max(asked.low - fridge.mean_c, fridge.mean_c - asked.high, 0.0)
        taken = (fridge.taken_cm2 or 0.0) + footprint_cm2
        return (
            fridge.room_cm2 is not None and footprint_cm2 > fridge.room_cm2,
            off_k > 0.0 or fridge.mean_c is None,
            off_k,
            fridge.room_cm2 is not None and taken > fridge.room_cm2,
        )

    return min(fridges, key=rank)


def kitchen_on(stays: Iterable[KitchenStay], room_cm2: float | None, day: date) -> KitchenDay:
    """The kitchen fridge on a day; both ends of a stay belong to it."""
    inside = [stay for stay in stays if stay.from_day <= day <= stay.until]
    return KitchenDay(
        day=day,
        wheels=tuple(stay.wheel for stay in inside),
        taken_cm2=sum(stay.footprint_cm2 for stay in inside),
        room_cm2=room_cm2,
        strong=tuple(stay.wheel for stay in inside if stay.smell is Smell.STRONG),
    )


def first_too_full(
    stays: Sequence[KitchenStay], room_cm2: float | None, today: date
) -> KitchenDay | None:
    """The first day from today on for which there is not room for all; None when there is none."""
    for day in sorted({today, *(stay.from_day for stay in stays if stay.from_day > today)}):
        found = kitchen_on(stays, room_cm2, day)
        if found.fits is False:
            return found
    return None
