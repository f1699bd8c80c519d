"""What the calendar says: the visits of the coming days, the tasks, and the gates that will ask.

A visit is known by its space and by how often that has been opened before, so it keeps its name
when it moves, or when a visit before it is made late; a question by its batch and stage. A task is
known by its care, its batch or box and the day on which that was last done; so it keeps its name
when it moves and when it is done. Of each care only the next time is a task: those after it hang
on what is done and seen until then, and stand in the visits that are foreseen.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from service.ageing.diary import DiaryEntry, DiaryKind
from service.ageing.moments import day_words
from service.ageing.phrases import listed, wheels_together
from service.ageing.schedule import Due
from service.ageing.tended import Entry, Outcome, Subject
from service.ageing.visits import Visit
from service.ageing.work import Place, Work
from service.judging import Plans
from service.store import places
from service.store.database import Session
from service.tending.care import CareNow, care_now, days_opened
from service.tending.days import noon_us
from service.tending.facts import Tended
from service.tending.gates import GateNow

AHEAD_DAYS: Final = 28
"""How far the calendar looks ahead. [d] Our choice: what lies further off hangs too much on what
is seen until then."""
DONE_SHOWN_DAYS: Final = 14
"""How long what was done stays in the calendar. [d] Our choice."""
_PAGE: Final = "/care"


def diary(session: Session, plans: Plans, now_us: int) -> tuple[DiaryEntry, ...]:
    """All that the calendar says at a time, by day."""
    now = care_now(session, plans, now_us)
    names = _Names.of(session, now)
    entries: dict[str, DiaryEntry] = {}
    for entry in (
        *_visits(now, days_opened(session, now.told, now.zones, date.min), names),
        *_tasks(now.due, now.today, names),
        *_done(now, names, now_us),
        *_questions(now, names),
    ):
        # While some wheels of a batch still wait, the task is not done.
        entries.setdefault(entry.key, entry)
    return tuple(sorted(entries.values(), key=lambda entry: (entry.day, entry.key)))


@dataclass(frozen=True, slots=True)
class _Subject:
    """What one entry of the calendar is about: the wheels of a batch, or a box."""

    place: Place
    number: int

    def __str__(self) -> str:
        return f"{'batch' if self.place is Place.WHEEL else 'box'}-{self.number}"


@dataclass(frozen=True, slots=True)
class _Names:
    """How wheels and spaces are called in one line."""

    wheels: Mapping[int, Tended]
    spaces: Mapping[int, str]

    @classmethod
    def of(cls, session: Session, now: CareNow) -> "_Names":
        found = {space.id: space.name for space in places.spaces(session) if space.id is not None}
        return cls(now.wheels, found)

    def space(self, number: int | None) -> str:
        return self.spaces.get(number or 0, "Wheels in no space")

    def subject(self, subject: Subject) -> _Subject | None:
        """The batch of a wheel, or the box; None for a wheel that has ended."""
        if subject.place is Place.BOX:
            return _Subject(Place.BOX, subject.number)
        wheel = self.wheels.get(subject.number)
        return _Subject(Place.WHEEL, wheel.batch_id) if wheel else None

    def together(self, subjects: Iterable[Subject]) -> str:
        found = sorted(set(subjects), key=lambda each: each.number)
        boxes = [self.space(each.number) for each in found if each.place is Place.BOX]
        wheels = [self.wheels[each.number] for each in found if each.place is Place.WHEEL]
        told = wheels_together((wheel.batch, wheel.label) for wheel in wheels)
        return "; ".join([*filter(None, [told, ", ".join(boxes)])])


def _visits(
    now: CareNow, opened: Collection[tuple[int | None, date]], names: _Names
) -> Iterator[DiaryEntry]:
    """The visits, each under the number that its opening of the space has or will have."""
    numbers = Counter(space for space, day in opened if day < now.today)
    # Where a visit has begun today and nothing is left of it, the next one counts on from it.
    visited = {visit.space for visit in now.visits if visit.day == now.today}
    numbers.update(space for space, day in opened if day == now.today and space not in visited)
    for visit in now.visits:
        numbers[visit.space] += 1
        yield _visit(visit, numbers[visit.space], names)


def _visit(visit: Visit, number: int, names: _Names) -> DiaryEntry:
    settled = _by_work(visit.due, names)
    foreseen = _by_work((each.due for each in visit.foreseen), names)
    lines = [f"{work.capitalize()}: {on}." for work, on in settled.items()]
    lines += [f"Foreseen: {work}, {on}." for work, on in foreseen.items()]
    if len(visit.care) > 1:
        lines.append("One opening serves all of it.")
    if len(visit.own_days) > 1:
        lines.append(f"Each care on its own day would open it {len(visit.own_days)} times.")
    if foreseen:
        lines.append("What is foreseen moves with what is done until then.")
    works = [work for work in Work if work in settled or work in foreseen]
    title = f"{names.space(visit.space)}: {listed(works)}"
    return DiaryEntry(
        key=f"visit-{visit.space or 0}-{number}",
        kind=DiaryKind.VISIT,
        title=f"{title} (foreseen)" if visit.is_foreseen else title,
        words="\n".join(lines),
        path=_PAGE,
        day=visit.day,
        is_estimate=visit.is_foreseen,
    )


def _by_work(dues: Iterable[Due], names: _Names) -> dict[Work, str]:
    """On what each work is done, in the order of the works."""
    found: dict[Work, list[Subject]] = {work: [] for work in Work}
    for due in dues:
        found[due.work].append(due.subject)
    return {work: names.together(subjects) for work, subjects in found.items() if subjects}


def _tasks(found: Sequence[Due], today: date, names: _Names) -> Iterator[DiaryEntry]:
    """The next time of each care, the wheels of a batch that were last done together in one."""
    groups: dict[str, list[Due]] = {}
    for due in found:
        key = _key(due.work, names.subject(due.subject), due.last_done)
        groups.setdefault(key, []).append(due)
    for key, group in groups.items():
        first = min(group, key=lambda due: (due.latest, due.expected))
        day = max(first.expected, today)
        if (day - today).days > AHEAD_DAYS:
            continue
        yield DiaryEntry(
            key=key,
            kind=DiaryKind.TASK,
            title=f"{first.work.capitalize()}: {names.together(due.subject for due in group)}",
            words=f"{first.rule.words} At the latest {day_words(first.latest)}.",
            path=_PAGE,
            day=day,
            opens=first.opens,
            latest=first.latest,
        )


def _done(now: CareNow, names: _Names, now_us: int) -> Iterator[DiaryEntry]:
    """What was done lately, under the name that it had as a task; it rings no more.

    Care counts by the day, so the hour at which a task was completed is given as noon.
    """
    last: dict[tuple[Work, Subject], date] = {}
    groups: dict[tuple[str, date], list[Entry]] = {}
    for entry in sorted(now.told, key=lambda each: (each.day, each.order)):
        named = entry.work, entry.subject
        before = last.get(named)
        if entry.outcome is not Outcome.DONE or entry.day == before:
            continue
        last[named] = entry.day
        subject = names.subject(entry.subject)
        # A move is a fact of the wheel and no task that recurs.
        if entry.work is Work.MOVE or subject is None:
            continue
        if (now.today - entry.day).days <= DONE_SHOWN_DAYS:
            groups.setdefault((_key(entry.work, subject, before), entry.day), []).append(entry)
    for (key, day), group in groups.items():
        yield DiaryEntry(
            key=key,
            kind=DiaryKind.TASK,
            title=f"{group[0].work.capitalize()}: {names.together(each.subject for each in group)}",
            words="",
            path=_PAGE,
            day=day,
            done_us=min(noon_us(day, now.zones), now_us),
        )


def _key(work: Work, subject: _Subject | None, last_done: date | None) -> str:
    since = f"since-{last_done}" if last_done else "first"
    return f"{work.value.replace(' ', '-')}-{subject}-{since}"


def _questions(now: CareNow, names: _Names) -> Iterator[DiaryEntry]:
    """The gates that will ask, those of a batch and a stage in one."""
    groups: dict[tuple[int, str], list[GateNow]] = {}
    for gate in now.gates:
        if gate.wheel.stage is not None:
            groups.setdefault((gate.wheel.batch_id, gate.wheel.stage.slug), []).append(gate)
    for (batch_id, stage), group in groups.items():
        first = min(group, key=lambda gate: gate.standing.ask_on)
        day = max(first.standing.ask_on, now.today)
        if (day - now.today).days > AHEAD_DAYS or first.wheel.stage is None:
            continue
        who = names.together(Subject(Place.WHEEL, gate.wheel.id) for gate in group)
        missing = first.standing.missing
        yield DiaryEntry(
            key=f"gate-batch-{batch_id}-{stage}",
            kind=DiaryKind.QUESTION,
            title=f"Look and say, {who}: {first.gate.words}",
            words=f"Not seen yet: {'; '.join(missing)}." if missing else "",
            path=f"/wheels/{first.wheel.id}/gate",
            day=day,
            is_estimate=not first.standing.asks_now,
        )
