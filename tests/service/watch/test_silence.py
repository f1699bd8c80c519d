"""From missing readings to the alarm that a sensor is silent."""

from __future__ import annotations

from typing import TYPE_CHECKING

from service.ageing.lifecycle import AlarmState
from service.store import alarm_records
from service.store.alarm_records import AlarmEntry

if TYPE_CHECKING:
    from tests.service.watch.conftest import Larder

START_US = 1_795_608_000_000_000  # As in conftest.py.
MINUTE_US = 60_000_000


def silences(larder: Larder) -> list[AlarmEntry]:
    return [alarm for alarm in larder.alarms() if alarm.kind == "sensor_silent"]


def minutes(time_us: int | None) -> float | None:
    return None if time_us is None else (time_us - START_US) / MINUTE_US


def test_a_sensor_is_silent_after_a_quarter_of_an_hour(larder: Larder) -> None:
    larder.steady(0, 60)
    larder.round_at(73)
    early = silences(larder)
    larder.round_at(75)
    (alarm,) = silences(larder)

    assert early == []
    assert minutes(alarm.raised_us) == 59 + 15
    assert (alarm.sensor, alarm.space, alarm.wheels) == ("cave-air", "Larder cave", "Tomme 1")


def test_a_slow_sensor_is_silent_after_five_of_its_intervals(larder: Larder) -> None:
    larder.read((minute, 10, 90) for minute in range(0, 200, 10))
    larder.round_at(230)
    early = silences(larder)
    larder.round_at(241)
    (alarm,) = silences(larder)

    assert early == []
    assert minutes(alarm.raised_us) == 190 + 50


def test_a_sensor_that_never_spoke_is_silent_from_its_placement_on(larder: Larder) -> None:
    larder.round_at(16)
    (alarm,) = silences(larder)

    assert minutes(alarm.raised_us) == 15
    assert "no reading yet" in alarm.body


def test_the_next_reading_ends_a_silence(larder: Larder) -> None:
    larder.steady(0, 60)
    larder.round_at(100)
    larder.steady(120, 121)
    larder.round_at(121)
    (alarm,) = silences(larder)

    assert minutes(alarm.returned_us) == 120
    assert alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED


def test_a_silence_in_a_history_loaded_late_is_on_record(larder: Larder) -> None:
    larder.steady(0, 60)
    larder.steady(420, 480)
    larder.round_at(480)
    (alarm,) = silences(larder)

    assert (minutes(alarm.raised_us), minutes(alarm.returned_us)) == (74, 420)


def test_readings_kept_through_a_silence_end_it_no_earlier_than_it_was_raised(
    larder: Larder,
) -> None:
    larder.steady(0, 60)
    larder.round_at(100)
    larder.steady(60, 101)
    larder.round_at(101)
    (alarm,) = silences(larder)

    assert minutes(alarm.returned_us) == minutes(alarm.raised_us)


def test_a_silence_ends_when_the_sensor_is_taken_out_and_says_nothing(larder: Larder) -> None:
    larder.steady(0, 60)
    larder.round_at(90)
    told = len(larder.notices())
    larder.stand(at_min=95, out=True)
    larder.round_at(100)
    (alarm,) = silences(larder)

    assert minutes(alarm.returned_us) == 95
    assert len(larder.notices()) == told


def test_a_sensor_in_a_drawer_is_never_silent(larder: Larder) -> None:
    larder.steady(0, 60)
    larder.stand(at_min=60, out=True)
    larder.round_at(600)

    assert silences(larder) == []


def test_a_watch_that_has_just_started_waits_for_what_the_broker_kept(larder: Larder) -> None:
    larder.steady(0, 60)
    larder.clock.time_us = START_US + 600 * MINUTE_US
    larder.watch = larder.another_watch()
    larder.round_at(600)
    early = silences(larder)
    larder.round_at(601.1)

    assert early == []
    assert len(silences(larder)) == 1


def test_a_silence_shows_among_the_open_alarms_of_the_sensors_space(larder: Larder) -> None:
    larder.round_at(30)
    with larder.sessions() as session:
        kinds = [one.kind for one in alarm_records.open_for_space(session, larder.space_id)]

    assert kinds == ["sensor_silent"]
