"""Between which times a wheel is there: not before it was made, and not after its end."""

from service.api.refusals import RefusedError
from service.store import wheels
from service.store.database import Session
from service.store.tables import Wheel


def check_lives(session: Session, wheel_id: int, at_us: int) -> None:
    """See to it that a wheel was there at a time.

    Raises:
        UnknownError: There is no such wheel.
        RefusedError: It was not made yet, or has ended.
    """
    wheel = wheels.wheel(session, wheel_id)
    if at_us < wheels.batch_of(session, wheel_id).made_us:
        raise RefusedError("that time is before the wheel was made")
    if wheel.ended_us is not None and wheel.ended_us <= at_us:
        raise RefusedError(_no_more(wheel))


def check_not_ended(session: Session, wheel_id: int) -> None:
    """See to it that a wheel has not ended, at whatever time: its space and stage are closed.

    Raises:
        UnknownError: There is no such wheel.
        RefusedError: It has ended.
    """
    wheel = wheels.wheel(session, wheel_id)
    if wheel.ended_us is not None:
        raise RefusedError(_no_more(wheel))


def _no_more(wheel: Wheel) -> str:
    return (
        f"wheel {wheel.label} is no more: it was {wheel.ended_how};"
        " if that was a slip, undo its end on the wheel's page"
    )
