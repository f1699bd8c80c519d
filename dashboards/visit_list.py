"""The visit list: what is done in each opening of a space, drawn together for one touch each."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from dashboards.care_words import names_of, near_day, standing_words, wheels_words, work_words
from dashboards.words import counted, listed, plain, short
from service.ageing.schedule import Due, Standing
from service.ageing.tended import Outcome
from service.ageing.visits import Visit
from service.ageing.work import Place, Work
from service.api.care_actions import Given
from service.api.refusals import RefusedError
from service.tending.care import CareNow
from service.tending.gates import GateNow

_LOOKED: Final = frozenset({Work.LOOK, Work.WEIGH})
"""Care of which something is to be entered, on the page of what is seen."""
_ONE_BY_ONE: Final = _LOOKED | {Work.MOVE, Work.TASTE, Work.PIERCE_AGAIN}
"""Care that is never done with all else in one touch: something is to be entered of it, or it is
an offer that the maker takes up or leaves. Our choice."""
_LEAST_ITEMS: Final = 2
"""Of a single one its own button enters all."""
_WORK: Final = re.compile(r"(?P<work>[A-Z_]{1,20})-(?P<place>wheel|box)-(?P<number>[0-9]{1,9})")


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
class OneTouch:
    """All works of a spot that one touch enters as done.

    Attributes:
        works: What is entered, as `works_given` reads it again.
        lines: The same in words, a work each.
        told: The works in one phrase.
    """

    works: tuple[str, ...]
    lines: tuple[str, ...]
    told: str


@dataclass(frozen=True, slots=True)
class Spot:
    """What is done in one space of a visit: a box, or the open boards.

    Attributes:
        name: Of the box; empty for the open boards.
        items: What is done there.
        weigh: Where the wheels of several batches are weighed in one form; None where that is
            not asked for.
        all_of_it: What one touch does of it; None where there are fewer than two items.
    """

    name: str
    items: tuple[Item, ...]
    weigh: str | None = None
    all_of_it: OneTouch | None = None


@dataclass(frozen=True, slots=True)
class Opening:
    """One visit: one opening of an outermost space.

    Attributes:
        day: When, in words.
        is_today: Whether it is today.
        is_foreseen: Whether all of it hangs on the visits before.
        name: Of the space.
        key: Names it on the page.
        places: What is due in it, by box.
        foreseen: What else is done if the visits before are made as proposed, a line each.
        summary: All of it in a line.
    """

    day: str
    is_today: bool
    is_foreseen: bool
    name: str
    key: str
    places: tuple[Spot, ...]
    foreseen: tuple[str, ...]
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


def today_words(now: CareNow, spaces: Mapping[int, str]) -> tuple[str, str] | None:
    """What is to be done today, in a sentence and with what in it; None when nothing is."""
    visits = [each for each in openings_of(now, spaces) if each.is_today]
    asked = asking(now)
    if visits:
        counted_visits = "One visit" if len(visits) == 1 else f"{len(visits)} visits"
        title = f"{counted_visits} today: {listed([each.name for each in visits])}."
    elif asked:
        title = "A look is asked for today."
    else:
        return None
    lines = [f"{each.summary.capitalize()}." for each in visits]
    lines += [f"Look and say, {each.text}" for each in asked]
    return title, "\n".join(lines)


def _opening(visit: Visit, now: CareNow, spaces: Mapping[int, str]) -> Opening:
    by_space: dict[int | None, list[Due]] = {}
    for each in visit.due:
        by_space.setdefault(each.space, []).append(each)
    places = []
    for space_id, dues in by_space.items():
        outer = space_id == visit.space
        name = "" if outer else short(spaces.get(space_id or 0, "nowhere"))
        items = tuple(_items(dues, now, spaces))
        several = sum(item.work is Work.WEIGH for item in items) > 1
        weigh = f"/spaces/{space_id}/weigh" if several and space_id is not None else None
        places.append(Spot(name, items, weigh, _one_touch(dues, items, now)))
    # What stands in the open comes first: it is in the way of the boxes.
    places.sort(key=lambda place: (place.name != "", place.name))
    foreseen = [each.due for each in visit.foreseen]
    works = [item.work.value for place in places for item in place.items]
    works += [each.work.value for each in foreseen]
    wheels = {wheel for each in visit.care for wheel in each.due.wheels}
    return Opening(
        day=near_day(visit.day, now.today),
        is_today=visit.day == now.today,
        is_foreseen=visit.is_foreseen,
        name=short(spaces.get(visit.space or 0, "In no space")),
        key=f"visit-{visit.day.isoformat()}-{visit.space or 0}",
        places=tuple(places),
        foreseen=tuple(f"{item.title} {item.names}" for item in _items(foreseen, now, spaces)),
        summary=f"{listed(list(dict.fromkeys(works)))}; {counted(len(wheels), 'wheel')}",
    )


def works_given(works: Sequence[str]) -> list[Given]:
    """The works of a `OneTouch` as they are entered: each work once, on all its wheels.

    Raises:
        RefusedError: There are none, or one that cannot be.
    """
    if not works:
        raise RefusedError("that form names no care; open the page anew")
    on_wheels: dict[Work, list[int]] = {}
    on_boxes: list[Given] = []
    for each in dict.fromkeys(works):
        found = _WORK.fullmatch(each)
        if found is None or found["work"] not in Work.__members__:
            raise RefusedError("that form names no care; open the page anew")
        work, number = Work[found["work"]], int(found["number"])
        if found["place"] == Place.BOX:
            on_boxes.append(Given(work, Outcome.DONE, space_id=number))
        else:
            on_wheels.setdefault(work, []).append(number)
    return [
        *(Given(work, Outcome.DONE, tuple(wheels)) for work, wheels in on_wheels.items()),
        *on_boxes,
    ]


def _one_touch(dues: list[Due], items: Sequence[Item], now: CareNow) -> OneTouch | None:
    meant = [
        each
        for each in dues
        if each.work not in _ONE_BY_ONE and each.standing(now.today) is not Standing.LATER
    ]
    works = {each.work for each in meant}
    drawn = [item for item in items if item.work in works]
    if len(drawn) < _LEAST_ITEMS:
        return None
    return OneTouch(
        works=tuple(
            f"{each.work.name}-{each.subject.place}-{each.subject.number}" for each in meant
        ),
        lines=tuple(
            item.title if item.space_id else f"{item.title} {item.names}" for item in drawn
        ),
        told=listed(list(dict.fromkeys(item.work.value for item in drawn))),
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


def _address(work: Work, wheels: Sequence[int], now: CareNow) -> str | None:
    """Where something is to be entered: several wheels are weighed in one form."""
    if work not in _LOOKED or not wheels:
        return None
    if work is Work.WEIGH and len(wheels) > 1:
        return f"/batches/{now.wheels[wheels[0]].batch_id}/weigh"
    return f"/wheels/{wheels[0]}/look"


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
        address=_address(first.work, wheels, now),
        moves=first.work is Work.MOVE,
    )
