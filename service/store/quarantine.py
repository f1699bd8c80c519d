"""Messages that could not be stored: kept whole, with the reason, up to a bound.

Nothing is dropped in silence. Once quarantine is full, a message that is like another of the
same hour is counted on that one's row; of what is new a short piece is kept; and what is too
varied for that is counted on one row an hour. So a flood of bad messages cannot fill the disk
on which the good ones are to be stored.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import ColumnElement, delete, func
from sqlmodel import Session, col, select

from service.clock import HOUR_US
from service.store.tables import Quarantine

MOST_ROWS: Final = 10_000
MOST_BYTES: Final = 64 * 1024 * 1024
"""From either on quarantine is full. Our choice: weeks of one sensor's bad minutes, and little
on the smallest card."""
SHORT_BYTES: Final = 256
"""So much is kept of a message while quarantine is full: enough to know it by. Our choice."""
SHORT_ROWS: Final = 24
"""On so many rows for each hour a full quarantine counts what is alike. Our choice: with the row
of what is varied, a flood that never ends adds at most 25 an hour, of about a kilobyte each."""

VARIED: Final = "quarantine is full, and these were of too many kinds to keep one of each"
"""The reason, and the kind, of the row on which an hour's varied messages are counted."""

THROWN_AWAY: Final = "thrown away; counted"
"""The kind of a line that counts what the keeper threw away (`service.store.thrown_away`). No
message has it, for a message's kind ends before a semicolon."""

MOST_KINDS: Final = 20
"""So many kinds are told of at most; our choice."""

_KEPT: Final = col(Quarantine.kind) != THROWN_AWAY
_KIND_LENGTH: Final = 200
_NUMBERS: Final = re.compile(r"-?\d(?:[\d.,:TZ+-]*[\dZ])?")
_A_PAGE: Final = 500
_LOOK_AGAIN_US: Final = HOUR_US // 60


@dataclass(frozen=True, slots=True)
class Kind:
    """What is in quarantine for reasons that differ by their numbers only.

    Attributes:
        kind: The reason without its numbers.
        messages: How many, those included that were only counted.
        rows: How many are kept.
        newest_id: The number of the newest row, which tells what has come since.
    """

    kind: str
    messages: int
    rows: int
    newest_id: int


def kind_of(reason: str) -> str:
    """The reason without its numbers and times, so that what is alike can be told together.

    Examples:
        >>> kind_of("humidity 130.5 %RH is not between 0 and 100 %RH; and more")
        'humidity … %RH is not between … and … %RH'
    """
    # Pages send a kind back as it is, so it holds nothing that turns or hides text.
    first = "".join(each for each in reason.split("; ", maxsplit=1)[0] if each.isprintable())
    return _NUMBERS.sub("…", first)[:_KIND_LENGTH]


class Shelf:
    """The room that quarantine has left, looked up once for a batch of messages."""

    def __init__(
        self, session: Session, most_rows: int | None = None, most_bytes: int | None = None
    ) -> None:
        """Look up the room in that store; the bounds are other than ours only in tests."""
        self._session = session
        self._most_rows = MOST_ROWS if most_rows is None else most_rows
        self._most_bytes = MOST_BYTES if most_bytes is None else most_bytes
        parts = (col(Quarantine.topic), col(Quarantine.payload), col(Quarantine.reason))
        self._rows, self._bytes = session.exec(
            select(
                func.count(col(Quarantine.id)),
                func.coalesce(func.sum(sum((func.length(part) for part in parts), 0)), 0),
            )
        ).one()
        self._counting: dict[tuple[str, str], Quarantine] = {}
        self._counted_us: int | None = None
        self._counters = 0

    def keep(self, received_us: int, topic: str, payload: bytes, reason: str) -> bool:
        """Put a message into quarantine, or count it; the session commits it.

        Returns:
            Whether it is kept as a row of its own.
        """
        kind = kind_of(reason)
        size = len(topic) + len(payload) + len(reason)
        if self._rows < self._most_rows and self._bytes + size <= self._most_bytes:
            self._add(
                Quarantine(
                    received_us=received_us, topic=topic, payload=payload, reason=reason, kind=kind
                )
            )
            return True
        topic = topic[:SHORT_BYTES]
        like = self._like(topic, kind, received_us)
        if like is None and self._counters_about(received_us) < SHORT_ROWS:
            self._count_on(received_us, topic, payload, reason, kind)
            return True
        like = like or self._like("", VARIED, received_us)
        if like is None:
            self._count_on(received_us, "", b"", VARIED, VARIED)
            return True
        like.more += 1
        like.last_us = max(received_us, like.last_us or 0)
        return False

    def _count_on(
        self, received_us: int, topic: str, payload: bytes, reason: str, kind: str
    ) -> None:
        """Keep a short piece of a message, on whose row others like it will be counted."""
        reason = reason[:SHORT_BYTES]
        if len(payload) > SHORT_BYTES:
            reason += f" (quarantine is full: {SHORT_BYTES} of {len(payload)} bytes are kept)"
        row = Quarantine(
            received_us=received_us,
            topic=topic,
            payload=payload[:SHORT_BYTES],
            reason=reason,
            kind=kind,
            last_us=received_us,
        )
        self._add(row)
        self._counters += 1

    def _add(self, row: Quarantine) -> None:
        self._session.add(row)
        self._counting[row.topic, row.kind] = row
        self._rows += 1
        self._bytes += len(row.topic) + len(row.payload) + len(row.reason)

    def _like(self, topic: str, kind: str, received_us: int) -> Quarantine | None:
        """The newest row of the same topic and kind, if it is of the same hour."""
        found = self._counting.get((topic, kind))
        if found is None or abs(received_us - found.received_us) >= HOUR_US:
            query = (
                select(Quarantine)
                .where(col(Quarantine.kind) == kind, col(Quarantine.topic) == topic)
                .order_by(col(Quarantine.id).desc())
                .limit(1)
            )
            # What this batch added is known; to write its counts for each question is not cheap.
            with self._session.no_autoflush:
                found = self._session.exec(query).first()
        if found is None or abs(received_us - found.received_us) >= HOUR_US:
            return None
        self._counting[topic, kind] = found
        return found

    def _counters_about(self, received_us: int) -> int:
        """How many rows of this hour others are counted on."""
        if self._counted_us is None or abs(received_us - self._counted_us) > _LOOK_AGAIN_US:
            self._counted_us = received_us
            self._counters = self._session.exec(
                select(func.count(col(Quarantine.id))).where(
                    col(Quarantine.received_us) > received_us - HOUR_US,
                    col(Quarantine.received_us) < received_us + HOUR_US,
                    col(Quarantine.last_us).is_not(None),
                )
            ).one()
        return self._counters


def keep(session: Session, received_us: int, topic: str, payload: bytes, reason: str) -> bool:
    """Put one message into quarantine, or count it where quarantine is full; see `Shelf.keep`."""
    return Shelf(session).keep(received_us, topic, payload, reason)


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
    query = select(Quarantine).where(_KEPT).order_by(col(Quarantine.id).desc()).limit(limit)
    if before_id is not None:
        query = query.where(col(Quarantine.id) < before_id)
    return session.exec(query).all()


def count(session: Session) -> int:
    """How many messages are in quarantine, those included that were only counted."""
    rows, more = session.exec(
        select(
            func.count(col(Quarantine.id)), func.coalesce(func.sum(col(Quarantine.more)), 0)
        ).where(_KEPT)
    ).one()
    return int(rows + more)


def kinds(session: Session, limit: int = MOST_KINDS) -> tuple[Kind, ...]:
    """What is in quarantine by kind of reason, the commonest first; so many at most."""
    return tuple(sorted(_kinds(session, _KEPT), key=lambda each: -each.messages)[:limit])


def one_kind(session: Session, kind: str) -> Kind | None:
    """What is in quarantine of one kind; None when nothing is."""
    return next(iter(_kinds(session, _KEPT & (col(Quarantine.kind) == kind))), None)


def _kinds(session: Session, chosen: ColumnElement[bool]) -> list[Kind]:
    rows = session.exec(
        select(
            col(Quarantine.kind),
            func.count(col(Quarantine.id)),
            func.sum(Quarantine.more),
            func.max(col(Quarantine.id)),
        )
        .where(chosen)
        .group_by(col(Quarantine.kind))
        .order_by(col(Quarantine.kind))
    )
    return [
        Kind(kind, int(kept + more), int(kept), newest or 0) for kind, kept, more, newest in rows
    ]


def each(session: Session, kind: str | None = None) -> Iterator[Quarantine]:
    """All rows, or those of one kind, oldest first; few of them in memory at a time."""
    after = 0
    while True:
        query = select(Quarantine).where(_KEPT, col(Quarantine.id) > after)
        if kind is not None:
            query = query.where(col(Quarantine.kind) == kind)
        rows = session.exec(query.order_by(col(Quarantine.id)).limit(_A_PAGE)).all()
        if not rows:
            return
        for row in rows:
            assert row.id is not None  # it comes from the store
            after = row.id
            yield row


def let_go(session: Session, ids: Sequence[int]) -> int:
    """Take rows out; how many were still there."""
    return sum(
        session.connection()
        .execute(delete(Quarantine).where(col(Quarantine.id).in_(ids[start : start + _A_PAGE])))
        .rowcount
        for start in range(0, len(ids), _A_PAGE)
    )
