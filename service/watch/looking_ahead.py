"""The slower half of the watch: early warnings, sweat, and sensors that are stuck or wet.

All go in steps of the readings' own time. It works in transactions of its own and after the
limit alarms, so that whatever fails here keeps nobody from hearing of a limit that has been
passed. Between two steps it costs two small questions a space.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from service.behaving.calm import step_before
from service.judging import Plans
from service.living.memory import Memory
from service.store import air as readings
from service.store import conditions, places
from service.store.database import Session, SessionMaker
from service.watch import air, failing, foreseeing, sweat
from service.watch.listening import coverage_ends
from service.watch.stepping import Look
from service.watch.turns import Evaluated, reader_of

Enter = Callable[[Sequence[Evaluated]], int]
"""Enters evaluations in a transaction of their own; how many alarms were raised or returned."""


class LookAhead:
    """Evaluates what is to come, what sweats, and which sensors fail."""

    def __init__(self, sessions: SessionMaker, plans: Plans, memory: Memory | None = None) -> None:
        """Take the store, the plans by slug, and a memory that others may share."""
        self._sessions = sessions
        self._physics = sweat.Physics(plans, memory if memory is not None else Memory())
        self._seen: dict[int, tuple[int | None, int | None]] = {}

    def round(self, until_us: int, enter: Enter) -> int:
        """Take all steps that are due by a time; how many alarms were raised or returned."""
        with self._sessions() as session:
            space_ids = [space.id for space in places.spaces(session) if space.id is not None]
            looks = {space_id: _look(session, space_id, until_us) for space_id in space_ids}
        entered = 0
        for space_id, look in looks.items():
            newest_us = None if look.newest_us is None else step_before(look.newest_us)
            state = (newest_us, look.removed_us)
            if newest_us is None or self._seen.get(space_id) == state:
                continue
            for evaluate in (self._foresee, self._feel, self._doubt):
                with self._sessions() as session:
                    evaluations = evaluate(session, space_id, look)
                entered += enter(evaluations)
            self._seen[space_id] = state
        return entered

    def _foresee(self, session: Session, space_id: int, look: Look) -> list[Evaluated]:
        watched = conditions.watch_space(session, space_id, foreseeing.FORETELLS)
        limits = conditions.watch_space(session, space_id, air.KINDS)
        return foreseeing.evaluate(
            session,
            self._physics.plans,
            places.space(session, space_id),
            watched,
            min(one.evaluated_us for one in limits.values()),
            replace(look, look_back_us=foreseeing.LOOK_BACK_US),
            reader_of(places.the_site(session)),
        )

    def _feel(self, session: Session, space_id: int, look: Look) -> list[Evaluated]:
        watched = conditions.watch_space(session, space_id, sweat.KINDS)
        return sweat.evaluate(
            session,
            self._physics,
            places.space(session, space_id),
            watched,
            replace(look, look_back_us=sweat.LOOK_BACK_US),
            reader_of(places.the_site(session)),
        )

    def _doubt(self, session: Session, space_id: int, look: Look) -> list[Evaluated]:
        return failing.evaluate(
            session,
            places.space(session, space_id),
            conditions.watch_space(session, space_id, failing.KINDS),
            replace(look, look_back_us=failing.LOOK_BACK_US),
            reader_of(places.the_site(session)),
        )


def _look(session: Session, space_id: int, until_us: int) -> Look:
    stays = conditions.sensor_stays(session, space_id)
    stands = any(
        from_us <= until_us and (to_us is None or to_us > until_us) for from_us, to_us in stays
    )
    ends = [end for end in coverage_ends(stays) if end <= until_us]
    return Look(
        newest_us=readings.newest_us(session, space_id, until_us),
        removed_us=None if stands or not ends else ends[-1],
        look_back_us=0,
    )
