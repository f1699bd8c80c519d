"""What is ahead of each wheel: when to wrap, move and eat it, and the kitchen fridge by then."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Final

from service.ageing.coming import StageAhead, Window, one_day, stages_ahead
from service.ageing.feel import bounds, feels, in_order, usual_wish
from service.ageing.kitchen import KitchenStay, first_too_full, footprint_cm2
from service.ageing.moving import Question, if_warmer, moving
from service.ageing.plans import Plan
from service.ageing.work import Firmness
from service.judging import Plans
from service.living.life import Life
from service.living.memory import Memory
from service.planning.fridges import Fridges, Kept, kitchens
from service.planning.recent import Recent, as_asked, recent
from service.planning.ripened import Ripened, lives, ripened
from service.planning.values import KitchenAhead, PlanAhead, Wish
from service.store import places, wheels
from service.store.database import Session
from service.store.tables import Batch, Space, Wheel
from service.tending.days import day_of
from service.tending.facts import zones_of

ONE_KELVIN: Final = 1.0


def plan_ahead(
    session: Session,
    plans: Plans,
    wheel_id: int,
    now_us: int,
    memory: Memory,
    wish: Wish | None = None,
    warmer_k: float = ONE_KELVIN,
) -> PlanAhead:
    """What is ahead of one wheel.

    Args:
        session: The store.
        plans: The plans by slug.
        wheel_id: The wheel.
        now_us: Now. [µs UTC]
        memory: Keeps what holds.
        wish: What is wanted of it instead of what the maker has said.
        warmer_k: How much warmer the cave is thought to be. [K]

    Raises:
        UnknownError: There is no such wheel.
        OutOfRangeError: The wished day is past, or the plan does not tell of that firmness.
    """
    wheel, batch = wheels.wheel(session, wheel_id), wheels.batch_of(session, wheel_id)
    return _Planner(session, plans, now_us, memory).of(wheel, batch, wish, warmer_k)


def plans_ahead(
    session: Session, plans: Plans, now_us: int, memory: Memory
) -> tuple[PlanAhead, ...]:
    """What is ahead of every wheel that is still here, the oldest batch first."""
    planner = _Planner(session, plans, now_us, memory)
    return tuple(
        planner.of(wheel, batch, None, ONE_KELVIN)
        for wheel, batch in wheels.wheels(session)
        if wheel.ended_us is None
    )


def kitchens_ahead(
    session: Session, ahead: Sequence[PlanAhead], today: date
) -> tuple[KitchenAhead, ...]:
    """Each kitchen fridge on the days to come, by when each wheel is expected to be in it."""
    return tuple(_kitchen_ahead(space, ahead, today) for space in kitchens(places.spaces(session)))


def _kitchen_ahead(space: Space, ahead: Sequence[PlanAhead], today: date) -> KitchenAhead:
    stays = []
    for each in ahead:
        moves = each.moving
        if each.kitchen_id != space.id:
            continue
        from_day = moves.move.expected if moves and moves.move else today
        until = moves.eat_until.expected if moves else date.max
        area = footprint_cm2(each.diameter_mm)
        if each.plan is not None:
            stays.append(KitchenStay(each.wheel_id, from_day, until, area, each.plan.smell))
    return KitchenAhead(space, tuple(stays), first_too_full(stays, space.room_cm2, today))


class _Planner:
    """What all wheels of one question share."""

    def __init__(self, session: Session, plans: Plans, now_us: int, memory: Memory) -> None:
        self._session, self._plans, self._now_us, self._memory = session, plans, now_us, memory
        self._zones = zones_of(session)
        self._today = day_of(now_us, self._zones)
        self._recent: dict[int, Recent | None] = {}
        self._fridges = Fridges(session, now_us, self._warm)
        self._ripened: dict[tuple[object, ...], Ripened] = {}

    def of(self, wheel: Wheel, batch: Batch, wish: Wish | None, warmer_k: float) -> PlanAhead:
        """What is ahead of a wheel."""
        assert wheel.id is not None  # it comes from the store
        life = lives(self._session, self._plans, [wheel.id]).get(wheel.id)
        space_id = self._space(wheel.id)
        given = wish or _wish(wheel)
        standing = self._standing(wheel, batch, life, space_id, given)
        why_not = _why_not(wheel, life, space_id)
        if why_not or life is None or space_id is None:
            return replace(standing, notes=(why_not,))
        kept = self._fridges.planned(life.plan, wheel.diameter_mm, space_id)
        cave, fridge = self._places(life, space_id, kept, in_kitchen=standing.in_kitchen)
        key = (life.key, space_id)
        if key not in self._ripened:
            self._ripened[key] = ripened(
                self._session, self._plans, life, self._now_us, cave, self._memory
            )
        told = self._ripened[key]
        notes: list[str] = []
        firmness, day = self._checked(
            life.plan, given, told.aged[0].days, notes, strict=wish is not None
        )
        question = Question(
            plan=life.plan,
            today=self._today,
            aged=told.aged,
            begins=self._begins(life.plan, standing.ahead, told),
            ahead=standing.ahead,
            cave=cave.air,
            fridge=fridge.air,
            in_kitchen=standing.in_kitchen,
        )
        found = moving(question, firmness, day)
        notes += _notes(told, cave, fridge, has_kitchen=kept.space is not None)
        return replace(
            standing,
            ripened=told,
            moving=found,
            warmer=None if standing.in_kitchen else if_warmer(question, found, warmer_k),
            cave=cave,
            fridge=fridge,
            kitchen_id=kept.space.id if kept.space else None,
            kitchen=kept.space.name if kept.space else None,
            notes=tuple(notes),
        )

    def _standing(
        self, wheel: Wheel, batch: Batch, life: Life | None, space_id: int | None, wish: Wish
    ) -> PlanAhead:
        """A wheel as it stands, of which nothing is planned yet."""
        assert wheel.id is not None  # it comes from the store
        kitchen = self._fridges.around(space_id) if space_id is not None else None
        return PlanAhead(
            wheel_id=wheel.id,
            label=wheel.label,
            batch_id=wheel.batch_id,
            batch=batch.name,
            plan=life.plan if life else None,
            diameter_mm=wheel.diameter_mm,
            space_id=space_id,
            wish=wish,
            choices=tuple(each for each, _ in in_order(life.plan.readiness)) if life else (),
            ahead=self._ahead(life) if life else (),
            ripened=None,
            moving=None,
            warmer=None,
            cave=None,
            fridge=None,
            kitchen_id=kitchen.id if kitchen else None,
            kitchen=kitchen.name if kitchen else None,
            kitchens=len(self._fridges.spaces),
            in_kitchen=kitchen is not None,
            notes=(),
        )

    def _space(self, wheel_id: int) -> int | None:
        for each in wheels.placements(self._session, wheel_id):
            if each.from_us <= self._now_us and (each.to_us is None or each.to_us > self._now_us):
                return each.space_id
        return None

    def _places(
        self, life: Life, space_id: int, kept: Kept, *, in_kitchen: bool
    ) -> tuple[Recent, Recent]:
        """How warm it is where the wheel is and in the kitchen fridge."""
        here = self._warm(space_id)
        if here is None:
            lived = life.stages[-1].stage if life.stages else ""
            stage = next((each for each in life.plan.stages if each.slug == lived), None)
            wanted = stage.target.temperature_c if stage else None
            here = kept.warm if in_kitchen else as_asked(wanted, life.plan.reference_temperature_c)
        return here, (here if in_kitchen else kept.warm)

    def _warm(self, space_id: int) -> Recent | None:
        if space_id not in self._recent:
            self._recent[space_id] = recent(self._session, space_id, self._now_us, self._memory)
        return self._recent[space_id]

    def _ahead(self, life: Life) -> tuple[StageAhead, ...]:
        lived = [each for each in life.stages if each.from_us <= self._now_us]
        if not lived:
            return ()
        return stages_ahead(
            life.plan,
            lived[-1].stage,
            day_of(lived[-1].from_us, self._zones),
            day_of(life.made_us, self._zones),
            self._today,
        )

    def _begins(self, plan: Plan, ahead: Sequence[StageAhead], told: Ripened) -> Window:
        """When the count of its ripening begins."""
        if told.begun_us is not None:
            return one_day(self._today)
        first = plan.readiness.from_stage
        return next(
            (each.begins for each in ahead if each.stage.slug == first), one_day(self._today)
        )

    def _checked(
        self, plan: Plan, wish: Wish, age_days: float, notes: list[str], *, strict: bool
    ) -> tuple[Firmness, date | None]:
        """The wish as the plan can serve it; one that was kept and no longer can is told.

        A wheel for which nothing is wished is planned for the usual firmness, and once it is past
        that, for the one that it has.
        """
        firmness, day = wish.firmness, wish.day
        known = {each for each, _ in plan.readiness.days}
        if not strict and firmness is not None and firmness not in known:
            notes.append(f"its plan does not tell when it is {firmness}")
            firmness = None
        if not strict and day is not None and day < self._today:
            notes.append("the day for which it was wanted is past")
            day = None
        if firmness is None:
            firmness = usual_wish(plan.readiness)
            if age_days >= bounds(plan.readiness, firmness)[1].expected:
                firmness = feels(plan.readiness, age_days) or firmness
        return firmness, day


_SOME_DAYS: Final = 1.0


def _wish(wheel: Wheel) -> Wish:
    return Wish(
        Firmness(wheel.wanted_firmness) if wheel.wanted_firmness else None,
        date.fromisoformat(wheel.wanted_day) if wheel.wanted_day else None,
    )


def _why_not(wheel: Wheel, life: Life | None, space_id: int | None) -> str:
    """Why nothing can be planned; empty when something can."""
    if wheel.ended_us is not None:
        return "it has ended"
    if life is None:
        return "its plan is not here"
    if space_id is None:
        return "it is in no space"
    slugs = {stage.slug for stage in life.plan.stages}
    if not any(each.stage in slugs for each in life.stages):
        return "it is in no stage of its plan"
    return ""


def _notes(told: Ripened, cave: Recent, fridge: Recent, *, has_kitchen: bool) -> list[str]:
    notes = []
    if told.unknown_days >= _SOME_DAYS:
        notes.append(
            f"nobody measured its air for {told.unknown_days:.0f} days since the count began;"
            " there it is taken to have been as warm as its stage asks"
        )
    if not cave.days:
        notes.append("nobody measures where it is; it is taken to be as warm as its stage asks")
    if not has_kitchen:
        notes.append("no kitchen fridge is entered; it is taken to be as cold as the plan asks")
    elif not fridge.days:
        notes.append("nobody measures the kitchen fridge; it is taken to be as cold as planned")
    return notes
