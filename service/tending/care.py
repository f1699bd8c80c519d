"""All care as it stands: what is due, the visits that serve it, and the gates that ask."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from service.ageing.schedule import Due, due
from service.ageing.tended import Entry, Outcome
from service.ageing.visits import DAYS_AHEAD, Openings, Visit, openings, outermost, visits
from service.ageing.work import Place
from service.judging import Plans
from service.store import gates, places
from service.store.database import Session
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
        due: What comes up of care, the most pressing first; also what opens only later.
        visits: When to open which outermost space, and for what.
        openings: How many openings that needs, and saves.
        gates: Every wheel that lives a stage, before its gate.
    """

    zones: Zones
    today: date
    wheels: Mapping[int, Tended]
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
    parents = {
        space.id: space.parent_id for space in places.spaces(session) if space.id is not None
    }
    opened = {
        outermost(space, parents) for space in _tended_on(session, wheels, told, zones, today)
    }
    planned = visits(found, parents, today, days, opened)
    return CareNow(
        zones=zones,
        today=today,
        wheels={wheel.id: wheel for wheel in wheels},
        due=found,
        visits=planned,
        openings=openings(planned),
        gates=gates_now(session, wheels, now_us),
    )


def _tended_on(
    session: Session,
    wheels: Sequence[Tended],
    told: Sequence[Entry],
    zones: Zones,
    day: date,
) -> set[int | None]:
    """The spaces in which something was done or said at a gate on a day.

    What was put off was not done, and tells of no opening.
    """
    space_of = {wheel.id: wheel.space_id for wheel in wheels}
    found = {
        entry.subject.number
        if entry.subject.place is Place.BOX
        else space_of.get(entry.subject.number)
        for entry in told
        if entry.day == day and entry.outcome is not Outcome.PUT_OFF
    }
    found |= {
        space_of.get(row.wheel_id)
        for row in gates.answers(session)
        if day_of(row.time_us, zones) == day
    }
    return found - {None}
