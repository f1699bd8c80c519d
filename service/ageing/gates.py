"""How a wheel stands before the gate of its stage: when to ask, what is seen, what is missing.

The days of a gate only ask; it opens on what the maker saw and said. It may be passed early, late
or with something missing: that is told, never forbidden. Knows no clock and no zone.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final, TypeVar

from service.ageing.moments import day_words
from service.ageing.tended import Seen, looks_in_order
from service.ageing.work import Counted, Gate

_T = TypeVar("_T")

LOOK_HOLDS_DAYS: Final = 3
"""An older look says nothing of today; our choice, as a coat changes within days. [d]"""


@dataclass(frozen=True, slots=True)
class NotYet:
    """The maker's answer that the gate stays shut, and when to ask again.

    Attributes:
        day: On which day it was given.
        ask_again: From which day on to ask; a day not after `day` means the next one.
        order: Orders the answers as they were said, whatever day the clock told; the last holds.
    """

    day: date
    ask_again: date
    order: int = 0


@dataclass(frozen=True, slots=True)
class GateStanding:
    """How a wheel stands before its gate on a day.

    Attributes:
        earliest: Passing before it is early.
        expected: When to ask although nothing was seen.
        latest: Passing after it is late.
        asks_now: Whether to ask on this day.
        ask_on: From which day on it is asked, as far as known today; past when it asks already.
        met: What is asked and was seen, in words.
        missing: What is asked and was not seen, seen otherwise or seen too long ago, in words.
        questions: What the maker answers at the gate itself.
        early: Passing it on this day is early.
        late: Passing it on this day is late.
    """

    earliest: date
    expected: date
    latest: date
    asks_now: bool
    ask_on: date
    met: tuple[str, ...]
    missing: tuple[str, ...]
    questions: tuple[str, ...]
    early: bool
    late: bool


def standing(
    gate: Gate,
    made: date,
    stage_from: date,
    seen: Sequence[Seen],
    answers: Sequence[NotYet],
    today: date,
) -> GateStanding:
    """How a wheel stands before the gate of its stage.

    It asks from the expected day on, or from the earliest day on as soon as all that can be seen
    beforehand is seen. "Not yet" asks again on the day named; said by the latest day, it holds
    no longer than that day, after which it asks at every visit until it is said anew.

    Args:
        gate: The gate.
        made: The day on which the wheel was made.
        stage_from: The day on which the stage began.
        seen: The looks at the wheel, in any order.
        answers: What was answered at this gate so far, in any order.
        today: Which day it is.
    """
    base = made if gate.days.counted is Counted.MAKE else stage_from
    earliest, expected, latest = (
        base + timedelta(days=number)
        for number in (gate.days.earliest, gate.days.expected, gate.days.latest)
    )
    checks = list(_checks(gate, looks_in_order(seen, today), today))
    ask_on = expected
    if checks and all(check.met for check in checks):
        complete_on = max(check.day for check in checks)
        ask_on = min(expected, max(earliest, complete_on))
    held = [answer for answer in answers if stage_from <= answer.day <= today]
    if held:
        last = max(held, key=lambda answer: (answer.order, answer.day, answer.ask_again))
        ask_on = max(last.ask_again, last.day + timedelta(days=1))
        if last.day <= latest:
            ask_on = min(ask_on, latest + timedelta(days=1))
    ask_on = max(ask_on, stage_from)
    return GateStanding(
        earliest=earliest,
        expected=expected,
        latest=latest,
        asks_now=today >= ask_on,
        ask_on=ask_on,
        met=tuple(check.words for check in checks if check.met),
        missing=tuple(check.words for check in checks if not check.met),
        questions=gate.questions,
        early=today < earliest,
        late=today > latest,
    )


@dataclass(frozen=True, slots=True)
class _Check:
    """One thing that a gate asks to be seen; `day` is that of the look, when there was one."""

    met: bool
    words: str
    day: date = date.min


def _checks(gate: Gate, looks: Sequence[Seen], today: date) -> Iterator[_Check]:
    least_pct = gate.coat_pct
    if least_pct is not None:
        yield _check(
            f"coat of {least_pct:g} % or more",
            [(look.day, look.coat_pct) for look in looks if look.coat_pct is not None],
            lambda pct: pct >= least_pct,
            lambda pct: f"{pct:g} %",
            today,
        )
    if gate.rind:
        yield _check(
            f"faces {' or '.join(gate.rind)}",
            [(look.day, look.rind) for look in looks if look.rind is not None],
            lambda rind: rind in gate.rind,
            str,
            today,
        )
    if gate.firmness:
        yield _check(
            f"{' or '.join(gate.firmness)} under the thumb",
            [(look.day, look.firmness) for look in looks if look.firmness is not None],
            lambda firmness: firmness in gate.firmness,
            str,
            today,
        )


def _check(
    asked: str,
    told: Sequence[tuple[date, _T]],
    fits: Callable[[_T], bool],
    written: Callable[[_T], str],
    today: date,
) -> _Check:
    """Judged from the newest look that tells of it, unless that one is too old."""
    if not told:
        return _Check(met=False, words=f"{asked}: not seen yet")
    day, value = told[-1]
    seen_words = f"{written(value)} seen {day_words(day)}"
    if (today - day).days > LOOK_HOLDS_DAYS:
        return _Check(met=False, words=f"{asked}: look again, {seen_words}", day=day)
    return _Check(met=fits(value), words=f"{asked}: {seen_words}", day=day)
