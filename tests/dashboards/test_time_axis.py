"""Ticks on days of 23 and 25 hours: Europe/Berlin changed on 29 March and 25 October 2026
(Directive 2000/84/EC: last Sundays of March and October, at 01:00 UTC)."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from dashboards.time_axis import midnights, ticks
from dashboards.words import Words
from service.clock import US_PER_S, from_datetime

BERLIN = Words(ZoneInfo("Europe/Berlin"))
HOUR_US = 3_600 * US_PER_S


def at(*parts: int) -> int:
    return from_datetime(datetime(*parts, tzinfo=UTC))  # type: ignore[arg-type, misc]  # year to minute


def test_midnights_carry_their_day() -> None:
    told = [tick.words for tick in ticks(at(2026, 11, 24, 13), at(2026, 11, 25, 13), BERLIN, 4)]

    assert told == ["18:00", "Wed 25 Nov", "06:00", "12:00"]


def test_an_hour_that_spring_leaves_out_gets_no_tick() -> None:
    told = [tick.words for tick in ticks(at(2026, 3, 28, 23), at(2026, 3, 29, 2), BERLIN, 4)]

    assert told == ["Sun 29 Mar", "01:00", "03:00", "04:00"]


def test_ticks_rise_over_the_autumn_change() -> None:
    marks = ticks(at(2026, 10, 24, 20), at(2026, 10, 25, 4), BERLIN, 12)

    times = [tick.time_us for tick in marks]
    assert times == sorted(set(times))
    assert "02:00 (UTC+2)" in [tick.words for tick in marks]


@pytest.mark.parametrize(
    ("day", "hours"), [((2026, 3, 29), 23), ((2026, 10, 25), 25), ((2026, 11, 25), 24)]
)
def test_a_day_lasts_from_midnight_to_midnight(day: tuple[int, int, int], hours: int) -> None:
    first, second = midnights(at(*day, 12), at(*day, 12), BERLIN)

    assert (second - first) / HOUR_US == hours
