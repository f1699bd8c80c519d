"""Days of the household's calendar in four zones, across every change of their clocks."""

from datetime import date, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from service.ageing.tended import Outcome
from service.ageing.work import Work
from service.api import care_actions
from service.api.care_actions import Given, Touch
from service.clock import HOUR_US
from service.store import set_up
from service.store.tables import Site
from service.tending.care import care_now
from service.tending.days import day_of, days_after, noon_us, start_of_day_us
from tests import builders

ZONES = ("Europe/Vienna", "America/New_York", "Australia/Lord_Howe", "America/Santiago")
"""Changes in opposite halves of the year, by one hour and by half of one, and at midnight."""
LEAPS = {
    "Europe/Vienna": (date(2026, 3, 29), date(2026, 10, 25)),
    "America/New_York": (date(2026, 3, 8), date(2026, 11, 1)),
    "Australia/Lord_Howe": (date(2026, 4, 5), date(2026, 10, 4)),
    "America/Santiago": (date(2026, 4, 4), date(2026, 9, 6)),
}
"""The days of 2026 on which each zone changes its clocks: the tz database, by its release here."""
MINUTE_US = HOUR_US // 60


@pytest.mark.parametrize("zone", ZONES)
def test_every_instant_of_a_year_belongs_to_one_day_and_days_follow_each_other(zone: str) -> None:
    here = ZoneInfo(zone)
    days = [date(2026, 1, 1) + timedelta(days=number) for number in range(400)]
    starts = [start_of_day_us(day, here) for day in days]

    assert [day_of(start, here) for start in starts] == days
    assert [day_of(start - 1, here) for start in starts[1:]] == days[:-1]
    assert [day_of(noon_us(day, here), here) for day in days] == days


@pytest.mark.parametrize("zone", ZONES)
def test_the_days_on_which_clocks_change_are_not_24_hours_long(zone: str) -> None:
    here = ZoneInfo(zone)
    days = [date(2026, 1, 1) + timedelta(days=number) for number in range(365)]
    odd = [
        day
        for day in days
        if start_of_day_us(days_after(day, 1), here) - start_of_day_us(day, here) != 24 * HOUR_US
    ]

    assert tuple(odd) == LEAPS[zone]


def test_summer_time_in_europe_ends_at_one_in_the_morning_utc() -> None:
    # Directive 2000/84/EC, articles 2 and 3: last Sunday of March and of October, 1.00 a.m. GMT.
    here = ZoneInfo("Europe/Vienna")
    length_us = start_of_day_us(date(2026, 10, 26), here) - start_of_day_us(
        date(2026, 10, 25), here
    )

    assert length_us == 25 * HOUR_US


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("minutes_into_the_day", [5, 12 * 60, 22 * 60 + 55])
def test_a_change_of_the_clocks_moves_no_care_by_a_day(
    zone: str, minutes_into_the_day: int, tmp_path: Path
) -> None:
    here = ZoneInfo(zone)
    context = builders.empty_home(tmp_path)
    for leap in LEAPS[zone]:
        with context.sessions() as session:
            if leap == LEAPS[zone][0]:
                site = set_up.add_site(session, Site(slug="home", name="Home", time_zone=zone))
                assert site.id is not None
                cave = builders.add_space(session, site.id, "cave", "Cave", "cave")
                builders.add_batch(
                    session, site.id, "T", "tomme", 400, [(190, 75, 1950)], cave, "ripening"
                )
            for number, done in enumerate(
                days_after(leap, -2) + timedelta(days=n) for n in range(4)
            ):
                now_us = start_of_day_us(done, here) + minutes_into_the_day * MINUTE_US
                care_actions.enter_care(
                    session,
                    Given(Work.TURN, Outcome.DONE, wheel_ids=(1,)),
                    Touch(f"{leap}-{number}-turned", "Ann", now_us),
                )
                found = care_now(session, context.plans, now_us)
                turn = next(each for each in found.due if each.work is Work.TURN)

                assert found.today == done
                assert turn.last_done == done
                assert turn.rule.every is not None
                assert (turn.expected - done).days == turn.rule.every.expected
