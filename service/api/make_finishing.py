"""A make day ends: its record becomes a batch with wheels, once."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.api import actions
from service.api.actions import EnteredWheel
from service.judging import Plans
from service.store import make_days, wheels
from service.store.database import Session
from service.store.turns import take_turn


@dataclass(frozen=True, slots=True)
class Finished:
    """What a make day has become."""

    batch_id: int
    wheel_ids: tuple[int, ...]


def finish(
    session: Session,
    plans: Plans,
    make_day_id: int,
    entered: Sequence[EnteredWheel],
    space_id: int | None,
    stage: str | None,
    now_us: int,
) -> Finished:
    """The wheels are made: they live their first stage from the make day on.

    They are in their space from now on, for nobody knows in which air they drained before.
    Sent again, it tells what was made the first time and makes nothing.

    Raises:
        UnknownError: There is no such make day, space or stage.
        RefusedError: A size cannot be, or another batch has the name and time.
    """
    take_turn(session)
    day = make_days.make_day(session, make_day_id)
    if day.batch_id is None:
        batch_id, wheel_ids = actions.add_batch(
            session, plans, day.name, day.plan, day.started_us, entered, None, stage, now_us
        )
        for wheel_id in wheel_ids:
            wheels.place_wheel(session, wheel_id, space_id, now_us)
        make_days.become_batch(session, day, batch_id, now_us)
        for timer in make_days.timers(session, make_day_id):
            make_days.stop_timer(session, make_day_id, timer.id, now_us)
        return Finished(batch_id, tuple(wheel_ids))
    of_it = wheels.wheels_of(session, day.batch_id)
    return Finished(day.batch_id, tuple(wheel.id for wheel in of_it if wheel.id is not None))
