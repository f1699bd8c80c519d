"""What a calendar says of the wheels: visits, tasks and questions, as plain values.

A day is a day of the household's calendar and no instant, so that a change of the clocks or of
the zone moves nothing.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class DiaryKind(StrEnum):
    """What an entry is: one is gone to, one is done, one is asked."""

    VISIT = "visit"
    TASK = "task"
    QUESTION = "question"


@dataclass(frozen=True, slots=True)
class DiaryEntry:
    """One entry of the calendar.

    Attributes:
        key: Names it for as long as it lives, whatever changes in it.
        kind: What it is.
        title: One line.
        words: What else there is to say; may be empty.
        path: The page that tells more.
        day: When it is to be done, or asked.
        opens: From when a task may be done; None for the others.
        latest: When a task is late, the last day before that; None for the others.
        done_us: When it was done; None while it is not. [µs UTC]
        is_estimate: Whether the day is foreseen and not settled.
    """

    key: str
    kind: DiaryKind
    title: str
    words: str
    path: str
    day: date
    opens: date | None = None
    latest: date | None = None
    done_us: int | None = None
    is_estimate: bool = False
