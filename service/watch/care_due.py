"""The day's care told once a day, at an hour of the household's own clock.

Which days were told stands in the store with the notices, in one commit, so that neither a
second watch, a restart nor a clock that is set back tells a day twice. A day whose hour the
clocks skip is told when the clock has leapt over it; one whose hour comes twice, the first time.
"""

import json
from collections.abc import Sequence
from datetime import date, time, timedelta
from typing import Final

from service.ageing.care_notices import Late, Opening, care_today
from service.ageing.moments import day_words
from service.ageing.notices import Notice
from service.ageing.phrases import listed, wheels_together
from service.ageing.schedule import Due, Standing
from service.ageing.visits import Visit, outermost
from service.ageing.work import Place, Work
from service.clock import to_datetime
from service.judging import Plans
from service.store import conditions, outbox, places
from service.store.database import Session, SessionMaker
from service.store.turns import take_turn
from service.tending.care import CareNow, care_now
from service.tending.facts import zones_of
from service.tending.gates import GateNow

KIND: Final = "care_due"
_KEPT_DAYS: Final = 60
"""So many days told are remembered: a clock set back further than that repeats one. Our choice."""
_NOWHERE: Final = "In no space"


class CareDue:
    """Tells each day's care once."""

    def __init__(
        self, sessions: SessionMaker, plans: Plans, channels: Sequence[str], care_at: time | None
    ) -> None:
        self._sessions = sessions
        self._plans = plans
        self._channels = tuple(channels)
        self._care_at = care_at
        self._looked: date | None = None

    def tell(self, *, now_us: int, sent_us: int) -> int:
        """Enter the day's notice when its hour has come, unless that was done; how many.

        A day on which nothing is due by its hour tells nothing, also not later.

        Args:
            now_us: The time now, by which days are counted. [µs UTC]
            sent_us: The world's time, by which the outbox works. [µs UTC]
        """
        if self._care_at is None:
            return 0
        with self._sessions() as session:
            if places.the_site(session) is None:
                return 0
            local = to_datetime(now_us).astimezone(zones_of(session).now)
            today = local.date()
            if local.time() < self._care_at or today == self._looked:
                return 0
            # Worked out before the turn is taken, for it keeps readings waiting.
            notice = notice_of(session, care_now(session, self._plans, now_us))
        with self._sessions() as session:
            told = self._enter(session, today, notice, now_us, sent_us)
        self._looked = today
        return told

    def _enter(
        self, session: Session, today: date, notice: Notice | None, now_us: int, sent_us: int
    ) -> int:
        take_turn(session)
        watched = conditions.watch_household(session, KIND)
        told: list[str] = json.loads(watched.state_json).get("told", [])
        if today.isoformat() in told:
            return 0
        kept = [*told, today.isoformat()][-_KEPT_DAYS:]
        conditions.advance(session, watched, now_us, json.dumps({"told": kept}))
        if notice is None:
            return 0
        outbox.put(
            session, self._channels, title=notice.title, body=notice.body, created_us=sent_us
        )
        return 1


def notice_of(session: Session, now: CareNow) -> Notice | None:
    """The notice of a day's care as it stands; None when nothing is due and no gate asks."""
    spaces = {space.id: space for space in places.spaces(session) if space.id is not None}
    names = {number: space.name for number, space in spaces.items()}
    parents = {number: space.parent_id for number, space in spaces.items()}
    pressing = [
        each for each in now.due if each.standing(now.today) in (Standing.DUE, Standing.OVERDUE)
    ]
    asked = _gates(now)
    if not pressing and not asked:
        return None
    # Only what is due by itself makes a later visit worth telling; today's is told whole.
    openings = [
        _opening(visit, visit.due, now, names) for visit in now.visits if _today(visit, now)
    ]
    planned: set[Due] = {each for visit in now.visits for each in visit.due}
    for visit in now.visits:
        waiting = [each for each in visit.due if each in pressing]
        if waiting and not _today(visit, now):
            openings.append(_opening(visit, waiting, now, names))
    left = [each for each in pressing if each not in planned]
    for space in dict.fromkeys(outermost(each.space, parents) for each in left):
        dues = [each for each in left if outermost(each.space, parents) == space]
        openings.append(Opening(names.get(space or 0, _NOWHERE), _tasks(dues, now, names)))
    late = [each for each in pressing if each.standing(now.today) is Standing.OVERDUE]
    return care_today(openings, asked, _late(late, now, names))


def _today(visit: Visit, now: CareNow) -> bool:
    return visit.day == now.today


def _opening(visit: Visit, dues: Sequence[Due], now: CareNow, names: dict[int, str]) -> Opening:
    return Opening(
        space=names.get(visit.space or 0, _NOWHERE),
        tasks=_tasks(dues, now, names),
        planned="" if _today(visit, now) else day_words(visit.day),
    )


def _tasks(dues: Sequence[Due], now: CareNow, names: dict[int, str]) -> list[str]:
    """What to do, a phrase for each work: "turn Blue 1", "air the box (Blue box)"."""
    works: dict[tuple[Work, Place], list[Due]] = {}
    for each in dues:
        works.setdefault((each.work, each.subject.place), []).append(each)
    return [_phrase(group, now, names) for group in works.values()]


def _phrase(group: Sequence[Due], now: CareNow, names: dict[int, str]) -> str:
    first = group[0]
    if first.subject.place is Place.BOX:
        boxes = " and ".join(
            names.get(number, "box") for number in sorted({each.subject.number for each in group})
        )
        return f"{first.work} ({boxes})"
    # As on the page the work is "look it over", which would read ill before a name.
    work = "look over" if first.work is Work.LOOK else first.work
    return f"{work} {_wheels({each.subject.number for each in group}, now)}"


def _wheels(numbers: set[int], now: CareNow) -> str:
    batches: dict[str, list[tuple[str, str]]] = {}
    for wheel in (now.wheels[number] for number in sorted(numbers) if number in now.wheels):
        batches.setdefault(wheel.batch, []).append((wheel.batch, wheel.label))
    return listed([wheels_together(names) for names in batches.values()])


def _gates(now: CareNow) -> list[str]:
    """The gates that ask today, those of one batch and stage together."""
    groups: dict[tuple[int, str], list[GateNow]] = {}
    for gate in now.asking:
        stage = gate.wheel.stage
        groups.setdefault((gate.wheel.batch_id, stage.slug if stage else ""), []).append(gate)
    return [
        f"{_wheels({each.wheel.id for each in group}, now)}: {group[0].gate.words}"
        for group in groups.values()
    ]


def _late(late: Sequence[Due], now: CareNow, names: dict[int, str]) -> list[Late]:
    """What is overdue, those of one work and one day together."""
    groups: dict[tuple[Work, Place, date], list[Due]] = {}
    for each in late:
        groups.setdefault((each.work, each.subject.place, each.latest), []).append(each)
    return [
        Late(_phrase(group, now, names), day_words(latest + timedelta(days=1)))
        for (_, _, latest), group in groups.items()
    ]
