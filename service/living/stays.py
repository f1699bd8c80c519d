"""Where a wheel was and in which air, as the science asks for it.

A life is cut into phases at every move and wherever it is wrapped or unwrapped. Neighbouring
phases of one kind make a run: in an open run water goes to and fro between wheel and air; in a
closed one, wrapped or in air of unknown humidity, only the temperature is worked out.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from service.ageing.plans import Plan
from service.ageing.verdict import AirHistory
from service.clock import HOUR_US
from service.science.air import FloatArray, vapour_pressure_pa
from service.science.composition import properties
from service.science.convection import Space as Place
from service.science.convection import estimated_transfer
from service.science.signals import IntArray
from service.science.solid import Cylinder, Transfer
from service.science.surface import Stay
from service.science.transfer import prior_coefficient
from service.store.tables import Space, SpaceKind, StageLived, Wheel, WheelPlacement

HOLE_US: Final = 12 * HOUR_US
"""Air unknown for longer than this between two phases ends a run. [µs] Our choice."""
_PLACES: Final = {
    SpaceKind.CAVE: Place.SHELF,
    SpaceKind.BOX: Place.BOX,
    SpaceKind.KITCHEN_FRIDGE: Place.FRIDGE,
    SpaceKind.ROOM: Place.SHELF,
}
_COLDEST_C, _WARMEST_C = -2.0, 60.0
_USUAL_C = 10.0


@dataclass(frozen=True, slots=True)
class Span:
    """A time in one space, wrapped or not. [µs UTC]"""

    space_id: int
    from_us: int
    to_us: int
    wrapped: bool


@dataclass(frozen=True, slots=True, eq=False)
class Phase:
    """A span with its air; the rows in which the temperature is not known are left out."""

    span: Span
    times_us: IntArray
    air_c: FloatArray
    humidity_pct: FloatArray
    vapour_pa: FloatArray

    @property
    def open(self) -> bool:
        """Whether water goes to and fro, and it is known how much."""
        return not self.span.wrapped and bool(np.isfinite(self.vapour_pa).any())


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Neighbouring phases of one kind; `after_hole` when the air before them is not known."""

    phases: tuple[Phase, ...]
    after_hole: bool

    @property
    def open(self) -> bool:
        """Whether it is an open run."""
        return self.phases[0].open

    @property
    def from_us(self) -> int:
        """Its first instant. [µs UTC]"""
        return int(self.phases[0].times_us[0])

    @property
    def to_us(self) -> int:
        """Its last instant. [µs UTC]"""
        return int(self.phases[-1].times_us[-1])


def spans(
    placements: Sequence[WheelPlacement],
    stages: Sequence[StageLived],
    plan: Plan,
    from_us: int,
    to_us: int,
) -> list[Span]:
    """A wheel's life from one time to another, cut at moves and at wrapping.

    In the stages in which its plan has it wrapped no water passes, as far as is modelled.
    """
    under_wrap = {each.slug for each in plan.stages if each.wrapped}
    wrapped: list[tuple[int, int]] = []
    for stage in stages:
        if stage.stage in under_wrap:
            end_us = to_us if stage.to_us is None else stage.to_us
            if wrapped and wrapped[-1][1] == stage.from_us:
                wrapped[-1] = (wrapped[-1][0], end_us)
            else:
                wrapped.append((stage.from_us, end_us))
    edges = {edge for both in wrapped for edge in both}
    found = []
    for placement in placements:
        first = max(placement.from_us, from_us)
        last = min(to_us if placement.to_us is None else placement.to_us, to_us)
        if first >= last:
            continue
        cuts = sorted({first, last, *(edge for edge in edges if first < edge < last)})
        found += [
            Span(
                placement.space_id,
                start,
                end,
                any(begin <= start and end <= stop for begin, stop in wrapped),
            )
            for start, end in pairwise(cuts)
        ]
    return found


def phase(span: Span, air: AirHistory) -> Phase | None:
    """A span with its air; None when its temperature was never known."""
    known = np.isfinite(air.temperature_c)
    if not known.any():
        return None
    temperature = air.temperature_c[known]
    # A correction may carry a reading beyond what air can be.
    humidity = np.clip(air.humidity_pct[known], 0.0, 100.0)
    times_us, first = np.unique(air.times_us[known], return_index=True)
    temperature, humidity = temperature[first], humidity[first]
    return Phase(span, times_us, temperature, humidity, vapour_pressure_pa(temperature, humidity))


def runs(phases: Sequence[Phase]) -> list[Run]:
    """Phases in order of time, neighbours of one kind together."""
    found: list[Run] = []
    for each in phases:
        before = found[-1] if found else None
        hole = before is None or int(each.times_us[0]) - before.to_us > HOLE_US
        if before is None or hole or before.open != each.open:
            found.append(Run((each,), hole))
        else:
            found[-1] = Run((*before.phases, each), before.after_hole)
    return found


def cylinder_of(wheel: Wheel, plan: Plan, about_c: float) -> Cylinder:
    """The wheel as a solid, of the paste of its plan."""
    paste = properties(plan.paste.composition, float(np.clip(about_c, _COLDEST_C, _WARMEST_C)))
    return Cylinder.of(
        paste, wheel.diameter_mm / 1_000, wheel.height_mm / 1_000, wheel.mass_g / 1_000
    )


def transfer_in(cylinder: Cylinder, space: Space, about_c: float) -> Transfer:
    """Estimated coefficients of heat for a wheel in that kind of space."""
    place = _PLACES[SpaceKind(space.kind)]
    return estimated_transfer(cylinder, place, about_c).transfer


def transfer_spread(cylinder: Cylinder, space: Space) -> float:
    """Relative standard error of those coefficients. [1]"""
    place = _PLACES[SpaceKind(space.kind)]
    return estimated_transfer(cylinder, place, _USUAL_C).spread


def stays(
    run: Run, cylinder: Cylinder, spaces: Mapping[int, Space], every_us: int | None = None
) -> list[Stay]:
    """The phases of a run as stays, with the coefficient of moisture before any weighing.

    Args:
        run: The run.
        cylinder: The wheel.
        spaces: The spaces by their numbers.
        every_us: Means over so much time are taken when given. [µs]
    """
    found: list[Stay] = []
    for each in run.phases:
        times_us, air_c, vapour_pa = each.times_us, each.air_c, each.vapour_pa
        if every_us is not None:
            times_us, (air_c, vapour_pa) = means(times_us, [air_c, vapour_pa], every_us)
        about_c = float(np.median(air_c))
        came_us = each.span.from_us if found else int(times_us[0])
        found.append(
            Stay(
                space=str(each.span.space_id),
                from_us=came_us,
                times_us=times_us,
                air_c=air_c,
                vapour_pa=vapour_pa,
                heat=transfer_in(cylinder, spaces[each.span.space_id], about_c),
                moisture_kg_m2_s_pa=prior_coefficient().median,
            )
        )
    return found


def means(
    times_us: IntArray, values: Sequence[FloatArray], every_us: int
) -> tuple[IntArray, list[FloatArray]]:
    """Means over slots of time; the first and the last time stay as they are."""
    _, first = np.unique(times_us // every_us, return_index=True)
    counts = np.diff(first, append=times_us.size)
    middle = times_us[0] + np.add.reduceat(times_us - times_us[0], first) // counts
    middle[0], middle[-1] = times_us[0], times_us[-1]
    found = []
    for each in values:
        known = np.isfinite(each)
        sums = np.add.reduceat(np.where(known, each, 0.0), first)
        numbers = np.add.reduceat(known.astype(np.float64), first)
        mean = np.full(first.size, np.nan)
        np.divide(sums, numbers, out=mean, where=numbers > 0)
        found.append(mean)
    return middle, found
