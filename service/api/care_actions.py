"""What a keeper does with hands: care that was done, skipped or put off; and undoing a touch.

A touch is one press of a button, named by the page. Sent twice it enters once, and all that it
has entered is undone in one: care, what was seen with its weighing, gates, an end.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from service.ageing.tended import Outcome
from service.ageing.work import Work
from service.api import gate_undoing
from service.api.lifetime import check_lives, check_not_ended
from service.api.naming import checked_words
from service.api.refusals import RefusedError
from service.clock import DAY_US, US_PER_S
from service.errors import UnknownError
from service.store import care, gates, observations, places, wheels
from service.store.ageing_tables import CareRecord
from service.store.database import Session
from service.store.turns import take_turn
from service.tending.days import day_of, days_after, noon_us
from service.tending.facts import BOX_WORKS, living_in, zones_of

_AHEAD_US: Final = 600 * US_PER_S
"""As for all that is entered: a browser's clock may be so far ahead."""
_LONGEST_PUT_OFF_DAYS: Final = 366
"""Our choice: what is put off for longer is no care any more, but another plan."""
_LONGEST_LIFE_US: Final = 20 * 366 * DAY_US
"""As for batches: no cheese ages longer."""
LONGEST_WORDS: Final = 2_000
"""Our choice: a long paragraph."""
OTHER_TOUCH: Final = "that touch has entered something else before; open the page anew"
_TOUCH: Final = re.compile(r"[A-Za-z0-9_-]{8,64}")


@dataclass(frozen=True, slots=True)
class Touch:
    """One touch of a keeper.

    Attributes:
        name: Given by the page, the same whenever it is sent again.
        by: Who touched.
        now_us: When it arrived. [µs UTC]
    """

    name: str
    by: str
    now_us: int


@dataclass(frozen=True, slots=True)
class Given:
    """Care as it is given: what, on what, how it ended.

    Attributes:
        work: What.
        outcome: Done, skipped, or put off.
        wheel_ids: On which wheels; none for all in the space, or for the box itself.
        space_id: The box, or the space whose wheels are meant; for a move, where they go.
        at: An instant, or a day of the household's calendar; None for now. [µs UTC]
        until: The day to which it is put off.
        words: The keeper's own.
    """

    work: Work
    outcome: Outcome
    wheel_ids: tuple[int, ...] = ()
    space_id: int | None = None
    at: int | date | None = None
    until: date | None = None
    words: str = ""


def checked_touch(name: str) -> str:
    """The name of a touch.

    Raises:
        RefusedError: It is none.
    """
    if _TOUCH.fullmatch(name) is None:
        raise RefusedError("a touch is named by 8 to 64 letters, digits, hyphens or underscores")
    return name


def enter_care(session: Session, given: Given, touch: Touch) -> Sequence[CareRecord]:
    """Enter one care of wheels one by one, of all in a space, or of a box: see `enter_all`."""
    return enter_all(session, (given,), touch)


def enter_all(session: Session, given: Sequence[Given], touch: Touch) -> Sequence[CareRecord]:
    """Enter several works, on whatever wheels and boxes, in one touch.

    Of a work that the touch has entered before nothing is entered anew.

    Returns:
        What the touch has entered of these works; the same again when it is sent again.

    Raises:
        UnknownError: There is no such wheel or space.
        RefusedError: The time, the day or the choice of wheels cannot be; the wheel has ended.
    """
    checked_touch(touch.name)
    take_turn(session)
    works = {each.work for each in given}
    known = [row for row in care.of_touch(session, touch.name) if row.work in works]
    entered_before = {row.work for row in known}
    for each in given:
        if each.work in entered_before:
            _check_same(each, [row for row in known if row.work == each.work])
        else:
            check_holds(session, touch.name)
    # On which wheels each work is done is settled before a move among them is entered.
    new = [(each, _rows(session, each, touch)) for each in given if each.work not in entered_before]
    _check_once(row for _, rows in new for row in rows)
    entered = [*known]
    for each, rows in new:
        if each.work is Work.MOVE and each.outcome is Outcome.DONE:
            assert each.space_id is not None  # the subjects were checked
            entered += [
                move(session, row.wheel_id, each.space_id, row)
                for row in rows
                if row.wheel_id is not None
            ]
        else:
            entered += care.enter(session, rows)
    return entered


def move(session: Session, wheel_id: int, space_id: int, row: CareRecord) -> CareRecord:
    """Move a wheel and enter the move as care, so that it can be undone with its touch.

    Raises:
        UnknownError: There is no such wheel or space.
        RefusedError: The wheel has been moved since that time, or has ended.
    """
    check_not_ended(session, wheel_id)
    # The row names the space only where the wheel was not there yet: then there is a way back.
    places.space(session, space_id)
    stays = wheels.placements(session, wheel_id)
    if stays and stays[-1].from_us >= row.time_us:
        raise RefusedError("the wheel was moved later than that; enter the move as of now")
    if stays and stays[-1].to_us is not None and stays[-1].to_us > row.time_us:
        raise RefusedError("the wheel left its space later than that; enter the move as of now")
    if not stays or stays[-1].space_id != space_id or stays[-1].to_us is not None:
        wheels.place_wheel(session, wheel_id, space_id, row.time_us)
        row.space_id = space_id
    return care.enter(session, [row])[0]


def undo(session: Session, name: str) -> None:
    """Undo all that was entered in a touch, so that everything is as before; again is no harm.

    Raises:
        UnknownError: Nothing was ever entered in such a touch.
        RefusedError: Something was entered since that rests on it.
    """
    take_turn(session)
    done = care.of_touch(session, name)
    said = gates.of_touch(session, name)
    if not care.was_entered(session, name):
        raise UnknownError("nothing was entered in that touch")
    for answer in reversed(said):
        if not answer.withdrawn:
            gate_undoing.undo_answer(session, answer)
    for row in reversed(done):
        if not row.withdrawn:
            gate_undoing.undo_move(session, row)
    care.withdraw_touch(session, name)
    observations.withdraw_touch(session, name)


def when_us(session: Session, at: int | date | None, now_us: int) -> int:
    """When something was: now, at an instant, or on a day of which the hour is not known.

    Raises:
        RefusedError: It is still to come, or longer ago than any cheese is old.
    """
    if at is None:
        return now_us
    if isinstance(at, date):
        zones = zones_of(session)
        if at == day_of(now_us, zones):
            return now_us
        at_us = noon_us(at, zones)
    else:
        at_us = at
    if at_us > now_us + _AHEAD_US:
        raise RefusedError("that time is still to come; enter what has happened")
    if at_us < now_us - _LONGEST_LIFE_US:
        raise RefusedError("that is more than 20 years ago; look at the year")
    return at_us


def day_ahead(session: Session, day: date, now_us: int) -> date:
    """A day on which to ask again.

    Raises:
        RefusedError: It has come already, or is more than a year away.
    """
    today = day_of(now_us, zones_of(session))
    if not today < day <= days_after(today, _LONGEST_PUT_OFF_DAYS):
        raise RefusedError("choose a day from tomorrow on, within a year")
    return day


def check_holds(session: Session, name: str) -> None:
    """See to it that a touch with which something new comes was not undone before.

    Raises:
        RefusedError: It was; a touch that is undone stays undone.
    """
    if care.was_undone(session, name):
        raise RefusedError("that touch was undone; open the page anew and touch again")


def _check_same(given: Given, known: Sequence[CareRecord]) -> None:
    """Whoever names wheels must not believe care entered that a touch before had not."""
    on = {row.wheel_id for row in known}
    if not on.issuperset(given.wheel_ids) or any(row.outcome != given.outcome for row in known):
        raise RefusedError(OTHER_TOUCH)


def _rows(session: Session, given: Given, touch: Touch) -> list[CareRecord]:
    """Care as it will be stored."""
    at_us = when_us(session, given.at, touch.now_us)
    until = _until(session, given, touch.now_us)
    return [
        CareRecord(
            touch=touch.name,
            work=given.work,
            wheel_id=wheel_id,
            space_id=on_space_id,
            outcome=given.outcome,
            time_us=at_us,
            until_day=until.isoformat() if until else None,
            words=checked_words(given.words, LONGEST_WORDS),
            made_by=touch.by,
            entered_us=touch.now_us,
        )
        for wheel_id, on_space_id in _subjects(session, given, at_us)
    ]


def _check_once(rows: Iterable[CareRecord]) -> None:
    """See to it that no work is named twice for one wheel or box, perhaps with two outcomes."""
    named = set()
    for row in rows:
        subject = row.work, row.wheel_id, row.space_id
        if subject in named:
            raise RefusedError(f"{row.work} is named twice for the same wheel or box")
        named.add(subject)


def _until(session: Session, given: Given, now_us: int) -> date | None:
    if given.outcome is not Outcome.PUT_OFF:
        if given.until is not None:
            raise RefusedError("only what is put off has a day until which it is")
        return None
    if given.until is None:
        raise RefusedError("say until which day it is put off")
    return day_ahead(session, given.until, now_us)


def _subjects(session: Session, given: Given, at_us: int) -> list[tuple[int | None, int | None]]:
    """Each wheel, or the box, as the two columns of a row."""
    if given.space_id is not None:
        places.space(session, given.space_id)
    if given.work in BOX_WORKS:
        if given.space_id is None or given.wheel_ids:
            raise RefusedError(f"{given.work} is done on a box: name its space, and no wheels")
        return [(None, given.space_id)]
    moves = given.work is Work.MOVE and given.outcome is Outcome.DONE
    if moves and (given.space_id is None or not given.wheel_ids):
        raise RefusedError("a move names its wheels, and the space into which they go")
    if given.space_id is not None and given.wheel_ids and not moves:
        raise RefusedError("name wheels, or the space in which they are; not both")
    wheel_ids = given.wheel_ids
    if not wheel_ids and given.space_id is not None:
        wheel_ids = living_in(session, given.space_id, at_us)
    if not wheel_ids:
        raise RefusedError("there is no wheel to do it on; name wheels, or a space with wheels")
    for wheel_id in wheel_ids:
        check_lives(session, wheel_id, at_us)
    return [(wheel_id, None) for wheel_id in dict.fromkeys(wheel_ids)]
