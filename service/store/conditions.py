"""What is watched, and how far: one row a condition, with the state of its evaluation.

Whoever evaluates reads a condition, works without holding any lock, and then moves it on with
`advance`, which succeeds only if nobody else has moved it meanwhile. So two evaluators at once
do no harm: the second one's work falls away whole, on SQLite and PostgreSQL alike, and
readings are never kept waiting by the arithmetic.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import CursorResult, Table, or_, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col, select

from service.errors import WheelwardError
from service.store.tables import Condition, SensorPlacement

_CONDITIONS: Table = Condition.__table__  # type: ignore[attr-defined]  # set by SQLModel's metaclass


class OvertakenError(WheelwardError):
    """Another evaluator has moved the condition on; this one's work is to be dropped."""


@dataclass(frozen=True, slots=True)
class Watched:
    """What is watched, and how far.

    Attributes:
        id: The number of the condition.
        kind: What is watched, for example `humidity_below`.
        evaluated_us: The last time that was taken into account. [µs UTC]
        state_json: The state of the evaluation after it.
    """

    id: int
    kind: str
    evaluated_us: int
    state_json: str


def sensor_stays(session: Session, space_id: int) -> tuple[tuple[int, int | None], ...]:
    """From when to when each sensor stood in a space, in order; open while still there."""
    rows = session.exec(
        select(SensorPlacement.from_us, SensorPlacement.to_us)
        .where(col(SensorPlacement.space_id) == space_id)
        .order_by(col(SensorPlacement.from_us), col(SensorPlacement.id))
    )
    return tuple((from_us, to_us) for from_us, to_us in rows)


def watch_space(session: Session, space_id: int, kinds: Iterable[str]) -> dict[str, Watched]:
    """The conditions of those kinds on a space, entered if they are new."""
    return _watch(session, "space_id", space_id, kinds)


def watch_sensor(session: Session, sensor_id: int, kind: str) -> Watched:
    """The condition of that kind on a sensor, entered if it is new."""
    return _watch(session, "sensor_id", sensor_id, (kind,))[kind]


def watch_household(session: Session, kind: str) -> Watched:
    """The condition of that kind on the household as a whole, entered if it is new.

    Belongs into a turn (`turns.take_turn`): no key of the table keeps a second one out.
    """
    found = session.exec(
        select(Condition).where(
            col(Condition.kind) == kind,
            col(Condition.space_id).is_(None),
            col(Condition.sensor_id).is_(None),
        )
    ).first()
    if found is None:
        found = Condition(kind=kind)
        session.add(found)
        session.flush()
    assert found.id is not None  # flushed
    return Watched(found.id, found.kind, found.evaluated_us, found.state_json)


def evaluated_beyond(session: Session, time_us: int) -> tuple[Watched, ...]:
    """The conditions on spaces and sensors that were evaluated beyond a time."""
    rows = session.exec(
        select(Condition)
        .where(
            col(Condition.evaluated_us) > time_us,
            or_(col(Condition.space_id).is_not(None), col(Condition.sensor_id).is_not(None)),
        )
        .order_by(col(Condition.id))
    )
    return tuple(
        Watched(row.id, row.kind, row.evaluated_us, row.state_json)
        for row in rows
        if row.id is not None
    )


def _watch(session: Session, column: str, number: int, kinds: Iterable[str]) -> dict[str, Watched]:
    wanted = tuple(kinds)
    found = _watched(session, column, number)
    missing = [kind for kind in wanted if kind not in found]
    if missing:
        dialect = sqlite if session.get_bind().dialect.name == "sqlite" else postgresql
        session.connection().execute(
            dialect.insert(_CONDITIONS).on_conflict_do_nothing(),
            [
                {"kind": kind, column: number, "evaluated_us": 0, "state_json": "{}"}
                for kind in missing
            ],
        )
        found = _watched(session, column, number)
    return {kind: found[kind] for kind in wanted}


def _watched(session: Session, column: str, number: int) -> dict[str, Watched]:
    rows = session.connection().execute(_CONDITIONS.select().where(_CONDITIONS.c[column] == number))
    return {row.kind: Watched(row.id, row.kind, row.evaluated_us, row.state_json) for row in rows}


def advance(session: Session, watched: Watched, evaluated_us: int, state_json: str) -> None:
    """Move a condition on. To be the first thing that its transaction writes.

    Raises:
        OvertakenError: It is no longer as it was read.
    """
    result = session.connection().execute(
        update(_CONDITIONS)
        .where(
            _CONDITIONS.c.id == watched.id,
            _CONDITIONS.c.evaluated_us == watched.evaluated_us,
            _CONDITIONS.c.state_json == watched.state_json,
        )
        .values(evaluated_us=evaluated_us, state_json=state_json)
    )
    assert isinstance(result, CursorResult)
    if result.rowcount != 1:
        raise OvertakenError
