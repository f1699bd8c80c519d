"""Which wheels fit together in a space, now and through the stages to come."""

from dataclasses import dataclass
from datetime import date
from typing import Final

from service.ageing.coming import stages_ahead
from service.ageing.guests import Guest, Home
from service.ageing.mending import Spell, spells
from service.judging import Plans
from service.living.memory import Memory
from service.planning.fridges import around
from service.planning.recent import recent
from service.planning.ripened import lives
from service.store import places, wheels
from service.store.database import Session
from service.store.tables import SpaceKind
from service.tending.days import day_of
from service.tending.facts import zones_of

HORIZON_DAYS: Final = 120
"""How far ahead. [d] Our choice: the stages of most home cheeses."""


@dataclass(frozen=True, slots=True)
class Together:
    """Which wheels fit together in a space.

    Attributes:
        space_id: The space.
        today: The day from which the first spell counts.
        spells: Now and through the stages to come, in order of time.
        names: Each wheel concerned by its number: its batch and its label.
        spaces: Each space by its number.
    """

    space_id: int
    today: date
    spells: tuple[Spell, ...]
    names: dict[int, tuple[str, str]]
    spaces: dict[int, str]

    @property
    def now(self) -> Spell:
        """As things are today."""
        return self.spells[0]


def together(
    session: Session, plans: Plans, space_id: int, now_us: int, memory: Memory
) -> Together:
    """Which wheels fit together in a space, who does not, and what mends it.

    Args:
        session: The store.
        plans: The plans by slug.
        space_id: The space.
        now_us: Now. [µs UTC]
        memory: Keeps what holds.

    Raises:
        UnknownError: There is no such space.
    """
    places.space(session, space_id)
    zones = zones_of(session)
    today = day_of(now_us, zones)
    rows = [each for each in places.spaces(session) if each.id is not None]
    in_kitchen = around(rows)
    homes = []
    for each in rows:
        # A room is no place to age in, but a wheel may be in one, and it may be asked about.
        if each.kind == SpaceKind.ROOM and each.id != space_id:
            continue
        assert each.id is not None  # of those that are stored
        warm = recent(session, each.id, now_us, memory)
        homes.append(
            Home(
                each.id,
                each.parent_id,
                each.id in in_kitchen,
                warm.air.mean_c if warm else None,
                warm.humidity_pct if warm else None,
            )
        )
    here = {wheel.id: (wheel, batch) for wheel, batch in wheels.wheels(session)}
    living = [number for number, (wheel, _) in here.items() if wheel.ended_us is None and number]
    guests = []
    for number, life in lives(session, plans, living).items():
        stay = next(
            (
                each
                for each in life.placements
                if each.from_us <= now_us and (each.to_us is None or each.to_us > now_us)
            ),
            None,
        )
        lived = [each for each in life.stages if each.from_us <= now_us]
        if stay is None or not lived:
            continue
        ahead = stages_ahead(
            life.plan,
            lived[-1].stage,
            day_of(lived[-1].from_us, zones),
            day_of(life.made_us, zones),
            today,
        )
        guests.append(Guest(number, life.wheel.batch_id, stay.space_id, ahead, today))
    return Together(
        space_id=space_id,
        today=today,
        spells=spells(guests, homes, space_id, today, HORIZON_DAYS),
        names={
            number: (batch.name, wheel.label)
            for number, (wheel, batch) in here.items()
            if number is not None
        },
        spaces={each.id: each.name for each in rows if each.id is not None},
    )
