"""What the maker said at the gates between stages, and the way back from what followed."""

from collections.abc import Sequence

from sqlmodel import Session, col, select

from service.store import wheels
from service.store.ageing_tables import GateAnswer
from service.store.tables import StageLived, WheelPlacement


def enter(session: Session, answer: GateAnswer) -> GateAnswer:
    """Enter what was said."""
    session.add(answer)
    session.flush()
    return answer


def of_touch(session: Session, touch: str) -> Sequence[GateAnswer]:
    """All that was said in a touch, withdrawn or not, in the order of entering."""
    return session.exec(
        select(GateAnswer).where(col(GateAnswer.touch) == touch).order_by(col(GateAnswer.id))
    ).all()


def of_wheel(session: Session, wheel_id: int) -> Sequence[GateAnswer]:
    """What was said at the gates of a wheel and holds, in the order of entering."""
    return session.exec(
        select(GateAnswer)
        .where(col(GateAnswer.wheel_id) == wheel_id, col(GateAnswer.withdrawn).is_(False))
        .order_by(col(GateAnswer.id))
    ).all()


def answers(session: Session) -> Sequence[GateAnswer]:
    """All that was said at gates and holds, in the order of entering."""
    return session.exec(
        select(GateAnswer).where(col(GateAnswer.withdrawn).is_(False)).order_by(col(GateAnswer.id))
    ).all()


def withdraw(session: Session, answer: GateAnswer) -> None:
    """Let what was said count no longer."""
    answer.withdrawn = True
    session.add(answer)
    session.flush()


def end_wheel(session: Session, wheel_id: int, how: str, at_us: int) -> None:
    """The wheel is no more from that time on: it is in no space and lives no stage.

    Raises:
        UnknownError: There is no such wheel.
    """
    wheel = wheels.wheel(session, wheel_id)
    wheels.place_wheel(session, wheel_id, None, at_us)
    for lived in wheels.stages(session, wheel_id):
        if lived.to_us is None:
            lived.to_us = at_us
            session.add(lived)
    wheel.ended_us, wheel.ended_how = at_us, how
    session.add(wheel)
    session.flush()


def unend_wheel(session: Session, wheel_id: int, at_us: int) -> None:
    """What ended with the wheel at that time goes on.

    Raises:
        UnknownError: There is no such wheel.
    """
    wheel = wheels.wheel(session, wheel_id)
    wheel.ended_us = wheel.ended_how = None
    session.add(wheel)
    _go_on(session, wheels.placements(session, wheel_id), at_us)
    _go_on(session, wheels.stages(session, wheel_id), at_us)
    session.flush()


def unbegin_stage(session: Session, wheel_id: int, at_us: int) -> None:
    """The stage that began at that time never did; the one before goes on.

    Raises:
        UnknownError: There is no such wheel.
    """
    wheels.wheel(session, wheel_id)
    _take_out(session, wheels.stages(session, wheel_id), at_us)


def unplace_wheel(session: Session, wheel_id: int, at_us: int) -> None:
    """The wheel never went where it went at that time; it stays where it was before.

    Raises:
        UnknownError: There is no such wheel.
    """
    wheels.wheel(session, wheel_id)
    _take_out(session, wheels.placements(session, wheel_id), at_us)


def _take_out(
    session: Session, spans: Sequence[WheelPlacement] | Sequence[StageLived], at_us: int
) -> None:
    for span in spans:
        if span.from_us == at_us:
            session.delete(span)
    _go_on(session, spans, at_us)
    session.flush()


def _go_on(
    session: Session, spans: Sequence[WheelPlacement] | Sequence[StageLived], at_us: int
) -> None:
    for span in spans:
        if span.to_us == at_us and span.from_us < at_us:
            span.to_us = None
            session.add(span)
