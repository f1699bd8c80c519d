"""The clock of a make day: timers, the marks of rennet and flocculation, and the time of the cut.

As all actions, each may be sent twice, as a phone with a poor link does, without harm.
"""

import math
from typing import Final

from service.ageing.making import SettingTime, Timer, setting_time
from service.api.make_actions import AGAIN_US, LONGEST_DAY_US, check_time, open_day
from service.api.naming import checked_name
from service.api.refusals import RefusedError
from service.clock import US_PER_S
from service.store import make_days
from service.store.ageing_tables import MakeDay
from service.store.database import Session
from service.store.turns import take_turn

CUT: Final = "Cut the curd"
"""The name of the timer for the time that is left after flocculation."""
_LONGEST_TIMER_S: Final = 7 * 86_400.0


def start_timer(
    session: Session, make_day_id: int, name: str, duration_s: float, now_us: int
) -> Timer:
    """Start a timer that runs from now on.

    Raises:
        UnknownError: There is no such make day.
        RefusedError: The name or the length cannot be, or the make day is over.
    """
    name = checked_name(name, "a timer")
    if not (math.isfinite(duration_s) and 1 <= duration_s <= _LONGEST_TIMER_S):
        raise RefusedError("a timer runs from 1 s to 7 days")
    open_day(session, make_day_id)
    for known in make_days.timers(session, make_day_id):
        again = abs(known.started_us - now_us) <= AGAIN_US and known.stopped_us is None
        if again and (known.name, known.duration_s) == (name, duration_s):
            return known
    return make_days.start_timer(session, make_day_id, name, now_us, duration_s)


def stop_timer(session: Session, make_day_id: int, timer_id: int, now_us: int) -> Timer:
    """Stop a timer, or say that its end was seen.

    Raises:
        UnknownError: There is no such make day or timer.
    """
    take_turn(session)
    make_days.make_day(session, make_day_id)
    return make_days.stop_timer(session, make_day_id, timer_id, now_us)


def mark_rennet(session: Session, make_day_id: int, at_us: int | None, now_us: int) -> MakeDay:
    """The rennet is in; without a time, now. The first mark holds until it is taken back.

    Raises:
        UnknownError: There is no such make day.
        RefusedError: The time cannot be, or the make day is over.
    """
    day = open_day(session, make_day_id)
    if day.rennet_us is None:
        time_us = now_us if at_us is None else at_us
        check_time(time_us, day.started_us - LONGEST_DAY_US, now_us)
        day.rennet_us = time_us
        make_days.save(session, day)
    return day


def mark_flocculation(
    session: Session, make_day_id: int, multiplier: float, at_us: int | None, now_us: int
) -> MakeDay:
    """The milk has flocculated; without a time, now. The first mark holds until taken back.

    Raises:
        UnknownError: There is no such make day.
        OutOfRangeError: No milk flocculates so fast or slowly, or the multiplier is none.
        RefusedError: The rennet is not marked, the time cannot be, or the make day is over.
    """
    day = open_day(session, make_day_id)
    if day.rennet_us is None:
        raise RefusedError("mark first when the rennet went in")
    if day.flocculated_us is None:
        time_us = now_us if at_us is None else at_us
        check_time(time_us, day.rennet_us, now_us)
        setting_time((time_us - day.rennet_us) / US_PER_S, multiplier)
        day.flocculated_us = time_us
        day.multiplier = multiplier
        day.version += 1
        make_days.save(session, day)
    return day


def take_back_rennet(session: Session, make_day_id: int) -> MakeDay:
    """Take the mark of the rennet back, and with it that of the flocculation.

    Raises:
        UnknownError: There is no such make day.
        RefusedError: The make day is over.
    """
    day = open_day(session, make_day_id)
    day.rennet_us = day.flocculated_us = None
    make_days.save(session, day)
    return day


def take_back_flocculation(session: Session, make_day_id: int) -> MakeDay:
    """Take the mark of the flocculation back.

    Raises:
        UnknownError: There is no such make day.
        RefusedError: The make day is over.
    """
    day = open_day(session, make_day_id)
    day.flocculated_us = None
    make_days.save(session, day)
    return day


def setting_of(day: MakeDay) -> SettingTime | None:
    """The setting time that follows from the marks of a make day; None while one is missing."""
    if day.rennet_us is None or day.flocculated_us is None or day.multiplier is None:
        return None
    return setting_time((day.flocculated_us - day.rennet_us) / US_PER_S, day.multiplier)


def start_cut_timer(session: Session, make_day_id: int) -> Timer:
    """Start the timer for the time left; it ends at the cut, however late it is started.

    Raises:
        UnknownError: There is no such make day.
        RefusedError: Rennet and flocculation are not both marked, or the make day is over.
    """
    day = open_day(session, make_day_id)
    setting = setting_of(day)
    if setting is None or day.flocculated_us is None:
        raise RefusedError("mark first when the rennet went in and when the milk flocculated")
    return make_days.start_timer(session, make_day_id, CUT, day.flocculated_us, setting.left_s)
