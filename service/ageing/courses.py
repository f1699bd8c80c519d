"""How a wheel ripens at two temperatures, first the cave's and then the kitchen fridge's.

With a rate for each place everything has a closed form: after `m` days in the cave and the rest
in the kitchen fridge a wheel has on day `d` the equivalent age

    age + cave_rate (m - begins) + fridge_rate (d - m)

Nothing of it is known exactly. A course is one consistent set of assumptions; `courses` makes
one for the values themselves, and for each activation energy of the band a fast one and a slow
one, at whose ends all else is at its end too: the equivalent age so far, both temperatures, the
beginning of the count, and the age at which the firmness is reached. Energies are not mixed
within a course, since a wheel has one. The earliest and the latest over all courses are the
band: interval arithmetic for what is independent, one energy at a time for what is not.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from service.ageing.work import Days
from service.science.ripening import ripening_rate

FARTHEST_DAYS: Final = 3_650.0
"""What takes longer is told as ten years. [d] Our choice: a plan's stages end there too."""
_ALIKE: Final = 1e-9
"""Rates that differ by less are one rate: then it does not matter when the wheel is moved."""


@dataclass(frozen=True, slots=True)
class PlaceAir:
    """How warm a place will be: the mean of late, and how far it may be from it.

    Attributes:
        mean_c: Mean temperature. [°C]
        spread_k: Half the width of the band. [K]
    """

    mean_c: float
    spread_k: float

    def warmer(self, kelvin: float) -> "PlaceAir":
        """The same, so much warmer."""
        return replace(self, mean_c=self.mean_c + kelvin)


@dataclass(frozen=True, slots=True)
class Aged:
    """Equivalent age so far under one activation energy.

    Attributes:
        kj_per_mol: The activation energy. [kJ/mol]
        low_days: The least, where its air was not always known. [d]
        days: The value. [d]
        high_days: The most. [d]
    """

    kj_per_mol: float
    low_days: float
    days: float
    high_days: float


@dataclass(frozen=True, slots=True)
class Course:
    """One consistent set of assumptions on how a wheel ripens from today on.

    Attributes:
        begins: Days from today until ripening is counted; zero once it is. [d]
        age: Equivalent age so far. [d]
        cave_rate: Equivalent days for each day in the cave.
        fridge_rate: The same in the kitchen fridge.
        wanted: Equivalent age at which the wanted firmness is reached. [d]
        past: Equivalent age at which it is past. [d]
    """

    begins: float
    age: float
    cave_rate: float
    fridge_rate: float
    wanted: float
    past: float

    def age_on(self, day: float, move: float) -> float:
        """Equivalent age on a day, moved to the kitchen fridge on another. [d]

        Examples:
            >>> Course(0.0, 10.0, 1.0, 0.5, 42.0, 50.0).age_on(20.0, 8.0)
            24.0
        """
        counted = max(0.0, day - self.begins)
        in_cave = min(max(0.0, move - self.begins), counted)
        return self.age + self.cave_rate * in_cave + self.fridge_rate * (counted - in_cave)

    def reached(self, wanted: float, move: float) -> float:
        """The day on which an equivalent age is reached, moved on another; today if it is. [d]

        Examples:
            >>> Course(0.0, 10.0, 1.0, 0.5, 42.0, 50.0).reached(24.0, 8.0)
            20.0
        """
        missing = wanted - self.age
        if missing <= 0:
            return 0.0
        in_cave = self.cave_rate * max(0.0, move - self.begins)
        if missing <= in_cave:
            return _near(self.begins + missing / self.cave_rate)
        return _near(max(move, self.begins) + (missing - in_cave) / self.fridge_rate)

    def move_for(self, day: float) -> float:
        """When to move it so that it is as wanted on a day; the nearest that can be done. [d]

        It solves `age + cave_rate (m - begins) + fridge_rate (day - m) = wanted` for `m`, and
        stays between today (or the beginning of the count) and that day.

        Examples:
            >>> Course(0.0, 10.0, 1.0, 0.5, 24.0, 50.0).move_for(20.0)
            8.0
        """
        first = min(self.begins, day)
        apart = self.cave_rate - self.fridge_rate
        if abs(apart) <= _ALIKE:
            return first
        missing = self.wanted - self.age - self.fridge_rate * (day - first)
        return min(max(first + missing / apart, first), max(day, 0.0))


def courses(
    aged: Sequence[Aged],
    begins_days: tuple[float, float, float],
    cave: PlaceAir,
    fridge: PlaceAir,
    reference_c: float,
    wanted: Days,
    past: Days,
) -> tuple[Course, ...]:
    """The course of the values, then a fast and a slow one for each activation energy.

    Args:
        aged: Equivalent age so far, for the energy itself and then for others of its band.
        begins_days: Earliest, expected and latest days until ripening is counted. [d]
        cave: Where the wheel is.
        fridge: Where it will be.
        reference_c: The temperature at which a day counts as a day. [°C]
        wanted: When the wanted firmness is reached, in equivalent days.
        past: When it is past.
    """
    soonest, expected, last = begins_days

    def at(
        energy: float, age: float, begins: float, width: float, wanted_days: float, past_days: float
    ) -> Course:
        in_cave, in_fridge = (
            ripening_rate(place.mean_c + width * place.spread_k, reference_c, energy)
            for place in (cave, fridge)
        )
        return Course(begins, age, in_cave, in_fridge, wanted_days, past_days)

    value = aged[0]
    energy = value.kj_per_mol
    found = [at(energy, value.days, expected, 0.0, wanted.expected, past.expected)]
    for each in aged:
        energy = each.kj_per_mol
        found.append(at(energy, each.high_days, soonest, 1.0, wanted.earliest, past.earliest))
        found.append(at(energy, each.low_days, last, -1.0, wanted.latest, past.latest))
    return tuple(found)


def _near(days: float) -> float:
    return min(days, FARTHEST_DAYS)
