"""From stored care to the entries on which the schedule works.

Who has weighed a wheel, looked it over or moved it has done that care, whichever page it was
entered on; nobody should enter a thing twice.
"""

from dataclasses import replace
from datetime import date

from service.ageing.tended import Entry, Outcome, Subject
from service.ageing.work import Place, Work
from service.errors import UnknownError
from service.store import care, observations, wheels
from service.store.ageing_tables import CareRecord
from service.store.database import Session
from service.tending.days import Zones, day_of


def entries(session: Session, zones: Zones, now_us: int) -> tuple[Entry, ...]:
    """All that has been done, skipped or put off up to now, in the order of its time.

    What was said of one moment comes in the order in which it was said.
    """
    found = [
        (row.time_us, row.entered_us, _entry(row, zones))
        for row in care.records(session)
        if day_of(row.time_us, zones) <= day_of(now_us, zones)
    ]
    found += [
        (time_us, time_us, Entry(work, Subject(Place.WHEEL, wheel_id), Outcome.DONE, day, None, 0))
        for work, wheel_id, time_us in _done_elsewhere(session)
        for day in (day_of(time_us, zones),)
        if time_us <= now_us
    ]
    found.sort(key=lambda each: each[:2])
    ordered: list[Entry] = []
    newest = 0
    for time_us, _, entry in found:
        # Looks are ordered by their instants, so entries are too; a microsecond parts equals.
        newest = max(newest + 1, time_us)
        ordered.append(replace(entry, order=newest))
    return tuple(ordered)


def subject_of(row: CareRecord) -> Subject:
    """On what a stored row of care was done.

    Raises:
        UnknownError: It names neither a wheel nor a space.
    """
    if row.wheel_id is not None:
        return Subject(Place.WHEEL, row.wheel_id)
    if row.space_id is None:
        raise UnknownError(f"care {row.id} was done on nothing")
    return Subject(Place.BOX, row.space_id)


def _entry(row: CareRecord, zones: Zones) -> Entry:
    return Entry(
        work=Work(row.work),
        subject=subject_of(row),
        outcome=Outcome(row.outcome),
        day=day_of(row.time_us, zones),
        until=date.fromisoformat(row.until_day) if row.until_day else None,
        order=0,
    )


def _done_elsewhere(session: Session) -> list[tuple[Work, int, int]]:
    """Care that was entered as something else: the work, the wheel and the time. [µs UTC]"""
    found = [(Work.WEIGH, each.wheel_id, each.time_us) for each in care.weighings_held(session)]
    placed: set[int] = set()
    for stay in care.all_placements(session):
        # Where a wheel is put first is no move.
        if stay.wheel_id in placed:
            found.append((Work.MOVE, stay.wheel_id, stay.from_us))
        placed.add(stay.wheel_id)
    wheel_ids = [wheel.id for wheel, _ in wheels.wheels(session) if wheel.id is not None]
    seen = observations.of_wheels(session, wheel_ids)
    # A weight alone is no look, on whichever page it was entered.
    bare = observations.only_weighed(session, seen)
    found += [(Work.LOOK, each.wheel_id, each.time_us) for each in seen if each.id not in bare]
    return found
