"""Timers of a make day that have run out: one notice each, for a phone that lies elsewhere."""

from collections.abc import Sequence

from service.ageing.notices import Notice
from service.store import make_days, outbox, places
from service.store.database import Session
from service.watch.entering import NEWS_US
from service.watch.turns import reader_of


def tell_of_timers(session: Session, channels: Sequence[str], *, now_us: int, sent_us: int) -> int:
    """Put a notice of each timer that has run out into the outbox, once.

    What ran out long ago is marked as told and tells nothing: the curd has been cut by then.

    Args:
        session: A session that commits the notices with the marks.
        channels: The labels of the channels on which to tell the maker.
        now_us: The time now, by which timers run. [µs UTC]
        sent_us: The world's time, by which the outbox works. [µs UTC]

    Returns:
        How many notices were put in.
    """
    told = 0
    reader = reader_of(places.the_site(session))
    for timer, day in make_days.untold_timers(session, now_us):
        mine = make_days.claim_telling(session, timer.id, now_us)
        if not mine or timer.ends_us < now_us - NEWS_US:
            continue
        notice = ran_out(timer.name, day.name, reader.moment(timer.ends_us))
        outbox.put(session, channels, title=notice.title, body=notice.body, created_us=sent_us)
        told += 1
    return told


def ran_out(timer: str, make_day: str, ended: str) -> Notice:
    """The notice that a timer has run out.

    Examples:
        >>> ran_out("Cut the curd", "Blue", "Wed 25 Nov 14:32").title
        'Cut the curd: the time is up'
    """
    return Notice(
        f"{timer}: the time is up",
        f"The timer “{timer}” of the make day {make_day} ran out at {ended}. Try: do what it"
        " was for, then touch Seen on the page of the make day.",
    )
