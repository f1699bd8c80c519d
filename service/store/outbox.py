"""The outbox: notices that wait for their channel, and every attempt to deliver them.

A notice is written in the same transaction as the change that it tells of, so neither can be
lost without the other. Times here are the world's, not the demo's: a mail server knows no
demo clock.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from sqlalchemy import CursorResult, or_, update
from sqlmodel import Session, col, select

from service.clock import US_PER_S
from service.errors import UnknownError
from service.store.tables import Delivery, Notice


@dataclass(frozen=True, slots=True)
class Outgoing:
    """A notice on its way to one channel.

    Attributes:
        id: Its number.
        channel: The label of its channel; never an address with a password.
        title: A few words.
        body: The whole message.
        created_us: When it was put into the outbox. [µs UTC]
        next_try_us: When to try it next. [µs UTC]
        tries: How often it has been tried.
    """

    id: int
    channel: str
    title: str
    body: str
    created_us: int
    next_try_us: int
    tries: int


@dataclass(frozen=True, slots=True)
class Attempt:
    """One attempt at delivery: when, whether it succeeded, and what was said."""

    time_us: int
    delivered: bool
    words: str


def put(
    session: Session,
    channels: Iterable[str],
    *,
    title: str,
    body: str,
    created_us: int,
    alarm_id: int | None = None,
) -> None:
    """Put a message into the outbox, once for each channel; the session commits it."""
    for channel in channels:
        session.add(
            Notice(
                alarm_id=alarm_id,
                channel=channel,
                title=title,
                body=body,
                created_us=created_us,
                next_try_us=created_us,
            )
        )


FARTHEST_TRY_US: Final = 7_200 * US_PER_S
"""Our choice, above the longest wait between two tries: whatever is planned further ahead was
planned by a clock that has been set back since."""


def due(session: Session, now_us: int, limit: int = 50) -> tuple[Outgoing, ...]:
    """The notices to be tried now, those that have waited longest first."""
    rows = session.exec(
        select(Notice)
        .where(
            col(Notice.delivered_us).is_(None),
            col(Notice.given_up_us).is_(None),
            or_(
                col(Notice.next_try_us) <= now_us,
                col(Notice.next_try_us) > now_us + FARTHEST_TRY_US,
            ),
        )
        .order_by(col(Notice.next_try_us), col(Notice.id))
        .limit(limit)
    )
    return tuple(
        Outgoing(
            id=row.id,
            channel=row.channel,
            title=row.title,
            body=row.body,
            created_us=row.created_us,
            next_try_us=row.next_try_us,
            tries=row.tries,
        )
        for row in rows
        if row.id is not None
    )


def claim(session: Session, notice: Outgoing, until_us: int) -> bool:
    """Keep other senders off a notice until that time; False when one was faster.

    A sender that dies with a notice in its hands loses the claim at that time, and the notice
    is tried again.
    """
    result = session.connection().execute(
        update(Notice)
        .where(
            col(Notice.id) == notice.id,
            col(Notice.next_try_us) == notice.next_try_us,
            col(Notice.delivered_us).is_(None),
        )
        .values(next_try_us=until_us)
    )
    assert isinstance(result, CursorResult)
    return result.rowcount == 1


def record(session: Session, notice_id: int, attempt: Attempt, next_try_us: int | None) -> None:
    """Record an attempt; a failed one is tried again at `next_try_us`, or given up when None.

    Raises:
        UnknownError: There is no such notice.
    """
    notice = session.get(Notice, notice_id)
    if notice is None:
        raise UnknownError(f"there is no notice {notice_id}")
    notice.tries += 1
    if attempt.delivered:
        notice.delivered_us = attempt.time_us
    elif next_try_us is None:
        notice.given_up_us = attempt.time_us
    else:
        notice.next_try_us = next_try_us
    session.add(notice)
    session.add(
        Delivery(
            notice_id=notice_id,
            time_us=attempt.time_us,
            delivered=attempt.delivered,
            words=attempt.words,
        )
    )


def attempts(session: Session, notice_id: int) -> tuple[Attempt, ...]:
    """Every attempt to deliver a notice, oldest first."""
    rows = session.exec(
        select(Delivery).where(col(Delivery.notice_id) == notice_id).order_by(col(Delivery.id))
    )
    return tuple(Attempt(row.time_us, row.delivered, row.words) for row in rows)


def told_of(session: Session, alarm_id: int) -> bool:
    """Whether a notice of that alarm was ever put into the outbox."""
    return (
        session.exec(select(Notice.id).where(col(Notice.alarm_id) == alarm_id).limit(1)).first()
        is not None
    )
