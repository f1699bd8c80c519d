"""Looks at wheels as the rules of looking back ask for them, from stored facts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from service.ageing.lookback import Sight, comparable
from service.ageing.noted import Condition, Told, conditions, low_losses
from service.ageing.seen import Look
from service.ageing.work import Counted
from service.clock import DAY_US
from service.judging import Plans, StageSpan, stage_spans
from service.living.life import Life, life_of, spaces_by_id
from service.store import observations, wheels
from service.store.ageing_tables import Observation
from service.store.database import Session

_LEAST_BETWEEN_US: Final = 2 * DAY_US
"""Two weighings closer than this say nothing of a loss a day. [µs] Our choice: the scale's own
gram would count for too much."""


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """A wheel with its life and its stages."""

    life: Life
    stages: tuple[StageSpan, ...]

    @property
    def number(self) -> int:
        """The wheel's number."""
        assert self.life.wheel.id is not None  # it was stored
        return self.life.wheel.id

    def stage_at(self, time_us: int) -> StageSpan | None:
        """The stage that it lived at an instant."""
        for each in reversed(self.stages):
            if each.from_us <= time_us and (each.to_us is None or time_us < each.to_us):
                return each
        return None

    def space_at(self, time_us: int) -> int | None:
        """The space in which it was at an instant."""
        for each in reversed(self.life.placements):
            if each.from_us <= time_us and (each.to_us is None or time_us < each.to_us):
                return each.space_id
        return None


def kept_wheels(session: Session, plans: Plans, family: str) -> dict[int, Kept]:
    """The wheels of one family of plans, by their numbers."""
    spaces = spaces_by_id(session)
    found: dict[int, Kept] = {}
    for wheel, _ in wheels.wheels(session):
        assert wheel.id is not None
        life = life_of(session, plans, wheel.id, spaces)
        if life is not None and life.plan.family == family:
            found[wheel.id] = Kept(life, stage_spans(session, plans, wheel.id))
    return found


def sights_of(session: Session, kept: Mapping[int, Kept], this_number: int) -> list[Sight]:
    """Every look at these wheels; what counts as little loss is told by those like `this`."""
    rows = observations.of_wheels(session, list(kept))
    looks = {_id(row): observations.look_of(row) for row in rows}
    bare = {_id(row): _sight(row, kept[row.wheel_id], {}) for row in rows}
    this = bare[this_number]
    rates = {
        _id(row): rate
        for row in rows
        if comparable(this, bare[_id(row)])
        and (rate := _loss_rate(row, kept[row.wheel_id].life)) is not None
    }
    little = low_losses(rates)
    return [
        _sight(
            row,
            kept[row.wheel_id],
            conditions(
                Told(
                    look=looks[_id(row)],
                    words=row.words,
                    coat_late=_coat_late(looks[_id(row)], kept[row.wheel_id], row.time_us),
                    low_loss=little.get(_id(row)),
                )
            ),
        )
        for row in rows
    ]


def regular_sights(
    this: Sight,
    kept: Mapping[int, Kept],
    sights: Sequence[Sight],
    condition: Condition,
    window_us: int,
    until_us: int,
) -> list[Sight]:
    """Regular times of wheels alike about which nobody noted the condition.

    They stand a window apart from each other, and from every look at the same wheel in which
    it was there.
    """
    found: list[Sight] = []
    for each in kept.values():
        there = [
            one.time_us
            for one in sights
            if one.wheel == each.number and one.found.get(condition, False)
        ]
        first_us = each.life.made_us + window_us
        end_us = min(until_us, each.life.wheel.ended_us or until_us)
        for time_us in range(first_us, end_us + 1, window_us):
            free = all(abs(time_us - other) >= window_us for other in there)
            sight = _at(each, time_us, None, {condition: False})
            if free and comparable(this, sight):
                found.append(sight)
    return found


def _sight(row: Observation, kept: Kept, found: Mapping[Condition, bool]) -> Sight:
    return _at(kept, row.time_us, _id(row), found)


def _at(kept: Kept, time_us: int, number: int | None, found: Mapping[Condition, bool]) -> Sight:
    stage = kept.stage_at(time_us)
    return Sight(
        number=number,
        wheel=kept.number,
        space=kept.space_at(time_us),
        time_us=time_us,
        family=kept.life.plan.family,
        stage=stage.stage.slug if stage is not None else None,
        age_d=(time_us - kept.life.made_us) / DAY_US,
        found=found,
    )


def _loss_rate(row: Observation, life: Life) -> float | None:
    """Part of the mass when new lost a day since the weighing before; None if not known. [1/d]"""
    here = next((each for each in life.weighed if each.id == row.weighing_id), None)
    if here is None:
        return None
    before = [each for each in life.weighed if here.time_us - each.time_us >= _LEAST_BETWEEN_US]
    if not before:
        return None
    days = (here.time_us - before[-1].time_us) / DAY_US
    return (before[-1].grams - here.grams) / life.wheel.mass_g / days


def _coat_late(look: Look, kept: Kept, time_us: int) -> bool | None:
    """Whether the coat is still incomplete when its gate was expected to open."""
    stage = kept.stage_at(time_us)
    if stage is None or look.coat_pct is None or stage.stage.gate.coat_pct is None:
        return None
    gate = stage.stage.gate
    counted_us = kept.life.made_us if gate.days.counted is Counted.MAKE else stage.from_us
    if time_us < counted_us + gate.days.expected * DAY_US:
        return None
    return look.coat_pct < stage.stage.gate.coat_pct


def _id(row: Observation) -> int:
    assert row.id is not None  # it was stored
    return row.id
