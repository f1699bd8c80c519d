"""The watch after the machine's clock was ahead for a while and was set back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from service.ageing.lifecycle import AlarmState
from service.store import conditions

if TYPE_CHECKING:
    from tests.service.watch.conftest import Larder

START_US = 1_795_608_000_000_000  # As in conftest.py.
MINUTE_US = 60_000_000
AHEAD_MIN = [600, 3 * 1_440]
"""By so much the clock was ahead. [min]"""


def live(larder: Larder, from_min: int, to_min: int, humidity: float = 90) -> None:
    """A reading each minute, and a round after every five."""
    for minute in range(from_min, to_min, 5):
        larder.steady(minute, minute + 5, humidity=humidity)
        larder.round_at(minute + 4.5)


def told(larder: Larder, kind: str) -> list[tuple[float, bool]]:
    """When alarms of a kind were raised, in minutes from the start, and whether they are over."""
    return [
        ((alarm.raised_us - START_US) / MINUTE_US, alarm.returned_us is not None)
        for alarm in larder.alarms()
        if alarm.kind == kind
    ]


@pytest.mark.parametrize("ahead", AHEAD_MIN)
def test_dry_air_alarms_soon_after_the_clock_was_set_back(larder: Larder, ahead: int) -> None:
    live(larder, ahead, ahead + 30)

    live(larder, 30, 120, humidity=70)

    ((raised_min, is_over),) = told(larder, "humidity_below")
    assert 30 < raised_min < 120
    assert not is_over


@pytest.mark.parametrize("ahead", AHEAD_MIN)
def test_an_on_delay_that_runs_goes_on_when_the_clock_is_set_back(
    larder: Larder, ahead: int
) -> None:
    live(larder, 0, 30, humidity=70)
    ((straight_min, _),) = told(larder, "humidity_below")
    live(larder, 30, 130)
    # After the gap the mean begins anew, as it does at the very first reading.
    live(larder, ahead, ahead + 10, humidity=70)
    larder.round_at(200)
    live(larder, 200, 230, humidity=70)

    _, (raised_min, _) = told(larder, "humidity_below")
    assert (
        200 < raised_min <= 200 + straight_min - 8
    )  # ten minutes of it, less two that the round waits


@pytest.mark.parametrize("ahead", AHEAD_MIN)
def test_an_alarm_that_is_raised_stays_one_and_returns_no_earlier_than_it_was_raised(
    larder: Larder, ahead: int
) -> None:
    live(larder, ahead, ahead + 90, humidity=70)
    before = told(larder, "humidity_below")

    live(larder, 90, 150, humidity=70)
    during = told(larder, "humidity_below")
    live(larder, 150, 300, humidity=90)

    assert before == during
    (alarm,) = [each for each in larder.alarms() if each.kind == "humidity_below"]
    assert alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED
    assert alarm.returned_us is not None
    assert alarm.returned_us >= alarm.raised_us


@pytest.mark.parametrize("ahead", AHEAD_MIN)
def test_a_sensor_is_found_silent_after_the_clock_was_set_back_and_not_before(
    larder: Larder, ahead: int
) -> None:
    live(larder, 0, 10)
    live(larder, ahead, ahead + 30)
    before = told(larder, "sensor_silent")
    live(larder, 30, 60)
    heard = told(larder, "sensor_silent")

    larder.round_at(90)

    assert heard == before
    assert told(larder, "sensor_silent")[len(before) :] == [(59 + 15, False)]


def test_a_watch_that_began_ahead_listens_to_silences_after_the_clock_was_set_back(
    larder: Larder,
) -> None:
    larder.clock.time_us = START_US + 3 * 1_440 * MINUTE_US
    larder.watch = larder.another_watch()

    live(larder, 0, 30)
    larder.round_at(60)

    assert len(told(larder, "sensor_silent")) == 1


def test_a_clock_that_is_put_right_by_seconds_moves_nothing(larder: Larder) -> None:
    live(larder, 0, 30)
    with larder.sessions() as session:
        before = conditions.watch_space(session, larder.space_id, ["humidity_below"])

    larder.round_at(29)

    with larder.sessions() as session:
        assert conditions.watch_space(session, larder.space_id, ["humidity_below"]) == before


def test_what_is_told_once_a_day_is_not_set_back(larder: Larder) -> None:
    with larder.sessions() as session:
        watched = conditions.watch_household(session, "care_due")
        conditions.advance(session, watched, START_US + 9_000 * MINUTE_US, '{"told": ["x"]}')

    larder.round_at(1)

    with larder.sessions() as session:
        assert conditions.watch_household(session, "care_due").state_json == '{"told": ["x"]}'
