"""What a keeper plans: how a wheel is wanted, for which day, and the room of a fridge.

As all actions, each may be sent twice, as a phone with a poor link does, without harm.
"""

from datetime import date, timedelta
from typing import Final

from service.ageing.feel import in_order
from service.ageing.work import Firmness
from service.api.refusals import RefusedError
from service.judging import Plans, plan_for
from service.store import places, wheels
from service.store.database import Session
from service.store.tables import Space, Wheel
from service.store.turns import take_turn
from service.tending.days import day_of
from service.tending.facts import zones_of

_FARTHEST: Final = timedelta(days=3_650)
"""Our choice: ten years, as long as a stage of a plan may last."""
_MOST_ROOM_CM2: Final = 100_000.0
"""Our choice: ten square metres; more is another unit."""


def wish(
    session: Session,
    plans: Plans,
    wheel_id: int,
    firmness: Firmness | None,
    day: date | None,
    now_us: int,
) -> Wheel:
    """Keep how soft a wheel is wanted and for which day; None for what does not matter.

    Raises:
        UnknownError: There is no such wheel.
        RefusedError: The day is past or too far, or the plan does not tell of that firmness.
    """
    take_turn(session)
    wheel = wheels.wheel(session, wheel_id)
    checked_wish(session, plans, wheel_id, firmness, day, now_us)
    if wheel.ended_us is not None:
        raise RefusedError("that wheel has ended; nothing can be planned for it")
    return wheels.wish(session, wheel_id, firmness, day.isoformat() if day else None)


def checked_wish(
    session: Session,
    plans: Plans,
    wheel_id: int,
    firmness: Firmness | None,
    day: date | None,
    now_us: int,
) -> None:
    """Refuse a wish that cannot be planned.

    Raises:
        UnknownError: There is no such wheel.
        RefusedError: The day is past or too far, or the plan does not tell of that firmness.
    """
    plan = plan_for(session, plans, wheels.batch_of(session, wheel_id))
    if firmness is not None:
        known = [each for each, _ in in_order(plan.readiness)] if plan else []
        if not known:
            raise RefusedError("the plan of this wheel is not among the plans here")
        if firmness not in known:
            raise RefusedError(
                f"its plan does not tell when it is {firmness}; it tells of {', '.join(known)}"
            )
    today = day_of(now_us, zones_of(session))
    if day is not None and day < today:
        raise RefusedError("that day is past; give today or a later one")
    if day is not None and day > today + _FARTHEST:
        raise RefusedError("that day is more than ten years ahead; look at the year")


def set_room(session: Session, space_id: int, room_cm2: float | None) -> Space:
    """Keep how much of a space is free for wheels; None where that is not known. [cm²]

    Raises:
        UnknownError: There is no such space.
        RefusedError: It cannot be so large, or is less than nothing.
    """
    take_turn(session)
    places.space(session, space_id)
    if room_cm2 is not None and not 0.0 <= room_cm2 <= _MOST_ROOM_CM2:
        raise RefusedError(
            f"a room of {room_cm2:g} cm² cannot be; measure the free board in centimetres and"
            f" give width times depth, up to {_MOST_ROOM_CM2:g}"
        )
    return places.set_room(session, space_id, room_cm2)
