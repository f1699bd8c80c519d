"""Alarms as kept: each one from raised to normal, every change of its state, and by whom."""

from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import CursorResult, and_, func, update
from sqlmodel import Session, col, or_, select

from service.ageing.lifecycle import AlarmEvent, AlarmState, Priority, next_state
from service.errors import UnknownError
from service.store.tables import (
    Alarm,
    AlarmTransition,
    Condition,
    Sensor,
    SensorPlacement,
    Space,
)

RAISED_AGAIN: Final = "raised again"
"""By whom an alarm that had returned unacknowledged was ended: by its own next occurrence."""


@dataclass(frozen=True, slots=True)
class AlarmEntry:
    """One alarm with the names that a reader needs.

    Attributes:
        id: Its number.
        kind: What was watched: quantity and side, or `sensor_silent`.
        state: Where it stands.
        priority: How soon the maker should act.
        space_id: The space concerned; that of a sensor when the alarm was raised.
        space: Its name.
        sensor_id: The sensor, where the alarm concerns one.
        sensor: Its name.
        raised_us: When it was raised. [µs UTC]
        returned_us: When it returned; None while it is active. [µs UTC]
        acknowledged_us: When somebody acknowledged it. [µs UTC]
        acknowledged_by: Who did.
        limit: The limit that was passed. [°C or %RH]
        extreme: The value farthest beyond it, smoothed. [°C or %RH]
        wheels: The wheels concerned, in words.
        title: A few words.
        body: The whole message.
    """

    id: int
    kind: str
    state: AlarmState
    priority: Priority
    space_id: int | None
    space: str | None
    sensor_id: int | None
    sensor: str | None
    raised_us: int
    returned_us: int | None
    acknowledged_us: int | None
    acknowledged_by: str | None
    limit: float | None
    extreme: float | None
    wheels: str
    title: str
    body: str


@dataclass(frozen=True, slots=True)
class Transition:
    """One change of an alarm's state; by whom, when it was a person."""

    time_us: int
    state: AlarmState
    by: str | None


@dataclass(frozen=True, slots=True)
class NewAlarm:
    """An alarm on its way into the store."""

    raised_us: int
    priority: Priority
    limit: float | None
    extreme: float | None
    wheels: str
    title: str
    body: str


def raise_alarm(session: Session, condition_id: int, new: NewAlarm) -> int:
    """Enter an alarm; its number.

    A condition has one open alarm at most. An earlier one that has returned without being
    acknowledged goes on in this one: it becomes normal, with a transition that says why.
    """
    for earlier in session.exec(
        select(Alarm).where(
            col(Alarm.condition_id) == condition_id, col(Alarm.state) != AlarmState.NORMAL.value
        )
    ):
        _change(session, earlier, AlarmState.NORMAL, new.raised_us, RAISED_AGAIN)
    alarm = Alarm(
        condition_id=condition_id,
        state=AlarmState.NORMAL.value,
        priority=new.priority.value,
        raised_us=new.raised_us,
        limit_value=new.limit,
        extreme=new.extreme,
        wheels=new.wheels,
        title=new.title,
        body=new.body,
    )
    session.add(alarm)
    session.flush()
    _change(session, alarm, next_state(AlarmState.NORMAL, AlarmEvent.RAISED), new.raised_us, None)
    assert alarm.id is not None
    return alarm.id


def update_active(
    session: Session, condition_id: int, priority: Priority, extreme: float | None
) -> None:
    """Note how far the active alarm of a condition has gone."""
    session.connection().execute(
        update(Alarm)
        .where(col(Alarm.condition_id) == condition_id, col(Alarm.returned_us).is_(None))
        .values(priority=priority.value, extreme=extreme)
    )


def return_alarm(
    session: Session,
    condition_id: int,
    returned_us: int,
    priority: Priority,
    extreme: float | None,
) -> int:
    """The active alarm of a condition returns; its number.

    No earlier than it was raised: the clock may have been ahead then and be set back since.

    Raises:
        UnknownError: No alarm of the condition is active.
    """
    alarm = session.exec(
        select(Alarm)
        .where(col(Alarm.condition_id) == condition_id, col(Alarm.returned_us).is_(None))
        .with_for_update()
    ).one_or_none()
    if alarm is None or alarm.id is None:
        raise UnknownError(f"condition {condition_id} has no active alarm")
    returned_us = max(returned_us, alarm.raised_us)
    alarm.returned_us = returned_us
    alarm.priority = priority.value
    alarm.extreme = extreme
    state = next_state(AlarmState(alarm.state), AlarmEvent.RETURNED)
    _change(session, alarm, state, returned_us, None)
    return alarm.id


def acknowledge(session: Session, alarm_id: int, by: str, now_us: int) -> AlarmEntry:
    """Somebody has seen an alarm. Once acknowledged, doing so again changes nothing.

    Raises:
        UnknownError: There is no such alarm.
    """
    # A write that changes nothing keeps the watch from changing the state meanwhile.
    touched = session.connection().execute(
        update(Alarm).where(col(Alarm.id) == alarm_id).values(state=Alarm.state)
    )
    assert isinstance(touched, CursorResult)
    alarm = session.get(Alarm, alarm_id, populate_existing=True) if touched.rowcount else None
    if alarm is None:
        raise UnknownError(f"there is no alarm {alarm_id}")
    state = AlarmState(alarm.state)
    if state in {AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED}:
        alarm.acknowledged_us = now_us
        alarm.acknowledged_by = by
        _change(session, alarm, next_state(state, AlarmEvent.ACKNOWLEDGE), now_us, by)
        session.flush()
    return entry(session, alarm_id)


def _change(
    session: Session, alarm: Alarm, state: AlarmState, time_us: int, by: str | None
) -> None:
    assert alarm.id is not None
    alarm.state = state.value
    session.add(alarm)
    session.add(AlarmTransition(alarm_id=alarm.id, time_us=time_us, state=state.value, by=by))


def entry(session: Session, alarm_id: int) -> AlarmEntry:
    """One alarm.

    Raises:
        UnknownError: There is none with that number.
    """
    found = _entries(session, _with_names().where(col(Alarm.id) == alarm_id))
    if not found:
        raise UnknownError(f"there is no alarm {alarm_id}")
    return found[0]


def listed(
    session: Session, *, only_open: bool, limit: int, before_id: int | None = None
) -> tuple[AlarmEntry, ...]:
    """The alarms entered last, newest first; `before_id` pages on."""
    query = _with_names().order_by(col(Alarm.id).desc()).limit(limit)
    if only_open:
        query = query.where(col(Alarm.state) != AlarmState.NORMAL.value)
    if before_id is not None:
        query = query.where(col(Alarm.id) < before_id)
    return _entries(session, query)


def open_count(session: Session) -> int:
    """How many alarms are open."""
    query = select(func.count()).select_from(Alarm).where(Alarm.state != AlarmState.NORMAL.value)
    return session.exec(query).one()


def open_for_space(session: Session, space_id: int) -> tuple[AlarmEntry, ...]:
    """The open alarms that concern a space or a sensor in it, the newest first."""
    return _entries(
        session,
        _with_names()
        .where(col(Space.id) == space_id, col(Alarm.state) != AlarmState.NORMAL.value)
        .order_by(col(Alarm.raised_us).desc(), col(Alarm.id).desc()),
    )


def between(session: Session, space_id: int, from_us: int, to_us: int) -> tuple[AlarmEntry, ...]:
    """The alarms of a space that were active at some time in that span, oldest first."""
    return _entries(
        session,
        _with_names()
        .where(
            col(Space.id) == space_id,
            col(Alarm.raised_us) < to_us,
            or_(col(Alarm.returned_us).is_(None), col(Alarm.returned_us) >= from_us),
        )
        .order_by(col(Alarm.raised_us), col(Alarm.id)),
    )


def transitions(session: Session, alarm_id: int) -> tuple[Transition, ...]:
    """Every change of an alarm's state, in the order in which they happened.

    Raises:
        UnknownError: There is no such alarm.
    """
    if session.get(Alarm, alarm_id) is None:
        raise UnknownError(f"there is no alarm {alarm_id}")
    rows = session.exec(
        select(AlarmTransition)
        .where(col(AlarmTransition.alarm_id) == alarm_id)
        .order_by(col(AlarmTransition.id))
    )
    return tuple(Transition(row.time_us, AlarmState(row.state), row.by) for row in rows)


def _with_names() -> Any:  # SQLModel cannot type a row of outer joins, where None may stand.
    """Alarms with their space and sensor; a sensor's space is where it stood when raised."""
    stood = and_(
        col(SensorPlacement.sensor_id) == col(Condition.sensor_id),
        col(SensorPlacement.from_us) <= col(Alarm.raised_us),
        or_(
            col(SensorPlacement.to_us).is_(None),
            col(SensorPlacement.to_us) > col(Alarm.raised_us),
        ),
    )
    where = func.coalesce(col(Condition.space_id), col(SensorPlacement.space_id))
    return (
        select(Alarm, Condition.kind, Space, Sensor)
        .join(Condition, col(Alarm.condition_id) == col(Condition.id))
        .outerjoin(Sensor, col(Condition.sensor_id) == col(Sensor.id))
        .outerjoin(SensorPlacement, stood)
        .outerjoin(Space, col(Space.id) == where)
    )


def _entries(session: Session, query: Any) -> tuple[AlarmEntry, ...]:
    return tuple(
        AlarmEntry(
            id=alarm.id,
            kind=kind,
            state=AlarmState(alarm.state),
            priority=Priority(alarm.priority),
            space_id=space.id if space else None,
            space=space.name if space else None,
            sensor_id=sensor.id if sensor else None,
            sensor=sensor.name if sensor else None,
            raised_us=alarm.raised_us,
            returned_us=alarm.returned_us,
            acknowledged_us=alarm.acknowledged_us,
            acknowledged_by=alarm.acknowledged_by,
            limit=alarm.limit_value,
            extreme=alarm.extreme,
            wheels=alarm.wheels,
            title=alarm.title,
            body=alarm.body,
        )
        for alarm, kind, space, sensor in session.execute(query)
    )
