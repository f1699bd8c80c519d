"""When the watch found wheels wet by calculation: the alarms of sweat, by space."""

from dataclasses import dataclass
from typing import Final

from sqlmodel import Session, col, or_, select

from service.store.tables import Alarm, Condition

WHEEL_SWEAT: Final = "wheel_sweat"
"""The kind of condition under which sweat on wheels is watched."""


@dataclass(frozen=True, slots=True)
class SweatSpan:
    """A time for which wheels in a space were estimated to be wet; open while they still are."""

    space_id: int
    from_us: int
    to_us: int | None


def sweat_spans(session: Session, from_us: int, to_us: int) -> tuple[SweatSpan, ...]:
    """The spans of all spaces that touch that time, oldest first. [µs UTC]"""
    rows = session.exec(
        select(Condition.space_id, Alarm.raised_us, Alarm.returned_us)
        .join(Condition, col(Alarm.condition_id) == col(Condition.id))
        .where(
            col(Condition.kind) == WHEEL_SWEAT,
            col(Condition.space_id).is_not(None),
            col(Alarm.raised_us) <= to_us,
            or_(col(Alarm.returned_us).is_(None), col(Alarm.returned_us) > from_us),
        )
        .order_by(col(Alarm.raised_us), col(Alarm.id))
    )
    return tuple(
        SweatSpan(space_id, raised_us, returned_us)
        for space_id, raised_us, returned_us in rows
        if space_id is not None
    )
