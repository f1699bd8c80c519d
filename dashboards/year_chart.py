"""A year of all wheels before anybody draws it: rows of bars, from the same for SVG and Plotly.

Wheels that lived the same life and are planned alike share a row. What was lived is solid, what
is expected pale; a thin line beneath runs from the earliest to the latest end of a stage.
"""

# ruff: noqa: RUF001 - the reader gets real dashes

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from dashboards.drawings.air import Tick
from dashboards.planner_words import between, on_day
from dashboards.words import Words, plain
from service.ageing.plans import Stage
from service.clock import DAY_US, from_datetime
from service.planning.year import AheadBar, WheelYear, concerned

_BEFORE_US = 240 * DAY_US
_YEAR_DAYS = 365
_TONES = ("stage-one", "stage-two")


@dataclass(frozen=True, slots=True)
class Bar:
    """One stage of a row, lived or expected. [µs UTC]"""

    from_us: int
    to_us: int
    tone: str
    name: str
    words: str
    ahead: bool


@dataclass(frozen=True, slots=True)
class Reach:
    """From the earliest to the latest end of a stage. [µs UTC]"""

    from_us: int
    to_us: int
    words: str


@dataclass(frozen=True, slots=True)
class Row:
    """Wheels alike with their bars, and the same in words: stage, from, until.

    Attributes:
        name: The batch and the labels of the wheels.
        says: The stage of now and those to come, for bars too short to bear their names.
        wheel_ids: The numbers of the wheels.
        bars: The stages, lived and expected.
        reaches: From the earliest to the latest end of what is expected.
        told: Each stage with its beginning and its end, for the table.
    """

    name: str
    says: str
    wheel_ids: tuple[int, ...]
    bars: tuple[Bar, ...]
    reaches: tuple[Reach, ...]
    told: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class YearChart:
    """A year of all wheels. [µs UTC]"""

    from_us: int
    to_us: int
    now_us: int
    rows: tuple[Row, ...]
    months: tuple[Tick, ...]


def year_chart(years: Sequence[WheelYear], words: Words, now_us: int) -> YearChart:
    """The chart of a year that holds what was and what is ahead."""
    shown = concerned(years, now_us - _BEFORE_US)
    first_us = max(min((each.made_us for each in shown), default=now_us), now_us - _BEFORE_US)
    begin = words.local(first_us).date().replace(day=1)
    from_us = _midnight(begin, words)
    to_us = _midnight(begin + timedelta(days=_YEAR_DAYS), words)
    today = words.local(now_us).date()
    alike: dict[tuple[object, ...], list[WheelYear]] = {}
    for each in shown:
        alike.setdefault((each.batch, each.made_us, each.lived, each.ahead), []).append(each)
    rows = tuple(_row(group, words, today, from_us, to_us) for group in alike.values())
    return YearChart(from_us, to_us, now_us, rows, _months(begin, to_us, words))


def _row(group: Sequence[WheelYear], words: Words, today: date, from_us: int, to_us: int) -> Row:
    first = group[0]
    tones: dict[str, str] = {}
    stages = (*(each.stage for each in first.lived), *(each.stage for each in first.ahead))
    for stage in stages:
        so_far = sum(1 for tone in tones.values() if tone in _TONES)
        tones.setdefault(stage.slug, _tone_of(stage) or _TONES[so_far % 2])
    bars: list[Bar] = []
    told: list[tuple[str, str, str]] = []
    for lived in first.lived:
        name, began = plain(lived.stage.name), words.dated(lived.from_us)
        ends = "so far" if lived.goes_on else words.dated(lived.to_us)
        told.append((name, began, ends))
        line = f"{name}: {words.day(lived.from_us)} – {words.day(lived.to_us)}"
        bars.append(
            Bar(lived.from_us, lived.to_us, tones[lived.stage.slug], name, line, ahead=False)
        )
    reaches: list[Reach] = []
    begin_us = first.lived[-1].to_us if first.lived else from_us
    for ahead in first.ahead:
        name = plain(ahead.stage.name)
        until = between(ahead.ends, today)
        since = "" if ahead.begins is None else between(ahead.begins, today)
        if ahead.begins is None and told and told[-1][0] == name:
            told[-1] = (name, told[-1][1], f"{until}, estimate")
        else:
            told.append((name, since or on_day(today, today), f"{until}, estimate"))
        end_us = max(begin_us, _midnight(ahead.ends.expected, words))
        line = f"{name} until {until}, estimate"
        bars.append(Bar(begin_us, end_us, tones[ahead.stage.slug], name, line, ahead=True))
        reaches.append(_reach(ahead, line, words))
        begin_us = end_us
    return Row(
        name=f"{plain(first.batch)} · {', '.join(plain(each.label) for each in group)}",
        says=_says(first, today),
        wheel_ids=tuple(each.wheel_id for each in group),
        bars=tuple(_cut(bar, from_us, to_us) for bar in bars if _seen(bar, from_us, to_us)),
        reaches=tuple(
            Reach(max(each.from_us, from_us), min(each.to_us, to_us), each.words)
            for each in reaches
            if from_us <= each.from_us < each.to_us and each.from_us < to_us
        ),
        told=tuple(told),
    )


def _tone_of(stage: Stage) -> str:
    """The tone that tells of wrap and kitchen fridge; none for a stage lived bare in the cave."""
    if stage.in_kitchen_fridge:
        return "stage-cold"
    return "stage-wrapped" if stage.wrapped else ""


def _says(wheel: WheelYear, today: date) -> str:
    """What it is in now, about until when, and what follows."""
    goes_on = bool(wheel.lived) and wheel.lived[-1].goes_on
    now = plain(wheel.lived[-1].stage.name) if goes_on else ""
    ahead = list(wheel.ahead)
    told = now
    if now and ahead and plain(ahead[0].stage.name) == now:
        # Without its weekday, for a phone has little room.
        told += f" until about {on_day(ahead.pop(0).ends.expected, today).split(' ', 1)[1]}"
    names = ", ".join(plain(each.stage.name) for each in ahead)
    return f"{told}{', then ' if told and names else ''}{names}"


def _reach(ahead: AheadBar, line: str, words: Words) -> Reach:
    ends = ahead.ends
    return Reach(_midnight(ends.earliest, words), _midnight(ends.latest, words), line)


def _seen(bar: Bar, from_us: int, to_us: int) -> bool:
    return bar.to_us > from_us and bar.from_us < to_us and bar.to_us > bar.from_us


def _cut(bar: Bar, from_us: int, to_us: int) -> Bar:
    return Bar(
        max(bar.from_us, from_us), min(bar.to_us, to_us), bar.tone, bar.name, bar.words, bar.ahead
    )


def _midnight(day: date, words: Words) -> int:
    return from_datetime(datetime.combine(day, time(), words.zone))


def _months(begin: date, to_us: int, words: Words) -> tuple[Tick, ...]:
    """The first of each month, with its name; January with its year."""
    found = []
    day = begin
    while (time_us := _midnight(day, words)) <= to_us:
        month = words.day(time_us).split(" ")[2]
        found.append(Tick(time_us, f"{month} {day.year}" if day.month == 1 else month))
        day = (day + timedelta(days=31)).replace(day=1)
    return tuple(found)
