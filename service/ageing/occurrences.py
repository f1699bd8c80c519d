"""Care as it will recur: the time that is due, and those that follow if each is done.

What follows hangs on what is done until then, so it is foreseen and never settled; it is made
anew from what was entered. Knows no clock and no zone.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from service.ageing.schedule import Due
from service.ageing.work import CareRule


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One time that a care comes up.

    Attributes:
        due: The care as it is due now.
        number: 0 for the due itself, 1 for the time after it, and so on.
        rule: The rule that asks on this occasion.
        opens: Not before.
        expected: When it is best done.
        latest: Overdue from the day after this one.
    """

    due: Due
    number: int
    rule: CareRule
    opens: date
    expected: date
    latest: date

    @classmethod
    def of(cls, due: Due) -> "Occurrence":
        """The due itself."""
        return cls(due, 0, due.rule, due.opens, due.expected, due.latest)

    @property
    def is_foreseen(self) -> bool:
        """Whether it hangs on another time that is not done yet."""
        return self.number > 0

    def following(self, done: date) -> "Occurrence | None":
        """The time after this one when this one is done on a day; None where it ends with it."""
        rule = self.due.then
        if rule is None or rule.every is None:
            return None
        every = rule.every
        # Nothing is asked for again on the day on which it was done.
        opens = done + timedelta(max(1, every.earliest))
        expected = done + timedelta(max(1, every.expected))
        latest = done + timedelta(max(1, every.latest))
        return Occurrence(self.due, self.number + 1, rule, opens, expected, latest)


def own_days(due: Due, today: date, until: date) -> Iterator[date]:
    """The days up to one on which a care comes up if each time is done on its expected day.

    What is past its expected day is done today, and what follows counts from then.
    """
    found: Occurrence | None = Occurrence.of(due)
    while found is not None and (day := max(found.expected, today)) <= until:
        yield day
        found = found.following(day)
