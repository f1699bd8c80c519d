"""Messages that could not be stored: kept whole, with the reason."""

from collections.abc import Sequence

from sqlalchemy import func
from sqlmodel import Session, col, select

from service.store.tables import Quarantine


def keep(session: Session, received_us: int, topic: str, payload: bytes, reason: str) -> None:
    """Put a message into quarantine; the session commits it."""
    session.add(Quarantine(received_us=received_us, topic=topic, payload=payload, reason=reason))


def holds(session: Session, topic: str, payload: bytes, reason: str) -> bool:
    """Whether the very same message is in quarantine already for the same reason."""
    same = select(Quarantine.id).where(
        col(Quarantine.topic) == topic,
        col(Quarantine.reason) == reason,
        col(Quarantine.payload) == payload,
    )
    return session.exec(same.limit(1)).first() is not None


def newest(session: Session, limit: int, before_id: int | None = None) -> Sequence[Quarantine]:
    """The newest quarantined messages, newest first; `before_id` pages on."""
    query = select(Quarantine).order_by(col(Quarantine.id).desc()).limit(limit)
    if before_id is not None:
        query = query.where(col(Quarantine.id) < before_id)
    return session.exec(query).all()


def count(session: Session) -> int:
    """How many messages are in quarantine."""
    return session.exec(select(func.count(col(Quarantine.id)))).one()
