"""From stored wheels to the values on which the rules of care and gates work.

Instants become days of the household's calendar in this room and nowhere else.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.ageing.plans import Plan, Stage
from service.ageing.tended import Seen, StageDays, WheelDays
from service.ageing.work import Work
from service.clock import zone_or_utc
from service.judging import Plans, plan_for
from service.store import care, observations, places, wheels
from service.store.database import Session
from service.store.tables import Batch, SpaceKind, StageLived, Wheel, WheelPlacement
from service.tending.days import Zones, day_of
from service.tending.sweat import sweat_days

BOX_WORKS: Final = frozenset({Work.AIR_BOX, Work.WIPE_LID})
"""Care of a box; all other care is of each wheel by itself."""


@dataclass(frozen=True, slots=True)
class Tended:
    """A wheel that has not ended, with what care needs to know of it.

    Attributes:
        id: Its number.
        label: Its own name.
        batch_id: Of its batch.
        batch: The batch's name.
        plan: Its plan; None when it is not here.
        stage: The stage that it lives, if any.
        stage_from_us: Since when. [µs UTC]
        space_id: Where it is.
        days: What the rules work on.
    """

    id: int
    label: str
    batch_id: int
    batch: str
    plan: Plan | None
    stage: Stage | None
    stage_from_us: int | None
    space_id: int | None
    days: WheelDays

    @property
    def next_stage(self) -> Stage | None:
        """The stage that follows; None after the last."""
        if self.plan is None or self.stage is None:
            return None
        slugs = [stage.slug for stage in self.plan.stages]
        following = slugs.index(self.stage.slug) + 1
        return self.plan.stages[following] if following < len(slugs) else None


def zones_of(session: Session) -> Zones:
    """The household's zones; UTC before set-up."""
    site = places.the_site(session)
    return Zones(
        now=zone_or_utc(site.time_zone if site else "UTC"),
        held=tuple(
            (row.until_us, zone_or_utc(row.time_zone)) for row in places.zones_held(session)
        ),
    )


def living_in(session: Session, space_id: int, at_us: int) -> tuple[int, ...]:
    """The wheels in a space at a time that have not ended."""
    return tuple(
        stay.wheel_id
        for stay in wheels.placements_in(session, space_id, at_us, at_us)
        if (ended_us := wheels.wheel(session, stay.wheel_id).ended_us) is None or ended_us > at_us
    )


def tended(session: Session, plans: Plans, now_us: int) -> tuple[Tended, ...]:
    """Every wheel that has not ended at a time [µs UTC], the oldest batch first."""
    look = _Look(session, plans, now_us)
    return tuple(
        look.at(wheel, batch) for wheel, batch in wheels.wheels(session) if wheel.ended_us is None
    )


class _Look:
    """Everything that is asked once for all wheels."""

    def __init__(self, session: Session, plans: Plans, now_us: int) -> None:
        self._session = session
        self._plans = plans
        self._now_us = now_us
        self._zones = zones_of(session)
        self._boxes = {space.id for space in places.spaces(session) if space.kind == SpaceKind.BOX}
        self._stays = {
            stay.wheel_id: stay for stay in care.all_placements(session) if _covers(stay, now_us)
        }
        self._sweat_days = sweat_days(session, self._stays.values(), now_us, self._zones)
        self._seen = _seen(session, now_us, self._zones)

    def at(self, wheel: Wheel, batch: Batch) -> Tended:
        """One wheel."""
        assert wheel.id is not None  # it is stored
        plan = plan_for(self._session, self._plans, batch)
        lived = next(
            (
                each
                for each in wheels.stages(self._session, wheel.id)
                if _covers(each, self._now_us)
            ),
            None,
        )
        stage = next(
            (each for each in plan.stages if lived and each.slug == lived.stage)
            if plan
            else iter(()),
            None,
        )
        from_us = lived.from_us if lived and stage else None
        stay = self._stays.get(wheel.id)
        space_id = stay.space_id if stay else None
        return Tended(
            id=wheel.id,
            label=wheel.label,
            batch_id=wheel.batch_id,
            batch=batch.name,
            plan=plan,
            stage=stage,
            stage_from_us=from_us,
            space_id=space_id,
            days=WheelDays(
                number=wheel.id,
                made=day_of(batch.made_us, self._zones),
                stage=StageDays(stage, day_of(from_us, self._zones))
                if stage is not None and from_us is not None
                else None,
                space=space_id,
                in_box=space_id in self._boxes,
                seen=tuple(self._seen.get(wheel.id, ())),
                sweat_day=self._sweat_days.get(wheel.id),
                space_since=day_of(stay.from_us, self._zones) if stay else None,
            ),
        )


def _seen(session: Session, now_us: int, zones: Zones) -> dict[int, Sequence[Seen]]:
    """What was seen of each wheel up to now, oldest first."""
    wheel_ids = [wheel.id for wheel, _ in wheels.wheels(session) if wheel.id is not None]
    found: dict[int, list[Seen]] = {}
    for row in observations.of_wheels(session, wheel_ids):
        if row.time_us > now_us:
            continue
        look = observations.look_of(row)
        found.setdefault(row.wheel_id, []).append(
            Seen(
                day=day_of(row.time_us, zones),
                rind=look.rind,
                coat_pct=look.coat_pct,
                firmness=look.firmness,
                order=row.time_us,
            )
        )
    return dict(found)


def _covers(span: WheelPlacement | StageLived, at_us: int) -> bool:
    return span.from_us <= at_us and (span.to_us is None or at_us < span.to_us)
