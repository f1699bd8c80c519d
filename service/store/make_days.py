"""Make days as kept: the record, its steps and its timers.

A record is edited by whole fields under a version, so that two browsers at once lose nothing:
what one of them has changed meanwhile is told to the other with both values.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import CursorResult, update
from sqlmodel import Session, col, select

from service.ageing.making import Timer
from service.errors import UnknownError
from service.store.ageing_tables import MakeDay, MakeStep, MakeTimer
from service.store.tables import Batch

Value = str | float | bool | None
"""What a field of the record may hold."""

FIELDS: Final = (
    *("name", "plan", "plan_version", "raw_milk", "milk", "milk_l", "cultures", "rennet"),
    *("moulds", "multiplier", "curd_g", "salting", "salt_pct", "salt_g", "words"),
)
"""The fields that an edit may change; marks, steps and timers have their own ways."""


@dataclass(frozen=True, slots=True)
class Conflict:
    """A field that somebody else has changed meanwhile."""

    field: str
    stored: Value
    given: Value


def start(session: Session, day: MakeDay) -> MakeDay:
    """Enter the record of a make day."""
    session.add(day)
    session.flush()
    return day


def make_day(session: Session, make_day_id: int) -> MakeDay:
    """One make day.

    Raises:
        UnknownError: There is none with that number.
    """
    found = session.get(MakeDay, make_day_id)
    if found is None:
        raise UnknownError(f"there is no make day {make_day_id}")
    return found


def make_days(session: Session) -> Sequence[MakeDay]:
    """All make days, the newest first."""
    return session.exec(
        select(MakeDay).order_by(col(MakeDay.started_us).desc(), col(MakeDay.id).desc())
    ).all()


def of_batch(session: Session, batch_id: int) -> MakeDay | None:
    """The make day that became a batch; None when the batch was entered without one."""
    return session.exec(select(MakeDay).where(col(MakeDay.batch_id) == batch_id)).first()


def edit(
    session: Session,
    make_day_id: int,
    version: int,
    changes: Mapping[str, Value],
    was: Mapping[str, Value] | None = None,
) -> tuple[Conflict, ...]:
    """Change fields of a record, all or none.

    The caller has taken its turn in the store.

    Args:
        session: In which to write.
        make_day_id: The record.
        version: The version that the maker had before them.
        changes: The fields as the maker wants them.
        was: The fields as the maker had them, where known. What is left as it was is then not
            written, so that it takes nothing back that another has entered.

    Returns:
        The fields that another has changed since that version; nothing is written if there are
        any.

    Raises:
        UnknownError: There is no such make day.
        ValueError: A field is none that an edit may change.
    """
    if unknown := set(changes) - set(FIELDS):
        raise ValueError(f"an edit cannot change {', '.join(sorted(unknown))}")
    day = make_day(session, make_day_id)
    known = dict(was or {})
    wanted = {
        field: value
        for field, value in changes.items()
        if field not in known or known[field] != value
    }
    differing = {field: value for field, value in wanted.items() if getattr(day, field) != value}
    if day.version != version:
        conflicts = tuple(
            Conflict(field, getattr(day, field), value)
            for field, value in differing.items()
            if field not in known or known[field] != getattr(day, field)
        )
        if conflicts:
            return conflicts
    if differing:
        for field, value in differing.items():
            setattr(day, field, value)
        day.version += 1
        session.add(day)
        session.flush()
    return ()


def save(session: Session, day: MakeDay) -> None:
    """Keep a mark that was set on a record: rennet, flocculation, its end."""
    session.add(day)
    session.flush()


def become_batch(session: Session, day: MakeDay, batch_id: int, finished_us: int) -> None:
    """The make day has become that batch, which keeps whether its milk was raw."""
    day.batch_id, day.finished_us = batch_id, finished_us
    save(session, day)
    pass_on_raw_milk(session, day)


def pass_on_raw_milk(session: Session, day: MakeDay) -> None:
    """Tell the batch, if there is one, whether its milk was raw."""
    batch = session.get(Batch, day.batch_id) if day.batch_id is not None else None
    if batch is not None and batch.raw_milk != day.raw_milk:
        batch.raw_milk = day.raw_milk
        session.add(batch)
        session.flush()


def steps(session: Session, make_day_id: int) -> Sequence[MakeStep]:
    """The steps of a make day that hold, oldest first."""
    return session.exec(
        select(MakeStep)
        .where(col(MakeStep.make_day_id) == make_day_id, col(MakeStep.withdrawn).is_(False))
        .order_by(col(MakeStep.time_us), col(MakeStep.id))
    ).all()


def add_step(session: Session, step: MakeStep) -> MakeStep:
    """Enter a step."""
    session.add(step)
    session.flush()
    return step


def withdraw_step(session: Session, make_day_id: int, step_id: int) -> None:
    """Take a step back. It is kept in the store, and shown no more.

    Raises:
        UnknownError: The make day has no such step.
    """
    step = session.get(MakeStep, step_id)
    if step is None or step.make_day_id != make_day_id:
        raise UnknownError(f"make day {make_day_id} has no step {step_id}")
    step.withdrawn = True
    session.add(step)
    session.flush()


def timers(session: Session, make_day_id: int) -> tuple[Timer, ...]:
    """The timers of a make day, in the order in which they were started."""
    rows = session.exec(
        select(MakeTimer)
        .where(col(MakeTimer.make_day_id) == make_day_id)
        .order_by(col(MakeTimer.id))
    )
    return tuple(_timer(row) for row in rows)


def start_timer(
    session: Session, make_day_id: int, name: str, started_us: int, duration_s: float
) -> Timer:
    """Start a timer; one of that name, start and length is started once."""
    make_day(session, make_day_id)
    for known in timers(session, make_day_id):
        if (known.name, known.started_us, known.duration_s) == (name, started_us, duration_s):
            return known
    row = MakeTimer(
        make_day_id=make_day_id, name=name, started_us=started_us, duration_s=duration_s
    )
    session.add(row)
    session.flush()
    return _timer(row)


def stop_timer(session: Session, make_day_id: int, timer_id: int, at_us: int) -> Timer:
    """Stop a timer, or note that it was seen to have run out; once stopped it stays so.

    Raises:
        UnknownError: The make day has no such timer.
    """
    row = session.get(MakeTimer, timer_id)
    if row is None or row.make_day_id != make_day_id:
        raise UnknownError(f"make day {make_day_id} has no timer {timer_id}")
    if row.stopped_us is None:
        row.stopped_us = at_us
        session.add(row)
        session.flush()
    return _timer(row)


def untold_timers(session: Session, now_us: int) -> tuple[tuple[Timer, MakeDay], ...]:
    """Timers of unfinished make days that have run out and of which nobody was told."""
    rows = session.exec(
        select(MakeTimer, MakeDay)
        .join(MakeDay, col(MakeTimer.make_day_id) == col(MakeDay.id))
        .where(
            col(MakeDay.finished_us).is_(None),
            col(MakeTimer.stopped_us).is_(None),
            col(MakeTimer.told_us).is_(None),
        )
        .order_by(col(MakeTimer.id))
    )
    found = [(_timer(row), day) for row, day in rows]
    return tuple((timer, day) for timer, day in found if timer.ends_us <= now_us)


def claim_telling(session: Session, timer_id: int, now_us: int) -> bool:
    """Whether it is for the caller to tell of a timer; only one is ever told so."""
    result = session.connection().execute(
        update(MakeTimer)
        .where(col(MakeTimer.id) == timer_id, col(MakeTimer.told_us).is_(None))
        .values(told_us=now_us)
    )
    assert isinstance(result, CursorResult)
    return result.rowcount == 1


def _timer(row: MakeTimer) -> Timer:
    assert row.id is not None  # it was stored
    return Timer(row.id, row.name, row.started_us, row.duration_s, row.stopped_us)
