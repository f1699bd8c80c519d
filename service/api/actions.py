"""What a keeper does: the rules of each action, for pages and API alike.

Each action takes a turn in the store first, so that two browsers at once come out as if one
had been first; and each may be sent twice, as a phone with a poor link does, without harm.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.api.lifetime import check_lives, check_not_ended
from service.api.naming import checked_name, free_slug
from service.api.plan_actions import newest_plans
from service.api.refusals import RefusedError
from service.clock import DAY_US, US_PER_S
from service.judging import Plans, plan_for
from service.store import alarm_records, places, salt_tests, set_up, wheels
from service.store import plans as plan_store
from service.store.alarm_records import AlarmEntry
from service.store.database import Session
from service.store.tables import Batch, Space, SpaceKind
from service.store.turns import take_turn
from service.store.wheels import NewWheel

_AHEAD_US: Final = 600 * US_PER_S
"""Our choice, as for readings: a browser's clock may be so far ahead."""
_LONGEST_LIFE_US: Final = 20 * 366 * DAY_US
"""Our choice: no cheese ages longer. An older date is a slip of the finger, and a page that
tells of every day since the year 1 has 60 MB (measured)."""
_DIAMETER_MM: Final = (10.0, 1_500.0)
_HEIGHT_MM: Final = (5.0, 1_000.0)
_MASS_G: Final = (5.0, 200_000.0)
"""These bounds are our choice, wide enough for any cheese; they catch a wrong unit."""


@dataclass(frozen=True, slots=True)
class EnteredWheel:
    """A wheel as the maker enters it; without a label it is numbered."""

    diameter_mm: float
    height_mm: float
    mass_g: float
    label: str | None = None


def acknowledge_alarm(session: Session, alarm_id: int, by: str, now_us: int) -> AlarmEntry:
    """Say that the alarm has been seen; the first to say so is kept.

    Raises:
        UnknownError: There is no such alarm.
    """
    take_turn(session)
    return alarm_records.acknowledge(session, alarm_id, by, now_us)


def place_sensor(
    session: Session, sensor_id: int, space_id: int | None, from_us: int | None, now_us: int
) -> None:
    """The sensor stands in that space, or nowhere.

    Without a time: from its first reading on when it was never placed before, so that nothing
    that it has told is lost; else from now on, and nothing happens if it stands there already.

    Raises:
        UnknownError: There is no such sensor or space.
        RefusedError: The time is ahead, or the sensor is in a salt test.
    """
    _not_ahead(from_us, now_us)
    take_turn(session)
    places.sensor(session, sensor_id)
    if salt_tests.running(session, sensor_id) is not None:
        raise RefusedError("the sensor is in a salt test; end the test first")
    stays = places.placements_of_sensor(session, sensor_id)
    if from_us is None:
        here = stays[-1].space_id if stays and stays[-1].to_us is None else None
        if stays and here == space_id:
            return
        first_us = None if stays else set_up.first_reading_us(session, sensor_id)
        from_us = now_us if first_us is None else first_us
    places.place_sensor(session, sensor_id, space_id, from_us)


def move_wheel(
    session: Session, wheel_id: int, space_id: int | None, at_us: int | None, now_us: int
) -> None:
    """The wheel goes into that space, or out of the house; without a time, now.

    Raises:
        UnknownError: There is no such wheel or space.
        RefusedError: The time is ahead, or before the wheel was made; or it has ended.
    """
    _not_ahead(at_us, now_us)
    take_turn(session)
    check_not_ended(session, wheel_id)
    if at_us is not None:
        check_lives(session, wheel_id, at_us)
    if at_us is None:
        stays = wheels.placements(session, wheel_id)
        here = stays[-1].space_id if stays and stays[-1].to_us is None else None
        if here == space_id:
            return
    wheels.place_wheel(session, wheel_id, space_id, now_us if at_us is None else at_us)


def begin_stage(
    session: Session, plans: Plans, wheel_id: int, stage: str, at_us: int | None, now_us: int
) -> None:
    """The wheel begins that stage of its plan, whatever its gate says; without a time, now.

    For set-up only: it enters a wheel in the middle of its life. Who tends wheels goes through
    the gate (`gate_actions`), which asks what was seen and keeps the reason.

    Raises:
        UnknownError: There is no such wheel, or its plan has no such stage.
        RefusedError: The time is ahead, or before the wheel was made; it has ended; or its plan
            is not here.
    """
    _not_ahead(at_us, now_us)
    take_turn(session)
    check_not_ended(session, wheel_id)
    if at_us is not None:
        check_lives(session, wheel_id, at_us)
    plan = plan_for(session, plans, wheels.batch_of(session, wheel_id))
    if plan is None:
        raise RefusedError("the plan of this wheel is not among the plans here")
    plan.stage(stage)
    if at_us is None:
        lived = wheels.stages(session, wheel_id)
        if lived and lived[-1].to_us is None and lived[-1].stage == stage:
            return
    wheels.begin_stage(session, wheel_id, stage, now_us if at_us is None else at_us)


def add_space(
    session: Session, name: str, kind: SpaceKind, parent_id: int | None, board: int = 0
) -> Space:
    """Enter a space.

    Raises:
        UnknownError: There is no such space for it to stand in.
        RefusedError: The name is taken, a box stands in nothing, or another space in something.
    """
    name = checked_name(name, "a space")
    take_turn(session)
    site = places.the_site(session)
    if site is None or site.id is None:
        raise RefusedError("enter the site first, with its name and time zone")
    known = places.spaces(session)
    if any(space.name.casefold() == name.casefold() for space in known):
        raise RefusedError(f"there is a space {name} already")
    if kind is SpaceKind.BOX:
        if parent_id is None:
            raise RefusedError("a box stands in a cave, a fridge or a room; say in which")
        if places.space(session, parent_id).kind == SpaceKind.BOX:
            raise RefusedError("a box cannot stand in another box")
    elif parent_id is not None:
        raise RefusedError("only a box stands in another space")
    return set_up.add_space(
        session,
        Space(
            site_id=site.id,
            slug=free_slug(name, {space.slug for space in known}),
            name=name,
            kind=kind.value,
            parent_id=parent_id,
            board=board,
        ),
    )


def add_batch(
    session: Session,
    plans: Plans,
    name: str,
    plan_slug: str,
    made_us: int,
    entered: Sequence[EnteredWheel],
    space_id: int | None,
    stage: str | None,
    now_us: int,
) -> tuple[int, list[int]]:
    """Enter a batch with its wheels, in their space and their stage from when they were made.

    It runs under the newest version of its plan, whose text is kept with it.

    Returns:
        The number of the batch, and those of its wheels.

    Raises:
        UnknownError: There is no such plan, stage or space.
        RefusedError: A name, a size or the time cannot be.
    """
    name = checked_name(name, "a batch")
    _not_ahead(made_us, now_us)
    if made_us < now_us - _LONGEST_LIFE_US:
        raise RefusedError("a batch was made within the last 20 years; look at the year")
    known = newest_plans(session, plans)
    if plan_slug not in known:
        raise RefusedError(f"there is no plan {plan_slug}; there are {', '.join(sorted(known))}")
    plan = known[plan_slug]
    first = plan.stage(stage) if stage is not None else plan.stages[0]
    new = _checked_wheels(entered)
    take_turn(session)
    site = places.the_site(session)
    if site is None or site.id is None:
        raise RefusedError("enter the site first, with its name and time zone")
    if set_up.has_batch(session, name, made_us):
        raise RefusedError(f"there is a batch {name} of that time already")
    batch = Batch(
        site_id=site.id,
        name=name,
        plan=plan.slug,
        plan_version=plan.version,
        made_us=made_us,
    )
    plan_store.keep_shipped(session, plan.slug, plan.version, now_us)
    wheel_ids = wheels.add_batch(session, batch, new)
    for wheel_id in wheel_ids:
        wheels.place_wheel(session, wheel_id, space_id, made_us)
        wheels.begin_stage(session, wheel_id, first.slug, made_us)
    assert batch.id is not None  # it was stored with its wheels
    return batch.id, wheel_ids


def _checked_wheels(entered: Sequence[EnteredWheel]) -> list[NewWheel]:
    if not entered:
        raise RefusedError("a batch has one wheel or more")
    new = []
    for number, wheel in enumerate(entered, start=1):
        for what, value, (least, most) in (
            ("diameter_mm", wheel.diameter_mm, _DIAMETER_MM),
            ("height_mm", wheel.height_mm, _HEIGHT_MM),
            ("mass_g", wheel.mass_g, _MASS_G),
        ):
            if not least <= value <= most:
                raise RefusedError(
                    f"{what} of wheel {number} is {value:g}; it lies between {least:g} and {most:g}"
                )
        label = str(number) if wheel.label is None else checked_name(wheel.label, "a wheel")
        new.append(NewWheel(label, wheel.diameter_mm, wheel.height_mm, wheel.mass_g))
    if len({wheel.label for wheel in new}) < len(new):
        raise RefusedError("two wheels of a batch cannot have one label")
    return new


def _not_ahead(at_us: int | None, now_us: int) -> None:
    if at_us is not None and at_us > now_us + _AHEAD_US:
        raise RefusedError("that time is still to come; enter what has happened")
