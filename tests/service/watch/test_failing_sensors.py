"""A sensor that is stuck or wet is told once, when no calm night explains it any more."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from service.ageing.lifecycle import Priority
from service.watch import failing
from tests.service.watch.conftest import MINUTE_US, START_US

if TYPE_CHECKING:
    from service.store.alarm_records import AlarmEntry
    from tests.service.watch.conftest import Larder, LarderMaker

DAY_MIN = 1_440
FAILS_FROM = DAY_MIN + 600
TOLD_AT = FAILS_FROM + 360
STEP_MIN = 20

Row = tuple[float, float, float]


def in_order(days: float) -> list[Row]:
    """Air in range, by a sensor that hardly ever repeats itself."""
    chance = np.random.default_rng(5)
    minutes = np.arange(0.0, days * DAY_MIN, 5.0)
    warm = 10.0 + chance.normal(0, 0.03, minutes.size)
    damp = 90.0 + chance.normal(0, 0.3, minutes.size)
    return list(zip(minutes.tolist(), warm.tolist(), damp.tolist(), strict=True))


def failed(days: float, to_min: float, humidity_pct: float = 91.5) -> list[Row]:
    """The same, with the humidity standing at a value for a while."""
    return [
        (minute, warm, humidity_pct if FAILS_FROM <= minute < to_min else damp)
        for minute, warm, damp in in_order(days)
    ]


def looked(larder: Larder, from_min: int, to_min: int, every_min: int = STEP_MIN) -> None:
    for minute in range(from_min, to_min, every_min):
        larder.round_at(minute + 1)
        larder.watch.look_ahead()


def failures(larder: Larder) -> list[AlarmEntry]:
    return [alarm for alarm in larder.alarms() if alarm.kind == failing.KIND]


def minute_of(time_us: int | None) -> float:
    assert time_us is not None
    return (time_us - START_US) / MINUTE_US


def test_a_stuck_sensor_is_told_once_six_hours_have_passed(larder: Larder) -> None:
    larder.read(failed(2.5, 3 * DAY_MIN))
    looked(larder, FAILS_FROM - 60, int(2.5 * DAY_MIN))

    (alarm,) = failures(larder)
    assert TOLD_AT <= minute_of(alarm.raised_us) <= TOLD_AT + STEP_MIN
    assert (alarm.returned_us, alarm.priority) == (None, Priority.MEDIUM)


def test_the_notice_says_what_where_since_when_which_wheels_and_what_to_try(
    larder: Larder,
) -> None:
    larder.read(failed(2.5, 3 * DAY_MIN))
    looked(larder, TOLD_AT - 60, TOLD_AT + 60)
    (notice,) = larder.notices()

    # Ten hours after 13:00 in Vienna, a day later.
    assert notice.title == "Larder cave: sensor cave-air is stuck"
    assert notice.body.splitlines()[0] == (
        "Sensor cave-air in Larder cave is stuck: it has told the same humidity, 91.5 %RH, since "
        "Thu 26 Nov 23:00. Wheel: Tomme 1. Try: unplug it and put it back; then look whether it "
        "lies against a wet wall."
    )


def test_a_stretch_that_ends_before_that_wakes_nobody(larder: Larder) -> None:
    larder.read(failed(3.0, TOLD_AT - 20))
    looked(larder, FAILS_FROM - 60, 3 * DAY_MIN)

    assert failures(larder) == []


def test_a_sensor_that_leaps_to_saturation_is_told_as_wet(larder: Larder) -> None:
    larder.read(failed(2.5, 3 * DAY_MIN, 100.0))
    looked(larder, FAILS_FROM - 60, int(2.5 * DAY_MIN))

    (alarm,) = failures(larder)
    assert alarm.title == "Larder cave: sensor cave-air is wet"
    assert "Try: dry it in room air; then hang it away from drips" in alarm.body


def test_air_that_grows_foggy_step_by_step_is_no_wet_sensor(larder: Larder) -> None:
    rows = [
        (minute, warm, min(100.0, damp + max(0.0, minute - FAILS_FROM) / 60))
        for minute, warm, damp in in_order(3.0)
    ]
    larder.read(rows)
    looked(larder, FAILS_FROM - 60, 3 * DAY_MIN)

    assert failures(larder) == []


def test_the_alarm_is_over_three_hours_after_the_sensor_moves_again(larder: Larder) -> None:
    moves_at = TOLD_AT + 600
    larder.read(failed(3.0, moves_at))
    looked(larder, FAILS_FROM - 60, 3 * DAY_MIN - STEP_MIN)

    (alarm,) = failures(larder)
    assert moves_at + 160 <= minute_of(alarm.returned_us) <= moves_at + 180
    assert [each.title for each in larder.notices()] == [
        "Larder cave: sensor cave-air is stuck",
        "Larder cave: its sensor tells the air again",
    ]


def test_a_sensor_that_moves_once_and_sticks_again_is_one_alarm(larder: Larder) -> None:
    twitch = TOLD_AT + 120
    rows = [
        (minute, warm, 92.5 if minute == twitch else damp)
        for minute, warm, damp in failed(2.5, 4 * DAY_MIN)
    ]
    larder.read(rows)
    looked(larder, FAILS_FROM - 60, int(2.5 * DAY_MIN))

    assert [alarm.returned_us for alarm in failures(larder)] == [None]


def test_a_sensor_that_stays_stuck_for_longer_than_it_ever_moved_is_not_called_mended(
    larder: Larder,
) -> None:
    larder.read(failed(6.0, 7 * DAY_MIN))
    looked(larder, FAILS_FROM - 60, 6 * DAY_MIN, 120)

    assert [alarm.returned_us for alarm in failures(larder)] == [None]


def test_both_quantities_stuck_are_one_notice(larder: Larder) -> None:
    rows = [
        (minute, 10.0 if minute >= FAILS_FROM else warm, damp)
        for minute, warm, damp in failed(2.5, 3 * DAY_MIN)
    ]
    larder.read(rows)
    looked(larder, FAILS_FROM - 60, int(2.5 * DAY_MIN))
    (notice,) = larder.notices()

    assert "the same temperature, 10.0 °C, and the same humidity, 91.5 %RH, since" in notice.body
    assert "The temperature and humidity there are not known" in notice.body


def test_a_restart_tells_a_stuck_sensor_no_second_time(larder: Larder) -> None:
    larder.read(failed(2.5, 3 * DAY_MIN))
    looked(larder, FAILS_FROM, TOLD_AT + 60)
    larder.watch = larder.another_watch()
    looked(larder, TOLD_AT + 67, int(2.5 * DAY_MIN))

    assert len(failures(larder)) == len(larder.notices()) == 1


def test_a_stuck_sensor_that_is_taken_away_closes_its_alarm(larder: Larder) -> None:
    larder.read(failed(2.5, 3 * DAY_MIN))
    looked(larder, TOLD_AT - 60, TOLD_AT + 60)
    larder.stand(at_min=TOLD_AT + 70, out=True)
    looked(larder, TOLD_AT + 80, TOLD_AT + 160)

    (alarm,) = failures(larder)
    assert alarm.returned_us is not None


@pytest.mark.parametrize("every_min", [7, 60, 190])
def test_the_record_is_the_same_however_often_somebody_looks(
    make_larder: LarderMaker, every_min: int
) -> None:
    records = []
    for every in (STEP_MIN, every_min):
        larder = make_larder()
        larder.stand()
        larder.shelve()
        larder.read(failed(3.0, TOLD_AT + 600))
        looked(larder, FAILS_FROM, 3 * DAY_MIN - 40 + every, every)
        records.append([(each.raised_us, each.returned_us) for each in failures(larder)])

    assert records[0] == records[1]
    assert [returned_us is not None for _, returned_us in records[0]] == [True]


def test_a_steady_cave_with_a_coarse_sensor_wakes_nobody(larder: Larder) -> None:
    """Tenths of a degree and whole percents in air that hardly moves."""
    minutes = np.arange(0.0, 6.0 * DAY_MIN, 5.0)
    warm = np.round(10.0 + 0.15 * np.sin(2 * np.pi * minutes / DAY_MIN), 1)
    damp = np.round(90.0 + 0.8 * np.sin(2 * np.pi * minutes / DAY_MIN + 1))
    larder.read(zip(minutes.tolist(), warm.tolist(), damp.tolist(), strict=True))
    looked(larder, DAY_MIN, 6 * DAY_MIN, 240)

    assert failures(larder) == []
