from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest

from service.ageing.moments import clock_words, moment_words


def test_a_moment_reads_with_its_day_and_without_its_year() -> None:
    assert moment_words(datetime(2026, 11, 5, 4, 7, tzinfo=UTC)) == "Thu 5 Nov 04:07"


@pytest.mark.parametrize(
    ("zone", "hour_utc", "told"),
    [
        ("Europe/Berlin", 0, "02:30 (UTC+2)"),
        ("Europe/Berlin", 1, "02:30 (UTC+1)"),
        ("Europe/Berlin", 2, "03:30"),
    ],
)
def test_only_the_hour_that_comes_twice_tells_its_offset(
    zone: str, hour_utc: int, told: str
) -> None:
    """Clocks in the European Union go back at 01:00 UTC on 25 October 2026 (2000/84/EC)."""
    moment = datetime(2026, 10, 25, hour_utc, 30, tzinfo=UTC)

    assert clock_words(moment.astimezone(ZoneInfo(zone))) == told


def test_an_offset_of_half_hours_west_is_told_in_full() -> None:
    """Newfoundland's clocks go back on 1 November 2026, from UTC-2:30 (tz database)."""
    first = datetime(2026, 11, 1, 4, 0, tzinfo=UTC)
    told = [
        clock_words(each.astimezone(ZoneInfo("America/St_Johns")))
        for each in (first, first + timedelta(hours=1))
    ]

    assert told == ["01:30 (UTC\N{MINUS SIGN}2:30)", "01:30 (UTC\N{MINUS SIGN}3:30)"]


def test_a_zone_that_never_changes_tells_no_offset() -> None:
    moment = datetime(2026, 10, 25, 2, 30, tzinfo=timezone(timedelta(hours=1)))

    assert clock_words(moment) == "02:30"
