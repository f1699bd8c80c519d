"""From rules and history to the window of days in which a care is asked for next.

Recurring care counts from when it was last done, so that weeks away leave one turn overdue and
not five.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service.ageing.moments import day_words
from service.ageing.signs import WINDOWS, Sign
from service.ageing.tended import Entry, History, Outcome
from service.ageing.work import Counted, Days, Trigger


@dataclass(frozen=True, slots=True)
class CareWindow:
    """Between which days a care is asked for, and why.

    Attributes:
        opens: Not before.
        expected: When it is best done.
        latest: Overdue from the day after this one.
        why: What makes it due, in words for the maker.
        put_off: To which day it was put off, None when it was not.
    """

    opens: date
    expected: date
    latest: date
    why: str
    put_off: date | None = None

    def not_before(self, day: date) -> "CareWindow":
        """The same window with what lies before a day drawn up to it."""
        return CareWindow(
            max(self.opens, day),
            max(self.expected, day),
            max(self.latest, day),
            self.why,
            self.put_off,
        )

    def put_off_to(self, day: date) -> "CareWindow":
        """Asked again on that day; the latest day stays, so that the delay shows."""
        why = f"{self.why}; put off until {day_words(day)}"
        return CareWindow(max(self.opens, day), max(self.expected, day), self.latest, why, day)


def recurring(days: Days, history: History, start: date) -> CareWindow:
    """When care that recurs is asked for next.

    Args:
        days: How long after the last time.
        history: What was entered of it, in whichever stage.
        start: The first day on which it is asked for; counts where it was never done.
    """
    base = _counted_from(days, history.taken, start)
    window = _after(base or start, days, _recurring_words(days, history, start))
    window = window.not_before(start)
    if history.last_taken is not None:
        window = window.not_before(history.last_taken[0] + timedelta(days=1))
    return _put_off(window, history.put_off)


def _counted_from(days: Days, taken: Sequence[Entry], start: date) -> date | None:
    """The day from which the next turn counts, None when no turn was taken.

    A skipped turn counts as if done on the day on which it was due; when further turns had come
    due by the time it was skipped, as if done on the last of those.
    """
    step = timedelta(days=max(1, days.expected))
    base: date | None = None
    for entry in taken:
        if entry.outcome is Outcome.DONE or (base is None and entry.day < start):
            base = entry.day
            continue
        asked = (base or start) + step
        if entry.day >= start:
            asked = max(asked, start)
        base = asked + max(0, (entry.day - asked) // step) * step
    return base


def once(
    days: Days, history: History, start: date, made: date, stage_from: date
) -> CareWindow | None:
    """When care that is asked for once in a stage is due; None when it was done or skipped.

    Done early counts, also before the stage when its window was open by then.

    Args:
        days: On which days.
        history: What was entered of it.
        start: The first day on which it is asked for.
        made: The day of making, from which such days may count.
        stage_from: The day on which the stage began.
    """
    window = _after(
        made if days.counted is Counted.MAKE else stage_from, days, "once in this stage"
    )
    since = min(start, window.opens)
    if any(entry.day >= since for entry in history.taken):
        return None
    return _put_off(window.not_before(start), history.put_off)


def after_sign(sign: Sign, trigger: Trigger, history: History, start: date) -> CareWindow:
    """When care is due for which a sign called.

    Args:
        sign: What showed.
        trigger: What kind of sign it is.
        history: What was entered of the care.
        start: The first day on which it is asked for.
    """
    put_off = history.put_off
    # What was put off before the sign showed was another turn.
    put_off = put_off if put_off is not None and put_off.day >= sign.day else None
    window = _after(sign.day, WINDOWS[trigger], sign.words).not_before(start)
    return _put_off(window, put_off)


def _after(base: date, days: Days, why: str) -> CareWindow:
    opens, expected, latest = (
        base + timedelta(days=number) for number in (days.earliest, days.expected, days.latest)
    )
    return CareWindow(opens, expected, latest, why)


def _put_off(window: CareWindow, entry: Entry | None) -> CareWindow:
    if entry is None or entry.until is None or entry.until <= entry.day:
        return window
    return window.put_off_to(entry.until)


def _recurring_words(days: Days, history: History, start: date) -> str:
    usual = {1: "daily", 7: "weekly"}.get(days.expected, f"every {days.expected} days")
    if history.last_done is None:
        words = f"{usual}; not done yet, counted from {day_words(start)}"
    else:
        words = f"{usual}; last done {day_words(history.last_done[0])}"
    if history.taken and history.taken[-1].outcome is Outcome.SKIPPED:
        words += f"; skipped {day_words(history.taken[-1].day)}"
    return words
