"""The visit list: what is done in each opening of a space, drawn together for one touch each."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from dashboards.care_words import names_of, near_day, standing_words, wheels_words, work_words
from dashboards.words import counted, listed, plain, short
from service.ageing.schedule import Due, Standing
from service.ageing.visits import Visit
from service.ageing.work import Place, Work
from service.tending.care import CareNow
from service.tending.gates import GateNow

_LOOKED: Final = frozenset({Work.LOOK, Work.WEIGH})
"""Care of which something is to be entered, on the page of what is seen."""


@dataclass(frozen=True, slots=True)
class Item:
    """One care of one box, or of wheels of one batch in one space.

    Attributes:
        key: Names it on the page.
        work: What.
        title: What, in words.
        wheels: On which wheels, each with its name; none for care of a box.
        names: On what, in words.
        space_id: The box; None for care of wheels.
        standing: How it stands, in words, of the most pressing.
        overdue: Whether it is overdue.
        how: How to do it.
        why: Why it is due.
        address: Where something is to be entered of it, if anywhere.
        moves: Whether it is done by saying where the wheels go.
    """

    key: str
    work: Work
    title: str
    wheels: tuple[tuple[int, str], ...]
    names: str
    space_id: int | None
    standing: str
    overdue: bool
    how: str
    why: str
    address: str | None
    moves: bool


@dataclass(frozen=True, slots=True)
class Spot:
    """What is done in one space of a visit: a box, or the open boards."""

    name: str
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Opening:
    """One visit: one opening of an outermost space.

    Attributes:
        day: When, in words.
        is_today: Whether it is today.
        name: Of the space.
        key: Names it on the page.
        places: What is done, by box.
        summary: All of it in a line.
    """

    day: str
    is_today: bool
    name: str
    key: str
    places: tuple[Spot, ...]
    summary: str


@dataclass(frozen=True, slots=True)
class Asking:
    """Wheels whose gate asks, all of one batch and in one stage."""

    address: str
    text: str
    since: str


def openings_of(now: CareNow, spaces: Mapping[int, str]) -> list[Opening]:
    """The visits with what is done in each, in the order of their days."""
    return [_opening(visit, now, spaces) for visit in now.visits]


def asking(now: CareNow) -> list[Asking]:
    """The gates that ask today."""
    groups: dict[tuple[int, str], list[GateNow]] = {}
    for gate in now.asking:
        stage = gate.wheel.stage
        groups.setdefault((gate.wheel.batch_id, stage.slug if stage else ""), []).append(gate)
    names = names_of(now.wheels.values())
    return [
        Asking(
            address=f"/wheels/{group[0].wheel.id}/gate",
            text=f"{wheels_words([each.wheel.id for each in group], names)}:"
            f" {plain(group[0].gate.words)}",
            since="late" if any(each.standing.late for each in group) else "",
        )
        for group in groups.values()
    ]


def overdue_care(now: CareNow) -> str:
    """What care is overdue, in a sentence; empty when none is."""
    late = [each for each in now.due if each.standing(now.today) is Standing.OVERDUE]
    if not late:
        return ""
    groups: dict[tuple[Work, int], list[Due]] = {}
    for each in late:
        batch_id = now.wheels[each.wheels[0]].batch_id
        groups.setdefault((each.work, batch_id), []).append(each)
    first = next(iter(groups.values()))
    wheels = sorted({wheel for each in first for wheel in each.wheels})
    on = wheels_words(wheels, names_of(now.wheels.values()))
    worst = max(each.overdue_days(now.today) for each in first)
    told = f"{first[0].work} {on}" if first[0].subject.place is Place.WHEEL else first[0].work
    others = f", and {counted(len(groups) - 1, 'other care', 'others')}" if len(groups) > 1 else ""
    return f"Care is overdue: {told}, by {counted(worst, 'day')}{others}."


def _opening(visit: Visit, now: CareNow, spaces: Mapping[int, str]) -> Opening:
    by_space: dict[int | None, list[Due]] = {}
    for each in visit.due:
        by_space.setdefault(each.space, []).append(each)
    places = []
    for space_id, dues in by_space.items():
        outer = space_id == visit.space
        name = "" if outer else short(spaces.get(space_id or 0, "nowhere"))
        places.append(Spot(name, tuple(_items(dues, now, spaces))))
    # What stands in the open comes first: it is in the way of the boxes.
    places.sort(key=lambda place: (place.name != "", place.name))
    works = list(dict.fromkeys(item.work.value for place in places for item in place.items))
    wheels = {wheel for each in visit.due for wheel in each.wheels}
    return Opening(
        day=near_day(visit.day, now.today),
        is_today=visit.day == now.today,
        name=short(spaces.get(visit.space or 0, "In no space")),
        key=f"visit-{visit.day.isoformat()}-{visit.space or 0}",
        places=tuple(places),
        summary=f"{listed(works)}; {counted(len(wheels), 'wheel')}",
    )


def _items(dues: list[Due], now: CareNow, spaces: Mapping[int, str]) -> list[Item]:
    groups: dict[tuple[Work, Place, int], list[Due]] = {}
    for each in dues:
        if each.subject.place is Place.BOX:
            key = each.work, Place.BOX, each.subject.number
        else:
            key = each.work, Place.WHEEL, now.wheels[each.subject.number].batch_id
        groups.setdefault(key, []).append(each)
    return [_item(group, now, spaces) for group in groups.values()]


def _item(group: list[Due], now: CareNow, spaces: Mapping[int, str]) -> Item:
    first = min(group, key=lambda each: (each.latest, each.expected))
    names = names_of(now.wheels.values())
    of_box = first.subject.place is Place.BOX
    wheels = [] if of_box else sorted(each.subject.number for each in group)
    number = first.subject.number
    return Item(
        key=f"{first.work.name.lower()}-{'s' if of_box else 'w'}{number}",
        work=first.work,
        title=work_words(first.work),
        wheels=tuple((wheel, wheels_words([wheel], names)) for wheel in wheels),
        names=short(spaces.get(number, "the box")) if of_box else wheels_words(wheels, names),
        space_id=number if of_box else None,
        standing=standing_words(first, now.today),
        overdue=first.standing(now.today) is Standing.OVERDUE,
        how=first.rule.words,
        why=first.why,
        address=f"/wheels/{wheels[0]}/look" if first.work in _LOOKED and wheels else None,
        moves=first.work is Work.MOVE,
    )
