"""Alarms of sweat: on wheels, soon on wheels, and beneath the lid of a box.

Worked out at each step of twenty minutes of the readings' own time from the surfaces as they
were then (`service.living`). Each is a little physics, so of a longer history only the last
steps are taken: what sweated weeks ago stands on the wheel's own page. While a sensor is stuck
or wet nothing is known of what hangs on it, and an alarm that is raised stays so.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from service.ageing.ahead import WET
from service.ageing.ahead_notices import (
    SweatFacts,
    lid_dry,
    lid_sweats,
    warning_of_sweat_over,
    wheels_dry,
    wheels_sweat,
    wheels_will_sweat,
)
from service.ageing.lifecycle import Priority
from service.behaving.calm import STEP_US
from service.judging import Plans
from service.judging.counted import not_counted
from service.living.memory import Memory
from service.living.now import LidNow, SurfaceNow, lids_now, surfaces_now
from service.store import wheels
from service.store.conditions import Watched
from service.store.database import Session
from service.store.sweat_spans import WHEEL_SWEAT
from service.store.tables import Space, SpaceKind
from service.watch.air import wheel_name
from service.watch.stepping import WARNING, Look, Sighting, Stepper
from service.watch.turns import Evaluated, Reader

WHEEL, SOON, LID = WHEEL_SWEAT, "wheel_sweat_ahead", "lid_sweat"
KINDS: Final = (WHEEL, SOON, LID)
LOOK_BACK_US: Final = 2 * STEP_US
"""How far back from the newest reading steps are taken: enough to see a wet wheel twice."""
_SOON_H: Final = 2.0
"""Sweat that is expected within this time is told. [h] Our choice."""


@dataclass(frozen=True, slots=True)
class Physics:
    """What works out surfaces: the plans, and a memory of what it worked out before."""

    plans: Plans
    memory: Memory


def evaluate(
    session: Session,
    physics: Physics,
    space: Space,
    watched: Mapping[str, Watched],
    look: Look,
    reader: Reader,
) -> list[Evaluated]:
    """Take all steps that are due; what is news of it.

    Args:
        session: Only read from.
        physics: What works out surfaces.
        space: The space.
        watched: Its conditions, one of each of `KINDS`.
        look: What is known of its readings.
        reader: How the maker reads times and temperatures.
    """
    assert space.id is not None
    wet = Stepper(watched[WHEEL], WET, Priority.MEDIUM)
    soon = Stepper(watched[SOON], WET, WARNING)
    lid = Stepper(watched[LID], WET, WARNING)
    for at_us in look.steps(min(one.evaluated_us for one in watched.values())):
        if not_counted(session, space.id, at_us):
            for stepper in (wet, soon, lid):
                stepper.hold(at_us)
            continue
        words = _Words(session, space, reader, at_us)
        surfaces = [
            each
            for each in surfaces_now(session, physics.plans, at_us, physics.memory)
            if each.space_id == space.id
        ]
        now = reader.moment(at_us)
        wet.take(at_us, words.wet(surfaces), wheels_dry(space.name, now))
        over = warning_of_sweat_over(space.name, now)
        soon.take(at_us, words.soon(surfaces), over, taken_over=wet.active)
        lids = [
            each
            for each in lids_now(session, at_us, physics.memory)
            if each.space_id == space.id and each.wet_since_us is not None
        ]
        if space.parent_id is not None and not_counted(session, space.parent_id, at_us):
            lid.hold(at_us)
        else:
            lid.take(at_us, words.lid(lids[0]) if lids else None, lid_dry(space.name, now))
    found = []
    for stepper in (wet, soon, lid):
        if look.removed_us is not None:
            stepper.end(look.removed_us)
        found.append(stepper.evaluated())
    return [one for one in found if one.is_news]


class _Words:
    """What is seen at a step, in words."""

    def __init__(self, session: Session, space: Space, reader: Reader, at_us: int) -> None:
        self._session = session
        self._space = space
        self._reader = reader
        self._at_us = at_us

    def wet(self, surfaces: list[SurfaceNow]) -> Sighting | None:
        """Wheels that are wet, the wettest speaking for all."""
        seen = [each for each in surfaces if each.wet_since_us is not None]
        if not seen:
            return None
        worst = max(seen, key=lambda each: each.film_g_m2)
        since_us = min(each.wet_since_us for each in seen if each.wet_since_us is not None)
        facts = self._facts(worst, seen, since=self._reader.moment(since_us))
        return Sighting(tuple(facts.wheels), wheels_sweat(facts), None, worst.film_g_m2)

    def soon(self, surfaces: list[SurfaceNow]) -> Sighting | None:
        """Wheels that will be wet before long, the first of them speaking for all."""
        seen = [
            (each.sweats_in_h, each)
            for each in surfaces
            if each.wet_since_us is None
            and each.sweats_in_h is not None
            and each.sweats_in_h <= _SOON_H
        ]
        if not seen:
            return None
        in_h, first = min(seen, key=lambda pair: pair[0])
        facts = self._facts(first, [each for _, each in seen], in_h=in_h)
        return Sighting(tuple(facts.wheels), wheels_will_sweat(facts), None, first.film_g_m2)

    def lid(self, seen: LidNow) -> Sighting:
        """A lid with water beneath it."""
        assert seen.wet_since_us is not None
        named = tuple(
            wheel_name(self._session, placement.wheel_id)
            for placement in wheels.placements_in(
                self._session, seen.space_id, self._at_us, self._at_us + 1
            )
        )
        facts = SweatFacts(
            space=self._space.name,
            wheels=named,
            surface_c=seen.lid_c,
            dew_point_c=seen.dew_point_c,
            film_g_m2=seen.film_g_m2,
            since=self._reader.moment(seen.wet_since_us),
            box=True,
            fahrenheit=self._reader.fahrenheit,
            surface_band_c=seen.band.lid_c,
            film_band_g_m2=seen.band.film_g_m2,
        )
        return Sighting(named, lid_sweats(facts), None, seen.film_g_m2)

    def _facts(
        self,
        worst: SurfaceNow,
        seen: list[SurfaceNow],
        *,
        since: str = "",
        in_h: float | None = None,
    ) -> SweatFacts:
        named = tuple(
            wheel_name(self._session, wheel_id) for each in seen for wheel_id in each.wheel_ids
        )
        return SweatFacts(
            space=self._space.name,
            wheels=named,
            surface_c=worst.surface_c,
            dew_point_c=worst.dew_point_c,
            film_g_m2=worst.film_g_m2,
            since=since,
            in_h=in_h,
            box=self._space.kind == SpaceKind.BOX,
            fahrenheit=self._reader.fahrenheit,
            surface_band_c=worst.band.surface_c,
            film_band_g_m2=worst.band.film_g_m2,
            between_h=worst.sweats_between_h,
        )
