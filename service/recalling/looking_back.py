"""From one observation back to the days before it, and to the same days of wheels alike."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from service.ageing.lookback import (
    FEWEST,
    Comparison,
    Feature,
    Sight,
    Value,
    apart,
    comparable,
    compare,
)
from service.ageing.noted import Condition, seen_in
from service.ageing.work import Work
from service.clock import DAY_US, HOUR_US
from service.errors import UnknownError
from service.judging import Plans
from service.living.air import LivedAir
from service.living.climate import climate
from service.living.life import life_of, spaces_by_id
from service.living.memory import Memory
from service.recalling.doors import Doors
from service.recalling.sights import Kept, kept_wheels, regular_sights, sights_of
from service.recalling.tracks import Track, since_turned, track_of
from service.science.band import Band, around
from service.science.film import WetSpell
from service.store import care, facts, observations
from service.store.ageing_tables import Observation
from service.store.database import Session

WINDOWS_D: Final = (3, 7, 14)
"""Windows that are offered. [d]"""
USUAL_D: Final = 7
_SEED: Final = 20_261_125
"""Deals the labels, the same at every look, so that a page does not change by itself."""
_DONE: Final = "done"


@dataclass(frozen=True, slots=True, eq=False)
class LookBack:
    """The days before an observation, beside those before others.

    Attributes:
        observation: The observation.
        sight: Its wheel, stage and age, with what it tells.
        days: Length of the window. [d]
        from_us: Where the window begins. [µs UTC]
        values: What is known of the window.
        wet_band_h: Band of its wet hours; None where they are not known. [h]
        seen: The conditions that were there.
        comparison: Windows with and without the condition; None where none was there.
    """

    observation: Observation
    sight: Sight
    days: int
    from_us: int
    values: Mapping[Feature, Value]
    wet_band_h: Band | None
    seen: tuple[Condition, ...]
    comparison: Comparison | None


def look_back(
    session: Session,
    plans: Plans,
    observation_id: int,
    now_us: int,
    memory: Memory,
    days: int = USUAL_D,
    condition: Condition | None = None,
) -> LookBack:
    """Look back from an observation.

    Args:
        session: Only read from.
        plans: The plans by slug.
        observation_id: The observation.
        now_us: The present. [µs UTC]
        memory: Keeps what holds.
        days: Length of the window. [d]
        condition: Which of the conditions that were there; the first unless given.

    Raises:
        UnknownError: There is no such observation that holds, its plan is not here, or the
            condition was not there.
    """
    row = observations.observation(session, observation_id)
    life = life_of(session, plans, row.wheel_id, spaces_by_id(session))
    if life is None:
        raise UnknownError("the plan of that wheel is not here, so nothing compares with it")
    window_us = days * DAY_US
    kept = kept_wheels(session, plans, life.plan.family)
    sights = sights_of(session, kept, observation_id)
    this = next(each for each in sights if each.number == observation_id)
    seen = tuple(seen_in(this.found))
    if condition is not None and condition not in seen:
        raise UnknownError(f"{condition} was not seen in observation {observation_id}")
    chosen = condition or (seen[0] if seen else None)
    beside = [this] if chosen is None else _beside(this, kept, sights, chosen, window_us, now_us)
    # One end for all, whatever is compared, so that wheels in one space share its air.
    until_us = max(each.time_us for each in (*sights, *beside))
    windows = _windows(session, memory, kept, beside, window_us, until_us)
    return LookBack(
        observation=row,
        sight=this,
        days=days,
        from_us=row.time_us - window_us,
        values=windows[0][1],
        wet_band_h=_wet_band_h(session, plans, row, windows[0][1], window_us, now_us, memory),
        seen=seen,
        comparison=compare(chosen, windows, window_us, np.random.default_rng(_SEED))
        if chosen is not None
        else None,
    )


def _beside(
    this: Sight,
    kept: Mapping[int, Kept],
    sights: Sequence[Sight],
    condition: Condition,
    window_us: int,
    now_us: int,
) -> list[Sight]:
    """The looks that tell of the condition, `this` first; regular times where too few do."""
    alike = [
        each
        for each in sights
        if condition in each.found and each.number != this.number and comparable(this, each)
    ]
    chosen = apart(this, alike, window_us)
    if sum(not each.found[condition] for each in chosen) < FEWEST:
        spare = regular_sights(this, kept, sights, condition, window_us, now_us)
        chosen += [each for each in spare if _is_free(each, chosen, window_us)]
    return chosen


def _is_free(sight: Sight, chosen: Iterable[Sight], window_us: int) -> bool:
    return all(
        each.wheel != sight.wheel or abs(each.time_us - sight.time_us) >= window_us
        for each in chosen
    )


def _windows(
    session: Session,
    memory: Memory,
    kept: Mapping[int, Kept],
    sights: Sequence[Sight],
    window_us: int,
    until_us: int,
) -> list[tuple[Sight, dict[Feature, Value]]]:
    """What is known of the days before each look, in their order."""
    air = LivedAir(session, memory, until_us)
    doors = Doors(session, memory, spaces_by_id(session), air.stamp, until_us)
    tracks = {
        number: _track(session, memory, kept[number], air, doors, until_us)
        for number in {each.wheel for each in sights}
    }
    turned: dict[int, list[int]] = {number: [] for number in tracks}
    for record in care.records(session):
        if record.wheel_id in turned and (record.work, record.outcome) == (Work.TURN, _DONE):
            turned[record.wheel_id].append(record.time_us)
    return [
        (
            each,
            tracks[each.wheel].values(each.time_us, window_us)
            | {Feature.SINCE_TURNED: since_turned(turned[each.wheel], each.time_us)},
        )
        for each in sights
    ]


def _track(
    session: Session, memory: Memory, kept: Kept, air: LivedAir, doors: Doors, until_us: int
) -> Track:
    """The track of a wheel; wheels that lived alike share one."""
    life, wheel = kept.life, kept.life.wheel
    spaces = {each.space_id for each in life.placements}
    around_them = spaces | {life.spaces[each].parent_id or each for each in spaces}
    key = (
        air.stamp,
        until_us,
        # A reading that comes late makes another track.
        facts.count_readings(session, around_them, 0, until_us + 1),
        (life.plan, wheel.diameter_mm, wheel.height_mm, wheel.mass_g, life.made_us),
        tuple((each.time_us, each.grams) for each in life.weighed),
        tuple((each.space_id, each.from_us, each.to_us) for each in life.placements),
        kept.stages,
    )
    return memory.recall(
        "tracks", key, lambda: track_of(life, kept.stages, air, doors, memory, until_us)
    )


def _wet_band_h(
    session: Session,
    plans: Plans,
    row: Observation,
    values: Mapping[Feature, Value],
    window_us: int,
    now_us: int,
    memory: Memory,
) -> Band | None:
    """The band of the wet hours of the window."""
    told = values[Feature.WET].amount
    lived = climate(session, plans, row.wheel_id, now_us, memory)
    if told is None or lived.bands is None or not lived.bands.of.moved:
        return None

    def hours(spells: Iterable[WetSpell]) -> float:
        from_us = row.time_us - window_us
        inside = (min(each.to_us, row.time_us) - max(each.from_us, from_us) for each in spells)
        return sum(max(0, each) for each in inside) / HOUR_US

    others = [(hours(one), hours(other)) for one, other in lived.bands.of.moved]
    found = around(told, others, hours(lived.bands.of.best))
    return replace(found, high=min(found.high, window_us / HOUR_US))
