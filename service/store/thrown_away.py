"""What the keeper threw out of quarantine: gone, but for one line a kind that keeps its number.

The line is a row of quarantine without bytes, of a kind that no message has.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import delete, func
from sqlmodel import Session, col, select

from service.store.quarantine import THROWN_AWAY
from service.store.tables import Quarantine


@dataclass(frozen=True, slots=True)
class Thrown:
    """All that was ever thrown away of one kind.

    Attributes:
        kind: The reason without its numbers.
        messages: How many, those included that were only counted.
        last_us: When the last were thrown away. [µs UTC]
    """

    kind: str
    messages: int
    last_us: int


def throw_away(session: Session, kind: str, up_to_id: int, now_us: int) -> int:
    """Take what is in quarantine of one kind out, but for what came later than a row.

    Args:
        session: Open; the line and what it counts change in one commit.
        kind: As `quarantine.kind_of` gives it.
        up_to_id: The newest row that the keeper was told of.
        now_us: The time now. [µs UTC]

    Returns:
        How many messages that were; none when they are gone already.
    """
    chosen = (
        col(Quarantine.kind) == kind,
        col(Quarantine.kind) != THROWN_AWAY,
        col(Quarantine.id) <= up_to_id,
    )
    rows, more = session.exec(
        select(func.count(col(Quarantine.id)), func.coalesce(func.sum(col(Quarantine.more)), 0))
        .select_from(Quarantine)
        .where(*chosen)
    ).one()
    messages = int(rows + more)
    if messages:
        session.connection().execute(delete(Quarantine).where(*chosen))
        line = _line(session, kind)
        line.more += messages
        line.received_us = now_us
        session.add(line)
        session.flush()
    return messages


def thrown_away(session: Session) -> tuple[Thrown, ...]:
    """What was thrown away, the last first."""
    rows = session.exec(
        select(Quarantine)
        .where(col(Quarantine.kind) == THROWN_AWAY)
        .order_by(col(Quarantine.received_us).desc(), col(Quarantine.id).desc())
    )
    return tuple(Thrown(row.reason, row.more, row.received_us) for row in rows)


def _line(session: Session, kind: str) -> Quarantine:
    """The line that counts what was thrown away of a kind; a new one the first time."""
    lines: Sequence[Quarantine] = session.exec(
        select(Quarantine).where(
            col(Quarantine.kind) == THROWN_AWAY, col(Quarantine.reason) == kind
        )
    ).all()
    if lines:
        return lines[0]
    return Quarantine(received_us=0, topic="", payload=b"", reason=kind, kind=THROWN_AWAY)
