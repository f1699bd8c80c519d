"""Wheels on the scale: entering a weighing, taking it back, and the weighings of a wheel."""

from collections.abc import Sequence

from sqlmodel import Session, col, select

from service.errors import UnknownError
from service.store import wheels
from service.store.tables import Weighing


def weighings(session: Session, wheel_id: int) -> Sequence[Weighing]:
    """The weighings of a wheel that hold, oldest first."""
    return session.exec(
        select(Weighing)
        .where(col(Weighing.wheel_id) == wheel_id, col(Weighing.withdrawn).is_(False))
        .order_by(col(Weighing.time_us), col(Weighing.id))
    ).all()


def enter(session: Session, wheel_id: int, time_us: int, mass_g: float) -> Weighing:
    """Enter a weighing. The same mass at the same time is the same weighing, entered once.

    Raises:
        UnknownError: There is no such wheel.
    """
    wheels.wheel(session, wheel_id)
    for known in weighings(session, wheel_id):
        if known.time_us == time_us and known.mass_g == mass_g:
            return known
    weighing = Weighing(wheel_id=wheel_id, time_us=time_us, mass_g=mass_g)
    session.add(weighing)
    session.flush()
    return weighing


def withdraw(session: Session, wheel_id: int, weighing_id: int) -> None:
    """Take a weighing back. It is kept in the store, and counts for nothing.

    Raises:
        UnknownError: The wheel has no such weighing.
    """
    weighing = session.get(Weighing, weighing_id)
    if weighing is None or weighing.wheel_id != wheel_id:
        raise UnknownError(f"wheel {wheel_id} has no weighing {weighing_id}")
    weighing.withdrawn = True
    session.add(weighing)
    session.flush()
