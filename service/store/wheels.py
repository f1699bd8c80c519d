"""Batches and wheels: where each wheel has been and which stages it has lived."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, or_, select

from service.errors import UnknownError
from service.store import places
from service.store.tables import Batch, StageLived, Wheel, WheelPlacement


@dataclass(frozen=True, slots=True)
class NewWheel:
    """A wheel on its way into the store."""

    label: str
    diameter_mm: float
    height_mm: float
    mass_g: float


def wheel(session: Session, wheel_id: int) -> Wheel:
    """One wheel.

    Raises:
        UnknownError: There is none with that number.
    """
    found = session.get(Wheel, wheel_id)
    if found is None:
        raise UnknownError(f"there is no wheel {wheel_id}")
    return found


def wheels(session: Session) -> Sequence[tuple[Wheel, Batch]]:
    """All wheels with their batches, the oldest batch first."""
    return session.exec(
        select(Wheel, Batch)
        .join(Batch, col(Wheel.batch_id) == col(Batch.id))
        .order_by(col(Batch.made_us), col(Wheel.id))
    ).all()


def batch_of(session: Session, wheel_id: int) -> Batch:
    """The batch to which a wheel belongs.

    Raises:
        UnknownError: There is no wheel with that number.
    """
    found = session.get(Batch, wheel(session, wheel_id).batch_id)
    assert found is not None  # the foreign key sees to it
    return found


def batch(session: Session, batch_id: int) -> Batch:
    """One batch.

    Raises:
        UnknownError: There is none with that number.
    """
    found = session.get(Batch, batch_id)
    if found is None:
        raise UnknownError(f"there is no batch {batch_id}")
    return found


def wheels_of(session: Session, batch_id: int) -> Sequence[Wheel]:
    """The wheels of a batch, in the order in which they were entered."""
    return session.exec(
        select(Wheel).where(col(Wheel.batch_id) == batch_id).order_by(col(Wheel.id))
    ).all()


def add_batch(session: Session, batch: Batch, new_wheels: Iterable[NewWheel]) -> list[int]:
    """Enter a batch with its wheels; the numbers of the wheels."""
    session.add(batch)
    session.flush()
    assert batch.id is not None
    rows = [
        Wheel(
            batch_id=batch.id,
            label=new.label,
            diameter_mm=new.diameter_mm,
            height_mm=new.height_mm,
            mass_g=new.mass_g,
        )
        for new in new_wheels
    ]
    session.add_all(rows)
    session.flush()
    return [row.id for row in rows if row.id is not None]


def placements(session: Session, wheel_id: int) -> Sequence[WheelPlacement]:
    """Where a wheel has been, oldest first."""
    return session.exec(
        select(WheelPlacement)
        .where(col(WheelPlacement.wheel_id) == wheel_id)
        .order_by(col(WheelPlacement.from_us))
    ).all()


def placements_in(
    session: Session, space_id: int, from_us: int, to_us: int
) -> Sequence[WheelPlacement]:
    """Stays of wheels in a space that touch the time from `from_us` to `to_us`."""
    return session.exec(
        select(WheelPlacement)
        .where(
            col(WheelPlacement.space_id) == space_id,
            col(WheelPlacement.from_us) <= to_us,
            or_(col(WheelPlacement.to_us).is_(None), col(WheelPlacement.to_us) > from_us),
        )
        .order_by(col(WheelPlacement.from_us), col(WheelPlacement.id))
    ).all()


def stages(session: Session, wheel_id: int) -> Sequence[StageLived]:
    """The stages that a wheel has lived, oldest first."""
    return session.exec(
        select(StageLived)
        .where(col(StageLived.wheel_id) == wheel_id)
        .order_by(col(StageLived.from_us))
    ).all()


def place_wheel(session: Session, wheel_id: int, space_id: int | None, from_us: int) -> None:
    """From that time on the wheel is in that space, or out of the house when it is None.

    Raises:
        UnknownError: There is no such wheel or space.
    """
    wheel(session, wheel_id)
    if space_id is not None:
        places.space(session, space_id)
    _end_at(session, placements(session, wheel_id), from_us)
    if space_id is not None:
        session.add(WheelPlacement(wheel_id=wheel_id, space_id=space_id, from_us=from_us))
        session.flush()


def begin_stage(session: Session, wheel_id: int, stage: str, from_us: int) -> None:
    """From that time on the wheel lives that stage of its plan.

    Raises:
        UnknownError: There is no such wheel.
    """
    wheel(session, wheel_id)
    _end_at(session, stages(session, wheel_id), from_us)
    session.add(StageLived(wheel_id=wheel_id, stage=stage, from_us=from_us))
    session.flush()


def wish(session: Session, wheel_id: int, firmness: str | None, day: str | None) -> Wheel:
    """Keep what the maker wants of a wheel; None where nothing is wanted.

    Raises:
        UnknownError: There is no such wheel.
    """
    found = wheel(session, wheel_id)
    found.wanted_firmness, found.wanted_day = firmness, day
    session.add(found)
    session.flush()
    return found


def _end_at(
    session: Session, spans: Sequence[WheelPlacement] | Sequence[StageLived], at_us: int
) -> None:
    """What began at that time or later goes; what lasts longer ends there."""
    for span in spans:
        if span.from_us >= at_us:
            session.delete(span)
        elif span.to_us is None or span.to_us > at_us:
            span.to_us = at_us
            session.add(span)
