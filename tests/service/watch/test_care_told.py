"""The day's care is told once a day, at the household's hour, whatever the clocks do."""

# ruff: noqa: RUF001 - the maker gets real dashes

from __future__ import annotations

import threading
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest

from service.clock import from_datetime
from service.store import outbox, set_up, wheels
from service.store.tables import Site
from service.watch.care_due import CareDue
from tests import builders

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from service.api.context import Context
    from service.store.outbox import Outgoing

NINE = time(9)
MINUTE_US = builders.MINUTE_US
# The day of 2027 that the change of clocks shortens, and the one that it lengthens (IANA tz
# database): Lord Howe's by half an hour, Santiago's at midnight, and there in southern seasons.
CHANGES = [
    ("Europe/Vienna", date(2027, 3, 28), date(2027, 10, 31)),
    ("America/New_York", date(2027, 3, 14), date(2027, 11, 7)),
    ("Australia/Lord_Howe", date(2027, 10, 3), date(2027, 4, 4)),
    ("America/Santiago", date(2027, 9, 5), date(2027, 4, 3)),
]


@pytest.fixture
def lane(tmp_path: Path) -> Context:
    return builders.larch_lane(tmp_path)


def teller(context: Context, care_at: time | None = NINE) -> CareDue:
    return CareDue(context.sessions, context.plans, ("1 mailto",), care_at)


def home_with_one_wheel(folder: Path, zone: str = "UTC") -> Context:
    context = builders.empty_home(folder)
    with context.sessions() as session:
        site = set_up.add_site(session, Site(slug="home", name="Home", time_zone=zone))
        assert site.id is not None
        cave = builders.add_space(session, site.id, "cave", "Cave", "cave")
        size = [(190.0, 75.0, 1_950.0)]
        builders.add_batch(session, site.id, "Tomme", "tomme", 41, size, cave, "ripening")
    return context


def local_us(zone: str, day: date, hour: int, minute: int = 0) -> int:
    return from_datetime(datetime.combine(day, time(hour, minute), ZoneInfo(zone)))


def tell(teller: CareDue, now_us: int) -> int:
    return teller.tell(now_us=now_us, sent_us=now_us)


def notices(context: Context) -> Sequence[Outgoing]:
    with context.sessions() as session:
        return outbox.due(session, 2**62, limit=1_000)


def test_the_first_line_says_what_and_where_then_gates_then_what_is_late(lane: Context) -> None:
    tell(teller(lane), builders.NOW_US)

    (notice,) = notices(lane)
    lines = notice.body.splitlines()
    assert lines[0].startswith("Care today: Cave: ")
    assert "turn Tomme 1, Blue 1–3 and White mould 1–4, brush Tomme 1" in lines[0]
    assert "air the box (Blue box and White box)" in lines[0]
    assert "Kitchen fridge: " in lines[0]
    asking = lines.index(next(line for line in lines if "whether it is time:" in line))
    late = lines.index("Overdue:")
    assert 0 < asking < late
    assert any(line.startswith("turn Blue 1–3, since ") for line in lines[late:])
    assert lines[-1] == "Try: open the care page, and touch Done as you go."


def test_nothing_is_told_before_the_hour_and_once_after_it(lane: Context) -> None:
    care = teller(lane)
    day = date(2026, 11, 25)
    told = [
        tell(care, local_us("Europe/Vienna", day, hour, minute))
        for hour, minute in ((0, 0), (8, 59), (9, 0), (9, 1), (23, 59))
    ]

    assert told == [0, 0, 1, 0, 0]


def test_the_next_day_is_told_anew(lane: Context) -> None:
    care = teller(lane)
    days = [date(2026, 11, 25) + timedelta(days=back) for back in range(3)]

    assert [tell(care, local_us("Europe/Vienna", day, 9)) for day in days] == [1, 1, 1]


def test_no_hour_means_never(lane: Context) -> None:
    assert tell(teller(lane, None), builders.NOW_US) == 0


def test_nothing_due_tells_nothing_that_day(lane: Context) -> None:
    with lane.sessions() as session:
        for wheel, _batch in wheels.wheels(session):
            wheel.ended_us = builders.NOW_US - 1
    care = teller(lane)

    assert tell(care, builders.NOW_US) == 0
    with lane.sessions() as session:
        for wheel, _batch in wheels.wheels(session):
            wheel.ended_us = None
    assert tell(care, builders.NOW_US + MINUTE_US) == 0
    assert notices(lane) == ()


def test_a_household_that_is_not_set_up_is_told_nothing_and_misses_nothing(
    tmp_path: Path,
) -> None:
    context = builders.empty_home(tmp_path)
    care = teller(context)

    assert tell(care, builders.NOW_US) == 0
    home_with_one_wheel(tmp_path)
    assert tell(care, builders.NOW_US + MINUTE_US) == 1


def test_a_restart_does_not_tell_the_day_again(lane: Context) -> None:
    told = [tell(teller(lane), builders.NOW_US + later * MINUTE_US) for later in range(3)]

    assert told == [1, 0, 0]


def test_a_clock_set_back_tells_no_day_twice_and_one_set_ahead_hides_none(lane: Context) -> None:
    care = teller(lane)
    day_us = builders.DAY_US
    # Ahead by a year for one look, then right, back by three days, and forward day by day.
    offsets = (365, 0, 1, 2, -1, 0, 1, 2, 3)
    told = [tell(care, builders.NOW_US + days * day_us) for days in offsets]

    assert told == [1, 1, 1, 1, 1, 0, 0, 0, 1]


def test_watches_at_once_tell_a_day_once(lane: Context) -> None:
    cares = [teller(lane) for _ in range(6)]
    gate = threading.Barrier(len(cares))
    told: list[int] = []

    def work(care: CareDue) -> None:
        gate.wait(10)
        told.append(tell(care, builders.NOW_US))

    threads = [threading.Thread(target=work, args=(care,)) for care in cares]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)

    assert sorted(told) == [0, 0, 0, 0, 0, 1]
    assert len(notices(lane)) == 1


@pytest.mark.parametrize(("zone", "shorter", "longer"), CHANGES)
def test_the_days_taken_for_changes_of_clocks_are_such(
    zone: str, shorter: date, longer: date
) -> None:
    lengths_us = [
        local_us(zone, day + timedelta(days=1), 0) - local_us(zone, day, 0)
        for day in (shorter, longer)
    ]

    assert lengths_us[0] < builders.DAY_US < lengths_us[1]


@pytest.mark.parametrize("care_at", [time(0), time(2, 15), time(9)])
@pytest.mark.parametrize(("zone", "shorter", "longer"), CHANGES)
def test_days_on_which_the_clocks_change_are_told_once_each(
    tmp_path: Path, zone: str, shorter: date, longer: date, care_at: time
) -> None:
    context = home_with_one_wheel(tmp_path, zone)
    care = teller(context, care_at)
    told: list[date] = []
    expected: list[date] = []
    for changing in sorted((shorter, longer)):
        days = [changing + timedelta(days=number) for number in (-1, 0, 1)]
        expected += days
        end_us = local_us(zone, days[-1] + timedelta(days=1), 0)
        told += [
            datetime.fromtimestamp(now_us // 10**6, ZoneInfo(zone)).date()
            for now_us in range(local_us(zone, days[0], 0), end_us, 15 * MINUTE_US)
            if tell(care, now_us)
        ]

    assert told == expected


def test_a_notice_that_cannot_be_entered_is_tried_again(lane: Context) -> None:
    care = teller(lane)
    with lane.engine.begin() as connection:
        connection.exec_driver_sql("ALTER TABLE notice RENAME TO away")
    with pytest.raises(Exception, match="no such table"):
        tell(care, builders.NOW_US)
    with lane.engine.begin() as connection:
        connection.exec_driver_sql("ALTER TABLE away RENAME TO notice")

    assert tell(care, builders.NOW_US + MINUTE_US) == 1
