"""The one sentence on top of the shelf: what needs the maker, or that nothing does.

What is not known is never taken for fine: "nothing needs you" is said only when every wheel
has a verdict and is in range.
"""

# ruff: noqa: RUF001 - a multiplication sign for the reader

from collections.abc import Sequence
from dataclasses import dataclass, replace

from dashboards.drawings.groups import grouped, how_many, verdict_lines
from dashboards.space_words import outlook_lines
from dashboards.words import Words, counted, listed, plain, short
from service.ageing.lifecycle import AlarmState, Priority
from service.behaving.outlook import Outlook
from service.judging import SpaceNow, WheelNow
from service.store.alarm_records import AlarmEntry
from service.watch import failing

_GRAVITY = tuple(Priority)


@dataclass(frozen=True, slots=True)
class Need:
    """What needs the maker.

    Attributes:
        title: The sentence.
        more: What to say under it; may be empty.
        address: Where to look, if anywhere.
        alarm: Whether an open alarm says so.
        others: How many other alarms are open, in words; may be empty.
    """

    title: str
    more: str = ""
    address: str | None = None
    alarm: bool = False
    others: str = ""


Ahead = Sequence[tuple[SpaceNow, Outlook]]
"""Limits that will be reached, and where, the soonest first."""


def need_of(
    alarms: Sequence[AlarmEntry],
    spaces: Sequence[SpaceNow],
    words: Words,
    now_us: int,
    ahead: Ahead = (),
    overdue: str = "",
    today: tuple[str, str] | None = None,
) -> Need:
    """The gravest active alarm, else what is out of range, else what will be, else the rest.

    The rest is care that is overdue, what is to be done today, what is not known, and after it
    that nothing is needed. Overdue care is told beside whatever else there is.

    Args:
        alarms: Those that are open.
        spaces: With their air and their wheels.
        words: Of the household.
        now_us: The time. [µs UTC]
        ahead: Limits that will be reached.
        overdue: Which care is overdue, in a sentence; empty when none is.
        today: What is to be done today, in a sentence and with what in it; None when nothing is.
    """
    active = [alarm for alarm in alarms if alarm.returned_us is None]
    if active:
        return _beside(_alarm(alarms, spaces, words), overdue)
    need = _from_verdicts(spaces, words, now_us, ahead, overdue, today)
    if not alarms:
        return need
    over = (
        "1 alarm is over and waits"
        if len(alarms) == 1
        else f"{len(alarms)} alarms are over and wait"
    )
    return replace(need, others=f"{over} to be acknowledged")


def _from_verdicts(
    spaces: Sequence[SpaceNow],
    words: Words,
    now_us: int,
    ahead: Ahead,
    overdue: str,
    today: tuple[str, str] | None,
) -> Need:
    wheels = [wheel for space in spaces for wheel in space.wheels]
    out = [wheel for wheel in wheels if wheel.verdict.findings]
    if out:
        return _beside(_told(out, words, now_us), overdue)
    if ahead:
        return _beside(_told_ahead(ahead, words), overdue)
    asked = (overdue, "") if overdue else today
    if asked is not None:
        return _care(*asked, wheels, words, now_us)
    unknown = [wheel for wheel in wheels if wheel.verdict.unknown]
    if unknown:
        told = _told(unknown, words, now_us)
        return replace(
            told,
            title=f"Not everything is known of {how_many(unknown)}.",
            more=f"{told.title} {told.more}".strip(),
        )
    if not wheels:
        return Need("No wheel is entered yet.", address="/household")
    return Need("Nothing needs you now.", f"The air of {_all(wheels)} is in range.")


def _beside(need: Need, overdue: str) -> Need:
    """The same, with overdue care told under it."""
    return replace(need, more=f"{need.more}\n{overdue}".strip()) if overdue else need


def _care(title: str, more: str, wheels: Sequence[WheelNow], words: Words, now_us: int) -> Need:
    """Care that is asked for, and under it whether the air is fine."""
    unknown = [wheel for wheel in wheels if wheel.verdict.unknown]
    air = (
        _told(unknown, words, now_us).title
        if unknown
        else f"The air of {_all(wheels)} is in range."
    )
    return Need(title=title, more=f"{more}\n{air}".strip(), address="/care")


def _told_ahead(ahead: Ahead, words: Words) -> Need:
    (space, first), *others = ahead
    title, what_to_try = outlook_lines(space.name, first, words)
    more = [what_to_try, *(outlook_lines(where.name, each, words)[0] for where, each in others)]
    return Need(title=title, more="\n".join(more), address=f"/spaces/{space.id}")


def worst_first(alarms: Sequence[AlarmEntry]) -> list[AlarmEntry]:
    """Active ones first, those nobody has seen before the others, the gravest first."""
    return sorted(
        alarms,
        key=lambda each: (
            each.returned_us is not None,
            each.state is AlarmState.ACKNOWLEDGED,
            -_GRAVITY.index(each.priority),
            -each.raised_us,
        ),
    )


def _alarm(alarms: Sequence[AlarmEntry], spaces: Sequence[SpaceNow], words: Words) -> Need:
    first, *others = worst_first(alarms)
    more = [plain(line) for line in first.body.splitlines() if line.strip()]
    more = [line for line in more if line != plain(first.title)]
    # What it foresees, and how far, was so when it was raised.
    more.append(f"Raised {words.moment(first.raised_us)}.{_now(first, spaces, words)}")
    if first.state is AlarmState.ACKNOWLEDGED:
        more.append(f"Acknowledged by {plain(first.acknowledged_by or '')}.")
    return Need(
        title=short(first.title),
        more="\n".join(more),
        address=f"/alarms#alarm-{first.id}",
        alarm=True,
        others=f"{counted(len(others), 'other alarm')} open" if others else "",
    )


def _now(alarm: AlarmEntry, spaces: Sequence[SpaceNow], words: Words) -> str:
    """What it is now: the message of an alarm tells of the time when it was raised."""
    if alarm.kind == failing.KIND:
        return ""  # What that sensor says now is what the alarm doubts.
    for space in spaces:
        if space.id == alarm.space_id and space.air is not None and space.air.fresh:
            air = space.air
            return (
                f" Now {words.temperature(air.temperature_c)}, {words.humidity(air.humidity_pct)}."
            )
    return ""


def _told(wheels: Sequence[WheelNow], words: Words, now_us: int) -> Need:
    group, *others = grouped(wheels, words, now_us)
    first = group.wheels[0]
    name = short(group.name) + (f" ×{len(group.wheels)}" if len(group.wheels) > 1 else "")
    told = [line.text for line in verdict_lines(first, words, now_us)]
    more = [f"Also: {listed([other.words for other in others[:3]])}."] if others else []
    if len(others) > 3:  # noqa: PLR2004 - three are named above
        more.append(f"And {len(others) - 3} more.")
    return Need(
        title=f"{name}: {listed(told)}.",
        more=" ".join(more),
        address=f"/wheels/{first.id}",
    )


def _all(wheels: Sequence[WheelNow]) -> str:
    count = how_many(wheels)
    return f"the {count.removeprefix('1 ')}" if len(wheels) == 1 else f"all {count}"
