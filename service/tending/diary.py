"""What the calendar says: the visits of the coming days, the tasks, and the gates that will ask.

A visit is known by its space and day, a question by its wheel and stage. A task is known by its
care, its wheel or box and the day on which that was last done; so it keeps its name when it moves
and when it is done. The times after the first are known by their rank and only move.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from typing import Final

from service.ageing.agenda import Agenda, agenda
from service.ageing.diary import DiaryEntry, DiaryKind
from service.ageing.moments import day_words
from service.ageing.schedule import Due
from service.ageing.tended import Entry, Outcome, Subject
from service.ageing.visits import Visit
from service.ageing.work import Place, Work
from service.clock import DAY_US
from service.judging import Plans
from service.store import places
from service.store.database import Session
from service.tending import entered
from service.tending.care import CareNow, care_now
from service.tending.days import start_of_day_us

AHEAD_DAYS: Final = 28
"""How far the calendar looks ahead. [d] Our choice: four weekly turns; what lies further off
hangs too much on what is seen until then."""
DONE_SHOWN_DAYS: Final = 14
"""How long what was done stays in the calendar. [d] Our choice."""
_PAGE: Final = "/care"


def diary(session: Session, plans: Plans, now_us: int) -> tuple[DiaryEntry, ...]:
    """All that the calendar says at a time, by day."""
    now = care_now(session, plans, now_us)
    names = _Names.of(session, now)
    ahead = agenda(
        now.due,
        {gate.wheel.id: gate.standing for gate in now.gates},
        now.today,
        now.today + timedelta(days=AHEAD_DAYS),
    )
    entries = [
        *(_visit(visit, names) for visit in now.visits),
        *_tasks(ahead, names),
        *_done(entered.entries(session, now.zone, now_us), now, names, now_us),
        *_questions(ahead, now, names),
    ]
    return tuple(sorted(entries, key=lambda entry: (entry.day, entry.key)))


@dataclass(frozen=True, slots=True)
class _Names:
    """How wheels and spaces are called in one line."""

    wheels: Mapping[int, str]
    spaces: Mapping[int, str]

    @classmethod
    def of(cls, session: Session, now: CareNow) -> "_Names":
        return cls(
            {wheel.id: f"{wheel.batch} {wheel.label}" for wheel in now.wheels.values()},
            {space.id: space.name for space in places.spaces(session) if space.id is not None},
        )

    def space(self, number: int | None) -> str:
        return self.spaces.get(number or 0, "Wheels")

    def subject(self, subject: Subject) -> str:
        return self._named(subject) or f"{subject.place} {subject.number}"

    def knows(self, subject: Subject) -> bool:
        """Whether it is a wheel that has not ended, or a space."""
        return self._named(subject) is not None

    def _named(self, subject: Subject) -> str | None:
        names = self.wheels if subject.place is Place.WHEEL else self.spaces
        return names.get(subject.number)


def _visit(visit: Visit, names: _Names) -> DiaryEntry:
    works = [
        f"{work}: {', '.join(names.subject(each.subject) for each in found)}"
        for work, found in _by_work(visit)
    ]
    words = []
    if len(visit.due) > 1:
        words.append(f"One opening serves {len(visit.due)} works.")
    if len(visit.own_days) > 1:
        words.append(f"Each on its own day would open it {len(visit.own_days)} times.")
    return DiaryEntry(
        key=f"visit-{visit.space or 0}-{visit.day}",
        kind=DiaryKind.VISIT,
        title=f"{names.space(visit.space)}: {'; '.join(works)}",
        words=" ".join(words),
        path=_PAGE,
        day=visit.day,
    )


def _by_work(visit: Visit) -> Iterator[tuple[Work, list[Due]]]:
    order = list(Work)
    found = sorted(visit.due, key=lambda due: (order.index(due.work), due.subject.number))
    for work, group in groupby(found, key=lambda due: due.work):
        yield work, list(group)


def _tasks(ahead: Agenda, names: _Names) -> Iterator[DiaryEntry]:
    for each in ahead.care:
        due = each.due
        first = _key(due.work, due.subject, due.last_done)
        ranked = f"{_stem(due.work, due.subject)}-next-{each.number}"
        yield DiaryEntry(
            key=ranked if each.number else first,
            kind=DiaryKind.TASK,
            title=f"{due.work.capitalize()}: {names.subject(due.subject)}",
            words=f"{each.rule.words} At the latest {day_words(each.latest)}.",
            path=_path(due.subject),
            day=each.day,
            opens=each.opens,
            latest=each.latest,
            is_estimate=each.number > 0,
        )


def _done(found: Sequence[Entry], now: CareNow, names: _Names, now_us: int) -> Iterator[DiaryEntry]:
    """What was done lately, under the name that it had as a task; it rings no more.

    Care counts by the day, so the hour at which a task was completed is given as noon.
    """
    last: dict[tuple[Work, Subject], date] = {}
    for entry in sorted(found, key=lambda each: (each.day, each.order)):
        named = entry.work, entry.subject
        before = last.get(named)
        if entry.outcome is not Outcome.DONE or entry.day == before:
            continue
        last[named] = entry.day
        if (now.today - entry.day).days > DONE_SHOWN_DAYS or not names.knows(entry.subject):
            continue
        noon_us = start_of_day_us(entry.day, now.zone) + DAY_US // 2
        yield DiaryEntry(
            key=_key(entry.work, entry.subject, before),
            kind=DiaryKind.TASK,
            title=f"{entry.work.capitalize()}: {names.subject(entry.subject)}",
            words="",
            path=_path(entry.subject),
            day=entry.day,
            done_us=min(noon_us, now_us),
        )


def _key(work: Work, subject: Subject, last_done: date | None) -> str:
    return f"{_stem(work, subject)}-{f'since-{last_done}' if last_done else 'first'}"


def _stem(work: Work, subject: Subject) -> str:
    return f"{work.value.replace(' ', '-')}-{subject.place}-{subject.number}"


def _path(subject: Subject) -> str:
    return f"/wheels/{subject.number}" if subject.place is Place.WHEEL else _PAGE


def _questions(ahead: Agenda, now: CareNow, names: _Names) -> Iterator[DiaryEntry]:
    for ask in ahead.gates:
        wheel = now.wheels[ask.wheel]
        if wheel.stage is None:
            continue
        missing = "; ".join(ask.standing.missing)
        yield DiaryEntry(
            key=f"gate-{wheel.id}-{wheel.stage.slug}",
            kind=DiaryKind.QUESTION,
            title=f"{names.wheels[wheel.id]}: may {wheel.stage.name} end?",
            words=wheel.stage.gate.words + (f" Not seen yet: {missing}." if missing else ""),
            path=f"/wheels/{wheel.id}/gate",
            day=ask.day,
            is_estimate=not ask.standing.asks_now,
        )
