"""What the store tells of one wheel, gathered once for all that is worked out from it."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.ageing.plans import Plan
from service.clock import HOUR_US
from service.judging import Plans, plan_for
from service.living.stays import HOLE_US, Run, Span, cylinder_of, spans
from service.science.solid import Cylinder
from service.store import places, tables, weighings, wheels
from service.store.database import Session

_JUST_CAME_US: Final = HOUR_US


@dataclass(frozen=True, slots=True)
class Weighed:
    """A weighing that the maker entered."""

    id: int
    time_us: int
    grams: float


@dataclass(frozen=True, slots=True, eq=False)
class Life:
    """A wheel with its plan, where it was, its stages and its weighings.

    Attributes:
        wheel: The wheel.
        made_us: When it was made. [µs UTC]
        plan: Its plan.
        placements: Where it was, oldest first.
        stages: The stages it lived, oldest first.
        weighed: The weighings that hold, oldest first.
        spaces: All spaces by their numbers.
    """

    wheel: tables.Wheel
    made_us: int
    plan: Plan
    placements: tuple[tables.WheelPlacement, ...]
    stages: tuple[tables.StageLived, ...]
    weighed: tuple[Weighed, ...]
    spaces: Mapping[int, tables.Space]

    @property
    def key(self) -> Hashable:
        """What wheels share that lived the same life, were weighed alike and are planned alike."""
        return (
            self.plan,
            self.made_us,
            (self.wheel.diameter_mm, self.wheel.height_mm, self.wheel.mass_g),
            tuple((each.space_id, each.from_us, each.to_us) for each in self.placements),
            tuple((each.stage, each.from_us, each.to_us) for each in self.stages),
            tuple((each.time_us, each.grams) for each in self.weighed),
        )

    def spans(self, from_us: int, to_us: int) -> list[Span]:
        """Its life from one time to another, cut at moves and at wrapping."""
        return spans(self.placements, self.stages, self.plan, from_us, to_us)

    def cylinder(self, about_c: float) -> Cylinder:
        """The wheel as a solid, at about that temperature."""
        return cylinder_of(self.wheel, self.plan, about_c)

    def start_c(self, run: Run) -> float:
        """How warm it is taken to be at the start of a run with no air known before. [°C]

        One that has just come from elsewhere is as warm as the stage asked in which it was
        there, so that a wheel fresh from a warm kitchen is not thought to sweat in a cold box;
        any other is as warm as its air.
        """
        first = run.phases[0]
        began_us, came_us = run.from_us, first.span.from_us
        just_came = any(each.from_us == came_us for each in self.placements) and any(
            each.from_us < came_us for each in self.placements
        )
        asked = {stage.slug: stage.target.temperature_c for stage in self.plan.stages}
        if just_came and began_us - came_us <= _JUST_CAME_US:
            for lived in self.stages:
                there = lived.from_us < came_us and (lived.to_us is None or came_us <= lived.to_us)
                range_c = asked.get(lived.stage) if there else None
                if range_c is not None:
                    return (range_c.low + range_c.high) / 2
        early = slice(0, int(np.searchsorted(first.times_us, began_us + HOLE_US)))
        return float(first.air_c[early].mean())


def life_of(
    session: Session, plans: Plans, wheel_id: int, spaces: Mapping[int, tables.Space]
) -> Life | None:
    """The life of a wheel; None when its plan is not here.

    Raises:
        UnknownError: There is no such wheel.
    """
    batch = wheels.batch_of(session, wheel_id)
    plan = plan_for(session, plans, batch)
    if plan is None:
        return None
    return Life(
        wheel=wheels.wheel(session, wheel_id),
        made_us=batch.made_us,
        plan=plan,
        placements=tuple(wheels.placements(session, wheel_id)),
        stages=tuple(wheels.stages(session, wheel_id)),
        weighed=weighed_of(session, wheel_id),
        spaces=spaces,
    )


def spaces_by_id(session: Session) -> dict[int, tables.Space]:
    """The spaces by their numbers."""
    return {each.id: each for each in places.spaces(session) if each.id is not None}


def weighed_of(session: Session, wheel_id: int) -> tuple[Weighed, ...]:
    """The weighings of a wheel that hold, oldest first."""
    return tuple(
        Weighed(each.id, each.time_us, each.mass_g)
        for each in weighings.weighings(session, wheel_id)
        if each.id is not None
    )
