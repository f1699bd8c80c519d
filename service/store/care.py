"""Care of wheels and boxes as entered: done, skipped or put off; entering and withdrawing.

All that is entered in one touch of the maker carries the touch's name, so that it can be undone
in one, and so that a phone may send it again without entering it twice.
"""

from collections.abc import Iterable, Sequence

from sqlmodel import Session, col, func, or_, select

from service.store.ageing_tables import CareRecord, GateAnswer, Observation
from service.store.tables import Weighing, WheelPlacement


def enter(session: Session, rows: Iterable[CareRecord]) -> list[CareRecord]:
    """Enter care. What its touch has entered already is not entered again.

    A touch that was undone stays undone, whatever the phone sends again.

    Returns:
        What the touches have entered, new or not.
    """
    entered = []
    for row in rows:
        known = of_touch(session, row.touch)
        same = next((each for each in known if _subject(each) == _subject(row)), None)
        if same is None and any(each.withdrawn for each in known):
            continue
        if same is None:
            session.add(row)
            session.flush()
        entered.append(same or row)
    return entered


def of_touch(session: Session, touch: str) -> Sequence[CareRecord]:
    """All that a touch has entered, withdrawn or not, in the order of entering."""
    return session.exec(
        select(CareRecord).where(col(CareRecord.touch) == touch).order_by(col(CareRecord.id))
    ).all()


def was_entered(session: Session, touch: str) -> bool:
    """Whether a touch has ever entered care, an answer at a gate or an observation."""
    return any(
        session.exec(select(col(table.id)).where(col(table.touch) == touch).limit(1)).first()
        is not None
        for table in (CareRecord, GateAnswer, Observation)
    )


def was_undone(session: Session, touch: str) -> bool:
    """Whether anything that a touch had entered was withdrawn."""
    return any(
        session.exec(
            select(col(table.id))
            .where(col(table.touch) == touch, col(table.withdrawn).is_(True))
            .limit(1)
        ).first()
        is not None
        for table in (CareRecord, GateAnswer, Observation)
    )


def edition(session: Session) -> str:
    """Changes with all that is entered or withdrawn, and with nothing else.

    A page makes the names of its touches from it, so that a form that is sent again has the
    same name, and the same form on a later page has another.
    """
    parts = []
    for table in (CareRecord, GateAnswer, Observation):
        newest = session.exec(select(func.max(col(table.id)))).one()
        gone = session.exec(
            select(func.count()).select_from(table).where(col(table.withdrawn).is_(True))
        ).one()
        parts.append(f"{newest or 0}.{gone}")
    return "-".join(parts)


def records(session: Session) -> Sequence[CareRecord]:
    """All care that holds, in the order of entering."""
    return session.exec(
        select(CareRecord).where(col(CareRecord.withdrawn).is_(False)).order_by(col(CareRecord.id))
    ).all()


def of_subjects(
    session: Session, wheel_id: int, space_ids: Iterable[int], limit: int
) -> Sequence[CareRecord]:
    """Care that holds of a wheel and of spaces, the newest first."""
    return session.exec(
        select(CareRecord)
        .where(
            col(CareRecord.withdrawn).is_(False),
            or_(
                col(CareRecord.wheel_id) == wheel_id,
                col(CareRecord.wheel_id).is_(None) & col(CareRecord.space_id).in_(list(space_ids)),
            ),
        )
        .order_by(col(CareRecord.time_us).desc(), col(CareRecord.id).desc())
        .limit(limit)
    ).all()


def withdraw_touch(session: Session, touch: str) -> int:
    """Let what a touch has entered count no longer; how many rows that were."""
    held = [row for row in of_touch(session, touch) if not row.withdrawn]
    for row in held:
        row.withdrawn = True
        session.add(row)
    session.flush()
    return len(held)


def weighings_held(session: Session) -> Sequence[Weighing]:
    """Every weighing that was not taken back: whoever weighed has done that care too."""
    return session.exec(
        select(Weighing).where(col(Weighing.withdrawn).is_(False)).order_by(col(Weighing.id))
    ).all()


def all_placements(session: Session) -> Sequence[WheelPlacement]:
    """Where every wheel has been, oldest first."""
    return session.exec(
        select(WheelPlacement).order_by(col(WheelPlacement.from_us), col(WheelPlacement.id))
    ).all()


def _subject(row: CareRecord) -> tuple[str, int | None, int | None]:
    return row.work, row.wheel_id, row.space_id
