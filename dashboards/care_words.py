"""How care reads to the maker: what to do, on which wheels, by when, and what was done.

Days are days of the household's calendar; near ones are named, the others come with their name.
"""

# ruff: noqa: RUF002 - the reader gets real dashes and multiplication signs

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from dashboards.words import Words, counted, listed, plain, short
from service.ageing.moments import day_words
from service.ageing.phrases import wheels_together
from service.ageing.schedule import Due, Standing
from service.ageing.tended import Outcome
from service.ageing.work import Work
from service.store.ageing_tables import CareRecord, GateAnswer
from service.tending.care import CareNow
from service.tending.facts import Tended

_PAST: Final = {
    Work.TURN: "Turned",
    Work.PAT_DRY: "Patted dry",
    Work.AIR_BOX: "Aired",
    Work.WIPE_LID: "Wiped the lid of",
    Work.BRUSH: "Brushed",
    Work.WASH: "Washed",
    Work.SALT: "Salted",
    Work.COAT: "Coated",
    Work.PIERCE: "Pierced",
    Work.PIERCE_AGAIN: "Pierced again",
    Work.WRAP: "Wrapped",
    Work.REWRAP: "Wrapped anew",
    Work.MOVE: "Moved",
    Work.WEIGH: "Weighed",
    Work.LOOK: "Looked over",
    Work.TASTE: "Tasted",
}

Names = Mapping[int, tuple[str, str]]
"""Of each wheel by its number: the name of its batch, and its own label."""


@dataclass(frozen=True, slots=True)
class NextCare:
    """What comes next for a wheel.

    Attributes:
        day: When it is best done; the earliest comes first.
        text: In a few words.
        overdue: Whether it is overdue.
    """

    day: date
    text: str
    overdue: bool


def work_words(work: Work) -> str:
    """What to do: "Turn", "Air the box"."""
    return work.value.capitalize()


def wheels_words(wheel_ids: Iterable[int], names: Names) -> str:
    """Wheels by batch, numbers that follow each other drawn together.

    Examples:
        >>> wheels_words([1, 2, 3], {n: ("Blue", str(n)) for n in (1, 2, 3)})
        'Blue 1–3'
    """
    named = (names.get(each, ("wheel", str(each))) for each in wheel_ids)
    return wheels_together((short(batch), short(label)) for batch, label in named)


def near_day(day: date, today: date) -> str:
    """A day by its name, or "today", "tomorrow", "yesterday"."""
    near = {-1: "yesterday", 0: "today", 1: "tomorrow"}
    return near.get((day - today).days) or _dated(day, today)


def standing_words(each: Due, today: date) -> str:
    """How a care stands, with its days; what was put off tells its new day as well."""
    standing = each.standing(today)
    put_off = each.put_off if each.put_off is not None and each.put_off > today else None
    if standing is Standing.OVERDUE:
        late = counted(each.overdue_days(today), "day")
        again = f"; put off until {near_day(put_off, today)}" if put_off else ""
        return f"overdue by {late}: it was to be done by {near_day(each.latest, today)}{again}"
    if put_off:
        # Put off beyond its latest day it will be overdue before it is asked again.
        last = near_day(each.latest, today)
        return f"put off until {near_day(put_off, today)}; its last day is {last}"
    if standing is Standing.DUE:
        if each.latest == today:
            return "due today, its last day"
        return f"due, by {near_day(each.latest, today)} at the latest"
    if standing is Standing.OPEN:
        return f"can be done; best {near_day(each.expected, today)}"
    return f"best {near_day(each.expected, today)}, from {near_day(each.opens, today)}"


def next_care(now: CareNow) -> dict[int, NextCare]:
    """What comes next for each wheel, by its number, on the day of the visit that serves it."""
    today = now.today
    proposed = {(each.work, each.subject): visit.day for visit in now.visits for each in visit.due}
    found: dict[int, NextCare] = {}
    for each in sorted(now.due, key=lambda one: (one.latest >= today, one.expected)):
        overdue = each.standing(today) is Standing.OVERDUE
        day = proposed.get((each.work, each.subject), max(each.expected, today))
        if overdue:
            text = f"{each.work} overdue since {_dated(each.latest + timedelta(days=1), today)}"
        else:
            text = f"{each.work} {near_day(day, today)}"
        for wheel_id in each.wheels:
            before = found.get(wheel_id)
            if before is None or (not before.overdue and day < before.day):
                found[wheel_id] = NextCare(day, text, overdue)
    return found


def touch_words(
    care: Sequence[CareRecord],
    gates: Sequence[GateAnswer],
    names: Names,
    spaces: Mapping[int, str],
    stages: Mapping[str, str],
    words: Words,
    today: date,
) -> str:
    """What a touch has entered, in a sentence or two."""
    moved = {answer.wheel_id for answer in gates}
    own = [row for row in care if not (row.work == Work.MOVE and row.wheel_id in moved)]
    told = [_care_told(own, names, spaces, words, today)] if own else []
    for answer in gates[:1]:
        on = wheels_words([each.wheel_id for each in gates], names)
        told.append(_gate_told(answer, on, _went_to(care, spaces), stages, today))
    return " ".join(told)


def record_words(row: CareRecord, spaces: Mapping[int, str], today: date) -> str:
    """One line of a wheel's history."""
    work = Work(row.work)
    outcome = Outcome(row.outcome)
    box = plain(spaces.get(row.space_id or 0, "")) if row.wheel_id is None else ""
    if outcome is Outcome.DONE:
        line = f"{_PAST[work]} {box}" if box else _PAST[work]
        if work is Work.MOVE and row.space_id is not None:
            line += f" to {plain(spaces.get(row.space_id, ''))}"
    elif outcome is Outcome.SKIPPED:
        line = f"Skipped: {work}"
    else:
        line = f"Put off until {_until(row, today)}: {work}"
    return f"{line}. {plain(row.words)}" if row.words else line


def answer_words(row: GateAnswer, stages: Mapping[str, str], today: date) -> str:
    """One line of a wheel's history at a gate, with the reason where there was one."""
    if row.opened and row.next_stage is None:
        return row.reason.capitalize()
    if row.opened:
        line = f"Went on to {stages.get(row.next_stage or '', row.next_stage)}"
        missing = [each.partition(": ")[0] for each in json.loads(row.missing_json)]
        if missing:
            line += f", without {listed(missing)}"
    else:
        line = f"Not yet; asked again {_again(row, today)}"
    return f"{line}. {plain(row.reason)}" if row.reason else line


def names_of(wheels: Iterable[Tended]) -> Names:
    """The names of wheels by number."""
    return {wheel.id: (wheel.batch, wheel.label) for wheel in wheels}


def _care_told(
    rows: Sequence[CareRecord],
    names: Names,
    spaces: Mapping[int, str],
    words: Words,
    today: date,
) -> str:
    """All care of one touch in a sentence, its moment once where it is one."""
    groups: dict[tuple[str, str, int, str | None], list[CareRecord]] = {}
    for row in rows:
        groups.setdefault((row.outcome, row.work, row.time_us, row.until_day), []).append(row)
    told = [_group_told(group, names, spaces, today) for group in groups.values()]
    line = listed([told[0], *(each[:1].lower() + each[1:] for each in told[1:])])
    done = {row.time_us for row in rows if row.outcome == Outcome.DONE}
    return f"{line}, {words.moment(done.pop())}." if len(done) == 1 else f"{line}."


def _group_told(
    rows: Sequence[CareRecord], names: Names, spaces: Mapping[int, str], today: date
) -> str:
    """One work of one touch, on all on which it was done."""
    first = rows[0]
    work = Work(first.work)
    on = wheels_words([row.wheel_id for row in rows if row.wheel_id is not None], names)
    where = listed([plain(spaces.get(row.space_id or 0, "the box")) for row in rows])
    if first.outcome == Outcome.SKIPPED:
        return f"Skipped: {work}, {on or where}"
    if first.outcome == Outcome.PUT_OFF:
        return f"Put off until {_until(first, today)}: {work}, {on or where}"
    moved = work is Work.MOVE and first.space_id is not None and first.wheel_id is not None
    to = f" to {plain(spaces.get(first.space_id or 0, 'another space'))}" if moved else ""
    return f"{_PAST[work]} {on or where}{to}"


def _went_to(care: Sequence[CareRecord], spaces: Mapping[int, str]) -> str:
    """Where wheels went with a touch; empty where they stayed."""
    for row in care:
        if row.work == Work.MOVE and row.space_id is not None and row.wheel_id is not None:
            return plain(spaces.get(row.space_id, ""))
    return ""


def _gate_told(answer: GateAnswer, on: str, to: str, stages: Mapping[str, str], today: date) -> str:
    if not answer.opened:
        return f"Not yet: {on}. It is asked again {_again(answer, today)}."
    if answer.next_stage is None:
        return f"{on}: {answer.reason}."
    stage = stages.get(answer.next_stage, answer.next_stage)
    where = f", into {to}" if to not in {"", stage} else ""
    return f"{on} went on to {stage}{where}."


def _until(row: CareRecord, today: date) -> str:
    return near_day(date.fromisoformat(row.until_day), today) if row.until_day else "later"


def _again(row: GateAnswer, today: date) -> str:
    return near_day(date.fromisoformat(row.ask_again_day), today) if row.ask_again_day else "later"


def _dated(day: date, today: date) -> str:
    """A day with its name; with its year where it is another one's."""
    return day_words(day) if day.year == today.year else f"{day_words(day)} {day.year}"
