"""The calendar's secret address, and what the calendar last said under each identifier."""

import hashlib
import json
import secrets
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, Final

from sqlmodel import Session, col, select

from service.ageing.diary import DiaryEntry, DiaryKind
from service.clock import DAY_US
from service.store.ageing_tables import CalendarEntry, CalendarFeed

REMOVED_SHOWN_US: Final = 60 * DAY_US
"""Our choice: a phone that was off for so long still learns what was taken out."""
_SECRET_BYTES: Final = 32


@dataclass(frozen=True, slots=True)
class SaidEntry:
    """An entry with how often it has changed, and whether it was taken out.

    Attributes:
        entry: What is said, or was said last.
        sequence: How often it has changed.
        modified_us: When it changed last. [µs UTC]
        is_removed: Whether it was taken out.
    """

    entry: DiaryEntry
    sequence: int
    modified_us: int
    is_removed: bool


def feed(session: Session) -> CalendarFeed | None:
    """The feed that answers now; None before there is one."""
    return session.exec(
        select(CalendarFeed)
        .where(col(CalendarFeed.replaced_us).is_(None))
        .order_by(col(CalendarFeed.id).desc())
        .limit(1)
    ).first()


def replace_feed(session: Session, now_us: int) -> CalendarFeed:
    """A feed with a new secret; the one before answers no more."""
    for earlier in session.exec(
        select(CalendarFeed).where(col(CalendarFeed.replaced_us).is_(None))
    ):
        earlier.replaced_us = now_us
        session.add(earlier)
    made = CalendarFeed(secret=secrets.token_urlsafe(_SECRET_BYTES), made_us=now_us)
    session.add(made)
    session.flush()
    return made


def close_feed(session: Session, now_us: int) -> None:
    """No address answers any more."""
    current = feed(session)
    if current is not None:
        current.replaced_us = now_us
        session.add(current)
        session.flush()


def answers_to(session: Session, secret: str) -> bool:
    """Whether that secret is the one of the feed that answers now."""
    current = feed(session)
    # Compared in constant time, though the secret is far too long to be guessed by its timing.
    return current is not None and secrets.compare_digest(current.secret, secret)


def said(session: Session, entries: Iterable[DiaryEntry], now_us: int) -> list[SaidEntry]:
    """What the calendar says, with its changes counted since it was last asked.

    An entry that is no longer among `entries` was taken out, and is said to be for 60 days;
    one that was done before it left is simply not said any more.

    Returns:
        In the order of `entries`, what was taken out at the end.
    """
    known = {row.uid: row for row in session.exec(select(CalendarEntry))}
    told = []
    for entry in entries:
        row = known.pop(entry.key, None)
        digest = _digest(entry)
        if row is None:
            row = CalendarEntry(uid=entry.key, digest=digest, modified_us=now_us)
        elif row.digest != digest or row.removed_us is not None:
            row.sequence, row.modified_us = row.sequence + 1, now_us
        row.digest, row.entry_json, row.removed_us = digest, _json(entry), None
        session.add(row)
        told.append(SaidEntry(entry, row.sequence, row.modified_us, is_removed=False))
    told += _taken_out(session, known.values(), now_us)
    session.flush()
    return told


def _taken_out(session: Session, rows: Iterable[CalendarEntry], now_us: int) -> Sequence[SaidEntry]:
    found = []
    for row in sorted(rows, key=lambda each: each.uid):
        entry = _entry(row.entry_json)
        if row.removed_us is None:
            row.removed_us = row.modified_us = now_us
            row.sequence += 1
            session.add(row)
        if entry.done_us is None and now_us - row.removed_us <= REMOVED_SHOWN_US:
            found.append(SaidEntry(entry, row.sequence, row.modified_us, is_removed=True))
    return found


def _json(entry: DiaryEntry) -> str:
    return json.dumps(asdict(entry), default=date.isoformat, sort_keys=True)


def _digest(entry: DiaryEntry) -> str:
    return hashlib.sha256(_json(entry).encode()).hexdigest()


def _entry(text: str) -> DiaryEntry:
    stored: dict[str, Any] = json.loads(text)
    days = {
        name: None if stored[name] is None else date.fromisoformat(stored[name])
        for name in ("day", "opens", "latest")
    }
    return DiaryEntry(**stored | days | {"kind": DiaryKind(stored["kind"])})
