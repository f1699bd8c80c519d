"""All care as it stands: what is due, the visits that serve it, and the gates that ask."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from service.ageing.schedule import Due, due
from service.ageing.visits import DAYS_AHEAD, Openings, Visit, openings, visits
from service.judging import Plans
from service.store import places
from service.store.database import Session
from service.tending.days import day_of
from service.tending.entered import entries
from service.tending.facts import Tended, tended, zone_of
from service.tending.gates import GateNow, gates_now


@dataclass(frozen=True, slots=True)
class CareNow:
    """The care of a household as it stands.

    Attributes:
        zone: In which its days are counted.
        today: The day.
        wheels: Every wheel that has not ended, by number.
        due: What comes up of care, the most pressing first; also what opens only later.
        visits: When to open which outermost space, and for what.
        openings: How many openings that needs, and saves.
        gates: Every wheel that lives a stage, before its gate.
    """

    zone: ZoneInfo
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


def care_now(
    session: Session,
    plans: Plans,
    now_us: int,
    *,
    days: int = DAYS_AHEAD,
    sweat_days: Mapping[int, date] | None = None,
) -> CareNow:
    """The care of the household at a time.

    Args:
        session: The store.
        plans: The plans.
        now_us: The time. [µs UTC]
        days: How many days ahead visits are proposed, today included.
        sweat_days: The last day with sweat on a wheel, by its number, where the caller knows it.
    """
    zone = zone_of(session)
    today = day_of(now_us, zone)
    wheels = tended(session, plans, now_us, sweat_days)
    found = due([wheel.days for wheel in wheels], entries(session, zone, now_us), today)
    parents = {
        space.id: space.parent_id for space in places.spaces(session) if space.id is not None
    }
    planned = visits(found, parents, today, days)
    return CareNow(
        zone=zone,
        today=today,
        wheels={wheel.id: wheel for wheel in wheels},
        due=found,
        visits=planned,
        openings=openings(planned),
        gates=gates_now(session, wheels, now_us),
    )
