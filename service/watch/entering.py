"""Enters what evaluations came to: state, alarms, transitions and notices in one transaction."""

from collections.abc import Sequence
from typing import Final

from service.clock import US_PER_S
from service.store import alarm_records, conditions, outbox
from service.store.alarm_records import NewAlarm
from service.store.database import Session
from service.watch.turns import Active, Evaluated, Raise

NEWS_US: Final = 3600 * US_PER_S
"""What is older than an hour when it is found out (a history loaded late, a long stop) is kept
on record but tells the maker nothing that a notice could still change. Our choice."""


def enter(
    session: Session,
    evaluations: Sequence[Evaluated],
    channels: Sequence[str],
    *,
    now_us: int,
    sent_us: int,
) -> int:
    """Enter evaluations that were made from one look at the store.

    A notice goes out of an alarm that is news or still active, and of its return whenever
    there was a notice of the alarm itself.

    Args:
        session: A session that has written nothing yet.
        evaluations: What to enter.
        channels: The labels of the channels on which to tell the maker.
        now_us: The time now, by which news is judged. [µs UTC]
        sent_us: The world's time, by which the outbox works. [µs UTC]

    Returns:
        How many alarms were raised or returned.

    Raises:
        OvertakenError: Another evaluator was faster; nothing of this may be committed.
    """
    for one in evaluations:
        conditions.advance(session, one.watched, one.evaluated_us, one.state_json)
    for one in evaluations:
        for position, turn in enumerate(one.turns, start=1):
            if isinstance(turn, Raise):
                alarm_id = alarm_records.raise_alarm(session, one.watched.id, _new(turn))
                last = position == len(one.turns)
                tell = _is_news(turn.time_us, now_us) or (last and _lasts(one.active, now_us))
            else:
                alarm_id = alarm_records.return_alarm(
                    session, one.watched.id, turn.time_us, turn.priority, turn.extreme
                )
                tell = outbox.told_of(session, alarm_id)
            if tell and turn.notice is not None:
                outbox.put(
                    session,
                    channels,
                    title=turn.notice.title,
                    body=turn.notice.body,
                    created_us=sent_us,
                    alarm_id=alarm_id,
                )
        if one.active is not None:
            alarm_records.update_active(
                session, one.watched.id, one.active.priority, one.active.extreme
            )
    return sum(len(one.turns) for one in evaluations)


def _new(turn: Raise) -> NewAlarm:
    return NewAlarm(
        raised_us=turn.time_us,
        priority=turn.priority,
        limit=turn.limit,
        extreme=turn.extreme,
        wheels=", ".join(turn.wheels),
        title=turn.notice.title,
        body=turn.notice.body,
    )


def _is_news(time_us: int, now_us: int) -> bool:
    return time_us >= now_us - NEWS_US


def _lasts(active: Active | None, now_us: int) -> bool:
    """Whether an alarm is known to be active now, and not only at the end of an old history."""
    return active is not None and (active.heard_us is None or _is_news(active.heard_us, now_us))
