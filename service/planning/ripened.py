"""How far a wheel has ripened since its plan began to count, for each activation energy.

The temperature of the wheel comes from what it lived through (`service.living`); where its air
was not known, before the first reading and since the last, it is taken to have been as warm as
its stage asks, or as its place was of late, and the width of that is in the band.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import Final

import numpy as np

from service.ageing.courses import Aged
from service.ageing.plans import Plan
from service.ageing.values import Range
from service.clock import DAY_US, HOUR_US
from service.judging import Plans
from service.living.climate import climate
from service.living.life import Life, life_of, spaces_by_id
from service.living.memory import Memory
from service.planning.recent import Recent, as_asked
from service.science.ripening import Activation, ripening_rate, segment_days
from service.science.signals import FloatArray, IntArray
from service.store import facts
from service.store.database import Session
from service.store.tables import StageLived

_ANEW_US: Final = 6 * HOUR_US
"""A wheel's past is worked out anew four times a day; meanwhile its place tells. Our choice."""
_THIN_US: Final = HOUR_US // 4
_FEWEST: Final = 2


@dataclass(frozen=True, slots=True)
class Ripened:
    """Equivalent age of a wheel since the count began.

    Attributes:
        aged: For the plan's activation energy, and then for others across its band.
        begun_us: When the count began; None when it has not. [µs UTC]
        unknown_days: The days since then whose temperature nobody measured.
    """

    aged: tuple[Aged, ...]
    begun_us: int | None
    unknown_days: float


@dataclass(frozen=True, slots=True)
class _Past:
    """The mean temperature that a wheel had, thinned, with its band."""

    times_us: IntArray
    low_c: FloatArray
    mean_c: FloatArray
    high_c: FloatArray


def ripened(
    session: Session, plans: Plans, life: Life, now_us: int, here: Recent, memory: Memory
) -> Ripened:
    """How far a wheel has ripened up to now.

    Args:
        session: The store.
        plans: The plans by slug.
        life: The wheel.
        now_us: Up to when. [µs UTC]
        here: How warm its place is of late.
        memory: Keeps what holds.
    """
    energy = life.plan.activation_energy_kj_per_mol
    energies = Activation(energy.value, energy.low, energy.high).across()
    begun_us = counted_from_us(life.plan, life.stages)
    if begun_us is None or begun_us >= now_us:
        return Ripened(tuple(Aged(each, 0.0, 0.0, 0.0) for each in energies), None, 0.0)
    past = _past(session, plans, life, now_us, memory)
    unknown = _unknown(life, past, begun_us, now_us, here)
    aged = tuple(_aged(life.plan, past, begun_us, unknown, each) for each in energies)
    days = sum(to_us - from_us for from_us, to_us, told in unknown if not told.days) / DAY_US
    return Ripened(aged, begun_us, days)


def counted_from_us(plan: Plan, stages: Sequence[StageLived]) -> int | None:
    """When a wheel first lived the stage from which the plan counts, or a later one."""
    slugs = [stage.slug for stage in plan.stages]
    counted = set(slugs[slugs.index(plan.readiness.from_stage) :])
    return min((each.from_us for each in stages if each.stage in counted), default=None)


def lives(session: Session, plans: Plans, wheel_ids: Sequence[int]) -> dict[int, Life]:
    """The lives of wheels whose plans are here, by their numbers."""
    spaces = spaces_by_id(session)
    found = {each: life_of(session, plans, each, spaces) for each in wheel_ids}
    return {number: life for number, life in found.items() if life is not None}


def _past(session: Session, plans: Plans, life: Life, now_us: int, memory: Memory) -> _Past:
    # What is entered of other wheels changes nothing of its past; its own life is in the key.
    stamp = facts.stamp(session, but=facts.LIVES)
    key = ("past", stamp, now_us // _ANEW_US, life.key)
    return memory.recall("plan", key, partial(_worked_out, session, plans, life, now_us, memory))


def _worked_out(session: Session, plans: Plans, life: Life, now_us: int, memory: Memory) -> _Past:
    """What `service.living` tells of it, so that planner and wheel page tell one age."""
    assert life.wheel.id is not None  # it comes from the store
    told = climate(session, plans, life.wheel.id, now_us, memory)
    if told.lived is None or told.bands is None:
        nothing = np.empty(0)
        return _Past(np.empty(0, dtype=np.int64), nothing, nothing, nothing)
    times_us, mean_c = told.lived.times_us, told.lived.mean_c
    _, first = np.unique(times_us // _THIN_US, return_index=True)
    kept = np.union1d(first, [times_us.size - 1])
    low_c, high_c = told.bands.column("mean_c", times_us[kept], mean_c[kept])
    return _Past(times_us[kept], low_c, mean_c[kept], high_c)


def _unknown(
    life: Life, past: _Past, begun_us: int, now_us: int, here: Recent
) -> list[tuple[int, int, Recent]]:
    """The times since the count began that the past leaves open, each with what is assumed."""
    reference_c = life.plan.reference_temperature_c
    first_us = int(past.times_us[0]) if past.times_us.size >= _FEWEST else now_us
    last_us = int(past.times_us[-1]) if past.times_us.size >= _FEWEST else now_us
    asked: dict[str, Range | None] = {
        stage.slug: stage.target.temperature_c for stage in life.plan.stages
    }
    found = []
    edges = sorted({begun_us, first_us, *(each.from_us for each in life.stages)})
    for start, end in pairwise(each for each in edges if begun_us <= each <= first_us):
        stage = next((each.stage for each in reversed(life.stages) if each.from_us <= start), "")
        found.append((start, end, as_asked(asked.get(stage), reference_c)))
    since_us = max(last_us, begun_us)
    if since_us < now_us:
        found.append((since_us, now_us, here))
    return found


def _aged(
    plan: Plan,
    past: _Past,
    begun_us: int,
    unknown: Sequence[tuple[int, int, Recent]],
    kj_per_mol: float,
) -> Aged:
    reference_c = plan.reference_temperature_c
    low = value = high = 0.0
    if past.times_us.size >= _FEWEST and past.times_us[-1] > begun_us:
        from_us = max(begun_us, int(past.times_us[0]))
        after = past.times_us > from_us
        times_us = np.concatenate([[from_us], past.times_us[after]])
        low, value, high = (
            float(
                segment_days(
                    times_us,
                    np.concatenate([[np.interp(from_us, past.times_us, each)], each[after]]),
                    reference_c,
                    kj_per_mol,
                ).sum()
            )
            for each in (past.low_c, past.mean_c, past.high_c)
        )
    for from_us, to_us, told in unknown:
        days = (to_us - from_us) / DAY_US
        at = told.air
        rates = [
            ripening_rate(at.mean_c + width * at.spread_k, reference_c, kj_per_mol)
            for width in (-1.0, 0.0, 1.0)
        ]
        low, value, high = low + days * rates[0], value + days * rates[1], high + days * rates[2]
    return Aged(kj_per_mol, low, value, high)
