"""All care as it stands: what is due, the visits that serve it, and the gates that ask."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from service.ageing.schedule import Due, due
from service.ageing.tended import Entry, Outcome
from service.ageing.visits import DAYS_AHEAD, Openings, Visit, openings, outermost, visits
from service.ageing.work import Place
from service.judging import Plans
from service.store import care, gates, places
from service.store.database import Session
from service.store.tables import WheelPlacement
from service.tending.days import Zones, day_of
from service.tending.entered import entries
from service.tending.facts import Tended, tended, zones_of
from service.tending.gates import GateNow, gates_now


@dataclass(frozen=True, slots=True)
class CareNow:
    """The care of a household as it stands.

    Attributes:
        zones: In which its days are counted.
        today: The day.
        wheels: Every wheel that has not ended, by number.
        told: All that was entered of care up to now, in the order of its time.
        due: What comes up of care, the most pressing first; also what opens only later.
        visits: When to open which outermost space, and for what.
        openings: How many openings that needs, and saves.
        gates: Every wheel that lives a stage, before its gate.
    """

    zones: Zones
    today: date
    wheels: Mapping[int, Tended]
    told: tuple[Entry, ...]
    due: tuple[Due, ...]
    visits: tuple[Visit, ...]
    openings: Openings
    gates: tuple[GateNow, ...]

    @property
    def asking(self) -> tuple[GateNow, ...]:
        """The gates that ask today."""
        return tuple(gate for gate in self.gates if gate.standing.asks_now)

    def of_wheel(self, wheel_id: int) -> tuple[Due, ...]:
        """What comes up for one wheel or for its box, the most pressing first."""
        return tuple(each for each in self.due if wheel_id in each.wheels)


def care_now(session: Session, plans: Plans, now_us: int, *, days: int = DAYS_AHEAD) -> CareNow:
    """The care of the household at a time.

    Args:
        session: The store.
        plans: The plans.
        now_us: The time. [µs UTC]
        days: How many days ahead visits are proposed, today included.
    """
    zones = zones_of(session)
    today = day_of(now_us, zones)
    wheels = tended(session, plans, now_us)
    told = entries(session, zones, now_us)
    found = due([wheel.days for wheel in wheels], told, today)
    parents = _parents(session)
    lately = [entry for entry in told if entry.day == today]
    opened = {space for space, _ in days_opened(session, lately, zones, today)} - {None}
    planned = visits(found, parents, today, days, opened)
    return CareNow(
        zones=zones,
        today=today,
        wheels={wheel.id: wheel for wheel in wheels},
        told=told,
        due=found,
        visits=planned,
        openings=openings(planned, found, parents, today, days),
        gates=gates_now(session, wheels, now_us),
    )


def days_opened(
    session: Session, told: Iterable[Entry], zones: Zones, since: date
) -> set[tuple[int | None, date]]:
    """The days on which outermost spaces were opened: something was done in them or said at a gate.

    What was put off was not done, and tells of no opening. A wheel counts for the space in which
    it lay at the time; None where nobody knows.

    Args:
        session: The store.
        told: What was entered of care.
        zones: The household's zones.
        since: Of what was said at gates, only what was said on this day or later.
    """
    parents = _parents(session)
    stays: dict[int, list[WheelPlacement]] = {}
    for stay in care.all_placements(session):
        stays.setdefault(stay.wheel_id, []).append(stay)

    def lay_in(wheel_id: int, at_us: int) -> int | None:
        known = stays.get(wheel_id, [])
        # What is known by its day alone is kept at noon, which may be before the first stay.
        return next((stay.space_id for stay in reversed(known) if stay.from_us <= at_us), None) or (
            known[0].space_id if known else None
        )

    found = {
        (
            entry.subject.number
            if entry.subject.place is Place.BOX
            else lay_in(entry.subject.number, entry.order),
            entry.day,
        )
        for entry in told
        if entry.outcome is not Outcome.PUT_OFF
    }
    found |= {
        (lay_in(row.wheel_id, row.time_us), day)
        for row in gates.answers(session)
        if (day := day_of(row.time_us, zones)) >= since
    }
    return {(outermost(space, parents), day) for space, day in found}


def _parents(session: Session) -> dict[int, int | None]:
    return {space.id: space.parent_id for space in places.spaces(session) if space.id is not None}
